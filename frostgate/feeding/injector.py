"""Stock solutions for an injector, which adds one part of stock to many parts of water."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from frostgate.errors import InputError
from frostgate.feeding import cautions, stops
from frostgate.feeding.mixing import make_mix, parts_of
from frostgate.feeding.phases import YOUNG_SHARE
from frostgate.feeding.scoops import weigh_out
from frostgate.quantities import say_volume
from frostgate.terms.feedings import Bucket, Dose, Mix
from frostgate.terms.garden import Garden, PotGroup
from frostgate.terms.phases import Portion
from frostgate.terms.products import Product
from frostgate.values import dataclass, replace

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

    Examples
    --------
    >>> tank = Bucket(volume_l=20.0, pots=0, doses=())
    >>> Stock(ratio=100.0, stock_l=20.0, mix=Mix(buckets=(tank,), ppm={}, per_pot_mg={}, pots=0)).feed_l
    2000.0
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
    """Read an injector's ratio, such as ``1:100``.

    Raises
    ------
    InputError
        Where it is none, or beyond what injectors do.

    Examples
    --------
    >>> parse_ratio("1:100")
    100.0
    """
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
    """Work out what goes into a tank of stock solution; powders are weighed, liquids measured in mL.

    Parameters
    ----------
    garden
        Its products and limits.
    portions
        What the feed at the hose is to hold.
    ratio
        Litres of feed that a litre of stock makes.
    stock_l
        Of the tank [L].
    group
        Who is fed; newly potted trees and cuttings get half of each strength.
    halve_young
        False where that was already seen to.

    Raises
    ------
    UnsafeMixError
        Where the feed would be too strong, or calcium meets sulfate or phosphate in the tank.
    InputError
        Where the products alone would overfill the tank, or something is not stated.

    Examples
    --------
    >>> from pathlib import Path
    >>> from frostgate.feeding.products import read_product
    >>> from frostgate.terms.garden import Site
    >>> garden = Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),),
    ...                 products=(read_product("Feed 20-20-20 soluble 1 g/l"),))
    >>> stock = make_stock(garden, [Portion(product="Feed", n_ppm=100.0)], 100.0, 20.0)
    >>> [(product.name, grams_l) for product, grams_l in stock.grams_l.items()], stock.mix.ppm["N"]
    ([('Feed', 50.0)], 100.0)
    """
    halved = halve_young and group is not None and group.is_young
    parts = parts_of(garden, portions, YOUNG_SHARE if halved else 1.0)
    stops.refuse_calcium([part.product for part in parts])
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
    said = (*cautions.USUAL, *cautions.WATERED, *cautions.INJECTED)
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
