"""How strong a feeding is: grams for a litre, a pot or a tree, half for young roots; ppm and conductivity.

One ppm is 1 mg/L. Labels state oxides of phosphorus and potassium; everything here is in elements.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from frostgate.errors import InputError
from frostgate.model.feedings import ELEMENTS, Element, FeedingKind, Portion, Product, Rate, SeasonRules
from frostgate.model.garden import Garden, PotGroup

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
            part = _laid_of(product, of_it, group)
        if group is not None and group.is_young:
            limit_g = min(part.limit_g, part.half_g * (1.0 + ROUNDING))
            part = replace(part, grams=min(part.grams, part.half_g), limit_g=limit_g)
        parts.append(part)
    return parts


def part_of(product: Product, portions: Iterable[Portion]) -> Part:
    """Work out how much of a product its portions put into a litre."""
    rate = product.rate if product.rate is not None and product.rate.per == "litre" else None
    most = product.most if product.most is not None and product.most.per == "litre" else rate
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


def _laid_of(product: Product, portions: Sequence[Portion], group: PotGroup) -> Part:
    """Work out how much of a product its portions lay on one pot, or around one tree.

    A rate by height is capped at the label's largest rate for a tree.
    """
    rate = product.rate
    if rate is None or rate.per == "litre":
        raise InputError(
            f"{product.name!r} has no rate for a pot or a height",
            remedy="State it, such as 5 tsp/pot or 0.3 lb/ft.",
        )
    if any(portion.strength is None for portion in portions):
        raise InputError(
            "ppm are of a solution, and a top-dressing is none",
            value=product.name,
            remedy="State a strength, such as full or half.",
        )
    most = product.most if product.most is not None and product.most.per != "litre" else rate
    full_g, most_g = _each_g(rate, group), _each_g(most, group)
    cap_g = most_g if rate.per == "metre" and most.per == "pot" else math.inf
    asked_g = full_g * math.fsum(portion.strength or 0.0 for portion in portions)
    return Part(
        product=product,
        asked_g=asked_g,
        grams=min(asked_g, cap_g),
        rate_g=min(full_g, cap_g),  # what the label gives this tree: half of it is half strength
        most=most,
        most_g=most_g,
        limit_g=most_g,
    )


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


def elements_mg(grams: Mapping[Product, float]) -> dict[Element, float]:
    """Add up each element in so much of some products [mg], or in so much in a litre [mg/L]."""
    return {
        element: math.fsum(
            mass * product.analysis.shares[element] * 1000.0 for product, mass in grams.items()
        )
        for element in ELEMENTS
    }


def grams_l_for(product: Product, element: Element, ppm: float) -> float:
    """Return the concentration of a product that brings so much of an element [g/L]."""
    share = product.analysis.shares[element]
    if share == 0.0:
        raise InputError(
            f"{product.name!r} holds no {element}",
            value=product.analysis.grade,
            remedy="State its strength, such as full or half.",
        )
    return ppm / (1000.0 * share)


def known_ec_ms_cm(grams_l: Mapping[Product, float], rules: SeasonRules) -> tuple[float, list[Product]]:
    """Add up the conductivity that labels and water tell [mS/cm]; name the products whose label does not."""
    silent = [product for product in grams_l if product.ec_ms_cm_per_g_l is None]
    told = (mass * (product.ec_ms_cm_per_g_l or 0.0) for product, mass in grams_l.items())
    return math.fsum((*told, rules.water_ec_ms_cm or 0.0)), silent
