"""The years that a curve rests on: chosen by what foretells, and not by belief."""

import time

import numpy as np
import pytest

from frostgate.climate import years as room
from frostgate.climate.fits import FITS, crps_of_tables
from frostgate.climate.years import choose_years, frosts_on, say_pace, score_years, theil_sen
from frostgate.errors import InputError
from frostgate.model.records import BasisScore, FrostDates, YearsChoice
from frostgate.seasons import SLOTS
from tests.strategies import frost_dates


def moving(seed: int, seasons: int, days_per_year: float, side="spring") -> FrostDates:
    """Make dates with a spread of ten days, around a middle that moves."""
    noise = np.random.default_rng(seed).normal(0, 10, seasons)
    middle = 260.0 if side == "spring" else 70.0
    day = np.round(middle + noise + days_per_year * np.arange(seasons))
    return frost_dates(day, side, first_year=2021 - seasons)


some_draws_and_many = pytest.mark.parametrize("draws", [10, pytest.param(50, marks=pytest.mark.slow)])


@some_draws_and_many
@pytest.mark.parametrize("seasons", [60, 90, 150])
def test_without_a_trend_all_years_stay(seasons, draws):
    chosen = [choose_years(moving(seed, seasons, 0.0)).basis for seed in range(draws)]

    assert chosen.count("all") >= 0.9 * draws


@pytest.mark.slow
@pytest.mark.parametrize(("seasons", "astray"), [(40, 1 / 8), (60, 1 / 50)])
def test_few_seasons_to_judge_lead_astray_more_often(seasons, astray):
    """DEVELOPERS.md, known limits: how often a record without a trend leaves all years."""
    left = [choose_years(moving(seed, seasons, 0.0)).basis != "all" for seed in range(200)]

    assert np.mean(left) == pytest.approx(astray, abs=0.015)


@some_draws_and_many
@pytest.mark.parametrize(("side", "days_per_year"), [("spring", -0.4), ("autumn", 0.4), ("spring", 0.4)])
def test_a_strong_trend_is_followed(side, days_per_year, draws):
    chosen = [choose_years(moving(seed, 90, days_per_year, side)).basis for seed in range(draws)]

    assert len([basis for basis in chosen if basis != "all"]) >= 0.9 * draws
    assert chosen.count("trend") > chosen.count("recent")


@some_draws_and_many
def test_a_step_long_ago_is_answered_by_recent_years(draws):
    """Fifty springs around one date, then a hundred a month earlier."""
    step = np.where(np.arange(150) < 50, 0.0, -30.0)
    chosen = [
        choose_years(frost_dates(moving(seed, 150, 0.0).day + step, first_year=1871)).basis
        for seed in range(draws)
    ]

    assert chosen.count("recent") >= 0.9 * draws


def test_places_where_frosts_vanish_rest_on_recent_years():
    frost = np.random.default_rng(2).normal(220, 10, 80).round()
    frost[40:] = -np.inf

    choice = choose_years(frost_dates(frost, first_year=1941))

    assert choice.basis == "recent"
    assert choice.trend.p < 1e-6


def test_each_season_is_foretold_from_earlier_ones_alone():
    frosts = moving(3, 45, -0.3)
    frosts = frost_dates(np.where(np.arange(45) % 11 == 5, -np.inf, frosts.day))
    day, years, pooled = frosts.day, frosts.years, FITS["pooled"]

    def crps(earlier, came):
        return float(crps_of_tables(pooled(earlier), np.array(came)))

    dated = np.isfinite(day)
    slow = {"all": [], "recent": [], "trend": []}
    for at in range(30, 45):
        before = dated[:at]
        slope = theil_sen(years[:at][before], day[:at][before])[0]
        slow["all"].append(crps(day[:at], day[at]))
        slow["recent"].append(crps(day[at - 30 : at], day[at]))
        slow["trend"].append(crps(day[:at] + slope * (years[at - 1] - years[:at]), day[at]))
    judged, scores = score_years(frosts)

    assert judged == 15
    for score in scores:
        gain = np.array(slow["all"]) - slow[score.basis]
        assert score.crps_days == pytest.approx(np.mean(slow[score.basis]))
        assert score.gain_days == pytest.approx(gain.mean())
        assert score.error_days == pytest.approx(gain.std(ddof=1) / np.sqrt(15))


def test_a_season_yet_to_come_changes_no_score_of_the_past(monkeypatch):
    seen = []
    monkeypatch.setattr(
        room, "crps_of_tables", lambda tables, days: seen.append(tables) or np.zeros(days.size)
    )
    frosts = moving(5, 60, -0.3)
    score_years(frosts)
    score_years(frost_dates(np.append(frosts.day[:-1], 20.0), first_year=1961))

    for before, after in zip(seen[:3], seen[3:], strict=True):
        assert before.shape == (30, SLOTS)
        np.testing.assert_array_equal(before, after)  # the last spring is judged, and foretells none


