"""What is usual at a station, and how it has been of late, in the outlook."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest
from scipy import stats

from frostgate.gate.outlook import FEWEST_RECENT, recent_anomaly
from frostgate.model.gate import Policy
from frostgate.seasons import NORTH, season_day_of
from tests.gate_cases import DAY, NOW, TODAY, look, make_curve, make_forecast, make_weather, ramp

SPREAD = np.full(366, 4.0)
CURVE = ramp(TODAY + 5 * DAY, 50.0, spread_c=SPREAD)
NAN = float("nan")


def recent(weather, today=TODAY, curve=CURVE):
    return recent_anomaly(curve, weather, today)


def test_it_is_the_mean_anomaly_of_the_past_60_days_in_units_of_the_scatter():
    assert recent(make_weather(2.0)) == pytest.approx(0.5)
    days = np.array([TODAY - k * DAY for k in range(59, -1, -1)])
    slots = np.array([season_day_of(day, NORTH)[1] for day in days])
    climatology_c, spread_c = 3.0 + 0.02 * np.arange(366), 3.0 + 0.01 * np.arange(366)
    tmin_c = np.random.default_rng(1).normal(8, 4, 60)
    weather = make_weather(climatology_c=climatology_c, recent_c=tmin_c)
    expected = np.mean((tmin_c - climatology_c[slots]) / spread_c[slots])
    assert recent(weather, curve=make_curve(0.1, spread_c=spread_c)) == pytest.approx(expected)


@pytest.mark.parametrize("known", [0, 1, FEWEST_RECENT - 1, FEWEST_RECENT, 60])
def test_fewer_than_30_known_days_tell_nothing(known):
    tmin_c = np.where(np.arange(60) % 60 < 60 - known, NAN, 10.0)
    found = recent(make_weather(recent_c=tmin_c))
    assert found == (pytest.approx(0.5) if known >= 30 else None)


@pytest.mark.parametrize(("ended", "known"), [(0, 60), (1, 59), (30, 30), (31, None), (200, None)])
def test_a_record_that_ended_too_early_tells_nothing(ended, known):
    """Only the days within the 60 before today count: here the last ones were milder."""
    tmin_c = np.append(np.full(30, 8.0), np.full(30, 12.0))
    found = recent(make_weather(recent_c=tmin_c, last_day=TODAY - ended * DAY))
    assert found == (None if known is None else pytest.approx(30 / known))


@pytest.mark.parametrize(("ahead", "known"), [(1, 59), (30, 30), (31, None), (400, None)])
def test_days_after_today_are_not_looked_at(ahead, known):
    tmin_c = np.where(np.arange(60) < 60 - ahead, 10.0, -50.0)
    found = recent(make_weather(recent_c=tmin_c, last_day=TODAY + ahead * DAY))
    assert found == (None if known is None else pytest.approx(0.5))


@pytest.mark.parametrize("size", [0, 29, 30])
def test_a_record_shorter_than_60_days_counts_from_its_end(size):
    found = recent(make_weather(recent_c=np.full(size, 6.0)))
    assert found == (pytest.approx(-0.5) if size == 30 else None)


def test_without_the_stations_scatter_nothing_is_told_and_nothing_tilted():
    bare = ramp(TODAY + 5 * DAY, 50.0)
    assert recent(make_weather(2.0), curve=bare) is None
    forecast = make_forecast([5.0] * 7)
    with_it, without = look(bare, forecast, weather=make_weather(2.0)), look(bare, forecast)
    assert with_it.risk.tolist() == without.risk.tolist()
    assert with_it.seen.frost is None


def test_an_outlook_keeps_what_it_saw():
    outlook = look(CURVE, make_forecast([5.0, 3.0]), weather=make_weather(2.0, explained=0.04))
    seen = outlook.seen
    assert (seen.recent, seen.persistence, seen.explained) == (pytest.approx(0.5), 0.3, 0.04)
    assert seen.frost == pytest.approx(np.full(seen.hazard.size, (0.05 - 8.0) / 4.0))  # tenths observed
    assert seen.margin_c == pytest.approx([4.95, 2.95])
    assert seen.climate_sd_c.tolist() == [4.0, 4.0]
    bare = look(CURVE, make_forecast([5.0, 3.0])).seen
    assert (bare.frost, bare.recent, bare.persistence, bare.explained) == (None, None, 0.0, 0.0)


@pytest.mark.parametrize("anomaly_c", [-3.0, 0.0, 3.0])
def test_by_the_curve_alone_the_weather_of_late_changes_nothing(anomaly_c):
    alone = look(CURVE, None, climate_only=True)
    tilted = look(CURVE, None, climate_only=True, weather=make_weather(anomaly_c))
    assert tilted.risk.tolist() == alone.risk.tolist()


def test_behind_the_forecast_the_curve_is_tilted_night_by_night():
    """Counted by a plain sum: the curve falls by 1/50 a day, each night's hazard times its factor."""
    outlook = look(CURVE, make_forecast([9.0] * 5), Policy(), weather=make_weather(2.0))
    slot = season_day_of(TODAY, NORTH)[1]
    after = np.interp(np.arange(slot, 352) + 0.5, np.arange(366), CURVE.risk)
    hazards = np.log(1 - after[1:]) - np.log(1 - after[:-1])  # of the nights from tomorrow on
    last = lasting = 0.3 * 0.5
    for night in outlook.nights:
        known = 1 - (night.sd_c / 4.0) ** 2
        told = min((9.0 - 8.0) / 4.0, 2 * math.sqrt(known))
        last = known * told + (1 - known) * (lasting + 0.7 * (last - lasting))
    frost = (0.05 - 8.0) / 4.0
    fading = 0.7 ** np.arange(1, hazards.size - 4) * (last - lasting)
    factor = stats.norm.cdf(frost - lasting - fading) / stats.norm.cdf(frost)
    assert outlook.climate_risk[0] == pytest.approx(1 - math.exp(-np.sum(hazards[5:] * factor)), rel=1e-9)


