"""What a record lacks and what in it cannot be believed: suspects, gaps, the hemisphere."""

from __future__ import annotations

import datetime as dt
import functools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from numpy.lib.stride_tricks import sliding_window_view

from frostgate.climate.frosts import NEARBY_DAYS
from frostgate.errors import InputError
from frostgate.model.gate import Reason
from frostgate.model.records import DailyMinima
from frostgate.seasons import NORTH, SLOTS, SOUTH, Dates, Floats, Ints, SeasonStart, season_grid, split_dates

FAR_FROM_SEASON = 4.5  # robust standard deviations
FAR_FROM_NEIGHBOURS = 6.0
NEIGHBOURS = 2  # days on each side
FEWEST_VALUES = 100  # within the nearby days of all seasons, to know what is usual
_TO_SD = 1.4826
_SMALLEST_SD_C = 0.5
# What no real record does. Over 15 records of 28 to 150 years: the same minimum at most 10 days running, the
# lowest one and what lies within 1 °C of it on 0.1 % of days at most, the median of 8 years at most 2.3 °C
# from that of the 8 before.
LONGEST_RUN = 30  # days
MOST_AT_LOWEST, FEWEST_CLIPPED, NEAR_LOWEST_C = 0.005, 10, 1.0
LARGEST_JUMP_C = 4.0
YEARS_COMPARED, DAYS_OF_A_YEAR = 8, 200
MOST_ABOVE_MAXIMA = 0.02  # of the days with both
NORTHERN_MIDWINTER = 172  # season day of 20 January, about the coldest of the northern year
FEWEST_DAYS = 60  # to tell the hemisphere from the minima
CLEAR_LEANING = 0.3  # correlation of the minima with the northern winter


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Suspects:
    """The minima of a record that look like plain errors, each array of shape (k,)."""

    dates: Dates
    tmin_c: Floats  # [°C]
    climatology_c: Floats  # the median of that time of the year [°C]
    around_c: Floats  # the median of the days around [°C]


@functools.lru_cache(maxsize=1)  # whoever cleans a record, or compares it, asks for the same
def find_suspects(minima: DailyMinima) -> Suspects:
    """Name the minima that neither their season nor their neighbours support.

    Parameters
    ----------
    minima : DailyMinima
        A station's record.

    Returns
    -------
    Suspects
        Their ``dates``, ``tmin_c``, and what was usual then [°C]; none where the record is too short to tell.

    Examples
    --------
    >>> import frostgate as fg
    >>> record = fg.read_minima("data_samples/oskelmere.dly")
    >>> fg.find_suspects(record).dates.tolist()
    [datetime.date(1994, 6, 16)]
    """
    known = np.isfinite(minima.tmin_c)
    dates, tmin_c = minima.dates[known], minima.tmin_c[known]
    if dates.size == 0:
        return Suspects(dates=dates, tmin_c=tmin_c, climatology_c=tmin_c, around_c=tmin_c)
    climatology_c = _usual(dates, tmin_c)
    away_c = np.abs(tmin_c - climatology_c)
    spread_c = np.maximum(_TO_SD * _usual(dates, away_c), _SMALLEST_SD_C)
    around_c = _around(dates, tmin_c)
    step_c = np.abs(tmin_c - around_c)
    usual_step_c = np.maximum(_TO_SD * _usual(dates, step_c), _SMALLEST_SD_C)
    alone = np.isnan(step_c)
    far = away_c > np.where(alone, FAR_FROM_NEIGHBOURS, FAR_FROM_SEASON) * spread_c
    hit = far & (alone | (step_c > FAR_FROM_NEIGHBOURS * usual_step_c))
    return Suspects(
        dates=dates[hit], tmin_c=tmin_c[hit], climatology_c=climatology_c[hit], around_c=around_c[hit]
    )


def find_record_doubts(minima: DailyMinima) -> Iterator[Reason]:
    """Tell what in a record cannot be believed: no weather stands still, ends at one minimum, or jumps."""
    known = np.isfinite(minima.tmin_c)
    tmin_c, days = minima.tmin_c[known], minima.dates[known]
    if minima.above_maxima > MOST_ABOVE_MAXIMA:
        yield Reason("doubt-record-maxima", {"share": minima.above_maxima})
    changes = np.flatnonzero(np.append(True, (np.diff(tmin_c) != 0.0) | (np.diff(days).astype(int) != 1)))
    longest = int(np.diff(np.append(changes, tmin_c.size)).max(initial=0))
    lowest = int((tmin_c < tmin_c.min(initial=np.inf) + NEAR_LOWEST_C).sum())
    if longest >= LONGEST_RUN:
        yield Reason("doubt-record-stuck", {"days": longest})
    elif lowest > max(FEWEST_CLIPPED, MOST_AT_LOWEST * tmin_c.size):
        yield Reason("doubt-record-clipped", {"days": lowest, "tmin_c": float(tmin_c.min())})
    jump_c = _largest_jump(days, tmin_c)
    if jump_c > LARGEST_JUMP_C:
        yield Reason("doubt-record-jumps", {"jump_c": jump_c})


def _largest_jump(days: Dates, tmin_c: Floats) -> float:
    """Return by how much the median of eight years' anomalies differs at most from the eight before [°C]."""
    off_c = tmin_c - _usual(days, tmin_c)
    first, year = np.unique(days.astype("datetime64[Y]"), return_inverse=True)
    there = np.isfinite(off_c)
    count = np.bincount(year[there], minlength=first.size)
    mean_c = np.bincount(year[there], off_c[there], minlength=first.size) / np.maximum(count, 1)
    whole_c = mean_c[count >= DAYS_OF_A_YEAR]
    largest_c = 0.0
    for end in range(YEARS_COMPARED, whole_c.size - YEARS_COMPARED + 1):
        before_c, after_c = whole_c[end - YEARS_COMPARED : end], whole_c[end : end + YEARS_COMPARED]
        largest_c = max(largest_c, abs(float(np.median(after_c) - np.median(before_c))))
    return largest_c


