"""The risk that the gate states: by date of feeding, above the nights it weighs, and against what came."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import altair as alt
import numpy as np

from frostgate.errors import InputError
from frostgate.gate.forecast_errors import frost_chance
from frostgate.model.gate import Night, Outlook, Policy
from frostgate.model.records import Station
from frostgate.proof.replay import Openings, Replay
from frostgate.seasons import say_date, say_day
from frostgate.show.charts import paper
from frostgate.show.reasons import say_reasons
from frostgate.units import TemperatureUnit, fahrenheit, say_share, say_temperature

NIGHTS_HEIGHT = 190  # of the plot of nights alone [px]
EDGE = 0.005  # a risk below this is left out
MARGIN_DAYS = 7
BAR = 0.8  # the share of nights that an error bar holds
LOOKS = ((paper.GREY, (6, 4)), (paper.BLUE, (1, 0)))  # of the climate, and with the forecast
OUTLOOK_TITLE = "Frost risk by date of the first feeding"
SQUARE = (680, 440)  # of the plot of stated risks [px]
ROOM = 1.12  # of its axes beyond the highest interval
LEFT = 0.025  # of its axis of stated risks to the left of 0, for the label of a small limit
LABEL_WIDTH, LABEL_HEIGHT = 36, 18  # of a limit's label [px]
GATE = paper.BLUE
CHANCE = "chance of a damaging frost, if fed on this date"
STATED = "risk stated on the morning the gate opened"
CAME = "share of springs in which a damaging frost came"
READING = (
    "dot: share of springs with a damaging frost after opening at the limit above it; bar: 95 % interval",
    "below the dashed line frosts came less often than stated, on the safe side; above it more often",
)


def draw_outlook(
    outlook: Outlook, policy: Policy, unit: TemperatureUnit, *, title: str = OUTLOOK_TITLE
) -> alt.VConcatChart:
    """Draw the risk of every candidate date, and below it the forecast nights that count.

    Parameters
    ----------
    outlook : Outlook
        Of an answer. Where its forecast is not to be trusted only the climate's line is drawn and no date is
        marked: unknown is never safe.
    policy : Policy
        The numbers it was asked with, for the limit and the damage temperature.
    unit : {"C", "F"}
        Of the temperatures.
    title : str
        Above the chart.
    """
    panels = [_draw_risk(outlook, policy, unit, title)]
    if outlook.nights:
        panels.append(_draw_nights(outlook.nights, policy, unit))
    return paper.finish(alt.vconcat(*panels, spacing=30))


def _draw_risk(outlook: Outlook, policy: Policy, unit: TemperatureUnit, title: str) -> alt.LayerChart:
    tolerance, in_doubt = policy.risk_tolerance, bool(outlook.forecast_checks)
    limit = f"your limit {say_share(tolerance)}"
    earliest = None if in_doubt else outlook.date_at(tolerance)
    shown = slice(0, _days_shown(outlook, earliest))
    dates = outlook.dates[shown]
    lines = [("by the climate alone", dates, outlook.climate_alone[shown])]
    if outlook.nights:
        lines.append(("with the forecast", dates, outlook.risk[shown]))
    top = min(1.0, 1.15 * max(tolerance, *(float(risk.max()) for *_, risk in lines)))
    axes: paper.Axes = {
        "x": paper.date_axis(alt.X, dates[0], max(dates[-1], dates[0] + 1), paper.WIDTH),
        "y": paper.percent_axis(alt.Y, "risk:Q", CHANCE, (0.0, top), 5),
    }
    layers = _draw_rule({"risk": tolerance, "text": limit}, axes["y"])
    layers += paper.draw_lines(lines, axes, LOOKS)
    if earliest is not None:
        layers += _mark_opening(outlook, earliest, tolerance, axes)
    subtitle = [
        f"{say_date(outlook.today)}; damage at {say_temperature(policy.damage_temp_c, unit)} or less; {limit}"
    ]
    if in_doubt:
        subtitle += say_reasons(outlook.forecast_checks, unit)
        subtitle.append("Unknown is not safe: do not feed on this chart.")
    elif earliest is None:
        subtitle.append("No date of this season is within your limit.")
    color = paper.VERMILLION if in_doubt else paper.GREY
    return paper.layer_chart(layers, title, subtitle, color=color)


def _days_shown(outlook: Outlook, earliest: dt.date | None) -> int:
    """Count the days until the risk is all but gone, at least three weeks."""
    risky = np.flatnonzero(np.maximum(outlook.risk, outlook.climate_alone) > EDGE)
    opening = 0 if earliest is None else (earliest - outlook.today).days
    last = max(int(risky[-1]) if risky.size else 0, opening, len(outlook.nights), 21 - MARGIN_DAYS)
    return min(last + MARGIN_DAYS, outlook.dates.size)


def _mark_opening(outlook: Outlook, earliest: dt.date, tolerance: float, axes: paper.Axes) -> list[alt.Chart]:
    """Mark the earliest date at its risk, a line up to the limit, and its words above that."""
    risk = float(outlook.risk[(earliest - outlook.today).days])
    text = f"{'open today,' if earliest == outlook.today else 'opens'} {say_day(earliest)}"
    row = {"date": earliest.isoformat(), "risk": risk, "limit": tolerance, "text": text}
    base = paper.chart_of([row]).encode(**axes)
    return [
        base.mark_rule(color=paper.GREEN).encode(y2="limit:Q"),
        base.mark_point(color=paper.GREEN),
        base.mark_text(align="left", dx=5, dy=-12).encode(y="limit:Q", text="text:N"),
    ]


def _draw_rule(row: dict[str, object], y: alt.Y, width: int = paper.WIDTH) -> list[alt.Chart]:
    """Draw a rule that is not to be missed, its text beside it."""
    rule = paper.chart_of([row]).mark_rule(color=paper.VERMILLION, strokeWidth=1.5)
    return [rule.encode(y=y), paper.write_beside([row], width, paper.VERMILLION).encode(y=y)]


def _draw_nights(nights: Sequence[Night], policy: Policy, unit: TemperatureUnit) -> alt.LayerChart:
    rows, damage = _night_rows(nights, policy, unit), _in_unit(policy.damage_temp_c, unit)
    scale = alt.Scale(zero=False, nice=False, padding=26)  # [px], for the chances above the bars
    y = alt.Y("garden:Q", title=f"minimum (°{unit})", scale=scale, axis=alt.Axis(grid=False, tickCount=5))
    two_lines = alt.Axis(labelAngle=0, labelExpr="split(datum.label, '|')")
    base = paper.chart_of(rows).encode(x=alt.X("night:O", sort=None, title=None, axis=two_lines), y=y)
    layers = [
        *_draw_rule({"garden": damage, "text": f"damage {say_temperature(policy.damage_temp_c, unit)}"}, y),
        base.mark_rule(color=GATE, strokeWidth=2).encode(y="low:Q", y2="high:Q"),
        base.mark_point(color=GATE),
        base.mark_text().encode(y=alt.value(9), text="chance:N"),
        paper.write_beside([{"text": "chance of frost"}]).encode(y=alt.value(9)),
    ]
    subtitle = f"Forecast minimum in the garden; the bars hold {say_share(BAR)} of such nights"
    return paper.layer_chart(layers, "The nights to come", [subtitle], (paper.WIDTH, NIGHTS_HEIGHT))


def _night_rows(nights: Sequence[Night], policy: Policy, unit: TemperatureUnit) -> paper.Rows:
    """Return the nights, each with its bar by the gate's own law of errors."""
    from scipy.optimize import brentq  # slow to load

    reach = brentq(lambda spreads: float(frost_chance(spreads, 1.0, policy)) - (1 - BAR) / 2, 0.0, 10.0)
    return [
        {
            "night": f"{night.morning:%a}|{night.morning.day} {night.morning:%b}",
            "garden": _in_unit(night.garden_c, unit),
            "low": _in_unit(night.garden_c - reach * night.sd_c, unit),
            "high": _in_unit(night.garden_c + reach * night.sd_c, unit),
            "chance": say_share(night.chance).replace("under ", "<").replace("over ", ">"),
        }
        for night in nights
    ]


