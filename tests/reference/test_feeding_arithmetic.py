"""The arithmetic of feeding against published tables; the source stands beside each figure."""

from __future__ import annotations

import pytest

from frostgate.feeding.labels import read_product
from frostgate.feeding.mix import make_stock, mix_as_measured, mix_for_group
from frostgate.feeding.strength import elements_mg, grams_l_for
from frostgate.model.feedings import K_IN_K2O, P_IN_P2O5
from frostgate.units import GALLON_ML, OUNCE_G, POUND_G
from tests.mixing_cases import FIRST, full, make_garden, make_group, ppm_n, spoons

GALLON_L = GALLON_ML / 1000
ATOMS = {"H": 1.008, "O": 15.999, "Mg": 24.305, "P": 30.974, "S": 32.06, "K": 39.098}  # IUPAC 2021


def nitrogen(percent):
    return read_product(f"Feed {percent}-0-0 soluble 10 g/l")


def ounces(grams_l, gallons):
    return grams_l * gallons * GALLON_L / OUNCE_G


def test_labels_state_oxides_and_soils_get_elements():
    # by atomic weights; UK regulation factors .436 and .83
    assert pytest.approx(2 * ATOMS["P"] / (2 * ATOMS["P"] + 5 * ATOMS["O"]), abs=5e-6) == P_IN_P2O5
    assert pytest.approx(2 * ATOMS["K"] / (2 * ATOMS["K"] + ATOMS["O"]), abs=5e-6) == K_IN_K2O
    # Penn State Extension: 20 % P2O5 = 8.8 % P, 10 % K2O = 8.3 % K; the first is rounded up from 8.73
    assert pytest.approx(8.8, abs=0.08) == 20 * P_IN_P2O5
    assert pytest.approx(8.3, abs=0.05) == 10 * K_IN_K2O


@pytest.mark.parametrize(
    ("percent", "ppm", "gallons", "oz", "rel"),
    [
        (20, 200, 100, 13.35, 0.001),  # University of Massachusetts prints 13 1/2, by the factor 75
        (15, 200, 100, 17.80, 0.001),  # the same prints 18
        (20, 100, 5, 0.333, 0.01),  # a grower-journal series on plant nutrition, part 5: 0.33 oz, about 9 g
        (15, 250, 100, 22.0, 0.015),  # Texas A&M: calcium nitrate, 22 oz
        (33, 200, 100, 8.1, 0.005),  # Texas A&M prints 7, by a slip: .33 * 75 is 24.75, not 29.75
    ],
)
def test_ounces_for_a_wanted_ppm_are_those_of_the_extension_tables(percent, ppm, gallons, oz, rel):
    assert ounces(grams_l_for(nitrogen(percent), "N", ppm), gallons) == pytest.approx(oz, rel=rel)


def test_the_slip_in_a_published_table_is_not_repeated():
    an_ounce_in_100_gallons = OUNCE_G / (100 * GALLON_L)

    # Texas A&M: .33 * 75 printed as 29.75
    assert elements_mg({nitrogen(33): an_ounce_in_100_gallons})["N"] == pytest.approx(24.75, rel=0.002)
    # the same page, right: 15 % calcium nitrate, 1 oz in 100 gal = 11.25 ppm
    assert elements_mg({nitrogen(15): an_ounce_in_100_gallons})["N"] == pytest.approx(11.25, rel=0.002)


def test_grams_for_200_ppm_of_a_20_percent_feed():
    grams_l = grams_l_for(nitrogen(20), "N", 200)

    assert grams_l == pytest.approx(1.0)  # g/L = ppm / (10 * %)
    assert grams_l * GALLON_L == pytest.approx(3.785, abs=5e-4)
    assert grams_l_for(nitrogen(20), "N", 100) * 5 * GALLON_L == pytest.approx(9.46, abs=0.005)


@pytest.mark.parametrize(
    ("ratio", "ounces_a_gallon"),
    [  # Michigan State University Extension, ounces in a gallon of stock for 50, 100 and 200 ppm N
        (100, (3.38, 6.75, 13.5)),
        (200, (6.75, 13.5, 27.0)),
        (15, (0.5, 1.0, 2.0)),
    ],
)
def test_stock_solutions_are_those_of_michigan_state(ratio, ounces_a_gallon):
    garden = make_garden("Feed 20-20-20 soluble 2 g/l ec 0.64 mS/cm at 100 ppm N")
    for ppm, oz in zip((50, 100, 200), ounces_a_gallon, strict=True):
        stock = make_stock(garden, ppm_n("Feed", ppm), ratio, GALLON_L)

        assert stock.buckets[0].doses[0].grams / OUNCE_G == pytest.approx(oz, rel=0.02)
        assert stock.ppm["N"] == pytest.approx(ppm, rel=0.01)


@pytest.mark.parametrize(("ppm", "ec"), [(50, 0.32), (100, 0.64), (200, 1.28)])  # the same table
def test_conductivity_follows_the_label(ppm, ec):
    garden = make_garden(
        "Feed 20-20-20 soluble 2 g/l ec 0.64 mS/cm at 100 ppm N", units="metric", bucket="100 l"
    )
    mix = mix_for_group(garden, make_group(10, "10 l"), ppm_n("Feed", ppm))

    assert mix.ec_ms_cm == pytest.approx(ec, abs=5e-4)


