"""The morning's answer as one screen of text, readable at six in the morning."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from frostgate.feeding.protection import CAUTIONS, FrostWarning, Level, Part
from frostgate.feeding.shopping import MixedFeeding
from frostgate.feeding.succession import LOG_BUDS
from frostgate.gate.outlook import age_hours
from frostgate.gate.verdict import Morning
from frostgate.model.feedings import Bucket, Dose, Feeding, Mix
from frostgate.model.gate import Forecast, Policy, State, Verdict
from frostgate.model.records import SiteClimate
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
    yield from section(_risk_title(verdict), _by_risk(verdict))
    yield from section("The nights ahead, in the garden", nights_ahead(morning, unit))
    yield from section("What this rests on", bullets(sources(morning, unit)))
    yield from section("Take care", bullets(say_reasons(morning.cautions, unit)))


def headline(verdict: Verdict, counsel: dict[State, str] = COUNSEL) -> Iterator[str]:
    """Write the verdict in a line, and the earliest date below it."""
    yield f"{verdict.state.upper()}  {say_date(verdict.on)}: {counsel[verdict.state]}"
    yield from _dates(verdict)


def _dates(verdict: Verdict) -> Iterator[str]:
    if verdict.state != "shut" or verdict.risk_today is None:  # past the season's stop no date is asked for
        return
    if verdict.earliest_date is None:
        yield "         no date this season is within your limit"
        return
    likely = ""
    if verdict.likely_from and verdict.likely_to:
        basis = "by the curve's bounds" if verdict.climate_only else "as forecasts come in"
        likely = f" (likely {say_day(verdict.likely_from)} to {say_day(verdict.likely_to)} {basis})"
    year = "" if verdict.earliest_date.year == verdict.on.year else f" {verdict.earliest_date.year}"
    yield f"      earliest {say_day(verdict.earliest_date)}{year}{likely}"


def _risk_title(verdict: Verdict) -> str:
    basis = "by the curve alone" if verdict.climate_only or verdict.state == "unknown" else "as things stand"
    return f"First date by the risk you accept, {basis}"


def _by_risk(verdict: Verdict) -> Iterator[str]:
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
        low = f"{fahrenheit(night.garden_c):z.0f} °F" if unit == "F" else f"{night.garden_c:z.1f} °C"
        bar = "#" * round(night.chance * _BAR)
        yield f"  {say_day(night.morning):<11} {low:>8}    {say_share(night.chance):>9}  {bar}".rstrip()


def sources(morning: Morning, unit: TemperatureUnit) -> Iterator[str]:
    """Tell what the answer rests on, a sentence each."""
    if morning.forecast is not None:
        yield _forecast_sentence(morning.forecast, morning)
    if morning.site is not None:
        yield _record_sentence(morning.site)
        yield _curve_sentence(morning.site)
        yield from _years_sentence(morning.site)
        yield from _spring_sentence(morning)
    yield _garden_sentence(morning.policy, unit)
    yield from morning.notes


def _forecast_sentence(forecast: Forecast, morning: Morning) -> str:
    made = f"{say_day(forecast.issued_at.date())} {forecast.issued_at:%H:%M}"
    age = f"{age_hours(forecast, morning.now):.0f} hours old"
    told = "made" if forecast.issued_stated else "taken to be made"
    weighed = 0 if morning.outlook is None else len(morning.outlook.nights)
    nights = f"{forecast.dates.size} nights through {say_day(forecast.through)}"
    if weighed < forecast.dates.size:
        nights += f", {weighed} of them weighed"
    return f"Forecast: {nights}; {told} {made}, {age}."


def _record_sentence(site: SiteClimate) -> str:
    name = f"{site.station.name} ({site.station.id})" if site.station.name else site.station.id
    curve = site.curve
    suspects = f"{site.suspects} suspect " + ("kept as you asked" if site.suspects_kept else "left out")
    last = "its last " if site.years is not None and site.years.basis == "recent" else ""
    return (
        f"Station: {name}, {last}{curve.seasons_used} known springs {curve.first_year}-{curve.last_year}, "
        f"{curve.seasons_unknown} unknown; of its minima {site.flagged} flagged dropped, {suspects}."
    )


def _curve_sentence(site: SiteClimate) -> str:
    curve = site.curve
    median = curve.date_at(0.5)
    half = "fewer than half of all springs have one"
    if median is not None:
        half = f"the median last frost is {say_month_day(median)}"
    kind = "three fits, pooled" if curve.kind == "pooled" else curve.kind
    return f"Curve: {kind}; {say_share(curve.frost_share)} of springs had such a frost, {half}."


def _years_sentence(site: SiteClimate) -> Iterator[str]:
    if site.years is not None and site.years.basis != "all":
        yield f"Years: {site.years.reason}"


def _spring_sentence(morning: Morning) -> Iterator[str]:
    """Tell where the record ends too early to know how this spring has run."""
    outlook, site = morning.outlook, morning.site
    if outlook is None or site is None or not outlook.nights or outlook.seen is None:
        return
    if outlook.seen.frost is not None and outlook.seen.recent is None:
        yield (
            f"How this spring has run so far is not known: the record ends on {say_date(site.last_day)}"
            f". With a fresher one a mild or a cold spring would count."
        )


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


UNDER_WAY: dict[State, str] = {
    "open": "feeding may go on",
    "shut": "do not feed today",
    "unknown": COUNSEL["unknown"],
}
_NEXT = 4
_LIKELY = 0.01
_FIRST_CAUTIONS = 2  # the label, gloves and eyes
_MOST_SPOONED_ML = 250.0
_HURT = {
    ("tender growth", "watch"): "tender growth may be hurt",
    ("tender growth", "protect"): "tender growth would be hurt",
    ("tender growth", "severe"): "tender growth would be killed",
    ("buds", "watch"): "swelling buds may be hurt",
    ("buds", "protect"): "swelling buds would be hurt",
    ("buds", "severe"): "swelling buds would be killed",
    ("wood", "protect"): "dormant wood may be hurt",
    ("wood", "severe"): "dormant wood would be hurt",
    ("roots", "watch"): "roots in the pots may be hurt",
    ("roots", "protect"): "roots in the pots would be hurt",
    ("roots", "severe"): "roots in the pots would be killed",
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GardenMorning:
    """All that a garden's morning shows.

    Parameters
    ----------
    morning
        The gate's answer.
    warnings
        What the coming nights can hurt.
    due
        What is to be fed today.
    coming
        Later feedings of the programme, in order.
    to_log
        Commands that write down what is done and seen.
    notes
        What is not known.
    plan_notes
        What shaped the plan.
    unit
        Of temperatures.
    units
        Of volumes.
    fed
        Whether the season's first feeding is done.
    """

    morning: Morning
    warnings: tuple[FrostWarning, ...]
    due: tuple[MixedFeeding, ...]
    coming: tuple[Feeding, ...]
    to_log: tuple[str, ...]
    notes: tuple[str, ...]
    plan_notes: tuple[str, ...]
    unit: TemperatureUnit
    units: Units
    fed: bool = False


def garden_lines(shown: GardenMorning, *, full: bool = False) -> Iterator[str]:
    """Write the screen; the headline with the verdict's word is the first line that is not indented."""
    morning = shown.morning
    yield from _frost(shown)
    yield from headline(morning.verdict, UNDER_WAY if shown.fed else COUNSEL)
    yield from section("Due today", _due(shown))
    yield from section("Next", _next(shown.coming))
    yield from section("To log", (f"  {command}" for command in shown.to_log))
    yield from section("Why", bullets(say_reasons(morning.verdict.reasons, shown.unit)))
    yield from section("The nights ahead, in the garden", _nights(shown, full=full))
    yield from section("To mind", bullets(shown.notes))
    if full:
        yield from section("The plan", bullets(shown.plan_notes))
        yield from section("What this rests on", bullets(sources(morning, shown.unit)))
    yield from section("Take care", bullets(_cautions(shown, full=full)))


