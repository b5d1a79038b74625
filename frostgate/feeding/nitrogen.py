"""Nitrogen: how much a feeding gives a pot, and what is left out for having too much of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

from frostgate.errors import InputError
from frostgate.feeding.phases import is_led_by_nitrogen
from frostgate.feeding.stop import PRACTICE, TAPER_DAYS
from frostgate.feeding.strength import laid_of, part_of
from frostgate.model.feedings import Done, Feeding
from frostgate.model.garden import Garden, PotGroup

_ROUNDING_G = 1e-9
TAPER_REASON = f"nothing led by nitrogen in the last {TAPER_DAYS // 7} weeks before the stop ({PRACTICE})"


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """A group's feedings within its nitrogen."""

    feedings: tuple[Feeding, ...]  # in order of date, those beyond a limit marked ``left out``
    total_g: float  # for one pot, done and to come [g]
    unknown: int  # feedings whose nitrogen is not known, and so not in the total


def nitrogen_g(garden: Garden, group: PotGroup, feeding: Feeding) -> float | None:
    """Work out the nitrogen that a feeding gives one pot [g], before spoons are rounded; None if unknown."""
    litres = group.per_pot_l if feeding.kind == "liquid" else 1.0
    total_g = 0.0
    for name in dict.fromkeys(portion.product for portion in feeding.portions):
        product = garden.product(name)
        if product.analysis.n == 0.0:
            continue
        portions = [portion for portion in feeding.portions if portion.product == name]
        try:
            part = (
                part_of(product, portions, group)
                if feeding.kind == "liquid"
                else laid_of(product, portions, group)
            )
        except InputError:  # a rate or a height that is not stated: the mix will say so
            return None
        if litres is None:
            return None
        total_g += part.grams * litres * product.analysis.shares["N"]
    return total_g


def keep_within(
    garden: Garden,
    group: PotGroup,
    feedings: Sequence[Feeding],
    done: Sequence[Done],
    taper_from: dt.date | None,
) -> Budget:
    """Leave out what would pass the garden's ceiling, or is led by nitrogen late in the season."""
    ceiling_g = garden.rules.n_per_pot_g if group.in_pots else None
    total_g = sum(one.n_per_pot_g or 0.0 for one in done)
    unknown = sum(one.n_per_pot_g is None for one in done)
    kept = []
    for feeding in feedings:
        if feeding.date is None or feeding.status == "done":
            kept.append(feeding)
            continue
        gives_g = nitrogen_g(garden, group, feeding)
        reason = _too_late(garden, feeding, taper_from) or _too_much(total_g, gives_g, ceiling_g)
        if reason:
            kept.append(replace(feeding, status="left out", reason=reason))
            continue
        total_g += gives_g or 0.0
        unknown += gives_g is None
        kept.append(feeding)
    return Budget(feedings=tuple(kept), total_g=total_g, unknown=unknown)


def _too_late(garden: Garden, feeding: Feeding, taper_from: dt.date | None) -> str:
    if taper_from is None or feeding.date is None or feeding.date < taper_from:
        return ""
    led = any(is_led_by_nitrogen(garden.product(portion.product).analysis) for portion in feeding.portions)
    return TAPER_REASON if led else ""


def _too_much(total_g: float, gives_g: float | None, ceiling_g: float | None) -> str:
    if not gives_g or ceiling_g is None or total_g + gives_g <= ceiling_g + _ROUNDING_G:
        return ""
    return (
        f"with it a pot would have {total_g + gives_g:.1f} g of nitrogen this season, "
        f"above the ceiling of {ceiling_g:g} g"
    )