def test_a_feed_conducts_by_its_nitrogen_and_its_water():
    # Purdue HO-286-W: 1.58 mS/cm in water of 0.30 are 200 ppm N of a feed that has 0.64 at 100 ppm
    garden = make_garden("Feed 20-20-20 soluble 2 g/l ec 0.64 mS/cm at 100 ppm N",
                         units="metric", bucket="100 l", water_ec_ms_cm=0.30)  # fmt: skip
    mix = mix_for_group(garden, make_group(10, "10 l"), ppm_n("Feed", 200))

    assert mix.ec_ms_cm == pytest.approx(1.58, abs=5e-4)


def test_a_teaspoon_a_gallon_is_not_mild():
    garden = make_garden("Feed 20-0-0 soluble 1 tsp/gal 6 g/tsp", bucket="1 gal")

    assert mix_as_measured(garden, {"Feed": "1 tsp"}, GALLON_L).ppm["N"] == pytest.approx(317, rel=0.01)


def test_magnesium_and_sulfur_of_epsom_salt():
    mass = ATOMS["Mg"] + ATOMS["S"] + 4 * ATOMS["O"] + 7 * (2 * ATOMS["H"] + ATOMS["O"])
    mg, s = 100 * ATOMS["Mg"] / mass, 100 * ATOMS["S"] / mass
    salt = read_product(f"Epsom salt 0-0-0 soluble 1 tsp/gal Mg {mg:.3f} S {s:.3f}")

    assert (mg, s) == pytest.approx((9.861, 13.008), rel=1e-3)  # MgSO4.7H2O by atomic weights
    assert elements_mg({salt: 1.0})["Mg"] == pytest.approx(98.6, rel=1e-3)
    assert elements_mg({salt: 4.93 / GALLON_L})["Mg"] == pytest.approx(128, rel=5e-3)


def test_elements_in_a_handful_of_10_5_10():
    mg = elements_mg({read_product("Feed 10-5-10 granular 1 tbsp/pot"): 50.0})

    assert [mg[element] / 1000 for element in ("N", "P", "K")] == pytest.approx([5.0, 1.091, 4.151], abs=1e-3)


@pytest.mark.parametrize(
    ("feet", "pounds"), [(6, 3.0), (12, 5.0)]
)  # Georgia Magazine 2019, after University of Georgia: 1/2 lb a foot, at most 5 lb; the grade from memory
def test_a_tree_in_the_ground_gets_half_a_pound_a_foot_and_no_more_than_five(feet, pounds):
    garden = make_garden("Meal 8-8-8 granular 0.5 lb/ft max 5 lb/tree")
    group = make_group(3, None, "in the ground", height_m=feet * 0.3048)
    mix = mix_for_group(garden, group, full("Meal"), "top-dressing")

    assert mix.per_pot[0].wanted_g == pytest.approx(pounds * POUND_G)
    assert mix.per_pot[0].grams == pytest.approx(pounds * POUND_G, abs=0.1)
    assert mix.per_pot_mg["N"] == pytest.approx(0.08 * pounds * POUND_G * 1000, rel=1e-3)
    assert any("no more" in warning for warning in mix.warnings) == (feet == 12)


def test_three_pounds_of_8_8_8_hold_109_grams_of_nitrogen():
    meal = read_product("Meal 8-8-8 granular 0.5 lb/ft")

    assert elements_mg({meal: 3 * POUND_G})["N"] / 1000 == pytest.approx(108.9, abs=0.05)


# What an invented label asks for: four teaspoons in a gallon, five on a pot.


def test_four_teaspoons_a_gallon_are_four_tablespoons_in_three_gallons_and_feed_four_pots():
    mix = mix_for_group(make_garden(FIRST), make_group(4), full("First feed"))

    assert spoons(mix) == [["4 tbsp"]]
    assert mix.buckets[0].pots == 4


@pytest.mark.parametrize("stage", ["newly potted", "cutting"])
def test_new_transplants_get_half_strength_which_is_two(stage):
    mix = mix_for_group(make_garden(FIRST), make_group(4, stage=stage), full("First feed"))

    assert spoons(mix) == [["2 tbsp"]]


def test_a_scoop_of_four_and_a_half_teaspoons_twice_is_nine():
    garden = make_garden(FIRST, bucket="2.25 gal", scoops=["4.5 tsp"])
    mix = mix_for_group(garden, make_group(3), full("First feed"))

    assert spoons(mix) == [["2 x 4.5 tsp"]]
    assert mix.buckets[0].doses[0].rounding == pytest.approx(0.0, abs=1e-9)


def test_five_teaspoons_of_a_balanced_granular_feed_on_each_pot():
    mix = mix_for_group(
        make_garden("Pellets 8-7-9 granular 5 tsp/pot"), make_group(), full("Pellets"), "top-dressing"
    )

    assert [dose.spoons for dose in mix.per_pot] == ["1 tbsp + 2 tsp"]
