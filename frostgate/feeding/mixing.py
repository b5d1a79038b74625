"""From portions to buckets: what goes into each, and what the pots get."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Literal

from frostgate.errors import InputError
from frostgate.feeding import cautions, stops
from frostgate.feeding.buckets import fill_buckets, notes_on_buckets, split_into_buckets
from frostgate.feeding.dressing import dress
from frostgate.feeding.phases import YOUNG_SHARE
from frostgate.feeding.scoops import Tools
from frostgate.feeding.solution import Part, ec_ms_cm, elements_mg, part_of
from frostgate.terms.feedings import Bucket, Dose, Mix
from frostgate.terms.garden import Garden, PotGroup
from frostgate.terms.phases import Portion
from frostgate.terms.products import Product


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
    >>> from frostgate.feeding.products import read_product
    >>> from frostgate.quantities import parse_volume_l
    >>> from frostgate.terms.garden import Site
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
        stops.refuse_dry()
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
    """Tell what one bucket holds when so much of some products goes into it.

    Parameters
    ----------
    garden
        Its products and limits.
    measured
        By product name, such as ``3 tbsp`` or ``50 g``.
    volume_l
        Of the bucket [L].
    pots
        How many share it; 0 where that is not known.
    group
        Whose they are; None where that is not known.

    Raises
    ------
    UnsafeMixError
        Above a label's maximum or the limit of conductivity, or where a product's form does not suit.
    InputError
        Where no such product is listed, or an amount cannot be read.

    Examples
    --------
    >>> from pathlib import Path
    >>> from frostgate.feeding.products import read_product
    >>> from frostgate.terms.garden import Site
    >>> garden = Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),),
    ...                 products=(read_product("Spring feed 24-8-16 soluble 1 tbsp/gal 6 g/tsp"),))
    >>> round(mix_as_measured(garden, {"Spring feed": "3 tbsp"}, 18.927).ppm["N"])
    685
    """
    from frostgate.feeding.labels import weigh_measured  # a morning's mixes are read from no label

    doses = []
    for name, text in measured.items():
        product = garden.product(name)
        stops.refuse_form(product, "liquid")
        grams = weigh_measured(text, product.density_g_ml)
        part = part_of(product, ())
        stops.refuse_above_label(Part(product=product, grams_l=grams / volume_l, most=part.most))
        millilitres, spoons = grams / product.density_g_ml, text.strip()
        doses.append(
            Dose(product=product, grams=grams, millilitres=millilitres, wanted_g=grams, spoons=spoons)
        )
    return make_mix(garden, (Bucket(volume_l=volume_l, pots=pots, doses=tuple(doses)),), pots, group=group)


def parts_of(garden: Garden, portions: Sequence[Portion], share: float = 1.0) -> tuple[Part, ...]:
    """Work out what goes into a litre, and stop what the labels forbid.

    Raises
    ------
    UnsafeMixError
        Where a product is granular, or stronger than its label allows.
    InputError
        Where there are no portions, or one cannot be worked out.

    Examples
    --------
    >>> from pathlib import Path
    >>> from frostgate.feeding.products import read_product
    >>> from frostgate.terms.garden import Site
    >>> garden = Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),),
    ...                 products=(read_product("Feed 20-20-20 soluble 1 g/l"),))
    >>> parts_of(garden, [Portion(product="Feed", strength=0.5)])[0].grams_l
    0.5
    """
    if not portions:
        raise InputError("a mix needs a product", remedy="Name one.")
    parts = []
    for name in dict.fromkeys(portion.product for portion in portions):
        product = garden.product(name)
        stops.refuse_form(product, "liquid")
        part = part_of(product, [portion for portion in portions if portion.product == name], share)
        stops.refuse_above_label(part)
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
    """Tell what filled buckets give, with warnings and cautions.

    Parameters
    ----------
    garden
        Its limits and scoops.
    buckets
        As filled.
    pots
        That share them; 0 where that is not known.
    group
        Whose they are.
    halved
        Whether their strength was halved for young roots.
    dilution
        Litres of feed that a litre in the bucket becomes: above 1 for a stock solution.
    notes
        Further warnings, which come first.

    Raises
    ------
    UnsafeMixError
        Where the known conductivity is above the garden's limit.
    """
    rules, tools = garden.rules, Tools(scoops=garden.scoops, units=garden.units)
    for bucket in dict.fromkeys(buckets):
        stops.refuse_salty(_grams_l([bucket], dilution), rules)
    grams_l, volume_l = _grams_l(buckets, dilution), sum(bucket.volume_l for bucket in buckets) * dilution
    ppm = elements_mg(grams_l)
    doses = list(dict.fromkeys(itertools.chain.from_iterable(bucket.doses for bucket in buckets)))
    warnings = (
        *notes,
        *cautions.warnings_of(grams_l, rules, group=group, halved=halved),
        *cautions.warnings_of_doses(doses, tools),
    )
    largest_l = max(bucket.volume_l for bucket in buckets)
    return Mix(
        buckets=tuple(buckets),
        ppm=ppm,
        per_pot_mg={element: mg_l * volume_l / pots for element, mg_l in ppm.items()} if pots else {},
        pots=pots,
        ec_ms_cm=ec_ms_cm(grams_l, rules),
        warnings=tuple(dict.fromkeys(warnings)),
        cautions=cautions.usual_cautions(largest_l, garden.units),
    )


def _grams_l(buckets: Sequence[Bucket], dilution: float) -> dict[Product, float]:
    volume_l = sum(bucket.volume_l for bucket in buckets) * dilution
    grams: dict[Product, list[float]] = {}
    for dose in itertools.chain.from_iterable(bucket.doses for bucket in buckets):
        grams.setdefault(dose.product, []).append(dose.grams)
    return {product: math.fsum(masses) / volume_l for product, masses in grams.items()}
