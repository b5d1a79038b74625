"""What minima are usual around each day of the year, how far they scatter, and how long weather lasts."""

from __future__ import annotations

import numpy as np

from frostgate.climate.nearby import sum_nearby
from frostgate.climate.persistence import persistence
from frostgate.seasons import SeasonStart, season_grid
from frostgate.terms import RECENT_DAYS, DailyMinima, Floats, Weather

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
    return _usual_and_spread(grid)[1]


def know_weather(minima: DailyMinima, start: SeasonStart) -> tuple[Weather, Floats]:
    """Give what a station's minima tell beside their last frosts, and their spread.

    Parameters
    ----------
    minima
        A station's record.
    start
        Where a season begins.

    Returns
    -------
    weather, spread_c
        The spread [°C] as in `spread_of_minima`, shape (366,).

    Examples
    --------
    >>> from frostgate.seasons import NORTH
    >>> from frostgate.terms import Station
    >>> days = np.arange("1991-08-01", "2021-08-01", dtype="datetime64[D]")
    >>> tmin_c = np.random.default_rng(3).normal(5, 4, days.size)
    >>> weather, _ = know_weather(DailyMinima(station=Station(id="X"), dates=days, tmin_c=tmin_c), NORTH)
    >>> weather.usual_c.mean().round(0), weather.recent_c.size, weather.last_day
    (np.float64(5.0), 60, datetime.date(2021, 7, 31))
    """
    _, grid = season_grid(minima.dates, minima.tmin_c, start)
    usual_c, spread_c = _usual_and_spread(grid)
    anomaly = np.where(np.isfinite(grid), (grid.T - usual_c).T / spread_c[:, np.newaxis], 0.0)
    kept, explained = persistence(anomaly.T)
    last = minima.dates[-1]
    recent_c = np.full(RECENT_DAYS, np.nan)
    near = minima.dates > last - RECENT_DAYS
    recent_c[(minima.dates[near] - last).astype(np.int64) - 1] = minima.tmin_c[near]
    weather = Weather(
        usual_c=usual_c,
        persistence=float(kept),
        explained=float(explained),
        recent_c=recent_c,
        last_day=last.astype(object),
    )
    return weather, spread_c


def _usual_and_spread(grid: Floats) -> tuple[Floats, Floats]:
    there = np.isfinite(grid)
    values = np.where(there, grid, 0.0)
    count, total, square = (sum_nearby(part.sum(axis=-1)) for part in (there, values, values**2))
    mean = total / np.maximum(count, 1)
    spread = np.sqrt(np.maximum(square / np.maximum(count, 1) - mean**2, SMALLEST_SPREAD_C**2))
    return mean, np.where(count > 0, spread, spread.max())
