"""The arithmetic of solutions."""

from __future__ import annotations

import pytest

from frostgate.errors import InputError
from frostgate.feeding.labels import read_product
from frostgate.feeding.solution import (
    ec_ms_cm,
    elements_mg,
    grams_l_for,
    lacking_ec,
    least_ec_ms_cm,
)
from frostgate.feeding.strength import part_of
from frostgate.model.feedings import Portion, SeasonRules
from frostgate.model.products import ELEMENTS

FEED = read_product("Feed 16-7-23 soluble 1 g/l max 2 g/l ec 0.85 mS/cm at 1 g/l Mg 2 S 3 Ca 4")
SALT = read_product("Epsom salt 0-0-0 soluble 1 g/l Mg 10 S 13")
DRY = read_product("Pellets 7-4-6 granular 5 tsp/pot")


@pytest.mark.parametrize("element", ELEMENTS)
def test_ppm_and_grams_are_the_same_road_both_ways(element):
    assert elements_mg({FEED: grams_l_for(FEED, element, 150.0)})[element] == pytest.approx(150.0, rel=1e-12)


def test_ppm_of_an_element_that_is_not_there_cannot_be_asked_for():
    with pytest.raises(InputError, match="holds no N"):
        grams_l_for(SALT, "N", 100.0)


def test_portions_of_one_product_add_up():
    portions = [Portion(product="Feed", strength=0.5), Portion(product="Feed", n_ppm=100.0)]

    assert part_of(FEED, portions).grams == pytest.approx(0.5 * 1.0 + 0.1 / 0.16)


def test_the_labels_maximum_is_its_rate_where_it_states_none():
    assert part_of(FEED, ()).most.text == "2 g/l"
    assert part_of(SALT, ()).most.text == "1 g/l"
    assert part_of(DRY, ()).most_g == float("inf")


@pytest.mark.parametrize(
    ("label", "said"),
    [("Feed 20-0-0 soluble", "no rate"), ("Feed 20-0-0 soluble 1 tbsp/pot", "not for water")],
)
def test_a_share_of_no_rate_for_water_is_refused(label, said):
    with pytest.raises(InputError, match=said):
        part_of(read_product(label), [Portion(product="Feed", strength=1.0)])


def test_conductivity_is_that_of_the_labels_and_the_water():
    rules = SeasonRules(water_ec_ms_cm=0.3)

    assert ec_ms_cm({FEED: 1.0}, rules) == pytest.approx(1.15)
    assert ec_ms_cm({FEED: 1.0}, SeasonRules()) == pytest.approx(0.85)


def test_a_label_that_does_not_tell_leaves_conductivity_unknown_but_bounded_below():
    rules = SeasonRules(water_ec_ms_cm=0.3)

    assert ec_ms_cm({FEED: 1.0, SALT: 1.0}, rules) is None
    assert lacking_ec([FEED, SALT]) == [SALT]
    assert least_ec_ms_cm({FEED: 1.0, SALT: 1.0}, rules) == pytest.approx(1.15)
