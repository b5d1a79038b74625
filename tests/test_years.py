"""The years that a curve rests on: their trend, and what foretells; chosen by scores, and not by belief."""

import time
from dataclasses import replace

import numpy as np
import pymannkendall
import pytest
from scipy import stats

from frostgate.climate import years as room
from frostgate.climate.fits import FITS, crps_of_tables
from frostgate.climate.years import (
    choose_years,
    find_trend,
    frosts_on,
    mann_kendall,
    say_pace,
    score_years,
    slopes_between,
    theil_sen,
)
from frostgate.errors import InputError
from frostgate.model.curves import BasisScore
from frostgate.model.records import FrostDates
from frostgate.seasons import SLOTS
from tests.strategies import frost_dates

FIVE = np.array([1.0, 2, 3, 4, 5])
TEN = np.array([120.0, 118, 121, 117, 116, 116, 119, 113, 112, 114])
# flow of the Nile at Aswan 1871-1970 as R ships it, from memory; its mean is 919.35
NILE = np.array([
    1120, 1160, 963, 1210, 1160, 1160, 813, 1230, 1370, 1140, 995, 935, 1110, 994, 1020, 960, 1180, 799,
    958, 1140, 1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774, 840, 874, 694, 940, 833, 701, 916, 692,
    1020, 1050, 969, 831, 726, 456, 824, 702, 1120, 1100, 832, 764, 821, 768, 845, 864, 862, 698, 845, 744,
    796, 1040, 759, 781, 865, 845, 944, 984, 897, 822, 1010, 771, 676, 649, 846, 812, 742, 801, 1040, 860,
    874, 848, 890, 744, 749, 838, 1050, 918, 986, 797, 923, 975, 815, 1020, 906, 901, 1170, 912, 746, 919,
    718, 714, 740.0,
])  # fmt: skip


@pytest.mark.parametrize(
    ("values", "s", "variance", "z", "p", "slope"),
    [  # computed from the published formulas, to the digits shown; the Nile's to 1e-3
        (FIVE, 10, 16.6667, 2.20454, 0.027486, 1.0),
        (TEN, -28, 124.0, -2.42467, 0.015322, -0.857143),
        (NILE, -1387, 112728.333, -4.12807, 3.658e-5, -2.6),
    ],
    ids=["five", "ten with one tie", "Nile"],
)
def test_the_published_formulas_are_met(values, s, variance, z, p, slope):
    test = find_trend(frost_dates(values))

    assert (test.s, test.variance) == mann_kendall(values)
    assert test.s == s
    assert test.variance == pytest.approx(variance, abs=1e-3)
    assert (test.z, test.p) == (pytest.approx(z, abs=1e-5), pytest.approx(p, abs=1e-6))
    assert theil_sen(np.arange(values.size), values)[0] == pytest.approx(slope, abs=1e-5)


def test_the_score_of_a_large_sample_is_that_of_another_packages_own_test():
    # S and variance from the tests of pyMannKendall, recomputed
    test = replace(find_trend(frost_dates(TEN)), s=-1959, variance=4889800.3333333333)

    assert test.z == pytest.approx(-0.8854562842589916, abs=1e-12)
    assert test.p == pytest.approx(0.37591058740506833, abs=1e-12)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("step", [1.0, 5.0, 40.0], ids=["few ties", "ties", "mostly ties"])
def test_another_package_agrees(seed, step):
    rng = np.random.default_rng(seed)
    values = np.round(rng.normal(260, 12, 20 + 5 * seed) / step) * step
    theirs, ours = pymannkendall.original_test(values), find_trend(frost_dates(values))

    assert ours.s == theirs.s
    assert (ours.variance, ours.z) == (pytest.approx(theirs.var_s), pytest.approx(theirs.z))
    assert ours.p == pytest.approx(theirs.p, abs=1e-12)
    assert theil_sen(np.arange(values.size), values)[0] == pytest.approx(theirs.slope)


@pytest.mark.parametrize("seed", range(8))
def test_the_interval_of_the_slope_is_scipys(seed):
    rng = np.random.default_rng(seed)
    years = np.sort(rng.choice(np.arange(1900, 2020), 10 + 10 * seed, replace=False))
    days = rng.normal(260, 12, years.size).round() - 0.2 * (years - 1900)
    theirs = stats.theilslopes(days, years, 0.95)

    assert theil_sen(years, days) == pytest.approx((theirs.slope, theirs.low_slope, theirs.high_slope))


@pytest.mark.parametrize("values", [[], [3.0], [3.0, 3.0, 3.0], [-np.inf, -np.inf]])
def test_nothing_that_moves_is_no_trend(values):
    test = find_trend(frost_dates(np.array(values)))

    assert (test.s, test.z, test.p) == (0, 0.0, 1.0)


def test_the_slopes_of_the_first_dates_come_first():
    years, days = np.array([2001, 2002, 2004, 2008]), np.array([1.0, 3.0, 2.0, 8.0])

    assert slopes_between(years, days)[:3].tolist() == slopes_between(years[:3], days[:3]).tolist()


def test_a_decade_has_ten_times_the_days_of_a_year():
    trend = find_trend(frost_dates(TEN))

    assert (trend.s, trend.seasons, trend.dates) == (-28, 10, 10)
    assert (trend.first_year, trend.last_year) == (1991, 2000)
    assert trend.days_per_decade == pytest.approx(-8.57143, abs=1e-5)
    assert (trend.low, trend.high) == pytest.approx(tuple(10 * np.array(theil_sen(np.arange(10), TEN)[1:])))


@pytest.mark.parametrize(("side", "none", "s"), [("spring", -np.inf, -38), ("autumn", np.inf, -18)])
def test_no_frost_is_the_earliest_of_springs_and_the_latest_of_autumns(side, none, s):
    # ten dates with S = -28, then one season below all of them, or above
    trend = find_trend(frost_dates(np.append(TEN, none), side))

    assert (trend.s, trend.seasons, trend.dates) == (s, 11, 10)
    assert trend.days_per_decade == pytest.approx(-8.57143, abs=1e-5)  # of the dates alone


def test_an_unknown_season_takes_no_part_but_its_year_passes():
    gap = find_trend(frost_dates(np.insert(TEN, 4, [np.nan, np.nan])))
    known = np.delete(np.arange(12), [4, 5])

    assert (gap.seasons, gap.s) == (10, -28)
    assert gap.days_per_decade == pytest.approx(10 * theil_sen(known, TEN)[0])


def test_the_years_are_those_of_known_seasons():
    trend = find_trend(frost_dates(np.concatenate([[np.nan], TEN, [np.nan]])))

    assert (trend.first_year, trend.last_year) == (1992, 2001)


@pytest.mark.parametrize("dates", [0, 1, 4])
def test_fewer_than_five_dates_have_no_slope(dates):
    trend = find_trend(frost_dates(np.concatenate([TEN[:dates], np.full(6, -np.inf)])))

    assert (trend.days_per_decade, trend.low, trend.high) == (None, None, None)
    assert trend.dates == dates


def test_no_known_season_is_no_trend():
    trend = find_trend(frost_dates(np.array([np.nan, np.nan])))

    assert (trend.seasons, trend.first_year, trend.last_year, trend.p) == (0, None, None, 1.0)


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
