"""CRPS in closed form against another library, and bands that know of days."""

from __future__ import annotations

import numpy as np
import pytest
import scoringrules

from frostgate.errors import InputError
from frostgate.proof.error_fits import crps_mixture, crps_normal, day_block_bands

# R's scoringRules, test-crps_norm.R, for -3; the others computed from the formula
PUBLISHED = [(-3.0, 2.43657473), (0.0, 0.23369498), (0.5, 0.33140353), (1.0, 0.60244136), (2.0, 1.45279182)]


@pytest.mark.parametrize(("observed", "crps"), PUBLISHED)
def test_the_crps_of_a_normal_is_the_published_one_and_scales_with_the_spread(observed, crps):
    assert crps_normal(observed, 0.0, 1.0) == pytest.approx(crps, abs=1e-8)
    assert crps_normal(0.9 * observed, 0.0, 0.9) == pytest.approx(0.9 * crps, abs=1e-8)


def test_the_crps_of_a_normal_is_that_of_another_library():
    rng = np.random.default_rng(1)
    observed, mean, sd = rng.normal(0, 5, 200), rng.normal(0, 5, 200), rng.uniform(0.1, 6, 200)
    assert crps_normal(observed, mean, sd) == pytest.approx(scoringrules.crps_normal(observed, mean, sd))


@pytest.mark.parametrize(("share", "factor"), [(0.15, 1.8), (0.1, 2.2), (0.5, 4.0), (0.0, 3.0)])
def test_the_crps_of_a_mixture_is_that_of_another_library(share, factor):
    rng = np.random.default_rng(2)
    observed, mean, sd = rng.normal(0, 5, 100), rng.normal(0, 2, 100), rng.uniform(0.1, 6, 100)
    narrow = sd / np.sqrt(1 - share + share * factor**2)
    theirs = scoringrules.crps_mixnorm(
        observed,
        np.column_stack([mean, mean]),
        np.column_stack([narrow, factor * narrow]),
        np.tile([1 - share, share], (100, 1)),
    )
    assert crps_mixture(observed, mean, sd, share, factor) == pytest.approx(theirs)


def test_a_mixture_without_a_tail_is_the_normal():
    assert crps_mixture(1.3, 0.2, 1.7, 0.3, 1.0) == pytest.approx(crps_normal(1.3, 0.2, 1.7))


def shared_days(shared, seed):
    """State 30 % in 20 places on 300 days; where days are shared all places see the same draw."""
    rng = np.random.default_rng(seed)
    draw = np.repeat(rng.random(300), 20) if shared else rng.random(6000)
    return np.full(6000, 0.3), draw < 0.3, np.repeat(np.arange(300), 20)


def test_a_band_is_wider_where_all_places_share_a_day():
    (even,), (shared,) = (
        [row for row in day_block_bands(*shared_days(s, 3)) if row[0]] for s in (False, True)
    )
    binomial = 2 * 1.96 * np.sqrt(0.3 * 0.7 / 6000)
    assert even[4] - even[3] == pytest.approx(binomial, rel=0.25)
    assert shared[4] - shared[3] == pytest.approx(np.sqrt(20) * binomial, rel=0.25)


def test_shared_days_that_are_right_fall_out_of_the_band_about_once_in_twenty():
    rows = [row for seed in range(60) for row in day_block_bands(*shared_days(True, seed)) if row[0]]
    out = sum(not low <= happened <= high for _, _, happened, low, high in rows)
    assert out <= 9  # 3 expected; binomial, 0.1 % of such tests would have more


def test_a_wrong_risk_falls_out_of_its_band():
    stated, happened, days = shared_days(False, 5)
    row = day_block_bands(stated + 0.05, happened, days)[3]
    assert row[2] < row[3]


def test_the_bands_of_a_seed_are_the_same_and_empty_groups_have_none():
    one, two = (day_block_bands(*shared_days(True, 1)) for _ in range(2))
    assert np.array_equal(one, two, equal_nan=True)
    assert np.isnan(one[0, 1:]).all()


def test_dates_serve_as_days():
    stated, happened, days = shared_days(True, 1)
    dates = np.datetime64("2026-01-01") + days
    assert np.array_equal(
        day_block_bands(stated, happened, dates), day_block_bands(stated, happened, days), equal_nan=True
    )


@pytest.mark.parametrize("days", [[], [1, 2]])
def test_each_risk_needs_its_outcome_and_its_day(days):
    with pytest.raises(InputError, match="one outcome and one day"):
        day_block_bands([0.1] * min(len(days), 1), [0] * min(len(days), 1), days)
