"""What the options of a mix ask for, mixed."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from frostgate.cli.options import named_garden, written_units
from frostgate.errors import FrostgateError, InputError
from frostgate.feeding.labels import read_product
from frostgate.feeding.mix import Stock, make_stock, mix_as_measured, mix_for_group
from frostgate.feeding.phases import default_phases, suits
from frostgate.feeding.safety import refuse_dry, refuse_form
from frostgate.model.feedings import Mix, Phase, Portion
from frostgate.model.garden import Garden, PotGroup, Scoop, Site
from frostgate.model.products import Product
from frostgate.units import Units

if TYPE_CHECKING:
    from frostgate.cli.mix import Wish

Kind = Literal["liquid", "top-dressing"]

NO_FILE = Path("the options")  # in place of a garden file's name
HOW_MANY = "Give --pots 12 --per-pot 1gal --bucket 5gal, or --bucket alone for one bucketful."
_EXACT = 1e-6
_GRADE = re.compile(r"\d\s*[-–]\s*\.?\d[\d.]*\s*[-–]\s*\.?\d")


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is fed, and to whom.

    Parameters
    ----------
    kind
        Poured or laid.
    portions
        What, and how strong.
    phase
        Of the season, where one was named.
    groups
        Who is fed.
    counted
        Whether pots were spoken of; else it is one bucketful.
    """

    kind: Kind
    portions: tuple[Portion, ...]
    phase: str | None
    groups: tuple[PotGroup, ...]
    counted: bool


def garden_asked(wish: Wish, written: Garden | None) -> tuple[Garden, tuple[Product, ...]]:
    """Return the garden with what the options state in place of its own, and the products they name."""
    garden = written or Garden(file=NO_FILE, sites=(Site(name="options"),))
    named = tuple(_product(text, garden) for text in wish.products)
    own = {product.name: product for product in (*garden.products, *named)}
    rules = garden.rules
    if wish.ec_limit is not None:
        rules = replace(rules, ec_limit_ms_cm=wish.ec_limit)
    if wish.water_ec is not None:
        rules = replace(rules, water_ec_ms_cm=wish.water_ec)
    scoops = tuple(Scoop(name=scoop.text, volume_ml=scoop.amount * 1000.0) for scoop in wish.scoops)
    return replace(
        garden,
        products=tuple(own.values()),
        vessel_l=wish.bucket.amount if wish.bucket else garden.vessel_l,
        scoops=scoops or garden.scoops,
        rules=rules,
        units=wish.units or (garden.units if written else _units(wish, named)),
    ), tuple(dict.fromkeys(named))


def _product(text: str, garden: Garden) -> Product:
    listed = any(product.name == text.strip() for product in garden.products)
    if not listed and (_GRADE.search(text) or not garden.products):
        return read_product(text)
    return garden.product(text.strip())


def _units(wish: Wish, products: Sequence[Product]) -> Units:
    texts = [one.text for one in (wish.bucket, wish.per_pot, wish.stock, *wish.scoops, wish.height) if one]
    texts += [product.rate.text for product in products if product.rate]
    texts += [text.rpartition("=")[2] for text in wish.measured]
    return written_units(texts[0]) if texts else "metric"


def ask(wish: Wish, garden: Garden, products: tuple[Product, ...]) -> Asked:
    """Find out what is fed, and to whom.

    Parameters
    ----------
    wish
        The options.
    garden
        With what they state in place of its own.
    products
        That they name.

    Raises
    ------
    InputError
        Where something is missing or cannot be used.
    """
    phase = _phase(wish, garden) if wish.phase is not None else None
    if phase is None and not products:
        raise _nothing_named(garden)
    kind = phase.kind if phase else _kind(products)
    portions = _portions(wish, garden, phase, products)
    own = wish.pots is not None or garden.file == NO_FILE
    groups = (_own_group(wish, garden, kind),) if own else tuple(_groups(wish, garden, kind, phase, products))
    counted = not own or wish.pots is not None or wish.per_pot is not None
    return Asked(
        kind=kind,
        portions=portions,
        phase=phase.name if phase else None,
        groups=groups,
        counted=counted,
    )


