"""The dates of a season and its nitrogen. Intervals and phases: common practice, no source."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from frostgate.errors import InputError
from frostgate.feeding.phases import default_phases
from frostgate.feeding.season import nitrogen_g, plan_season
from frostgate.model.feedings import Phase, Portion, Rate
from frostgate.units import FOOT_M, GALLON_ML, POUND_G
from tests.season_cases import (
    DAY,
    FIRST,
    GATE,
    GRAINS,
    MEAL,
    PRODUCTS,
    ROW,
    STEADY,
    STOP,
    dates,
    facts,
    fed,
    garden,
    group,
    plan,
    product,
    to_come,
)

JUNE = dt.date(2026, 6, 20)


def test_a_second_feeding_high_in_nitrogen_comes_ten_days_after_the_first():
    # common practice, no source
    assert dates(to_come(plan(), "wake-up")) == ["05-16", "05-26"]


def test_the_balanced_feed_comes_after_four_weeks_and_then_every_two():
    # common practice, no source
    assert dates(to_come(plan(), "build-up")) == ["06-13", "06-27", "07-11", "07-25", "08-08"]


def test_a_granular_feed_is_laid_every_fourteen_days_from_the_first_feeding():
    # common practice, no source
    laid = to_come(plan(), kind="top-dressing")
    assert dates(laid) == ["05-16", "05-30", "06-13", "06-27", "07-11", "07-25", "08-08"]


def test_on_a_day_with_both_the_granular_feed_comes_first():
    kinds = [feeding.kind for feeding in plan().feedings if feeding.date == GATE]
    assert kinds == ["top-dressing", "liquid"]


def test_trees_in_the_ground_get_one_organic_feed_and_no_more():
    programme = plan_season(garden([ROW]), facts())

    [feeding] = programme.feedings
    assert (feeding.date, feeding.phase, feeding.portions[0].product) == (GATE, "in the ground", "Meal")


def test_before_the_gate_every_date_is_planned_and_the_notes_call_it_a_forecast():
    programme = plan(dt.date(2026, 4, 1))

    assert {feeding.status for feeding in programme.feedings if feeding.date} == {"planned"}
    assert "is itself a forecast" in programme.notes[0]
    assert min(feeding.date for feeding in programme.feedings if feeding.date) == GATE


def test_what_falls_on_today_is_due_once_the_gate_is_open():
    assert [feeding.status for feeding in to_come(plan(GATE), "wake-up")] == ["due", "planned"]


def test_nothing_is_due_while_the_gate_is_shut_even_on_its_date():
    first = to_come(plan(GATE, gate_open=False), "wake-up")[0]
    assert (first.date, first.status) == (GATE + DAY, "planned")
    assert first.reason.endswith("the gate is not open today")


def test_without_a_gate_feedings_wait_without_a_date():
    programme = plan(gate=None)

    assert {(feeding.date, feeding.status) for feeding in programme.feedings} == {(None, "waiting")}
    assert [feeding.number for feeding in to_come(programme, "wake-up")] == [1, 2]
    assert [feeding.reason for feeding in to_come(programme)] == [
        "waits for the gate; then every 10 days",
        "10 days after the last one",
        "28 days after the first feeding, which waits for the gate; then every 14 days",
        "waits for the gate and for fruit set: log it; then every 14 days",
        "waits for the gate and for fruit set: log it",
    ]
    assert programme.stop == STOP


def test_the_first_feeding_waits_for_buds_that_break_after_the_gate():
    later = GATE + 4 * DAY
    programme = plan(bud_break=(("plums", later),))
    first = to_come(programme, "wake-up")[0]
    assert (first.date, first.reason) == (later, "buds moved on Wed 20 May")
    assert to_come(programme, kind="top-dressing")[0].date == later


def test_buds_that_broke_before_the_gate_change_nothing():
    first = to_come(plan(bud_break=(("plums", GATE - 9 * DAY),)), "wake-up")[0]
    assert (first.date, first.reason) == (GATE, "the gate opens")


def test_buds_that_nobody_logged_are_asked_for():
    assert to_come(plan(), "wake-up")[0].reason == "the gate opens, once buds move: log bud break"


def test_fruit_set_brings_magnesium_once_and_then_the_fruit_feed():
    programme = plan(JUNE, done=(fed(JUNE - 8 * DAY),), fruit_set=(("plums", JUNE - DAY),))

    first, *rest = to_come(programme)
    assert (first.phase, first.date) == ("fruit set", JUNE)
    assert [portion.product for portion in first.portions] == ["Ripening feed", "Epsom salt"]
    assert {feeding.phase for feeding in rest} == {"fruiting"}
    assert dates(rest) == ["07-04", "07-18", "08-01", "08-15"]


def test_until_fruit_set_is_logged_the_balanced_feed_goes_on():
    waiting = to_come(plan(), "fruiting")
    assert (dates(waiting), waiting[0].reason) == (
        ["none"],
        "waits for fruit set: log it; then every 14 days",
    )


def test_a_missed_feeding_is_due_today_is_not_doubled_and_moves_the_rest():
    today = GATE + 8 * DAY
    first, second, third = to_come(plan(today))[:3]

    assert (first.date, first.status) == (today, "due")
    assert "it was due on Sat 16 May" in first.reason
    assert second.date == today + 10 * DAY
    assert (third.phase, third.date) == ("build-up", today + 28 * DAY)


def test_the_rest_follows_from_the_day_on_which_it_was_really_done():
    programme = plan(GATE + 9 * DAY, done=(fed(GATE + 3 * DAY, phase="wake-up"),))
    assert dates(to_come(programme)[:2]) == ["05-29", "06-16"]


def test_a_phase_that_began_replaces_a_missed_feeding_of_the_one_before():
    # the second high-nitrogen feeding was missed until four weeks had passed
    programme = plan(GATE + 30 * DAY, done=(fed(GATE, phase="wake-up"),))
    assert to_come(programme, "wake-up") == ()
    assert to_come(programme)[0].phase == "build-up"
    assert to_come(programme)[0].status == "due"


def test_a_phase_takes_over_on_the_very_day_on_which_it_begins():
    programme = plan(fruit_set=(("plums", GATE + 28 * DAY),))
    assert [feeding.phase for feeding in to_come(programme) if feeding.date == GATE + 28 * DAY] == [
        "fruit set"
    ]


def test_a_phase_that_was_fed_has_begun_whatever_it_counts_from():
    early = plan(GATE + 6 * DAY, done=(fed(GATE + 5 * DAY, phase="build-up"),))
    assert to_come(early, "build-up")[0].date == GATE + 19 * DAY
    unseen = plan(GATE + 6 * DAY, done=(fed(GATE + 5 * DAY, phase="fruiting"),))
    assert to_come(unseen, "fruiting")[0].date == GATE + 19 * DAY


def test_a_feeding_after_fruit_set_counts_for_the_phase_that_has_taken_over():
    done = (fed(GATE), fed(GATE + 40 * DAY))
    programme = plan(GATE + 41 * DAY, done=done, fruit_set=(("plums", GATE + 35 * DAY),))
    assert [f.phase for f in programme.feedings if f.status == "done"] == ["wake-up", "fruit set"]


def test_a_feeding_before_any_phase_counts_for_the_first_to_begin():
    portion = Portion(product="Steady feed", strength=1.0)
    late, early = (
        Phase(name=name, kind="liquid", anchor="gate", after_days=after, every_days=14, portions=(portion,))
        for name, after in (("late", 20), ("early", 5))
    )
    for phases in ((early, late), (late, early)):
        programme = plan_season(garden(phases=phases), facts(done=(fed(GATE - DAY),)))
        assert programme.feedings[0].phase == "early"


def test_feedings_without_a_phase_count_for_the_one_that_was_due():
    done = tuple(fed(GATE + days * DAY) for days in (0, 10, 28, 42))
    programme = plan(GATE + 45 * DAY, done=done)

    listed = [feeding for feeding in programme.feedings if feeding.status == "done"]
    assert [(feeding.phase, feeding.number) for feeding in listed] == [
        ("wake-up", 1),
        ("wake-up", 2),
        ("build-up", 1),
        ("build-up", 2),
    ]
    assert to_come(programme)[0].number == 3


def test_a_feeding_that_was_logged_in_parts_counts_once():
    parts = (fed(GATE, n_per_pot_g=1.0), fed(GATE, n_per_pot_g=0.5), fed(GATE, phase="wake-up"))
    programme = plan(GATE + DAY, done=parts)
    assert [(f.phase, f.number) for f in programme.feedings if f.status == "done"] == [("wake-up", 1)] * 3
    assert dates(to_come(programme, "wake-up")) == ["05-26"]


def test_a_feeding_done_too_early_counts_for_the_phase_to_come():
    done = tuple(fed(GATE + days * DAY) for days in (-3, 7, 17))
    programme = plan(GATE + 18 * DAY, done=done)

    assert [f.phase for f in programme.feedings if f.status == "done"] == ["wake-up", "wake-up", "build-up"]
    assert [f.not_before_gate for f in programme.feedings if f.status == "done"] == [False, True, True]
    assert "Fed before the gate: plums on Wed 13 May." in programme.notes


def test_a_feeding_that_was_logged_for_another_phase_counts_for_the_interval():
    programme = plan(GATE + DAY, done=(fed(GATE, phase="rescue"),))
    assert dates(to_come(programme)[:2]) == ["05-26", "06-05"]


def test_a_feeding_for_the_whole_garden_counts_for_every_group_that_gets_such():
    programme = plan_season(garden([group(), ROW]), facts(GATE + DAY, done=(fed(GATE, group=""),)))
    assert [(f.group, f.phase) for f in programme.feedings if f.status == "done"] == [("plums", "wake-up")]


def test_a_group_that_is_gone_keeps_its_feedings():
    programme = plan(GATE + DAY, done=(fed(GATE, group="olives"), fed(GATE, group="olives", phase="x")))
    gone = [feeding for feeding in programme.feedings if feeding.group == "olives"]
    assert [(f.status, f.phase, f.not_before_gate) for f in gone] == [
        ("done", "not in the plan", True),
        ("done", "x", True),
    ]


def test_no_group_is_fed_twice_within_the_least_interval():
    programme = plan_season(garden(least_days=21), facts())
    assert dates(to_come(programme)[:3]) == ["05-16", "06-06", "06-27"]


def test_phases_of_the_garden_file_replace_the_default_ones_entirely():
    own = Phase(name="mine", kind="liquid", anchor="bud break", after_days=3, every_days=30, feedings=2,
                portions=(Portion(product="Steady feed", n_ppm=100),))  # fmt: skip
    waiting = plan_season(garden(phases=(own,)), facts())
    dated = plan_season(garden(phases=(own,)), facts(bud_break=(("plums", GATE),)))

    assert [(f.phase, f.status) for f in waiting.feedings] == [("mine", "waiting")] * 2
    assert waiting.feedings[0].reason == "waits for bud break: log it; then every 30 days"
    assert dates(dated.feedings) == ["05-19", "06-18"]
    assert dated.feedings[0].reason == "3 days after bud break on Sat 16 May"
    assert "Days and strengths of mine: stated in the garden file." in dated.notes


def test_a_phase_of_one_feeding_does_not_wait_for_its_own_interval():
    once = Phase(name="once", kind="liquid", anchor="gate", after_days=30, every_days=365, feedings=1,
                 portions=(Portion(product="Steady feed", strength=1.0),))  # fmt: skip
    programme = plan_season(garden(phases=(*default_phases((FIRST,)), once)), facts())
    assert dates(to_come(programme)) == ["05-16", "05-26", "06-15"]


def test_without_a_wake_up_the_first_feeding_is_counted_from_the_gate():
    programme = plan_season(garden(products=(STEADY, GRAINS)), facts())
    assert dates(to_come(programme)[:2]) == ["06-13", "06-27"]
    assert to_come(programme)[0].reason == "28 days after the first feeding, counted from the gate"
    assert any(note.startswith("No wake-up:") for note in programme.notes)


def test_pots_whose_share_of_feed_is_not_stated_are_only_top_dressed():
    programme = plan_season(garden([group(per_pot_l=None)]), facts())
    assert {feeding.kind for feeding in programme.feedings} == {"top-dressing"}
    assert any("how much of it a pot gets is not stated" in note for note in programme.notes)


def test_a_group_that_no_phase_feeds_is_named():
    notes = plan_season(garden([ROW], [one for one in PRODUCTS if one is not MEAL]), facts()).notes
    assert any(note.startswith("No phase feeds row.") for note in notes)


def test_a_product_that_is_not_listed_is_an_error_for_the_grower():
    own = Phase(name="mine", kind="liquid", anchor="gate", after_days=0, every_days=30,
                portions=(Portion(product="gone", strength=1.0),))  # fmt: skip
    with pytest.raises(InputError, match="no product of this name"):
        plan_season(garden(phases=(own,)), facts())


def test_a_garden_without_groups_has_nothing_to_feed():
    assert plan_season(garden([]), facts()).feedings == ()


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
