"""The dates of a season. Intervals and phases: common practice, no source."""

from __future__ import annotations

import datetime as dt

import pytest

from frostgate.errors import InputError
from frostgate.feeding.phases import default_phases
from frostgate.feeding.season import plan_season
from frostgate.model.feedings import Phase, Portion
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
