"""The morning of a garden as one screen: what is at risk, what is due, and the gate's answer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from frostgate.feeding.protection import CAUTIONS, LEVELS, FrostWarning, Part
from frostgate.feeding.succession import LOG_BUDS
from frostgate.gate.verdict import Morning
from frostgate.model.feedings import Dose, Feeding, Mix
from frostgate.model.gate import State
from frostgate.seasons import say_day
from frostgate.show.morning import COUNSEL, headline, nights_ahead, say_low, sources
from frostgate.show.reasons import say_reasons
from frostgate.show.say import bullets, counted, once, section, wrapped
from frostgate.units import TemperatureUnit, Units, say_mass, say_share, say_temperature

if TYPE_CHECKING:
    from frostgate.feeding.shopping import MixedFeeding

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
    from frostgate.show.mixes import say_buckets  # not loaded where nothing is due

    return say_buckets(mix, "pot", units, _doses) if mix.buckets else f"{_doses(mix.per_pot, units)} each"


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
        low, chance = say_low(worst.garden_c, shown.unit), say_share(worst.chance)
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
            said = f"{what}, {counted(due.mix.pots, 'tree')}: {mix_in_words(due.mix, shown.units)}"
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
    mixes = [due.mix for due in shown.due if due.mix is not None]
    cautions = once(mix.cautions for mix in mixes)
    if full:
        yield from (*once(mix.warnings for mix in mixes), *cautions)
    elif mixes:
        yield from cautions[:_FIRST_CAUTIONS]
        yield "More on each mix: frostgate mix, or today --full."
    yield from say_reasons(shown.morning.cautions, shown.unit)
