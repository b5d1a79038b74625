"""What is usual at a station and how long its weather lasts."""

from __future__ import annotations

import numpy as np

from frostgate.climate.nearby import sum_nearby
from frostgate.model.records import RECENT_DAYS, DailyMinima, Weather
from frostgate.seasons import SLOTS, Floats, SeasonStart, season_grid

SMALLEST_SPREAD_C = 0.5


def spread_of_minima(minima: DailyMinima, start: SeasonStart) -> Floats:
    """Return the standard deviation of the minima within 15 days of each season day, over all seasons.

    A day of the year without minima near it takes the widest spread there is.
    """
    _, grid = season_grid(minima.dates, minima.tmin_c, start)
    return _usual_and_spread(grid)[1]


def know_weather(minima: DailyMinima, start: SeasonStart) -> tuple[Weather, Floats]:
    """Return what a station's minima tell beside their last frosts, and their spread."""
    _, grid = season_grid(minima.dates, minima.tmin_c, start)
    climatology_c, spread_c = _usual_and_spread(grid)
    anomaly = np.where(np.isfinite(grid), (grid.T - climatology_c).T / spread_c[:, np.newaxis], 0.0)
    kept, explained = persistence(anomaly.T)
    last = minima.dates[-1]
    recent_c = np.full(RECENT_DAYS, np.nan)
    near = minima.dates > last - RECENT_DAYS
    recent_c[(minima.dates[near] - last).astype(np.int64) - 1] = minima.tmin_c[near]
    weather = Weather(
        climatology_c=climatology_c,
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


FIRST, LAST, STEP = 180, 300, 5  # season days on which one looks back and ahead: late January to late May
AHEAD = (20, 60)  # the days ahead that are compared, beyond what one spell of weather reaches
USUAL_PERSISTENCE = 0.37  # the mean of 19 records, see tests/reference/learn_gate_defaults.py
MOST_EXPLAINED = 0.5
SEASONS_WORTH = 10.0  # how many seasons of a station's own that is worth


def persistence(anomaly: Floats, *, each_left_out: bool = False) -> tuple[Floats, Floats]:
    """Return how much of the mean anomaly of the past 60 days is kept over days 20 to 60 ahead.

    The slope of a line through the origin, over all seasons and every fifth day from late winter to late
    spring, drawn towards what is usual among stations. A station that warms, or was moved, keeps more.
    """
    total = np.concatenate([np.zeros((len(anomaly), 1)), np.cumsum(anomaly, axis=1)], axis=1)
    days = np.arange(FIRST, LAST, STEP)
    first, last = days + AHEAD[0], np.minimum(days + AHEAD[1], SLOTS - 1)
    past = (total[:, days + 1] - total[:, days + 1 - RECENT_DAYS]) / RECENT_DAYS
    ahead = (total[:, last] - total[:, first]) / (last - first)
    joint, own = (past * ahead).mean(axis=1), (past**2).mean(axis=1)
    joint_sum, own_sum = joint.sum(), own.sum()
    if each_left_out:
        joint_sum, own_sum = joint_sum - joint, own_sum - own
    worth = SEASONS_WORTH * max(float(own.mean()), np.finfo(float).tiny)
    kept: Floats = np.clip((joint_sum + USUAL_PERSISTENCE * worth) / (own_sum + worth), 0.0, 1.0)
    seasons = len(anomaly) - each_left_out
    return kept, np.minimum(kept**2 * own_sum / max(seasons, 1), MOST_EXPLAINED)
