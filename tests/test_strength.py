"""How strong a feeding is: ppm, conductivity, the label's rate, and at most half of it for young roots."""

from __future__ import annotations

import pytest

from frostgate.errors import InputError
from frostgate.feeding.labels import read_product
from frostgate.feeding.mix import make_stock, mix_as_measured, mix_for_group
from frostgate.feeding.season import nitrogen_g
from frostgate.feeding.strength import elements_mg, grams_l_for, known_ec_ms_cm, part_of, parts_of
from frostgate.model.feedings import ELEMENTS, Feeding, Portion, SeasonRules
from tests.mixing_cases import FIRST, PELLETS, full, make_garden, make_group, ppm_n, said

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
    [
        ("Feed 20-0-0 soluble", "no rate for water"),
        ("Feed 20-0-0 soluble 1 tbsp/pot", "no rate for water.*1 tbsp/pot"),
    ],
)
def test_a_share_of_no_rate_for_water_is_refused(label, said):
    with pytest.raises(InputError, match=said):
        part_of(read_product(label), [Portion(product="Feed", strength=1.0)])


def test_conductivity_is_that_of_the_labels_and_the_water():
    rules = SeasonRules(water_ec_ms_cm=0.3)

    assert known_ec_ms_cm({FEED: 1.0}, rules) == (pytest.approx(1.15), [])
    assert known_ec_ms_cm({FEED: 1.0}, SeasonRules()) == (pytest.approx(0.85), [])


def test_a_label_that_does_not_tell_leaves_conductivity_unknown_but_bounded_below():
    rules = SeasonRules(water_ec_ms_cm=0.3)

    assert known_ec_ms_cm({FEED: 1.0, SALT: 1.0}, rules) == (pytest.approx(1.15), [SALT])


LABEL_G_L = 4 * 5.1 / 3.785411784  # 4 tsp of 5.1 g in a gallon
LABEL_PPM = LABEL_G_L * 170.0


def asked(portions, stage="cutting", *, label=FIRST, **rest):
    """Return the share of the label's rate that a litre holds, and the mix."""
    mix = mix_for_group(make_garden(label), make_group(5, stage=stage), portions, **rest)
    return mix.buckets[0].doses[0].wanted_g / mix.buckets[0].volume_l / LABEL_G_L, mix


@pytest.mark.parametrize("stage", ["newly potted", "cutting"])
@pytest.mark.parametrize(
    ("portions", "share"),
    [
        (full("First feed"), 0.5),
        (full("First feed", strength=0.75), 0.5),
        (full("First feed", strength=1.5), 0.5),
        (full("First feed", strength=0.5), 0.5),
        (full("First feed", strength=0.25), 0.25),
        (full("First feed", strength=0.4) * 2, 0.5),
        (ppm_n("First feed", LABEL_PPM), 0.5),
        (ppm_n("First feed", LABEL_PPM / 8), 0.125),
    ],
)
def test_young_roots_get_at_most_half_of_the_labels_rate_and_half_is_not_halved(stage, portions, share):
    given, mix = asked(portions, stage)

    assert given == pytest.approx(share)
    assert said(mix, "Young roots", stage, "half of the label's rate")


def test_the_warning_says_whether_a_feed_was_made_weaker():
    assert said(asked(full("First feed"))[1], "Young roots", "brought down to half of the label's rate")
    assert said(asked(full("First feed", strength=0.5))[1], "Young roots", "not halved again")


def test_where_a_label_states_no_rate_for_water_young_roots_get_half_of_the_ppm():
    mix = mix_for_group(
        make_garden("Feed 20-0-0 soluble"), make_group(5, stage="cutting"), ppm_n("Feed", 100)
    )

    assert mix.buckets[0].doses[0].wanted_g == pytest.approx(0.25 * mix.buckets[0].volume_l)
    assert said(mix, "Young roots", "half of what was asked for")


