"""Solution shared out to buckets, and products measured for each."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from frostgate.feeding.scoops import Tools, measure
from frostgate.feeding.solution import Part
from frostgate.quantities import say_volume
from frostgate.terms.feedings import Bucket
from frostgate.terms.garden import Garden, PotGroup

_EXACT = 1e-6


class Filling(NamedTuple):
    """Solution mixed at one go [L], and how many pots have all of theirs with it.

    Examples
    --------
    >>> Filling(18.9, 5).pots
    5
    """

    volume_l: float
    pots: int


def split_into_buckets(pots: int, per_pot_l: float, vessel_l: float | None) -> tuple[Filling, ...]:
    """Share the solution for some pots out to whole buckets and a last part one.

    A pot is never split between buckets that hold at least one pot's share. Where one pot needs more, each
    pot gets several equal fillings, and the last of them counts it.

    Parameters
    ----------
    pots, per_pot_l
        How many, and how much for each [L].
    vessel_l
        What the bucket holds [L]; None mixes all at once.

    Examples
    --------
    >>> split_into_buckets(7, 4.0, 13.0)
    (Filling(volume_l=12.0, pots=3), Filling(volume_l=12.0, pots=3), Filling(volume_l=4.0, pots=1))
    >>> split_into_buckets(1, 5.0, 4.0)
    (Filling(volume_l=2.5, pots=0), Filling(volume_l=2.5, pots=1))
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
    """Measure the products for each filling, never above what their labels allow.

    Raises
    ------
    UnsafeMixError
        Where the known conductivity of what is measured is above the garden's limit.
    InputError
        Where an amount is too small to measure.
    """
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
    """Tell where no bucket is stated, or one pot needs more than it holds.

    Examples
    --------
    >>> from pathlib import Path
    >>> from frostgate.terms.garden import Site
    >>> garden = Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),), vessel_l=10.0)
    >>> figs = PotGroup(name="old figs", tree="fig", count=1, stage="established", pot_l=60.0, per_pot_l=12.0,
    ...                 winters="outdoors", movable=False)
    >>> list(notes_on_buckets(garden, figs))
    ['One pot needs 12 L, more than the bucket of 10 L holds: 2 fillings for each pot.']
    """
    per_pot_l, vessel_l = group.per_pot_l or 0.0, garden.vessel_l
    if vessel_l is None:
        yield "No bucket or tank is stated: all is mixed at once."
    elif per_pot_l > vessel_l * (1.0 + _EXACT):
        fillings = math.ceil(per_pot_l / vessel_l - _EXACT)
        yield (
            f"One pot needs {say_volume(per_pot_l, garden.units)}, more than the bucket of "
            f"{say_volume(vessel_l, garden.units)} holds: {fillings} fillings for each pot."
        )
