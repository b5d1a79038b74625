"""What a record lacks and what in it cannot be believed: suspects, gaps, the hemisphere."""

import datetime as dt

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from frostgate.climate.quality import find_hemisphere, find_suspects, summarise
from frostgate.errors import InputError
from frostgate.model.records import DailyMinima, Station
from frostgate.seasons import NORTH, SOUTH
from tests.reference.naive import FILES, read_record

SPREAD_C = 2.0


def record(edits, first="1991-01-01", last="2001-01-01", seed=3):
    """Make ten years around a yearly wave, with the minima of some days given [°C] or None for missing."""
    dates = np.arange(first, last, dtype="datetime64[D]")
    yearly = np.cos((dates - np.datetime64("1991-01-20")).astype(int) / 365.25 * 2 * np.pi)
    tmin_c = 8 - 10 * yearly + np.random.default_rng(seed).normal(0, SPREAD_C, dates.size)
    for day, value in edits.items():
        tmin_c[dates == np.datetime64(day)] = np.nan if value is None else value
    return DailyMinima(station=Station(id="X"), dates=dates, tmin_c=tmin_c)


def suspected(edits, **span):
    return find_suspects(record(edits, **span)).dates.astype(str).tolist()


def test_a_noisy_record_without_errors_has_no_suspects():
    assert suspected({}) == []


@pytest.mark.parametrize("tmin_c", [-18.0, 45.0], ids=["cold", "warm"])
@pytest.mark.parametrize("day", ["1995-06-07", "1991-01-01", "2000-12-31", "1996-02-29"])
def test_an_error_of_either_sign_is_named(day, tmin_c):
    value = tmin_c - 12 if day[5:7] in {"01", "02", "12"} and tmin_c < 0 else tmin_c
    assert suspected({day: value}) == [day]


def test_a_suspect_comes_with_what_is_usual_and_what_came_around_it():
    day = "1995-06-07"
    around = {"1995-06-05": 11.0, "1995-06-06": 12.0, "1995-06-08": 13.0, "1995-06-09": 20.0}
    found = find_suspects(record(around | {day: -18.0}))
    index = found.dates.astype(str).tolist().index(day)
    assert (found.tmin_c[index], found.around_c[index]) == (-18.0, 12.5)
    wave = 8 - 10 * np.cos(138 / 365.25 * 2 * np.pi)  # 138 days after 20 January
    assert found.climatology_c[index] == pytest.approx(wave, abs=1.0)


def test_a_cold_spell_of_three_days_is_no_error():
    # 6 robust standard deviations below its season, but as cold as the days beside it
    spell = {"1995-06-06": 1.0, "1995-06-07": 0.0, "1995-06-08": 1.0}
    assert suspected(spell) == []
    assert suspected({"1995-06-07": 0.0}) == ["1995-06-07"]  # alone, it is one


def test_a_jump_that_the_season_knows_is_no_error():
    around = {"1995-01-17": -8.0, "1995-01-18": -8.0, "1995-01-20": -8.0, "1995-01-21": -8.0}
    assert suspected(around | {"1995-01-19": 6.0}) == []  # 4 standard deviations above its season


@pytest.mark.parametrize(("tmin_c", "named"), [(-6.0, True), (5.0, False)])  # 11 and 5 standard deviations
def test_a_day_without_neighbours_must_lie_further_from_its_season(tmin_c, named):
    alone = {f"1995-06-{day:02d}": None for day in (5, 6, 8, 9)}
    assert suspected(alone | {"1995-06-07": tmin_c}) == (["1995-06-07"] if named else [])


def test_one_neighbour_is_enough_to_support_a_day():
    gone = {f"1995-06-{day:02d}": None for day in (5, 6, 9)}
    assert suspected(gone | {"1995-06-07": -6.0, "1995-06-08": -6.0}) == []


@pytest.mark.parametrize("years", [1, 3])
def test_a_short_record_has_no_suspects(years):
    # 31 days of each year lie near; fewer than 100 do not tell what is usual
    assert suspected({"1991-06-07": -30.0}, last=f"{1991 + years}-01-01") == []


def test_four_years_tell_what_is_usual():
    assert suspected({"1991-06-07": -30.0}, last="1995-01-01") == ["1991-06-07"]


@pytest.mark.parametrize("tmin_c", [[], [np.nan]], ids=["no day", "no minimum"])
def test_a_record_without_minima_has_no_suspects(tmin_c):
    dates = np.arange(len(tmin_c)).astype("datetime64[D]")
    found = find_suspects(DailyMinima(station=Station(id="X"), dates=dates, tmin_c=tmin_c))
    assert found.dates.size == found.tmin_c.size == found.climatology_c.size == found.around_c.size == 0


def test_a_record_that_never_varies_still_shows_its_error():
    dates = np.arange("1991-01-01", "2001-01-01", dtype="datetime64[D]")
    tmin_c = np.where(dates == np.datetime64("1995-06-07"), 2.0, 10.0)
    found = find_suspects(DailyMinima(station=Station(id="X"), dates=dates, tmin_c=tmin_c))
    assert found.dates.astype(str).tolist() == ["1995-06-07"]


def test_a_record_without_its_suspects_has_no_more_of_them():
    made = record({"1995-06-07": -18.0, "1998-11-02": 45.0})
    found = find_suspects(made)
    left = made.leave_out(found.dates)
    assert found.dates.size == 2
    assert find_suspects(left).dates.size == 0
    assert_array_equal(left.suspect, found.dates)
    assert left.known == made.known - 2