@pytest.mark.parametrize(("strength", "given"), [(1.0, 0.5), (0.5, 0.5), (0.25, 0.25)])
def test_the_same_holds_for_what_is_laid_on_the_soil_and_for_a_stock_solution(strength, given):
    group = make_group(5, stage="newly potted")
    laid = mix_for_group(make_garden(PELLETS), group, full("Pellets", strength=strength), kind="top-dressing")
    stock = make_stock(make_garden(), full("First feed", strength=strength), 100.0, 20.0, group=group)

    assert laid.per_pot[0].wanted_g == pytest.approx(given * 5 * 4.92892, rel=1e-3)  # 5 tsp of 1 g/mL
    assert stock.buckets[0].doses[0].wanted_g == pytest.approx(given * LABEL_G_L * 2000.0)


@pytest.mark.parametrize("scoops", [[], ["1 tbsp"], ["2 tbsp"], ["2.5 tsp", "1/2 tsp"]])
@pytest.mark.parametrize("bucket", ["0.07 gal", "0.9 gal", "1.6 gal", "2.4 gal", "3.45 gal"])
@pytest.mark.parametrize("units", ["us", "metric"])
def test_no_spoon_lifts_a_dose_for_young_roots_far_above_half_of_the_labels_rate(scoops, bucket, units):
    """The scoop nearest to half may hold nearly the full rate: then fewer are counted, or it is weighed."""
    garden = make_garden(
        FIRST, "Grains 8-7-9 granular 2.8 tsp/pot", bucket=bucket, scoops=scoops, units=units
    )
    group = make_group(1, per_pot=bucket, stage="cutting")
    [poured] = mix_for_group(garden, group, full("First feed")).buckets
    [laid] = mix_for_group(garden, group, full("Grains"), kind="top-dressing").per_pot

    assert poured.doses[0].rounding <= 0.1 + 1e-8
    assert laid.rounding <= 0.1 + 1e-8


@pytest.mark.parametrize("strength", [1.0, 0.5, 0.25])
def test_the_nitrogen_of_a_season_is_that_of_its_mixes(strength):
    group, portions = make_group(5, stage="cutting"), tuple(full("First feed", strength=strength))
    feeding = Feeding(date=None, group=group.name, phase="x", kind="liquid", portions=portions, number=1,
                      status="planned", not_before_gate=True, reason="")  # fmt: skip
    dose = mix_for_group(make_garden(), group, portions).buckets[0].doses[0]

    assert nitrogen_g(make_garden(), group, feeding) == pytest.approx(
        dose.wanted_g * 0.17 / 4
    )  # the first bucket feeds four


def test_what_was_measured_for_young_roots_is_told_where_it_is_above_half():
    group = make_group(5, stage="cutting")
    strong = mix_as_measured(make_garden(), {"First feed": "8 tsp"}, 3 * 3.785411784, group=group)
    weak = mix_as_measured(make_garden(), {"First feed": "5 tsp"}, 3 * 3.785411784, group=group)

    assert said(strong, "Young roots", "above half of the label's rate: use less")
    assert said(weak, "Young roots", "no more than half of the label's rate;")


def test_ppm_and_strengths_of_one_product_add_up_before_they_are_held_against_the_label():
    portions = [Portion(product="First feed", strength=0.4), Portion(product="First feed", n_ppm=400.0)]

    assert asked(portions)[0] == pytest.approx(0.5)
    assert asked(portions, "established")[0] == pytest.approx(0.4 + 400.0 / LABEL_PPM)


@pytest.mark.parametrize(("height_m", "grams"), [(1.0, 0.5 * 446.4), (1.9, 0.5 * 453.6), (3.0, 0.5 * 453.6)])
def test_half_of_a_rate_by_height_is_half_of_what_the_label_gives_that_tree(height_m, grams):
    garden = make_garden("Orchard meal 6-5-7 granular 0.3 lb/ft max 1 lb/tree")  # 446.4 g/m, 453.6 g a tree
    tree = make_group(stage="newly potted", height_m=height_m)

    (part,) = parts_of(garden, tree, full("Orchard meal"), "top-dressing")

    assert part.grams == pytest.approx(grams, rel=1e-3)
