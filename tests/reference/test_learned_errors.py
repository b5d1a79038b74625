"""The error model against a year of real forecasts, learned from half of the cities and tried on the other.

Each test city then learns from its own mornings, once a week and only from those before: what a garden does.
Not held apart: the weights of `own_errors` come from all cities, and the scatter of a city's lows from its
own year, where a garden has its station's record.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from scipy import special

from frostgate.gate import own_errors
from frostgate.gate.forecast_errors import error_spread
from frostgate.gate.own_errors import learn_site, near_frost
from frostgate.model.gate import Policy
from frostgate.proof.error_fits import crps_mixture, fit_errors
from frostgate.proof.reliability import consistency_band, day_block_bands
from frostgate.units import WHOLE_F_STEP_C
from tests.reference.learn_error_defaults import (
    LEADS,
    learn_defaults,
    read_archive,
    scatter_of,
    score_half_lives,
)

FROST_C = 0.01  # 32 °F, whatever the last digit


@pytest.fixture(scope="module")
def archive(reference):
    return read_archive(reference)


@pytest.fixture(scope="module")
def climate_sd_c(archive):
    return scatter_of(archive)


@pytest.fixture(scope="module")
def learned(archive, climate_sd_c):
    return learn_defaults(archive, climate_sd_c)


def chances(log, climate_sd_c, policy):
    """State the chance of an observed low of 32 °F or less, as `frost_chance`, for many nights."""
    sd_c = error_spread(log.lead_days, np.nan, policy, climate_sd_c)
    share, factor = policy.wide_share, policy.wide_factor
    narrow = sd_c / np.sqrt(1 - share + share * factor**2)
    margin_c = log.forecast_c - policy.error_bias_c - WHOLE_F_STEP_C / 2
    return (1 - share) * special.ndtr(-margin_c / narrow) + share * special.ndtr(-margin_c / factor / narrow)


def learn_along(log, climate_sd_c, policy):
    """Give each night of one city its chance and CRPS, by what the city knew at the week's begin."""
    chance, crps_c = np.empty(log.size), np.empty(log.size)
    week = log.issued.astype("datetime64[W]")
    for begin in np.unique(week):
        on: dt.date = begin.astype("datetime64[D]").astype(object)
        own = learn_site(policy, log, on, climate_sd_c).policy
        now = week == begin
        nights = log.only(now)
        chance[now] = chances(nights, climate_sd_c[now], own)
        sd_c = error_spread(nights.lead_days, np.nan, own, climate_sd_c[now])
        mean_c = nights.forecast_c - own.error_bias_c
        crps_c[now] = crps_mixture(nights.observed_c, mean_c, sd_c, own.wide_share, own.wide_factor)
    return chance, crps_c


@pytest.fixture(scope="module")
def tried(archive, climate_sd_c):
    """State chances for every city, by an error model from the other half of the cities and its own past."""
    half, near = np.unique(archive.place, return_inverse=True)[1] % 2, near_frost(archive, Policy())
    chance, crps_c = np.empty(archive.size), np.empty(archive.size)
    for other in (0, 1):
        fit = near & (half != other)
        policy = fit_errors(archive.only(fit), Policy(), climate_sd_c[fit]).policy(Policy())
        for place in np.unique(archive.place[half == other]):
            here = archive.place == place
            chance[here], crps_c[here] = learn_along(archive.only(here), climate_sd_c[here], policy)
    return chance, crps_c


@pytest.fixture(scope="module")
def shipped(archive, climate_sd_c):
    """State chances by the shipped policy and each city's own past."""
    chance, crps_c = np.empty(archive.size), np.empty(archive.size)
    for place in np.unique(archive.place):
        here = archive.place == place
        chance[here], crps_c[here] = learn_along(archive.only(here), climate_sd_c[here], Policy())
    return chance, crps_c


def usual_share(log):
    """Give the share of frosts in each city within 15 days, the 2 days either side left out: a climate."""
    frost, share = log.observed_c <= FROST_C, np.empty(log.size)
    for place in np.unique(log.place):
        here = np.flatnonzero(log.place == place)
        day = log.mornings[here].astype(int)
        apart = np.abs(day[:, np.newaxis] - day)
        nearby = ((apart > 2) & (apart <= 15)).astype(float)
        share[here] = nearby @ frost[here] / nearby.sum(axis=1)
    return share


