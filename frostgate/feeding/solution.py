"""The arithmetic of solutions: grams in a litre, ppm, conductivity.

One ppm is 1 mg/L. Labels state oxides of phosphorus and potassium; everything here is in elements.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from frostgate.errors import InputError
from frostgate.model.feedings import SeasonRules
from frostgate.model.products import ELEMENTS, Element, Product


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


def least_ec_ms_cm(grams_l: Mapping[Product, float], rules: SeasonRules) -> float:
    """Add up the conductivity that is known: of the labels that tell it, and of the water [mS/cm]."""
    known = [
        product.ec_ms_cm_per_g_l * mass
        for product, mass in grams_l.items()
        if product.ec_ms_cm_per_g_l is not None
    ]
    return math.fsum((*known, rules.water_ec_ms_cm or 0.0))


def ec_ms_cm(grams_l: Mapping[Product, float], rules: SeasonRules) -> float | None:
    """Estimate the conductivity of a solution [mS/cm]; None where a label does not tell its product's."""
    return None if lacking_ec(grams_l) else least_ec_ms_cm(grams_l, rules)


def lacking_ec(products: Iterable[Product]) -> Sequence[Product]:
    """Return the products whose label does not tell their conductivity."""
    return [product for product in products if product.ec_ms_cm_per_g_l is None]
