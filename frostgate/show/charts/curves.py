"""Curves of risk by date, of one place and of several side by side, and the frosts of the single years."""

from __future__ import annotations

from collections.abc import Sequence

import altair as alt
import numpy as np

from frostgate.errors import InputError
from frostgate.model.curves import FrostCurve, risk_by_day
from frostgate.model.records import FrostDates, Station
from frostgate.seasons import NORTH, SLOTS, Dates
from frostgate.show.charts import paper
from frostgate.show.say import say_month_day
from frostgate.units import TemperatureUnit, say_share, say_temperature

HALF_WIDTH = 470  # of each half of a year [px]
EDGE = 0.005  # of a curve's height, left out at both its ends
MARGIN_DAYS = 7
MARKED = (0.1, 0.5, 0.9)
TICKS = [0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0]
TITLES = {"spring": "Last frost of spring", "autumn": "First frost of autumn"}
PLACES = paper.legend(orient="right", offset=110, labelLimit=300)  # beyond the words beside the rules


def draw_curves(
    curves: Sequence[FrostCurve],
    unit: TemperatureUnit,
    title: str | None = None,
    *,
    station: Station | None = None,
) -> alt.LayerChart:
    """Draw the risk against the date for one side of the year, at one threshold or several.

    Parameters
    ----------
    curves : sequence of FrostCurve
        A single one comes with its confidence band and its dates at 10, 50 and 90 %.
    unit : {"C", "F"}
        Of the thresholds.
    title : str, optional
        Above the chart; else which frosts it shows.
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
    named = [(say_temperature(curve.threshold_c, unit), curve) for curve in curves]
    layers = _draw_lines(named, curves[0], paper.LEGEND, width=width)
    subtitle = _say_source(curves, unit, station)
    return paper.layer_chart(layers, title or TITLES[curves[0].side], subtitle, (width, paper.HEIGHT))


def _draw_lines(
    named: Sequence[tuple[str, FrostCurve]],
    like: FrostCurve,
    legend: alt.Legend,
    *,
    width: int = paper.WIDTH,
    limit: float | None = None,
) -> list[alt.Chart]:
    """Draw named curves of one side of the year over its rules; one alone with its band and its dates."""
    curves = [curve for _, curve in named]
    side, dates, (first, last) = like.side, paper.season_dates(like.start), moving_days(curves)
    shown = slice(first, last + 1)
    chance = f"chance of a frost {'after' if side == 'spring' else 'before'} this date"
    axes: paper.Axes = {
        "x": paper.date_axis(alt.X, dates[first], dates[last], width),
        "y": paper.percent_axis(alt.Y, "risk:Q", chance, (0.0, 1.0), TICKS),
    }
    lines = [
        (f"{name}|{place}", dates[shown], curve.by_day[shown]) for place, (name, curve) in enumerate(named)
    ]
    layers = _draw_rules(axes, side, limit, width)
    if len(curves) == 1:
        layers += _shade_band(curves[0], dates, shown, axes)
    layers += paper.draw_lines(lines, axes, legend=legend)
    if len(curves) == 1:
        layers += _mark_dates(curves[0], dates, axes)
    return layers


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


def _draw_rules(axes: paper.Axes, side: str, limit: float | None, width: int) -> list[alt.Chart]:
    """Draw a rule at each marked risk, its meaning beside it, and at the grower's own limit."""
    texts = (f"1 {side} in 10", f"1 {side} in 2", f"9 {side}s in 10")
    rows: paper.Rows = [{"risk": risk, "text": text} for risk, text in zip(MARKED, texts, strict=True)]
    if limit is not None:  # it takes the place of a rule that it would lie on
        rows = [row for row in rows if abs(row["risk"] - limit) * paper.HEIGHT >= paper.LINE]
        rows.append({"risk": limit, "text": f"your limit {say_share(limit)}"})
    rules = paper.chart_of(rows).mark_rule(color=paper.PALE).encode(y=axes["y"])
    return [rules, paper.write_beside(rows, width).encode(y=axes["y"])]


def _shade_band(curve: FrostCurve, dates: Dates, shown: slice, axes: paper.Axes) -> list[alt.Chart]:
    if curve.low is None or curve.high is None:
        return []
    lows, highs = (risk_by_day(table, curve.side)[shown] for table in (curve.low, curve.high))
    rows = [
        {"date": str(date), "risk": float(low), "high": float(high)}
        for date, low, high in zip(dates[shown], lows, highs, strict=True)
    ]
    area = paper.chart_of(rows).mark_area(color=paper.BLUE, opacity=0.18)
    return [area.encode(**axes, y2="high:Q")]


def _mark_dates(curve: FrostCurve, dates: Dates, axes: paper.Axes) -> list[alt.Chart]:
    """Mark the points at which a curve crosses the marked risks, with their dates beside them."""
    rows: paper.Rows = []
    is_spring = curve.side == "spring"  # the line falls, and there is room to the right of a point
    half = 0.5 if is_spring else -0.5  # a day is drawn where it is read, see risk_by_day
    for risk in MARKED:
        text = curve.date_at(risk)
        if text is not None:
            minutes = np.timedelta64(round((curve.day_at_risk(risk) - half) * 1440), "m")
            date = f"{dates[0].astype('datetime64[m]') + minutes}Z"
            rows.append({"date": date, "risk": risk, "text": say_month_day(text)})
    if not rows:
        return []
    marks = paper.chart_of(rows).encode(**axes)
    texts = marks.mark_text(align="left" if is_spring else "right", dx=7 if is_spring else -7, dy=-14)
    return [marks.mark_point(color=paper.BLUE), texts.encode(text="text:N")]


