"""Curves of risk by date, and the frosts of the single years."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import cycle

import altair as alt
import numpy as np

from frostgate.errors import InputError
from frostgate.model.curves import FrostCurve, risk_by_day
from frostgate.model.records import FrostDates, Station
from frostgate.seasons import SLOTS, Dates
from frostgate.show import paper
from frostgate.show.say import say_month_day
from frostgate.units import TemperatureUnit, say_share, say_temperature

HALF_WIDTH = 470  # of each half of a year [px]
EDGE = 0.005  # of a curve's height, left out at both its ends
MARGIN_DAYS = 7
MARKED = (0.1, 0.5, 0.9)
TICKS = (0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0)
LABELLED = (0.72, 0.6, 0.4, 0.28, 0.18, 0.82)  # of a curve's height, in turn: no label meets its neighbour's
SIDE_TITLES = {"spring": "Last frost of spring", "autumn": "First frost of autumn"}
AXES = {
    "spring": "chance of a frost after this date",
    "autumn": "chance of a frost before this date",
}


def draw_curves(
    curves: Sequence[FrostCurve], unit: TemperatureUnit, title: str, *, station: Station | None = None
) -> alt.LayerChart:
    """Draw the risk against the date for one side of the year, at one threshold or several.

    Parameters
    ----------
    curves : sequence of FrostCurve
        A single one comes with its confidence band and its dates at 10, 50 and 90 %.
    unit : {"C", "F"}
        Of the thresholds.
    title : str
        Above the chart.
    station : Station, optional
        Named below the title.

    Raises
    ------
    InputError
        Where there is no curve, or they are of both sides of the year.

    Examples
    --------
    >>> import frostgate as fg
    >>> curve = fg.fit_curve(fg.last_frosts(fg.read_minima("data_samples/oskelmere.dly")))
    >>> fg.draw_curves([curve], "F", "Last frost").to_dict()["title"]["subtitle"]
    ['56 springs, 1966 to 2025; curve: pooled']
    """
    return paper.finish(_draw_side(curves, unit, title, station, paper.WIDTH))


def draw_year(
    spring: Sequence[FrostCurve],
    autumn: Sequence[FrostCurve],
    unit: TemperatureUnit,
    title: str,
    *,
    station: Station | None = None,
) -> alt.HConcatChart:
    """Draw both sides of the year side by side.

    Parameters
    ----------
    spring, autumn : sequence of FrostCurve
        Of last and of first frosts, each at one or more thresholds.
    unit : {"C", "F"}
        In which temperatures are written.
    title : str
        Above both.
    station : Station, optional
        Named below the title.

    Returns
    -------
    altair.HConcatChart

    Raises
    ------
    InputError
        Where a side has no curve.

    Examples
    --------
    >>> import frostgate as fg
    >>> record = fg.read_minima("data_samples/oskelmere.dly")
    >>> spring, autumn = fg.fit_curve(fg.last_frosts(record)), fg.fit_curve(fg.first_frosts(record))
    >>> len(fg.draw_year([spring], [autumn], "F", "Frosts at Oskelmere").hconcat)
    2
    """
    panels = [_draw_side(side, unit, None, station, HALF_WIDTH) for side in (spring, autumn)]
    return paper.finish(alt.hconcat(*panels, spacing=40).properties(title=title))


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
    side, dates, (first, last) = curves[0].side, paper.season_dates(curves[0].start), moving_days(curves)
    shown, axis = slice(first, last + 1), AXES[side]
    frame = paper.Frame(first=dates[first], last=dates[last], width=width, title=axis, risks=TICKS)
    lines = [(f"{place}", dates[shown], curve.by_day[shown]) for place, curve in enumerate(curves)]
    layers = draw_rules(frame, side)
    if len(curves) == 1:
        layers += _shade_band(curves[0], dates, shown, frame)
    layers += paper.draw_lines(lines, frame, paper.LOOKS)
    layers += paper.write_texts(_thresholds(curves, dates, unit), frame.x, frame.y, halo=7)
    if len(curves) == 1:
        points = _date_points(curves[0], dates)
        beside = paper.RIGHT if side == "spring" else paper.LEFT
        layers += paper.draw_points(points, frame, paper.PALETTE[0])
        layers += paper.write_texts(points, frame.x, frame.y, halo=0, **beside)
    source, *never = _say_source(curves, unit)
    subtitle = [paper.say_place(station) + source, *never]
    return paper.layer_chart(layers, title or SIDE_TITLES[side], subtitle, (width, frame.height))


def moving_days(curves: Sequence[FrostCurve]) -> tuple[int, int]:
    """Return the season days between which curves move, with a margin; the whole season where none does."""
    moving = [
        np.flatnonzero((c.risk > EDGE * c.risk.max()) & (c.risk < (1 - EDGE) * c.risk.max())) for c in curves
    ]
    days = np.concatenate([*moving, np.empty(0, dtype=np.int64)])
    if days.size == 0:
        return 0, SLOTS - 1
    margin = max(MARGIN_DAYS, int(0.03 * (days.max() - days.min())))
    return max(int(days.min()) - margin, 0), min(int(days.max()) + margin, SLOTS - 1)


def draw_rules(frame: paper.Frame, side: str, limit: float | None = None) -> list[alt.Chart]:
    """Draw a rule at each marked risk, its meaning beside it, and at the grower's own limit."""
    texts = (f"1 {side} in 10", f"1 {side} in 2", f"9 {side}s in 10")
    rows: paper.Rows = [{"risk": risk, "text": text} for risk, text in zip(MARKED, texts, strict=True)]
    if limit is not None:  # it takes the place of a rule that it would lie on
        rows = [row for row in rows if abs(row["risk"] - limit) * paper.HEIGHT >= paper.LINE]
        rows.append({"risk": limit, "text": f"your limit {say_share(limit)}"})
    if frame.bottom < 0.0:
        rows.append({"risk": 0.0, "text": ""})
    rules = paper.chart_of(rows).mark_rule(color=paper.PALE).encode(y=frame.y)
    return [rules, paper.write_beside(rows, frame.width).encode(y=frame.y)]


