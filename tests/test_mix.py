"""From portions to buckets, to what is laid on the soil, and to stock solutions for injectors."""

from __future__ import annotations

import pytest

from frostgate.errors import InputError, UnsafeMixError
from frostgate.feeding.mix import make_stock, mix_as_measured, mix_for_group, split_into_buckets
from frostgate.model.feedings import ELEMENTS, Portion
from frostgate.units import POUND_G, parse_ratio
from tests.mixing_cases import (
    MEAL,
    PELLETS,
    STEADY,
    full,
    litres,
    make_garden,
    make_group,
    ppm_n,
    said,
    spoons,
)


def test_whole_buckets_come_first_and_the_last_part_one_after_them():
    mix = mix_for_group(make_garden(), make_group(10), full("First feed", "Epsom salt"))

    assert [(round(b.volume_l / litres("1 gal"), 6), b.pots) for b in mix.buckets] == [
        (3, 4),
        (3, 4),
        (1.5, 2),
    ]
    assert spoons(mix) == [
        ["4 tbsp", "1 tbsp"],
        ["4 tbsp", "1 tbsp"],
        ["2 tbsp", "1 1/2 tsp"],
    ]  # 4 and 1 tsp a gallon
    assert mix.pots == 10
    assert mix.per_pot == ()


@pytest.mark.parametrize(
    ("pots", "per_pot_l", "vessel_l", "expected"),
    [
        (5, 4.0, 20.0, [(20.0, 5)]),
        (5, 4.0, 19.9, [(16.0, 4), (4.0, 1)]),
        (3, 4.0, 100.0, [(12.0, 3)]),
        (3, 4.0, None, [(12.0, 3)]),
        (2, 9.0, 4.0, [(3.0, 0), (3.0, 0), (3.0, 1)] * 2),
        (2, 8.0, 4.0, [(4.0, 0), (4.0, 1)] * 2),
    ],
)
def test_a_pot_is_not_split_between_buckets_that_hold_one(pots, per_pot_l, vessel_l, expected):
    fillings = split_into_buckets(pots, per_pot_l, vessel_l)

    assert [(filling.volume_l, filling.pots) for filling in fillings] == expected
    assert sum(filling.pots for filling in fillings) == pots
    assert sum(filling.volume_l for filling in fillings) == pytest.approx(pots * per_pot_l)


def test_more_buckets_than_anyone_fills_are_refused_and_not_computed():
    with pytest.raises(InputError, match="take more than 10,000 buckets of"):
        mix_for_group(make_garden(bucket="1 ml"), make_group(100_000, "3 qt"), full("First feed"))
    assert len(mix_for_group(make_garden(), make_group(4000, "3 qt"), full("First feed")).buckets) == 1000


def test_a_pot_that_needs_more_than_the_bucket_is_told_of():
    mix = mix_for_group(make_garden(bucket="2 gal"), make_group(1, "5.5 gal"), full("First feed"))

    assert len(mix.buckets) == 3
    assert said(mix, "One pot needs 5.5 gal", "2 gal holds: 3 fillings")


def test_without_a_bucket_all_is_mixed_at_once_and_told_of():
    mix = mix_for_group(make_garden(bucket=None), make_group(12), full("First feed"))

    assert [bucket.pots for bucket in mix.buckets] == [12]
    assert said(mix, "No bucket or tank")


def test_what_the_pots_get_follows_from_what_is_measured():
    mix = mix_for_group(make_garden(), make_group(12), full("First feed"))

    assert list(mix.ppm) == list(mix.per_pot_mg) == list(ELEMENTS)
    assert mix.ppm["N"] == pytest.approx(4 * 5.1 * 0.17 * 1000 / litres("1 gal"))
    assert mix.per_pot_mg["N"] == pytest.approx(3 * 5.1 * 0.17 * 1000)  # 4 tsp/gal, 3 qt a pot
    assert mix.per_pot_mg["P"] == pytest.approx(3 * 5.1 * 0.05 * 0.43643 * 1000)


def test_nitrogen_asked_for_in_ppm_is_met_within_the_scale():
    mix = mix_for_group(make_garden(STEADY, units="metric"), make_group(10, "5 l"), ppm_n("Steady feed", 150))

    assert mix.ppm["N"] == pytest.approx(150, rel=0.01)
    assert mix.buckets[0].doses[0].wanted_g == pytest.approx(mix.buckets[0].volume_l * 0.150 / 0.12)