def leave_out_suspects(minima: DailyMinima, *, keep_suspects: bool = False) -> DailyMinima:
    """Return a record without its plain errors, or as it is where they are kept."""
    return minima if keep_suspects else minima.leave_out(find_suspects(minima).dates)


def _usual(dates: Dates, values: Floats) -> Floats:
    """Return for each day the median of all values within 15 days of it in any year; NaN with too few."""
    known = np.isfinite(values)
    season, slot = split_dates(dates, NORTH)
    year = season - season.min(initial=9999)
    levels, rank = np.unique(values[known], return_inverse=True)
    grid = np.full((SLOTS, year.max(initial=0) + 1), levels.size, np.min_scalar_type(levels.size))
    grid[slot[known], year[known]] = rank
    wrapped = np.concatenate([grid[-NEARBY_DAYS:], grid, grid[:NEARBY_DAYS]])
    near = np.concatenate([wrapped[day : day + SLOTS] for day in range(2 * NEARBY_DAYS + 1)], axis=1)
    near.sort(axis=1, kind="stable")  # by counting, for small whole numbers: a third of the time
    count = (near < levels.size).sum(axis=1)
    medians = np.append(levels, np.nan)[_middle_two(near, count)].mean(axis=1)
    return np.where(count < FEWEST_VALUES, np.nan, medians)[slot]


def _around(dates: Dates, tmin_c: Floats) -> Floats:
    """Return the median of the days within 2 of each day, itself left out; NaN where there is none."""
    position = (dates - dates[0]).astype(np.int64)
    line = np.full(position[-1] + 1 + 2 * NEIGHBOURS, np.nan)
    line[position + NEIGHBOURS] = tmin_c
    near = np.delete(sliding_window_view(line, 2 * NEIGHBOURS + 1)[position], NEIGHBOURS, axis=1)
    near.sort(axis=1)
    around_c: Floats = _middle_two(near, np.isfinite(near).sum(axis=1)).mean(axis=1)
    return around_c


def _middle_two(ordered: npt.NDArray[Any], count: Ints) -> npt.NDArray[Any]:
    """Return the two in the middle of the first ``count`` of each row, shape (rows, 2); the last, of none."""
    return np.take_along_axis(ordered, np.column_stack([(count - 1) // 2, count // 2]), axis=1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RecordSummary:
    """A record in numbers."""

    first: dt.date  # with a minimum
    last: dt.date
    known: int  # days with a minimum
    missing: int  # days between the first and the last without one
    flagged: int  # of these, dropped for a flag
    suspect: int  # of these, left out as plain errors
    longest_gap: tuple[dt.date, dt.date] | None  # first and last day of the longest run without a minimum
    years: Ints  # the calendar year of each season's spring, shape (seasons,)
    completeness: Floats  # share of each season's days with a minimum, shape (seasons,)

    @property
    def gap_days(self) -> int:
        """The length of the longest gap [d]."""
        return 0 if self.longest_gap is None else (self.longest_gap[1] - self.longest_gap[0]).days + 1


def summarise(minima: DailyMinima, start: SeasonStart) -> RecordSummary:
    """Count what a record holds and lacks."""
    days = minima.dates[np.isfinite(minima.tmin_c)]
    if days.size == 0:
        raise InputError("the record holds no minimum at all", value=minima.station.id)
    gaps = np.diff(days).astype(np.int64)
    widest = int(np.argmax(gaps)) if gaps.size else 0
    longest_gap = None
    if gaps.size and gaps[widest] > 1:
        longest_gap = ((days[widest] + 1).astype(object), (days[widest + 1] - 1).astype(object))
    start_years, grid = season_grid(minima.dates, minima.tmin_c, start)
    counts = ~np.isinf(grid)
    return RecordSummary(
        first=days[0].astype(object),
        last=days[-1].astype(object),
        known=days.size,
        missing=int(gaps.sum()) + 1 - days.size,
        flagged=minima.flagged.size,
        suspect=minima.suspect.size,
        longest_gap=longest_gap,
        years=start_years + start.spring_lag,
        completeness=np.isfinite(grid).sum(axis=0) / counts.sum(axis=0),
    )


def find_hemisphere(minima: DailyMinima, stated: str | None = None) -> SeasonStart:
    """Tell as stated, or from latitude, or else from when it is cold, where a record's seasons begin."""
    known_starts = {"north": NORTH, "south": SOUTH}
    if stated in known_starts:
        return known_starts[stated]
    if stated is not None:
        raise InputError("no such hemisphere", value=stated, remedy="Write north or south.")
    latitude = minima.station.latitude
    if latitude is not None and abs(latitude) > 0.0:  # neither unknown nor on the equator
        return NORTH if latitude > 0.0 else SOUTH
    known = np.isfinite(minima.tmin_c)
    _, slot = split_dates(minima.dates[known], NORTH)
    winter = np.cos((slot - NORTHERN_MIDWINTER) / SLOTS * 2 * np.pi)  # 1 in a northern midwinter
    tmin_c = minima.tmin_c[known]
    if tmin_c.size >= FEWEST_DAYS and np.ptp(winter) > 0.0 and np.ptp(tmin_c) > 0.0:
        leaning = float(np.corrcoef(winter, tmin_c)[0, 1])
        if abs(leaning) >= CLEAR_LEANING:
            return NORTH if leaning < 0 else SOUTH
    raise InputError(
        "the record does not tell whether it lies in the north or in the south",
        value=minima.station.id,
        remedy="Say --hemisphere north or --hemisphere south.",
    )
