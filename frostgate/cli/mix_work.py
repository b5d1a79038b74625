"""What the options of `mix` ask for, mixed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from frostgate.cli.garden_file import named_garden
from frostgate.cli.mix_asked import Asked, ask, garden_asked
from frostgate.errors import FrostgateError, InputError
from frostgate.feeding.injector import Stock, make_stock
from frostgate.feeding.mixing import mix_as_measured, mix_for_group
from frostgate.feeding.phases import YOUNG_SHARE
from frostgate.feeding.stops import refuse_dry
from frostgate.quantities import Units
from frostgate.terms.feedings import Mix
from frostgate.terms.garden import Garden, PotGroup
from frostgate.terms.products import Product
from frostgate.values import dataclass, replace

if TYPE_CHECKING:
    from frostgate.cli.mix_wish import Wish

_EXACT = 1e-6


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
    """Work out what the options ask for, by the garden file where there is one.

    Raises
    ------
    UnsafeMixError
        Where a mix must not be made.
    InputError
        Where something is missing or cannot be used.
    """
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
    halve = _halves(wish)
    return mix_for_group(garden, group, asked.portions, asked.kind, dry=wish.dry, halve_young=halve)


def _halves(wish: Wish) -> bool:
    """Tell whether young roots get half of what is asked for; half strength is not halved again."""
    return wish.n_ppm is not None or wish.strength is None or wish.strength > YOUNG_SHARE


def _stock(wish: Wish, garden: Garden, asked: Asked, group: PotGroup) -> Stock:
    if wish.stock is None:
        raise InputError("the size of the stock tank is not stated", remedy="Add --stock 5gal.")
    if wish.dry:
        refuse_dry()
    ratio, halve = wish.injector or 1.0, _halves(wish)
    return make_stock(garden, asked.portions, ratio, wish.stock.amount, group=group, halve_young=halve)


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