def _in_unit(temp_c: float, unit: TemperatureUnit) -> float:
    return round(fahrenheit(temp_c) if unit == "F" else temp_c, 2)


def draw_reliability(replay: Replay, *, station: Station | None = None) -> alt.LayerChart:
    """Draw, for each limit, the risk stated at opening against the share that came true.

    A gate that means what it says lies on the diagonal, one that errs on the safe side below it. The trade's
    habit states no risk and is a line across.
    """
    if not replay.openings:
        raise InputError("no replayed spring to draw")
    openings = [opened for opened in replay.openings if opened.springs]
    habits = [replay.habit] if replay.habit.springs else []
    highest = [float(np.fmax(opened.interval[1], opened.stated_mean)) for opened in (*openings, *habits)]
    top = min(ROOM * max(highest, default=1.0), 1.0)  # of both axes
    axes: paper.Axes = {
        "x": paper.percent_axis(alt.X, "stated:Q", STATED, (-LEFT * top, top), 6),
        "y": paper.percent_axis(alt.Y, "came:Q", CAME, (0.0, top), 6),
    }
    ends = [{"stated": risk, "came": risk} for risk in (0.0, top)]
    diagonal = paper.chart_of(ends).mark_line(color=paper.GREY, strokeDash=[6, 4], strokeWidth=1.5)
    layers = [
        diagonal.encode(**axes),
        paper.write_beside([{"text": "as often as stated"}], SQUARE[0]).encode(y=alt.value(-16)),
    ]
    for habit in habits:
        low, high = habit.interval
        words = (
            "the trade's habit:",
            f"{say_share(habit.realised)} went wrong",
            f"({low:.0%} to {high:.0%})",
        )
        layers += _draw_rule({"came": habit.realised, "text": words}, axes["y"], SQUARE[0])
    layers += _draw_limits(openings, top, axes) if openings else []
    springs = f"{replay.springs.years.size} springs, each judged by the others"
    subtitle = [
        f"{paper.say_place(station)}{springs}; forecasts of {replay.horizon} nights are drawn",
        *(READING if openings else ("the gate opened in none of these springs, whatever the limit",)),
    ]
    return paper.finish(paper.layer_chart(layers, "Does the stated risk come true?", subtitle, SQUARE))