def mix_in_words(mix: Mix, units: Units) -> str:
    """Write a mix in one line: how many buckets, for how many pots, and what goes in."""
    if not mix.buckets:
        return f"{_doses(mix.per_pot, units)} each"
    alike: dict[Bucket, int] = {}
    for bucket in mix.buckets:
        alike[bucket] = alike.get(bucket, 0) + 1
    return "; ".join(_bucket(bucket, count, units) for bucket, count in alike.items())


def garden_answer(shown: GardenMorning) -> dict[str, Any]:
    """Return what is due, at risk and to log as plain values, beside the morning's own answer."""
    return {
        "frost_warnings": [
            {
                "morning": warning.morning.isoformat(),
                "garden_c": round(warning.garden_c, 2),
                "chance": round(warning.chance, 4),
                "group": warning.group,
                "part": warning.part,
                "level": warning.level,
                "measures": list(warning.measures),
            }
            for warning in shown.warnings
        ],
        "due": [
            {
                "group": due.feeding.group,
                "phase": due.feeding.phase,
                "number": due.feeding.number,
                "kind": due.feeding.kind,
                "mix": None if due.mix is None else mix_in_words(due.mix, shown.units),
                "refusal": due.refusal,
            }
            for due in shown.due
        ],
        "next": [
            {
                "date": feeding.date.isoformat() if feeding.date else None,
                "group": feeding.group,
                "phase": feeding.phase,
                "status": feeding.status,
            }
            for feeding in shown.coming
        ],
        "to_log": list(shown.to_log),
        "notes": [*shown.notes, *shown.plan_notes],
    }


