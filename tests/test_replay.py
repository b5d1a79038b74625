"""Past springs replayed, morning by morning, and what came in those that went wrong."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pytest
from rich.console import Console

from frostgate.climate.quality import find_hemisphere
from frostgate.errors import InputError
from frostgate.model.gate import Policy
from frostgate.model.records import Station
from frostgate.proof.replay import (
    HABIT_NIGHTS,
    TOLERANCES,
    Openings,
    replay_springs,
    worth_asking,
    wrong_springs,
)
from frostgate.proof.springs import Springs, draw_mornings, lay_out_springs
from frostgate.seasons import NORTH, SLOTS, SOUTH, season_day_of
from frostgate.show.charts.risks import draw_reliability
from frostgate.show.proofs import replay_answer, replay_parts
from frostgate.show.say import write_parts
from tests.replay_cases import DAYS, made_record, never_opened, opened, springs_of

RECORD = made_record()
SPRINGS = lay_out_springs(RECORD, 0.0, NORTH)
REPLAY = replay_springs(SPRINGS, Policy(), seed=1)


def test_more_tolerance_never_opens_later():
    days = np.stack([opening.day for opening in REPLAY.openings])

    assert (np.diff(days, axis=0) <= 0).all()


@pytest.mark.parametrize("opening", REPLAY.openings, ids=lambda opening: f"{opening.risk:.0%}")
def test_what_is_stated_at_opening_is_within_the_tolerance(opening):
    assert (opening.stated <= opening.risk).all()
    assert np.array_equal(opening.wrong, SPRINGS.last_frost > opening.day)
    low, high = opening.interval
    assert low <= opening.realised <= high


def test_a_forecast_without_errors_gains_more_than_one_with_errors():
    for opening in REPLAY.openings:
        assert opening.days_gained_perfect > opening.days_gained


@pytest.mark.parametrize("opening", REPLAY.openings, ids=lambda opening: f"{opening.risk:.0%}")
def test_the_calendar_date_is_the_first_at_which_the_curve_alone_is_within_the_tolerance(opening):
    for at in (0, 20):
        table = SPRINGS.risk[at]
        expected = next(day for day in range(365) if (table[day] + table[day + 1]) / 2 <= opening.risk)
        assert opening.calendar_day[at] == expected


def test_the_stated_risk_is_not_below_what_came_true():
    """The safe side, within chance: one-sided, at each tolerance."""
    for opening in REPLAY.openings:
        assert opening.interval[0] <= opening.stated.mean()


def test_the_habit_opens_only_past_the_middle_date_and_goes_wrong_more_often_than_a_limit_of_ten_percent():
    at_ten = next(opening for opening in REPLAY.openings if opening.risk == 0.10)

    assert (REPLAY.habit.day >= REPLAY.habit.calendar_day).all()
    assert REPLAY.habit.realised > at_ten.realised
    assert HABIT_NIGHTS == 14


def test_the_seed_decides_and_the_horizon_is_told():
    again, other = (replay_springs(SPRINGS, Policy(), seed=seed, horizon=5) for seed in (1, 2))

    assert other.horizon == again.horizon == 5
    assert np.array_equal(
        again.openings[2].day, replay_springs(SPRINGS, Policy(), seed=1, horizon=5).openings[2].day
    )
    assert not np.array_equal(again.openings[2].day, other.openings[2].day)


def test_the_interval_is_the_exact_binomial_one():
    """0 of 30: 0 to 1 - (0.025)^(1/30); Clopper & Pearson (1934)."""
    found = opened(0.1, np.zeros(30), np.zeros(30, dtype=bool), 0.1)

    assert found.interval == pytest.approx((0.0, 1 - 0.025 ** (1 / 30)))


def test_progress_is_told_of_every_morning():
    calls: list[tuple[int, int]] = []

    replay = replay_springs(SPRINGS, Policy(), seed=1, advance=lambda done, of: calls.append((done, of)))

    assert [done for done, _ in calls] == list(range(1, replay.mornings.day.size + 1))
    assert {of for _, of in calls} == {replay.mornings.day.size}


def test_forecasts_that_were_kept_are_taken_as_they_are():
    """Those that seed 1 draws, given, open the gate on the same days."""
    kept_c = np.full((len(SPRINGS.years), SLOTS, HABIT_NIGHTS), np.nan)
    days = worth_asking(SPRINGS, Policy())
    drawn = draw_mornings(SPRINGS, Policy(), days, HABIT_NIGHTS, np.random.default_rng(1))
    for day, told in zip(days, drawn, strict=True):
        kept_c[:, day] = told

    replay = replay_springs(SPRINGS, Policy(), seed=99, forecasts_c=kept_c)

    for ours, theirs in zip((*replay.openings, replay.habit), (*REPLAY.openings, REPLAY.habit), strict=True):
        assert np.array_equal(ours.day, theirs.day)


def test_a_spring_of_which_no_forecast_was_kept_is_drawn():
    kept_c = came_after(SPRINGS, HABIT_NIGHTS)
    kept_c[10:] = np.nan

    replay = replay_springs(SPRINGS, Policy(), seed=1, forecasts_c=kept_c)

    assert replay.kept.tolist() == [True] * 10 + [False] * (len(SPRINGS.years) - 10)
    for ours, drawn in zip(replay.openings, REPLAY.openings, strict=True):
        assert np.array_equal(ours.day[10:], drawn.day[10:])
    assert any(not np.array_equal(ours.day, drawn.day)
               for ours, drawn in zip(replay.openings, REPLAY.openings, strict=True))  # fmt: skip


def came_after(springs, nights: int) -> np.ndarray:
    """Give what came in the nights after each day; on a day that was not, what is usual then."""
    came = np.where(np.isfinite(springs.tmin_c), springs.tmin_c, springs.climatology_c)
    return np.stack(
        [np.pad(came[:, k:], ((0, 0), (0, k)), constant_values=np.nan) for k in range(1, nights + 1)], axis=2
    )


def test_a_perfect_archive_opens_as_the_perfect_forecast_does():
    sure = Policy(error_sd_c=((1.0, 0.001),))

    replay = replay_springs(SPRINGS, sure, seed=1, forecasts_c=came_after(SPRINGS, HABIT_NIGHTS))

    for opening in replay.openings:
        assert np.mean(opening.day == opening.perfect_day) > 0.9
        assert opening.days_gained == pytest.approx(opening.days_gained_perfect, abs=0.2)


def test_kept_forecasts_of_fewer_nights_are_the_horizon():
    kept_c = came_after(SPRINGS, HABIT_NIGHTS)[:, :, :3]

    assert replay_springs(SPRINGS, Policy(), seed=1, forecasts_c=kept_c).horizon == 3


def test_a_record_in_the_south_is_replayed_by_its_own_seasons():
    """The same weather half a year later is the same replay, but for leap days."""
    south = made_record(days=DAYS + 184)
    replay = replay_springs(lay_out_springs(south, 0.0, find_hemisphere(south)), Policy(), seed=1)

    assert replay.springs.start == SOUTH
    assert len(replay.springs.years) >= 39
    for ours, theirs in zip(replay.openings, REPLAY.openings, strict=True):
        assert ours.median_day == pytest.approx(theirs.median_day, abs=6)
        assert ours.interval[0] <= ours.stated_mean
    answer = replay_answer(replay, Station(id="X"), 1, Policy())
    assert "08" <= answer["tolerances"][2]["opening_median"][:2] <= "12"


def test_where_frosts_come_all_year_the_gate_never_opens_and_everything_says_so(capsys):
    cold = made_record(mean_c=-8.0)
    replay = replay_springs(lay_out_springs(cold, 0.0, NORTH), Policy(), seed=1)
    answer = replay_answer(replay, Station(id="X"), 1, Policy())
    write_parts(replay_parts(replay, Station(id="X"), 1, Policy(), "C"), Console(width=110))
    written = capsys.readouterr().out

    assert [opening.springs for opening in replay.openings] == [0] * 6
    assert all(math.isnan(one.stated_mean) and math.isnan(one.realised) for one in replay.openings)
    for row in answer["tolerances"]:
        assert row["springs"] == 0
        assert row["wrong_years"] == []
        for name in ("stated_mean", "realised", "opening_median", "opening_sd_days", "days_gained"):
            assert row[name] is None
        assert set(row["reliability"].values()) == {None}
    assert written.count("never") >= len(TOLERANCES)
    assert "nan" not in written
    assert "At a limit of 10 % the gate never opened." in written
    assert draw_reliability(replay).to_dict()


@pytest.mark.parametrize("exposed", [0, 3, 7])
def test_what_came_true_counts_from_the_first_exposed_morning(exposed):
    """Fed on d, pots are exposed to the minima dated d + exposed and later."""
    policy = Policy(first_exposed_days=exposed)
    replay = replay_springs(SPRINGS, policy, seed=1)

    for opening in (*replay.openings, replay.habit):
        assert np.array_equal(opening.wrong, SPRINGS.last_frost >= opening.day + exposed)
        for spring in wrong_springs(SPRINGS, opening):
            assert (spring.first_frost - spring.opened).days >= exposed
    for opening in replay.openings:
        assert opening.interval[0] <= opening.stated.mean()


def test_the_later_pots_are_exposed_the_earlier_the_gate_opens():
    """By as many days, on the curve alone; with a forecast by fewer, since it tells of those nights."""
    by_exposed = [replay_springs(SPRINGS, Policy(first_exposed_days=k), seed=1) for k in (0, 1, 4)]

    for now, later, latest in zip(*(replay.openings for replay in by_exposed), strict=True):
        assert np.array_equal(now.calendar_day - 1, later.calendar_day)
        assert np.array_equal(later.calendar_day - 3, latest.calendar_day)
        assert min(now.day.mean(), later.day.mean()) > latest.day.mean()


def test_a_horizon_that_ends_before_pots_are_exposed_is_refused():
    with pytest.raises(InputError, match="before the pots are exposed"):
        replay_springs(SPRINGS, Policy(first_exposed_days=7), seed=1, horizon=5)


def opened_on(springs: Springs, day: int) -> Openings:
    return opened(0.1, np.full(springs.years.size, float(day)), springs.last_frost > day, 0.08)


def test_a_wrong_spring_tells_opening_coldest_night_and_frosts_after():
    springs = springs_of([{240: -6.0, 255: -1.0, 260: -3.0, 263: -0.5}, {249: -2.0}])

    (wrong,) = wrong_springs(springs, opened_on(springs, 250))

    assert (wrong.year, wrong.opened, wrong.stated) == (2023, dt.date(2023, 4, 7), 0.08)
    assert (wrong.frost, wrong.tmin_c) == (dt.date(2023, 4, 17), -3.0)
    assert wrong.first_frost == dt.date(2023, 4, 12)
    assert wrong.frosts_after == 3


def test_a_frost_on_the_morning_of_opening_is_not_after_it():
    springs = springs_of([{250: -3.0, 252: -1.0}])

    (wrong,) = wrong_springs(springs, opened_on(springs, 250))

    assert (wrong.frosts_after, wrong.tmin_c) == (1, -1.0)


def test_a_missing_day_is_no_frost_that_came():
    springs = springs_of([{255: np.nan, 260: -1.0}])

    (wrong,) = wrong_springs(springs, opened_on(springs, 250))

    assert (wrong.frosts_after, wrong.tmin_c) == (1, -1.0)


@pytest.mark.parametrize(("exposed", "frosts"), [(0, 3), (1, 2), (5, 2), (6, 1)])
def test_frosts_before_pots_are_exposed_do_not_count(exposed, frosts):
    springs = springs_of([{250: -3.0, 255: -2.0, 260: -1.0}])
    opening = replace(opened_on(springs, 250), first_exposed_days=exposed)

    (wrong,) = wrong_springs(springs, opening)

    assert wrong.frosts_after == frosts


@pytest.mark.parametrize(("start", "day"), [(NORTH, dt.date(2023, 4, 17)), (SOUTH, dt.date(2023, 9, 30))])
def test_dates_fall_in_the_springs_own_year_on_both_sides_of_the_equator(start, day):
    frost = season_day_of(day, start)[1]
    springs = springs_of([{frost: -1.5}], start)

    (wrong,) = wrong_springs(springs, opened_on(springs, frost - 10))

    assert (wrong.year, wrong.frost) == (2023, day)
    assert wrong.opened == day - dt.timedelta(days=10)


def test_whole_fahrenheit_frosts_are_compared_as_stored():
    """28 °F is stored as -2.2 °C and is a frost of 28 °F or less, which is -2.222... °C."""
    springs = replace(springs_of([{257: -2.1, 260: -2.2}]), threshold_c=-20 / 9)

    (wrong,) = wrong_springs(springs, opened_on(springs, 250))

    assert (wrong.tmin_c, wrong.frosts_after) == (-2.2, 1)


def test_no_wrong_spring_is_no_row():
    springs = springs_of([{240: -1.0}, {}])

    assert wrong_springs(springs, opened_on(springs, 250)) == []


def test_a_gate_that_never_opened_went_wrong_in_no_spring():
    assert wrong_springs(springs_of([{240: -1.0}]), never_opened(0.1, 1)) == []
