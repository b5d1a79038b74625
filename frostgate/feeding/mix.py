"""What to mix: buckets, top-dressings, stock solutions, the feedings to come; and the shopping for them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from frostgate.errors import InputError, UnsafeMixError
from frostgate.feeding import cautions
from frostgate.feeding.labels import weigh_measured
from frostgate.feeding.scoops import measure, weigh_out
from frostgate.feeding.strength import Part, elements_mg, known_ec_ms_cm, part_of, parts_of
from frostgate.model.feedings import Bucket, Dose, Feeding, FeedingKind, Mix, Portion, Product
from frostgate.model.garden import Garden, PotGroup
from frostgate.units import Units, say_volume

_EXACT = 1e-6
MOST_BUCKETS = 10_000  # for one feeding: at a minute each they take a week without sleep
SHOPPING_MARGIN = 0.1  # for spilling and for scoops heaped too high: common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupMix:
    """What is mixed for one group."""

    group: PotGroup | None  # None for one bucketful
    phase: str | None = None  # of the season, where one was named
    mix: Mix
    ratio: float | None = None  # of an injector [litres of feed from one of stock]; its tank is the bucket
    units: Units  # to show it in


@dataclass(frozen=True, slots=True, kw_only=True)
class MixedFeeding:
    """A feeding and what is mixed for its group."""

    feeding: Feeding  # its reason also tells of a mix that must not be made
    mix: Mix | None  # None where the feeding is done or left out, or its mix must not be made
    refusal: str | None = None  # why it must not be made


def mix_season(garden: Garden, feedings: Iterable[Feeding]) -> tuple[MixedFeeding, ...]:
    """Work out the mix of every feeding that is still to come."""
    return tuple(_mixed(garden, feeding) for feeding in feedings)


def _mixed(garden: Garden, feeding: Feeding) -> MixedFeeding:
    if feeding.status in {"done", "left out"}:
        return MixedFeeding(feeding=feeding, mix=None)
    try:
        mix = mix_for_group(garden, garden.group(feeding.group), feeding.portions, feeding.kind)
    except (UnsafeMixError, InputError) as refusal:
        told = replace(feeding, reason=f"{feeding.reason}; not mixed: {refusal}")
        return MixedFeeding(feeding=told, mix=None, refusal=str(refusal))
    return MixedFeeding(feeding=feeding, mix=mix)


def mix_for_group(
    garden: Garden, group: PotGroup, portions: Sequence[Portion], kind: FeedingKind = "liquid"
) -> Mix:
    """Work out what to mix for a group, in whole buckets and a part one, or to lay on each pot."""
    parts = _parts(garden, group, portions, kind)
    if kind == "top-dressing":
        return _dress(garden, group, parts)
    if group.per_pot_l is None:
        what = f"how much solution {group.name!r} gets is not stated"
        raise InputError(what, file=garden.file, remedy='Add per_pot = "3 qt".')
    per_pot_l, vessel_l = group.per_pot_l, math.inf if garden.vessel_l is None else garden.vessel_l
    share, vessel = (say_volume(litres, garden.units) for litres in (per_pot_l, vessel_l))
    if group.count * per_pot_l > MOST_BUCKETS * vessel_l:
        what = f"{group.count:,} pots at {share} take more than {MOST_BUCKETS:,} buckets of {vessel}"
        raise InputError(what, remedy="Check the bucket and what each pot gets, or take a larger tank.")
    buckets = split_into_buckets(group.count, per_pot_l, garden.vessel_l)
    notes = []
    if garden.vessel_l is None:
        notes.append("No bucket or tank is stated: all is mixed at once.")
    elif not buckets[0].pots:
        fillings = f"{len(buckets) // group.count} fillings for each pot"
        notes.append(f"One pot needs {share}, more than the bucket of {vessel} holds: {fillings}.")
    notes += cautions.warn_of_young(group, parts)
    filled = [replace(bucket, doses=_measure(garden, parts, bucket.volume_l)) for bucket in buckets]
    return _make_mix(garden, filled, group.count, notes)


def mix_as_measured(
    garden: Garden, measured: Mapping[str, str], volume_l: float, pots: int = 0, group: PotGroup | None = None
) -> Mix:
    """Tell what one bucket holds when so much of some products goes into it."""
    parts, doses = [], []
    for name, text in measured.items():
        product = garden.product(name)
        cautions.refuse_form(product, "liquid")
        grams = weigh_measured(text, product.density_g_ml)
        part = replace(part_of(product, ()), asked_g=grams / volume_l, grams=grams / volume_l)
        cautions.refuse_above_label(part)
        parts.append(part)
        doses.append(Dose(product=product, grams=grams, wanted_g=grams, spoons=text.strip()))
    bucket = Bucket(volume_l=volume_l, pots=pots, doses=tuple(doses))
    return _make_mix(garden, [bucket], pots, cautions.warn_of_young(group, parts, measured=True))


def _dress(garden: Garden, group: PotGroup, parts: Sequence[Part]) -> Mix:
    """Tell what is laid on one pot, or around one tree."""
    doses = _measure(garden, parts)
    warnings = (
        *cautions.warn_of_tree(parts, garden.units),
        *cautions.warn_of_young(group, parts),
        *cautions.warn_of_doses(doses, garden.units),
    )
    return Mix(
        buckets=(),
        ppm={},
        per_pot_mg=elements_mg({dose.product: dose.grams for dose in doses}),
        pots=group.count,
        per_pot=doses,
        warnings=warnings,
        cautions=(*cautions.USUAL, *cautions.LAID),
    )


def split_into_buckets(pots: int, per_pot_l: float, vessel_l: float | None) -> tuple[Bucket, ...]:
    """Share the solution for some pots out to whole buckets, still empty, and a last part one.

    A pot is never split between buckets that hold at least one pot's share. Where one pot needs more, each
    pot gets several equal fillings, and the last of them counts it.
    """
    if vessel_l is None:
        return (Bucket(volume_l=pots * per_pot_l, pots=pots),)
    together = math.floor(vessel_l / per_pot_l + _EXACT)
    if together == 0:
        fillings = math.ceil(per_pot_l / vessel_l - _EXACT)
        part = Bucket(volume_l=per_pot_l / fillings, pots=0)
        return (*[part] * (fillings - 1), replace(part, pots=1)) * pots
    whole, rest = divmod(pots, together)
    last = (Bucket(volume_l=rest * per_pot_l, pots=rest),) if rest else ()
    return (Bucket(volume_l=together * per_pot_l, pots=together),) * whole + last


def _measure(garden: Garden, parts: Sequence[Part], litres: float = 1.0) -> tuple[Dose, ...]:
    """Measure products for so much solution, or for one pot, never above what their labels allow."""
    scoops, units = garden.scoops, garden.units
    return tuple(
        measure(part.product, part.grams * litres, part.limit_g * litres, scoops=scoops, units=units)
        for part in parts
    )


def _parts(
    garden: Garden, group: PotGroup | None, portions: Sequence[Portion], kind: FeedingKind
) -> list[Part]:
    """Work out how much of each product is wanted, and stop what does not suit or the labels forbid."""
    if not portions:
        what = "a mix" if kind == "liquid" else "a top-dressing"
        raise InputError(f"{what} needs a product", remedy="Name one.")
    for portion in portions:
        cautions.refuse_form(garden.product(portion.product), kind)
    parts = parts_of(garden, group, portions, kind)
    for part in parts:
        cautions.refuse_above_label(part)
    return parts


def _make_mix(
    garden: Garden, buckets: Sequence[Bucket], pots: int, notes: Iterable[str], dilution: float = 1.0
) -> Mix:
    """Tell what filled buckets give once diluted, with warnings and cautions."""
    for bucket in dict.fromkeys(buckets):
        cautions.refuse_salty(_grams_l([bucket], dilution), garden.rules)
    grams_l, volume_l = _grams_l(buckets, dilution), sum(bucket.volume_l for bucket in buckets) * dilution
    ppm = elements_mg(grams_l)
    doses = list(dict.fromkeys(itertools.chain.from_iterable(bucket.doses for bucket in buckets)))
    warnings = (
        *notes,
        *cautions.warn_of_solution(grams_l, garden.rules),
        *cautions.warn_of_doses(doses, garden.units),
    )
    known_ec, silent = known_ec_ms_cm(grams_l, garden.rules)
    return Mix(
        buckets=tuple(buckets),
        ppm=ppm,
        per_pot_mg={element: mg_l * volume_l / pots for element, mg_l in ppm.items()} if pots else {},
        pots=pots,
        ec_ms_cm=None if silent else known_ec,
        warnings=tuple(dict.fromkeys(warnings)),
        cautions=cautions.usual_cautions(max(bucket.volume_l for bucket in buckets), garden.units),
    )


def _grams_l(buckets: Sequence[Bucket], dilution: float) -> dict[Product, float]:
    volume_l = sum(bucket.volume_l for bucket in buckets) * dilution
    grams: dict[Product, list[float]] = {}
    for dose in itertools.chain.from_iterable(bucket.doses for bucket in buckets):
        grams.setdefault(dose.product, []).append(dose.grams)
    return {product: math.fsum(masses) / volume_l for product, masses in grams.items()}


def make_stock(
    garden: Garden, portions: Sequence[Portion], ratio: float, stock_l: float, group: PotGroup | None = None
) -> Mix:
    """Work out what goes into a tank of stock solution, the one bucket of the mix, and what its feed gives.

    A litre of stock makes so many litres of feed. Powders are weighed, liquids measured in mL.
    """
    parts = _parts(garden, group, portions, "liquid")
    cautions.refuse_calcium([part.product for part in parts])
    feed_l = ratio * stock_l
    doses = tuple(
        weigh_out(part.product, part.grams * feed_l, part.limit_g * feed_l, units=garden.units)
        for part in parts
    )
    products_l = math.fsum(dose.millilitres for dose in doses) / 1000.0
    if products_l > stock_l:
        raise InputError(
            f"the products alone fill {say_volume(products_l, garden.units)}, more than the tank",
            value=say_volume(stock_l, garden.units),
            remedy="Use a smaller ratio, such as 1:15, or a weaker feed.",
        )
    tank = Bucket(volume_l=stock_l, pots=0, doses=doses)
    mix = _make_mix(garden, [tank], 0, cautions.warn_of_young(group, parts), dilution=ratio)
    mix = replace(mix, cautions=(*cautions.USUAL, *cautions.WATERED, *cautions.INJECTED))
    if group is not None and group.per_pot_l is not None:
        per_pot_mg = {element: mg_l * group.per_pot_l for element, mg_l in mix.ppm.items()}
        mix = replace(mix, pots=group.count, per_pot_mg=per_pot_mg)
    return mix


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """How much of one product the rest of the season takes."""

    product: Product
    feedings: int  # that take some of it
    planned_g: float  # what they take [g]
    grams: float  # the same with the margin [g]
    packages: int | None  # whole ones that hold so much; None where the package's size is not stated
    cost: float | None  # of those, in the garden's currency; None where size or price is not stated

    @property
    def lacks(self) -> tuple[str, ...]:
        """What the garden does not state of this product."""
        stated = {"pack": self.product.pack_g, "price": self.product.price}
        return tuple(name for name, value in stated.items() if value is None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shopping:
    """What the rest of the season takes of all products."""

    needs: tuple[Need, ...]  # in the garden's order of products
    unmixed: int = 0  # feedings still to come whose mix must not be made: what they take is not in it

    @property
    def cost(self) -> float | None:
        """What all packages cost whose cost is known, in the garden's currency; None where no cost is."""
        known = [need.cost for need in self.needs if need.cost is not None]
        return math.fsum(known) if known else None

    @property
    def is_complete(self) -> bool:
        """Whether every cost is known; if not, the sum is at least so much."""
        return all(need.cost is not None for need in self.needs)


