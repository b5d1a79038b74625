"""What is to be mixed, found out from options and the garden file, and mixed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from frostgate.errors import FrostgateError, InputError
from frostgate.feeding.cautions import refuse_dry, refuse_form
from frostgate.feeding.labels import GRADE, parse_ec_ms_cm, read_product
from frostgate.feeding.mix import GroupMix, make_stock, mix_as_measured, mix_for_group
from frostgate.feeding.phases import phase_named, phases_of, suits
from frostgate.garden.written import parse_strength
from frostgate.model.feedings import FeedingKind, Phase, Portion, Product
from frostgate.model.garden import Garden, PotGroup, Scoop, Site, Stage
from frostgate.service.request import option
from frostgate.units import Measured, Units, parse_length_m, parse_ratio, parse_volume_l, written_units

NO_FILE = Path("the options")  # in place of a garden file's name
MOST_POTS = 100_000
_EXACT = 1e-6


def read_strength(text: str) -> float:
    """Read a share of the label's rate; more than the rate is said in %."""
    percent = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*%\s*", text)
    return float(percent[1]) / 100.0 if percent and float(percent[1]) > 100.0 else parse_strength(text)


def read_ppm(text: str) -> float:
    """Read parts per million."""
    match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(?:ppm)?\s*", text, re.IGNORECASE)
    if match is None or not 0.0 < float(match[1]) < 1e5:
        raise InputError("not parts per million", value=text, remedy="Write it as 150.")
    return float(match[1])


def _read_scoop(text: str) -> Measured:
    """Read a scoop, and space its name as it is shown: ``2.5 tsp``."""
    return Measured(parse_volume_l(text), re.sub(r"(?<=[\d½¼¾⅓⅔⅛])(?=[a-z])", " ", text.strip().lower()))


@dataclass(frozen=True, slots=True, kw_only=True)
class MixOptions:
    """What is to be mixed; where nothing is stated, the garden file, or the usual, holds.

    Volumes are in [L], a height in [m], an EC in [mS/cm].
    """

    group: str | None = option("Only this group of the garden.  [default: all that suit]", metavar="NAME")
    phase: str | None = option("Mix what this phase of the garden's season feeds.", metavar="NAME")
    products: tuple[str, ...] = option(
        'A product of the garden file by name, or one by its label, such as "First feed 17-5-9 soluble '
        '2 tsp/gal"; behind it may stand max 3 tsp/gal, 5.1 g/tsp, organic, Mg 2, ec 0.9 mS/cm at 100 ppm N. '
        "May be repeated.",
        "--product",
        default=(),
        metavar="NAME|LABEL",
    )
    strength: float | None = option(
        "Of the label's rate: full, half, quarter or 75%.  [default: as the phase says, or full]",
        read=read_strength,
        metavar="SHARE",
    )
    n_ppm: float | None = option("Nitrogen wanted in the solution [mg/L].", read=read_ppm, metavar="PPM")
    pots: int | None = option("How many pots or trees.", metavar="N")
    per_pot: Measured | None = option("Solution for each, such as 3qt or 3l.")
    bucket: Measured | None = option("What the bucket or tank holds, such as 3.5gal.")
    scoops: tuple[Measured, ...] = option(
        "A measure at hand, such as 2.5tsp or 12ml; may be repeated.",
        "--scoop",
        default=(),
        read=_read_scoop,
        metavar="VOLUME",
    )
    stage: Stage | None = option("Of the pots; young roots get half strength at most.")
    height: Measured | None = option(
        "Of the trees, where a rate goes by it, such as 6ft.",
        read=lambda text: Measured(parse_length_m(text), text),
        metavar="LENGTH",
    )
    dry: bool = option("The root balls are dry.", default=False)
    measured: tuple[str, ...] = option(
        'Tell what the bucket holds with this in it, such as "First feed=3 tbsp"; may be repeated.',
        default=(),
        metavar="NAME=AMOUNT",
    )
    injector: float | None = option(
        "Make a stock solution for this ratio, such as 1:100.", read=parse_ratio, metavar="RATIO"
    )
    stock: Measured | None = option("What the stock tank holds, such as 3.5gal.")
    ec_limit: float | None = option(
        "Mix nothing above it [mS/cm].  [default: 3, from memory]", read=parse_ec_ms_cm, metavar="MS/CM"
    )
    water_ec: float | None = option(
        "Of the water itself, as measured [mS/cm].", read=parse_ec_ms_cm, metavar="MS/CM"
    )
    units: Units | None = option(
        "Of what is shown.  [default: as the garden file, or the quantities, are written]"
    )


