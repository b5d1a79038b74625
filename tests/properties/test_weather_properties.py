"""Laws of the gate where it is known what is usual and how it has been of late; each says what is fixed."""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from frostgate.model.curves import FrostCurve, Weather
from frostgate.model.gate import Forecast, Policy
from frostgate.seasons import NORTH, SLOTS, date_of
from tests.gate_cases import DAY, decide, look, make_curve, make_forecast, make_weather

law = settings(derandomize=True, deadline=None, max_examples=60)
EXACT = 1e-8  # hazards end at a chance of 1 - 1e-9
AGE = 5e-3  # errors of nights less foreseen hang together more, so their frosts come together
CHAIN = 0.05  # a colder night makes its neighbours' frosts less its own news, and they may weigh more


class Case(NamedTuple):
    """A morning's question at a station whose weather is known."""

    curve: FrostCurve
    forecast: Forecast
    policy: Policy
    now: dt.datetime
    weather: Weather

    def look(self, **changes):
        case = self._replace(**changes)
        return look(case.curve, case.forecast, case.policy, case.now, weather=case.weather)


def tenths(low, high):
    return st.integers(round(low * 10), round(high * 10)).map(lambda value: value / 10)


@st.composite
def cases(draw, anomalies=None):
    """Draw a morning of spring: minima rise by 0.1 °C a day, and the last frost is late by chance."""
    middle, spread_c = draw(st.integers(220, 290)), draw(tenths(2.0, 6.0))
    late = draw(st.integers(6, 16))
    slot = middle + draw(st.integers(-15, 40))
    now = dt.datetime.combine(date_of(2025, slot, NORTH), dt.time(6))
    climatology_c = 1.2 * spread_c + 0.1 * (np.arange(SLOTS) - middle)
    ahead = draw(st.lists(tenths(-2.5, 2.5) if anomalies is None else anomalies, min_size=1, max_size=14))
    told_c = climatology_c[slot + 1 : slot + 1 + len(ahead)] + spread_c * np.array(ahead)
    stated = draw(st.none() | tenths(0, 5))
    past_c = climatology_c[slot - 59 : slot + 1] + spread_c * draw(tenths(-1.5, 1.5))
    return Case(
        make_curve(stats.norm.sf(np.arange(SLOTS), middle, late), spread_c=np.full(SLOTS, spread_c)),
        make_forecast(np.round(told_c, 1), issued=now, sd_c=np.nan if stated is None else stated),
        Policy(risk_tolerance=draw(st.sampled_from([0.05, 0.1, 0.2, 0.5]))),
        now,
        make_weather(climatology_c=climatology_c, recent_c=past_c, last_day=now.date(),
        persistence=draw(tenths(0, 1)),
                     explained=draw(tenths(0, 0.5))),
    )  # fmt: skip


def colder(forecast, by_c):
    return dataclasses.replace(forecast, tmin_c=forecast.tmin_c - by_c)


def older(forecast, hours):
    return dataclasses.replace(forecast, issued_at=forecast.issued_at - hours * dt.timedelta(hours=1))


@law
@given(cases())
def test_the_risk_is_a_chance_and_never_rises_with_the_date(case):
    outlook = case.look()
    assert np.all(np.diff(outlook.risk) <= EXACT)
    for table in (outlook.risk, outlook.window_risk, outlook.climate_risk, outlook.climate_alone):
        assert np.all((table >= 0) & (table <= 1))
    assert np.all(outlook.risk >= np.maximum(outlook.window_risk, outlook.climate_risk) - EXACT)


@law
@given(cases(), tenths(0, 5))
def test_a_forecast_colder_on_every_night_never_lowers_the_risk(case, by_c):
    """Holds fixed: everything but the minima, all colder by as much."""
    assert np.all(case.look(forecast=colder(case.forecast, by_c)).risk >= case.look().risk - EXACT)


@law
@given(cases(), st.lists(tenths(0, 6), min_size=14, max_size=14))
def test_a_forecast_colder_on_some_nights_hardly_ever_lowers_the_risk(case, by_c):
    """Holds fixed: everything but the minima, each as cold as before or colder."""
    changed = colder(case.forecast, np.array(by_c[: case.forecast.tmin_c.size]))
    assert np.all(case.look(forecast=changed).risk >= case.look().risk - CHAIN)


@law
@given(cases(), tenths(0, 5))
def test_a_colder_past_never_lowers_the_risk(case, by_c):
    """Holds fixed: everything but the record's last 60 minima, all colder by as much."""
    past = dataclasses.replace(case.weather, recent_c=case.weather.recent_c - by_c)
    assert np.all(case.look(weather=past).risk >= case.look().risk - EXACT)


@law
@given(cases(), tenths(0, 4))
def test_a_plant_hurt_by_a_milder_frost_never_lowers_the_risk(case, by_c):
    """Holds fixed: the curve and everything else; the forecast's nights come nearer to damage."""
    tender = dataclasses.replace(case.policy, damage_temp_c=by_c)
    assert np.all(case.look(policy=tender).risk >= case.look().risk - EXACT)


@law
@given(cases(anomalies=tenths(0, 2.5)), st.integers(0, 48))
def test_an_older_forecast_of_mild_nights_hardly_lowers_the_risk(case, hours):
    """Holds fixed: the nights, none colder than usual, the curve, the policy."""
    assert case.look(forecast=older(case.forecast, hours)).risk[0] >= case.look().risk[0] - AGE


@law
@given(cases(), st.integers(0, 48))
def test_an_older_forecast_of_frost_fades_towards_the_season_and_no_more(case, hours):
    """Holds fixed: the nights, the curve, the policy. A frost that is foretold counts for less with age."""
    assert case.look(forecast=older(case.forecast, hours)).risk[0] >= case.look().risk[0] - 0.12


@law
@given(cases())
def test_a_stale_forecast_is_answered_by_the_curve_alone(case):
    stale = case.look(forecast=older(case.forecast, 49))
    assert stale.forecast_checks
    assert stale.risk == pytest.approx(stale.climate_alone, abs=EXACT)
    verdict = decide(case.curve, older(case.forecast, 49), case.policy, now=case.now, weather=case.weather)
    assert verdict.state == "unknown"


@law
@given(cases())
def test_a_station_without_skill_or_news_is_its_curve(case):
    """Holds fixed: the curve. A past as usual that foretells nothing, and no forecast, leave it alone."""
    outlook = look(case.curve, None, case.policy, case.now, weather=case.weather, climate_only=True)
    assert outlook.risk == pytest.approx(outlook.climate_alone, abs=EXACT)


@law
@given(cases())
def test_a_day_later_the_nights_that_are_left_keep_their_chances(case):
    """Holds fixed: everything but the morning of the question, with a forecast that still holds."""
    if case.forecast.dates.size < 2:
        return
    later = case._replace(now=case.now + DAY, policy=dataclasses.replace(case.policy, max_age_hours=99.0))
    today, tomorrow = case.look(policy=later.policy).nights, later.look().nights
    assert [night.chance for night in tomorrow] == pytest.approx([night.chance for night in today[1:]])