@pytest.mark.parametrize(
    ("group", "portions", "kind", "what"),
    [
        (make_group(), [], "liquid", "needs a product"),
        (make_group(), [], "top-dressing", "needs a product"),
        (make_group(), full("Nothing"), "liquid", "no product of this name"),
        (make_group(per_pot=None), full("First feed"), "liquid", "how much solution"),
        (make_group(), ppm_n("Epsom salt", 100), "liquid", "holds no N"),
        (make_group(), ppm_n("Pellets", 100), "top-dressing", "ppm are of a solution"),
        (make_group(), full("Meal"), "top-dressing", "goes by height"),
    ],
)
def test_what_is_missing_is_named(group, portions, kind, what):
    with pytest.raises(InputError, match=what):
        mix_for_group(make_garden(), group, portions, kind)


def test_a_granular_product_needs_a_rate_for_a_pot():
    with pytest.raises(InputError, match="no rate for a pot"):
        mix_for_group(
            make_garden("Pellets 7-4-6 granular 1 g/l"), make_group(), full("Pellets"), "top-dressing"
        )


@pytest.mark.parametrize(
    ("stage", "expected"),
    [("established", "1 tbsp + 2 tsp"), ("newly potted", "2 1/2 tsp"), ("cutting", "2 1/2 tsp")],
)
def test_a_top_dressing_is_told_for_one_pot(stage, expected):
    mix = mix_for_group(make_garden(), make_group(12, stage=stage), full("Pellets"), "top-dressing")

    assert [dose.spoons for dose in mix.per_pot] == [expected]
    assert (mix.buckets, mix.ppm, mix.ec_ms_cm, mix.pots) == ((), {}, None, 12)
    assert mix.per_pot_mg["N"] == pytest.approx(mix.per_pot[0].grams * 0.08 * 1000)
    assert bool(said(mix, "Young roots")) == (stage != "established")


@pytest.mark.parametrize(
    ("height_m", "pounds", "capped"), [(1.8288, 6 * 0.3, False), (3.048, 10 * 0.3, False), (4.572, 4.0, True)]
)
def test_a_tree_gets_by_its_height_up_to_the_cap(height_m, pounds, capped):
    group = make_group(2, None, "in the ground", height_m)
    mix = mix_for_group(make_garden(MEAL), group, full("Meal"), "top-dressing")

    assert mix.per_pot[0].grams == pytest.approx(pounds * POUND_G, abs=0.1)
    assert bool(said(mix, "4 lb/tree and no more")) == capped
    assert said(mix, "Meal is organic")


@pytest.mark.parametrize(
    ("label", "strength"),
    [
        (PELLETS, 1.5),
        ("Pellets 7-4-6 granular 5 tsp/pot max 8 tsp/pot", 1.7),
        ("Pellets 7-4-6 granular 0.3 lb/ft", 1.1),
        ("Pellets 7-4-6 granular 0.3 lb/ft max 0.4 lb/ft", 1.4),
    ],
)
def test_no_more_than_the_label_allows_is_laid(label, strength):
    group = make_group(2, None, "in the ground", 2.0)
    with pytest.raises(UnsafeMixError, match="times what its label allows: at most"):
        mix_for_group(make_garden(label), group, full("Pellets", strength=strength), "top-dressing")


def test_spoons_in_a_bucket_tell_their_ppm():
    mix = mix_as_measured(make_garden(), {"First feed": "2 x 4.5 tsp"}, litres("3.5 gal"), 5)

    assert mix.ppm["N"] == pytest.approx(9 * 5.1 * 170 / litres("3.5 gal"))
    assert mix.per_pot_mg["N"] == pytest.approx(9 * 5.1 * 170 / 5)
    assert mix.buckets[0].doses[0].spoons == "2 x 4.5 tsp"


def test_pots_that_are_not_known_get_no_figure():
    assert mix_as_measured(make_garden(), {"First feed": "3 tbsp"}, litres("3.5 gal")).per_pot_mg == {}


@pytest.mark.parametrize(
    ("measured", "error", "what"),
    [
        ({"First feed": "6 tbsp"}, UnsafeMixError, r"1\.29 times what its label allows \(1178 ppm N\)"),
        ({"Steady feed": "40 g", "Epsom salt": "1 tsp"}, UnsafeMixError, "times what its label allows"),
        ({"Pellets": "1 tbsp"}, UnsafeMixError, "does not dissolve"),
        ({"First feed": "a bit"}, InputError, "not a volume or mass"),
        ({"Feed": "1 tbsp"}, InputError, "no product of this name"),
    ],
)
def test_a_bucket_as_measured_is_stopped_for_the_same_reasons(measured, error, what):
    with pytest.raises(error, match=what):
        mix_as_measured(make_garden(), measured, litres("3.5 gal"))


