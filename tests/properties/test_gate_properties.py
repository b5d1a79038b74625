"""Laws of the gate, for outlooks drawn by chance. Each says what it holds fixed."""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from frostgate.gate.forecast_errors import chance_of_any
from frostgate.model.curves import FrostCurve
from frostgate.model.gate import Forecast, Policy, Reason
from frostgate.seasons import NORTH, SLOTS, date_of, season_day_of
from frostgate.show.reasons import say_reasons
from tests.gate_cases import DAY, decide, look, make_curve, make_forecast, make_weather, ramp, warmed

law = settings(derandomize=True, deadline=None, max_examples=40)
GRID = 5e-4  # the chain of nights is summed over cells of 0.05 standard deviations
EXACT = 1e-12
NEVER = dt.date.max
STEP_C = {"C": 0.5, "F": 5 / 9}


def facts_of(verdict, *codes):
    """Return the numbers of the first reason with one of some codes; None where there is none."""
    return next((reason.facts for reason in verdict.reasons if reason.code in codes), None)


class Case(NamedTuple):
    """A morning's question."""

    curve: FrostCurve
    forecast: Forecast
    policy: Policy
    now: dt.datetime

    def look(self, **changes):
        curve, forecast, policy, now = self._replace(**changes)
        return look(curve, forecast, policy, now)

    def decide(self, **changes):
        options = {name: changes.pop(name) for name in ("climate_only", "weather") if name in changes}
        curve, forecast, policy, now = self._replace(**changes)
        return decide(curve, forecast, policy, now, **options)


def tenths(low, high):
    return st.integers(round(low * 10), round(high * 10)).map(lambda value: value / 10)


POLICIES = st.builds(
    Policy,
    risk_tolerance=st.sampled_from([0.01, 0.05, 0.1, 0.2, 0.35, 0.5]),
    offset_c=tenths(-3, 3),
    forecast_offset_c=st.none() | tenths(-3, 3),
    first_exposed_days=st.integers(0, 2),
    error_bias_c=tenths(-1, 1),
    error_correlation=st.sampled_from([0.0, 0.3, 0.6, 0.9]),
    wide_share=st.sampled_from([0.0, 0.1, 0.3]),
)


SPREADS, LOWS = st.none() | tenths(0, 4), tenths(-4, 16)


@st.composite
def cases(draw, *, stated=SPREADS, lows=LOWS):
    """Draw a morning around the curve's middle, with a forecast of 3 to 7 mornings from this one on."""
    middle = draw(st.integers(180, 300))
    now = dt.datetime.combine(date_of(2025, middle + draw(st.integers(-25, 64)), NORTH), dt.time(6))
    share, days = draw(st.sampled_from([0.02, 0.3, 1.0])), draw(st.integers(1, 60))
    risk, rise = ramp(date_of(2025, middle, NORTH), days, share).risk, draw(tenths(1, 3))
    lowest, above = draw(lows), draw(st.lists(tenths(0, 8), min_size=3, max_size=7))
    spread = draw(stated)
    return Case(
        make_curve(risk, high=risk ** (1 / rise), low=risk**rise),
        make_forecast(
            [lowest + more for more in above],
            issued=now - draw(st.integers(0, 24)) * dt.timedelta(hours=1),
            first=now.date(),
            sd_c=np.nan if spread is None else spread,
        ),
        draw(POLICIES),
        now,
    )


def wait(verdict):
    return verdict.earliest_date or NEVER


@law
@given(cases())
def test_the_risk_never_rises_with_the_date_and_is_a_chance(case):
    outlook = case.look()
    assert np.all(np.diff(outlook.risk) <= EXACT)
    assert np.all((outlook.risk >= 0) & (outlook.risk <= 1))
    assert np.all(outlook.risk >= np.maximum(outlook.window_risk, outlook.climate_risk) - EXACT)


@law
@given(cases())
def test_behind_the_forecast_the_risk_is_the_curves_alone(case):
    outlook = case.look()
    ahead = len(outlook.nights)
    assert outlook.risk[ahead:] == pytest.approx(outlook.climate_alone[ahead:], abs=EXACT)