def _shade_band(curve: FrostCurve, dates: Dates, shown: slice, frame: paper.Frame) -> list[alt.Chart]:
    if curve.low is None or curve.high is None:
        return []
    lows, highs = (risk_by_day(table, curve.side)[shown] for table in (curve.low, curve.high))
    rows = [
        {"date": str(date), "risk": float(low), "high": float(high)}
        for date, low, high in zip(dates[shown], lows, highs, strict=True)
    ]
    area = paper.chart_of(rows).mark_area(color=paper.PALETTE[0], opacity=0.18)
    return [area.encode(x=frame.x, y=frame.y, y2="high:Q")]


def _thresholds(curves: Sequence[FrostCurve], dates: Dates, unit: TemperatureUnit) -> paper.Rows:
    """Return for each curve that moves its threshold, at a height on the curve."""
    rows: paper.Rows = []
    for curve, height in zip(curves, cycle(LABELLED), strict=False):
        risk = curve.by_day
        if curve.risk.any():
            day = int(np.argmin(np.abs(risk - height * risk.max())))
            text = say_temperature(curve.threshold_c, unit)
            rows.append({"date": str(dates[day]), "risk": float(risk[day]), "text": text})
    return rows


def _date_points(curve: FrostCurve, dates: Dates) -> paper.Rows:
    """Return the points at which a curve crosses the marked risks, with their dates."""
    rows: paper.Rows = []
    for risk in MARKED:
        text = curve.date_at(risk)
        if text is not None:
            half = 0.5 if curve.side == "spring" else -0.5  # a day is drawn where it is read, see risk_by_day
            minutes = np.timedelta64(round((curve.day_at_risk(risk) - half) * 1440), "m")
            date = f"{dates[0].astype('datetime64[m]') + minutes}Z"
            rows.append({"date": date, "risk": risk, "text": say_month_day(text)})
    return rows