def mix_groups(options: MixOptions, written: Garden | None = None) -> tuple[GroupMix, ...]:
    """Work out what the options ask for, by a garden file where there is one."""
    if options.dry:
        refuse_dry()
    garden, named = _join(options, written)
    if options.measured:
        return (_as_measured(options, garden, named),)
    if options.phase is not None and options.products:
        raise InputError("both a phase and a product are named", remedy="Give --phase or --product.")
    phase = None if options.phase is None else phase_named(garden, options.phase)
    if phase is None and not named:
        raise _nothing_named(garden)
    kind = phase.kind if phase else _kind(named)
    portions = _portions(options, garden, phase, named)
    if written is None or options.pots is not None:
        group = _own_group(options, garden, kind)
        is_counted = options.pots is not None or options.per_pot is not None
        made = _for_group(options, garden, group, portions, kind)
        return (made if is_counted else _one_bucketful(made),)
    groups, several = _groups(options, garden, phase, kind, named), []
    for group in groups:
        try:
            made = _for_group(options, garden, group, portions, kind)
        except FrostgateError as error:
            if len(groups) == 1:
                raise
            what = f"{group.name}: {error.what}"
            raise type(error)(what, file=error.file, value=error.value, remedy=error.remedy) from None
        several.append(replace(made, phase=phase.name if phase else None))
    return tuple(several)


def _join(options: MixOptions, written: Garden | None) -> tuple[Garden, tuple[Product, ...]]:
    """Return the garden with what the options state in place of its own, and the products they name."""
    garden = written or Garden(file=NO_FILE, sites=(Site(name="options"),))
    named = tuple(_product(text, garden) for text in options.products)
    limits = {"ec_limit_ms_cm": options.ec_limit, "water_ec_ms_cm": options.water_ec}
    stated: dict[str, Any] = {name: ec_ms_cm for name, ec_ms_cm in limits.items() if ec_ms_cm is not None}
    scoops = tuple(Scoop(name=scoop.text, volume_ml=scoop.amount * 1000.0) for scoop in options.scoops)
    return replace(
        garden,
        products=tuple({product.name: product for product in (*garden.products, *named)}.values()),
        vessel_l=options.bucket.amount if options.bucket else garden.vessel_l,
        scoops=scoops or garden.scoops,
        rules=replace(garden.rules, **stated),
        units=options.units or (garden.units if written else _units(options, named)),
    ), tuple(dict.fromkeys(named))


def _product(text: str, garden: Garden) -> Product:
    listed = any(product.name == text.strip() for product in garden.products)
    if not listed and (re.search(GRADE, text) or not garden.products):
        return read_product(text)
    return garden.product(text.strip())


def _units(options: MixOptions, named: Sequence[Product]) -> Units:
    """Answer in the units in which the quantities are written."""
    stated = (options.bucket, options.per_pot, options.stock, *options.scoops, options.height)
    texts = [one.text for one in stated if one]
    texts += [product.rate.text for product in named if product.rate]
    texts += [text.rpartition("=")[2] for text in options.measured]
    return written_units(texts[0]) if texts else "metric"


def _nothing_named(garden: Garden) -> InputError:
    remedy = 'Name a product: --product "First feed 17-5-9 soluble 2 tsp/gal"'
    if garden.products:
        phases = ", ".join(phase.name for phase in phases_of(garden)) or "none"
        products = ", ".join(product.name for product in garden.products)
        remedy = f"Name a --phase ({phases}) or a --product ({products})."
    return InputError("nothing to mix is named", remedy=remedy)


def _kind(named: Sequence[Product]) -> FeedingKind:
    laid = [product for product in named if product.form == "granular"]
    if laid and len(laid) < len(named):
        refuse_form(laid[0], "liquid")
    return "top-dressing" if laid else "liquid"


def _portions(
    options: MixOptions, garden: Garden, phase: Phase | None, named: Sequence[Product]
) -> tuple[Portion, ...]:
    stated = phase.portions if phase else tuple(Portion(product=one.name, strength=1.0) for one in named)
    if options.strength is not None:
        stated = tuple(Portion(product=one.product, strength=options.strength) for one in stated)
    if options.n_ppm is None:
        return stated
    fed = [portion.product for portion in stated if garden.product(portion.product).analysis.n]
    if len(fed) != 1:
        raise InputError(
            "ppm of nitrogen can be asked of one product that holds it",
            value=", ".join(fed) or "none here does",
            remedy="Give --strength instead.",
        )
    by_ppm = Portion(product=fed[0], n_ppm=options.n_ppm)
    return tuple(by_ppm if portion.product == fed[0] else portion for portion in stated)


