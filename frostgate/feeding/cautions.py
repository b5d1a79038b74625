"""What to mind about a mix, and the usual cautions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from frostgate.feeding.scoops import SCALE_STEP_G, Tools, is_too_small, is_weighed
from frostgate.feeding.solution import lacking_ec, ppm_of
from frostgate.feeding.stops import clashing, partner_of_calcium
from frostgate.quantities import TEASPOON_ML, Units, say_mass, say_volume
from frostgate.terms.feedings import Dose
from frostgate.terms.garden import PotGroup
from frostgate.terms.phases import SeasonRules
from frostgate.terms.products import Product

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
    """Give the cautions for a liquid feed whose largest filling is so large [L].

    Examples
    --------
    >>> usual_cautions(18.927, "us")[-1]
    'A bucket of 5 gal weighs about 19 kg (42 lb): fill it where it is used, or lift it with two.'
    """
    if not _LIFTED_L[0] <= largest_l <= _LIFTED_L[1]:
        return (*USUAL, *WATERED)
    mass_kg = largest_l * _KG_PER_L
    mass = f"{mass_kg:.0f} kg" + (f" ({mass_kg * _LB_PER_KG:.0f} lb)" if units == "us" else "")
    heavy = f"A bucket of {say_volume(largest_l, units)} weighs about {mass}"
    return (*USUAL, *WATERED, f"{heavy}: fill it where it is used, or lift it with two.")


def warnings_of(
    grams_l: Mapping[Product, float], rules: SeasonRules, *, group: PotGroup | None, halved: bool
) -> Iterator[str]:
    """Tell what to mind about a solution, by its products and their concentrations [g/L].

    Examples
    --------
    >>> list(warnings_of({}, SeasonRules(water_ec_ms_cm=0.3), group=None, halved=False))
    []
    """
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
    """Tell that roots are too young for full strength, and what was done about it.

    Examples
    --------
    >>> list(warn_of_young(None, False))
    []
    """
    if group is not None and group.is_young:
        done = "half of what was asked for" if halved else "not halved again"
        yield (
            f"Young roots ({group.stage}): {done}; nothing above half strength until new growth shows (from "
            "memory: 50 to 100 ppm N in a feed)."
        )


def warnings_of_doses(doses: Sequence[Dose], tools: Tools) -> Iterator[str]:
    """Tell where measuring is rough, a density is a default, or nitrogen comes slowly.

    Examples
    --------
    >>> list(warnings_of_doses([], Tools()))
    []
    """
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
