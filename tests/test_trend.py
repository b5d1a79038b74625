"""Mann-Kendall and Theil-Sen on frost dates."""

import numpy as np
import pymannkendall
import pytest
from scipy import stats

from frostgate.climate.years import find_trend, judge_s, mann_kendall, slopes_between, theil_sen
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
    test = mann_kendall(values)

    assert test.s == s
    assert test.variance == pytest.approx(variance, abs=1e-3)
    assert (test.z, test.p) == (pytest.approx(z, abs=1e-5), pytest.approx(p, abs=1e-6))
    assert theil_sen(np.arange(values.size), values)[0] == pytest.approx(slope, abs=1e-5)


def test_the_score_of_a_large_sample_is_that_of_another_packages_own_test():
    # S and variance from the tests of pyMannKendall, recomputed
    test = judge_s(-1959, 4889800.3333333333)

    assert test.z == pytest.approx(-0.8854562842589916, abs=1e-12)
    assert test.p == pytest.approx(0.37591058740506833, abs=1e-12)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("step", [1.0, 5.0, 40.0], ids=["few ties", "ties", "mostly ties"])
def test_another_package_agrees(seed, step):
    rng = np.random.default_rng(seed)
    values = np.round(rng.normal(260, 12, 20 + 5 * seed) / step) * step
    theirs, ours = pymannkendall.original_test(values), mann_kendall(values)

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


@pytest.mark.parametrize("confidence", [0.5, 0.9])
def test_a_wider_confidence_has_a_wider_interval(confidence):
    _, low, high = theil_sen(np.arange(100), NILE, confidence)
    _, lowest, highest = theil_sen(np.arange(100), NILE)

    assert lowest < low < high < highest


@pytest.mark.parametrize("values", [[], [3.0], [3.0, 3.0, 3.0], [-np.inf, -np.inf]])
def test_nothing_that_moves_is_no_trend(values):
    test = mann_kendall(np.array(values))

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
