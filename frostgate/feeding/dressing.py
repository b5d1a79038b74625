"""Granular products laid on the soil: so much for a pot, or for a tree by its height."""

from __future__ import annotations

import math
from collections.abc import Sequence

from frostgate.errors import InputError, UnsafeMixError
from frostgate.feeding import cautions, stops
from frostgate.feeding.scoops import Tools, measure
from frostgate.feeding.solution import elements_mg
from frostgate.quantities import say_mass
from frostgate.terms.feedings import Dose, Mix
from frostgate.terms.garden import Garden, PotGroup
from frostgate.terms.phases import Portion
from frostgate.terms.products import Product, Rate


def dress(garden: Garden, group: PotGroup, portions: Sequence[Portion], share: float = 1.0) -> Mix:
    """Work out what is laid on one pot, or around one tree.

    A rate by height is capped at the label's largest rate for a tree.

    Parameters
    ----------
    garden
        Its products and scoops.
    group
        Who is fed.
    portions
        What, and which share of the label's rate.
    share
        Of what they ask for; young roots get half.

    Raises
    ------
    UnsafeMixError
        Where a product is not granular, or more than its label allows is asked for.
    InputError
        Where a rate or a height is missing, or ppm are asked for.

    Examples
    --------
    >>> from pathlib import Path
    >>> from frostgate.feeding.products import read_product
    >>> from frostgate.terms.garden import Site
    >>> garden = Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),), units="us",
    ...                 products=(read_product("Pellets 5-3-3 granular 2 tbsp/pot"),))
    >>> figs = PotGroup(name="old figs", tree="fig", count=12, stage="established", pot_l=26.5,
    ...                 winters="outdoors", movable=False)
    >>> dress(garden, figs, [Portion(product="Pellets", strength=1.0)]).per_pot[0].spoons
    '2 tbsp'
    """
    if not portions:
        raise InputError("a top-dressing needs a product", remedy="Name one.")
    tools = Tools(scoops=garden.scoops, units=garden.units)
    doses, notes = [], []
    for name in dict.fromkeys(portion.product for portion in portions):
        product = garden.product(name)
        strength = share * math.fsum(_strength(portion) for portion in portions if portion.product == name)
        dose, capped = _lay(product, group, strength, tools)
        doses.append(dose)
        notes.extend([capped] if capped else [])
    warnings = (
        *notes,
        *cautions.warn_of_young(group, share < 1.0),
        *cautions.warnings_of_doses(doses, tools),
    )
    return Mix(
        buckets=(),
        ppm={},
        per_pot_mg=elements_mg({dose.product: dose.grams for dose in doses}),
        pots=group.count,
        per_pot=tuple(doses),
        warnings=warnings,
        cautions=(*cautions.USUAL, *cautions.LAID),
    )


def _lay(product: Product, group: PotGroup, strength: float, tools: Tools) -> tuple[Dose, str | None]:
    stops.refuse_form(product, "top-dressing")
    rate = product.rate
    if rate is None or rate.per == "litre":
        raise InputError(f"{product.name!r} has no rate for a pot or a height",
                         remedy="State it, such as 2 tbsp/pot or 0.5 lb/ft.")  # fmt: skip
    full_g = _each_g(rate, group)
    most = _most(product, rate, strength)
    most_g = _each_g(most, group)
    wanted_g = min(full_g * strength, most_g)
    dose = measure(product, wanted_g, tools, most_g)
    capped = None
    if wanted_g < full_g * strength * (1.0 - stops.CALM):
        asked = say_mass(full_g * strength, tools.units)
        capped = (
            f"{product.name}: by height a tree would get {asked}; the label allows {most.text} and no more."
        )
    return dose, capped


def _most(product: Product, rate: Rate, strength: float) -> Rate:
    """Give the largest rate; one for a tree caps a rate by height, every other one stops what is above it."""
    most = product.most if product.most is not None and product.most.per != "litre" else rate
    caps = rate.per == "metre" and most.per == "pot"
    if not caps and most.per == rate.per and rate.grams * strength > most.grams * (1.0 + stops.CALM):
        remedy = "Lay less."
        if most is rate:
            remedy = "Lay less; if the label allows more than its rate, state that as its maximum."
        raise UnsafeMixError(
            f"{product.name!r} would be {rate.grams * strength / most.grams:.3g} times what its label "
            f"allows: at most {most.text}",
            remedy=remedy,
        )
    return most


def _each_g(rate: Rate, group: PotGroup) -> float:
    if rate.per == "pot":
        return rate.grams
    if group.height_m is None:
        raise InputError(f"{rate.text} goes by height, and that of {group.name!r} is not stated",
                         remedy='Add height = "6 ft".')  # fmt: skip
    return rate.grams * group.height_m


def _strength(portion: Portion) -> float:
    if portion.strength is None:
        raise InputError("ppm are of a solution, and a top-dressing is none", value=portion.product,
                         remedy="State a strength, such as full or half.")  # fmt: skip
    return portion.strength
