"""Season days: a calendar in which no frost date wraps at New Year."""

import datetime as dt
from calendar import isleap

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from frostgate.errors import InputError
from frostgate.seasons import (
    NORTH,
    SLOTS,
    SOUTH,
    SeasonStart,
    date_of,
    date_range,
    month_and_day,
    month_day_text,
    season_day_of,
    season_grid,
    split_dates,
)

JANUARY = SeasonStart(month=1, day=1)
STARTS = [NORTH, SOUTH, JANUARY, *(SeasonStart(month=m, day=d) for m, d in
          [(1, 24), (2, 28), (2, 29), (3, 1), (6, 30), (7, 1), (7, 24), (12, 31)])]  # fmt: skip
named = pytest.mark.parametrize("start", STARTS, ids=lambda start: f"{start.month:02d}-{start.day:02d}")


def _days(first, last):
    return date_range(dt.date.fromisoformat(first), dt.date.fromisoformat(last))


@pytest.mark.parametrize(
    ("month", "day", "common", "leap"),
    [
        (2, 28, 59, 59),
        (3, 1, 60, 61),
        (4, 27, 117, 118),
        (5, 11, 131, 132),
        (8, 1, 213, 214),
        (10, 15, 288, 289),
    ],
)  # day of the year in a common and in a leap year, from the calendar
def test_a_slot_is_the_day_of_a_leap_year_in_every_year(month, day, common, leap):
    for year, day_of_year in ((2023, common), (2024, leap)):
        date = dt.date(year, month, day)
        assert date.timetuple().tm_yday == day_of_year
        assert season_day_of(date, JANUARY) == (year, leap - 1)


@pytest.mark.parametrize(("year", "days"), [(2022, 212), (2023, 213)])  # from the calendar
def test_the_first_of_march_is_one_season_day_however_many_days_have_passed(year, days):
    august, march = dt.date(year, 8, 1), dt.date(year + 1, 3, 1)
    assert (march - august).days == days
    assert season_day_of(august, NORTH) == (year, 0)
    assert season_day_of(march, NORTH) == (year, 213)
    assert date_of(year, 213, NORTH) == march


@named
def test_every_day_of_two_centuries_comes_back_from_its_season_day(start):
    dates = _days("1898-01-01", "2101-12-31")
    seasons, slots = split_dates(dates, start)
    back = [date_of(int(season), int(slot), start) for season, slot in zip(seasons, slots, strict=True)]
    assert back == dates.tolist()
    assert (int(slots.min()), int(slots.max())) == (0, SLOTS - 1)


@named
def test_one_date_and_many_dates_are_split_alike(start):
    dates = _days("1968-01-01", "1972-12-31")  # both sides of the epoch that numpy counts from
    seasons, slots = split_dates(dates, start)
    assert [season_day_of(date, start) for date in dates.tolist()] == list(
        zip(seasons.tolist(), slots.tolist(), strict=True)
    )


@named
def test_only_a_leap_day_is_ever_skipped(start):
    seasons, slots = split_dates(_days("1899-01-01", "1905-12-31"), start)
    line = seasons * SLOTS + slots  # every slot of every season in one row
    skipped = np.setdiff1d(np.arange(line[0], line[-1] + 1), line)
    assert (np.diff(line) >= 1).all()
    assert skipped.size == 6  # of the seven years 1904 alone is a leap year
    assert set((skipped % SLOTS).tolist()) == {start.leap_slot}


@pytest.mark.parametrize(
    ("start", "lag", "leap_slot", "offset"), [(NORTH, 1, 212, 213), (SOUTH, 0, 28, 31), (JANUARY, 0, 59, 0)]
)  # counted by hand: 1 August to 29 February, 1 February to 29 February
def test_a_start_knows_its_spring_and_its_leap_day(start, lag, leap_slot, offset):
    assert (start.spring_lag, start.leap_slot, start.offset) == (lag, leap_slot, offset)


