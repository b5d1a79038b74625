"""What is usual at a station on a day of the year, and how long its weather lasts."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from frostgate.model.curves import RECENT_DAYS, Weather
from frostgate.model.records import DailyMinima
from frostgate.seasons import SLOTS, Floats, SeasonStart, season_grid

NEARBY_DAYS = 15  # each side of a day of the year
SMALLEST_SPREAD_C = 0.5
FIRST, LAST, STEP = 180, 300, 5  # season days on which one looks back and ahead: late January to late May
AHEAD = (20, 60)  # the days ahead that are compared, beyond what one spell of weather reaches
USUAL_PERSISTENCE = 0.37  # the mean of 19 records, see tests/reference/learn_gate_defaults.py
MOST_EXPLAINED = 0.5
SEASONS_WORTH = 10.0  # how many seasons of a station's own that is worth


def sum_nearby(daily: npt.NDArray[np.number]) -> Floats:
    """Sum each season day with those within 15 days of it, round the year."""
    wrapped = np.concatenate([daily[-NEARBY_DAYS:], daily, daily[:NEARBY_DAYS]]).astype(np.float64)
    sums = np.cumsum(np.concatenate([np.zeros((1, *daily.shape[1:])), wrapped]), axis=0)
    near: Floats = sums[2 * NEARBY_DAYS + 1 :] - sums[: -2 * NEARBY_DAYS - 1]
    return near


def know_weather(minima: DailyMinima, start: SeasonStart) -> tuple[Weather, Floats]:
    """Return what a station's minima tell beside their last frosts, and their spread by season day [°C]."""
    _, grid = season_grid(minima.dates, minima.tmin_c, start)
    climatology_c, climate_sd_c = mean_and_spread(*(sum_nearby(part.sum(axis=-1)) for part in powers(grid)))
    anomaly = np.where(np.isfinite(grid), (grid.T - climatology_c).T / climate_sd_c[:, np.newaxis], 0.0)
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
    return weather, climate_sd_c


def powers(grid: Floats) -> tuple[Floats, Floats, Floats]:
    """Return 1, the minimum and its square where it is known, and 0 where it is not."""
    known = np.isfinite(grid)
    values = np.where(known, grid, 0.0)
    return known.astype(np.float64), values, values**2


def mean_and_spread(count: Floats, total: Floats, square: Floats) -> tuple[Floats, Floats]:
    """Return mean and standard deviation of each season day; without minima near it, the widest there is."""
    mean = total / np.maximum(count, 1)
    spread = np.sqrt(np.maximum(square / np.maximum(count, 1) - mean**2, SMALLEST_SPREAD_C**2))
    return mean, np.where(count > 0, spread, spread.max(axis=0))


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
