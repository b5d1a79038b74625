"""Several stations as one record: gaps filled, frosts kept, and what a mean of them would have cost."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from frostgate.climate.frosts import last_frosts
from frostgate.climate.siting import GardenOffset, combine_stations
from frostgate.model.records import DailyMinima, Station
from frostgate.seasons import NORTH
from tests.siting_cases import persistent

SEEDS = range(6)


def record(name: str, dates, tmin_c) -> DailyMinima:
    return DailyMinima(station=Station(id=name), dates=dates, tmin_c=tmin_c)


def offset(sure_c: float) -> GardenOffset:
    return GardenOffset(offset_c=-1.0, sure_c=sure_c, night_sd_c=1.0)


def draw_stations(seed: int, *, years: int = 40, stations: int = 4) -> list[DailyMinima]:
    """Stations of one weather (spread 4 °C), each a constant apart and scattering by 1.5 °C of its own."""
    rng = np.random.default_rng(seed)
    dates = np.arange("1965-08-01", f"{1965 + years}-08-01", dtype="datetime64[D]")
    day = (dates - dates.astype("datetime64[Y]")).astype(int)
    common_c = 6 - 10 * np.cos(2 * np.pi * (day - 15) / 365.25) + 4 * persistent(rng, dates.size, 0.7)
    return [
        record(f"S{i}", dates, common_c + rng.normal(0, 1.5) + 1.5 * persistent(rng, dates.size, 0.3))
        for i in range(stations)
    ]


def with_gaps(whole: DailyMinima, seed: int) -> DailyMinima:
    """A third of the days gone, and a third of the years."""
    rng = np.random.default_rng(seed)
    years = whole.dates.astype("datetime64[Y]").astype(int)
    gone_years = rng.choice(np.unique(years), np.unique(years).size // 3, replace=False)
    gone = (rng.random(years.size) < 0.3) | np.isin(years, gone_years)
    return replace(whole, tmin_c=np.where(gone, np.nan, whole.tmin_c))


def last_days(minima: DailyMinima):
    return last_frosts(minima, 0.0, NORTH).day


def test_filling_keeps_the_last_frosts_and_a_mean_would_bring_them_days_too_early():
    by_mean, by_filling = [], []
    for seed in SEEDS:
        stations = draw_stations(seed)
        truth = last_days(stations[0])
        moved = [s.tmin_c + np.median(stations[0].tmin_c - s.tmin_c) for s in stations]
        by_mean.append(
            np.nanmean(last_days(record("mean", stations[0].dates, np.mean(moved, axis=0))) - truth)
        )
        best = with_gaps(stations[0], seed)
        combined = combine_stations([best, *stations[1:]], [offset(s) for s in (0.3, 0.5, 0.6, 0.7)])
        by_filling.append(np.nanmean(last_days(combined.minima) - truth))

    assert np.mean(by_mean) < -2.0
    assert abs(np.mean(by_filling)) < 1.0


def test_filling_keeps_the_spread_of_the_minima():
    stations = draw_stations(1)
    combined = combine_stations(
        [with_gaps(stations[0], 1), *stations[1:]], [offset(s) for s in (0.3, 1, 1, 1)]
    )

    march = stations[0].dates.astype("datetime64[M]").astype(int) % 12 == 2
    assert combined.minima.tmin_c[march].std() == pytest.approx(stations[0].tmin_c[march].std(), rel=0.04)


def test_a_station_that_is_absent_does_not_shift_the_record():
    stations = draw_stations(2)
    best, other = with_gaps(stations[0], 2), stations[1]
    combined = combine_stations([best, other], [offset(0.3), offset(0.5)])

    filled = np.isnan(best.tmin_c)
    assert np.median(combined.minima.tmin_c[filled] - stations[0].tmin_c[filled]) == pytest.approx(
        0.0, abs=0.1
    )


def test_known_days_of_the_best_station_stay_as_they_are():
    stations = draw_stations(3, years=5)
    best = with_gaps(stations[0], 3)
    combined = combine_stations([stations[1], best], [offset(0.9), offset(0.3)]).minima

    known = np.isfinite(best.tmin_c)
    assert combined.station.id == "S0"
    assert (combined.tmin_c[known] == best.tmin_c[known]).all()


def test_the_order_in_which_stations_are_named_does_not_matter():
    stations = [with_gaps(s, i) for i, s in enumerate(draw_stations(4, years=6))]
    spreads = [0.8, 0.3, 0.6, 0.4]
    one = combine_stations(stations, [offset(s) for s in spreads])
    other = combine_stations(stations[::-1], [offset(s) for s in spreads[::-1]])

    assert one.minima.station.id == other.minima.station.id == "S1"
    np.testing.assert_array_equal(one.minima.tmin_c, other.minima.tmin_c)


def test_days_before_and_after_the_best_record_are_taken_from_the_others():
    stations = draw_stations(5, years=6)
    short = record("S0", stations[0].dates[700:1200], stations[0].tmin_c[700:1200])
    combined = combine_stations([short, stations[1]], [offset(0.3), offset(0.5)])

    assert combined.minima.dates.size == stations[1].dates.size
    assert combined.others[0].filled == stations[1].dates.size - 500
    assert f"{combined.others[0].filled} missing days taken from S1" in combined.minima.notes[-1]


def test_a_difference_that_changes_with_the_season_is_followed():
    dates = np.arange("2000-01-01", "2010-01-01", dtype="datetime64[D]")
    january = dates.astype("datetime64[M]").astype(int) % 12 == 0
    july = dates.astype("datetime64[M]").astype(int) % 12 == 6
    away = np.isin(dates.astype("datetime64[M]").astype(int) % 12, [11, 0, 1])
    best_c = np.full(dates.size, 5.0)
    best_c[-365:] = np.nan
    other = record("B", dates, np.where(away, 9.0, 6.0))
    combined = combine_stations([record("A", dates, best_c), other], [offset(0.3), offset(0.5)]).minima

    last = np.arange(dates.size) >= dates.size - 365
    assert combined.tmin_c[last & january] == pytest.approx(5.0)
    assert combined.tmin_c[last & july] == pytest.approx(5.0)


def test_whole_f_stay_whole_f():
    dates = np.arange("2000-01-01", "2003-01-01", dtype="datetime64[D]")
    rng = np.random.default_rng(1)
    degrees_f = np.round(rng.normal(40, 9, dates.size))
    best_c = np.where(rng.random(dates.size) < 0.4, np.nan, (degrees_f - 32) / 1.8)
    other = record("B", dates, (degrees_f - 32) / 1.8 + 0.7)
    best = record("A", dates, best_c)
    combined = combine_stations([best, other], [offset(0.3), offset(0.5)]).minima

    assert combined.step_c == best.step_c == pytest.approx(5 / 9)
    np.testing.assert_allclose(combined.tmin_c * 1.8 + 32, degrees_f, atol=0.1)


def test_too_few_common_days_leave_a_station_out_and_say_so():
    stations = draw_stations(6, years=2)
    short = record("S1", stations[1].dates[:99], stations[1].tmin_c[:99])
    combined = combine_stations([with_gaps(stations[0], 6), short], [offset(0.3), offset(0.5)])

    assert combined.others[0].filled == 0
    assert "S1 not used: only" in combined.minima.notes[-1]


def test_one_station_is_itself():
    station = draw_stations(7, years=1)[0]

    combined = combine_stations([station], [offset(0.3)])

    assert combined.others == ()
    np.testing.assert_array_equal(combined.minima.tmin_c, station.tmin_c)
