"""The morning's answer as one screen of text, readable at six in the morning."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from frostgate.feeding.protection import CAUTIONS, LEVELS, FrostWarning, Part
from frostgate.feeding.shopping import MixedFeeding
from frostgate.feeding.succession import LOG_BUDS
from frostgate.gate.outlook import age_hours
from frostgate.gate.verdict import Morning
from frostgate.model.feedings import Dose, Feeding, Mix
from frostgate.model.gate import Forecast, Policy, State, Verdict
from frostgate.model.records import FrostCurve, SiteClimate
from frostgate.seasons import say_date, say_day
from frostgate.show.reasons import say_reasons
from frostgate.show.say import bullets, say_month_day, section, wrapped
from frostgate.units import (
    TemperatureUnit,
    Units,
    fahrenheit,
    say_mass,
    say_offset,
    say_share,
    say_temperature,
    say_volume,
)

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
        low, bar = _low(night.garden_c, unit), "#" * round(night.chance * _BAR)
        yield f"  {say_day(night.morning):<11} {low:>8}    {say_share(night.chance):>9}  {bar}".rstrip()


def _low(garden_c: float, unit: TemperatureUnit) -> str:
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
    name = f"{station.name} ({station.id})" if station.name else station.id
    last = "its last " if site.years is not None and site.years.basis == "recent" else ""
    fate = "kept as you asked" if site.suspects_kept else "left out"
    return (
        f"Station: {name}, {last}{curve.seasons_used} known springs {curve.first_year}-{curve.last_year}, "
        f"{curve.seasons_unknown} unknown; {site.flagged} flagged minima dropped, "
        f"{site.suspects} suspect ones {fate}."
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
    station = _side(policy.offset_c, "the station", unit)
    if policy.garden_less_forecast_c == policy.offset_c:
        return f"Garden: damage at {damage} or less; {station}."
    forecast = _side(policy.garden_less_forecast_c, "the forecast", unit)
    return f"Garden: damage at {damage} or less; {station}, {forecast}."


def _side(offset_c: float, than: str, unit: TemperatureUnit) -> str:
    if offset_c == 0.0:
        return f"taken to be as cold as {than}"
    return f"{say_offset(abs(offset_c), unit)} {'colder' if offset_c < 0 else 'warmer'} than {than}"


UNDER_WAY: dict[State, str] = COUNSEL | {"open": "feeding may go on", "shut": "do not feed today"}
_NEXT = 4
_LIKELY = 0.01
_FIRST_CAUTIONS = 2  # the label, gloves and eyes
_MOST_SPOONED_ML = 250.0
_PARTS: dict[Part, str] = {
    "tender growth": "tender growth",
    "buds": "swelling buds",
    "wood": "dormant wood",
    "roots": "roots in the pots",
}
_FATES = ("may be hurt", "would be hurt", "would be killed")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GardenMorning:
    """All that a garden's morning shows."""

    morning: Morning
    warnings: tuple[FrostWarning, ...]  # what the coming nights can hurt
    due: tuple[MixedFeeding, ...]  # what is to be fed today
    coming: tuple[Feeding, ...]  # later feedings of the programme, in order
    to_log: tuple[str, ...]  # commands that write down what is done and seen
    notes: tuple[str, ...]  # what is not known
    plan_notes: tuple[str, ...]  # what shaped the plan
    unit: TemperatureUnit
    units: Units
    fed: bool = False  # whether the season's first feeding is done


def garden_lines(shown: GardenMorning, *, full: bool = False) -> Iterator[str]:
    """Write the screen; the headline with the verdict's word is the first line that is not indented."""
    morning, unit = shown.morning, shown.unit
    nights = morning.outlook.nights if morning.outlook else ()
    yield from _frost(shown)
    yield from headline(morning.verdict, UNDER_WAY if shown.fed else COUNSEL)
    yield from section("Due today", _due(shown))
    yield from section("Next", _next(shown.coming))
    yield from section("To log", (f"  {command}" for command in shown.to_log))
    yield from section("Why", bullets(say_reasons(morning.verdict.reasons, unit)))
    if full or any(night.chance >= _LIKELY for night in nights):  # else the reasons tell of the coldest
        yield from section("The nights ahead, in the garden", nights_ahead(morning, unit))
    yield from section("To mind", bullets(shown.notes))
    if full:
        yield from section("The plan", bullets(shown.plan_notes))
        yield from section("What this rests on", bullets(sources(morning, unit)))
    yield from section("Take care", bullets(_cautions(shown, full=full)))


