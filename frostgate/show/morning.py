"""The morning as one screen, readable at six: the gate's answer, and in a garden what is due and at risk."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from frostgate.gate.outlook import age_hours
from frostgate.gate.verdict import Morning
from frostgate.model.curves import SiteClimate
from frostgate.model.gate import Forecast, State, Verdict
from frostgate.seasons import say_date, say_day
from frostgate.show.reasons import say_reasons
from frostgate.show.say import bullets, counted, once, say_month_day, say_side, section, wrapped
from frostgate.units import TemperatureUnit, Units, fahrenheit, say_share, say_temperature

if TYPE_CHECKING:  # the feeding room is loaded by a garden's morning alone
    from frostgate.feeding.mix import MixedFeeding
    from frostgate.feeding.protection import FrostWarning
    from frostgate.model.feedings import Feeding

COUNSEL: dict[State, str] = {
    "open": "the first feeding may begin",
    "shut": "do not feed yet",
    "unknown": "cannot be known this morning; do not feed on this",
}
_BAR = 20
UNDER_WAY: dict[State, str] = COUNSEL | {"open": "feeding may go on", "shut": "do not feed today"}
_NEXT = 4  # days of feeding shown
_LIKELY = 0.01  # from this chance of frost on the nights ahead are shown each morning
_FIRST_CAUTIONS = 2  # the label, gloves and eyes
_PARTS = {"buds": "swelling buds", "wood": "dormant wood", "roots": "roots in the pots"}
_FATES = ("may be hurt", "would be hurt", "would be killed")


def morning_lines(morning: Morning, unit: TemperatureUnit) -> Iterator[str]:
    """Write the answer, its reasons, the dates by risk, the nights ahead, what was read, and the cautions."""
    verdict = morning.verdict
    yield from _headline(verdict)
    yield from section("Why", bullets(say_reasons(verdict.reasons, unit)))
    alone = verdict.climate_only or verdict.state == "unknown"
    basis = "by the curve alone" if alone else "as things stand"
    yield from section(f"First date by the risk you accept, {basis}", _by_risk(verdict))
    yield from section("The nights ahead, in the garden", _nights_ahead(morning, unit))
    yield from section("What this rests on", bullets(_sources(morning, unit)))
    yield from section("Take care", bullets(say_reasons(morning.cautions, unit)))


def _headline(verdict: Verdict, counsel: dict[State, str] = COUNSEL) -> Iterator[str]:
    """Write the verdict in a line, and the earliest date below it."""
    yield f"{verdict.state.upper()}  {say_date(verdict.on)}: {counsel[verdict.state]}"
    earliest, likely = verdict.earliest_date, ""
    if verdict.state != "shut" or verdict.risk_today is None:  # past the season's stop no date counts
        return
    if earliest is None:
        yield "         no date this season is within your limit"
        return
    if verdict.likely_from and verdict.likely_to:
        basis = "by the curve's bounds" if verdict.climate_only else "as forecasts come in"
        likely = f" (likely {say_day(verdict.likely_from)} to {say_day(verdict.likely_to)} {basis})"
    say = say_day if earliest.year == verdict.on.year else say_date
    yield f"      earliest {say(earliest)}{likely}"


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


def _nights_ahead(morning: Morning, unit: TemperatureUnit) -> Iterator[str]:
    """Write the forecast nights as the gate weighs them, a line each; nothing without a forecast."""
    if morning.outlook is None or not morning.outlook.nights:
        return
    yield f"  to morning of   low    chance of {say_temperature(morning.policy.damage_temp_c, unit)} or less"
    for night in morning.outlook.nights:
        low, bar = _say_low(night.garden_c, unit), "#" * round(night.chance * _BAR)
        yield f"  {say_day(night.morning):<11} {low:>8}    {say_share(night.chance):>9}  {bar}".rstrip()


def _say_low(garden_c: float, unit: TemperatureUnit) -> str:
    """Write a night's minimum in a column: whole °F, tenths of °C."""
    return f"{fahrenheit(garden_c):z.0f} °F" if unit == "F" else f"{garden_c:z.1f} °C"


def _sources(morning: Morning, unit: TemperatureUnit) -> Iterator[str]:
    """Tell what the answer rests on, a sentence each."""
    site, seen, policy = morning.site, morning.outlook.seen if morning.outlook else None, morning.policy
    weighed = len(morning.outlook.nights) if morning.outlook else 0
    if morning.forecast is not None:
        yield _forecast_sentence(morning.forecast, morning.now, weighed)
    if site is not None:
        yield from _climate_sentences(site)
        if weighed and seen is not None and seen.frost is not None and seen.recent is None:
            yield (
                "It is not known how this spring has run so far: the record ends on "
                f"{say_date(site.last_day)}. With a fresher record a mild or a cold spring would count."
            )
    sides = f"{'' if policy.offset_c else 'taken to be '}{say_side(policy.offset_c, 'the station', unit)}"
    if policy.garden_less_forecast_c != policy.offset_c:
        sides += f", {say_side(policy.garden_less_forecast_c, 'the forecast', unit)}"
    yield f"Garden: damage at {say_temperature(policy.damage_temp_c, unit)} or less; {sides}."
    yield from morning.notes


def _forecast_sentence(forecast: Forecast, now: dt.datetime, weighed: int) -> str:
    made = "made" if forecast.issued_stated else "taken to be made"
    some = f", {weighed} of them weighed" if weighed < forecast.dates.size else ""
    return (
        f"Forecast: {forecast.dates.size} nights through {say_day(forecast.through)}{some}; {made} "
        f"{say_day(forecast.issued_at.date())} {forecast.issued_at:%H:%M}, {age_hours(forecast, now):.0f} "
        "hours old."
    )


