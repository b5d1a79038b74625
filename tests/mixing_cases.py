"""Gardens, groups and products for the tests of mixing, all invented."""

from __future__ import annotations

from pathlib import Path

from frostgate.feeding.labels import read_product
from frostgate.model.feedings import Portion, SeasonRules
from frostgate.model.garden import Garden, PotGroup, Scoop, Site
from frostgate.units import parse_volume_l

FIRST = "First feed 17-5-9 soluble 4 tsp/gal 5.1 g/tsp"
STEADY = "Steady feed 12-11-13 soluble 2.3 g/l ec 0.9 mS/cm at 100 ppm N"
EPSOM = "Epsom salt 0-0-0 soluble 1 tsp/gal Mg 9.86 S 13"
LIME = "Lime feed 13-0-0 soluble 1 g/l Ca 16"
FISH = "Fish feed 3-5-1 liquid 9 ml/l organic"
PELLETS = "Pellets 8-7-9 granular 5 tsp/pot"
MEAL = "Meal 6-5-7 granular 0.3 lb/ft max 4 lb/tree organic"
ALL = (FIRST, STEADY, EPSOM, LIME, FISH, PELLETS, MEAL)


def litres(text):
    return parse_volume_l(text)


def make_garden(*labels, bucket="3.5 gal", scoops=(), units="us", **rules):
    return Garden(
        file=Path("garden.toml"),
        sites=(Site(name="Hollin Bank"),),
        products=tuple(read_product(label) for label in labels or ALL),
        vessel_l=None if bucket is None else litres(bucket),
        scoops=tuple(Scoop(name=scoop, volume_ml=litres(scoop) * 1000) for scoop in scoops),
        rules=SeasonRules(**rules),
        units=units,
    )


def make_group(count=9, per_pot="3 qt", stage="established", height_m=None):
    return PotGroup(
        name="plums",
        tree="plum",
        count=count,
        stage=stage,
        pot_l=None if stage == "in the ground" else 34.0,
        per_pot_l=None if per_pot is None else litres(per_pot),
        height_m=height_m,
        winters="outdoors",
        movable=False,
    )


def full(*names, strength=1.0):
    return [Portion(product=name, strength=strength) for name in names]


def ppm_n(name, ppm):
    return [Portion(product=name, n_ppm=ppm)]


def spoons(mix):
    return [[dose.spoons for dose in bucket.doses] for bucket in mix.buckets]


def said(mix, *words):
    return [warning for warning in mix.warnings if all(word in warning for word in words)]
