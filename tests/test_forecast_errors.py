"""How far a forecast may miss: against published arithmetic, and against independent routes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate, stats

from frostgate.gate.forecast_errors import chance_of_any, error_spread, frost_chance
from frostgate.gate.outlook import look_ahead
from frostgate.terms import Policy
from frostgate.units import WHOLE_F_STEP_C, celsius
from tests.gate_cases import NOW, make_curve, make_forecast

GAUSSIAN = Policy(wide_share=0.0)
GRID = 2e-4  # the chain is summed over cells of 0.05 standard deviations
SD_3_F = 3 / 1.8


@pytest.mark.parametrize(
    ("step_c", "chance"),
    # a Gaussian: forecast 36 °F, sd 3 °F; T <= 32 °F, and whole °F observed, T <= 32.5 °F; computed
    [(0.0, 0.09121), (WHOLE_F_STEP_C, 0.12167)],
)
def test_a_frost_is_whatever_would_be_observed_as_one(step_c, chance):
    curve = make_curve(step_c=step_c)
    forecast = make_forecast([celsius(36.0)], sd_c=SD_3_F)
    policy = Policy(wide_share=0.0, spread_floor_c=0.0)
    (night,) = look_ahead(curve, forecast, policy, NOW).nights
    assert night.margin_c == pytest.approx(4 / 1.8 - step_c / 2)
    assert night.sd_c == pytest.approx(SD_3_F)
    assert night.chance == pytest.approx(chance, abs=1e-5)


@pytest.mark.parametrize(
    ("lead_days", "sd_c"),
    [(0.0, 1.70), (0.5, 1.70), (0.75, 1.745), (1.0, 1.79), (1.5, 1.86), (2.75, 1.96), (8.0, 3.95),
     (9.0, 4.35), (10.0, 4.75), (12.0, 4.75), (-0.5, 1.70)],  # the policy's table, and straight lines between
)  # fmt: skip
def test_the_spread_is_read_from_the_policy_between_its_leads(lead_days, sd_c):
    assert error_spread(lead_days, math.nan, Policy()) == pytest.approx(sd_c)


def test_a_stated_spread_is_joined_with_the_floor_and_holds_at_any_lead():
    assert error_spread(1.0, 2.4, Policy()) == error_spread(9.0, 2.4, Policy()) == pytest.approx(2.6)
    assert error_spread(1.0, 0.0, Policy(spread_floor_c=0.7)) == pytest.approx(0.7)


def test_a_variance_linear_in_the_stated_one_gives_the_published_chance():
    # Gneiting et al. (2005): c = 1, d = .8, S^2 = 2.25, mean 2.4 °C: variance 2.8, P(T <= 0) = .07575
    sd_c = error_spread(1.0, math.sqrt(0.8 * 2.25), GAUSSIAN)
    assert sd_c**2 == pytest.approx(2.8)
    assert frost_chance(2.4, sd_c, GAUSSIAN) == pytest.approx(0.07575, abs=1e-5)


@pytest.mark.parametrize(("margin_c", "sd_c"), [(0.0, 1.8), (2.0, 1.8), (7.5, 1.8), (-3.0, 2.6), (9.0, 4.75)])
def test_the_mixture_is_that_of_two_gaussians_of_the_spread_asked_for(margin_c, sd_c):
    narrow = sd_c / math.sqrt(0.9 + 0.1 * 2.2**2)
    expected = 0.9 * stats.norm.cdf(-margin_c, scale=narrow) + 0.1 * stats.norm.cdf(
        -margin_c, scale=2.2 * narrow
    )
    assert frost_chance(margin_c, sd_c, Policy()) == pytest.approx(expected, rel=1e-9)


def _moment(power: int) -> float:
    """Integrate |error|^power under the mixture's density, differenced from its distribution."""
    step = 1e-4

    def weighed(error):
        density = frost_chance(-error - step, 1.0, Policy()) - frost_chance(-error + step, 1.0, Policy())
        return 2 * error**power * density / (2 * step)

    return integrate.quad(weighed, 0.0, 15.0, limit=200)[0]


