"""What the rest of the season takes of each product."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from frostgate.errors import InputError, UnsafeMixError
from frostgate.model.feedings import Feeding, Mix, Portion
from frostgate.model.garden import Garden
from frostgate.model.products import Product

MIXED = frozenset({"due", "planned", "waiting", "held"})

_Asked = tuple[str, str, tuple[Portion, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class MixedFeeding:
    """A feeding and what is mixed for its group.

    Parameters
    ----------
    feeding
        Which; its reason also tells of a mix that must not be made.
    mix
        None where the feeding is done or left out, or its mix must not be made.
    refusal
        Why it must not be made; None where it may.
    """

    feeding: Feeding
    mix: Mix | None
    refusal: str | None = None


def mix_season(garden: Garden, feedings: Iterable[Feeding]) -> tuple[MixedFeeding, ...]:
    """Work out the mix of every feeding that is still to come."""
    known: dict[_Asked, MixedFeeding] = {}
    mixed = []
    for feeding in feedings:
        if feeding.status not in MIXED:
            mixed.append(MixedFeeding(feeding=feeding, mix=None))
            continue
        asked = (feeding.group, feeding.kind, feeding.portions)
        if asked not in known:
            known[asked] = _mix(garden, feeding)
        mixed.append(_with_refusal(replace(known[asked], feeding=feeding)))
    return tuple(mixed)


def _mix(garden: Garden, feeding: Feeding) -> MixedFeeding:
    from frostgate.feeding.mix import mix_for_group

    try:
        mix = mix_for_group(garden, garden.group(feeding.group), feeding.portions, feeding.kind)
    except (UnsafeMixError, InputError) as refusal:
        return MixedFeeding(feeding=feeding, mix=None, refusal=str(refusal))
    return MixedFeeding(feeding=feeding, mix=mix)


def _with_refusal(mixed: MixedFeeding) -> MixedFeeding:
    if mixed.refusal is None:
        return mixed
    reason = f"{mixed.feeding.reason}; not mixed: {mixed.refusal}"
    return replace(mixed, feeding=replace(mixed.feeding, reason=reason))


MARGIN = 0.1  # for spilling and for scoops heaped too high: common practice, no source
NOT_TO_COME = frozenset({"done", "left out"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """How much of one product the rest of the season takes.

    Parameters
    ----------
    product
        Which.
    feedings
        How many feedings take some of it.
    planned_g
        What they take [g].
    grams
        The same with the margin [g].
    packages
        Whole ones that hold so much; None where the package's size is not stated.
    cost
        Of those packages, in the garden's currency; None where size or price is not stated.
    """

    product: Product
    feedings: int
    planned_g: float
    grams: float
    packages: int | None
    cost: float | None

    @property
    def lacks(self) -> tuple[str, ...]:
        """What the garden does not state of this product."""
        stated = {"pack": self.product.pack_g, "price": self.product.price}
        return tuple(name for name, value in stated.items() if value is None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Total:
    """What all packages cost together.

    Parameters
    ----------
    cost
        Of those whose cost is known, in the garden's currency; None where no cost is.
    complete
        Whether every cost is known; if not, the sum is at least so much.
    """

    cost: float | None
    complete: bool


def season_needs(
    garden: Garden, feedings_with_mixes: Iterable[tuple[Feeding, Mix]], margin: float = MARGIN
) -> tuple[Need, ...]:
    """Add up what the feedings still to come take of each product, in the garden's order of products.

    Feedings that are done or left out take nothing more; one that waits without a date does.
    """
    if not 0.0 <= margin < math.inf:
        raise InputError("a margin is a share from 0 on", value=margin, remedy="Write 0.1 for a tenth more.")
    by_name: dict[str, list[float]] = {}
    for feeding, mix in feedings_with_mixes:
        if feeding.status not in NOT_TO_COME:
            for name, grams in taken_g(mix).items():
                by_name.setdefault(garden.product(name).name, []).append(grams)
    listed = [product for product in garden.products if product.name in by_name]
    return tuple(_need(product, by_name[product.name], margin) for product in listed)


def total_cost(needs: Iterable[Need]) -> Total:
    """Add up the costs that are known, and tell whether they are all."""
    costs = [need.cost for need in needs]
    known = [cost for cost in costs if cost is not None]
    return Total(cost=math.fsum(known) if known else None, complete=len(known) == len(costs))


def taken_g(mix: Mix) -> dict[str, float]:
    """Return the grams of each product that all buckets and all pots of a mix take."""
    grams: dict[str, float] = {}
    for bucket in mix.buckets:
        for dose in bucket.doses:
            grams[dose.product.name] = grams.get(dose.product.name, 0.0) + dose.grams
    for dose in mix.per_pot:
        grams[dose.product.name] = grams.get(dose.product.name, 0.0) + dose.grams * mix.pots
    return grams


def _need(product: Product, by_feeding_g: list[float], margin: float) -> Need:
    planned_g = math.fsum(by_feeding_g)
    grams = planned_g * (1.0 + margin)
    packages = None if product.pack_g is None else math.ceil(grams / product.pack_g - 1e-9)
    cost = None if packages is None or product.price is None else packages * product.price
    return Need(
        product=product,
        feedings=len(by_feeding_g),
        planned_g=planned_g,
        grams=grams,
        packages=packages,
        cost=cost,
    )
