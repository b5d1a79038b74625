"""From a wanted mass to what can be measured: scoops at hand, kitchen spoons, a scale."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from frostgate.errors import InputError
from frostgate.model.feedings import Dose, Product
from frostgate.model.garden import Scoop
from frostgate.units import TEASPOON_ML, Units, say_mass

MANY_SCOOPS = 24  # more than these nobody counts right: then a scale
SCALE_STEP_G = 0.1  # of a kitchen or pocket scale
SYRINGE_STEP_ML = 0.5
SPOON_STEP_ML = TEASPOON_ML / 4.0
AS_NEAR = 0.01  # of the wanted amount: no scoop is levelled more exactly, so fewer scoops count for more
_EXACT = 1e-9


def measure(
    product: Product,
    wanted_g: float,
    most_g: float = math.inf,
    *,
    scoops: Sequence[Scoop] = (),
    units: Units = "metric",
) -> Dose:
    """Find what can be measured nearest to a wanted mass, and never above the most.

    With scoops, whole numbers of them: of those as near as can be levelled, the fewest. Without, quarter
    teaspoons for a US grower unless the label states a mass; else a scale, or a syringe for liquids. What is
    too little for the spoons, or too many scoops to count, is weighed.
    """
    wanted_ml, most_ml = wanted_g / product.density_g_ml, most_g / product.density_g_ml
    measured, smallest_ml = None, 0.0
    if scoops:
        smallest_ml = min(scoop.volume_ml for scoop in scoops)
        measured = _with_scoops(wanted_ml, most_ml, scoops)
    elif units == "us" and not product.weighed:
        smallest_ml = SPOON_STEP_ML
        quarters = round(_nearest_step(wanted_ml, SPOON_STEP_ML, most_ml) / SPOON_STEP_ML)
        measured = (quarters * SPOON_STEP_ML, say_spoons(quarters)) if quarters else None
    if measured is None:
        weighed = weigh_out(product, wanted_g, most_g, units=units)
        return replace(weighed, too_small=wanted_ml < smallest_ml)
    millilitres, said = measured
    return Dose(product=product, grams=millilitres * product.density_g_ml, wanted_g=wanted_g, spoons=said)


def weigh_out(
    product: Product, wanted_g: float, most_g: float = math.inf, *, units: Units = "metric"
) -> Dose:
    """Measure a powder by a scale and a liquid by a syringe or a measuring cylinder."""
    poured = product.form == "liquid"
    density = product.density_g_ml if poured else 1.0
    step = SYRINGE_STEP_ML if poured else SCALE_STEP_G
    amount = _nearest_step(wanted_g / density, step, most_g / density)
    if amount == 0.0:
        raise InputError(
            f"{wanted_g:.2g} g of {product.name!r} is too little to measure",
            remedy="Mix more at once, or make a stock solution and measure that.",
        )
    grams = amount * density
    said = f"{amount:g} mL" if poured else f"{say_mass(grams, units)} on a scale"
    return Dose(product=product, grams=grams, wanted_g=wanted_g, spoons=said, on_scale=not poured)


def say_spoons(quarters: int) -> str:
    """Write a number of quarter teaspoons as a US grower measures them."""
    parts = []
    quarter_cups = quarters // 48 if quarters >= 192 else 0
    if quarter_cups:
        parts.append(f"{_quarters(quarter_cups)} cup{'s' if quarter_cups > 4 else ''}")
        quarters -= quarter_cups * 48
    half_tablespoons = quarters // 6 if quarters >= 12 and quarters % 6 == 0 else quarters // 12 * 2
    if half_tablespoons:
        parts.append(f"{_quarters(half_tablespoons * 2)} tbsp")
        quarters -= half_tablespoons * 6
    if quarters:
        parts.append(f"{_quarters(quarters)} tsp")
    return " + ".join(parts)


def _nearest_step(wanted: float, step: float, most: float) -> float:
    """Return the multiple of a step nearest to what is wanted, never above the most."""
    allowed = math.floor(most / step * (1.0 + _EXACT)) if math.isfinite(most) else math.inf
    return min(math.floor(wanted / step + 0.5), allowed) * step


def _with_scoops(wanted_ml: float, most_ml: float, scoops: Sequence[Scoop]) -> tuple[float, str] | None:
    sizes = sorted({scoop.volume_ml: scoop for scoop in scoops}.values(), key=lambda one: -one.volume_ml)
    volumes = [scoop.volume_ml for scoop in sizes]
    measured = [
        (counts, sum(count * ml for count, ml in zip(counts, volumes, strict=True)))
        for counts in _counts(wanted_ml, volumes, spare=3 if len(volumes) <= 4 else 1)
    ]
    least_ml, most_ml = wanted_ml * _EXACT, min(most_ml * (1.0 + _EXACT), wanted_ml * (2.0 - _EXACT))
    allowed = [(counts, ml) for counts, ml in measured if least_ml <= ml <= most_ml]
    if not allowed:
        return None
    near_ml = min(abs(ml - wanted_ml) for _, ml in allowed) + AS_NEAR * wanted_ml
    near = [(counts, ml) for counts, ml in allowed if abs(ml - wanted_ml) <= near_ml]
    counts, ml = min(near, key=lambda one: (sum(one[0]), abs(one[1] - wanted_ml)))
    if sum(counts) > MANY_SCOOPS:
        return None
    used = [(count, scoop.name) for count, scoop in zip(counts, sizes, strict=True) if count]
    return ml, " + ".join(name if count == 1 else f"{count} x {name}" for count, name in used)


def _counts(wanted_ml: float, volumes: Sequence[float], spare: int) -> Iterator[tuple[int, ...]]:
    """Return counts of scoops that come near: of each size about as many as fit, or up to ``spare`` fewer."""
    whole = max(0, math.floor(wanted_ml / volumes[0] + _EXACT))
    for count in range(max(0, whole - (spare if len(volumes) > 1 else 0)), whole + 2):
        if len(volumes) == 1:
            yield (count,)
        else:
            for counts in _counts(wanted_ml - count * volumes[0], volumes[1:], spare):
                yield (count, *counts)


def _quarters(quarters: int) -> str:
    whole, over = divmod(quarters, 4)
    fraction = ("", "1/4", "1/2", "3/4")[over]
    return f"{whole} {fraction}".strip() if whole else fraction
