"""From a wanted mass to what can be measured."""

from __future__ import annotations

import itertools

import pytest

from frostgate.errors import InputError
from frostgate.feeding.labels import read_product
from frostgate.feeding.scoops import measure, say_spoons, weigh_out
from frostgate.model.garden import Scoop
from frostgate.units import TABLESPOON_ML, TEASPOON_ML, parse_volume_l

POWDER = read_product("Feed 17-5-9 soluble 4 tsp/gal 5.1 g/tsp")
BY_MASS = read_product("Feed 12-11-13 soluble 1.3 g/l")
LIQUID = read_product("Fish 3-5-1 liquid 9 ml/l 1.1 g/ml")
TBSP_G, TSP_G = 3 * 5.1, 5.1


def scoops(*names, units="us"):
    return {"units": units, "scoops": [Scoop(name=n, volume_ml=parse_volume_l(n) * 1000) for n in names]}


@pytest.mark.parametrize(
    ("wanted_g", "at_hand", "said"),
    [
        (5 * TSP_G, ["2.5 tsp"], "2 x 2.5 tsp"),
        (5 * TSP_G, ["2 tsp", "2.5 tsp"], "2 x 2.5 tsp"),
        (9 * TSP_G, ["2.5 tsp", "2 tsp"], "2 x 2.5 tsp + 2 x 2 tsp"),
        (TBSP_G + TSP_G / 2, ["1 tbsp", "1/2 tsp"], "1 tbsp + 1/2 tsp"),
        (2.2 * TBSP_G, ["1 tbsp"], "2 x 1 tbsp"),
        (2.6 * TBSP_G, ["1 tbsp"], "3 x 1 tbsp"),
        (22 * TSP_G / 4, ["1 tbsp", "1 tsp", "1/4 tsp"], "1 tbsp + 2 x 1 tsp + 2 x 1/4 tsp"),
    ],
)
def test_scoops_are_counted_whole_nearest_and_fewest(wanted_g, at_hand, said):
    dose = measure(POWDER, wanted_g, **scoops(*at_hand))

    assert dose.spoons == said


@pytest.mark.parametrize("wanted_g", [7.0, 19.0, 33.3, 60.1, 90.0, 120.0])
@pytest.mark.parametrize(
    "at_hand", [["1 tbsp", "1 tsp"], ["2.5 tsp", "1 tbsp", "1/2 tsp"], ["25 ml", "7 ml"]]
)
def test_no_other_count_of_the_scoops_is_nearer_by_more_than_a_levelling(wanted_g, at_hand):
    tools = scoops(*at_hand)
    dose = measure(POWDER, wanted_g, **tools)

    every = itertools.product(*(range(int(wanted_g / s.volume_ml) + 3) for s in tools["scoops"]))
    volumes = [sum(n * s.volume_ml for n, s in zip(counts, tools["scoops"], strict=True)) for counts in every]
    nearest_g = min(abs(ml * POWDER.density_g_ml - wanted_g) for ml in volumes)
    assert abs(dose.grams - wanted_g) <= nearest_g + 0.01 * wanted_g + 1e-9


def test_above_the_labels_maximum_scoops_are_counted_down():
    free = measure(POWDER, 2.6 * TBSP_G, **scoops("1 tbsp"))
    capped = measure(POWDER, 2.6 * TBSP_G, **scoops("1 tbsp"), most_g=2.6 * TBSP_G)

    assert (free.spoons, capped.spoons) == ("3 x 1 tbsp", "2 x 1 tbsp")


@pytest.mark.parametrize(
    ("wanted_g", "said"),
    [
        (5 * TBSP_G, "5 tbsp"),
        (2.5 * TBSP_G, "2 1/2 tbsp"),
        (TBSP_G + 3.0, "1 tbsp + 1/2 tsp"),
        (TSP_G * 0.8, "3/4 tsp"),
        (1.25 * 16 * TBSP_G, "1 1/4 cups"),
        (17 * TBSP_G, "1 cup + 1 tbsp"),
        (32 * TBSP_G, "2 cups"),
    ],
)
def test_without_scoops_a_us_grower_measures_quarter_teaspoons(wanted_g, said):
    assert measure(POWDER, wanted_g, units="us").spoons == said


