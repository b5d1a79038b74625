"""Drawn forecasts behave as real ones: the observation scatters around them."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from frostgate.gate.forecast_errors import error_spread
from frostgate.proof.drawn import draw_mornings
from frostgate.proof.springs import Springs
from frostgate.seasons import NORTH, SLOTS
from frostgate.terms import Policy

SPREAD_C, STAYS = 5.0, 0.7
MORNINGS = np.arange(200, 260)
GAUSSIAN = Policy(wide_share=0.0)


def made_springs(count: int = 300) -> Springs:
    """Make springs whose weather is an AR(1) chain around 6 °C."""
    rng = np.random.default_rng(11)
    anomaly = np.empty((count, SLOTS))
    anomaly[:, 0] = rng.normal(0, SPREAD_C, count)
    for day in range(1, SLOTS):
        fresh = rng.normal(0, SPREAD_C * math.sqrt(1 - STAYS**2), count)
        anomaly[:, day] = STAYS * anomaly[:, day - 1] + fresh
    shape = (count, SLOTS)
    return Springs(
        years=np.arange(count),
        last_frost=np.zeros(count),
        anomaly_c=anomaly,
        usual_c=np.full(shape, 6.0),
        spread_c=np.full(shape, SPREAD_C),
        risk=np.zeros(shape),
        step_c=0.1,
        start=NORTH,
    )


SPRINGS = made_springs()


def drawn_and_observed(policy: Policy, seed: int = 5) -> tuple[np.ndarray, np.ndarray]:
    told = draw_mornings(SPRINGS, policy, MORNINGS, 7, np.random.default_rng(seed))
    days = MORNINGS[:, np.newaxis] + 1 + np.arange(7)
    observed = (SPRINGS.usual_c + SPRINGS.anomaly_c)[:, days].transpose(1, 0, 2)
    return told, observed


@pytest.mark.parametrize("lead", range(1, 8))
@pytest.mark.parametrize("policy", [GAUSSIAN, Policy()], ids=["Gaussian", "heavy tails"])
def test_the_observation_scatters_around_the_forecast(policy, lead):
    told, observed = (values[..., lead - 1].ravel() for values in drawn_and_observed(policy))

    slope = np.polyfit(told - 6.0, observed - 6.0, 1)[0]
    error = observed - told

    assert slope == pytest.approx(1.0, abs=0.05)
    assert abs(np.corrcoef(told, error)[0, 1]) < 0.05
    assert error.std() == pytest.approx(error_spread(float(lead), math.nan, policy), rel=0.06)


def test_a_forecast_varies_less_than_the_weather_and_less_with_lead():
    told, observed = drawn_and_observed(GAUSSIAN)
    scatter = told.std(axis=(0, 1))

    assert (np.diff(scatter) < 0).all()
    assert scatter[0] < observed[..., 0].std()


def test_errors_hang_together_from_night_to_night_as_the_policy_says():
    told, observed = drawn_and_observed(GAUSSIAN)
    error = observed - told

    found = [np.corrcoef(error[..., k].ravel(), error[..., k + 1].ravel())[0, 1] for k in range(6)]

    assert found == pytest.approx([GAUSSIAN.error_correlation] * 6, abs=0.05)


def test_forecasts_of_one_night_resemble_each_other_from_morning_to_morning():
    told, observed = drawn_and_observed(GAUSSIAN)
    today, tomorrow = observed[1:, :, 1] - told[1:, :, 1], observed[:-1, :, 2] - told[:-1, :, 2]

    assert np.corrcoef(today.ravel(), tomorrow.ravel())[0, 1] > 0.5


def test_no_error_is_wider_than_the_weather():
    blind = replace(GAUSSIAN, error_sd_c=((1.0, 50.0),))
    told, observed = drawn_and_observed(blind)

    assert (observed - told).std() == pytest.approx(SPREAD_C, rel=0.06)
    assert np.abs(told - 6.0).std() < SPREAD_C / 2


def test_bias_is_added_and_the_seed_decides():
    one, other = (drawn_and_observed(GAUSSIAN, seed=3)[0] for _ in range(2))
    biased = drawn_and_observed(replace(GAUSSIAN, error_bias_c=1.5), seed=3)[0]

    assert np.array_equal(one, other)
    assert biased - one == pytest.approx(np.full(one.shape, 1.5))
    assert not np.allclose(one, drawn_and_observed(GAUSSIAN, seed=4)[0])