def _frost(shown: GardenMorning) -> Iterator[str]:
    """Tell of each night once, below it what it hurts, and in which groups."""
    warnings = shown.warnings
    for night in sorted({warning.morning for warning in warnings}):
        those = [warning for warning in warnings if warning.morning == night]
        yield _night(those[0], shown.morning.policy.damage_temp_c, shown.unit)
        alike: dict[tuple[Part, Level, tuple[str, ...]], list[str]] = {}
        for warning in those:
            alike.setdefault((warning.part, warning.level, warning.measures), []).append(warning.group)
        for (part, level, measures), groups in alike.items():
            said = f"{', '.join(groups)}: {_HURT[part, level]}; {'; '.join(measures)}."
            yield from wrapped(said, "  - ", "    ")
    if warnings:
        yield ""


def _night(warning: FrostWarning, damage_temp_c: float, unit: TemperatureUnit) -> str:
    low = _low(warning.garden_c, unit)
    damage = say_temperature(damage_temp_c, unit)
    chance = say_share(warning.chance)
    word = "FROST" if any((warning.level == "protect", warning.level == "severe")) else "WATCH"
    return f"{word}  the night to {say_day(warning.morning)}: {low} in the garden, {damage} or less {chance}"


def _low(garden_c: float, unit: TemperatureUnit) -> str:
    return f"{fahrenheit(garden_c):z.0f} °F" if unit == "F" else f"{garden_c:z.1f} °C"


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


def _nights(shown: GardenMorning, *, full: bool) -> Iterator[str]:
    """Write the nights where one may bring frost; else the reasons tell of the coldest."""
    outlook = shown.morning.outlook
    nights = outlook.nights if outlook else ()
    if full or any(night.chance >= _LIKELY for night in nights):
        yield from nights_ahead(shown.morning, shown.unit)


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


def _bucket(bucket: Bucket, count: int, units: Units) -> str:
    times = f"{count} x " if count > 1 else ""
    pots = f"{bucket.pots} pot{'s' if bucket.pots != 1 else ''}{' each' if count > 1 else ''}"
    return f"{times}{say_volume(bucket.volume_l, units)} for {pots}: {_doses(bucket.doses, units)}"


def _doses(doses: Iterable[Dose], units: Units) -> str:
    return " + ".join(f"{_measured(dose, units)} {dose.product.name}" for dose in doses)


def _measured(dose: Dose, units: Units) -> str:
    """Write a dose in spoons, or by weight where nobody would count them."""
    return dose.spoons if dose.millilitres <= _MOST_SPOONED_ML else say_mass(dose.grams, units)
