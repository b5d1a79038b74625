"""An outlook as risk by feeding date, above the nights that it weighs."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import altair as alt
import numpy as np

from frostgate.gate.forecast_errors import frost_chance
from frostgate.model.gate import Night, Outlook, Policy
from frostgate.seasons import say_date, say_day
from frostgate.show import paper
from frostgate.show.reasons import say_reasons
from frostgate.units import TemperatureUnit, fahrenheit, say_share, say_temperature

NIGHTS_HEIGHT = 190  # of the plot alone [px]
EDGE = 0.005  # a risk below this is left out
MARGIN_DAYS = 7
BAR = 0.8  # the share of nights that an error bar holds
LOOKS = ((paper.GREY, (6, 4)), (paper.PALETTE[1], (1, 0)))  # of the climate, and with the forecast
OUTLOOK_TITLE = "Frost risk by date of the first feeding"


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
    earliest = None if in_doubt else outlook.date_at(tolerance)
    shown = slice(0, _days_shown(outlook, earliest))
    dates, alone = outlook.dates[shown], outlook.climate_alone[shown]
    lines = [("by the climate alone", dates, alone)]
    if outlook.nights:
        lines.append(("with the forecast", dates, outlook.risk[shown]))
    highest = max(tolerance, *(float(risk.max()) for *_, risk in lines))
    frame = paper.Frame(
        first=dates[0],
        last=max(dates[-1], dates[0] + 1),
        top=min(1.0, 1.15 * highest),
        from_first=True,
        title="chance of a damaging frost, if fed on this date",
    )
    limit = [{"risk": tolerance, "text": f"your limit {say_share(tolerance)}"}]
    points, texts = _mark_opening(outlook, earliest, tolerance, frame)
    legend = alt.Legend(title=None, orient="top", symbolType="stroke", symbolStrokeWidth=2.5)
    layers = [
        *paper.draw_rule(limit, frame.y),
        *paper.draw_lines(lines, frame, LOOKS, legend),
        *paper.draw_points(points, frame, paper.PALETTE[2]),
        *paper.write_texts(texts, frame.x, frame.y, halo=5, **paper.RIGHT),
    ]
    damage = f"damage at {say_temperature(policy.damage_temp_c, unit)} or less"
    subtitle = [f"{say_date(outlook.today)}; {damage}; your limit {say_share(tolerance)}"]
    if in_doubt:
        subtitle += say_reasons(outlook.forecast_checks, unit)
        subtitle.append("Unknown is not safe: do not feed on this chart.")
    elif earliest is None:
        subtitle.append("No date of this season is within your limit.")
    color = paper.PALETTE[0] if in_doubt else paper.GREY
    return paper.layer_chart(layers, title, subtitle, (frame.width, frame.height), color=color)


def _days_shown(outlook: Outlook, earliest: dt.date | None) -> int:
    """Count the days until the risk is all but gone, at least three weeks."""
    risky = np.flatnonzero(np.maximum(outlook.risk, outlook.climate_alone) > EDGE)
    opening = 0 if earliest is None else (earliest - outlook.today).days
    last = max(int(risky[-1]) if risky.size else 0, opening, len(outlook.nights), 21 - MARGIN_DAYS)
    return min(last + MARGIN_DAYS, outlook.dates.size)


def _mark_opening(
    outlook: Outlook, earliest: dt.date | None, tolerance: float, frame: paper.Frame
) -> tuple[paper.Rows, paper.Rows]:
    """The point of the earliest date, and its text: beside it, or above the limit where that is near."""
    if earliest is None:
        return [], []
    risk = float(outlook.risk[(earliest - outlook.today).days])
    text = f"{'open today,' if earliest == outlook.today else 'opens'} {say_day(earliest)}"
    near = (tolerance - risk) / frame.top * frame.height < 2 * paper.LINE
    point = {"date": earliest.isoformat(), "risk": risk}
    return [point], [{**point, "risk": tolerance if near else risk, "text": text}]


def _draw_nights(nights: Sequence[Night], policy: Policy, unit: TemperatureUnit) -> alt.LayerChart:
    rows, damage = _night_rows(nights, policy, unit), _in_unit(policy.damage_temp_c, unit)
    low, high = min(damage, *(row["low"] for row in rows)), max(damage, *(row["high"] for row in rows))
    room = 0.06 * (high - low)
    scale = alt.Scale(domain=[low - room, high + 4 * room], nice=False, zero=False)
    title = f"minimum (°{unit})"
    y = alt.Y("garden:Q", title=title, scale=scale, axis=alt.Axis(grid=False, tickCount=5))
    two_lines = alt.Axis(labelAngle=0, labelExpr="split(datum.label, '|')")
    base = paper.chart_of(rows).encode(x=alt.X("night:O", sort=None, title=None, axis=two_lines))
    low_end = alt.Y("low:Q", title=title)
    rule = [{"garden": damage, "text": f"damage {say_temperature(policy.damage_temp_c, unit)}"}]
    layers = [
        *paper.draw_rule(rule, y),
        base.mark_rule(color=paper.PALETTE[1], strokeWidth=2).encode(y=low_end, y2="high:Q"),
        base.mark_point(filled=True, size=70, color=paper.PALETTE[1], opacity=1).encode(y=y),
        base.mark_text(color=paper.INK, fontSize=13).encode(y=alt.value(9), text="chance:N"),
        paper.write_beside([{"text": "chance of frost"}]).encode(y=alt.value(9)),
    ]
    subtitle = f"Forecast minimum in the garden; the bars hold {say_share(BAR)} of such nights"
    return paper.layer_chart(layers, "The nights to come", [subtitle], (paper.WIDTH, NIGHTS_HEIGHT))


def _night_rows(nights: Sequence[Night], policy: Policy, unit: TemperatureUnit) -> paper.Rows:
    """Return the nights, each with its bar by the gate's own law of errors."""
    from scipy.optimize import brentq  # slow to load

    reach = brentq(lambda spreads: frost_chance(spreads, 1.0, policy) - (1 - BAR) / 2, 0.0, 10.0)
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
