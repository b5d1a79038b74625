"""What a record holds, and what it lacks."""

from __future__ import annotations

import datetime as dt

import numpy as np

from frostgate.errors import InputError
from frostgate.seasons import NORTH, SLOTS, SOUTH, SeasonStart, season_grid, split_dates
from frostgate.terms import DailyMinima, Floats, Ints
from frostgate.values import dataclass

NORTHERN_MIDWINTER = 172  # season day of 20 January, about the coldest of the northern year
FEWEST_DAYS = 60  # to tell the hemisphere from the minima
CLEAR_LEANING = 0.3  # correlation of the minima with the northern winter


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RecordSummary:
    """A record in numbers.

    Parameters
    ----------
    first, last
        The first and last day with a minimum.
    known, missing
        Days with a minimum between them, and days without.
    flagged, suspect
        Days whose value was dropped for a flag, or left out as a plain error; both are among the missing.
    longest_gap
        First and last day of the longest run without a minimum, or None.
    years
        The calendar year of each season's spring, shape (seasons,).
    completeness
        Share of each season's days with a minimum, shape (seasons,).

    Examples
    --------
    >>> from frostgate.terms import Station
    >>> record = DailyMinima(station=Station(id="X"), dates=["2026-04-01", "2026-04-03"], tmin_c=[1.0, 2.0])
    >>> summary = summarise(record, NORTH)
    >>> summary.missing, summary.longest_gap
    (1, (datetime.date(2026, 4, 2), datetime.date(2026, 4, 2)))
    """

    first: dt.date
    last: dt.date
    known: int
    missing: int
    flagged: int
    suspect: int
    longest_gap: tuple[dt.date, dt.date] | None
    years: Ints
    completeness: Floats

    @property
    def gap_days(self) -> int:
        """The length of the longest gap [d]."""
        return 0 if self.longest_gap is None else (self.longest_gap[1] - self.longest_gap[0]).days + 1


def summarise(minima: DailyMinima, start: SeasonStart) -> RecordSummary:
    """Count what a record holds and lacks.

    Raises
    ------
    InputError
        Where it holds no minimum at all.

    Examples
    --------
    >>> from frostgate.terms import Station
    >>> record = DailyMinima(station=Station(id="X"), dates=["2026-04-01", "2026-04-02"], tmin_c=[1.0, 2.0])
    >>> summarise(record, NORTH).known
    2
    """
    days = _known_days(minima)
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


def find_hemisphere(minima: DailyMinima) -> SeasonStart:
    """Tell from latitude, or else from when it is cold, where a record's seasons begin.

    Raises
    ------
    InputError
        Where neither tells: then the hemisphere must be stated.

    Examples
    --------
    >>> from frostgate.terms import Station
    >>> station = Station(id="X", latitude=-31.3)
    >>> find_hemisphere(DailyMinima(station=station, dates=["2026-04-01"], tmin_c=[1.0]))
    SeasonStart(month=2, day=1)
    """
    latitude = minima.station.latitude
    if latitude is not None and abs(latitude) > 0.0:  # neither unknown nor on the equator
        return NORTH if latitude > 0.0 else SOUTH
    known = np.isfinite(minima.tmin_c)
    _, slot = split_dates(minima.dates[known], NORTH)
    winter = np.cos(
        (slot - NORTHERN_MIDWINTER) / SLOTS * 2 * np.pi
    )  # 1 in a northern midwinter, -1 in summer
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


def _known_days(minima: DailyMinima) -> np.ndarray[tuple[int], np.dtype[np.datetime64]]:
    days = minima.dates[np.isfinite(minima.tmin_c)]
    if days.size == 0:
        raise InputError("the record holds no minimum at all", value=minima.station.id)
    return days
