"""What to mix for a group of pots: buckets, top-dressings, stock solutions."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

from frostgate.errors import InputError, UnsafeMixError
from frostgate.feeding import safety
from frostgate.feeding.phases import YOUNG_SHARE
from frostgate.feeding.scoops import Tools, measure, weigh_out
from frostgate.feeding.solution import Part, ec_ms_cm, elements_mg, part_of
from frostgate.model.feedings import Bucket, Dose, Mix, Portion
from frostgate.model.garden import Garden, PotGroup
from frostgate.model.products import Product, Rate
from frostgate.units import say_mass, say_volume

_EXACT = 1e-6


class Filling(NamedTuple):
    """Solution mixed at one go [L], and how many pots have all of theirs with it."""

    volume_l: float
    pots: int


def split_into_buckets(pots: int, per_pot_l: float, vessel_l: float | None) -> tuple[Filling, ...]:
    """Share the solution for some pots out to whole buckets and a last part one.

    A pot is never split between buckets that hold at least one pot's share. Where one pot needs more, each
    pot gets several equal fillings, and the last of them counts it.
    """
    if vessel_l is None:
        return (Filling(pots * per_pot_l, pots),)
    together = math.floor(vessel_l / per_pot_l + _EXACT)
    if together == 0:
        fillings = math.ceil(per_pot_l / vessel_l - _EXACT)
        volume_l = per_pot_l / fillings
        return (*[Filling(volume_l, 0)] * (fillings - 1), Filling(volume_l, 1)) * pots
    whole, rest = divmod(pots, together)
    last = (Filling(rest * per_pot_l, rest),) if rest else ()
    return (Filling(together * per_pot_l, together),) * whole + last


def fill_buckets(garden: Garden, parts: Sequence[Part], fillings: Iterable[Filling]) -> tuple[Bucket, ...]:
    """Measure the products for each filling, never above what their labels allow."""
    tools = Tools(scoops=garden.scoops, units=garden.units)
    filled: dict[Filling, Bucket] = {}
    buckets = []
    for filling in fillings:
        if filling not in filled:
            doses = tuple(
                measure(
                    part.product, part.grams_l * filling.volume_l, tools, part.most_g_l * filling.volume_l
                )
                for part in parts
            )
            filled[filling] = Bucket(volume_l=filling.volume_l, pots=filling.pots, doses=doses)
        buckets.append(filled[filling])
    return tuple(buckets)


def notes_on_buckets(garden: Garden, group: PotGroup) -> Iterator[str]:
    """Tell where no bucket is stated, or one pot needs more than it holds."""
    per_pot_l, vessel_l = group.per_pot_l or 0.0, garden.vessel_l
    if vessel_l is None:
        yield "No bucket or tank is stated: all is mixed at once."
    elif per_pot_l > vessel_l * (1.0 + _EXACT):
        fillings = math.ceil(per_pot_l / vessel_l - _EXACT)
        yield (
            f"One pot needs {say_volume(per_pot_l, garden.units)}, more than the bucket of "
            f"{say_volume(vessel_l, garden.units)} holds: {fillings} fillings for each pot."
        )


def mix_for_group(
    garden: Garden,
    group: PotGroup,
    portions: Sequence[Portion],
    kind: Literal["liquid", "top-dressing"] = "liquid",
    *,
    dry: bool = False,
    halve_young: bool = True,
) -> Mix:
    """Work out what to mix, or to lay, for a group of pots.

    Parameters
    ----------
    garden
        Its products, bucket, scoops and limits.
    group
        Who is fed.
    portions
        What, and how strong.
    kind
        ``liquid`` (poured) or ``top-dressing`` (laid on the soil).
    dry
        Whether the root balls are dry.
    halve_young
        Newly potted trees and cuttings get half of each strength; False where that was already seen to.

    Returns
    -------
    Mix
        Whole buckets, then the last part one; or what is laid on one pot or around one tree.

    Raises
    ------
    UnsafeMixError
        Above a label's maximum or the limit of conductivity, for dry root balls, or where a product's form
        does not suit.
    InputError
        Where the garden does not state what is needed, or an amount is too small to measure.

    Examples
    --------
    >>> from pathlib import Path
    >>> from frostgate.feeding.labels import read_product
    >>> from frostgate.units import parse_volume_l
    >>> from frostgate.model.garden import Site
    >>> garden = Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),), units="us",
    ...                 vessel_l=parse_volume_l("5 gal"),
    ...                 products=(read_product("Spring feed 24-8-16 soluble 1 tbsp/gal"),))
    >>> figs = PotGroup(name="old figs", tree="fig", count=12, stage="established", pot_l=26.5,
    ...                 per_pot_l=parse_volume_l("1 gal"), winters="outdoors", movable=False)
    >>> mix = mix_for_group(garden, figs, [Portion(product="Spring feed", strength=1.0)])
    >>> [(bucket.pots, bucket.doses[0].spoons) for bucket in mix.buckets]
    [(5, '5 tbsp'), (5, '5 tbsp'), (2, '2 tbsp')]
    """
    if dry:
        safety.refuse_dry()
    halved = halve_young and group.is_young
    share = YOUNG_SHARE if halved else 1.0
    if kind == "top-dressing":
        return dress(garden, group, portions, share)
    parts = parts_of(garden, portions, share)
    if group.per_pot_l is None:
        raise InputError(
            f"how much solution {group.name!r} gets is not stated", remedy='Add per_pot = "1 gal".'
        )
    fillings = split_into_buckets(group.count, group.per_pot_l, garden.vessel_l)
    buckets = fill_buckets(garden, parts, fillings)
    return make_mix(
        garden, buckets, group.count, group=group, halved=halved, notes=notes_on_buckets(garden, group)
    )


def mix_as_measured(
    garden: Garden, measured: Mapping[str, str], volume_l: float, pots: int = 0, group: PotGroup | None = None
) -> Mix:
    """Tell what one bucket holds when so much of some products goes into it."""
    from frostgate.feeding.labels import weigh_measured

    doses = []
    for name, text in measured.items():
        product = garden.product(name)
        safety.refuse_form(product, "liquid")
        grams = weigh_measured(text, product.density_g_ml)
        part = part_of(product, ())
        safety.refuse_above_label(Part(product=product, grams_l=grams / volume_l, most=part.most))
        millilitres, spoons = grams / product.density_g_ml, text.strip()
        doses.append(
            Dose(product=product, grams=grams, millilitres=millilitres, wanted_g=grams, spoons=spoons)
        )
    return make_mix(garden, (Bucket(volume_l=volume_l, pots=pots, doses=tuple(doses)),), pots, group=group)


def parts_of(garden: Garden, portions: Sequence[Portion], share: float = 1.0) -> tuple[Part, ...]:
    """Work out what goes into a litre, and stop what the labels forbid."""
    if not portions:
        raise InputError("a mix needs a product", remedy="Name one.")
    parts = []
    for name in dict.fromkeys(portion.product for portion in portions):
        product = garden.product(name)
        safety.refuse_form(product, "liquid")
        part = part_of(product, [portion for portion in portions if portion.product == name], share)
        safety.refuse_above_label(part)
        parts.append(part)
    return tuple(parts)


def make_mix(
    garden: Garden,
    buckets: Sequence[Bucket],
    pots: int,
    *,
    group: PotGroup | None = None,
    halved: bool = False,
    dilution: float = 1.0,
    notes: Iterable[str] = (),
) -> Mix:
    """Tell what filled buckets give, with warnings and cautions."""
    rules, tools = garden.rules, Tools(scoops=garden.scoops, units=garden.units)
    for bucket in dict.fromkeys(buckets):
        safety.refuse_salty(_grams_l([bucket], dilution), rules)
    grams_l, volume_l = _grams_l(buckets, dilution), sum(bucket.volume_l for bucket in buckets) * dilution
    ppm = elements_mg(grams_l)
    doses = list(dict.fromkeys(itertools.chain.from_iterable(bucket.doses for bucket in buckets)))
    warnings = (
        *notes,
        *safety.warnings_of(grams_l, rules, group=group, halved=halved),
        *safety.warnings_of_doses(doses, tools),
    )
    largest_l = max(bucket.volume_l for bucket in buckets)
    return Mix(
        buckets=tuple(buckets),
        ppm=ppm,
        per_pot_mg={element: mg_l * volume_l / pots for element, mg_l in ppm.items()} if pots else {},
        pots=pots,
        ec_ms_cm=ec_ms_cm(grams_l, rules),
        warnings=tuple(dict.fromkeys(warnings)),
        cautions=safety.usual_cautions(largest_l, garden.units),
    )


def _grams_l(buckets: Sequence[Bucket], dilution: float) -> dict[Product, float]:
    volume_l = sum(bucket.volume_l for bucket in buckets) * dilution
    grams: dict[Product, list[float]] = {}
    for dose in itertools.chain.from_iterable(bucket.doses for bucket in buckets):
        grams.setdefault(dose.product, []).append(dose.grams)
    return {product: math.fsum(masses) / volume_l for product, masses in grams.items()}


def dress(garden: Garden, group: PotGroup, portions: Sequence[Portion], share: float = 1.0) -> Mix:
    """Work out what is laid on one pot, or around one tree.

    A rate by height is capped at the label's largest rate for a tree.
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
        *safety.warn_of_young(group, share < 1.0),
        *safety.warnings_of_doses(doses, tools),
    )
    return Mix(
        buckets=(),
        ppm={},
        per_pot_mg=elements_mg({dose.product: dose.grams for dose in doses}),
        pots=group.count,
        per_pot=tuple(doses),
        warnings=warnings,
        cautions=(*safety.USUAL, *safety.LAID),
    )


