"""What stops a mix, what to mind about one, and the usual cautions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from frostgate.errors import UnsafeMixError
from frostgate.feeding.scoops import SCALE_STEP_G
from frostgate.feeding.strength import ROUNDING, Part, elements_mg, known_ec_ms_cm
from frostgate.model.feedings import Dose, Product, SeasonRules
from frostgate.model.garden import PotGroup
from frostgate.units import POUND_G, TEASPOON_ML, Units, say_mass, say_volume

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
CALM = 1e-6  # of a limit: no rounding of figures alone stops a mix
CONSTANT_N_PPM = (150, 250)  # University of Massachusetts, constant feed
_LIFTED_L = (10.0, 60.0)  # buckets that are heavy, and not yet tanks that nobody lifts


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


def refuse_salty(grams_l: Mapping[Product, float], rules: SeasonRules) -> None:
    """Stop a solution whose known conductivity alone is above the limit."""
    least, _ = known_ec_ms_cm(grams_l, rules)
    if least > rules.ec_limit_ms_cm * (1.0 + CALM):
        remedy = "Mix it weaker, or without one of its products."
        if (rules.water_ec_ms_cm or 0.0) >= rules.ec_limit_ms_cm:
            remedy = "The water itself is at the limit: use other water, such as rain water."
        limit = f"{rules.ec_limit_ms_cm:g} is the limit: salt burns roots"
        raise UnsafeMixError(f"the solution would have {least:.2f} mS/cm, and {limit}", remedy=remedy)


def refuse_calcium(products: Sequence[Product]) -> None:
    """Stop calcium with sulfate or phosphate of another product in one concentrate: it turns into gypsum."""
    for calcium, partner in _clashes(products):
        raise UnsafeMixError(
            f"the calcium of {calcium!r} and the {partner} harden in one stock tank",
            remedy="Make two stock solutions, or feed them on different days.",
        )


def _clashes(products: Sequence[Product]) -> Iterator[tuple[str, str]]:
    """Name each product that brings calcium, and what of another one hardens with it."""
    for calcium in products:
        for other in products:
            stated = {"sulfate": other.analysis.s, "phosphate": other.analysis.p2o5}
            partners = [name for name, share in stated.items() if share]
            if calcium != other and calcium.analysis.ca and partners:
                yield calcium.name, f"{' and '.join(partners)} of {other.name}"


def usual_cautions(largest_l: float, units: Units) -> tuple[str, ...]:
    """Return the cautions for a liquid feed whose largest filling is so large [L]."""
    if not _LIFTED_L[0] <= largest_l <= _LIFTED_L[1]:
        return (*USUAL, *WATERED)
    mass = f"{largest_l:.0f} kg"  # a litre weighs about as much
    if units == "us":
        mass += f" ({largest_l * 1000.0 / POUND_G:.0f} lb)"
    heavy = f"A bucket of {say_volume(largest_l, units)} weighs about {mass}"
    return (*USUAL, *WATERED, f"{heavy}: fill it where it is used, or lift it with two.")


def warn_of_young(group: PotGroup | None, parts: Sequence[Part], *, measured: bool = False) -> Iterator[str]:
    """Tell that roots are too young for full strength, and what was done about it."""
    if group is None or not group.is_young:
        return
    half = "half of the label's rate"
    above = [part for part in parts if part.half_g < part.asked_g * (1.0 - CALM)]
    done = []
    if any(part.rate_g is not None for part in above):
        done.append(f"this is above {half}: use less" if measured else f"brought down to {half}")
    if any(part.rate_g is None for part in above):
        given = "nothing tells what half strength is" if measured else "half of what was asked for"
        done.append(f"{given} where a label states no rate for water")
    if not done:
        done = [f"no more than {half}{'' if measured else ' was asked for, which is not halved again'}"]
    yield (
        f"Young roots ({group.stage}): {'; '.join(done)}; nothing stronger until new growth shows (from "
        "memory: 50 to 100 ppm N in a feed)."
    )


def warn_of_solution(grams_l: Mapping[Product, float], rules: SeasonRules) -> Iterator[str]:
    """Tell what to mind about a solution, by its products and their concentrations [g/L]."""
    if pairs := list(_clashes(list(grams_l))):
        calcium, others = (", ".join(dict.fromkeys(side)) for side in zip(*pairs, strict=True))
        yield (
            f"The calcium of {calcium} stays dissolved beside the {others} only in a dilute feed: use it at "
            "once, and never mix their concentrates."
        )
    _, silent = known_ec_ms_cm(grams_l, rules)
    if silent:
        names = ", ".join(product.name for product in silent)
        yield f"EC is not known, so it was not held against the limit: no label value for {names}."
    elif rules.water_ec_ms_cm is None and grams_l:
        yield "EC is without the water's own, which is not stated: measure it, for hard water adds to it."
    for product in grams_l:
        rates = (product.rate, product.most)
        if product.form != "granular" and not any(rate and rate.per == "litre" for rate in rates):
            yield f"{product.name} states no rate for water, so nothing tells whether this is too strong."
    ready_ppm = elements_mg({one: mass for one, mass in grams_l.items() if not one.organic})["N"]
    if ready_ppm > CONSTANT_N_PPM[1]:
        yield (
            f"{ready_ppm:.0f} ppm N is strong: a feed at every watering has {CONSTANT_N_PPM[0]} to "
            f"{CONSTANT_N_PPM[1]} ppm (University of Massachusetts)."
        )


def warn_of_tree(parts: Sequence[Part], units: Units) -> Iterator[str]:
    """Tell where a rate by height would pass the label's largest rate for a tree."""
    for part in parts:
        if part.most is not None and part.grams >= part.most_g and part.asked_g > part.most_g * (1.0 + CALM):
            asked = f"by height a tree would get {say_mass(part.asked_g, units)}"
            yield f"{part.product.name}: {asked}; the label allows {part.most.text} and no more."


