"""Curves of risk by date."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import cycle, product
from typing import Any

import altair as alt
import numpy as np

from frostgate.errors import InputError
from frostgate.model.records import FrostCurve, Station, risk_by_day
from frostgate.seasons import SLOTS, Dates, Floats
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
    say_day_of_year,
    say_place,
    season_dates,
    write_beside,
)
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
    """Draw both sides of the year side by side; arguments as in `draw_curves`."""
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
            risk=curve.by_day[shown],
            color=color,
            dash=dash,
        )
        for curve, (dash, color) in zip(curves, cycle(product(DASHES, PALETTE)), strict=False)
    ]


def _span(curves: Sequence[FrostCurve]) -> tuple[int, int]:
    """The season days between which the curves move, with a margin; the whole season where none does."""
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
    lows, highs = (risk_by_day(table, curve.side)[shown] for table in (curve.low, curve.high))
    rows = [
        {"date": str(date), "risk": float(low), "high": float(high)}
        for date, low, high in zip(dates[shown], lows, highs, strict=True)
    ]
    return [chart_of(rows).mark_area(color=PALETTE[0], opacity=0.18).encode(x=frame.x(), y=y, y2="high:Q")]


def _date_points(curve: FrostCurve, dates: Dates) -> Rows:
    """Return the points at which a curve crosses the marked risks, labelled with their dates."""
    rows: Rows = []
    for risk in MARKED:
        text = curve.date_at(risk)
        if text is not None:
            month, day = (int(part) for part in text.split("-"))
            half = 0.5 if curve.side == "spring" else -0.5  # a day is drawn where it is read, see risk_by_day
            minutes = np.timedelta64(round((curve.day_at_risk(risk) - half) * 1440), "m")
            rows.append(
                {
                    "date": f"{dates[0].astype('datetime64[m]') + minutes}Z",
                    "risk": risk,
                    "text": f"{day} {dt.date(2000, month, day):%b}",
                    "color": PALETTE[0],
                }
            )
    return rows


LETTER, LINE, AIR = 6.6, 16, 8  # a letter's mean width, a line's height, and room between two labels [px]
COLOR = alt.Color("color:N", scale=None)
BESIDE: dict[str, Any] = {"align": "left", "dx": 7, "dy": -14}
NO_ROWS: Rows = []

Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A line of risk against date, with its label and its look."""

    text: str
    dates: Dates
    risk: Floats
    color: str
    dash: tuple[int, int] = (1, 0)
    width: float = 2.5


def draw_lines(
    lines: Sequence[Line], frame: Frame, y: alt.Y, taken: Rows = NO_ROWS, *, inline: bool
) -> list[alt.Chart]:
    """Draw lines and, on or beside each, its label."""
    x = frame.x()
    tip = [alt.Tooltip("day:N", title="date"), alt.Tooltip("risk:Q", format=".0%")]
    layers = [
        chart_of(_line_rows(line))
        .mark_line(color=line.color, strokeDash=list(line.dash), strokeWidth=line.width)
        .encode(x=x, y=y, tooltip=tip)
        for line in lines
    ]
    labels = _place_labels(lines, frame, taken, inline=inline)
    return [*layers, *write_texts(labels, frame, y, {} if inline else BESIDE, halo=7)]


def draw_points(points: Rows, frame: Frame, y: alt.Y) -> list[alt.Chart]:
    """Draw points, each in its own colour."""
    at = chart_of(points).mark_point(filled=True, size=55, opacity=1)
    return [at.encode(x=frame.x(), y=y, color=COLOR)] if points else []


def write_texts(
    rows: Rows, frame: Frame, y: alt.Y, side: dict[str, Any], *, halo: int = 0
) -> list[alt.Chart]:
    """Write texts on or beside their places, parted by a white halo from the lines below them."""
    if not rows:
        return []
    texts = chart_of(rows).encode(x=frame.x(), y=y, text="text:N")
    below = [texts.mark_text(stroke="white", strokeWidth=halo, strokeJoin="round", fontSize=13, **side)]
    return [*(below if halo else []), texts.mark_text(fontSize=13, **side).encode(color=COLOR)]


def _line_rows(line: Line) -> Rows:
    return [
        {"date": str(date), "risk": float(risk), "day": say_day_of_year(date)}
        for date, risk in zip(line.dates, line.risk, strict=True)
    ]


def _place_labels(lines: Sequence[Line], frame: Frame, taken: Rows, *, inline: bool) -> Rows:
    """Choose for each line's label the highest spot at which it meets fewest labels and lines."""
    boxes = [_box(frame, np.datetime64(row["date"]), row["risk"], row["text"], inline=False) for row in taken]
    rows: Rows = []
    for line in lines:
        if not line.text:
            continue
        others = [other for other in lines if other is not line]
        upper = 0.86 if others else 0.72  # a line alone has its date at 90 % marked
        spots = [(line.dates[k], float(line.risk[k])) for k in _spots(line.risk, upper)]
        choice = [_box(frame, date, risk, line.text, inline=inline) for date, risk in spots]
        costs = [
            3 * sum(_meet(box, other) for other in boxes)
            + 3 * (box[0] < 0 or box[1] > frame.width)
            + sum(_nearness(other, frame, box) for other in others)
            for box in choice
        ]
        best = int(np.argmin(costs))
        boxes.append(choice[best])
        date, risk = spots[best]
        color = INK if inline else line.color
        rows.append({"date": str(date), "risk": risk, "text": line.text, "color": color})
    return rows


def _spots(risk: Floats, upper: float) -> list[int]:
    """Return the places on a line where its label may stand, from its upper end to its lower."""
    return [int(np.argmin(np.abs(risk - share * risk.max()))) for share in np.arange(upper, 0.1, -0.04)]


def _box(frame: Frame, date: np.datetime64, risk: float, text: str, *, inline: bool) -> Box:
    """Return left, right, top and bottom of a label [px]."""
    x, y = float(frame.across(np.array([date]))[0]), (1 - risk / frame.top) * frame.height
    length = LETTER * len(text)
    if inline:
        return x - length / 2, x + length / 2, y - LINE / 2, y + LINE / 2
    return x, x + BESIDE["dx"] + length, y + BESIDE["dy"] - LINE / 2, y + BESIDE["dy"] + LINE / 2


def _meet(one: Box, other: Box) -> bool:
    across = one[0] < other[1] and other[0] < one[1]
    return across and one[2] - AIR < other[3] and other[2] - AIR < one[3]


def _nearness(line: Line, frame: Frame, box: Box) -> float:
    """Tell how much of a label's breadth a line comes near to."""
    columns = np.arange(box[0], box[1])
    height = (1 - np.interp(columns, frame.across(line.dates), line.risk) / frame.top) * frame.height
    return float(np.mean((height > box[2] - 4) & (height < box[3] + 4)))
