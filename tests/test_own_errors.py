"""A site's own errors take over gradually, never at once, and never from nothing."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from frostgate.errors import InputError
from frostgate.gate.own_errors import (
    BIAS_EFFECTIVE,
    BIAS_N0,
    FEWEST_MORNINGS,
    HALF_LIFE_DAYS,
    MILDEST_BIAS_C,
    OwnErrors,
    learn_site,
    near_frost,
    scatter_on,
)
from frostgate.model.gate import ForecastLog, Policy
from frostgate.seasons import NORTH
from frostgate.show.reasons import say_reason
from tests.strategies import given_curve

POLICY, ON = Policy(), dt.date(2026, 4, 12)


def log_of(errors_c, lead_days=1.0, forecast_c=2.0, on=ON):
    """Close one morning for each error, the last this morning."""
    errors_c = np.asarray(errors_c, dtype=float)
    mornings = np.datetime64(on, "D") - np.arange(errors_c.size)[::-1]
    lead = np.timedelta64(round(lead_days * 1440), "m")
    return ForecastLog(
        issued=mornings.astype("M8[m]") + np.timedelta64(6, "h") - lead,
        mornings=mornings,
        forecast_c=np.full(errors_c.size, forecast_c),
        observed_c=forecast_c - errors_c,
    )


def joined(*logs):
    names = ("issued", "mornings", "forecast_c", "observed_c")
    return ForecastLog(**{name: np.concatenate([getattr(log, name) for log in logs]) for name in names})


def drawn(n, bias_c=1.0, sd_c=1.8, seed=1):
    return np.random.default_rng(seed).normal(bias_c, sd_c, n)


@pytest.mark.parametrize(
    "log", [None, log_of([]), log_of([np.nan] * 30), log_of([1.0] * (FEWEST_MORNINGS - 1))]
)
def test_without_enough_closed_mornings_the_policy_is_unchanged_and_that_is_said(log):
    own = learn_site(POLICY, log, ON)
    assert own.policy is POLICY
    assert own.mornings == (0 if log is None else np.isfinite(log.observed_c).sum())
    assert own.bias_weight == 0.0
    assert "as good as elsewhere" in say_reason(own.reason)


@settings(deadline=None)
@given(
    n=st.integers(FEWEST_MORNINGS, 90),
    bias_c=st.floats(-1.0, 6.0),
    sd_c=st.floats(0.2, 5.0),
    policy_bias_c=st.floats(-0.5, 2.0),
)
def test_bias_and_spread_lie_between_the_policys_and_the_sites_own(n, bias_c, sd_c, policy_bias_c):
    errors_c = drawn(n, bias_c, sd_c)
    policy = replace(POLICY, error_bias_c=policy_bias_c)
    own = learn_site(policy, log_of(errors_c), ON)
    assume(not own.doubted_c)
    between = sorted((policy_bias_c, own.mean_error_c))
    assert between[0] - 1e-9 <= own.policy.error_bias_c <= between[1] + 1e-9
    assert 0.0 < own.bias_weight < 1.0
    middle = np.median(errors_c)
    widest = np.max(np.abs(errors_c - policy_bias_c)) + abs(middle) + abs(policy_bias_c)
    assert math.sqrt(1 - own.spread_weight) <= own.spread_factor <= max(1.0, widest / 1.8 + 1)


@pytest.mark.parametrize("errors_c", [[-8.0] * 40, [-3.1] * 12, [0.0] * 30 + [-8.0] * 10])
def test_a_thermometer_that_reads_warm_teaches_nothing_and_is_named(errors_c):
    """40 mornings 8 °C too warm would talk a forecast frost away; so would the latest ten."""
    own = learn_site(POLICY, log_of(errors_c), ON)
    assert own.policy == POLICY
    assert own.reason.code == "own-minima-too-warm"
    assert own.reason.facts["warmer_c"] == pytest.approx(-errors_c[-1], abs=0.1)


@pytest.mark.parametrize("error_c", [-2.9, -1.0, 0.0, 2.0, 8.0])
def test_no_site_makes_its_forecast_much_milder(error_c):
    own = learn_site(POLICY, log_of([error_c] * 60), ON)
    assert own.policy.error_bias_c >= -MILDEST_BIAS_C
    assert own.policy.error_bias_c == pytest.approx(own.bias_weight * own.mean_error_c)  # as it is told
    assert (own.policy.error_bias_c > 1.5) == (error_c > 2.0)


@settings(deadline=None)
@given(fewer=st.integers(FEWEST_MORNINGS, 100), more=st.integers(1, 50))
def test_the_own_weight_grows_with_every_morning(fewer, more):
    few, many = (learn_site(POLICY, log_of([1.0] * n), ON) for n in (fewer, fewer + more))
    assert few.bias_weight < many.bias_weight
    assert few.spread_weight < many.spread_weight
    assert few.policy.error_bias_c < many.policy.error_bias_c < 1.0


def test_the_weight_is_that_of_the_formula():
    recent = 0.5 ** (np.arange(40) / HALF_LIFE_DAYS)
    effective = BIAS_EFFECTIVE * recent.sum()
    own = learn_site(POLICY, log_of([0.8] * 40), ON)
    assert own.bias_weight == pytest.approx(effective / (effective + BIAS_N0))
    assert own.policy.error_bias_c == pytest.approx(0.8 * own.bias_weight)


@pytest.mark.parametrize(("sd_c", "wider"), [(0.9, False), (3.6, True)])
def test_the_spread_follows_the_sites_own_at_every_lead(sd_c, wider):
    own = learn_site(POLICY, log_of(drawn(90, 0.0, sd_c)), ON)
    assert (own.spread_factor > 1.1) if wider else (own.spread_factor < 0.9)
    for (lead, before_c), (same, after_c) in zip(POLICY.error_sd_c, own.policy.error_sd_c, strict=True):
        assert (same, after_c) == (lead, pytest.approx(before_c * own.spread_factor))
    assert own.policy.error_local_c == pytest.approx(POLICY.error_local_c * own.spread_factor)


def test_an_unsure_offset_is_not_added_to_errors_that_hold_it():
    unsure = replace(POLICY, offset_sd_c=2.0)
    logs = [log_of(drawn(90, 0.0, math.hypot(1.8, 2.0), seed)) for seed in range(30)]
    owns = [learn_site(unsure, log, ON) for log in logs]
    assert np.mean([own.spread_factor for own in owns]) == pytest.approx(1.0, abs=0.02)
    assert owns[0].policy.offset_sd_c == pytest.approx(2.0 * owns[0].spread_factor)
    alone = [learn_site(replace(unsure, forecast_offset_c=0.0), log, ON).spread_factor for log in logs]
    assert np.mean(alone) > 1.3


def test_a_site_as_good_as_elsewhere_keeps_its_spread():
    factors = [learn_site(POLICY, log_of(drawn(90, 0.0, 1.8, seed)), ON).spread_factor for seed in range(30)]
    assert np.mean(factors) == pytest.approx(1.0, abs=0.02)


def test_several_forecasts_of_one_morning_count_as_one():
    one = log_of([1.0] * 20)
    three = joined(one, log_of([1.0] * 20, lead_days=2.0), log_of([1.0] * 20, lead_days=3.0))
    a, b = learn_site(POLICY, one, ON), learn_site(POLICY, three, ON)
    assert (a.mornings, a.bias_weight) == (b.mornings, b.bias_weight)
    assert a.policy.error_bias_c == pytest.approx(b.policy.error_bias_c)


def test_the_nearer_forecast_of_a_morning_weighs_more():
    own = learn_site(POLICY, joined(log_of([0.0] * 20), log_of([1.0] * 20, lead_days=8.0)), ON)
    assert own.mean_error_c == pytest.approx(1.77**2 / (1.77**2 + 3.59**2))  # by 1 / spread^2


def test_an_offset_that_is_stated_is_not_learned_again():
    # the garden is 2 °C colder than the forecast, and the grower says so: nothing is left over
    log = log_of(drawn(40, 2.0, 1.5))
    stated = learn_site(replace(POLICY, offset_c=-2.0), log, ON).policy
    silent = learn_site(POLICY, log, ON).policy
    assert stated.error_bias_c == pytest.approx(0.0, abs=0.3)
    assert silent.error_bias_c == pytest.approx(stated.error_bias_c + 2.0 * 0.69, abs=0.05)


@pytest.mark.parametrize("offset_c", [-3.0, 0.0, 1.5])
def test_with_many_mornings_the_gates_minimum_hardly_depends_on_the_offset_stated(offset_c):
    log = log_of(drawn(90, 1.0, 1.0))
    policy = replace(POLICY, forecast_offset_c=offset_c)
    learned = learn_site(policy, log, ON)
    garden_c = 5.0 - learned.policy.error_bias_c + policy.garden_less_forecast_c
    doubt_c = (1 - learned.bias_weight) * abs(offset_c + 1.0)  # what is still the policy's
    assert garden_c == pytest.approx(4.0, abs=doubt_c + 0.2)


@pytest.mark.parametrize("far_c", [47.0, -47.0])
def test_a_gross_slip_moves_the_answer_little(far_c):
    errors_c = drawn(40, 0.5, 1.5)
    clean = learn_site(POLICY, log_of(errors_c), ON)
    errors_c[10] = far_c  # °F and °C mixed up, say
    slip = learn_site(POLICY, log_of(errors_c), ON)
    assert (clean.far_off, slip.far_off) == (0, 1)
    assert slip.policy.error_bias_c == pytest.approx(clean.policy.error_bias_c, abs=0.2)
    assert slip.spread_factor == pytest.approx(clean.spread_factor, abs=0.2)
    assert "1 of them lay far off" in say_reason(slip.reason)


def test_columns_of_two_units_are_refused():
    with pytest.raises(InputError, match="not in one unit"):
        learn_site(POLICY, log_of(drawn(20, 30.0)), ON)


def test_old_mornings_fade_back_to_the_policy():
    errors_c = drawn(40)
    fresh = learn_site(POLICY, log_of(errors_c), ON)
    old = learn_site(POLICY, log_of(errors_c, on=dt.date(2025, 4, 12)), ON)
    assert old.mornings == fresh.mornings
    assert old.bias_weight < 0.05 < fresh.bias_weight
    assert old.policy.error_bias_c == pytest.approx(0.0, abs=0.06)


def test_mornings_to_come_are_not_looked_at():
    log = log_of(drawn(40))
    assert learn_site(POLICY, log, ON - dt.timedelta(days=30)).mornings == 10


def test_mild_nights_are_not_learned_from():
    assert learn_site(POLICY, log_of(drawn(40), forecast_c=10.5), ON).mornings == 0
    near = near_frost(log_of([0.0], forecast_c=10.5), replace(POLICY, offset_c=-2.0))
    assert near.tolist() == [True]  # it is the garden's forecast that counts


def test_errors_are_measured_by_the_weather_of_their_time_of_the_year():
    log = log_of(drawn(60, 0.0, 2.16))  # the policy's spread at 1 day where minima scatter by 6 °C
    known, unknown = learn_site(POLICY, log, ON, np.full(60, 6.0)), learn_site(POLICY, log, ON)
    assert known.spread_factor < unknown.spread_factor
    assert known.spread_factor == pytest.approx(1.0, abs=0.1)


def test_the_scatter_is_read_from_the_curve_by_the_season_day():
    spread_c = np.linspace(1.0, 6.0, 366)
    curve = replace(given_curve(np.linspace(1, 0, 366)), spread_c=spread_c)
    days = np.array(["2025-08-01", "2026-07-31"], dtype="datetime64[D]")
    assert curve.start == NORTH
    assert scatter_on(curve, days) == pytest.approx([1.0, 6.0])


@pytest.mark.parametrize(
    ("own", "words"),
    [
        (OwnErrors(policy=POLICY, mornings=1), "Your own log has 1 morning near frost; 5 are the fewest"),
        (OwnErrors(policy=POLICY, mornings=41, mean_error_c=0.6, bias_weight=0.5, spread_factor=1.1),
         "After 41 mornings near frost your forecast runs 0.6 °C too warm here: 50 % of that is taken off"),
        (OwnErrors(policy=POLICY, mornings=41, mean_error_c=-0.6, bias_weight=0.5, spread_factor=0.9),
         "runs 0.6 °C too cold here"),
        (OwnErrors(policy=POLICY, mornings=41, mean_error_c=0.01, bias_weight=0.5), "runs true here"),
        (OwnErrors(policy=POLICY, mornings=9, mean_error_c=1.0, bias_weight=0.5, spread_factor=1.1),
         "its errors are taken to be 10 % wider than elsewhere"),
        (OwnErrors(policy=POLICY, mornings=9, mean_error_c=1.0, bias_weight=0.5, spread_factor=0.9),
         "10 % narrower"),
        (OwnErrors(policy=POLICY, mornings=9, mean_error_c=1.0, bias_weight=0.5), "as wide as elsewhere"),
    ],
)  # fmt: skip
def test_it_is_said_in_words(own, words):
    assert words in say_reason(own.reason)