@pytest.mark.parametrize(
    ("gains", "basis"),
    [
        ({"recent": (0.3, 0.2), "trend": (0.1, 0.05)}, "recent"),
        ({"recent": (0.1, 0.2), "trend": (0.3, 0.2)}, "trend"),
        ({"recent": (0.2, 0.2), "trend": (-0.1, 0.2)}, "all"),  # one standard error is not more than one
        ({"recent": (0.1, 0.05), "trend": (0.3, 0.4)}, "all"),  # the least score must bear it out itself
        ({"recent": (-0.1, 0.05), "trend": (0.0, 0.0)}, "all"),
    ],
)
def test_another_basis_must_be_better_by_more_than_a_standard_error(monkeypatch, gains, basis):
    # one-standard-error rule: Hastie, Tibshirani & Friedman (2009), section 7.10
    others = [
        BasisScore(basis=name, crps_days=6.0 - gain, gain_days=gain, error_days=error)
        for name, (gain, error) in gains.items()
    ]
    scores = (BasisScore(basis="all", crps_days=6.0), *others)
    monkeypatch.setattr(room, "score_years", lambda *_: (50, scores))
    choice = choose_years(moving(1, 80, 0.0))

    assert choice.basis == choice.best == basis
    assert ("clearly better neither" in choice.reason) == (basis == "all")
    assert "50 past springs" in choice.reason


@pytest.mark.parametrize(("seasons", "judged"), [(12, 0), (30, 0), (39, 9)])
def test_with_few_seasons_to_judge_it_cannot_be_told(seasons, judged):
    choice = choose_years(moving(1, seasons, -2.0))

    assert (choice.basis, choice.judged, choice.scores) == ("all", judged, ())
    assert choice.reason == (
        f"all known springs; only {judged} of them have 30 or more before them, too few to tell whether"
        " recent years or a trend would foretell better."
    )


def test_ten_seasons_to_judge_are_enough():
    assert choose_years(moving(1, 40, -2.0)).basis == "trend"


@pytest.mark.parametrize("asked", ["all", "recent", "trend"])
def test_years_asked_for_by_name_are_used_beside_the_evidence(asked):
    frosts = moving(1, 90, -0.4)
    choice = choose_years(frosts, years=asked)

    assert (choice.basis, choice.best) == (asked, "trend")
    assert choice.scores == choose_years(frosts).scores
    assert ", as you asked; by the scores all known springs, moved along their trend (4." in choice.reason


@pytest.mark.parametrize(("kind", "years"), [("student", "some"), ("bell", "best"), ("bell", "recent")])
def test_what_there_is_not_is_refused(kind, years):
    with pytest.raises(InputError, match="no such"):
        choose_years(moving(1, 60, 0.0), kind, years)


def test_a_choice_knows_its_bases():
    made = choose_years(moving(1, 60, 0.0))
    with pytest.raises(InputError, match="no such choice of years"):
        YearsChoice(
            basis="some", best="all", threshold_c=0.0, judged=0, scores=(), trend=made.trend, reason=""
        )


def test_the_best_fit_is_scored_by_the_pooled_one_and_a_named_one_by_itself():
    frosts = moving(1, 60, -0.3)
    pooled, best, normal = (score_years(frosts, kind)[1] for kind in ("pooled", "best", "normal"))

    assert pooled == best != normal


def test_recent_years_are_the_last_thirty_known_and_the_unknown_among_them():
    day = moving(1, 50, 0.0).day.copy()
    day[[30, 40, 49]] = np.nan
    recent = frosts_on(frost_dates(day, first_year=1971), "recent")

    assert (~np.isnan(recent.day)).sum() == 30
    assert (recent.years[0], recent.years[-1]) == (1971 + 17, 2020)
    np.testing.assert_array_equal(recent.day, day[17:])


def test_a_short_record_is_all_recent():
    frosts = moving(1, 20, 0.0)

    np.testing.assert_array_equal(frosts_on(frosts, "recent").day, frosts.day)


@pytest.mark.parametrize(("side", "none"), [("spring", -np.inf), ("autumn", np.inf)])
def test_a_trend_moves_dates_to_the_last_known_season_and_never_beyond(side, none):
    day = 100.0 + 2.0 * np.arange(12)
    day[3], day[5], day[11] = none, np.nan, np.nan
    moved = frosts_on(frost_dates(day, side), "trend").day

    expected = np.full(12, 120.0)  # the day of season 10, the last that is known
    expected[3], expected[5], expected[11] = none, np.nan, np.nan
    np.testing.assert_allclose(moved, expected)


@pytest.mark.parametrize("day", [[100.0, 90, 80, 70, -np.inf], [np.nan] * 5, []])
def test_without_a_slope_nothing_moves(day):
    frosts = frost_dates(np.array(day, float))

    for basis in ("all", "recent", "trend"):
        np.testing.assert_array_equal(frosts_on(frosts, basis).day, frosts.day)


@pytest.mark.parametrize(
    ("pace", "said"),
    [(-4.62, "4.6 days earlier a decade"), (1.0, "1.0 days later a decade"), (0.04, "not moving"),
     (None, "too few dates to tell")],
)  # fmt: skip
def test_a_pace_is_said_as_growers_say_it(pace, said):
    assert say_pace(pace) == said


def test_a_century_and_a_half_is_judged_in_well_under_a_second():
    frosts = moving(1, 150, -0.1)
    choose_years(frosts)
    took = []
    for _ in range(3):
        began = time.perf_counter()
        choose_years(frosts)
        took.append(time.perf_counter() - began)

    assert min(took) < 0.5