@pytest.mark.parametrize("name", ["BIAS_N0", "SPREAD_N0"])
def test_the_shipped_weights_are_the_archives(learned, name):
    assert getattr(own_errors, name) == pytest.approx(learned[name], abs=0.5)


@pytest.mark.parametrize("name", ["BIAS_EFFECTIVE", "SPREAD_EFFECTIVE"])
def test_the_shipped_shares_of_effective_mornings_are_the_archives(learned, name):
    assert getattr(own_errors, name) == pytest.approx(learned[name], abs=0.01)


def test_the_shipped_half_life_scores_best(archive, climate_sd_c):
    scores = score_half_lives(archive, climate_sd_c)
    assert min(scores, key=scores.get) == own_errors.HALF_LIFE_DAYS
    assert scores[np.inf] - scores[own_errors.HALF_LIFE_DAYS] < 0.005  # by little, as the table there says


def test_one_factor_serves_all_leads_and_a_morning_counts_once(learned):
    assert learned["correlation of cities' ratios between leads"] > 0.95
    assert learned["correlation of one morning's errors between leads"] == pytest.approx(0.9, abs=0.02)


def test_the_errors_of_one_issues_nights_are_hardly_correlated(archive):
    # the lows of two nights foretold by one bulletin, 0.5 and 1.5 days ahead; city's own bias taken off
    fitted = fit_errors(archive)
    assert fitted.correlated_pairs > 56_000
    assert fitted.correlation == pytest.approx(0.17, abs=0.02)


@pytest.mark.parametrize("lead_days", LEADS.values())
def test_all_ten_tenths_lie_within_the_bands_of_the_days(tried, archive, lead_days):
    at = archive.lead_days == lead_days
    rows = day_block_bands(tried[0][at], archive.observed_c[at] <= FROST_C, archive.mornings[at])
    inside = (rows[:, 3] <= rows[:, 2]) & (rows[:, 2] <= rows[:, 4])
    assert rows[:, 0].min() > 600
    assert inside.all(), rows.round(3)


def test_most_tenths_lie_within_bands_that_take_every_city_for_independent(tried, archive):
    # they are a third too narrow: 24 of 30 lie inside
    inside = 0
    for lead_days in LEADS.values():
        at = archive.lead_days == lead_days
        rows = day_block_bands(tried[0][at], archive.observed_c[at] <= FROST_C, archive.mornings[at])
        for count, stated, share, *_ in rows[rows[:, 0] > 0]:
            low, high = consistency_band(stated, int(count))
            inside += low <= share <= high
    assert inside == pytest.approx(24, abs=2)


def test_the_shipped_policy_with_the_citys_own_past_lies_within_the_bands_nearly_everywhere(shipped, archive):
    # its bias begins at 0 where these forecasts run 0.3 °C too cold: measured 26 of 30
    inside = 0
    for lead_days in LEADS.values():
        at = archive.lead_days == lead_days
        rows = day_block_bands(shipped[0][at], archive.observed_c[at] <= FROST_C, archive.mornings[at])
        inside += int(((rows[:, 3] <= rows[:, 2]) & (rows[:, 2] <= rows[:, 4])).sum())
    assert inside >= 26


@pytest.mark.parametrize("lead_days", LEADS.values())
def test_the_brier_score_beats_the_bare_forecast_and_the_climate(tried, archive, lead_days):
    at = archive.lead_days == lead_days
    nights = archive.only(at)
    frost = nights.observed_c <= FROST_C
    brier = np.mean((tried[0][at] - frost) ** 2)
    bare = np.mean(((nights.forecast_c <= FROST_C) != frost) ** 2)
    assert brier < 0.72 * bare  # measured 0.0274, 0.0286, 0.0296 against 0.0393, 0.0415, 0.0422
    assert brier < 0.41 * np.mean((usual_share(nights) - frost) ** 2)


@pytest.mark.parametrize("lead_days", LEADS.values())
def test_a_citys_own_past_sharpens_what_other_cities_teach(tried, archive, climate_sd_c, lead_days):
    at = (archive.lead_days == lead_days) & near_frost(archive, Policy())
    nights, sd_c = archive.only(at), error_spread(lead_days, np.nan, Policy(), climate_sd_c[at])
    without = crps_mixture(
        nights.observed_c, nights.forecast_c, sd_c, Policy().wide_share, Policy().wide_factor
    )
    raw = np.abs(nights.observed_c - nights.forecast_c)
    assert tried[1][at].mean() < 0.97 * without.mean() < 0.80 * raw.mean()
