"""Frost days into tables of risk, each fit against another route to the same numbers."""

import lmoments3
import numpy as np
import pytest
from lmoments3 import distr
from numpy.testing import assert_allclose
from scipy import stats

from frostgate.climate.fits import (
    CUNNANE,
    FITS,
    SEASON_DAYS,
    fit_empirical,
    fit_normal,
    fit_skewed,
    fit_smooth,
    fit_student,
    frost_share,
    l_moments,
    plotting_positions,
)
from frostgate.model.curves import day_at_risk

TEN = np.array([95.0, 100, 102, 104, 105, 108, 110, 112, 118, 126])  # ten made-up days of the year
SEEDS = range(5)


def sample(seed, size=30):
    return np.random.default_rng(seed).normal(260, 12, size).round()


@pytest.mark.parametrize(
    ("a", "positions"),
    [
        (0.0, [0.1667, 0.3333, 0.5, 0.6667, 0.8333]),
        (0.40, [0.1154, 0.3077, 0.5, 0.6923, 0.8846]),
        (0.44, [0.1094, 0.3047, 0.5, 0.6953, 0.8906]),
        (0.5, [0.1, 0.3, 0.5, 0.7, 0.9]),
    ],
    ids=["Weibull", "Cunnane", "Gringorten", "Hazen"],
)  # computed from the formula
def test_five_values_have_their_published_plotting_positions(a, positions):
    assert_allclose(plotting_positions(5, a), positions, atol=5e-5)


@pytest.mark.parametrize(("a", "largest"), [(0.0, 0.9677), (0.40, 0.9801), (0.44, 0.9814), (0.5, 0.9833)])
def test_the_largest_of_thirty_has_its_published_position(a, largest):  # computed from the formula
    assert plotting_positions(30, a)[-1] == pytest.approx(largest, abs=5e-5)


@pytest.mark.parametrize("size", [1, 2, 7, 30])
def test_plotting_positions_are_those_of_scipy(size):
    theirs = stats.mstats.plotting_positions(np.arange(size), CUNNANE, CUNNANE)
    assert_allclose(plotting_positions(size), theirs, rtol=1e-12)


@pytest.mark.parametrize(
    ("days", "share"),
    [
        ([100, -np.inf, np.nan, 110], 2 / 3),
        ([-np.inf] * 3, 0.0),
        ([100, 110], 1.0),
        ([np.nan, np.nan], 0.0),  # nothing known
        ([[100, np.nan], [-np.inf, 100]], [1.0, 0.5]),
    ],
)
def test_the_share_counts_known_seasons_alone(days, share):
    assert_allclose(frost_share(np.array(days, float)), share)


@pytest.mark.parametrize(
    ("days", "mean", "scale", "skew"),
    [([1, 2, 3, 4, 5], 3, 1, 0), ([1, 2, 4, 8, 16], 6.2, 3.6, 0.444444), (TEN, 108, 5.28889, 0.170168)],
)  # computed from the formula
def test_l_moments_are_those_of_the_science_notes(days, mean, scale, skew):
    assert_allclose(l_moments(np.array(days, float)), [mean, scale, skew], atol=5e-6)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("size", [3, 4, 10, 30, 151])
def test_l_moments_are_those_of_another_library(seed, size):
    days = sample(seed, size)
    with_gaps = np.concatenate([[np.nan, -np.inf], days, [np.nan]])
    theirs = lmoments3.lmom_ratios(days, nmom=3)
    assert_allclose(l_moments(with_gaps), theirs, rtol=1e-9, atol=1e-9)


def test_the_spread_of_a_normal_sample_follows_from_its_l_scale():
    _, scale, _ = l_moments(TEN)
    assert np.sqrt(np.pi) * scale == pytest.approx(9.3743, abs=5e-5)  # computed from the formula


@pytest.mark.parametrize(
    "days",
    [[257.0], [257.0] * 2, [257.0] * 30, [257.0, np.nan], [-4.0]],
    ids=lambda days: f"{len(days)} of {days[0]}",
)
def test_dates_without_spread_have_no_l_scale_and_no_skew(days):
    assert_allclose(l_moments(np.array(days)), [days[0], 0.0, 0.0], atol=1e-9)


def test_two_dates_lean_to_neither_side():
    assert_allclose(l_moments(np.array([100.0, 110.0])), [105, 5, 0])


@pytest.mark.parametrize(("risk", "day"), [(0.1, 122.64), (0.5, 106.5), (0.9, 97.1)])
def test_the_empirical_fit_reads_cunnanes_quantiles(risk, day):  # computed from the formula
    assert day_at_risk(fit_empirical(TEN), risk) == pytest.approx(day, abs=0.01)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_empirical_fit_is_scipys_quantile_of_cunnane(seed):
    # half days, so that no two dates are equal; between the dates, not beyond them
    days = 200 + np.sort(np.random.default_rng(seed).choice(100, 30, replace=False)) + 0.0
    table = fit_empirical(days)
    for risk in np.linspace(0.05, 0.95, 19):
        theirs = stats.mstats.mquantiles(days, 1 - risk, alphap=CUNNANE, betap=CUNNANE)
        assert day_at_risk(table, risk) == pytest.approx(float(theirs[0]), abs=1e-6)


def test_the_empirical_fit_runs_on_beyond_the_latest_date():
    # the mean gap of the outer quarter: of 112, 118, 126 it is 7; of 95, 100, 102 it is 3.5
    table = fit_empirical(TEN)
    assert table[126] > 0.05
    assert 0.0 < table[132] < table[127]
    assert table[133] == 0.0
    assert table[91] == 1.0
    assert table[92] < 1.0