def _climate_sentences(site: SiteClimate) -> Iterator[str]:
    """Tell of the station's record, its curve, and which years that rests on."""
    curve, years = site.curve, site.years
    last = "its last " if years is not None and years.basis == "recent" else ""
    minima = "minimum" if site.flagged == 1 else "minima"
    yield (
        f"Station: {site.station}, {last}{curve.seasons_used} known springs {curve.first_year}-"
        f"{curve.last_year}, {curve.seasons_unknown} unknown; {site.flagged} flagged {minima} dropped, "
        f"{site.suspects} suspect {'kept as you asked' if site.suspects_kept else 'left out'}."
    )
    kind, median = "three fits, pooled" if curve.kind == "pooled" else curve.kind, curve.date_at(0.5)
    half = f"the median last frost is {say_month_day(median)}"
    half = half if median else "fewer than half of all springs have one"
    yield f"Curve: {kind}; {say_share(curve.frost_share)} of springs had such a frost, {half}."
    if years is not None and years.basis != "all":
        yield f"Years: {years.reason}"


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
    kept: bool = False  # whether the forecast and the verdict are in the journal


def garden_lines(shown: GardenMorning, *, full: bool = False) -> Iterator[str]:
    """Write the screen; the headline with the verdict's word is the first line that is not indented."""
    morning, unit = shown.morning, shown.unit
    nights = morning.outlook.nights if morning.outlook else ()
    yield from _frost(shown)
    yield from _headline(morning.verdict, UNDER_WAY if shown.fed else COUNSEL)
    yield from section("Due today", _due(shown))
    yield from section("Next", _next(shown.coming))
    yield from section("To log", (f"  {command}" for command in shown.to_log))
    yield from section("Why", bullets(say_reasons(morning.verdict.reasons, unit)))
    if full or any(night.chance >= _LIKELY for night in nights):  # else the reasons tell of the coldest
        yield from section("The nights ahead, in the garden", _nights_ahead(morning, unit))
    yield from section("To mind", bullets(shown.notes))
    if full:
        yield from section("The plan", bullets(shown.plan_notes))
        yield from section("What this rests on", bullets(_sources(morning, unit)))
    yield from section("Take care", bullets(_cautions(shown, full=full)))


def _frost(shown: GardenMorning) -> Iterator[str]:
    """Tell of each night once, below it what it hurts, and in which groups."""
    from frostgate.feeding.protection import LEVELS

    damage = say_temperature(shown.morning.policy.damage_temp_c, shown.unit)
    for night in sorted({warning.morning for warning in shown.warnings}):
        those = [warning for warning in shown.warnings if warning.morning == night]
        worst = those[0]
        word = "WATCH" if worst.level == "watch" else "FROST"
        low, chance = _say_low(worst.garden_c, shown.unit), say_share(worst.chance)
        yield f"{word}  the night to {say_day(night)}: {low} in the garden, {damage} or less {chance}"
        alike: dict[str, list[str]] = {}
        for one in those:
            fate = _FATES[LEVELS.index(one.level) - (one.part == "wood")]
            alike.setdefault(
                f"{_PARTS.get(one.part, one.part)} {fate}; {'; '.join(one.measures)}.", []
            ).append(one.group)
        for said, groups in alike.items():
            yield from wrapped(f"{', '.join(groups)}: {said}", "  - ", "    ")
    if shown.warnings:
        yield ""


def _due(shown: GardenMorning) -> Iterator[str]:
    if not shown.due:
        yield "  nothing"
        return
    from frostgate.feeding.season import LOG_BUDS  # not loaded where nothing is due
    from frostgate.show.mixes import say_mix

    for due in shown.due:
        said = f"{due.feeding.group}, {due.feeding.phase} {due.feeding.number}"
        if due.mix is None:
            said += f": not mixed. {due.refusal}"
        else:
            said += f", {counted(due.mix.pots, 'tree')}: {say_mix(due.mix, None, shown.units, short=True)}"
        yield from wrapped(said, "  ", "      ")
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
        from frostgate.feeding.protection import CAUTIONS

        yield from CAUTIONS
    mixes = [due.mix for due in shown.due if due.mix is not None]
    cautions = once(mix.cautions for mix in mixes)
    if full:
        yield from (*once(mix.warnings for mix in mixes), *cautions)
    elif mixes:
        yield from cautions[:_FIRST_CAUTIONS]
        yield "More on each mix: frostgate mix, or today --full."
    yield from say_reasons(shown.morning.cautions, shown.unit)


def garden_answer(shown: GardenMorning) -> dict[str, Any]:
    """Return what is due, at risk and to log, beside the morning's own answer in `answers`."""
    from frostgate.show.answers import NIGHTS, named, plain  # text needs none of it

    answer = {
        "frost_warnings": shown.warnings,
        "due": [_due_answer(due, shown.units) for due in shown.due],
        "next": [named(feeding, "date", "group", "phase", "status") for feeding in shown.coming],
        "to_log": shown.to_log,
        "notes": (*shown.notes, *shown.plan_notes),
    }
    return dict(plain(answer, NIGHTS))


def _due_answer(due: MixedFeeding, units: Units) -> dict[str, Any]:
    from frostgate.show.answers import named
    from frostgate.show.mixes import say_mix  # not loaded where nothing is due

    mix = due.mix and say_mix(due.mix, None, units, short=True)
    return {**named(due.feeding, "group", "phase", "number", "kind"), "mix": mix, "refusal": due.refusal}
