"""Drawn forecasts behave as real ones: the observation scatters around them."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from frostgate.gate.forecast_errors import error_spread, link_errors, part_tails
from frostgate.model.gate import Policy
from frostgate.proof.forecasts import FROM_MORNING_TO_MORNING, draw_mornings
from frostgate.seasons import SLOTS
from tests.replay_cases import made_springs

SPREAD_C, NIGHTS = 5.0, 14
MORNINGS = np.arange(200, 260)
LEADS = np.arange(NIGHTS) + 1.0
GAUSSIAN = Policy(wide_share=0.0)
SPRINGS = made_springs(300, climate_sd_c=SPREAD_C)  # 60 mornings of 300 springs
both_policies = pytest.mark.parametrize("policy", [GAUSSIAN, Policy()], ids=["Gaussian", "heavy tails"])


def draw(policy: Policy, seed: int = 5) -> np.ndarray:
    """Give forecasts, shape (mornings, springs, nights)."""
    return np.array([*draw_mornings(SPRINGS, policy, MORNINGS, NIGHTS, np.random.default_rng(seed))])


def observed() -> np.ndarray:
    days = MORNINGS[:, np.newaxis] + 1 + np.arange(NIGHTS)
    return SPRINGS.tmin_c[:, days].transpose(1, 0, 2)


def correlations(errors: np.ndarray) -> list[float]:
    """Correlate the errors of each night with those of the next."""
    nights = errors.reshape(-1, NIGHTS).T
    return [float(np.corrcoef(nights[k], nights[k + 1])[0, 1]) for k in range(NIGHTS - 1)]


@both_policies
def test_the_observation_scatters_around_the_forecast_at_each_lead(policy):
    """Slope 1, but for chance: 300 springs of about 15 spells each, standard error below 0.02."""
    told, came = (values.reshape(-1, NIGHTS).T - 6.0 for values in (draw(policy), observed()))

    slopes = [np.polyfit(told[k], came[k], 1)[0] for k in range(NIGHTS)]

    assert slopes == pytest.approx([1.0] * NIGHTS, abs=0.05)


@both_policies
def test_errors_are_as_wide_as_the_policy_says_at_this_scatter(policy):
    errors = observed() - draw(policy)

    assert errors.std(axis=(0, 1)) == pytest.approx(error_spread(LEADS, math.nan, policy, SPREAD_C), rel=0.04)


def test_errors_beyond_three_deviations_are_as_frequent_as_in_the_policys_mixture():
    """Most nights narrow, the policy's share of mornings wide; counted over the first five nights."""
    policy = Policy()
    sd_c = error_spread(LEADS[:5], math.nan, policy, SPREAD_C)
    wanted = sum(
        2 * share * norm.sf(3 * sd_c / part_c).mean()
        for share, part_c in zip(
            (1 - policy.wide_share, policy.wide_share), part_tails(sd_c, policy, SPREAD_C), strict=True
        )
    )
    far = [float((np.abs(observed() - draw(one))[..., :5] > 3 * sd_c).mean()) for one in (policy, GAUSSIAN)]

    assert far == pytest.approx([wanted, 2 * norm.sf(3)], rel=0.2)


@both_policies
def test_errors_hang_together_from_night_to_night_as_the_gate_reckons(policy):
    links = link_errors(error_spread(LEADS, math.nan, policy, SPREAD_C) / SPREAD_C, policy)

    assert correlations(observed() - draw(policy)) == pytest.approx(links, abs=0.1)
    assert links[0] < 0.3
    assert links[-1] > 0.6


def test_forecasts_know_less_with_lead_and_vary_less_than_the_weather():
    """As far as the policy's table goes: ten days."""
    scatter = draw(GAUSSIAN).std(axis=(0, 1))[:10]

    assert (np.diff(scatter) < 0).all()
    assert scatter[0] < observed().std()


def test_one_night_is_missed_alike_from_morning_to_morning():
    errors = observed() - draw(GAUSSIAN)
    today, tomorrow = errors[1:, :, 1].ravel(), errors[:-1, :, 2].ravel()

    assert np.corrcoef(today, tomorrow)[0, 1] == pytest.approx(FROM_MORNING_TO_MORNING, abs=0.1)


def test_bad_mornings_come_together():
    """Sizes of errors of nights far apart on two mornings are alike only where some mornings are bad."""
    alike = []
    for policy in (replace(GAUSSIAN, wide_share=0.15, wide_factor=4.0), GAUSSIAN):
        size = np.abs(observed() - draw(policy))
        alike.append(np.corrcoef(size[:-1, :, 0].ravel(), size[1:, :, 4].ravel())[0, 1])

    assert alike[0] > 0.1
    assert abs(alike[1]) < 0.03


def test_a_forecast_that_knows_nothing_errs_like_the_weather_itself():
    blind = replace(GAUSSIAN, error_sd_c=((1.0, 50.0),))
    told = draw(blind)

    assert (observed() - told).std() == pytest.approx(SPREAD_C, rel=0.04)
    assert np.abs(told - 6.0).std() < SPREAD_C / 4


def test_bias_is_added_and_the_seed_decides():
    one, again = (draw(GAUSSIAN, seed=3) for _ in range(2))
    biased = draw(replace(GAUSSIAN, error_bias_c=1.5), seed=3)

    assert np.array_equal(one, again)
    assert biased - one == pytest.approx(np.full(one.shape, 1.5))
    assert not np.allclose(one, draw(GAUSSIAN, seed=4))


def test_nothing_is_told_of_nights_beyond_the_seasons_end():
    last = np.array([SLOTS - 4, SLOTS - 1])
    told = [*draw_mornings(SPRINGS, GAUSSIAN, last, NIGHTS, np.random.default_rng(1))]

    assert [int(np.isfinite(one).all(axis=0).sum()) for one in told] == [3, 0]


def test_the_spread_follows_each_days_scatter():
    """Where minima scatter by 2.5 °C errors are narrower, by the policy's rule, in the same springs."""
    calm = replace(SPRINGS, climate_sd_c=SPRINGS.climate_sd_c / 2, tmin_c=6 + (SPRINGS.tmin_c - 6) / 2)
    told = np.array([*draw_mornings(calm, GAUSSIAN, MORNINGS, NIGHTS, np.random.default_rng(5))])

    error_c = (6 + (observed() - 6) / 2 - told).std(axis=(0, 1))

    assert error_c == pytest.approx(error_spread(LEADS, math.nan, GAUSSIAN, SPREAD_C / 2), rel=0.04)
