"""What stops a mix, what to mind about one, and the usual cautions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from frostgate.errors import UnsafeMixError
from frostgate.feeding.scoops import SCALE_STEP_G, Tools, is_too_small, is_weighed
from frostgate.feeding.solution import Part, lacking_ec, least_ec_ms_cm, ppm_of
from frostgate.model.feedings import Dose, SeasonRules
from frostgate.model.garden import PotGroup
from frostgate.model.products import Product
from frostgate.units import TEASPOON_ML, Units, say_mass, say_volume

CALM = 1e-6  # of a limit: no rounding of figures alone stops a mix


def refuse_dry() -> None:
    """Stop what would be fed to dry root balls."""
    raise UnsafeMixError(
        "the root balls are dry: feed would burn their roots",
        remedy="Water them with plain water first, and feed when they are moist through.",
    )


def refuse_form(product: Product, kind: str) -> None:
    """Stop a granular product in water, and a soluble or liquid one laid dry."""
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
    """Stop a solution stronger than its label allows."""
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
    """Stop a solution whose known conductivity alone is above the limit."""
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
    """Stop calcium with sulfate or phosphate of another product in one concentrate: it turns into gypsum."""
    for calcium, other in clashing(products):
        raise UnsafeMixError(
            f"the calcium of {calcium.name!r} and the {partner_of_calcium(other)} of {other.name!r} harden "
            "in one stock tank",
            remedy="Make two stock solutions, or feed them on different days.",
        )


def clashing(products: Sequence[Product]) -> Iterator[tuple[Product, Product]]:
    """Find pairs of which one brings calcium and the other sulfate or phosphate."""
    for calcium in products:
        for other in products:
            if calcium != other and calcium.analysis.ca > 0.0 and (other.analysis.s or other.analysis.p2o5):
                yield calcium, other


def partner_of_calcium(product: Product) -> str:
    """Name what in a product hardens with calcium."""
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


# From memory and common practice, no source, unless one stands beside it.
USUAL = (
    "The label goes before all that stands here; check the local rules on feeding.",
    "Wear gloves and eye protection. Keep product and solution from children, pets and drains.",
)
WATERED = (
    "Feed moist root balls only: water dry ones first, and feed later.",
    "Fill in the water first, then add the product while stirring; one product after the other.",
)
LAID = ("Lay it on moist soil off the stem, and water it in.",)
INJECTED = (
    "A backflow preventer keeps the feed out of the drinking water: never inject without one.",
    "Solubility is not known here: where some of the stock stays undissolved, use a smaller ratio.",
    "Check what comes out of the hose with a conductivity meter: injectors drift.",
)
ROUNDING = 0.1  # a dose further off than this is worth a warning
CONSTANT_N_PPM = (150, 250)  # University of Massachusetts, constant feed
_LIFTED_L = (10.0, 60.0)  # buckets that are heavy, and not yet tanks that nobody lifts
_KG_PER_L = 1.0
_LB_PER_KG = 2.20462


def usual_cautions(largest_l: float, units: Units) -> tuple[str, ...]:
    """Return the cautions for a liquid feed whose largest filling is so large [L]."""
    if not _LIFTED_L[0] <= largest_l <= _LIFTED_L[1]:
        return (*USUAL, *WATERED)
    mass_kg = largest_l * _KG_PER_L
    mass = f"{mass_kg:.0f} kg" + (f" ({mass_kg * _LB_PER_KG:.0f} lb)" if units == "us" else "")
    heavy = f"A bucket of {say_volume(largest_l, units)} weighs about {mass}"
    return (*USUAL, *WATERED, f"{heavy}: fill it where it is used, or lift it with two.")


def warnings_of(
    grams_l: Mapping[Product, float], rules: SeasonRules, *, group: PotGroup | None, halved: bool
) -> Iterator[str]:
    """Tell what to mind about a solution, by its products and their concentrations [g/L]."""
    yield from warn_of_young(group, halved)
    yield from _warn_of_calcium(list(grams_l))
    yield from _warn_of_ec(grams_l, rules)
    for product in grams_l:
        if product.form != "granular" and not any(
            rate is not None and rate.per == "litre" for rate in (product.rate, product.most)
        ):
            yield f"{product.name} states no rate for water, so nothing tells whether this is too strong."
    yield from _warn_of_nitrogen(grams_l)


def warn_of_young(group: PotGroup | None, halved: bool) -> Iterator[str]:
    """Tell that roots are too young for full strength, and what was done about it."""
    if group is not None and group.is_young:
        done = "half of what was asked for" if halved else "not halved again"
        yield (
            f"Young roots ({group.stage}): {done}; nothing above half strength until new growth shows (from "
            "memory: 50 to 100 ppm N in a feed)."
        )


def warnings_of_doses(doses: Sequence[Dose], tools: Tools) -> Iterator[str]:
    """Tell where measuring is rough, a density is a default, or nitrogen comes slowly."""
    for dose in doses:
        yield from _warn_of_measuring(dose, tools)
    yield from _warn_of_density(doses)
    for product in dict.fromkeys(dose.product for dose in doses):
        if product.organic and product.analysis.n:
            yield (
                f"{product.name} is organic: its nitrogen is released slowly, about half in two weeks and 56 "
                "to 66 % in eight (Hartz & Johnston 2006); the figures count all of it."
            )


def _warn_of_measuring(dose: Dose, tools: Tools) -> Iterator[str]:
    wanted, name = say_mass(dose.wanted_g, tools.units), dose.product.name
    if is_too_small(dose, tools):
        how = "a syringe" if dose.product.form == "liquid" else "a scale"
        yield f"{wanted} of {name} is too little for the spoons at hand: measure it with {how}."
    if abs(dose.rounding) > ROUNDING:
        side = "more" if dose.rounding > 0 else "less"
        coarse = abs(dose.grams - dose.wanted_g) <= SCALE_STEP_G  # a scale would do no better
        do = "mix more at once" if coarse else f"weigh {wanted} instead"
        yield f"{dose.spoons} of {name} is {abs(dose.rounding) * 100:.0f} % {side} than wanted: {do}."


def _warn_of_density(doses: Sequence[Dose]) -> Iterator[str]:
    """Tell of default densities, save of what is weighed by a rate that is a mass itself."""
    unsure = dict.fromkeys(
        dose.product
        for dose in doses
        if dose.product.density_from == "default"
        and not (is_weighed(dose) and _needs_no_density(dose.product))
    )
    if unsure:
        taken = ", ".join(
            f"{product.name} {product.density_g_ml * TEASPOON_ML:.2g} g a teaspoon" for product in unsure
        )
        yield f"Weigh it: a default density can be off by a fifth; taken here: {taken}."


def _needs_no_density(product: Product) -> bool:
    return product.rate is None or product.weighed


def _warn_of_nitrogen(grams_l: Mapping[Product, float]) -> Iterator[str]:
    ready_ppm = sum(ppm_of(product, mass)["N"] for product, mass in grams_l.items() if not product.organic)
    if ready_ppm > CONSTANT_N_PPM[1]:
        yield (
            f"{ready_ppm:.0f} ppm N is strong: a feed at every watering has {CONSTANT_N_PPM[0]} to "
            f"{CONSTANT_N_PPM[1]} ppm (University of Massachusetts)."
        )


def _warn_of_calcium(products: Sequence[Product]) -> Iterator[str]:
    pairs = list(clashing(products))
    if pairs:
        calcium = ", ".join(dict.fromkeys(product.name for product, _ in pairs))
        others = ", ".join(
            dict.fromkeys(f"{partner_of_calcium(other)} of {other.name}" for _, other in pairs)
        )
        yield (
            f"The calcium of {calcium} stays dissolved beside the {others} only in a dilute feed: use it at "
            "once, and never mix their concentrates."
        )


def _warn_of_ec(grams_l: Mapping[Product, float], rules: SeasonRules) -> Iterator[str]:
    silent = ", ".join(product.name for product in lacking_ec(grams_l))
    if silent:
        yield f"EC is not known, so it was not held against the limit: no label value for {silent}."
    elif rules.water_ec_ms_cm is None and grams_l:
        yield "EC is without the water's own, which is not stated: measure it, for hard water adds to it."
