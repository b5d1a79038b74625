"""Season days: a calendar in which no frost date wraps at New Year.

A season is one cold season, from late summer to late summer. It has 366 slots, one for each month and day,
and slot 0 is the season's start: 1 August in the north, 1 February in the south. 29 February always has its
slot, so 1 March is the same season day in every year; in a common year that one slot simply does not exist.
"""

from __future__ import annotations

import datetime as dt
import re
from calendar import isleap
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from frostgate.errors import InputError

SLOTS = 366
Dates = npt.NDArray[np.datetime64]
Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

_MONTH_STARTS = np.array([0, 31, 60, 91, 121, 152, 182, 213, 244, 274, 305, 335], dtype=np.int64)
_MONTH_LENGTHS = np.diff(np.append(_MONTH_STARTS, SLOTS))
_LEAP_DAY = 59  # 29 February, counted from 0 in a year of 366 days


def is_month_day(month: int, day: int) -> bool:
    """Return whether any year has such a day; 29 February counts."""
    return 1 <= month <= 12 and 1 <= day <= int(_MONTH_LENGTHS[month - 1])


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonStart:
    """The day on which one cold season ends and the next begins: the calendar day of slot 0.

    A start in July or later puts the spring into the following year.
    """

    month: int
    day: int

    def __post_init__(self) -> None:
        """Refuse a day that no calendar has."""
        if not is_month_day(self.month, self.day):
            value, remedy = as_month_day(self.month, self.day), "Write month and day as MM-DD."
            raise InputError("no such day of the year", value=value, remedy=remedy)

    @property
    def spring_lag(self) -> int:
        """Years from the season's start to its spring: 1 in the north, 0 in the south."""
        return 1 if self.month > 6 else 0

    @property
    def offset(self) -> int:
        """Slot 0 as a day of a 366-day year, counted from 0."""
        return int(_MONTH_STARTS[self.month - 1]) + self.day - 1

    @property
    def leap_slot(self) -> int:
        """The slot of 29 February."""
        return (_LEAP_DAY - self.offset) % SLOTS


NORTH = SeasonStart(month=8, day=1)
SOUTH = SeasonStart(month=2, day=1)


def freeze(noun: object, **kinds: npt.DTypeLike) -> None:
    """Put read-only arrays of the stated kinds in place of a frozen noun's values; None stays None."""
    for name, kind in kinds.items():
        if (values := getattr(noun, name)) is not None:
            copy = np.array(values, dtype=kind)
            copy.setflags(write=False)
            object.__setattr__(noun, name, copy)


def split_dates(dates: Dates, start: SeasonStart) -> tuple[Ints, Ints]:
    """Return the season and the season day of each date."""
    days = dates.astype("datetime64[D]")
    months = days.astype("datetime64[M]")
    month = months.astype(np.int64) % 12
    day_of_month = (days - months.astype("datetime64[D]")).astype(np.int64)
    year = months.astype(np.int64) // 12 + 1970
    day_of_year = _MONTH_STARTS[month] + day_of_month
    return year - (day_of_year < start.offset), (day_of_year - start.offset) % SLOTS


def date_of(start_year: int, season_day: float, start: SeasonStart) -> dt.date:
    """Return the date of a season day; the slot of a missing 29 February gives 1 March."""
    day_of_year = (int(season_day) + start.offset) % SLOTS
    year = start_year + (int(season_day) + start.offset) // SLOTS
    month, day = month_and_day(day_of_year)
    if (month, day) == (2, 29) and not isleap(year):
        month, day = 3, 1
    return dt.date(year, month, day)


def date_range(first: dt.date, last: dt.date) -> Dates:
    """List the days from ``first`` to ``last``, both included; none where last comes before first."""
    return np.arange(np.datetime64(first, "D"), np.datetime64(last, "D") + 1)


_FIXED_ZONE = re.compile(r"UTC(?:([+-])(0\d|1[0-4]):([0-5]\d))?")


def find_zone(name: str) -> dt.tzinfo:
    """Return a time zone by its name in the IANA list, or a fixed one such as ``UTC-05:00``."""
    fixed = _FIXED_ZONE.fullmatch(name)
    try:
        if fixed is None:
            return ZoneInfo(name)
        ahead = dt.timedelta(hours=int(fixed[2] or 0), minutes=int(fixed[3] or 0))
        return dt.timezone(-ahead if fixed[1] == "-" else ahead)
    except (KeyError, ValueError, OSError):
        remedy = "Write it as America/New_York or as UTC-05:00."
        raise InputError("no time zone has this name", value=name, remedy=remedy) from None


def parse_month_day(text: str) -> tuple[int, int]:
    """Read a day of every year, such as ``11-05``, as (month, day)."""
    match = re.fullmatch(r"\s*(\d\d)-(\d\d)\s*", text)
    if match is None or not is_month_day(int(match[1]), int(match[2])):
        raise InputError("no such day of the year", value=text, remedy="Write month and day as 05-13.")
    return int(match[1]), int(match[2])


def as_month_day(month: int, day: int) -> str:
    """Write a day of every year as MM-DD."""
    return f"{month:02d}-{day:02d}"


def slot_of(day: str | dt.date, start: SeasonStart) -> int:
    """Return the season day of a date, or of a day of every year written MM-DD."""
    month, number = parse_month_day(day) if isinstance(day, str) else (day.month, day.day)
    return (int(_MONTH_STARTS[month - 1]) + number - 1 - start.offset) % SLOTS


def season_day_of(date: dt.date, start: SeasonStart) -> tuple[int, int]:
    """Return one date's season (the year it started in) and season day."""
    slot = slot_of(date, start)
    return date.year - (slot >= SLOTS - start.offset), slot


def month_day_text(season_day: float, start: SeasonStart) -> str:
    """Write a season day as MM-DD."""
    return as_month_day(*month_and_day((int(season_day) + start.offset) % SLOTS))


def month_day_or_none(season_day: float, start: SeasonStart) -> str | None:
    """Write a season day as MM-DD; None where there is no such day."""
    return month_day_text(season_day, start) if np.isfinite(season_day) else None


def say_day(date: dt.date) -> str:
    """Write a date as growers say it, without its year: ``Sun 10 May``."""
    return f"{date:%a} {date.day} {date:%b}"


def say_date(date: dt.date) -> str:
    """Write a date as growers say it, with its year: ``Sun 10 May 2026``."""
    return f"{say_day(date)} {date.year}"


def month_and_day(day_of_year: int) -> tuple[int, int]:
    """Split a day of a 366-day year, counted from 0, into month and day."""
    month = int(np.searchsorted(_MONTH_STARTS, day_of_year, side="right"))
    return month, day_of_year - int(_MONTH_STARTS[month - 1]) + 1


def season_grid(dates: Dates, values: Floats, start: SeasonStart) -> tuple[Ints, Floats]:
    """Lay daily values out by season day and season."""
    if dates.size == 0:
        return np.empty(0, dtype=np.int64), np.empty((SLOTS, *values.shape[1:], 0))
    season, slot = split_dates(dates, start)
    years = np.arange(season[0], season[-1] + 1)
    grid = np.full((SLOTS, *values.shape[1:], years.size), np.nan)
    grid[slot, ..., season - season[0]] = values
    common = [not isleap(int(year) + (start.leap_slot > SLOTS - 1 - start.offset)) for year in years]
    grid[start.leap_slot, ..., common] = np.inf
    return years, grid
