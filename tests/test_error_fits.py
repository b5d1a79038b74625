"""Fits of the forecast's error: numbers that were put in come out again."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import scoringrules

from frostgate.errors import InputError
from frostgate.gate.forecast_errors import chance_of_any, error_spread, frost_chance
from frostgate.model.gate import ForecastLog, Policy
from frostgate.proof.error_fits import crps_mixture, fit_errors, try_fit

GAUSSIAN = Policy(wide_share=0.0)
DAYS = np.arange("2024-01-01", "2027-01-01", dtype="datetime64[D]")

# R's scoringRules, test-crps_norm.R, for -3; the others computed from the formula
PUBLISHED = [(-3.0, 2.43657473), (0.0, 0.23369498), (0.5, 0.33140353), (1.0, 0.60244136), (2.0, 1.45279182)]


def drawn_log(leads=(1.0, 2.0), bias_c=0.5, sd_c=(1.5, 2.0), correlation=0.0, share=0.0, factor=1.0, seed=1):
    """Draw a log of errors of a known kind: each day's issue foretells one night at each lead."""
    rng = np.random.default_rng(seed)
    shape = (DAYS.size, len(leads))
    z = rng.standard_normal(shape)
    for k in range(1, len(leads)):
        z[:, k] = correlation * z[:, k - 1] + math.sqrt(1 - correlation**2) * z[:, k]
    wide = np.where(rng.random(shape) < share, factor, 1.0) / math.sqrt(1 - share + share * factor**2)
    error = bias_c + z * wide * np.array(sd_c)
    mornings = DAYS[:, np.newaxis] + np.array([math.ceil(lead) for lead in leads])
    lead = (np.array(leads) * 1440).astype("timedelta64[m]")
    issued = mornings.astype("M8[m]") + np.timedelta64(6, "h") - lead
    observed = rng.normal(3, 4, shape)
    return ForecastLog(
        issued=issued.ravel(),
        mornings=mornings.ravel(),
        forecast_c=(observed + error).ravel(),
        observed_c=observed.ravel(),
    )


def test_whole_fahrenheit_observations_meet_the_threshold_half_a_degree_above():  # computed
    assert frost_chance(4 / 1.8, 3 / 1.8, GAUSSIAN) == pytest.approx(0.09121, abs=1e-5)
    assert frost_chance(3.5 / 1.8, 3 / 1.8, GAUSSIAN) == pytest.approx(0.12167, abs=1e-5)


@pytest.mark.parametrize(
    ("correlation", "any_frost"), [(0.0, 0.4880), (0.3, 0.4432), (0.6, 0.3628), (0.9, 0.2188)]
)  # computed for seven nights of 0.09121 joined as AR(1)
def test_seven_correlated_nights_have_the_computed_chance(correlation, any_frost):
    assert chance_of_any([0.09121] * 7, correlation)[0] == pytest.approx(any_frost, abs=0.002)


def test_bias_and_spread_by_lead_come_out_again():
    fitted = fit_errors(drawn_log())
    assert fitted.lead_days == (1.0, 2.0)
    assert fitted.bias_c == pytest.approx((0.5, 0.5), abs=0.15)
    assert fitted.sd_c == pytest.approx((1.5, 2.0), rel=0.08)
    assert fitted.crps_c < fitted.raw_crps_c


def test_bulletins_some_minutes_earlier_or_later_are_of_one_lead():
    log = drawn_log(leads=(1.0,), sd_c=(1.5,))
    minutes = np.random.default_rng(1).integers(-120, 121, log.size).astype("timedelta64[m]")
    shifted = replace(log, issued=log.issued + minutes)
    assert fit_errors(shifted).lead_pairs == (DAYS.size,)


def test_heavy_tails_are_told_from_light_ones():
    heavy = fit_errors(drawn_log(share=0.15, factor=3.0))
    light = fit_errors(drawn_log())

    def two_spreads_off(fitted):
        return 2 * frost_chance(3.0, 1.0, fitted.policy(Policy()))

    assert two_spreads_off(heavy) == pytest.approx(
        2 * frost_chance(3.0, 1.0, Policy(wide_share=0.15, wide_factor=3.0)), rel=0.25
    )
    assert two_spreads_off(light) == pytest.approx(0.0027, rel=0.5)  # a Gaussian's


