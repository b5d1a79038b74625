"""How much nitrogen a season gives a pot, and what is left out for it."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from frostgate.feeding.season import nitrogen_g, plan_season
from frostgate.model.feedings import Phase, Portion
from frostgate.model.products import Rate
from frostgate.units import FOOT_M, GALLON_ML, POUND_G
from tests.season_cases import (
    DAY,
    FIRST,
    GATE,
    MEAL,
    ROW,
    dates,
    facts,
    fed,
    garden,
    group,
    plan,
    product,
    to_come,
)


def gives(one, portion, of=None, kind="liquid"):
    """Nitrogen of one product for one pot."""
    feeding = replace(to_come(plan())[0], portions=(portion,), kind=kind)
    return nitrogen_g(garden(products=(one,)), of or group(), feeding)


def full(one):
    return Portion(product=one.name, strength=1.0)


def test_a_liquid_feed_gives_its_rate_times_its_nitrogen_times_the_pots_share_of_water():
    assert gives(FIRST, full(FIRST)) == pytest.approx(1.0 * 0.17 * 4.0)


def test_ppm_of_nitrogen_are_milligrams_a_litre():
    # 1 ppm = 1 mg/L, by definition
    assert gives(FIRST, Portion(product="First feed", n_ppm=200)) == pytest.approx(0.8)


def test_a_tablespoon_a_gallon_of_six_grams_a_teaspoon_at_20_percent():
    # 1 tsp (6 g) of 20 % N in a US gallon -> 317 ppm N, computed from 3785.41 mL
    feed = product("Feed", 20, 0, 0, grams=6.0 / (GALLON_ML / 1000))
    one_litre = group(per_pot_l=1.0)
    assert gives(feed, full(feed), one_litre) == pytest.approx(0.317, rel=0.01)


@pytest.mark.parametrize("stage", ["newly potted", "cutting"])
def test_young_roots_get_half(stage):
    # common practice, no source
    young = group(stage=stage)
    assert gives(FIRST, full(FIRST), young) == pytest.approx(0.5 * gives(FIRST, full(FIRST)))


def test_a_tree_in_the_ground_gets_nitrogen_by_its_height():
    # 8-8-8, 6 ft tree, 1/2 lb per ft -> 3 lb of product, 108.9 g N (rate: Georgia Magazine 2019 citing UGA)
    feed = product("Feed", 8, 8, 8, form="granular", per="metre", grams=0.5 * POUND_G / FOOT_M)
    tree = group("row", stage="in the ground", pot_l=None, per_pot_l=None, height_m=6 * FOOT_M)
    assert gives(feed, full(feed), tree, "top-dressing") == pytest.approx(108.9, rel=0.001)


def test_a_rate_by_height_is_capped_at_the_labels_most_for_a_tree():
    # 8-8-8, 12 ft tree, 1/2 lb per ft -> capped at 5 lb (Georgia Magazine 2019 citing UGA)
    most = Rate(grams=5 * POUND_G, per="pot", text="5 lb/tree", by_mass=True)
    feed = product("Feed", 8, 8, 8, form="granular", per="metre", grams=0.5 * POUND_G / FOOT_M, most=most)
    tree = group("row", stage="in the ground", pot_l=None, per_pot_l=None, height_m=12 * FOOT_M)
    assert gives(feed, full(feed), tree, "top-dressing") == pytest.approx(5 * POUND_G * 0.08)


def test_fifty_grams_of_10_5_10_give_five_grams():
    # computed
    feed = product("Feed", 10, 5, 10, form="granular", per="pot", grams=50.0)
    assert gives(feed, full(feed), kind="top-dressing") == pytest.approx(5.0)


@pytest.mark.parametrize("kind", ["liquid", "top-dressing"])
def test_a_product_without_nitrogen_gives_none_whatever_its_rate(kind):
    salt = product("Salt", 0, 0, 0, mg=9.86, grams=0)
    assert gives(salt, full(salt), kind=kind) == 0.0


@pytest.mark.parametrize(
    ("one", "of", "kind"),
    [
        (product("A", 20, 0, 0, grams=0), group(), "liquid"),
        (product("B", 20, 0, 0, per="pot"), group(), "liquid"),
        (FIRST, group(per_pot_l=None), "liquid"),
        (FIRST, group(), "top-dressing"),
        (MEAL, group(), "top-dressing"),
    ],
)
def test_a_feeding_whose_mix_is_not_known_gives_no_number(one, of, kind):
    assert gives(one, full(one), of, kind) is None


def test_the_season_sums_what_was_done_and_what_is_dated():
    liquid = 2 * 0.17 * 4.0 + 5 * 0.12 * 4.0
    laid = 7 * 0.08 * 30.0
    assert plan().n_per_pot_g == (("plums", pytest.approx(liquid + laid)),)

    done = (fed(GATE, n_per_pot_g=2.0),)
    assert plan(done=done).n_per_pot_g == (("plums", pytest.approx(liquid + laid - 0.17 * 4.0 + 2.0)),)


def test_without_a_ceiling_the_sum_is_noted():
    assert "Nitrogen this season, done and dated: plums 20.6 g a pot. No ceiling is stated." in plan().notes


def test_beyond_the_ceiling_feedings_are_left_out_with_the_reason():
    programme = plan_season(garden(n_per_pot_g=10.0), facts())

    out = [feeding for feeding in programme.feedings if feeding.status == "left out"]
    laid, woken, built = 0.08 * 30, 0.17 * 4, 0.12 * 4  # grams of one feeding
    assert out[0].reason == (
        f"with it a pot would have {4 * laid + 2 * woken + built:.1f} g of nitrogen this season, "
        "above the ceiling of 10 g"
    )
    assert all(feeding.date is not None and feeding.portions for feeding in out)
    assert dict(programme.n_per_pot_g)["plums"] <= 10.0
    assert any("The ceiling is 10 g a pot." in note for note in programme.notes)


def test_what_was_done_counts_towards_the_ceiling():
    programme = plan_season(garden(n_per_pot_g=10.0), facts(GATE + DAY, done=(fed(GATE, n_per_pot_g=9.9),)))
    to_feed = [f for f in programme.feedings if f.status in {"planned", "due"}]
    assert to_feed == []


def test_magnesium_passes_a_ceiling_that_nitrogen_has_reached():
    only_salt = Phase(name="salt", kind="liquid", anchor="gate", after_days=0, every_days=14, feedings=1,
                      portions=(Portion(product="Epsom salt", strength=1.0),))  # fmt: skip
    programme = plan_season(
        garden(phases=(only_salt,), n_per_pot_g=1.0),
        facts(done=(fed(GATE - DAY, phase="x", n_per_pot_g=2.0),)),
    )
    assert [feeding.status for feeding in to_come(programme)] == ["planned"]


def test_a_ceiling_for_pots_does_not_bind_trees_in_the_ground():
    programme = plan_season(garden([ROW], n_per_pot_g=1.0), facts())
    assert [feeding.status for feeding in programme.feedings] == ["due"]
    assert programme.n_per_pot_g == (("row", pytest.approx(200.0 * 2.0 * 0.06)),)


def test_feedings_of_unknown_nitrogen_are_counted_and_told():
    programme = plan(GATE + DAY, done=(fed(GATE), fed(GATE, kind="top-dressing")))
    assert "The nitrogen of 2 feedings of plums is not known, and not in the sum." in programme.notes
    unrated = product("First feed", 17, 5, 9, grams=0)
    own = Phase(name="mine", kind="liquid", anchor="gate", after_days=0, every_days=14, feedings=1,
                portions=(Portion(product="First feed", strength=1.0),))  # fmt: skip
    programme = plan_season(garden(products=(unrated,), phases=(own,)), facts())
    assert "The nitrogen of 1 feeding of plums is not known, and not in the sum." in programme.notes


def nitrogen_led(every_days):
    return Phase(name="green", kind="liquid", anchor="gate", after_days=0, every_days=every_days,
                 portions=(Portion(product="First feed", strength=1.0),))  # fmt: skip


def test_in_the_last_four_weeks_nothing_led_by_nitrogen_is_fed():
    # common practice, no source
    programme = plan_season(garden(phases=(nitrogen_led(16),)), facts())

    out = [feeding for feeding in to_come(programme) if feeding.status == "left out"]
    assert dates(out) == ["07-19", "08-04"]  # the first of the last 28 days up to 15 August is 19 July
    assert out[0].reason == (
        "nothing led by nitrogen in the last 4 weeks before the stop (common practice, no source)"
    )


def test_a_balanced_feed_goes_on_until_the_stop():
    assert to_come(plan(), "build-up")[-1].date == dt.date(2026, 8, 8)
    assert to_come(plan(), "build-up")[-1].status == "planned"


def test_a_short_season_tapers_in_its_second_half_only():
    short = facts(first_autumn_frost=GATE + (49 + 20) * DAY)  # twenty days from gate to stop
    programme = plan_season(garden(phases=(nitrogen_led(7),)), short)
    assert dates(to_come(programme)) == ["05-16", "05-23", "05-30"]
    assert [feeding.status for feeding in to_come(programme)] == ["due", "planned", "left out"]