def _nothing_named(garden: Garden) -> InputError:
    if not garden.products:
        return InputError(
            "nothing to mix is named",
            remedy='Name a product: --product "Spring feed 24-8-16 soluble 1 tbsp/gal"',
        )
    phases = ", ".join(phase.name for phase in _phases(garden)) or "none"
    products = ", ".join(product.name for product in garden.products)
    return InputError(
        "nothing to mix is named", remedy=f"Name a --phase ({phases}) or a --product ({products})."
    )


def _phases(garden: Garden) -> tuple[Phase, ...]:
    return garden.phases or default_phases(garden.products)


def _phase(wish: Wish, garden: Garden) -> Phase:
    if wish.products:
        raise InputError("both a phase and a product are named", remedy="Give --phase or --product.")
    phases = {phase.name: phase for phase in _phases(garden)}
    if wish.phase not in phases:
        known = ", ".join(phases) or "none, for it lists no products"
        raise InputError("no such phase in the garden", value=wish.phase, remedy=f"It has: {known}.")
    return phases[wish.phase]


def _kind(products: Sequence[Product]) -> Kind:
    laid = [product for product in products if product.form == "granular"]
    if laid and len(laid) < len(products):
        refuse_form(laid[0], "liquid")
    return "top-dressing" if laid else "liquid"


def _portions(
    wish: Wish, garden: Garden, phase: Phase | None, products: Sequence[Product]
) -> tuple[Portion, ...]:
    stated = phase.portions if phase else [Portion(product=one.name, strength=1.0) for one in products]
    if wish.strength is not None:
        stated = [Portion(product=portion.product, strength=wish.strength) for portion in stated]
    if wish.n_ppm is None:
        return tuple(stated)
    fed = [portion.product for portion in stated if garden.product(portion.product).analysis.n]
    if len(fed) != 1:
        raise InputError(
            "ppm of nitrogen can be asked of one product that holds it",
            value=", ".join(fed) or "none here does",
            remedy="Give --strength instead.",
        )
    by_ppm = Portion(product=fed[0], n_ppm=wish.n_ppm)
    return tuple(by_ppm if portion.product == fed[0] else portion for portion in stated)


def _own_group(wish: Wish, garden: Garden, kind: Kind) -> PotGroup:
    """Make the group that the options describe; without pots, those that one bucket feeds."""
    vessel_l, per_pot_l = garden.vessel_l, wish.per_pot.amount if wish.per_pot else None
    count = wish.pots
    if kind == "liquid" and wish.injector is None:
        if count is None and vessel_l is None:
            raise InputError("how much to mix is not stated", remedy=HOW_MANY)
        if count is not None and per_pot_l is None:
            raise InputError("how much each pot gets is not stated", remedy="Add --per-pot 1gal.")
        if count is None and vessel_l is not None:
            per_pot_l = per_pot_l or vessel_l
            count = max(1, int(vessel_l / per_pot_l + _EXACT))
    stage = wish.stage or "established"
    return PotGroup(
        name="pots" if stage != "in the ground" else "trees",
        tree="tree",
        count=count or 1,
        stage=stage,
        pot_l=per_pot_l or 1.0,  # the pot's own size is not asked for, and changes no mix
        per_pot_l=per_pot_l,
        height_m=wish.height.amount if wish.height else None,
        winters="outdoors",
        movable=False,
    )


def _groups(
    wish: Wish, garden: Garden, kind: Kind, phase: Phase | None, products: Sequence[Product]
) -> Iterator[PotGroup]:
    if wish.group is not None:
        chosen = [garden.group(wish.group)]
    elif phase is not None:
        chosen = [group for group in garden.groups if suits(phase, group)]
    else:
        chosen = [group for group in garden.groups if _takes(group, kind, products)]
    if not chosen:
        raise InputError("no group of the garden suits this", value=wish.phase or ", ".join(wish.products),
                         remedy="Name one with --group, or give --pots 12 --per-pot 1gal.")  # fmt: skip
    for group in chosen:
        yield _as_stated(wish, group)