def test_portions_may_mix_ppm_of_one_product_with_the_rate_of_another():
    portions = [Portion(product="Steady feed", n_ppm=150), Portion(product="Epsom salt", strength=1.0)]
    mix = mix_for_group(make_garden(units="metric"), make_group(4, "10 l"), portions)

    assert mix.ppm["N"] == pytest.approx(150, rel=0.01)
    assert mix.ppm["Mg"] == pytest.approx(0.0986 * 5 * 1000 / litres("1 gal"), rel=0.01)


def test_a_stock_is_as_many_times_stronger_as_its_ratio():
    stock = make_stock(make_garden(STEADY, units="metric"), ppm_n("Steady feed", 100), 100.0, 20.0)

    assert [tank.volume_l for tank in stock.buckets] == [20.0]
    assert stock.buckets[0].doses[0].grams == pytest.approx(2000 * 0.100 / 0.12, abs=0.5)
    assert stock.ppm["N"] == pytest.approx(100.0, rel=1e-3)
    assert stock.ec_ms_cm == pytest.approx(0.9, rel=1e-3)
    assert stock.per_pot_mg == {}


@pytest.mark.parametrize(
    ("units", "words"), [("us", "42 g (1.5 oz) on a scale"), ("metric", "42 g on a scale")]
)
def test_a_stock_is_weighed_in_the_units_of_the_garden(units, words):
    garden = make_garden("Salt feed 12-11-13 soluble 0.21 g/l", units=units)

    stock = make_stock(garden, full("Salt feed"), 10.0, 20.0)

    assert words in stock.buckets[0].doses[0].spoons


def test_powders_are_weighed_and_liquids_measured_whatever_the_scoops():
    garden = make_garden(scoops=["1 tbsp"])
    stock = make_stock(garden, full("First feed", "Fish feed", strength=0.5), 15.0, 20.0)

    assert stock.buckets[0].doses[0].spoons.endswith("on a scale")
    assert stock.buckets[0].doses[1].spoons.endswith("mL")
    assert not [warning for warning in stock.warnings if "spoons at hand" in warning]


def test_pots_that_are_known_get_their_share_and_young_ones_half():
    young, old = make_group(10, "2 l", "cutting"), make_group(10, "2 l")
    garden = make_garden(STEADY, units="metric")
    halved = make_stock(garden, ppm_n("Steady feed", 276), 100.0, 20.0, group=young)
    whole = make_stock(garden, ppm_n("Steady feed", 276), 100.0, 20.0, group=old)

    assert whole.per_pot_mg["N"] == pytest.approx(2 * 276.0)  # 276 ppm are the 2.3 g/l of its label
    assert halved.per_pot_mg["N"] == pytest.approx(276.0)
    assert halved.pots == 10


def test_a_stock_says_that_solubility_is_unknown_and_asks_for_a_backflow_preventer():
    cautions = make_stock(make_garden(), ppm_n("Steady feed", 100), 100.0, 20.0).cautions

    assert any("Solubility is not known" in caution for caution in cautions)
    assert any("backflow" in caution for caution in cautions)


@pytest.mark.parametrize(
    ("names", "partner"),
    [(("Lime feed", "Epsom salt"), "sulfate"), (("First feed", "Lime feed"), "phosphate")],
)
def test_calcium_never_meets_sulfate_or_phosphate_in_a_concentrate(names, partner):
    with pytest.raises(UnsafeMixError, match=f"calcium of 'Lime feed' and the {partner} of") as refused:
        make_stock(make_garden(), full(*names, strength=0.1), 100.0, 20.0)

    assert "two stock solutions" in refused.value.remedy


@pytest.mark.parametrize(
    ("portions", "why"),
    [
        (full("First feed", strength=1.2), "label allows"),
        (full("Pellets"), "does not dissolve"),
        (full("Steady feed"), "is the limit"),
    ],
)
def test_a_feed_that_must_not_be_mixed_has_no_stock_either(portions, why):
    with pytest.raises(UnsafeMixError, match=why):
        make_stock(make_garden(ec_limit_ms_cm=2.0), portions, 100.0, 20.0)


def test_products_that_overfill_the_tank_are_refused():
    with pytest.raises(InputError, match="more than the tank") as refused:
        make_stock(make_garden(), full("Fish feed"), 200.0, 20.0)

    assert "smaller ratio" in refused.value.remedy


@pytest.mark.parametrize(("text", "ratio"), [("1:100", 100.0), ("1 / 15", 15.0), ("1:12.5", 12.5)])
def test_ratios_are_read(text, ratio):
    assert parse_ratio(text) == ratio


@pytest.mark.parametrize("text", ["100", "2:100", "1:1", "1:0", "1:5000", "1:x"])
def test_what_is_no_ratio_is_refused(text):
    with pytest.raises(InputError, match="not a ratio"):
        parse_ratio(text)