@pytest.mark.parametrize("quarters", range(1, 400))
def test_spoons_in_words_come_to_the_quarters_they_stand_for(quarters):
    unit = {"tsp": TEASPOON_ML, "tbsp": TABLESPOON_ML, "cup": 16 * TABLESPOON_ML, "cups": 16 * TABLESPOON_ML}
    total = 0.0
    for part in say_spoons(quarters).split(" + "):
        *numbers, name = part.split()
        total += unit[name] * sum(int(n) if "/" not in n else int(n[0]) / int(n[2]) for n in numbers)

    assert total / (TEASPOON_ML / 4) == pytest.approx(quarters)


@pytest.mark.parametrize(
    ("product", "units", "wanted_g", "said"),
    [
        (BY_MASS, "metric", 7.46, "7.5 g on a scale"),
        (BY_MASS, "us", 9.46, "9.5 g (0.34 oz) on a scale"),  # its label states grams
        (POWDER, "metric", 7.46, "7.5 g on a scale"),
        (LIQUID, "metric", 22.3, "20.5 mL"),
        (LIQUID, "us", 2 * TABLESPOON_ML * 1.1, "2 tbsp"),
    ],
)
def test_the_rest_is_weighed_or_measured_in_millilitres(product, units, wanted_g, said):
    assert measure(product, wanted_g, units=units).spoons == said


@pytest.mark.parametrize(
    ("product", "tools", "wanted_g"),
    [(POWDER, scoops("1 tbsp"), 5.0), (POWDER, {"units": "us"}, 0.5), (LIQUID, scoops("1 tbsp"), 4.0)],
)
def test_what_is_too_little_for_the_spoons_is_weighed_and_never_nothing(product, tools, wanted_g):
    dose = measure(product, wanted_g, **tools)

    assert dose.too_small
    assert dose.grams == pytest.approx(wanted_g, abs=0.3)
    assert dose.on_scale == (product is POWDER)


def test_what_the_spoons_can_measure_is_not_too_little():
    assert not measure(POWDER, TSP_G, units="us").too_small
    assert not measure(BY_MASS, 0.3, units="us").too_small
    assert not measure(POWDER, 0.3).too_small


def test_more_scoops_than_anybody_counts_are_weighed():
    assert measure(POWDER, 24 * TBSP_G, **scoops("1 tbsp")).spoons == "24 x 1 tbsp"
    assert (
        measure(POWDER, 25 * TBSP_G, **scoops("1 tbsp")).spoons == "382.5 g (13 oz) on a scale"
    )  # 25 times 15.3 g


def test_one_size_named_twice_is_one_scoop():
    assert measure(POWDER, 2 * TBSP_G, **scoops("1 tbsp", "3 tsp")).spoons in {"2 x 1 tbsp", "2 x 3 tsp"}


def test_with_many_sizes_at_hand_the_answer_is_near_as_well():
    tools = scoops("1 cup", "1/2 cup", "1/4 cup", "2 tbsp", "1 tbsp", "1 tsp", "1/2 tsp", "1/4 tsp")

    dose = measure(POWDER, 78.0, **tools)

    assert abs(dose.rounding) < 0.02
    assert dose.spoons == "1/4 cup + 1 tbsp + 1/4 tsp"


@pytest.mark.parametrize("product", [POWDER, LIQUID])
def test_what_not_even_a_scale_can_tell_is_refused(product):
    with pytest.raises(InputError, match="too little to measure"):
        weigh_out(product, 0.03)


def test_a_maximum_below_the_smallest_step_is_refused_rather_than_passed():
    with pytest.raises(InputError, match="too little to measure"):
        measure(POWDER, 0.06, most_g=0.06)
