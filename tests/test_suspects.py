"""Plain errors that nobody flagged, told from cold mornings that came."""

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from frostgate.climate.quality import find_suspects
from frostgate.model.records import DailyMinima, Station
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
