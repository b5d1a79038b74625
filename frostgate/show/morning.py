"""The gate's answer as one screen of text, readable at six in the morning."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from frostgate.gate.outlook import age_hours
from frostgate.gate.verdict import Morning
from frostgate.model.curves import FrostCurve, SiteClimate
from frostgate.model.gate import Forecast, Policy, State, Verdict
from frostgate.seasons import say_date, say_day
from frostgate.show.reasons import say_reasons
from frostgate.show.say import bullets, say_month_day, say_side, section
from frostgate.units import TemperatureUnit, fahrenheit, say_share, say_temperature

COUNSEL: dict[State, str] = {
    "open": "the first feeding may begin",
    "shut": "do not feed yet",
    "unknown": "cannot be known this morning; do not feed on this",
}
_BAR = 20


def morning_lines(morning: Morning, unit: TemperatureUnit) -> Iterator[str]:
    """Write the answer, its reasons, the dates by risk, the nights ahead, what was read, and the cautions."""
    verdict = morning.verdict
    yield from headline(verdict)
    yield from section("Why", bullets(say_reasons(verdict.reasons, unit)))
    alone = verdict.climate_only or verdict.state == "unknown"
    basis = "by the curve alone" if alone else "as things stand"
    yield from section(f"First date by the risk you accept, {basis}", _by_risk(verdict))
    yield from section("The nights ahead, in the garden", nights_ahead(morning, unit))
    yield from section("What this rests on", bullets(sources(morning, unit)))
    yield from section("Take care", bullets(say_reasons(morning.cautions, unit)))


def headline(verdict: Verdict, counsel: dict[State, str] = COUNSEL) -> Iterator[str]:
    """Write the verdict in a line, and the earliest date below it."""
    yield f"{verdict.state.upper()}  {say_date(verdict.on)}: {counsel[verdict.state]}"
    if verdict.state == "shut" and verdict.risk_today is not None:  # past the season's stop no date counts
        yield _earliest(verdict)


def _earliest(verdict: Verdict) -> str:
    earliest = verdict.earliest_date
    if earliest is None:
        return "         no date this season is within your limit"
    likely = ""
    if verdict.likely_from and verdict.likely_to:
        basis = "by the curve's bounds" if verdict.climate_only else "as forecasts come in"
        likely = f" (likely {say_day(verdict.likely_from)} to {say_day(verdict.likely_to)} {basis})"
    return f"      earliest {(say_day if earliest.year == verdict.on.year else say_date)(earliest)}{likely}"


def _by_risk(verdict: Verdict) -> Iterator[str]:
    """Write the first date within each of several limits; nothing where the curve is not known either."""
    if verdict.state == "unknown" and all(date is None for _, date in verdict.by_risk):
        return
    cells = [
        f"{say_share(risk):>5} {'no date' if date is None else say_day(date):<10}"
        for risk, date in verdict.by_risk
    ]
    for at in range(0, len(cells), 4):
        yield "  " + "  ".join(cells[at : at + 4]).rstrip()


def nights_ahead(morning: Morning, unit: TemperatureUnit) -> Iterator[str]:
    """Write the forecast nights as the gate weighs them, a line each; nothing without a forecast."""
    if morning.outlook is None or not morning.outlook.nights:
        return
    yield f"  to morning of   low    chance of {say_temperature(morning.policy.damage_temp_c, unit)} or less"
    for night in morning.outlook.nights:
        low, bar = say_low(night.garden_c, unit), "#" * round(night.chance * _BAR)
        yield f"  {say_day(night.morning):<11} {low:>8}    {say_share(night.chance):>9}  {bar}".rstrip()


def say_low(garden_c: float, unit: TemperatureUnit) -> str:
    """Write a night's minimum in a column: whole °F, tenths of °C."""
    return f"{fahrenheit(garden_c):z.0f} °F" if unit == "F" else f"{garden_c:z.1f} °C"


def sources(morning: Morning, unit: TemperatureUnit) -> Iterator[str]:
    """Tell what the answer rests on, a sentence each."""
    site, seen = morning.site, morning.outlook.seen if morning.outlook else None
    weighed = len(morning.outlook.nights) if morning.outlook else 0
    if morning.forecast is not None:
        yield _forecast_sentence(morning.forecast, morning.now, weighed)
    if site is not None:
        yield _record_sentence(site)
        yield _curve_sentence(site.curve)
        if site.years is not None and site.years.basis != "all":
            yield f"Years: {site.years.reason}"
        if weighed and seen is not None and seen.frost is not None and seen.recent is None:
            yield (
                "It is not known how this spring has run so far: the record ends on "
                f"{say_date(site.last_day)}. With a fresher record a mild or a cold spring would count."
            )
    yield _garden_sentence(morning.policy, unit)
    yield from morning.notes


def _forecast_sentence(forecast: Forecast, now: dt.datetime, weighed: int) -> str:
    told = "made" if forecast.issued_stated else "taken to be made"
    made = f"{told} {say_day(forecast.issued_at.date())} {forecast.issued_at:%H:%M}"
    some = f", {weighed} of them weighed" if weighed < forecast.dates.size else ""
    nights = f"{forecast.dates.size} nights through {say_day(forecast.through)}{some}"
    return f"Forecast: {nights}; {made}, {age_hours(forecast, now):.0f} hours old."


def _record_sentence(site: SiteClimate) -> str:
    station, curve = site.station, site.curve
    last = "its last " if site.years is not None and site.years.basis == "recent" else ""
    flagged = f"{site.flagged} flagged {'minimum' if site.flagged == 1 else 'minima'}"
    fate = "kept as you asked" if site.suspects_kept else "left out"
    return (
        f"Station: {station}, {last}{curve.seasons_used} known springs {curve.first_year}-{curve.last_year}, "
        f"{curve.seasons_unknown} unknown; {flagged} dropped, {site.suspects} suspect {fate}."
    )


def _curve_sentence(curve: FrostCurve) -> str:
    median = curve.date_at(0.5)
    half = (
        f"the median last frost is {say_month_day(median)}"
        if median
        else "fewer than half of all springs have one"
    )
    kind = "three fits, pooled" if curve.kind == "pooled" else curve.kind
    return f"Curve: {kind}; {say_share(curve.frost_share)} of springs had such a frost, {half}."


def _garden_sentence(policy: Policy, unit: TemperatureUnit) -> str:
    damage = say_temperature(policy.damage_temp_c, unit)
    sides = {"the station": policy.offset_c}
    if policy.garden_less_forecast_c != policy.offset_c:
        sides["the forecast"] = policy.garden_less_forecast_c
    told = (
        say_side(offset_c, than, unit) if offset_c else f"taken to be {say_side(0.0, than, unit)}"
        for than, offset_c in sides.items()
    )
    return f"Garden: damage at {damage} or less; {', '.join(told)}."