def _own_group(options: MixOptions, garden: Garden, kind: FeedingKind) -> PotGroup:
    """Make the group that the options describe; without pots, those that one bucket feeds."""
    vessel_l, per_pot_l = garden.vessel_l, options.per_pot.amount if options.per_pot else None
    count = options.pots
    if count is not None and not 1 <= count <= MOST_POTS:
        raise InputError(f"pots are counted from 1 to {MOST_POTS}", value=count, remedy="Write it as 12.")
    if kind == "liquid" and options.injector is None:
        if count is None and vessel_l is None:
            how = "Give --pots 9 --per-pot 3qt --bucket 3.5gal, or --bucket alone for one bucketful."
            raise InputError("how much to mix is not stated", remedy=how)
        if count is not None and per_pot_l is None:
            raise InputError("how much each pot gets is not stated", remedy="Add --per-pot 3qt.")
        if count is None and vessel_l is not None:
            per_pot_l = per_pot_l or vessel_l
            count = max(1, int(vessel_l / per_pot_l + _EXACT))
    stage = options.stage or "established"
    return PotGroup(
        name="pots" if stage != "in the ground" else "trees",
        tree="tree",
        count=count or 1,
        stage=stage,
        pot_l=per_pot_l or 1.0,  # the pot's own size is not asked for, and changes no mix
        per_pot_l=per_pot_l,
        height_m=options.height.amount if options.height else None,
        winters="outdoors",
        movable=False,
    )


def _groups(
    options: MixOptions, garden: Garden, phase: Phase | None, kind: FeedingKind, named: Sequence[Product]
) -> list[PotGroup]:
    """Return the garden's groups that are fed, with what the options state in place of their own."""
    if options.group is not None:
        chosen = [garden.group(options.group)]
    elif phase is not None:
        chosen = [group for group in garden.groups if suits(phase, group)]
    else:
        chosen = [group for group in garden.groups if _takes(group, kind, named)]
    if not chosen:
        raise InputError(
            "no group of the garden suits this",
            value=options.phase or ", ".join(options.products),
            remedy="Name one with --group, or give --pots 9 --per-pot 3qt.",
        )
    if options.stage is not None:
        raise InputError(
            "the garden file states the stage of its groups",
            value=options.stage,
            remedy="Leave --stage out, or give --pots.",
        )
    stated = {"per_pot_l": options.per_pot, "height_m": options.height}
    changes: dict[str, Any] = {name: one.amount for name, one in stated.items() if one}
    return [replace(group, **changes) for group in chosen]


def _takes(group: PotGroup, kind: FeedingKind, named: Sequence[Product]) -> bool:
    if kind == "liquid":
        return group.per_pot_l is not None
    by_height = any(product.rate is not None and product.rate.per == "metre" for product in named)
    return group.height_m is not None if by_height else group.in_pots


def _for_group(
    options: MixOptions, garden: Garden, group: PotGroup, portions: Sequence[Portion], kind: FeedingKind
) -> GroupMix:
    if options.injector is None:
        mix = mix_for_group(garden, group, portions, kind)
        return GroupMix(group=group, mix=mix, units=garden.units)
    if options.stock is None:
        raise InputError("the size of the stock tank is not stated", remedy="Add --stock 3.5gal.")
    mix = make_stock(garden, portions, options.injector, options.stock.amount, group=group)
    return GroupMix(group=group, mix=mix, ratio=options.injector, units=garden.units)


def _one_bucketful(made: GroupMix) -> GroupMix:
    """Leave out the pots, for none were spoken of."""
    if not made.mix.buckets:
        return replace(made, group=None)
    buckets = tuple(replace(bucket, pots=0) for bucket in made.mix.buckets)
    mix = replace(made.mix, buckets=buckets, pots=0, per_pot_mg={})
    return replace(made, group=None, mix=mix)


def _as_measured(options: MixOptions, garden: Garden, named: Sequence[Product]) -> GroupMix:
    if garden.vessel_l is None:
        raise InputError("the size of the bucket is not stated", remedy="Add --bucket 3.5gal.")
    group = garden.group(options.group) if options.group is not None else None
    per_pot_l = options.per_pot.amount if options.per_pot else group.per_pot_l if group else None
    pots = int(garden.vessel_l / per_pot_l + _EXACT) if per_pot_l else 0
    measured = dict(_amount(text, named) for text in options.measured)
    mix = mix_as_measured(garden, measured, garden.vessel_l, pots, group)
    return GroupMix(group=group, mix=mix, units=garden.units)


def _amount(text: str, named: Sequence[Product]) -> tuple[str, str]:
    name, equals, amount = text.rpartition("=")
    if equals:
        return name.strip(), amount
    if len(named) != 1:
        raise InputError("not a product and its amount", value=text, remedy='Write "First feed=3 tbsp".')
    return named[0].name, text
