"""How far a forecast may miss: against published arithmetic, and against independent routes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import integrate, stats

from frostgate.gate.forecast_errors import (
    WEATHER_LINK,
    chance_of_any,
    error_spread,
    frost_chance,
    link_errors,
    part_tails,
    stated_chances,
)
from frostgate.gate.outlook import look_ahead
from frostgate.model.gate import Policy
from frostgate.units import WHOLE_F_STEP_C, celsius
from tests.gate_cases import NOW, make_curve, make_forecast, mixture_chance

GAUSSIAN = Policy(wide_share=0.0)
GRID = 2e-4  # the chain is summed over cells of 0.1 standard deviations
SD_3_F = 3 / 1.8
SURE = ((0.5, 0.01), (10.0, 0.01))  # a forecast that hardly misses, save by what it states itself


@pytest.mark.parametrize(
    ("step_c", "chance"),
    # a Gaussian: forecast 36 °F, sd 3 °F; T <= 32 °F, and whole °F observed, T <= 32.5 °F; computed
    [(0.0, 0.09121), (WHOLE_F_STEP_C, 0.12167)],
)
def test_a_frost_is_whatever_would_be_observed_as_one(step_c, chance):
    curve = make_curve(step_c=step_c)
    forecast = make_forecast([celsius(36.0)], sd_c=SD_3_F)
    policy = Policy(wide_share=0.0, spread_floor_c=0.0, error_sd_c=SURE)
    (night,) = look_ahead(curve, forecast, policy, NOW).nights
    assert night.margin_c == pytest.approx(4 / 1.8 - step_c / 2)
    assert night.sd_c == pytest.approx(SD_3_F)
    assert night.chance == pytest.approx(chance, abs=1e-5)


TABLE = Policy(error_sd_c=((0.5, 1.7), (1.0, 1.8), (1.5, 1.86), (4.0, 2.11), (8.0, 3.91)))


@pytest.mark.parametrize(
    ("lead_days", "sd_c"),
    [(0.0, 1.7), (0.5, 1.7), (0.75, 1.75), (1.0, 1.8), (1.5, 1.86), (2.5, 1.96), (6.0, 3.01), (8.0, 3.91),
     (12.0, 3.91), (-0.5, 1.7)],
)  # fmt: skip
def test_the_spread_is_read_from_the_policy_between_its_leads(lead_days, sd_c):
    assert error_spread(lead_days, math.nan, TABLE) == pytest.approx(sd_c)


@pytest.mark.parametrize("lead_days", [0.5, 1.0, 2.5, 8.0])
def test_the_table_holds_at_the_scatter_it_was_learned_at(lead_days):
    table = error_spread(lead_days, math.nan, TABLE)
    assert error_spread(lead_days, math.nan, TABLE, TABLE.reference_scatter_c) == pytest.approx(table)


@pytest.mark.parametrize("lead_days", [0.5, 1.5, 4.0, 8.0])
def test_errors_grow_with_the_scatter_of_the_weather_by_a_straight_line_of_variances(lead_days):
    climate_sd_c = np.array([2.2, 3.0, 4.5, 6.0, 9.0])
    variance = error_spread(lead_days, math.nan, TABLE, climate_sd_c) ** 2
    free = variance < climate_sd_c**2  # the others know no more than the time of the year
    slope, local = np.polyfit(climate_sd_c[free] ** 2, variance[free], 1)
    assert local == pytest.approx(TABLE.error_local_c**2)
    assert variance[free] == pytest.approx(local + slope * climate_sd_c[free] ** 2)
    assert free.sum() >= 4


@pytest.mark.parametrize("climate_sd_c", [0.5, 1.0, 2.0, 3.9])
def test_no_forecast_is_worse_than_the_time_of_the_year(climate_sd_c):
    assert error_spread(8.0, math.nan, TABLE, climate_sd_c) <= climate_sd_c
    assert error_spread(8.0, 5.0, TABLE, climate_sd_c) == climate_sd_c
    assert error_spread(8.0, math.nan, TABLE, 0.5) == 0.5


def test_a_local_part_above_the_table_leaves_the_table():
    assert error_spread(0.5, math.nan, Policy(error_local_c=9.0), 9.0) == pytest.approx(
        error_spread(0.5, math.nan, Policy())
    )


def test_the_shipped_spreads_grow_from_the_digests_to_the_hourly_forecasts():
    # city digests at half a day: 1.68 to 1.72 °C by how cities are weighed; hourly ones on day 8: 3.59 °C
    assert error_spread(0.5, math.nan, Policy()) == pytest.approx(1.70, abs=0.03)
    assert error_spread(8.0, math.nan, Policy()) == pytest.approx(3.59, abs=0.01)


def test_a_stated_spread_is_joined_with_the_floor_and_holds_at_any_lead():
    assert error_spread(1.0, 2.4, Policy()) == error_spread(4.0, 2.4, Policy()) == pytest.approx(2.6)
    assert error_spread(1.0, 0.0, Policy(spread_floor_c=0.7, error_sd_c=SURE)) == pytest.approx(0.7)


@pytest.mark.parametrize("stated_sd_c", [0.0, 0.3, 1.0])
@pytest.mark.parametrize("lead_days", [0.5, 3.0, 8.0])
def test_a_stated_spread_is_never_believed_narrower_than_errors_were_measured(stated_sd_c, lead_days):
    measured_c = error_spread(lead_days, math.nan, Policy())
    assert error_spread(lead_days, stated_sd_c, Policy()) == pytest.approx(measured_c)


def test_a_variance_linear_in_the_stated_one_gives_the_published_chance():
    # Gneiting et al. (2005): c = 1, d = .8, S^2 = 2.25, mean 2.4 °C: variance 2.8, P(T <= 0) = .07575
    policy = replace(GAUSSIAN, error_sd_c=SURE)
    sd_c = error_spread(1.0, math.sqrt(0.8 * 2.25), policy)
    assert sd_c**2 == pytest.approx(2.8)
    assert frost_chance(2.4, sd_c, policy) == pytest.approx(0.07575, abs=1e-5)


def test_what_a_forecast_states_of_a_frost_by_its_members_its_quantiles_or_its_spread():
    """Two of four members; by tables a normal of 5.6 ± 6.7 °C (42 ± 12 °F): P(T <= 0) = .2023."""
    nan = math.nan
    members_c = [[-2.0, -2.0, 11.0, 11.0], [nan] * 4, [nan] * 4]
    forecast = make_forecast([4.5, celsius(42.0), 1.0], sd_c=[7.5, 12 / 1.8, nan], members_c=members_c)
    assert stated_chances(forecast, 0.0) == pytest.approx([0.5, 0.2023, 0.0], abs=1e-4)
    assert stated_chances(forecast, -2.0)[0] == 0.5
    assert stated_chances(forecast, -2.1)[0] == 0.0


@pytest.mark.parametrize(("margin_c", "sd_c"), [(0.0, 1.8), (2.0, 1.8), (7.5, 1.8), (-3.0, 2.6), (9.0, 4.75)])
@pytest.mark.parametrize("policy", [Policy(), Policy(wide_share=0.1, wide_factor=2.2), GAUSSIAN])
def test_the_mixture_is_that_of_two_gaussians_of_the_spread_asked_for(margin_c, sd_c, policy):
    expected = mixture_chance(margin_c, sd_c, policy)
    assert frost_chance(margin_c, sd_c, policy) == pytest.approx(expected, rel=1e-9)
    assert frost_chance(margin_c, sd_c, policy, 100.0) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("share", [0.0, 0.05, 0.17, 0.5, 1.0])
@pytest.mark.parametrize("factor", [1.0, 1.7, 3.0])
@pytest.mark.parametrize("sd_c", [0.5, 2.0, 3.6, 4.0])
def test_parting_the_tails_keeps_the_variance_and_neither_is_wider_than_the_weather(sd_c, factor, share):
    policy = Policy(wide_share=share, wide_factor=factor)
    narrow_c, wide_c = part_tails(sd_c, policy, 4.0)
    assert (1 - share) * narrow_c**2 + share * wide_c**2 == pytest.approx(sd_c**2)
    assert max(narrow_c * (share < 1), wide_c) <= 4.0 + 1e-12
    assert wide_c >= narrow_c - 1e-12


def test_where_nothing_is_foreseen_there_are_no_tails():
    narrow_c, wide_c = part_tails(4.0, Policy(), 4.0)
    assert (narrow_c, wide_c) == pytest.approx((4.0, 4.0))


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
    share, factor = Policy().wide_share, Policy().wide_factor
    closed = math.sqrt(math.pi / 2 * (1 - share + share * factor**2)) / (1 - share + share * factor)
    assert rmse / mae == pytest.approx(closed, abs=1e-4)
    # error_by_lead_day.csv, 0.5 to 1.5 days: sd / mae 1.308, 1.297, 1.301; a Gaussian has 1.2533
    assert rmse / mae == pytest.approx(1.295, abs=0.015)
    # the same digests, each error in units of its city's scatter: 3 deviations too warm on 0.4 % of nights
    assert frost_chance(3.0, 1.0, Policy()) == pytest.approx(0.004, abs=5e-4)


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
    assert chance_of_any([chance], correlation) == pytest.approx(
        [chance, 0.0], abs=1e-9
    )  # the grid ends at 6 sd


@pytest.mark.parametrize("correlation", [0.0, 0.6, 0.95])
def test_certain_nights_stay_certain(correlation):
    assert chance_of_any([0.0] * 10, correlation) == pytest.approx([0.0] * 11, abs=1e-12)
    assert chance_of_any([0.0, 1.0, 0.0], correlation) == pytest.approx([1.0, 1.0, 0.0, 0.0], abs=1e-12)


def test_no_night_at_all_has_no_frost():
    assert chance_of_any([], 0.6).tolist() == [0.0]


@pytest.mark.parametrize("correlation", [0.0, 0.17, 0.6, 0.9])
def test_errors_hang_together_as_the_policy_says_until_they_are_the_weather(correlation):
    policy = Policy(error_correlation=correlation)
    assert link_errors(np.zeros(3), policy) == pytest.approx([correlation] * 2)
    assert link_errors(np.ones(3), policy) == pytest.approx([WEATHER_LINK] * 2)
    halfway = (correlation + WEATHER_LINK) / 2
    assert link_errors(np.full(2, math.sqrt(0.5)), policy) == pytest.approx(
        [halfway], abs=0.0051
    )  # told in hundredths


def test_a_night_alone_has_no_link():
    assert link_errors(np.array([0.4]), Policy()) == []


def test_each_pair_of_nights_has_a_link_of_its_own():
    by_one, chances = chance_of_any([0.2, 0.1, 0.3], 0.4), [0.2, 0.1, 0.3]
    assert chance_of_any(chances, [0.4, 0.4]) == pytest.approx(by_one)
    covariance = [[1.0, 0.2, 0.14], [0.2, 1.0, 0.7], [0.14, 0.7, 1.0]]
    clear = stats.multivariate_normal(cov=covariance, seed=7).cdf(-stats.norm.ppf(chances))
    assert chance_of_any(chances, [0.2, 0.7])[0] == pytest.approx(1 - clear, abs=1e-3)


def test_many_springs_are_weighed_at_once_as_one_by_one():
    chances = np.random.default_rng(3).uniform(0.0, 0.4, (2, 3, 5))
    together = chance_of_any(chances, [0.2, 0.3, 0.5, 0.7])
    assert together.shape == (2, 3, 6)
    assert together[1, 2] == pytest.approx(chance_of_any(chances[1, 2], [0.2, 0.3, 0.5, 0.7]), abs=1e-12)