def _lay(product: Product, group: PotGroup, strength: float, tools: Tools) -> tuple[Dose, str | None]:
    safety.refuse_form(product, "top-dressing")
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
    if wanted_g < full_g * strength * (1.0 - safety.CALM):
        asked = say_mass(full_g * strength, tools.units)
        capped = (
            f"{product.name}: by height a tree would get {asked}; the label allows {most.text} and no more."
        )
    return dose, capped


def _most(product: Product, rate: Rate, strength: float) -> Rate:
    """The largest rate; one for a tree caps a rate by height, every other one stops what is above it."""
    most = product.most if product.most is not None and product.most.per != "litre" else rate
    caps = rate.per == "metre" and most.per == "pot"
    if not caps and most.per == rate.per and rate.grams * strength > most.grams * (1.0 + safety.CALM):
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


HIGHEST_RATIO = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """A tank of stock solution.

    Parameters
    ----------
    ratio
        Litres of feed that a litre of stock makes.
    stock_l
        Of the tank [L].
    mix
        Its one bucket is the tank; ppm and conductivity are those of the feed at the hose.
    """

    ratio: float
    stock_l: float
    mix: Mix

    @property
    def feed_l(self) -> float:
        """How much feed the tank makes [L]."""
        return self.stock_l * self.ratio

    @property
    def grams_l(self) -> dict[Product, float]:
        """How much of each product is in a litre of stock [g/L]."""
        return {dose.product: dose.grams / self.stock_l for dose in self.mix.buckets[0].doses}


