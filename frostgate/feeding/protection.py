"""What a coming frost can hurt in each group of pots, and what to do about it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from frostgate.model.feedings import SeasonFacts
from frostgate.model.garden import PotGroup
from frostgate.model.gate import Night, Policy
from frostgate.units import celsius

Tissue = Literal["dormant", "buds", "tender growth"]
Part = Literal["tender growth", "buds", "wood", "roots"]
Level = Literal["watch", "protect", "severe"]

_Limits = tuple[float | None, float | None, float | None]  # of the levels [°C]
LEVELS: tuple[Level, ...] = ("watch", "protect", "severe")
BUDS_LAST = dt.timedelta(days=14)  # common practice, no source: two weeks after bud break leaves stand open

# Minima in the garden [°C] at which a part is to be watched, protected, and lost without protection.
# Tender growth: Frost Advisory 33-36 °F (NWS Blacksburg, 2007); damage at the grower's own temperature; at
# 28 °F a tenth of the blossoms and young fruit of apple, pear, peach and cherry dies in half an hour, at
# 25 °F nine tenths (Penn State Extension, Orchard Frost: Critical Temperatures, after WSU EB0913, EB0914,
# EB0978, EB1128); none for leaves was found. Buds of the same trees, from first swelling to green
# tip, lose a tenth at 15 to 25 °F; ours begin higher, since a warm spell takes their hardiness (Texas A&M,
# quoted by UGA Cobb Extension 2014).
_TENDER_WATCH_C, _TENDER_LOST_C = celsius(36.0), celsius(28.0)
_BUDS_C = (celsius(32.0), celsius(28.0), celsius(24.0))
# Dormant wood of established trees: of Ficus carica, little damage at 10 °F (McEachern, Texas A&M, 1996),
# grown where minima stay above 5 °F (Kamas et al., AgriLife EHT-019, 2013); hardier fruit bears more. Young
# trees: hurt or killed at -2 to -4 °C, memory.
_WOOD_C = (None, celsius(10.0), celsius(5.0))
_YOUNG_WOOD_C = (None, -2.0, -4.0)
# Roots in a pot above ground: young tips of woody ornamentals killed at 20 to 25 °F while their tops take far
# less (Dirr & Smith, Univ. of Georgia, freeze of 1983-84); 23 °F from memory.
_ROOTS_C = (celsius(25.0), celsius(23.0), celsius(20.0))

CAUTIONS = (
    "Lift heavy pots with help: a pot of wet mix weighs about a kilogram for each litre.",
    "The limits are those of a few kinds of trees; others differ, and a forecast can miss a hollow.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FrostWarning:
    """What one coming night can hurt in one group."""

    morning: dt.date  # the date the night ends on
    garden_c: float  # forecast minimum in the garden [°C]
    chance: float  # of a damaging frost that night
    group: str
    part: Part  # what is at risk; roots are those in a pot above ground
    level: Level
    measures: tuple[str, ...]  # what to do


def tissue_of(group: PotGroup, facts: SeasonFacts) -> Tissue:
    """Tell what stands on a group's wood, from what was logged this year."""
    if facts.leaves_off is not None and facts.today >= facts.leaves_off:
        return "dormant"
    fed = any(done.fed(group.name) for done in facts.done)
    if fed or facts.gate_open or group.name in dict(facts.growth):
        return "tender growth"
    buds = dict(facts.bud_break).get(group.name)
    if buds is None:
        return "dormant"
    return "buds" if facts.today - buds < BUDS_LAST else "tender growth"


def warn_of_frost(
    nights: Sequence[Night], groups: Iterable[tuple[PotGroup, Tissue]], policy: Policy
) -> tuple[FrostWarning, ...]:
    """Tell what the coming nights can hurt, for each group and part its worst night, the worst first."""
    found = []
    for group, tissue in groups:
        for part, limits_c in _parts(group, tissue, policy):
            reached = [(level, one) for one in nights if (level := _level(one, limits_c, part, policy))]
            if reached:
                level, night = max(reached, key=lambda each: (LEVELS.index(each[0]), -each[1].garden_c))
                warning = FrostWarning(
                    morning=night.morning,
                    garden_c=night.garden_c,
                    chance=night.chance,
                    group=group.name,
                    part=part,
                    level=level,
                    measures=tuple(_measures(group, part, level)),
                )
                found.append(warning)
    return tuple(sorted(found, key=lambda warning: (-LEVELS.index(warning.level), warning.morning)))


def _parts(group: PotGroup, tissue: Tissue, policy: Policy) -> Iterator[tuple[Part, _Limits]]:
    """Return the parts that stand in the open air; dormant trees that winter in a room do not."""
    if tissue == "dormant" and group.winters in {"unheated room", "heated room"}:
        return
    if tissue == "tender growth":
        damage_c = policy.damage_temp_c
        yield "tender growth", (_TENDER_WATCH_C, damage_c, min(_TENDER_LOST_C, damage_c))
    elif tissue == "buds":
        yield "buds", _BUDS_C
    else:
        yield "wood", _YOUNG_WOOD_C if group.is_young else _WOOD_C
    if group.in_pots:
        yield "roots", _ROOTS_C


def _level(night: Night, limits_c: _Limits, part: Part, policy: Policy) -> Level | None:
    for level, limit_c in zip(reversed(LEVELS), reversed(limits_c), strict=True):
        if limit_c is not None and night.garden_c <= limit_c + 1e-9:
            return level
    likely = part == "tender growth" and night.chance >= policy.risk_tolerance
    return "watch" if likely else None


def _measures(group: PotGroup, part: Part, level: Level) -> Iterator[str]:
    """Tell what to do: common practice, no source, save where one stands beside it."""
    if level == "watch":
        yield "watch the forecast and have covers at hand"
        return
    if group.in_pots and group.movable:
        yield "move them under cover before dusk"
    elif part == "roots":
        yield "set the pots together on the ground and wrap their sides"
    else:
        yield "cover them down to the ground before dusk, and uncover in the morning"
    if group.in_pots and part != "wood":
        yield "water dry root balls the day before: moist soil holds more heat"  # FAO 2005, from memory
    yield "no feeding until it has passed"
