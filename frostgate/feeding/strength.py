"""How strong: what a feeding asks of a product for a litre, a pot or a tree; half for young roots."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from frostgate.errors import InputError, UnsafeMixError
from frostgate.feeding.solution import elements_mg, grams_l_for
from frostgate.model.feedings import FeedingKind, Portion
from frostgate.model.garden import Garden, PotGroup
from frostgate.model.products import Product, Rate

CALM = 1e-6  # of a limit: no rounding of figures alone stops a mix
ROUNDING = 0.1  # a dose further off than this is worth a warning, and above half too much for young roots
YOUNG_SHARE = 0.5  # of the label's rate until new growth shows: from memory, common practice


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """How much of a product goes into a litre of solution, on a pot or around a tree."""

    product: Product
    asked_g: float  # by the portions alone [g for one litre, pot or tree]
    grams: float  # what young roots and a cap by height leave of that [g]
    rate_g: float | None  # the label's rate [g]; None where it states none of this kind
    most: Rate | None  # the largest rate that the label allows
    most_g: float  # the same [g]; infinite where the label states none
    limit_g: float  # no more is measured out, however it rounds [g]

    @property
    def half_g(self) -> float:
        """The most of it for young roots [g]: half of the label's rate, whatever asks for it.

        What asks for less, by a strength or by ppm, is not halved again. Where the label states no rate,
        nothing tells what half of it is, so half of what is asked for is given.
        """
        return YOUNG_SHARE * (self.asked_g if self.rate_g is None else self.rate_g)


def parts_of(
    garden: Garden, group: PotGroup | None, portions: Sequence[Portion], kind: FeedingKind
) -> list[Part]:
    """Work out how much of each product a feeding asks for: in a litre, on one pot or around one tree."""
    parts = []
    for name in dict.fromkeys(portion.product for portion in portions):
        product, of_it = garden.product(name), [portion for portion in portions if portion.product == name]
        if kind == "liquid" or group is None:
            part = part_of(product, of_it)
        else:
            part = laid_of(product, of_it, group)
        if group is not None and group.is_young:
            limit_g = min(part.limit_g, part.half_g * (1.0 + ROUNDING))
            part = replace(part, grams=min(part.grams, part.half_g), limit_g=limit_g)
        parts.append(part)
    return parts


def part_of(product: Product, portions: Iterable[Portion]) -> Part:
    """Work out how much of a product its portions put into a litre."""
    rate, most = _for_water(product.rate), _for_water(product.most) or _for_water(product.rate)
    asked_g = math.fsum(_grams_l(product, portion, rate) for portion in portions)
    most_g = math.inf if most is None else most.grams
    return Part(
        product=product,
        asked_g=asked_g,
        grams=asked_g,
        rate_g=None if rate is None else rate.grams,
        most=most,
        most_g=most_g,
        limit_g=most_g,
    )


def laid_of(product: Product, portions: Iterable[Portion], group: PotGroup) -> Part:
    """Work out how much of a product its portions lay on one pot, or around one tree.

    A rate by height is capped at the label's largest rate for a tree.
    """
    rate = product.rate
    if rate is None or rate.per == "litre":
        raise InputError(
            f"{product.name!r} has no rate for a pot or a height",
            remedy="State it, such as 5 tsp/pot or 0.3 lb/ft.",
        )
    most = product.most if product.most is not None and product.most.per != "litre" else rate
    full_g, most_g = _each_g(rate, group), _each_g(most, group)
    cap_g = most_g if rate.per == "metre" and most.per == "pot" else math.inf
    asked_g = full_g * math.fsum(_strength(portion) for portion in portions)
    return Part(
        product=product,
        asked_g=asked_g,
        grams=min(asked_g, cap_g),
        rate_g=min(full_g, cap_g),  # what the label gives this tree: half of it is half strength
        most=most,
        most_g=most_g,
        limit_g=most_g,
    )


def refuse_above_label(part: Part) -> None:
    """Stop what is stronger, or more, than its label allows."""
    if part.most is None or part.grams <= part.most_g * (1.0 + CALM):
        return
    ppm = elements_mg({part.product: part.grams})["N"] if part.most.per == "litre" else 0.0
    do = "Mix it weaker" if part.most.per == "litre" else "Lay less"
    more = "; if the label allows more than its rate, state that as its maximum"
    raise UnsafeMixError(
        f"{part.product.name!r} would be {part.grams / part.most_g:.3g} times what its label allows"
        f"{f' ({ppm:.0f} ppm N)' if ppm else ''}: at most {part.most.text}",
        remedy=f"{do}{more if part.most is part.product.rate else ''}.",
    )


def _for_water(rate: Rate | None) -> Rate | None:
    return rate if rate is not None and rate.per == "litre" else None


def _grams_l(product: Product, portion: Portion, rate: Rate | None) -> float:
    if portion.n_ppm is not None:
        return grams_l_for(product, "N", portion.n_ppm)
    if rate is None:
        stated = "no rate" if product.rate is None else f"a rate that is not for water, {product.rate.text!r}"
        raise InputError(
            f"a strength is a share of the label's rate, and {product.name!r} has {stated}",
            remedy="State its rate, such as 2 tsp/gal, or ask for ppm of nitrogen.",
        )
    return rate.grams * (portion.strength or 0.0)


def _each_g(rate: Rate, group: PotGroup) -> float:
    if rate.per == "pot":
        return rate.grams
    if group.height_m is None:
        raise InputError(
            f"{rate.text} goes by height, and that of {group.name!r} is not stated",
            remedy='Add height = "6 ft".',
        )
    return rate.grams * group.height_m


def _strength(portion: Portion) -> float:
    if portion.strength is None:
        raise InputError(
            "ppm are of a solution, and a top-dressing is none",
            value=portion.product,
            remedy="State a strength, such as full or half.",
        )
    return portion.strength