def parse_ratio(text: str) -> float:
    """Read an injector's ratio, such as ``1:100``."""
    match = re.fullmatch(r"\s*1\s*[:/]\s*(\d+(?:\.\d+)?)\s*", text)
    ratio = 0.0 if match is None else float(match[1])
    if not 1.0 < ratio <= HIGHEST_RATIO:
        raise InputError("not a ratio of an injector", value=text, remedy="Write it as 1:100.")
    return ratio


def make_stock(
    garden: Garden,
    portions: Sequence[Portion],
    ratio: float,
    stock_l: float,
    *,
    group: PotGroup | None = None,
    halve_young: bool = True,
) -> Stock:
    """Work out what goes into a tank of stock solution; powders are weighed, liquids measured in mL."""
    halved = halve_young and group is not None and group.is_young
    parts = parts_of(garden, portions, YOUNG_SHARE if halved else 1.0)
    safety.refuse_calcium([part.product for part in parts])
    feed_l = ratio * stock_l
    doses = tuple(
        weigh_out(part.product, part.grams_l * feed_l, garden.units, part.most_g_l * feed_l) for part in parts
    )
    _refuse_overfull(doses, stock_l, garden)
    tank = Bucket(volume_l=stock_l, pots=0, doses=doses)
    plain = replace(garden, scoops=())  # weighed, so that no scoop is too large or counted too often
    mix = make_mix(plain, [tank], 0, group=group, halved=halved, dilution=ratio)
    return Stock(ratio=ratio, stock_l=stock_l, mix=_with_pots(mix, group))


def _with_pots(mix: Mix, group: PotGroup | None) -> Mix:
    """Add what each pot gets, where its share of feed is known, and the cautions of an injector."""
    said = (*safety.USUAL, *safety.WATERED, *safety.INJECTED)
    if group is None or group.per_pot_l is None:
        return replace(mix, cautions=said)
    per_pot_mg = {element: mg_l * group.per_pot_l for element, mg_l in mix.ppm.items()}
    return replace(mix, pots=group.count, per_pot_mg=per_pot_mg, cautions=said)


def _refuse_overfull(doses: Sequence[Dose], stock_l: float, garden: Garden) -> None:
    products_l = math.fsum(dose.millilitres for dose in doses) / 1000.0
    if products_l > stock_l:
        raise InputError(
            f"the products alone fill {say_volume(products_l, garden.units)}, more than the tank",
            value=say_volume(stock_l, garden.units),
            remedy="Use a smaller ratio, such as 1:15, or a weaker feed.",
        )
