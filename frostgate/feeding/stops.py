"""What stops a mix: dry roots, a form that does not suit, the label, salt, calcium in a concentrate."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from frostgate.errors import UnsafeMixError
from frostgate.feeding.solution import Part, least_ec_ms_cm, ppm_of
from frostgate.terms.phases import SeasonRules
from frostgate.terms.products import Product

CALM = 1e-6  # of a limit: no rounding of figures alone stops a mix


def refuse_dry() -> None:
    """Stop what would be fed to dry root balls.

    Raises
    ------
    UnsafeMixError
        Always.

    Examples
    --------
    >>> try:
    ...     refuse_dry()
    ... except UnsafeMixError as refusal:
    ...     print(refusal.what)
    the root balls are dry: feed would burn their roots
    """
    raise UnsafeMixError(
        "the root balls are dry: feed would burn their roots",
        remedy="Water them with plain water first, and feed when they are moist through.",
    )


def refuse_form(product: Product, kind: str) -> None:
    """Stop a granular product in water, and a soluble or liquid one laid dry.

    Raises
    ------
    UnsafeMixError
        Where the form does not suit the kind of feeding.

    Examples
    --------
    >>> from frostgate.feeding.products import read_product
    >>> refuse_form(read_product("Feed 20-20-20 soluble 1 g/l"), "liquid")
    """
    if kind == "liquid" and product.form == "granular":
        raise UnsafeMixError(
            f"{product.name!r} is granular and does not dissolve: its strength in water cannot be known",
            remedy="Lay it on the soil as a top-dressing.",
        )
    if kind == "top-dressing" and product.form != "granular":
        raise UnsafeMixError(
            f"{product.name!r} is {product.form}: laid undiluted it burns roots",
            remedy="Mix it with water, or lay a granular product.",
        )


def refuse_above_label(part: Part) -> None:
    """Stop a solution stronger than its label allows.

    Raises
    ------
    UnsafeMixError
        Where it is stronger than the label's maximum, or than its rate where it states no maximum.

    Examples
    --------
    >>> from frostgate.feeding.products import read_product
    >>> refuse_above_label(Part(product=read_product("Feed 20-20-20 soluble 1 g/l"), grams_l=2.0, most=None))
    """
    if part.most is None or part.grams_l <= part.most.grams * (1.0 + CALM):
        return
    ppm = ppm_of(part.product, part.grams_l)["N"]
    nitrogen = f" ({ppm:.0f} ppm N)" if ppm else ""
    raise UnsafeMixError(
        f"{part.product.name!r} would be {part.grams_l / part.most.grams:.3g} times what its label allows"
        f"{nitrogen}: at most {part.most.text}",
        remedy=_weaker(part.product),
    )


def refuse_salty(grams_l: Mapping[Product, float], rules: SeasonRules) -> None:
    """Stop a solution whose known conductivity alone is above the limit.

    Raises
    ------
    UnsafeMixError
        Where it is.

    Examples
    --------
    >>> refuse_salty({}, SeasonRules())
    """
    least, limit = least_ec_ms_cm(grams_l, rules), rules.ec_limit_ms_cm
    if least > limit * (1.0 + CALM):
        water = rules.water_ec_ms_cm or 0.0
        remedy = "Mix it weaker, or without one of its products."
        if water >= limit:
            remedy = "The water itself is at the limit: use other water, such as rain water."
        raise UnsafeMixError(
            f"the solution would have {least:.2f} mS/cm, and {limit:g} is the limit: salt burns roots",
            remedy=remedy,
        )


def refuse_calcium(products: Sequence[Product]) -> None:
    """Stop calcium with sulfate or phosphate of another product in one concentrate: it turns into gypsum.

    Raises
    ------
    UnsafeMixError
        Where they meet.

    Examples
    --------
    >>> refuse_calcium([])
    """
    for calcium, other in clashing(products):
        raise UnsafeMixError(
            f"the calcium of {calcium.name!r} and the {partner_of_calcium(other)} of {other.name!r} harden "
            "in one stock tank",
            remedy="Make two stock solutions, or feed them on different days.",
        )


def clashing(products: Sequence[Product]) -> Iterator[tuple[Product, Product]]:
    """Find pairs of which one brings calcium and the other sulfate or phosphate.

    Examples
    --------
    >>> list(clashing([]))
    []
    """
    for calcium in products:
        for other in products:
            if calcium != other and calcium.analysis.ca > 0.0 and (other.analysis.s or other.analysis.p2o5):
                yield calcium, other


def partner_of_calcium(product: Product) -> str:
    """Name what in a product hardens with calcium.

    Examples
    --------
    >>> from frostgate.feeding.products import read_product
    >>> partner_of_calcium(read_product("Epsom salt 0-0-0 soluble 1 tsp/gal Mg 9.86 S 13"))
    'sulfate'
    """
    names = [
        name
        for name, share in (("sulfate", product.analysis.s), ("phosphate", product.analysis.p2o5))
        if share
    ]
    return " and ".join(names)


def _weaker(product: Product) -> str:
    if product.most is None:
        return "Mix it weaker; if the label allows more than its rate, state that as its maximum."
    return "Mix it weaker."