@law
@given(cases(), st.integers(1, 3))
def test_asked_later_of_the_same_forecast_the_same_date_is_never_safer(case, days):
    """Holds fixed: curve, forecast, policy, and that the forecast is not yet stale or ended."""
    policy = dataclasses.replace(case.policy, max_age_hours=1000.0)
    later = case.now + days * DAY
    assume(season_day_of(later.date(), NORTH)[0] == 2025)
    assume(case.forecast.through >= later.date() + policy.first_exposed_days * DAY)
    now, then = case.look(policy=policy), case.look(policy=policy, now=later)
    assert then.risk[0] >= now.risk[-then.risk.size] - EXACT


@law
@given(cases(), tenths(0, 6), st.floats(0, 1))
def test_a_warmer_garden_never_waits_longer(case, warmer_c, nested):
    """Holds fixed: the station's forecast, its spreads, the tolerance; the curves are nested."""
    offset_c = case.policy.garden_less_forecast_c + warmer_c
    policy = dataclasses.replace(case.policy, forecast_offset_c=offset_c)
    curve = make_curve(case.curve.risk * nested)
    here, warmer = case.look(), case.look(policy=policy, curve=curve)
    assert np.all(warmer.risk <= here.risk + EXACT)
    assert wait(case.decide(policy=policy, curve=curve)) <= wait(case.decide())


@law
@given(cases(), st.floats(0.001, 0.5))
def test_who_bears_more_risk_never_waits_longer(case, tolerance):
    """Holds fixed: everything but the tolerance."""
    bolder = max(tolerance, case.policy.risk_tolerance)
    policies = [dataclasses.replace(case.policy, risk_tolerance=risk) for risk in (tolerance, bolder)]
    careful, bold = (case.decide(policy=policy) for policy in policies)
    assert wait(bold) <= wait(careful)
    assert not (careful.state == "open" and bold.state != "open")
    dates = [date or NEVER for _, date in bold.by_risk]
    assert dates == sorted(dates)


@law
@given(cases(), st.integers(0, 24))
def test_an_older_forecast_never_opens(case, hours):
    """Holds fixed: the nights, the curve, the policy; tolerance at most a half."""
    dated = {
        "dates": case.forecast.dates,
        "issued_at": case.forecast.issued_at - hours * dt.timedelta(hours=1),
    }
    older = dataclasses.replace(case.forecast, **dated)
    if case.decide().state != "open":
        assert case.decide(forecast=older).state != "open"


@law
@given(cases(), st.lists(tenths(0, 9), min_size=7, max_size=7))
def test_a_colder_forecast_never_opens(case, colder_c):
    """Holds fixed: everything but the minima, each as cold as before or colder."""
    tmin_c = case.forecast.tmin_c
    colder = dataclasses.replace(case.forecast, tmin_c=tmin_c - colder_c[: tmin_c.size])
    assert np.all(case.look(forecast=colder).risk >= case.look().risk - EXACT)
    assert not (case.decide().state == "shut" and case.decide(forecast=colder).state == "open")


@law
@given(cases(stated=tenths(0, 3), lows=tenths(8, 20)), tenths(0, 3))
def test_a_wider_spread_around_a_mild_forecast_never_lowers_the_risk(case, wider_c):
    """Holds fixed: everything but the stated spread; every minimum lies above what would do damage."""
    wider = dataclasses.replace(case.forecast, sd_c=case.forecast.sd_c + wider_c)
    assert all(night.margin_c >= 0 for night in case.look().nights)
    assert np.all(case.look(forecast=wider).risk >= case.look().risk - EXACT)


SPOILED = {
    "stale": lambda mild: dataclasses.replace(mild, issued_at=mild.issued_at - 3 * DAY),
    "of tomorrow": lambda mild: dataclasses.replace(mild, issued_at=mild.issued_at + 2 * DAY),
    "gap": lambda mild: dataclasses.replace(mild, tmin_c=np.append([np.nan] * 3, mild.tmin_c[3:])),
    "ended": lambda mild: dataclasses.replace(mild, dates=mild.dates - 7),
    "none": lambda _: None,
}