def test_the_mixture_has_the_spread_and_the_heavy_tails_of_the_city_digests():
    rmse, mae = math.sqrt(_moment(2)), _moment(1)
    assert rmse == pytest.approx(1.0, abs=1e-5)
    closed = math.sqrt(math.pi / 2) * math.sqrt(0.9 + 0.1 * 2.2**2) / (0.9 + 0.1 * 2.2)
    assert rmse / mae == pytest.approx(closed, abs=1e-4)
    # error_by_lead_day.csv, 0.5 to 1.5 days: sd / mae 1.308, 1.297, 1.301; a Gaussian has 1.2533
    assert rmse / mae == pytest.approx(1.31, abs=0.015)


@pytest.mark.parametrize(
    ("correlation", "chance"),
    [(0.0, 0.4880), (0.3, 0.4432), (0.6, 0.3628), (0.9, 0.2188)],  # AR(1) nights of .09121 each, computed
)
def test_seven_like_nights_give_the_published_chance(correlation, chance):
    any_frost = chance_of_any([0.09121] * 7, correlation)
    assert any_frost[0] == pytest.approx(chance, abs=0.002)
    assert any_frost[6] == pytest.approx(0.0912, abs=GRID)  # also the limit of full correlation
    assert any_frost[7] == 0.0


UNEQUAL = {
    "calm, then colder": [0.01, 0.02, 0.05, 0.12, 0.3],
    "one cold night": [0.02, 0.02, 0.7, 0.02, 0.02],
    "cold, then clearing": [0.6, 0.4, 0.2, 0.1, 0.01],
    "up and down": [0.001, 0.35, 0.004, 0.25, 0.09],
}


@pytest.mark.parametrize("correlation", [0.0, 0.3, 0.6, 0.95])
@pytest.mark.parametrize("chances", UNEQUAL.values(), ids=list(UNEQUAL))
def test_unequal_nights_agree_with_a_multivariate_normal(chances, correlation):
    apart = np.abs(np.subtract.outer(np.arange(5), np.arange(5)))
    clear_below = -stats.norm.ppf(chances)
    clear = [
        stats.multivariate_normal(cov=correlation ** apart[first:, first:], seed=7).cdf(clear_below[first:])
        for first in range(5)
    ]
    assert chance_of_any(chances, correlation)[:5] == pytest.approx(1 - np.array(clear), abs=1e-3)


def test_unequal_nights_agree_with_drawn_errors():
    chances, correlation, draws = [0.05, 0.2, 0.1, 0.4], 0.6, 400_000
    noise = np.random.default_rng(2026).standard_normal((4, draws))
    errors = [noise[0]]
    for step in noise[1:]:
        errors.append(correlation * errors[-1] + math.sqrt(1 - correlation**2) * step)
    frost = np.array(errors) <= stats.norm.ppf(chances)[:, np.newaxis]
    drawn = [frost[first:].any(axis=0).mean() for first in range(4)]
    assert chance_of_any(chances, correlation)[:4] == pytest.approx(drawn, abs=0.003)  # 4 standard errors


@pytest.mark.parametrize("correlation", [0.0, 0.6, 0.95])
@pytest.mark.parametrize("chance", [0.0, 1e-9, 1e-4, 0.37, 0.5, 0.999, 1.0])
def test_a_single_night_keeps_its_own_chance(chance, correlation):
    assert chance_of_any([chance], correlation) == pytest.approx([chance, 0.0], abs=1e-12)


@pytest.mark.parametrize("correlation", [0.0, 0.6, 0.95])
def test_certain_nights_stay_certain(correlation):
    assert chance_of_any([0.0] * 10, correlation) == pytest.approx([0.0] * 11, abs=1e-12)
    assert chance_of_any([0.0, 1.0, 0.0], correlation) == pytest.approx([1.0, 1.0, 0.0, 0.0], abs=1e-12)


def test_no_night_at_all_has_no_frost():
    assert chance_of_any([], 0.6).tolist() == [0.0]
