"""An outlook as risk by feeding date, above the nights that it weighs."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import altair as alt
import numpy as np

from frostgate.gate.forecast_errors import frost_chance
from frostgate.model.gate import Night, Outlook, Policy
from frostgate.seasons import say_date, say_day
from frostgate.show.charts.curves import BESIDE, LINE, Line, draw_lines, draw_points, write_texts
from frostgate.show.charts.paper import (
    GREY,
    INK,
    PALETTE,
    WIDTH,
    Frame,
    Rows,
    chart_of,
    finish,
    layer_chart,
    write_beside,
)
from frostgate.show.reasons import say_reasons
from frostgate.units import TemperatureUnit, fahrenheit, say_share, say_temperature

NIGHTS_HEIGHT = 190  # of the plot alone [px]
EDGE = 0.005  # a risk below this is left out
MARGIN_DAYS = 7
OUTLOOK_TITLE = "Frost risk by date of the first feeding"
BAR = 0.8  # the share of nights that an error bar holds
TWO_LINES = "split(datum.label, '|')"


def draw_outlook(
    outlook: Outlook, policy: Policy, unit: TemperatureUnit, *, title: str = OUTLOOK_TITLE
) -> alt.VConcatChart:
    """Draw the risk of every candidate date, and below it the forecast nights that count.

    Where the outlook is in doubt only the climate's line is drawn and no date is marked: unknown is never
    safe.
    """
    panels = [_draw_risk(outlook, policy, unit, title)]
    if outlook.nights:
        panels.append(_draw_nights(outlook.nights, policy, unit))
    return finish(alt.vconcat(*panels, spacing=30))


def _draw_risk(outlook: Outlook, policy: Policy, unit: TemperatureUnit, title: str) -> alt.LayerChart:
    tolerance = policy.risk_tolerance
    earliest = None if outlook.forecast_checks else outlook.date_at(tolerance)
    lines = _risk_lines(outlook, slice(0, _days_shown(outlook, earliest)))
    first, last = lines[0].dates[0], lines[0].dates[-1]
    highest = max(tolerance, *(float(line.risk.max()) for line in lines))
    top = min(1.0, 1.15 * highest)
    frame = Frame(first=first, last=max(last, first + 1), top=top, from_first=True)
    y = frame.y("chance of a damaging frost, if fed on this date")
    limit = [{"risk": tolerance, "text": f"your limit {say_share(tolerance)}"}]
    points, texts = _mark_opening(outlook, earliest, tolerance, frame)
    layers = [
        chart_of(limit).mark_rule(color=PALETTE[0], strokeWidth=1.5).encode(y=y),
        write_beside(limit, frame.width, PALETTE[0]).encode(y=y),
        *draw_lines(lines, frame, y, texts, inline=False),
        *draw_points(points, frame, y),
        *write_texts(texts, frame, y, BESIDE, halo=5),
    ]
    color = PALETTE[0] if outlook.forecast_checks else GREY
    subtitle = _say_outlook(outlook, policy, unit, earliest)
    return layer_chart(layers, frame, alt.TitleParams(title, subtitle=subtitle, subtitleColor=color))


def _risk_lines(outlook: Outlook, shown: slice) -> list[Line]:
    dates, alone = outlook.dates[shown], outlook.climate_alone[shown]
    lines = [Line(text="by the climate alone", dates=dates, risk=alone, color=GREY, dash=(6, 4), width=1.5)]
    if outlook.nights:
        lines.append(Line(text="with the forecast", dates=dates, risk=outlook.risk[shown], color=PALETTE[1]))
    return lines


def _say_outlook(
    outlook: Outlook, policy: Policy, unit: TemperatureUnit, earliest: dt.date | None
) -> list[str]:
    """Tell day, damage and limit, and what keeps the chart from marking a date."""
    damage = f"damage at {say_temperature(policy.damage_temp_c, unit)} or less"
    first = f"{say_date(outlook.today)}; {damage}; your limit {say_share(policy.risk_tolerance)}"
    if outlook.forecast_checks:
        return [
            first,
            *say_reasons(outlook.forecast_checks, unit),
            "Unknown is not safe: do not feed on this chart.",
        ]
    return [first] if earliest else [first, "No date of this season is within your limit."]


def _days_shown(outlook: Outlook, earliest: dt.date | None) -> int:
    """Count the days until the risk is all but gone, at least three weeks."""
    risky = np.flatnonzero(np.maximum(outlook.risk, outlook.climate_alone) > EDGE)
    opening = 0 if earliest is None else (earliest - outlook.today).days
    last = max(int(risky[-1]) if risky.size else 0, opening, len(outlook.nights), 21 - MARGIN_DAYS)
    return min(last + MARGIN_DAYS, outlook.dates.size)


def _mark_opening(
    outlook: Outlook, earliest: dt.date | None, tolerance: float, frame: Frame
) -> tuple[Rows, Rows]:
    """The point of the earliest date, and its text: beside it, or above the limit where that is near."""
    if earliest is None:
        return [], []
    risk = float(outlook.risk[(earliest - outlook.today).days])
    text = f"{'open today,' if earliest == outlook.today else 'opens'} {say_day(earliest)}"
    near = (tolerance - risk) / frame.top * frame.height < 2 * LINE
    date = earliest.isoformat()
    point = {"date": date, "risk": risk, "color": PALETTE[2]}
    return [point], [{"date": date, "risk": tolerance if near else risk, "text": text, "color": INK}]


def _draw_nights(nights: Sequence[Night], policy: Policy, unit: TemperatureUnit) -> alt.LayerChart:
    rows, damage = _night_rows(nights, policy, unit), _in_unit(policy.damage_temp_c, unit)
    low, high = min(damage, *(row["low"] for row in rows)), max(damage, *(row["high"] for row in rows))
    room = 0.06 * (high - low)
    scale = alt.Scale(domain=[low - room, high + 4 * room], nice=False, zero=False)
    title = f"minimum (°{unit})"
    y = alt.Y("garden:Q", title=title, scale=scale, axis=alt.Axis(grid=False, tickCount=5))
    x = alt.X("night:O", sort=None, title=None, axis=alt.Axis(labelAngle=0, labelExpr=TWO_LINES))
    base = chart_of(rows).encode(x=x)
    rule = [{"garden": damage, "text": f"damage {say_temperature(policy.damage_temp_c, unit)}"}]
    layers = [
        chart_of(rule).mark_rule(color=PALETTE[0], strokeWidth=1.5).encode(y=y),
        write_beside(rule, WIDTH, PALETTE[0]).encode(y=y),
        base.mark_rule(color=PALETTE[1], strokeWidth=2).encode(y=alt.Y("low:Q", title=title), y2="high:Q"),
        base.mark_point(filled=True, size=70, color=PALETTE[1], opacity=1).encode(y=y),
        base.mark_text(color=INK, fontSize=13).encode(y=alt.value(9), text="chance:N"),
        write_beside([{"text": "chance of frost"}], WIDTH).encode(y=alt.value(9)),
    ]
    subtitle = f"Forecast minimum in the garden; the bars hold {say_share(BAR)} of such nights"
    title_lines = alt.TitleParams("The nights to come", subtitle=subtitle)
    return alt.LayerChart(layer=layers, width=WIDTH, height=NIGHTS_HEIGHT, title=title_lines)


def _night_rows(nights: Sequence[Night], policy: Policy, unit: TemperatureUnit) -> Rows:
    reach = _bar_reach(policy)
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


def _bar_reach(policy: Policy) -> float:
    """Find how many spreads from the forecast the error bar ends, by the gate's own law of errors."""
    near, far = 0.0, 10.0
    for _ in range(50):
        middle = (near + far) / 2
        near, far = (middle, far) if frost_chance(middle, 1.0, policy) > (1 - BAR) / 2 else (near, middle)
    return near


def _in_unit(temp_c: float, unit: TemperatureUnit) -> float:
    return round(fahrenheit(temp_c) if unit == "F" else temp_c, 2)