@law
@given(cases(), st.sampled_from(list(SPOILED)))
def test_unknown_is_never_open_however_mild_the_place(case, fault):
    policy = dataclasses.replace(case.policy, risk_tolerance=0.5)
    forecast = SPOILED[fault](make_forecast([20.0] * 7, issued=case.now, first=case.now.date()))
    verdict = case.decide(curve=make_curve(0.0), forecast=forecast, policy=policy)
    assert (verdict.state, verdict.risk_today, verdict.earliest_date) == ("unknown", None, None)
    assert verdict.reasons[-1] == Reason("unknown-not-safe")


@law
@given(cases(), st.booleans())
def test_every_reason_has_its_words(case, climate_only):
    """In either unit a whole sentence, its numbers filled in."""
    for unit in ("C", "F"):
        for sentence in say_reasons(case.decide(climate_only=climate_only).reasons, unit):
            assert sentence[0].isupper()
            assert sentence.endswith(".")
            assert not {"{", "nan", "None", "_"} & set(sentence.replace(".", " ").split())


@law
@given(cases())
def test_the_likely_range_holds_the_earliest_date(case):
    verdict = case.decide()
    assert verdict.state == ("open" if verdict.earliest_date == case.now.date() else "shut")
    if verdict.likely_from is not None:
        assert case.now.date() < verdict.likely_from <= verdict.earliest_date <= (verdict.likely_to or NEVER)
    assert (verdict.likely_from is None) == (verdict.state == "open" or verdict.earliest_date is None)


@law
@given(cases(), st.sampled_from(["C", "F"]))
def test_the_shift_that_is_said_to_turn_the_answer_turns_it(case, unit):
    """Holds fixed: everything but the minima. A shift smaller by one step leaves the answer as it is."""
    verdict = case.decide()
    told = facts_of(verdict, "colder-would-shut", "milder-would-open")
    if told is None:
        return
    in_c, in_f = told["shift_c_f"]
    size_c = {"C": in_c, "F": in_f * STEP_C["F"]}[unit]
    side = -1 if verdict.state == "open" else 1
    turned, not_yet = (
        case.decide(forecast=warmed(case.forecast, side * shift_c)).state
        for shift_c in (size_c, size_c - STEP_C[unit])
    )
    assert (verdict.state, turned) in {("open", "shut"), ("shut", "open")}
    assert not_yet == verdict.state


@law
@given(cases(lows=tenths(-20, 20)))
def test_a_gate_that_no_forecast_opens_stays_shut_in_a_heat_wave(case):
    if Reason("too-early") in case.decide().reasons:
        assert case.decide(forecast=warmed(case.forecast, 1000.0)).state == "shut"


@law
@given(cases())
def test_the_limit_that_is_said_to_open_the_gate_opens_it(case):
    told = facts_of(case.decide(), "limit-that-opens")
    if told:
        policy = dataclasses.replace(case.policy, risk_tolerance=told["limit"])
        assert case.decide(policy=policy).state == "open"


@law
@given(cases())
def test_the_risk_without_the_worst_night_is_that_of_a_forecast_without_it(case):
    told = facts_of(case.decide(), "without-that-night")
    if told:
        nights = case.look().nights
        worst = max(nights, key=lambda night: night.chance).morning
        hot = np.where(case.forecast.dates == np.datetime64(worst, "D"), 1000.0, case.forecast.tmin_c)
        without = case.decide(forecast=dataclasses.replace(case.forecast, tmin_c=hot))
        assert told["risk"] == pytest.approx(without.risk_today, abs=GRID)
        assert told["opens"] == (without.state == "open")


CHANCES = st.lists(st.floats(0, 1), min_size=1, max_size=10)
CORRELATIONS = st.integers(0, 19).map(lambda twentieths: twentieths / 20)