def warn_of_doses(doses: Sequence[Dose], units: Units) -> Iterator[str]:
    """Tell where measuring is rough, a density is a default, or nitrogen comes slowly."""
    for dose in doses:
        yield from _warn_of_measuring(dose, units)
    unsure = dict.fromkeys(dose.product for dose in doses if _is_unsure(dose))
    if unsure:
        taken = (f"{one.name} {one.density_g_ml * TEASPOON_ML:.2g} g a teaspoon" for one in unsure)
        yield f"Weigh it: a default density can be off by a fifth; taken here: {', '.join(taken)}."
    for product in dict.fromkeys(dose.product for dose in doses):
        if product.organic and product.analysis.n:
            yield (
                f"{product.name} is organic: its nitrogen is released slowly, about half in two weeks and 56 "
                "to 66 % in eight (Hartz & Johnston 2006); the figures count all of it."
            )


def _warn_of_measuring(dose: Dose, units: Units) -> Iterator[str]:
    wanted, name = say_mass(dose.wanted_g, units), dose.product.name
    if dose.too_small:
        how = "a syringe" if dose.product.form == "liquid" else "a scale"
        yield f"{wanted} of {name} is too little for the spoons at hand: measure it with {how}."
    if abs(dose.rounding) > ROUNDING:
        side = "more" if dose.rounding > 0 else "less"
        coarse = abs(dose.grams - dose.wanted_g) <= SCALE_STEP_G  # a scale would do no better
        do = "mix more at once" if coarse else f"weigh {wanted} instead"
        yield f"{dose.spoons} of {name} is {abs(dose.rounding) * 100:.0f} % {side} than wanted: {do}."


def _is_unsure(dose: Dose) -> bool:
    """Return whether a default density matters: not for what is weighed by a rate that is a mass itself."""
    product = dose.product
    by_mass = dose.on_scale and (product.rate is None or product.weighed)
    return product.density_from == "default" and not by_mass
