"""A curve, or several, as risk against date."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from itertools import cycle, product

import altair as alt
import numpy as np

from frostgate.errors import InputError
from frostgate.seasons import SLOTS
from frostgate.show.charts.lines import BESIDE, Line, draw_lines, draw_points, write_texts
from frostgate.show.charts.paper import (
    INK,
    PALE,
    PALETTE,
    WIDTH,
    Frame,
    Rows,
    chart_of,
    finish,
    layer_chart,
    say_place,
    season_dates,
    write_beside,
)
from frostgate.terms import Dates, FrostCurve, Station
from frostgate.units import TemperatureUnit, say_share, say_temperature

DASHES = ((1, 0), (8, 3), (2, 2))
HALF_WIDTH = 470  # of each half of a year [px]
EDGE = 0.005  # of a curve's height, left out at both its ends
MARGIN_DAYS = 7
MARKED = (0.1, 0.5, 0.9)
TICKS = (0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0)
SIDE_TITLES = {"spring": "Last frost of spring", "autumn": "First frost of autumn"}


def draw_curves(
    curves: Sequence[FrostCurve], unit: TemperatureUnit, title: str, *, station: Station | None = None
) -> alt.LayerChart:
    """Draw the risk against the date for one side of the year, at one threshold or several.

    A single curve comes with its confidence band and its dates at 10, 50 and 90 %.

    Parameters
    ----------
    curves
        Of one side of the year, in any order.
    unit
        For the thresholds.
    title
        What stands above the chart.
    station
        Where the minima were measured, for the line below the title.

    Raises
    ------
    InputError
        Where there is no curve, or they differ in side or season.

    Examples
    --------
    >>> from frostgate.seasons import NORTH
    >>> curve = FrostCurve(kind="given", side="spring", threshold_c=0.0, start=NORTH,
    ...                    risk=np.linspace(1, 0, 366), frost_share=1.0, seasons_used=30, seasons_unknown=0,
    ...                    first_year=1991, last_year=2020)
    >>> draw_curves([curve], "F", "Last frosts of spring").to_dict()["title"]["subtitle"]
    ['30 springs, 1991 to 2020; curve: given']
    """
    return finish(_draw_side(curves, unit, title, station, WIDTH))


def draw_year(
    spring: Sequence[FrostCurve],
    autumn: Sequence[FrostCurve],
    unit: TemperatureUnit,
    title: str,
    *,
    station: Station | None = None,
) -> alt.HConcatChart:
    """Draw both sides of the year side by side; arguments as in `draw_curves`.

    Examples
    --------
    >>> from frostgate.values import replace
    >>> from frostgate.seasons import NORTH
    >>> curve = FrostCurve(kind="given", side="spring", threshold_c=0.0, start=NORTH,
    ...                    risk=np.linspace(1, 0, 366), frost_share=1.0, seasons_used=30, seasons_unknown=0,
    ...                    first_year=1991, last_year=2020)
    >>> autumn = replace(curve, side="autumn", risk=curve.risk[::-1])
    >>> len(draw_year([curve], [autumn], "C", "A year's frosts").hconcat)
    2
    """
    panels = (
        _draw_side(spring, unit, None, station, HALF_WIDTH),
        _draw_side(autumn, unit, None, station, HALF_WIDTH),
    )
    return finish(alt.hconcat(*panels, spacing=40).properties(title=title))


def _draw_side(
    curves: Sequence[FrostCurve],
    unit: TemperatureUnit,
    title: str | None,
    station: Station | None,
    width: int,
) -> alt.LayerChart:
    if not curves:
        raise InputError("no curve to draw", remedy="Take a record with more known seasons.")
    if len({(curve.side, curve.start) for curve in curves}) > 1:
        raise InputError("a chart needs curves of one side of the year")
    curves = sorted(curves, key=lambda curve: -curve.threshold_c)
    side, dates, (first, last) = curves[0].side, season_dates(curves[0].start), _span(curves)
    frame = Frame(first=dates[first], last=dates[last], width=width)
    y = frame.y(f"chance of a frost {'after' if side == 'spring' else 'before'} this date", TICKS)
    layers = _draw_rules(frame, y, side)
    if len(curves) == 1:
        layers += _shade_band(curves[0], dates, slice(first, last + 1), frame, y)
    layers += draw_lines(_threshold_lines(curves, unit, dates, slice(first, last + 1)), frame, y, inline=True)
    if len(curves) == 1:
        points = _date_points(curves[0], dates)
        texts = [{**point, "color": INK} for point in points]
        beside = BESIDE if side == "spring" else {**BESIDE, "align": "right", "dx": -BESIDE["dx"]}
        layers += [*draw_points(points, frame, y), *write_texts(texts, frame, y, beside)]
    subtitle = [say_place(station) + _say_source(curves), *_say_never(curves, unit)]
    return layer_chart(layers, frame, alt.TitleParams(title or SIDE_TITLES[side], subtitle=subtitle))


def _threshold_lines(
    curves: Sequence[FrostCurve], unit: TemperatureUnit, dates: Dates, shown: slice
) -> list[Line]:
    return [
        Line(
            text=say_temperature(curve.threshold_c, unit) if curve.risk.any() else "",
            dates=dates[shown],
            risk=curve.risk[shown],
            color=color,
            dash=dash,
        )
        for curve, (dash, color) in zip(curves, cycle(product(DASHES, PALETTE)), strict=False)
    ]


def _span(curves: Sequence[FrostCurve]) -> tuple[int, int]:
    """Give the season days between which the curves move, with a margin; the whole season where none does."""
    moving = [
        np.flatnonzero((c.risk > EDGE * c.risk.max()) & (c.risk < (1 - EDGE) * c.risk.max())) for c in curves
    ]
    days = np.concatenate(moving)
    if days.size == 0:
        return 0, SLOTS - 1
    margin = max(MARGIN_DAYS, int(0.03 * (days.max() - days.min())))
    return max(int(days.min()) - margin, 0), min(int(days.max()) + margin, SLOTS - 1)


def _say_never(curves: Sequence[FrostCurve], unit: TemperatureUnit) -> list[str]:
    """Name the thresholds that no known season reached."""
    cold = [say_temperature(curve.threshold_c, unit) for curve in curves if not curve.risk.any()]
    return [f"Never reached in those {curves[0].side}s: {', '.join(cold)}"] if cold else []


def _say_source(curves: Sequence[FrostCurve]) -> str:
    """Tell how many seasons the curves rest on, and how they were fitted."""
    least, most = (pick(curve.seasons_used for curve in curves) for pick in (min, max))
    seasons = f"{most}" if least == most else f"{least} to {most}"
    years = f"{min(c.first_year for c in curves)} to {max(c.last_year for c in curves)}"
    kinds = ", ".join(dict.fromkeys(curve.kind for curve in curves))
    text = f"{seasons} {curves[0].side}s, {years}; {'curve' if ',' not in kinds else 'curves'}: {kinds}"
    band = curves[0].confidence if len(curves) == 1 else None
    return text if band is None else f"{text}; shaded: {say_share(band)} confidence band"


def _draw_rules(frame: Frame, y: alt.Y, side: str) -> list[alt.Chart]:
    texts = (f"1 {side} in 10", f"1 {side} in 2", f"9 {side}s in 10")
    rows = [{"risk": risk, "text": text} for risk, text in zip(MARKED, texts, strict=True)]
    return [
        chart_of(rows).mark_rule(color=PALE).encode(y=y),
        write_beside(rows, frame.width).encode(y=y),
    ]


def _shade_band(curve: FrostCurve, dates: Dates, shown: slice, frame: Frame, y: alt.Y) -> list[alt.Chart]:
    if curve.low is None or curve.high is None:
        return []
    rows = [
        {"date": str(date), "risk": float(low), "high": float(high)}
        for date, low, high in zip(dates[shown], curve.low[shown], curve.high[shown], strict=True)
    ]
    return [chart_of(rows).mark_area(color=PALETTE[0], opacity=0.18).encode(x=frame.x(), y=y, y2="high:Q")]


def _date_points(curve: FrostCurve, dates: Dates) -> Rows:
    """Give the points at which a curve crosses the marked risks, labelled with their dates."""
    rows: Rows = []
    for risk in MARKED:
        text = curve.date_at(risk)
        if text is not None:
            month, day = (int(part) for part in text.split("-"))
            minutes = np.timedelta64(round(curve.day_at_risk(risk) * 1440), "m")
            rows.append(
                {
                    "date": f"{dates[0].astype('datetime64[m]') + minutes}Z",
                    "risk": risk,
                    "text": f"{day} {dt.date(2000, month, day):%b}",
                    "color": PALETTE[0],
                }
            )
    return rows
