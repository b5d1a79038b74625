"""What a record holds and lacks, and where on earth it lies."""

import datetime as dt

import numpy as np
import pytest
from numpy.testing import assert_allclose

from frostgate.climate.quality import find_hemisphere, summarise
from frostgate.errors import InputError
from frostgate.model.records import DailyMinima, Station
from frostgate.seasons import NORTH, SOUTH
from tests.reference.naive import FILES, read_record


def record(tmin_c, first="2001-08-01", latitude=None, **rest):
    dates = np.datetime64(first, "D") + np.arange(len(tmin_c))
    return DailyMinima(station=Station(id="X", latitude=latitude), dates=dates, tmin_c=tmin_c, **rest)


def wave(days, swing_c=10.0, first="2001-08-01", noise_c=0.0):
    """Give minima that are coldest on 20 January."""
    dates = np.datetime64(first, "D") + np.arange(days)
    turn = (dates - np.datetime64("2001-01-20")).astype(int) / 365.25 * 2 * np.pi
    return 8 - swing_c * np.cos(turn) + np.random.default_rng(1).normal(0, noise_c, days)


def test_a_full_season_lacks_nothing():
    summary = summarise(record(np.ones(365)), NORTH)
    assert (summary.first, summary.last) == (dt.date(2001, 8, 1), dt.date(2002, 7, 31))
    assert (summary.known, summary.missing, summary.longest_gap, summary.gap_days) == (365, 0, None, 0)
    assert summary.years.tolist() == [2002]
    assert summary.completeness.tolist() == [1.0]


def test_missing_days_are_counted_whether_blank_or_absent():
    values = np.ones(365 * 2)
    values[[10, 11, 12, 400]] = np.nan
    keep = np.ones(730, bool)
    keep[500:520] = False
    dates = (np.datetime64("2001-08-01") + np.arange(730))[keep]
    made = DailyMinima(station=Station(id="X"), dates=dates, tmin_c=values[keep])
    summary = summarise(made, NORTH)
    assert (summary.known, summary.missing) == (706, 24)
    assert summary.longest_gap == (dt.date(2002, 12, 14), dt.date(2003, 1, 2))  # 500 and 519 days on
    assert summary.gap_days == 20
    assert_allclose(summary.completeness, [362 / 365, 344 / 365])


def test_blank_days_at_the_ends_are_outside_the_record():
    summary = summarise(record([np.nan, np.nan, 1.0, np.nan, 2.0, np.nan]), NORTH)
    assert (summary.first, summary.last) == (dt.date(2001, 8, 3), dt.date(2001, 8, 5))
    assert (summary.known, summary.missing, summary.gap_days) == (2, 1, 1)
    assert summary.longest_gap == (dt.date(2001, 8, 4), dt.date(2001, 8, 4))


def test_the_first_of_equal_gaps_is_named():
    summary = summarise(record([1.0, np.nan, 1.0, np.nan, 1.0]), NORTH)
    assert summary.longest_gap == (dt.date(2001, 8, 2), dt.date(2001, 8, 2))


def test_a_leap_day_counts_where_it_exists():
    summary = summarise(record(np.ones(366), first="2003-08-01"), NORTH)
    assert summary.completeness.tolist() == [1.0]
    without = record(np.where(np.arange(366) == 212, np.nan, 1.0), first="2003-08-01")
    assert_allclose(summarise(without, NORTH).completeness, [365 / 366])


def test_flagged_and_suspect_days_are_counted():
    made = record([1.0, np.nan, np.nan, 2.0], flagged=["2001-08-02"], suspect=["2001-08-03"])
    summary = summarise(made, NORTH)
    assert (summary.flagged, summary.suspect, summary.missing) == (1, 1, 2)


def test_a_single_day_is_a_record_without_gaps():
    summary = summarise(record([1.0]), NORTH)
    assert (summary.first, summary.known, summary.missing, summary.gap_days) == (dt.date(2001, 8, 1), 1, 0, 0)


def test_southern_seasons_bear_the_year_of_their_own_spring():
    summary = summarise(record(np.ones(365), first="2001-02-01"), SOUTH)
    assert (summary.years.tolist(), summary.completeness.tolist()) == ([2001], [1.0])


@pytest.mark.parametrize("tmin_c", [[], [np.nan, np.nan]], ids=["no day", "no minimum"])
def test_a_record_without_a_minimum_is_refused(tmin_c):
    with pytest.raises(InputError, match="the record holds no minimum at all: 'X'"):
        summarise(record(tmin_c), NORTH)


@pytest.mark.parametrize(("latitude", "start"), [(43.0, NORTH), (0.1, NORTH), (-31.3, SOUTH)])
def test_a_latitude_tells_the_hemisphere_whatever_the_minima_say(latitude, start):
    minima = wave(400) if start is SOUTH else -wave(400)
    assert find_hemisphere(record(minima, latitude=latitude)) == start


@pytest.mark.parametrize("first", ["2001-08-01", "2001-02-01", "2000-11-15"])
@pytest.mark.parametrize("latitude", [None, 0.0])
def test_a_cold_january_tells_the_north_and_a_cold_july_the_south(first, latitude):
    assert find_hemisphere(record(wave(730, 5, first, 3.0), first, latitude)) == NORTH
    assert find_hemisphere(record(wave(730, -5, first, 3.0), first, latitude)) == SOUTH


@pytest.mark.parametrize(
    "minima",
    [[], [1.0], np.full(800, 5.0), wave(30), wave(1500, 0.2, noise_c=3.0), np.full(800, np.nan)],
    ids=["none", "one", "no change", "a month", "no seasons", "all missing"],
)
def test_a_record_that_does_not_tell_asks_for_the_hemisphere(minima):
    with pytest.raises(
        InputError, match="does not tell whether it lies in the north or in the south"
    ) as caught:
        find_hemisphere(record(minima))
    assert caught.value.remedy == "Say --hemisphere north or --hemisphere south."


@pytest.mark.parametrize("station", sorted(FILES))
def test_real_records_tell_their_hemisphere_by_their_minima(reference, station):
    expected = SOUTH if station.startswith("ASN") else NORTH
    assert find_hemisphere(read_record(reference, station)) == expected
