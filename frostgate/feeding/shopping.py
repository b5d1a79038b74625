"""What the rest of the season takes of each product: grams, whole packages, costs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from frostgate.feeding.mix import MixedFeeding
from frostgate.model.feedings import Mix, Product
from frostgate.model.garden import Garden

MARGIN = 0.1  # for spilling and for scoops heaped too high: common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """How much of one product the rest of the season takes."""

    product: Product
    feedings: int  # that take some of it
    planned_g: float  # what they take [g]
    grams: float  # the same with the margin [g]
    packages: int | None  # whole ones that hold so much; None where the package's size is not stated
    cost: float | None  # of those, in the garden's currency; None where size or price is not stated

    @property
    def lacks(self) -> tuple[str, ...]:
        """What the garden does not state of this product."""
        stated = {"pack": self.product.pack_g, "price": self.product.price}
        return tuple(name for name, value in stated.items() if value is None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shopping:
    """What the rest of the season takes of all products."""

    needs: tuple[Need, ...]  # in the garden's order of products
    unmixed: int = 0  # feedings still to come whose mix must not be made: what they take is not in it

    @property
    def cost(self) -> float | None:
        """What all packages cost whose cost is known, in the garden's currency; None where no cost is."""
        known = [need.cost for need in self.needs if need.cost is not None]
        return math.fsum(known) if known else None

    @property
    def is_complete(self) -> bool:
        """Whether every cost is known; if not, the sum is at least so much."""
        return all(need.cost is not None for need in self.needs)


def season_shopping(garden: Garden, mixed: Sequence[MixedFeeding]) -> Shopping:
    """Add up what the feedings still to come take of each product, those that wait without a date too."""
    by_name: dict[str, list[float]] = {}
    for one in mixed:
        for name, grams in taken_g(one.mix).items() if one.mix else ():
            by_name.setdefault(name, []).append(grams)
    needs = (_need(one, by_name[one.name]) for one in garden.products if one.name in by_name)
    return Shopping(needs=tuple(needs), unmixed=sum(one.refusal is not None for one in mixed))


def taken_g(mix: Mix) -> dict[str, float]:
    """Return the grams of each product that all buckets and all pots of a mix take."""
    grams: dict[str, float] = {}
    poured = [(dose, 1) for bucket in mix.buckets for dose in bucket.doses]
    for dose, times in (*poured, *((dose, mix.pots) for dose in mix.per_pot)):
        grams[dose.product.name] = grams.get(dose.product.name, 0.0) + dose.grams * times
    return grams


def _need(product: Product, by_feeding_g: Sequence[float]) -> Need:
    planned_g = math.fsum(by_feeding_g)
    grams = planned_g * (1.0 + MARGIN)
    packages = None if product.pack_g is None else math.ceil(grams / product.pack_g - 1e-9)
    return Need(
        product=product,
        feedings=len(by_feeding_g),
        planned_g=planned_g,
        grams=grams,
        packages=packages,
        cost=None if packages is None or product.price is None else packages * product.price,
    )
