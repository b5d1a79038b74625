"""What is usual at a station on a day of the year, and how long its weather lasts."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from frostgate.climate.site import (
    MOST_EXPLAINED,
    SEASONS_WORTH,
    SMALLEST_SPREAD_C,
    USUAL_PERSISTENCE,
    know_weather,
    persistence,
)
from frostgate.model.records import DailyMinima, Station
from frostgate.seasons import NORTH, SLOTS, season_grid

DAYS = np.arange("1991-08-01", "2001-08-01", dtype="datetime64[D]")
DRAWN = np.random.default_rng(3).normal(5.0, 4.0, DAYS.size).round(1)
APRIL_15 = 258  # season day


def spread(tmin_c: np.ndarray) -> np.ndarray:
    return know_weather(DailyMinima(station=Station(id="X"), dates=DAYS, tmin_c=tmin_c), NORTH)[1]


def test_it_is_the_spread_of_all_days_within_15_days():
    table = pd.Series(DRAWN, index=pd.DatetimeIndex(DAYS))
    day = table.index.strftime("%m-%d")

    near = table[(day >= "03-31") & (day <= "04-30")]

    assert spread(DRAWN)[APRIL_15] == pytest.approx(near.std(ddof=0), rel=1e-9)


def test_it_runs_round_the_year():
    table = pd.Series(DRAWN, index=pd.DatetimeIndex(DAYS))
    day = table.index.strftime("%m-%d")

    near = table[(day >= "07-17") & (day <= "08-16")]

    assert spread(DRAWN)[0] == pytest.approx(near.std(ddof=0), rel=1e-9)


def test_missing_days_count_for_nothing():
    holes = np.where(np.arange(DAYS.size) % 5 == 0, np.nan, DRAWN)
    there = np.isfinite(holes)
    kept = DailyMinima(station=Station(id="X"), dates=DAYS[there], tmin_c=DRAWN[there])

    assert spread(holes) == pytest.approx(know_weather(kept, NORTH)[1])


def test_it_never_is_nothing():
    assert spread(np.full(DAYS.size, 5.0)) == pytest.approx(np.full(SLOTS, SMALLEST_SPREAD_C))


def test_a_time_of_the_year_without_minima_takes_the_widest_there_is():
    month = DAYS.astype("datetime64[M]").astype(int) % 12 + 1
    summer_only = np.where(np.isin(month, (6, 7, 8)), DRAWN, np.nan)

    assert spread(summer_only)[APRIL_15 - 60] == spread(summer_only).max()


def weather_of(tmin_c: np.ndarray, days: np.ndarray = DAYS):
    return know_weather(DailyMinima(station=Station(id="X"), dates=days, tmin_c=tmin_c), NORTH)


def test_what_is_usual_is_the_mean_of_all_days_within_15_days():
    day = pd.DatetimeIndex(DAYS).strftime("%m-%d")
    near = DRAWN[(day >= "03-31") & (day <= "04-30")]
    weather, spread_c = weather_of(DRAWN)
    assert weather.climatology_c[APRIL_15] == pytest.approx(near.mean())
    assert spread_c.tolist() == spread(DRAWN).tolist()


def test_the_weather_of_late_is_the_records_last_60_days_one_by_one():
    weather, _ = weather_of(DRAWN)
    assert weather.recent_c.tolist() == DRAWN[-60:].tolist()
    assert str(weather.last_day) == "2001-07-31"


def test_days_missing_of_late_are_gaps_in_their_places():
    there = ~np.isin(np.arange(DAYS.size), DAYS.size - 1 - np.array([1, 2, 40]))
    holes = np.where(np.arange(DAYS.size) == DAYS.size - 8, np.nan, DRAWN)
    weather, _ = weather_of(holes[there], DAYS[there])
    assert (59 - np.flatnonzero(np.isnan(weather.recent_c))).tolist() == [40, 7, 2, 1]
    assert weather.recent_c[-1] == DRAWN[-1]
    assert weather.recent_c[-4] == DRAWN[-4]


def test_a_record_shorter_than_60_days_fills_the_end():
    weather, _ = weather_of(DRAWN[:20], DAYS[:20])
    assert np.isnan(weather.recent_c[:40]).all()
    assert weather.recent_c[40:].tolist() == DRAWN[:20].tolist()


def test_persistence_is_counted_on_anomalies_in_units_of_the_scatter():
    grid = season_grid(DAYS, DRAWN, NORTH)[1]
    weather, spread_c = weather_of(DRAWN)
    anomaly = (grid - weather.climatology_c[:, np.newaxis]) / spread_c[:, np.newaxis]
    kept, explained = persistence(np.where(np.isfinite(anomaly), anomaly, 0.0).T)
    assert (weather.persistence, weather.explained) == pytest.approx((float(kept), float(explained)))


def drawn(seasons=30, lasting=0.0, seed=1):
    """Draw anomalies of which a part lasts the whole season."""
    rng = np.random.default_rng(seed)
    return rng.normal(0, 1, (seasons, 366)) + lasting * rng.normal(0, 1, (seasons, 1))


def slowly(anomaly):
    """Count by plain loops: past 60 days, and days 21 to 60 ahead, on every fifth day of late winter on."""
    joint, own = [], []
    for season in anomaly:
        pairs = [
            (season[day - 59 : day + 1].mean(), season[day + 20 : min(day + 60, 365)].mean())
            for day in range(180, 300, 5)
        ]
        joint.append(np.mean([past * ahead for past, ahead in pairs]))
        own.append(np.mean([past**2 for past, _ in pairs]))
    return np.array(joint), np.array(own)


@pytest.mark.parametrize("lasting", [0.0, 0.3, 1.0])
def test_it_is_the_slope_of_later_on_past_anomalies_drawn_towards_the_usual(lasting):
    anomaly = drawn(lasting=lasting)
    joint, own = slowly(anomaly)
    worth = SEASONS_WORTH * own.mean()
    kept, explained = persistence(anomaly)
    assert kept == pytest.approx((joint.sum() + USUAL_PERSISTENCE * worth) / (own.sum() + worth))
    assert explained == pytest.approx(min(kept**2 * own.mean(), MOST_EXPLAINED))


def test_each_season_can_be_left_out():
    anomaly = drawn(lasting=0.4)
    joint, own = slowly(anomaly)
    worth = SEASONS_WORTH * own.mean()  # of all seasons: it only sets how strong the usual is
    others = joint.sum() - joint, own.sum() - own
    kept, explained = persistence(anomaly, each_left_out=True)
    assert kept == pytest.approx((others[0] + USUAL_PERSISTENCE * worth) / (others[1] + worth))
    assert explained == pytest.approx(np.minimum(kept**2 * others[1] / 29, MOST_EXPLAINED))


def test_a_season_left_out_does_not_teach_its_own_slope():
    anomaly = np.vstack([drawn(20), np.full((1, 366), 3.0)])
    kept, _ = persistence(anomaly, each_left_out=True)
    assert kept[-1] < kept[:-1].min()


def test_without_weather_it_is_the_usual_one():
    assert persistence(np.zeros((5, 366))) == (pytest.approx(USUAL_PERSISTENCE), 0.0)


def test_few_seasons_lean_on_the_usual_and_many_on_their_own():
    far = [float(persistence(drawn(seasons, lasting=1.0))[0]) - USUAL_PERSISTENCE for seasons in (3, 30, 300)]
    assert 0 < far[0] < far[1] < far[2]


@pytest.mark.parametrize(("period_days", "kept"), [(70, 1.0), (140, 0.0)])
def test_it_lies_between_nothing_and_all(period_days, kept):
    """The days compared lie 70 apart: waves in phase come back stronger, waves of twice that turn round."""
    phase = np.random.default_rng(5).uniform(0, 2 * np.pi, (200, 1))
    share, explained = persistence(np.cos(2 * np.pi * np.arange(366) / period_days + phase))
    assert share == kept
    assert 0.0 <= explained <= MOST_EXPLAINED


def test_what_it_foretells_is_at_most_half_of_the_weather():
    lasting = np.where(np.arange(40) % 2, 3.0, -3.0)[:, np.newaxis] + drawn(40)
    assert persistence(lasting)[1] == MOST_EXPLAINED


def test_missing_days_count_as_usual_ones():
    anomaly = drawn(lasting=0.5)
    holes = np.where(np.random.default_rng(2).random(anomaly.shape) < 0.1, 0.0, anomaly)
    assert abs(persistence(holes)[0] - persistence(anomaly)[0]) < 0.1
