"""Plain errors in a record that nobody flagged: minima that neither the season nor the days around support.

A minimum is suspect when both hold:

* it lies more than 4.5 robust standard deviations from the median of its time of the year (all seasons,
  within 15 days);
* it lies more than 6 robust standard deviations of such differences from the median of its neighbours, the
  days within 2 of it; where it has no neighbours, the first limit is 6.

The robust standard deviation is the median absolute deviation times 1.4826. Checks of this shape are common
practice in the quality control of daily records, no source for the two limits: they were set so that they
name the known errors of one record and no cold morning of eight other long ones.
"""

from __future__ import annotations

import numpy as np

from frostgate.climate.nearby import NEARBY_DAYS
from frostgate.seasons import NORTH, SLOTS, split_dates
from frostgate.terms import DailyMinima, Dates, Floats, Ints
from frostgate.values import dataclass

FAR_FROM_SEASON = 4.5  # robust standard deviations
FAR_FROM_NEIGHBOURS = 6.0
NEIGHBOURS = 2  # days on each side
FEWEST_VALUES = 100  # within the nearby days of all seasons, to know what is usual
_TO_SD = 1.4826
_SMALLEST_SD_C = 0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Suspects:
    """The minima of a record that look like plain errors.

    Parameters
    ----------
    dates, tmin_c
        The days and their minima [°C], shape (k,).
    usual_c
        What is usual at that time of the year [°C], shape (k,).
    around_c
        The median of the days around [°C], shape (k,).

    Examples
    --------
    >>> Suspects(dates=np.empty(0, "datetime64[D]"), tmin_c=np.empty(0), usual_c=np.empty(0),
    ...          around_c=np.empty(0)).dates.size
    0
    """

    dates: Dates
    tmin_c: Floats
    usual_c: Floats
    around_c: Floats


def find_suspects(minima: DailyMinima) -> Suspects:
    """Name the minima that neither their season nor their neighbours support.

    A record too short to know what is usual has no suspects.

    Examples
    --------
    >>> from frostgate.terms import Station
    >>> days = np.arange("1991-01-01", "2001-01-01", dtype="datetime64[D]")
    >>> tmin_c = 9 + np.random.default_rng(3).normal(0, 2, days.size)
    >>> tmin_c[1000] = -25.0
    >>> find_suspects(DailyMinima(station=Station(id="X"), dates=days, tmin_c=tmin_c)).dates
    array(['1993-09-27'], dtype='datetime64[D]')
    """
    known = np.isfinite(minima.tmin_c)
    dates, tmin_c = minima.dates[known], minima.tmin_c[known]
    if dates.size == 0:
        return Suspects(dates=dates, tmin_c=tmin_c, usual_c=tmin_c, around_c=tmin_c)
    _, slot = split_dates(dates, NORTH)
    usual_c, spread_c = _usual(dates, tmin_c)
    around_c = _around(dates, tmin_c)
    step_c = tmin_c - around_c
    usual_step_c = np.maximum(_TO_SD * _median_by_slot(np.abs(step_c), slot), _SMALLEST_SD_C)
    alone = np.isnan(step_c)
    far = np.where(alone, FAR_FROM_NEIGHBOURS, FAR_FROM_SEASON) * spread_c[slot]
    hit = (np.abs(tmin_c - usual_c[slot]) > far) & (
        alone | (np.abs(step_c) > FAR_FROM_NEIGHBOURS * usual_step_c[slot])
    )
    return Suspects(dates=dates[hit], tmin_c=tmin_c[hit], usual_c=usual_c[slot][hit], around_c=around_c[hit])


def _usual(dates: Dates, tmin_c: Floats) -> tuple[Floats, Floats]:
    """Give the median and the robust spread of each season day's time of the year [°C], shape (366,)."""
    _, slot = split_dates(dates, NORTH)
    median = _median_by_slot(tmin_c, slot)
    spread = _TO_SD * _median_by_slot(np.abs(tmin_c - median[slot]), slot)
    return median, np.maximum(spread, _SMALLEST_SD_C)


def _median_by_slot(values: Floats, slot: Ints) -> Floats:
    """Give the median of all values within 15 days of each season day; NaN where there are too few."""
    order = np.argsort(slot, kind="stable")
    ordered = values[order]
    wrapped = np.concatenate([ordered, ordered, ordered])
    edges = np.searchsorted(slot[order], np.arange(-NEARBY_DAYS, SLOTS + NEARBY_DAYS + 1) % SLOTS)
    turns = np.arange(-NEARBY_DAYS, SLOTS + NEARBY_DAYS + 1) // SLOTS + 1
    edges = edges + turns * ordered.size
    medians = np.full(SLOTS, np.nan)
    for day in range(SLOTS):
        near = wrapped[edges[day] : edges[day + 2 * NEARBY_DAYS + 1]]
        near = near[np.isfinite(near)]
        if near.size >= FEWEST_VALUES:
            medians[day] = np.median(near)
    return medians


def _around(dates: Dates, tmin_c: Floats) -> Floats:
    """Give the median of the days within 2 of each day, itself left out; NaN where there is none."""
    position = (dates - dates[0]).astype(np.int64)
    line = np.full(position[-1] + 1 + 2 * NEIGHBOURS, np.nan)
    line[position + NEIGHBOURS] = tmin_c
    shifts = [shift for shift in range(2 * NEIGHBOURS + 1) if shift != NEIGHBOURS]
    near = np.sort(np.stack([line[position + shift] for shift in shifts]), axis=0)  # NaN sort to the end
    count = np.isfinite(near).sum(axis=0)
    columns = np.arange(position.size)
    low, high = near[np.maximum(count - 1, 0) // 2, columns], near[count // 2, columns]
    return np.asarray((low + high) / 2, dtype=np.float64)