def season_shopping(garden: Garden, mixed: Sequence[MixedFeeding]) -> Shopping:
    """Add up what the feedings still to come take of each product, those that wait without a date too."""
    by_name: dict[str, list[float]] = {}
    for one in mixed:
        for name, grams in taken_g(one.mix).items() if one.mix else ():
            by_name.setdefault(name, []).append(grams)
    needs = (_need(one, by_name[one.name]) for one in garden.products if one.name in by_name)
    return Shopping(needs=tuple(needs), unmixed=sum(one.refusal is not None for one in mixed))


def taken_g(mix: Mix) -> dict[str, float]:
    """Return the grams of each product that all buckets and all pots of a mix take."""
    grams: dict[str, float] = {}
    poured = [(dose, 1) for bucket in mix.buckets for dose in bucket.doses]
    for dose, times in (*poured, *((dose, mix.pots) for dose in mix.per_pot)):
        grams[dose.product.name] = grams.get(dose.product.name, 0.0) + dose.grams * times
    return grams


def _need(product: Product, by_feeding_g: Sequence[float]) -> Need:
    planned_g = math.fsum(by_feeding_g)
    grams = planned_g * (1.0 + SHOPPING_MARGIN)
    packages = None if product.pack_g is None else math.ceil(grams / product.pack_g - 1e-9)
    return Need(
        product=product,
        feedings=len(by_feeding_g),
        planned_g=planned_g,
        grams=grams,
        packages=packages,
        cost=None if packages is None or product.price is None else packages * product.price,
    )
