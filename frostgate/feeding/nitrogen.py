"""Nitrogen: how much a feeding gives a pot, and what is left out for having too much of it."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from frostgate.feeding.phases import YOUNG_SHARE, is_led_by_nitrogen
from frostgate.feeding.stop import PRACTICE, TAPER_DAYS
from frostgate.model.feedings import Done, Feeding, Portion
from frostgate.model.garden import Garden, PotGroup
from frostgate.model.products import Product

_ROUNDING_G = 1e-9
TAPER_REASON = f"nothing led by nitrogen in the last {TAPER_DAYS // 7} weeks before the stop ({PRACTICE})"


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """A group's feedings within its nitrogen.

    Parameters
    ----------
    feedings
        In order of date, those beyond a limit marked ``left out``.
    total_g
        Nitrogen for one pot, done and to come [g].
    unknown
        Of how many feedings the nitrogen is not known, and so not in the total.
    """

    feedings: tuple[Feeding, ...]
    total_g: float
    unknown: int


def nitrogen_g(garden: Garden, group: PotGroup, feeding: Feeding) -> float | None:
    """Work out the nitrogen that a feeding gives one pot, before its spoons are rounded [g]."""
    parts = [
        _of_portion(garden.product(portion.product), portion, group, feeding.kind)
        for portion in feeding.portions
    ]
    known = [part for part in parts if part is not None]
    if len(known) < len(parts):
        return None
    return sum(known) * (YOUNG_SHARE if group.is_young else 1.0)


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


def _of_portion(product: Product, portion: Portion, group: PotGroup, kind: str) -> float | None:
    share = product.analysis.shares["N"]
    if kind == "liquid":
        grams_l = _n_grams_l(product, portion, share)
        return None if grams_l is None or group.per_pot_l is None else grams_l * group.per_pot_l
    rate = product.rate
    if share == 0.0:
        return 0.0
    if rate is None or portion.strength is None or rate.per == "litre":
        return None
    size = 1.0 if rate.per == "pot" else group.height_m
    if size is None:
        return None
    caps = rate.per == "metre" and product.most is not None and product.most.per == "pot"
    most_g = product.most.grams if caps and product.most is not None else math.inf
    return min(rate.grams * size * portion.strength, most_g) * share


def _n_grams_l(product: Product, portion: Portion, share: float) -> float | None:
    if portion.n_ppm is not None:
        return portion.n_ppm / 1000.0
    if share == 0.0:
        return 0.0
    if product.rate is None or product.rate.per != "litre" or portion.strength is None:
        return None
    return product.rate.grams * portion.strength * share


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
