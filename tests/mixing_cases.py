"""Gardens, groups and products for the tests of mixing, all invented."""

from __future__ import annotations

from pathlib import Path

from frostgate.feeding.labels import read_product
from frostgate.model.feedings import Portion, SeasonRules
from frostgate.model.garden import Garden, PotGroup, Scoop, Site
from frostgate.units import parse_volume_l

SPRING = "Spring feed 24-8-16 soluble 1 tbsp/gal 6 g/tsp"
EVEN = "Even feed 20-20-20 soluble 2 g/l ec 0.64 mS/cm at 100 ppm N"
EPSOM = "Epsom salt 0-0-0 soluble 1 tsp/gal Mg 9.86 S 13"
LIME = "Lime feed 15-0-0 soluble 1 g/l Ca 19"
FISH = "Fish feed 2-4-1 liquid 2 tbsp/gal organic"
PELLETS = "Pellets 10-10-10 granular 2 tbsp/pot"
MEAL = "Meal 8-8-8 granular 0.5 lb/ft max 5 lb/tree organic"
ALL = (SPRING, EVEN, EPSOM, LIME, FISH, PELLETS, MEAL)


def litres(text):
    return parse_volume_l(text)


def make_garden(*labels, bucket="5 gal", scoops=(), units="us", **rules):
    return Garden(
        file=Path("garden.toml"),
        sites=(Site(name="Hollin Bank"),),
        products=tuple(read_product(label) for label in labels or ALL),
        vessel_l=None if bucket is None else litres(bucket),
        scoops=tuple(Scoop(name=scoop, volume_ml=litres(scoop) * 1000) for scoop in scoops),
        rules=SeasonRules(**rules),
        units=units,
    )


def make_group(count=12, per_pot="1 gal", stage="established", height_m=None):
    return PotGroup(
        name="figs",
        tree="fig",
        count=count,
        stage=stage,
        pot_l=None if stage == "in the ground" else 26.5,
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
