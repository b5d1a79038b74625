"""What every fit promises: one signature, every shape, every kind of season."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from frostgate.climate.fits import FITS, SEASON_DAYS
from frostgate.seasons import SLOTS

NONE, UNKNOWN = -np.inf, np.nan

pytestmark = pytest.mark.parametrize("fit", FITS.values(), ids=FITS.keys())


def dates(*shape, seed=1):
    return np.random.default_rng(seed).normal(200, 15, shape).round()


def seasons(*shape, seed=1):
    """Give frost days of which one in five is none and one in five unknown."""
    rng = np.random.default_rng(seed)
    kinds = rng.choice([0.0, NONE, UNKNOWN], shape, p=[0.6, 0.2, 0.2])
    return dates(*shape, seed=seed) + kinds


def share(days):
    return np.isfinite(days).sum(axis=-1) / np.maximum((~np.isnan(days)).sum(axis=-1), 1)


@pytest.mark.parametrize("shape", [(30,), (4, 30), (2, 3, 30), (1, 1, 1, 12), (0, 30)])
def test_the_last_axis_is_fitted_and_the_others_stay(fit, shape):
    assert fit(seasons(*shape)).shape == (*shape[:-1], SLOTS)


def test_a_row_of_many_is_fitted_as_if_it_were_alone(fit):
    days = seasons(3, 4, 25)
    tables = fit(days)
    for index in np.ndindex(3, 4):
        assert_allclose(tables[index], fit(days[index]), atol=1e-14)


@pytest.mark.parametrize("seed", range(5))
def test_a_table_falls_from_the_share_towards_nothing(fit, seed):
    days = seasons(6, 25, seed=seed)
    tables = fit(days)
    assert (np.diff(tables, axis=-1) <= 1e-15).all()
    assert (tables >= 0).all()
    assert (tables <= share(days)[:, np.newaxis] + 1e-15).all()
    assert_allclose(tables[:, 0], share(days), atol=0.01)
    assert (tables[:, -1] < 0.01).all()


@pytest.mark.parametrize("unknown", [0, 1, 40])
def test_unknown_seasons_change_nothing(fit, unknown):
    days = np.concatenate([dates(20), [NONE] * 5])
    padded = np.random.default_rng(3).permutation(np.concatenate([days, [UNKNOWN] * unknown]))
    assert_allclose(fit(padded), fit(days), atol=1e-12)


def test_the_order_of_the_seasons_does_not_matter(fit):
    days = seasons(30)
    assert_allclose(fit(days[::-1]), fit(days), atol=1e-12)


@pytest.mark.parametrize(
    "days", [[NONE] * 30, [UNKNOWN] * 30, [NONE, UNKNOWN] * 15], ids=["none", "unknown", "both"]
)
def test_without_a_frost_there_is_no_risk(fit, days):
    assert_array_equal(fit(np.array(days)), np.zeros(SLOTS))


@pytest.mark.parametrize("count", [1, 2, 30])
@pytest.mark.parametrize("none", [0, 10])
def test_dates_that_are_all_equal_make_a_step_at_their_day(fit, count, none):
    table = fit(np.array([200.0] * count + [NONE] * none))
    reached = count / (count + none)
    assert table[196] >= 0.98 * reached
    assert table[200] == pytest.approx(0.5 * reached, abs=0.001)
    assert table[204] <= 0.02 * reached


@pytest.mark.parametrize("days", [[190.0, 210.0], [185.0, 195, 200, 205, 215], [180.0, 198, 202, 220, NONE]],
                         ids=["two", "five", "four and none"])  # fmt: skip
def test_a_symmetric_sample_is_split_at_its_middle(fit, days):
    days = np.array(days)
    table = fit(days)
    assert table[200] == pytest.approx(share(days) / 2, abs=1e-6)
    assert_allclose(table[200:230] + table[200:170:-1], share(days), atol=1e-5)


@pytest.mark.parametrize("seed", range(3))
def test_a_mirrored_sample_has_the_mirrored_curve(fit, seed):
    days = dates(25, seed=seed)
    mirrored = fit(400 - days)
    assert_allclose(mirrored[60:341], 1 - fit(days)[340:59:-1], atol=1e-6)


@pytest.mark.parametrize("seed", range(3))
def test_half_of_the_frosts_come_after_the_median(fit, seed):
    days = dates(41, seed=seed)
    assert float(np.interp(np.median(days), SEASON_DAYS, fit(days))) == pytest.approx(0.5, abs=0.1)


def test_a_later_date_never_lowers_the_mean_of_the_curve(fit):
    days = dates(20)
    later = days.copy()
    later[3] += 20
    assert fit(later).sum() > fit(days).sum()


def test_the_days_given_are_left_as_they_were(fit):
    days = seasons(4, 20)
    before = days.copy()
    fit(days)
    assert_array_equal(days, before)


def test_a_day_outside_the_season_is_fitted_too(fit):
    # lengths of seasons run beyond a year where frosts are rare
    table = fit(np.array([-30.0, -20.0, -25.0, 380.0, 390.0, 100.0]))
    assert np.isfinite(table).all()
    assert 0.2 < table[200] < 0.6