def _draw_limits(openings: Sequence[Openings], top: float, axes: paper.Axes) -> list[alt.Chart]:
    """Draw each limit's point and bar, its label above the bar, and above that of a near limit."""
    width, height = LABEL_WIDTH / SQUARE[0] * top * (1 + LEFT), LABEL_HEIGHT / SQUARE[1] * top
    rows: paper.Rows = []
    for opened in sorted(openings, key=lambda opened: opened.stated_mean):
        stated, (low, high) = opened.stated_mean, opened.interval
        label = high + 0.6 * height
        if rows and stated - rows[-1]["stated"] < width:
            label = max(label, rows[-1]["label"] + height)
        row = {"stated": stated, "came": opened.realised, "low": low, "high": high}
        rows.append({**row, "text": say_share(opened.risk), "label": label})
    base = paper.chart_of(rows).encode(**axes)
    shares = (alt.Tooltip(f"{name}:Q", format=".1%") for name in ("stated", "came", "low", "high"))
    return [
        base.mark_rule(color=GATE, strokeWidth=2).encode(y="low:Q", y2="high:Q"),
        base.mark_point(color=GATE).encode(tooltip=[alt.Tooltip("text:N", title="limit"), *shares]),
        base.mark_text().encode(y="label:Q", text="text:N"),
    ]
