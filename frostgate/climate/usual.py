"""What minima are usual around each day of the year, and how far they scatter."""

from __future__ import annotations

import numpy as np

from frostgate.climate.nearby import sum_nearby
from frostgate.seasons import SeasonStart, season_grid
from frostgate.terms import DailyMinima, Floats

SMALLEST_SPREAD_C = 0.5


def spread_of_minima(minima: DailyMinima, start: SeasonStart) -> Floats:
    """Give the standard deviation of the minima within 15 days of each season day, over all seasons.

    A day of the year without minima near it takes the widest spread there is.

    Parameters
    ----------
    minima
        A station's record.
    start
        Where a season begins.

    Returns
    -------
    array of shape (366,)
        Spread [°C], at least half a degree.

    Examples
    --------
    >>> from frostgate.seasons import NORTH
    >>> from frostgate.terms import Station
    >>> days = np.arange("1991-08-01", "2001-08-01", dtype="datetime64[D]")
    >>> tmin_c = np.random.default_rng(3).normal(5, 4, days.size)
    >>> spread_c = spread_of_minima(DailyMinima(station=Station(id="X"), dates=days, tmin_c=tmin_c), NORTH)
    >>> spread_c.mean().round(0)
    np.float64(4.0)
    """
    _, grid = season_grid(minima.dates, minima.tmin_c, start)
    there = np.isfinite(grid)
    values = np.where(there, grid, 0.0)
    count, total, square = (sum_nearby(part.sum(axis=-1)) for part in (there, values, values**2))
    mean = total / np.maximum(count, 1)
    spread = np.sqrt(np.maximum(square / np.maximum(count, 1) - mean**2, SMALLEST_SPREAD_C**2))
    return np.where(count > 0, spread, spread.max())
