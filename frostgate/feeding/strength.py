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
        of_it = [portion for portion in portions if portion.product == name]
        part = part_of(garden.product(name), of_it, None if kind == "liquid" else group)
        if group is not None and group.is_young:
            limit_g = min(part.limit_g, part.half_g * (1.0 + ROUNDING))
            part = replace(part, grams=min(part.grams, part.half_g), limit_g=limit_g)
        parts.append(part)
    return parts


def part_of(product: Product, portions: Iterable[Portion], laid_for: PotGroup | None = None) -> Part:
    """Work out how much of a product its portions put into a litre, or lay on one pot or around one tree.

    A rate by height is capped at the label's largest rate for a tree.
    """
    rate, most = (
        one if one is not None and (one.per == "litre") == (laid_for is None) else None
        for one in (product.rate, product.most)
    )
    most = most or rate
    full_g = None if rate is None else _each_g(rate, laid_for)
    most_g = math.inf if most is None else _each_g(most, laid_for)
    is_capped = rate is not None and most is not None and (rate.per, most.per) == ("metre", "pot")
    cap_g = most_g if is_capped else math.inf
    asked_g = math.fsum(_asked_g(product, portion, full_g, laid_for) for portion in portions)
    return Part(
        product=product,
        asked_g=asked_g,
        grams=min(asked_g, cap_g),
        rate_g=None if full_g is None else min(full_g, cap_g),  # of what a tree gets, half is half strength
        most=most,
        most_g=most_g,
        limit_g=most_g,
    )


def _each_g(rate: Rate, group: PotGroup | None) -> float:
    """Return what a rate gives a litre, a pot or a tree [g]."""
    if rate.per != "metre" or group is None:
        return rate.grams
    if group.height_m is None:
        raise InputError(
            f"{rate.text} goes by height, and that of {group.name!r} is not stated",
            remedy='Add height = "6 ft".',
        )
    return rate.grams * group.height_m


def _asked_g(product: Product, portion: Portion, full_g: float | None, laid_for: PotGroup | None) -> float:
    if portion.n_ppm is not None and laid_for is not None:
        raise InputError(
            "ppm are of a solution, and a top-dressing is none",
            value=portion.product,
            remedy="State a strength, such as full or half.",
        )
    if portion.n_ppm is not None:
        return grams_l_for(product, "N", portion.n_ppm)
    if full_g is None:
        what = "water" if laid_for is None else "a pot or a height"
        how = "2 tsp/gal, or ask for ppm of nitrogen" if laid_for is None else "5 tsp/pot or 0.3 lb/ft"
        raise InputError(
            f"a strength is a share of the label's rate, and {product.name!r} has no rate for {what}",
            value=product.rate and product.rate.text,
            remedy=f"State it, such as {how}.",
        )
    return full_g * (portion.strength or 0.0)


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
