"""A garden's morning on one screen: what a frost can hurt, the verdict, what is due, what to log.

Plain strings and no library, as in `show.morning`.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from frostgate.feeding.mixed import MixedFeeding
from frostgate.feeding.protection import CAUTIONS, FrostWarning, Level, Part
from frostgate.feeding.reasons import LOG_BUDS
from frostgate.gate.morning import Morning
from frostgate.gate.reasons import say_day
from frostgate.quantities import Units, say_mass, say_volume
from frostgate.show.morning import COUNSEL, WIDTH, bullets, headline, nights_ahead, section, sources
from frostgate.terms.feedings import Bucket, Dose, Feeding, Mix
from frostgate.terms.verdict import State
from frostgate.units import TemperatureUnit, fahrenheit, say_share, say_temperature
from frostgate.values import dataclass

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
    units: Units
    fed: bool = False


def garden_lines(shown: GardenMorning, *, full: bool = False) -> Iterator[str]:
    """Write the screen; the headline with the verdict's word is the first line that is not indented.

    Parameters
    ----------
    shown
        What to show.
    full
        Also what the answer rests on.
    """
    morning = shown.morning
    yield from _frost(shown.warnings, morning)
    yield from headline(morning.verdict, UNDER_WAY if shown.fed else COUNSEL)
    yield from section("Due today", _due(shown))
    yield from section("Next", _next(shown.coming))
    yield from section("To log", (f"  {command}" for command in shown.to_log))
    yield from section("Why", bullets(morning.verdict.reasons))
    yield from section("The nights ahead, in the garden", _nights(morning, full=full))
    yield from section("To mind", bullets(shown.notes))
    if full:
        yield from section("The plan", bullets(shown.plan_notes))
        yield from section("What this rests on", bullets(sources(morning)))
    yield from section("Take care", bullets(_cautions(shown, full=full)))


def mix_in_words(mix: Mix, units: Units) -> str:
    """Write a mix in one line: how many buckets, for how many pots, and what goes in.

    Parameters
    ----------
    mix
        Of buckets, or of a top-dressing.
    units
        Of volumes.

    Examples
    --------
    >>> from frostgate.terms.products import Analysis, Product
    >>> feed = Product(name="Spring feed", analysis=Analysis(n=24), form="soluble", density_g_ml=1.2,
    ...                density_from="default", rate=None)
    >>> dose = Dose(product=feed, grams=90.0, millilitres=74.0, wanted_g=90.0, spoons="5 tbsp")
    >>> bucket = Bucket(volume_l=18.927, pots=5, doses=(dose,))
    >>> mix_in_words(Mix(buckets=(bucket, bucket), ppm={}, per_pot_mg={}, pots=10), "us")
    '2 x 5 gal for 5 pots each: 5 tbsp Spring feed'
    """
    if not mix.buckets:
        return f"{_doses(mix.per_pot, units)} each"
    alike: dict[Bucket, int] = {}
    for bucket in mix.buckets:
        alike[bucket] = alike.get(bucket, 0) + 1
    return "; ".join(_bucket(bucket, count, units) for bucket, count in alike.items())


def garden_answer(shown: GardenMorning) -> dict[str, Any]:
    """Give what is due, at risk and to log as plain values, beside the morning's own answer."""
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


def _frost(warnings: Sequence[FrostWarning], morning: Morning) -> Iterator[str]:
    """Tell of each night once, below it what it hurts, and in which groups."""
    for night in sorted({warning.morning for warning in warnings}):
        those = [warning for warning in warnings if warning.morning == night]
        yield _night(those[0], morning)
        alike: dict[tuple[Part, Level, tuple[str, ...]], list[str]] = {}
        for warning in those:
            alike.setdefault((warning.part, warning.level, warning.measures), []).append(warning.group)
        for (part, level, measures), groups in alike.items():
            said = f"{', '.join(groups)}: {_HURT[part, level]}; {'; '.join(measures)}."
            yield from textwrap.wrap(said, WIDTH, initial_indent="  - ", subsequent_indent="    ")
    if warnings:
        yield ""


def _night(warning: FrostWarning, morning: Morning) -> str:
    unit: TemperatureUnit = morning.unit
    low = _low(warning.garden_c, unit)
    damage = say_temperature(morning.policy.damage_temp_c, unit)
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
        yield from textwrap.wrap(said, WIDTH, initial_indent="  ", subsequent_indent="      ")
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
        yield from textwrap.wrap(
            f"{when:<11} {phase}{held}: {', '.join(dict.fromkeys(groups))}",
            WIDTH,
            initial_indent="  ",
            subsequent_indent="      ",
        )


def _nights(morning: Morning, *, full: bool) -> Iterator[str]:
    """Write the nights where one may bring frost; else the reasons tell of the coldest."""
    nights = morning.outlook.nights if morning.outlook else ()
    if full or any(night.chance >= _LIKELY for night in nights):
        yield from nights_ahead(morning)


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
    yield from shown.morning.cautions


def _bucket(bucket: Bucket, count: int, units: Units) -> str:
    times = f"{count} x " if count > 1 else ""
    pots = f"{bucket.pots} pot{'s' if bucket.pots != 1 else ''}{' each' if count > 1 else ''}"
    return f"{times}{say_volume(bucket.volume_l, units)} for {pots}: {_doses(bucket.doses, units)}"


def _doses(doses: Iterable[Dose], units: Units) -> str:
    return " + ".join(f"{_measured(dose, units)} {dose.product.name}" for dose in doses)


def _measured(dose: Dose, units: Units) -> str:
    """Write a dose in spoons, or by weight where nobody would count them."""
    return dose.spoons if dose.millilitres <= _MOST_SPOONED_ML else say_mass(dose.grams, units)
