"""The mixes of a season in words, and what to mind about them."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

from frostgate.feeding.mixed import MixedFeeding
from frostgate.quantities import Units, say_mass, say_volume
from frostgate.terms.feedings import Bucket, Dose, Mix
from frostgate.terms.garden import PotGroup


def all_warnings(mixed: Sequence[MixedFeeding]) -> Iterator[str]:
    """Give what to mind about the mixes, each once.

    Examples
    --------
    >>> list(all_warnings(()))
    []
    """
    yield from dict.fromkeys(warning for one in mixed if one.mix for warning in one.mix.warnings)


def all_cautions(mixed: Sequence[MixedFeeding]) -> Iterator[str]:
    """Give the usual cautions of all mixes, each once.

    Examples
    --------
    >>> list(all_cautions(()))
    []
    """
    yield from dict.fromkeys(caution for one in mixed if one.mix for caution in one.mix.cautions)


def next_feedings(mixed: Sequence[MixedFeeding]) -> tuple[MixedFeeding, ...]:
    """Give what is mixed on the first day on which something is.

    Examples
    --------
    >>> next_feedings(())
    ()
    """
    dated = [one for one in mixed if one.mix is not None and one.feeding.date is not None]
    return tuple(one for one in dated if one.feeding.date == dated[0].feeding.date)


def say_mix(mix: Mix, group: PotGroup, units: Units) -> str:
    """Write what goes into each bucket, or on each pot.

    Parameters
    ----------
    mix
        For the group.
    group
        Whose pots, or trees in the ground.
    units
        Of volumes and masses.

    Examples
    --------
    >>> from frostgate.terms.products import Analysis, Product
    >>> feed = Product(name="Spring feed", analysis=Analysis(n=24), form="soluble", density_g_ml=1.2,
    ...                density_from="default", rate=None)
    >>> dose = Dose(product=feed, grams=90.0, millilitres=74.0, wanted_g=90.0, spoons="5 tbsp")
    >>> bucket = Bucket(volume_l=18.927, pots=5, doses=(dose,))
    >>> figs = PotGroup(name="figs", tree="fig", count=10, stage="established", pot_l=26.5,
    ...                 winters="outdoors", movable=False)
    >>> say_mix(Mix(buckets=(bucket, bucket), ppm={}, per_pot_mg={}, pots=10), figs, "metric")
    '2 x 18.9 L for 5 pots each: 5 tbsp (90 g) Spring feed'
    """
    if not mix.buckets:
        return f"on each of {_count(mix.pots, group)}: {_say_doses(mix.per_pot, units)}"
    return "; ".join(
        _say_bucket(bucket, len(list(alike)), group, units)
        for bucket, alike in itertools.groupby(mix.buckets)
    )


def _say_bucket(bucket: Bucket, count: int, group: PotGroup, units: Units) -> str:
    times, each = (f"{count} x ", " each") if count > 1 else ("", "")
    volume = say_volume(bucket.volume_l, units)
    return f"{times}{volume} for {_count(bucket.pots, group)}{each}: {_say_doses(bucket.doses, units)}"


def _say_doses(doses: Sequence[Dose], units: Units) -> str:
    return " + ".join(f"{dose.spoons}{_say_grams(dose, units)} {dose.product.name}" for dose in doses)


def _say_grams(dose: Dose, units: Units) -> str:
    """Write the mass in grams, unless the measure is one already."""
    return "" if "scale" in dose.spoons else f" ({say_mass(dose.grams, units).partition(' (')[0]})"


def _count(pots: int, group: PotGroup) -> str:
    return f"{pots} {'pot' if group.in_pots else 'tree'}{'' if pots == 1 else 's'}"