@pytest.mark.parametrize("nights", range(1, 15))
@pytest.mark.parametrize("told_c", [3.0, 8.0, 9.5, 12.0])
@pytest.mark.parametrize("recent_c", [np.empty(0), np.full(60, 8.0), np.full(60, 11.0)])
def test_at_the_windows_end_there_is_no_seam(nights, told_c, recent_c):
    """A last night without skill leaves the risk as it was, whatever it says and whatever came before."""
    weather = make_weather(recent_c=recent_c)
    without_skill = [NAN] * (nights - 1) + [9.0]  # wider than the weather: no more than the time of the year
    told = [told_c] * (nights - 1)
    outlook = look(CURVE, make_forecast([*told, 9.0], sd_c=without_skill), weather=weather)
    shorter = make_forecast(told) if told else None
    before = look(CURVE, shorter, climate_only=shorter is None, weather=weather)
    assert outlook.nights[-1].sd_c == 4.0
    if told or not recent_c.size or recent_c[0] == 8.0:  # without a forecast the past is not looked at
        assert outlook.risk[0] == pytest.approx(before.risk[0], abs=0.003)


def test_a_short_forecast_shrinks_towards_the_curve_as_it_fades():
    """A forecast of usual nights that knows less and less comes to the curve's own answer."""
    alone = look(CURVE, None, climate_only=True).risk[0]
    off = [
        abs(look(CURVE, make_forecast([8.0] * 7, sd_c=sd_c), weather=make_weather()).risk[0] - alone)
        for sd_c in (0.5, 2.0, 3.0, 3.7)
    ]
    assert off == sorted(off, reverse=True)


def test_a_mild_past_lowers_and_a_cold_past_raises_the_risk():
    cold, usual, mild = (
        look(CURVE, make_forecast([9.0] * 5), weather=make_weather(anomaly_c)).risk[0]
        for anomaly_c in (-3.0, 0.0, 3.0)
    )
    assert mild < usual < cold


def test_a_record_that_has_ended_is_as_one_without_a_past():
    old = make_weather(4.0, last_day=dt.date(2024, 7, 31))
    forecast = make_forecast([9.0] * 5)
    assert look(CURVE, forecast, weather=old).risk.tolist() == pytest.approx(
        look(CURVE, forecast, weather=make_weather(0.0)).risk.tolist()
    )
    assert look(CURVE, forecast, now=NOW, weather=old).seen.recent is None