def mix_in_words(mix: Mix, units: Units) -> str:
    """Write a mix in one line: how many buckets, for how many pots, and what goes in."""
    if not mix.buckets:
        return f"{_doses(mix.per_pot, units)} each"
    said = []
    for bucket, alike in itertools.groupby(mix.buckets):
        count = len(list(alike))
        times, each = (f"{count} x ", " each") if count > 1 else ("", "")
        pots = f"{bucket.pots} pot{'s' if bucket.pots != 1 else ''}{each}"
        said.append(f"{times}{say_volume(bucket.volume_l, units)} for {pots}: {_doses(bucket.doses, units)}")
    return "; ".join(said)


def _doses(doses: Iterable[Dose], units: Units) -> str:
    """Write doses in spoons, or by weight where nobody would count them."""
    return " + ".join(
        f"{dose.spoons if dose.millilitres <= _MOST_SPOONED_ML else say_mass(dose.grams, units)} "
        f"{dose.product.name}"
        for dose in doses
    )


def _frost(shown: GardenMorning) -> Iterator[str]:
    """Tell of each night once, below it what it hurts, and in which groups."""
    damage = say_temperature(shown.morning.policy.damage_temp_c, shown.unit)
    for night in sorted({warning.morning for warning in shown.warnings}):
        those = [warning for warning in shown.warnings if warning.morning == night]
        worst = those[0]
        word = "WATCH" if worst.level == "watch" else "FROST"
        low, chance = _low(worst.garden_c, shown.unit), say_share(worst.chance)
        yield f"{word}  the night to {say_day(night)}: {low} in the garden, {damage} or less {chance}"
        alike: dict[str, list[str]] = {}
        for one in those:
            fate = _FATES[LEVELS.index(one.level) - (one.part == "wood")]
            alike.setdefault(f"{_PARTS[one.part]} {fate}; {'; '.join(one.measures)}.", []).append(one.group)
        for said, groups in alike.items():
            yield from wrapped(f"{', '.join(groups)}: {said}", "  - ", "    ")
    if shown.warnings:
        yield ""


def _due(shown: GardenMorning) -> Iterator[str]:
    for due in shown.due:
        what = f"{due.feeding.group}, {due.feeding.phase} {due.feeding.number}"
        if due.mix is None:
            said = f"{what}: not mixed. {due.refusal}"
        else:
            said = f"{what}, {due.mix.pots} trees: {mix_in_words(due.mix, shown.units)}"
        yield from wrapped(said, "  ", "      ")
    if not shown.due:
        yield "  nothing"
    if any(LOG_BUDS in due.feeding.reason for due in shown.due):
        yield "  Feed only once buds move, and log it: frostgate log bud-break --group NAME"


def _next(coming: Iterable[Feeding]) -> Iterator[str]:
    days: dict[tuple[Any, str, str], list[str]] = {}
    for feeding in coming:
        days.setdefault((feeding.date, feeding.phase, feeding.status), []).append(feeding.group)
    for (date, phase, status), groups in list(days.items())[:_NEXT]:
        when = say_day(date) if date else "undated"
        held = f" ({status})" if status in {"waiting", "held"} else ""
        yield from wrapped(f"{when:<11} {phase}{held}: {', '.join(dict.fromkeys(groups))}", "  ", "      ")


def _cautions(shown: GardenMorning, *, full: bool) -> Iterator[str]:
    if shown.warnings:
        yield from CAUTIONS
    mixed = [due.mix for due in shown.due if due.mix is not None]
    warnings = list(dict.fromkeys(warning for mix in mixed for warning in mix.warnings))
    cautions = list(dict.fromkeys(caution for mix in mixed for caution in mix.cautions))
    if full:
        yield from (*warnings, *cautions)
    elif mixed:
        yield from cautions[:_FIRST_CAUTIONS]
        yield "More on each mix: frostgate mix, or today --full."
    yield from say_reasons(shown.morning.cautions, shown.unit)