def test_a_known_record_names_its_two_plain_errors(reference):
    # its description: 1998-06-07 26.96 °F and 2003-05-23 -0.04 °F, neither flagged
    found = find_suspects(read_record(reference, "USC00045532"))
    named = dict(zip(found.dates.astype(str).tolist(), found.tmin_c.tolist(), strict=True))
    assert named["1998-06-07"] == -2.8
    assert named["2003-05-23"] == -17.8
    assert len(named) == 12  # measured: 7 too warm and 5 too cold, of 43724
    assert sum(found.tmin_c < found.climatology_c) == 5


@pytest.mark.parametrize("station", sorted(set(FILES) - {"USC00045532"}))
def test_no_cold_morning_of_other_records_is_taken_for_an_error(reference, station):
    made = read_record(reference, station)
    found = find_suspects(made)
    assert made.known > 9000
    assert not (found.tmin_c < found.climatology_c).any()
    assert found.dates.astype(str).tolist() == (["1961-10-15"] if station == "USW00023174" else [])  # 24.4 °C


def stretch(tmin_c, first="2001-08-01", latitude=None, **rest):
    dates = np.datetime64(first, "D") + np.arange(len(tmin_c))
    return DailyMinima(station=Station(id="X", latitude=latitude), dates=dates, tmin_c=tmin_c, **rest)


def wave(days, swing_c=10.0, first="2001-08-01", noise_c=0.0):
    """Give minima that are coldest on 20 January."""
    dates = np.datetime64(first, "D") + np.arange(days)
    turn = (dates - np.datetime64("2001-01-20")).astype(int) / 365.25 * 2 * np.pi
    return 8 - swing_c * np.cos(turn) + np.random.default_rng(1).normal(0, noise_c, days)


def test_a_full_season_lacks_nothing():
    summary = summarise(stretch(np.ones(365)), NORTH)
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
    summary = summarise(stretch([np.nan, np.nan, 1.0, np.nan, 2.0, np.nan]), NORTH)
    assert (summary.first, summary.last) == (dt.date(2001, 8, 3), dt.date(2001, 8, 5))
    assert (summary.known, summary.missing, summary.gap_days) == (2, 1, 1)
    assert summary.longest_gap == (dt.date(2001, 8, 4), dt.date(2001, 8, 4))


def test_the_first_of_equal_gaps_is_named():
    summary = summarise(stretch([1.0, np.nan, 1.0, np.nan, 1.0]), NORTH)
    assert summary.longest_gap == (dt.date(2001, 8, 2), dt.date(2001, 8, 2))


def test_a_leap_day_counts_where_it_exists():
    summary = summarise(stretch(np.ones(366), first="2003-08-01"), NORTH)
    assert summary.completeness.tolist() == [1.0]
    without = stretch(np.where(np.arange(366) == 212, np.nan, 1.0), first="2003-08-01")
    assert_allclose(summarise(without, NORTH).completeness, [365 / 366])


def test_flagged_and_suspect_days_are_counted():
    made = stretch([1.0, np.nan, np.nan, 2.0], flagged=["2001-08-02"], suspect=["2001-08-03"])
    summary = summarise(made, NORTH)
    assert (summary.flagged, summary.suspect, summary.missing) == (1, 1, 2)


def test_a_single_day_is_a_record_without_gaps():
    summary = summarise(stretch([1.0]), NORTH)
    assert (summary.first, summary.known, summary.missing, summary.gap_days) == (dt.date(2001, 8, 1), 1, 0, 0)


def test_southern_seasons_bear_the_year_of_their_own_spring():
    summary = summarise(stretch(np.ones(365), first="2001-02-01"), SOUTH)
    assert (summary.years.tolist(), summary.completeness.tolist()) == ([2001], [1.0])


@pytest.mark.parametrize("tmin_c", [[], [np.nan, np.nan]], ids=["no day", "no minimum"])
def test_a_record_without_a_minimum_is_refused(tmin_c):
    with pytest.raises(InputError, match="the record holds no minimum at all: 'X'"):
        summarise(stretch(tmin_c), NORTH)


@pytest.mark.parametrize(("latitude", "start"), [(43.0, NORTH), (0.1, NORTH), (-31.3, SOUTH)])
def test_a_latitude_tells_the_hemisphere_whatever_the_minima_say(latitude, start):
    minima = wave(400) if start is SOUTH else -wave(400)
    assert find_hemisphere(stretch(minima, latitude=latitude)) == start


@pytest.mark.parametrize("first", ["2001-08-01", "2001-02-01", "2000-11-15"])
@pytest.mark.parametrize("latitude", [None, 0.0])
def test_a_cold_january_tells_the_north_and_a_cold_july_the_south(first, latitude):
    assert find_hemisphere(stretch(wave(730, 5, first, 3.0), first, latitude)) == NORTH
    assert find_hemisphere(stretch(wave(730, -5, first, 3.0), first, latitude)) == SOUTH


@pytest.mark.parametrize(
    "minima",
    [[], [1.0], np.full(800, 5.0), wave(30), wave(1500, 0.2, noise_c=3.0), np.full(800, np.nan)],
    ids=["none", "one", "no change", "a month", "no seasons", "all missing"],
)
def test_a_record_that_does_not_tell_asks_for_the_hemisphere(minima):
    with pytest.raises(
        InputError, match="does not tell whether it lies in the north or in the south"
    ) as caught:
        find_hemisphere(stretch(minima))
    assert caught.value.remedy == "Say --hemisphere north or --hemisphere south."


@pytest.mark.parametrize("station", sorted(FILES))
def test_real_records_tell_their_hemisphere_by_their_minima(reference, station):
    expected = SOUTH if station.startswith("ASN") else NORTH
    assert find_hemisphere(read_record(reference, station)) == expected