@law
@given(CHANCES, CORRELATIONS)
def test_any_frost_is_likelier_than_each_and_no_likelier_than_all_summed(chances, correlation):
    any_frost = chance_of_any(chances, correlation)
    assert max(chances) - GRID <= any_frost[0] <= min(sum(chances), 1.0) + GRID
    assert np.all(np.diff(any_frost) <= EXACT)
    assert np.all((any_frost >= 0) & (any_frost <= 1))


@law
@given(CHANCES)
def test_nights_that_know_nothing_of_each_other_multiply(chances):
    clear = np.append(np.cumprod(1 - np.array(chances)[::-1])[::-1], 1.0)
    assert chance_of_any(chances, 0.0) == pytest.approx(1 - clear, abs=GRID)


@law
@given(st.floats(0, 1), st.integers(2, 10), CORRELATIONS, CORRELATIONS)
def test_like_nights_hang_together_the_more_the_fewer_frosts(chance, nights, one, other):
    loose, tight = (chance_of_any([chance] * nights, rho) for rho in sorted([one, other]))
    assert np.all(tight <= loose + GRID)


@law
@given(CHANCES, CORRELATIONS, st.data())
def test_a_night_more_at_risk_never_lowers_the_whole(chances, correlation, data):
    night = data.draw(st.integers(0, len(chances) - 1))
    more = [*chances]
    more[night] = data.draw(st.floats(chances[night], 1))
    assert np.all(chance_of_any(more, correlation) >= chance_of_any(chances, correlation) - EXACT)


WORSE = ("colder", "likelier", "less certain", "older", "less complete")


@st.composite
def worsened(draw):
    """Draw a morning, and its forecast made worse in one way on one night."""
    case, way = draw(cases()), draw(st.sampled_from(WORSE))
    forecast = case.forecast
    night = draw(st.integers(0, forecast.dates.size - 1))
    tmin_c, sd_c = forecast.tmin_c.copy(), forecast.sd_c.copy()
    members_c = np.tile(forecast.tmin_c[:, np.newaxis], (1, 10)) if way == "likelier" else None
    better = dataclasses.replace(forecast, members_c=members_c)
    if way == "colder":
        tmin_c[night] -= draw(tenths(0.1, 8))
    elif way == "likelier":
        members_c[night, : draw(st.integers(1, 10))] = -4.0
    elif way == "less certain":
        sd_c[night] = (0.0 if np.isnan(sd_c[night]) else sd_c[night]) + draw(tenths(0.1, 6))
    elif way == "less complete":
        tmin_c[night] = np.nan
    hours = draw(st.integers(1, 60)) if way == "older" else 0
    made = forecast.issued_at - hours * HOUR
    worse = dataclasses.replace(forecast, tmin_c=tmin_c, sd_c=sd_c, members_c=members_c, issued_at=made)
    return case, better, worse, way


HOUR = dt.timedelta(hours=1)
HAIR = 0.002  # of risk: the ages that are tried are half a day apart, the chain is summed over cells


@settings(derandomize=True, deadline=None, max_examples=400)
@given(worsened(), st.booleans())
def test_no_worse_forecast_opens_what_was_shut_or_unknown(drawn, draws_weather):
    """Colder, likelier to freeze, less certain, older or with a gap: none opens.

    Holds fixed: curve, policy, the moment. A night that is left out at either end is not seen to be missing,
    and what lies beyond a forecast is the climate's.
    """
    case, better, worse, way = drawn
    gap = np.flatnonzero(np.isnan(worse.tmin_c))
    assume(way != "less complete" or 0 < gap[0] < worse.dates.size - 1)
    if draws_weather:
        curve = dataclasses.replace(case.curve, spread_c=np.full(SLOTS, 4.0))
        case = case._replace(curve=curve)
    weather = make_weather() if draws_weather else None
    before, after = (case.decide(forecast=one, weather=weather) for one in (better, worse))
    if after.state == "open":
        assert before.state == "open" or before.risk_today <= case.policy.risk_tolerance + HAIR