def _takes(group: PotGroup, kind: Kind, products: Sequence[Product]) -> bool:
    if kind == "liquid":
        return group.per_pot_l is not None
    by_height = any(product.rate is not None and product.rate.per == "metre" for product in products)
    return group.height_m is not None if by_height else group.in_pots


def _as_stated(wish: Wish, group: PotGroup) -> PotGroup:
    if wish.stage is not None:
        raise InputError("the garden file states the stage of its groups", value=wish.stage,
                         remedy="Leave --stage out, or give --pots.")  # fmt: skip
    per_pot_l = wish.per_pot.amount if wish.per_pot else group.per_pot_l
    return replace(group, per_pot_l=per_pot_l, height_m=wish.height.amount if wish.height else group.height_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """What is mixed for one group.

    Parameters
    ----------
    group
        Whose pots; None for one bucketful.
    phase
        Of the season, where one was named.
    mix, stock
        What is mixed; for an injector the stock, and its mix.
    units
        To show it in.
    """

    group: PotGroup | None
    phase: str | None
    mix: Mix
    stock: Stock | None
    units: Units


def make(wish: Wish) -> tuple[Made, ...]:
    """Work out what the options ask for, by the garden file where there is one."""
    garden, products = garden_asked(wish, named_garden(wish.garden))
    if wish.measured:
        return (_as_measured(wish, garden, products),)
    asked = ask(wish, garden, products)
    return tuple(_for_group(wish, garden, asked, group) for group in asked.groups)


def _for_group(wish: Wish, garden: Garden, asked: Asked, group: PotGroup) -> Made:
    try:
        stock = None if wish.injector is None else _stock(wish, garden, asked, group)
        mix = _mix(wish, garden, asked, group) if stock is None else stock.mix
    except FrostgateError as error:
        if len(asked.groups) == 1:
            raise
        raise type(error)(f"{group.name}: {error.what}", value=error.value, remedy=error.remedy) from None
    if not asked.counted and mix.buckets:  # one bucketful, for pots that were not spoken of
        buckets = tuple(replace(bucket, pots=0) for bucket in mix.buckets)
        mix = replace(mix, buckets=buckets, pots=0, per_pot_mg={})
        stock = stock and replace(stock, mix=mix)
    named = group if asked.counted else None
    return Made(group=named, phase=asked.phase, mix=mix, stock=stock, units=garden.units)


def _mix(wish: Wish, garden: Garden, asked: Asked, group: PotGroup) -> Mix:
    return mix_for_group(garden, group, asked.portions, asked.kind, dry=wish.dry)


def _stock(wish: Wish, garden: Garden, asked: Asked, group: PotGroup) -> Stock:
    if wish.stock is None:
        raise InputError("the size of the stock tank is not stated", remedy="Add --stock 5gal.")
    ratio = wish.injector or 1.0
    return make_stock(garden, asked.portions, ratio, wish.stock.amount, group=group, dry=wish.dry)


def _as_measured(wish: Wish, garden: Garden, products: Sequence[Product]) -> Made:
    if garden.vessel_l is None:
        raise InputError("the size of the bucket is not stated", remedy="Add --bucket 5gal.")
    if wish.dry:
        refuse_dry()
    group = garden.group(wish.group) if wish.group is not None else None
    per_pot_l = wish.per_pot.amount if wish.per_pot else group.per_pot_l if group else None
    pots = int(garden.vessel_l / per_pot_l + _EXACT) if per_pot_l else 0
    measured = dict(_amount(text, products) for text in wish.measured)
    mix = mix_as_measured(garden, measured, garden.vessel_l, pots, group)
    return Made(group=group, phase=None, mix=mix, stock=None, units=garden.units)


def _amount(text: str, products: Sequence[Product]) -> tuple[str, str]:
    name, equals, amount = text.rpartition("=")
    if equals:
        return name.strip(), amount
    if len(products) != 1:
        raise InputError("not a product and its amount", value=text, remedy='Write "Spring feed=3 tbsp".')
    return products[0].name, text