@pytest.mark.parametrize(("risk", "day"), [(0.9, 96.40), (0.1, 119.60)])
def test_the_normal_fit_reads_its_published_quantiles(risk, day):  # computed from the formula
    assert TEN.mean() == 108.0
    assert TEN.std(ddof=1) == pytest.approx(9.0554, abs=5e-5)
    assert day_at_risk(fit_normal(TEN), risk) == pytest.approx(
        day, abs=0.025
    )  # 0.005 of rounding, 0.017 of straight lines


@pytest.mark.parametrize("seed", SEEDS)
def test_the_normal_fit_is_scipys(seed):
    days = sample(seed)
    theirs = stats.norm.sf(SEASON_DAYS, days.mean(), days.std(ddof=1))
    assert_allclose(fit_normal(days), theirs, atol=1e-12)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("size", [5, 30])
def test_the_student_fit_is_the_predictive_distribution_of_a_normal_sample(seed, size):
    days = sample(seed, size)
    scale = days.std(ddof=1) * np.sqrt(1 + 1 / size)
    theirs = stats.t.sf(SEASON_DAYS, size - 1, loc=days.mean(), scale=scale)
    assert_allclose(fit_student(days), theirs, atol=1e-12)


def test_the_student_fit_holds_its_stated_risk_in_small_samples_and_the_normal_does_not():
    # the chance that the next date lies beyond the 10 % date, over 20000 samples of five
    rng = np.random.default_rng(11)
    samples = rng.normal(180, 12, (20_000, 5))
    coming = rng.normal(180, 12, 20_000)
    rates = {}
    for fit in (fit_student, fit_normal):
        beyond = [
            np.interp(day, SEASON_DAYS, table) < 0.1 for day, table in zip(coming, fit(samples), strict=True)
        ]
        rates[fit] = np.mean(beyond)
    assert rates[fit_student] == pytest.approx(0.10, abs=0.006)  # 3 standard errors of a share of 0.1
    assert rates[fit_normal] > 0.13


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("shape", ["normal", "early tail", "late tail"])
def test_the_skewed_fit_is_another_librarys_generalised_logistic(seed, shape):
    rng = np.random.default_rng(seed)
    days = {"normal": rng.normal(180, 12, 40), "late tail": 160 + rng.gamma(2, 9, 40),
            "early tail": 200 - rng.gamma(2, 9, 40)}[shape].round()  # fmt: skip
    theirs = distr.glo(**distr.glo.lmom_fit(days))
    with np.errstate(invalid="ignore"):  # theirs is NaN beyond the end of the distribution
        after = 1 - theirs.cdf(SEASON_DAYS)
    known = ~np.isnan(after)
    assert known.sum() > 150
    assert_allclose(fit_skewed(days)[known], after[known], atol=1e-9)
    assert set(fit_skewed(days)[~known]) <= {0.0, 1.0}


def test_the_skewed_fit_of_a_symmetric_sample_is_a_logistic():
    days = 180 + np.array([-20.0, -9, -4, 0, 4, 9, 20])
    _, scale, _ = l_moments(days)
    assert_allclose(fit_skewed(days), stats.logistic.sf(SEASON_DAYS, 180, scale), atol=1e-5)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_smooth_fit_is_a_mean_of_normals_of_silvermans_width(seed):
    days = sample(seed)
    quartiles = np.quantile(days, [0.25, 0.75])
    width = 0.9 * min(days.std(ddof=1), (quartiles[1] - quartiles[0]) / 1.349) * days.size**-0.2
    theirs = stats.norm.sf(SEASON_DAYS, days[:, np.newaxis], width).mean(axis=0)
    assert_allclose(fit_smooth(days), theirs, atol=1e-12)


def test_the_smooth_fit_is_scipys_kernel_estimate_of_the_same_width():
    days = np.concatenate([sample(1), [-np.inf, np.nan]])
    dates = days[np.isfinite(days)]
    low, high = np.quantile(dates, [0.25, 0.75])
    width = 0.9 * min(dates.std(ddof=1), (high - low) / 1.349) * dates.size**-0.2
    kernel = stats.gaussian_kde(dates, bw_method=width / dates.std(ddof=1))
    theirs = [kernel.integrate_box_1d(day, np.inf) for day in SEASON_DAYS[200:320]]
    assert_allclose(fit_smooth(days)[200:320], np.array(theirs) * 30 / 31, atol=1e-9)


def test_equal_quartiles_do_not_narrow_the_smooth_fit_to_nothing():
    days = np.array([260.0] * 20 + [230.0, 290.0])
    table = fit_smooth(days)
    width = 0.9 * days.std(ddof=1) * 22**-0.2  # no quartile range: the standard deviation alone
    assert table[265] == pytest.approx(stats.norm.sf(265, days, width).mean(), abs=1e-12)


@pytest.mark.parametrize("kind", FITS)
@pytest.mark.parametrize("share", [1.0, 0.9, 0.6, 0.345])
def test_every_fit_is_the_share_of_frosts_times_the_fit_of_their_dates(kind, share):
    dates = sample(3, 200)
    none = round(dates.size / share) - dates.size
    days = np.concatenate([dates, np.full(none, -np.inf)])
    assert_allclose(FITS[kind](days), FITS[kind](dates) * 200 / (200 + none), atol=1e-12)


def test_the_registry_holds_every_fit_under_its_own_name():
    assert {name: f"fit_{name}" for name in FITS} == {name: fit.__name__ for name, fit in FITS.items()}