@pytest.mark.parametrize("correlation", [0.0, 0.2, 0.6])
def test_the_correlation_of_one_issues_nights_comes_out_again(correlation):
    fitted = fit_errors(drawn_log(correlation=correlation))
    assert fitted.correlation == pytest.approx(correlation, abs=0.08)
    assert fitted.correlated_pairs == DAYS.size
    assert fitted.policy(Policy()).error_correlation == max(fitted.correlation, 0.0)


def test_without_consecutive_nights_the_correlation_is_not_known_and_the_policys_stays():
    fitted = fit_errors(drawn_log(leads=(1.0,), sd_c=(1.5,)))
    assert math.isnan(fitted.correlation)
    assert fitted.correlated_pairs == 0
    assert fitted.policy(Policy()).error_correlation == Policy().error_correlation


def test_errors_that_are_all_alike_have_no_correlation():
    log = drawn_log(sd_c=(0.0, 0.0))
    assert math.isnan(fit_errors(log).correlation)


def test_a_fit_becomes_a_policy_whose_spread_is_the_fits():
    fitted = fit_errors(drawn_log(sd_c=(2.0, 1.5)))
    policy = fitted.policy(Policy(damage_temp_c=-1.0))
    assert policy.damage_temp_c == -1.0
    assert policy.error_bias_c == pytest.approx(0.5, abs=0.15)
    spreads = [sd_c for _, sd_c in policy.error_sd_c]
    assert spreads[0] == spreads[1] == fitted.sd_c[0]  # held level
    for climate_sd_c in (2.5, 4.5, 6.0, math.inf):  # not scaled by the weather a second time
        assert error_spread(1.0, math.nan, policy, climate_sd_c) == pytest.approx(
            min(spreads[0], climate_sd_c)
        )


def test_spreads_are_brought_to_the_reference_scatter_where_the_weathers_is_known():
    policy = Policy()
    log = drawn_log(leads=(1.0,), sd_c=(1.0,), bias_c=0.0)
    climate_sd_c = np.where(np.arange(log.size) % 2, 2.5, 6.0)
    true_sd_c = error_spread(1.0, math.nan, policy, climate_sd_c)
    scaled = ForecastLog(
        issued=log.issued,
        mornings=log.mornings,
        forecast_c=log.observed_c + (log.forecast_c - log.observed_c) * true_sd_c,
        observed_c=log.observed_c,
    )
    fitted = fit_errors(scaled, policy, climate_sd_c)
    assert fitted.sd_c[0] == pytest.approx(1.80, rel=0.06)  # the policy's own at 1 day
    assert fitted.policy(policy).error_local_c == policy.error_local_c


def test_open_nights_and_rare_leads_are_passed_over():
    log = drawn_log()
    few = np.where((log.lead_days == 2.0) & (np.arange(log.size) > 17), np.nan, log.observed_c)
    some = ForecastLog(issued=log.issued, mornings=log.mornings, forecast_c=log.forecast_c, observed_c=few)
    assert fit_errors(some).lead_days == (1.0,)


def test_a_log_with_too_few_closed_nights_is_refused():
    with pytest.raises(InputError, match="too few forecasts"):
        fit_errors(drawn_log().only(np.arange(2 * DAYS.size) < 9))


def test_a_fit_is_tried_on_mornings_it_has_not_seen():
    trial = try_fit(drawn_log(bias_c=2.0), 0.0)
    assert trial is not None
    assert trial.fitted_mornings + trial.tried_mornings == DAYS.size + 1
    assert trial.brier < min(trial.raw_brier, trial.usual_brier)
    assert trial.crps_c < trial.raw_crps_c
    known = trial.groups[trial.groups[:, 0] > 50]
    assert np.all((known[:, 2] > known[:, 3] - 0.1) & (known[:, 2] < known[:, 4] + 0.1))


def test_a_short_log_is_not_tried():
    log = drawn_log()
    assert try_fit(log.only(log.mornings < DAYS[59]), 0.0) is None


@pytest.mark.parametrize("tail", [(0.0, 3.0), (0.3, 1.0)])
@pytest.mark.parametrize(("observed", "crps"), PUBLISHED)
def test_without_a_tail_the_crps_is_the_published_one_of_a_normal_and_scales_with_the_spread(
    observed, crps, tail
):
    assert crps_mixture(observed, 0.0, 1.0, *tail) == pytest.approx(crps, abs=1e-8)
    assert crps_mixture(0.9 * observed, 0.0, 0.9, *tail) == pytest.approx(0.9 * crps, abs=1e-8)


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