def _say_source(curves: Sequence[FrostCurve], unit: TemperatureUnit) -> list[str]:
    """Tell how many seasons the curves rest on, how they were fitted, and what no known season reached."""
    seasons = paper.say_range([curve.seasons_used for curve in curves])
    years = f"{min(c.first_year for c in curves)} to {max(c.last_year for c in curves)}"
    kinds = list(dict.fromkeys(curve.kind for curve in curves))
    fitted = f"curve{'s' if len(kinds) > 1 else ''}: {', '.join(kinds)}"
    text, side = f"{seasons} {curves[0].side}s, {years}; {fitted}", curves[0].side
    if len(curves) == 1 and curves[0].confidence is not None:
        text += f"; shaded: {say_share(curves[0].confidence)} confidence band"
    cold = [say_temperature(curve.threshold_c, unit) for curve in curves if not curve.risk.any()]
    return [text, *([f"Never reached in those {side}s: {', '.join(cold)}"] if cold else [])]


def draw_frost_dates(
    frosts: FrostDates, unit: TemperatureUnit, *, station: Station | None = None
) -> alt.LayerChart:
    """Draw each season's frost as a dot, year by date; seasons without one and unknown ones on the axis.

    Parameters
    ----------
    frosts : FrostDates
        Of either side of the year.
    unit : {"C", "F"}
        Of the threshold.
    station : Station, optional
        Named below the title.

    Raises
    ------
    InputError
        Where there is no season to draw.
    """
    if frosts.years.size == 0:
        raise InputError("no season to draw")
    which = "Last" if frosts.side == "spring" else "First"
    title = f"{which} frost of each {frosts.side}, {say_temperature(frosts.threshold_c, unit)} or less"
    years = alt.Scale(domain=[int(frosts.years.min()) - 1, int(frosts.years.max()) + 1], nice=False)
    axis = alt.Axis(format="d", grid=False, tickMinStep=1, labelFlush=False)
    x, dates = alt.X("year:Q", title=None, scale=years, axis=axis), paper.season_dates(frosts.start)
    seasons: dict[str, paper.Rows] = {"frost": [], "none": [], "unknown": []}
    for year, day, state in zip(frosts.years, frosts.day, frosts.states, strict=True):
        row: dict[str, object] = {"year": int(year)}
        if state == "frost":
            date = dates[int(day)]
            row |= {"date": str(date), "day": paper.say_day_of_year(date)}
        seasons[state].append(row)
    dots = paper.chart_of(seasons["frost"]).mark_point(
        filled=True, size=60, color=paper.PALETTE[1], opacity=1
    )
    layers = [
        dots.encode(x=x, y=_date_axis(frosts), tooltip=["year:Q", "day:N"]),
        *_mark_undated(seasons["none"], "no frost", "triangle-down", paper.HEIGHT - 24, x),
        *_mark_undated(seasons["unknown"], "unknown", "circle", paper.HEIGHT, x),
    ]
    frost, none, unknown = map(len, seasons.values())
    subtitle = [f"{paper.say_place(station)}{frost} with a frost, {none} without, {unknown} unknown"]
    return paper.finish(paper.layer_chart(layers, title, subtitle))


def _date_axis(frosts: FrostDates) -> alt.Y:
    """Span the frosts, with room below them for the seasons that have no date."""
    found = frosts.day[np.isfinite(frosts.day)]
    span = found if found.size else np.array([0, SLOTS - 1])
    first, last = paper.season_dates(frosts.start)[[int(span.min()), int(span.max())]]
    margin = 3 + (last - first) // 25
    frame = paper.Frame(first=first - margin, last=last + margin, width=paper.HEIGHT)
    axis = alt.Axis(format="%-d %b", values=frame.ticks(40))
    return alt.Y("date:T", title=None, scale=paper.days_scale(first - 4 * margin, frame.last), axis=axis)


def _mark_undated(years: paper.Rows, text: str, shape: str, height: float, x: alt.X) -> list[alt.Chart]:
    """Mark the seasons that have no date, with the mark's meaning at the right."""
    if not years:
        return []
    marks = paper.chart_of(years).encode(x=x, y=alt.value(height), tooltip=["year:Q"])
    return [
        marks.mark_point(shape=shape, size=70, color=paper.PALETTE[0], filled=False, fill="white", opacity=1),
        paper.write_beside([{"text": text}], color=paper.PALETTE[0]).encode(y=alt.value(height)),
    ]