def _say_source(curves: Sequence[FrostCurve], unit: TemperatureUnit, station: Station | None) -> list[str]:
    """Tell how many seasons the curves rest on, how they were fitted, and what no known season reached."""
    side, kinds = curves[0].side, list(dict.fromkeys(curve.kind for curve in curves))
    seasons = f"{paper.say_range([curve.seasons_used for curve in curves])} {side}s"
    years = f"{min(c.first_year for c in curves)} to {max(c.last_year for c in curves)}"
    fitted = f"curve{'s' if len(kinds) > 1 else ''}: {', '.join(kinds)}"
    if len(curves) == 1 and curves[0].confidence is not None:
        fitted += f"; shaded: {say_share(curves[0].confidence)} confidence band"
    cold = ", ".join(say_temperature(curve.threshold_c, unit) for curve in curves if not curve.risk.any())
    never = [f"Never reached in those {side}s: {cold}"] if cold else []
    return [f"{paper.say_place(station)}{seasons}, {years}; {fitted}", *never]


def draw_comparison(
    curves: Sequence[tuple[str, FrostCurve]], unit: TemperatureUnit, *, risk: float | None = None
) -> alt.LayerChart | alt.VConcatChart:
    """Draw the risk of a frost after each date for several places, each by its name, the latest first.

    Places of the north and of the south, whose springs are half a year apart, stand in two panels.
    """
    if not curves:
        raise InputError("no curve to draw", remedy="Name places with more known seasons.")
    if any(curve.side != "spring" for _, curve in curves):
        raise InputError("places are compared by their last frosts of spring")
    title = f"{TITLES['spring']}, place by place"
    sides = {
        f"{title}: north": [named for named in curves if named[1].start == NORTH],
        f"{title}: south": [named for named in curves if named[1].start != NORTH],
    }
    if not all(sides.values()):
        return paper.finish(_draw_places(curves, unit, risk, title))
    panels = [_draw_places(there, unit, risk, titled) for titled, there in sides.items()]
    return paper.finish(alt.vconcat(*panels, spacing=30))


def _draw_places(
    named: Sequence[tuple[str, FrostCurve]], unit: TemperatureUnit, risk: float | None, title: str
) -> alt.LayerChart:
    like = named[0][1]
    frost = say_temperature(like.threshold_c, unit)
    if len({round(curve.threshold_c, 3) for _, curve in named}) > 1:
        frost = "frost: the minimum beside each name"
        named = [(f"{name}, {say_temperature(curve.threshold_c, unit)}", curve) for name, curve in named]
    springs = paper.say_range([curve.seasons_used for _, curve in named])
    subtitle = [f"{frost} or less at the station; {springs} springs{' each' if 'to' in springs else ''}"]
    never = [name for name, curve in named if not curve.risk.any()]
    subtitle += [f"No such frost in any known spring: {', '.join(never)}"] if never else []
    drawn = [(name, curve) for name, curve in named if curve.risk.any()]
    drawn.sort(key=lambda one: -one[1].risk.sum())  # as the lines stand, from the right
    layers = _draw_lines(drawn, like, PLACES, limit=risk)
    return paper.layer_chart(layers, title, subtitle)


def draw_frost_dates(
    frosts: FrostDates, unit: TemperatureUnit, *, station: Station | None = None
) -> alt.LayerChart:
    """Draw each season's frost as a dot, year by date; seasons without one and unknown ones at the bottom.

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
    dates = paper.season_dates(frosts.start)
    found = frosts.day[np.isfinite(frosts.day)]
    span = found if found.size else np.array([0, SLOTS - 1])
    first, last = dates[[int(span.min()), int(span.max())]]
    margin = 3 + int((last - first).astype(int)) // 25
    undated = {"none": first - 3 * margin, "unknown": first - 4 * margin}  # below all dates
    rows: paper.Rows = []
    for year, day, state in zip(frosts.years.tolist(), frosts.day, frosts.states, strict=True):
        date = dates[int(day)] if state == "frost" else undated[state]
        told = say_month_day(f"{date}"[5:]) if state == "frost" else state
        rows.append({"year": year, "date": str(date), "season": state, "day": told})
    years = alt.Scale(domain=[int(frosts.years.min()) - 1, int(frosts.years.max()) + 1], nice=False)
    axis = alt.Axis(format="d", grid=False, tickMinStep=1, labelFlush=False)
    states = ["frost", "none", "unknown"]
    colors = alt.Scale(domain=states, range=[paper.BLUE, paper.VERMILLION, paper.GREY])
    shapes = alt.Scale(domain=states, range=["circle", "triangle-down", "cross"])
    legend = alt.Legend(title=None, orient="top", symbolSize=80)
    dots = paper.chart_of(rows).encode(
        x=alt.X("year:Q", title=None, scale=years, axis=axis),
        y=paper.date_axis(alt.Y, undated["unknown"], last + margin, 2 * paper.HEIGHT, unmarked=3 * margin),
        color=alt.Color("season:N", scale=colors, legend=legend),
        shape=alt.Shape("season:N", scale=shapes, legend=legend),
        tooltip=["year:Q", "day:N"],
    )
    which = "Last" if frosts.side == "spring" else "First"
    title = f"{which} frost of each {frosts.side}, {say_temperature(frosts.threshold_c, unit)} or less"
    frost, none, unknown = (sum(row["season"] == state for row in rows) for state in states)
    subtitle = [f"{paper.say_place(station)}{frost} with a frost, {none} without, {unknown} unknown"]
    return paper.finish(paper.layer_chart([dots.mark_point()], title, subtitle))