@pytest.mark.parametrize(("month", "lag"), [(6, 0), (7, 1)])
def test_a_start_in_july_or_later_has_its_spring_in_the_next_year(month, lag):
    assert SeasonStart(month=month, day=1).spring_lag == lag


@pytest.mark.parametrize(("month", "day"), [(0, 1), (13, 1), (1, 0), (1, 32), (2, 30), (4, 31), (-1, 5)])
def test_a_start_on_no_calendar_is_refused(month, day):
    with pytest.raises(InputError, match="no such day of the year") as caught:
        SeasonStart(month=month, day=day)
    assert caught.value.value == f"{month:02d}-{day:02d}"


def test_a_leap_day_is_the_first_of_march_in_a_common_year():
    assert date_of(2022, NORTH.leap_slot, NORTH) == dt.date(2023, 3, 1)
    assert date_of(2023, NORTH.leap_slot, NORTH) == dt.date(2024, 2, 29)


def test_half_a_day_belongs_to_the_day_it_began():
    assert date_of(2025, 253.9, NORTH) == dt.date(2026, 4, 10)
    assert month_day_text(253.9, NORTH) == "04-10"


@named
def test_season_days_are_written_as_month_and_day(start):
    dates = _days("2024-01-01", "2024-12-31")
    _, slots = split_dates(dates, start)
    assert [month_day_text(int(slot), start) for slot in slots] == [str(date)[5:] for date in dates]


def test_a_day_of_the_year_has_its_month_and_day():
    dates = _days("2024-01-01", "2024-12-31").tolist()
    assert [month_and_day(day) for day in range(SLOTS)] == [(date.month, date.day) for date in dates]


@pytest.mark.parametrize(
    ("first", "last", "size"), [("2024-02-28", "2024-03-01", 3), ("2024-03-01", "2024-02-28", 0)]
)
def test_a_range_holds_both_its_ends_or_nothing(first, last, size):
    assert _days(first, last).size == size


@named
def test_a_grid_has_every_value_in_the_slot_of_its_date(start):
    dates = _days("1995-01-01", "2004-12-31")
    values = np.arange(dates.size, dtype=float)
    years, grid = season_grid(dates, values, start)
    seasons, slots = split_dates(dates, start)
    assert_array_equal(grid[slots, seasons - years[0]], values)
    assert np.isfinite(grid).sum() == dates.size
    assert_array_equal(years, np.unique(seasons))


@named
def test_only_a_leap_day_that_does_not_exist_is_neither_missing_nor_cold(start):
    dates = _days("1895-01-01", "1909-12-31")
    years, grid = season_grid(dates, np.zeros(dates.size), start)
    for season, column in zip(years.tolist(), grid.T, strict=True):
        leap_year = season + (start.leap_slot + start.offset >= SLOTS)
        assert_array_equal(np.flatnonzero(np.isinf(column)), [] if isleap(leap_year) else [start.leap_slot])


def test_a_day_without_a_value_is_missing_and_a_season_without_days_too():
    dates = np.concatenate([_days("2000-08-01", "2001-07-31"), _days("2003-08-01", "2004-07-31")])
    years, grid = season_grid(dates, np.ones(dates.size), NORTH)
    assert_array_equal(years, [2000, 2001, 2002, 2003])
    assert_array_equal(np.isnan(grid).sum(axis=0), [0, 365, 365, 0])


def test_several_sites_lie_side_by_side():
    dates = _days("2000-08-01", "2002-07-31")
    values = np.arange(dates.size * 3, dtype=float).reshape(-1, 3)
    years, grid = season_grid(dates, values, NORTH)
    assert grid.shape == (SLOTS, 3, 2)
    for site in range(3):
        assert_array_equal(grid[:, site], season_grid(dates, values[:, site], NORTH)[1])
    assert years.tolist() == [2000, 2001]


@pytest.mark.parametrize("shape", [(0,), (0, 4)])
def test_no_days_make_no_seasons(shape):
    years, grid = season_grid(np.empty(0, "datetime64[D]"), np.empty(shape), NORTH)
    assert (years.size, grid.shape) == (0, (SLOTS, *shape[1:], 0))
