"""Daily minima into frost dates: the last of each spring, the first of each autumn.

The published freeze normals count a minimum at or below the threshold as a freeze, over cold seasons that run
from August to July; both are defaults here, both can be changed.

A day without a minimum is never taken for a warm one. Days missing after the last frost that was seen (before
the first, in autumn) may hide a later one, and the rules of `COMPLETENESS` say when a season is then unknown:

``chance``
    Each missing day is given the chance of a frost that the record shows within 15 days of that day of the
    year, over all its seasons (half a frost is added to the count, so that the chance is never zero). The
    season is unknown when the chances add up to more than 5 %: a missing April morning counts, a missing July
    morning in a place that has never seen a July frost does not.
``strict``
    Any missing day makes the season unknown.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypedDict, Unpack

import numpy as np
import numpy.typing as npt

from frostgate.errors import InputError
from frostgate.model.records import Completeness, DailyMinima, FrostDates, Side
from frostgate.seasons import SLOTS, Floats, Ints, SeasonStart, season_grid
from frostgate.units import as_stored

COMPLETENESS: tuple[Completeness, ...] = ("chance", "strict")

Bools = npt.NDArray[np.bool_]
Below = Callable[[Floats, float], Bools]

HIDDEN_FROST_LIMIT = 0.05  # expected number of frosts that missing days may hide
NEARBY_DAYS = 15  # each side of a day of the year
BLOCK = 6  # days searched together; divides a season's 366


class FrostRules(TypedDict, total=False):
    """How frosts are found in a record."""

    inclusive: bool  # a minimum at the threshold is a frost, as by default, or only one below it
    completeness: Completeness


def last_frosts(
    minima: DailyMinima, threshold_c: float, start: SeasonStart, **rules: Unpack[FrostRules]
) -> FrostDates:
    """Find the last spring frost of each season."""
    return find_frosts(minima, "spring", [threshold_c], start, **rules)[0]


def first_frosts(
    minima: DailyMinima, threshold_c: float, start: SeasonStart, **rules: Unpack[FrostRules]
) -> FrostDates:
    """Find the first autumn frost of each season."""
    return find_frosts(minima, "autumn", [threshold_c], start, **rules)[0]


def find_frosts(
    minima: DailyMinima,
    side: Side,
    thresholds_c: Sequence[float],
    start: SeasonStart,
    **rules: Unpack[FrostRules],
) -> tuple[FrostDates, ...]:
    """Find one side's frosts at several thresholds, all of which are whole °F or none."""
    years, grid = season_grid(minima.dates, minima.comparable_with(thresholds_c[0]), start)
    if side == "spring":
        years, days = years + start.spring_lag, last_frost_days(grid, thresholds_c, **rules)
    else:  # the first frost is the last one of a season that runs backwards
        days = SLOTS - 1 - last_frost_days(grid[::-1], thresholds_c, **rules)
    step_c = minima.step_c
    return tuple(
        FrostDates(side=side, threshold_c=degrees, start=start, years=years, day=day, step_c=step_c)
        for degrees, day in zip(thresholds_c, days, strict=True)
    )


def last_frost_days(
    grid: Floats,
    thresholds_c: Sequence[float],
    *,
    inclusive: bool = True,
    completeness: Completeness = "chance",
) -> Floats:
    """Find the last frost of every season, for any number of sites and thresholds at once."""
    if completeness not in COMPLETENESS:
        raise InputError("no such rule of completeness", value=completeness, remedy=f"Choose {COMPLETENESS}.")
    below: Below = np.less_equal if inclusive else np.less
    tenths = [as_stored(float(threshold)) for threshold in thresholds_c]
    coldest_on, missing = _coldest_from_block_on(grid)
    seen = np.array([_last_seen(grid, coldest_on, below, threshold_c) for threshold_c in tenths])
    if missing:
        nothing = np.isnan(grid)
        for last, threshold_c in zip(seen, tenths, strict=True):
            last[_hidden_frosts(below(grid, threshold_c), nothing, last, completeness)] = np.nan
    return seen


def season_lengths(last: FrostDates, first: FrostDates) -> tuple[Ints, Floats]:
    """Count the days from each last spring frost to the autumn frost that follows it."""
    to_autumn = 1 - last.start.spring_lag
    shared, at_spring, at_autumn = np.intersect1d(last.years + to_autumn, first.years, return_indices=True)
    lengths = np.where(
        np.isnan(last.day[at_spring]) | np.isnan(first.day[at_autumn]), np.nan, np.full(shared.size, np.inf)
    )
    for index, (spring, autumn) in enumerate(zip(at_spring, at_autumn, strict=True)):
        from_day, to_day = last.date(int(spring)), first.date(int(autumn))
        if from_day is not None and to_day is not None:
            lengths[index] = (to_day - from_day).days
    return shared - to_autumn, lengths


def _coldest_from_block_on(grid: Floats) -> tuple[Floats, bool]:
    """Return the coldest minimum from each block of days to the season's end, and whether any day is missing.

    A season's blocks make it possible to find its last frost without looking at each day for each threshold.
    """
    blocks = grid.reshape(SLOTS // BLOCK, BLOCK, *grid.shape[1:])
    with np.errstate(invalid="ignore"):
        coldest = np.minimum.reduce(blocks, axis=1)
    missing = bool(np.isnan(coldest).any())
    if missing:
        coldest = np.fmin.reduce(blocks, axis=1)
    for block in range(len(coldest) - 2, -1, -1):
        np.fmin(coldest[block], coldest[block + 1], out=coldest[block])
    return coldest, missing


def _last_seen(grid: Floats, coldest_on: Floats, below: Below, threshold_c: float) -> Floats:
    """Find the last frost that was seen in each season, -inf where none was, shape (..., seasons)."""
    with_frost = below(coldest_on, threshold_c).view(np.uint8).sum(axis=0, dtype=np.uint8)
    first_day = np.maximum(with_frost.astype(np.int64) - 1, 0) * BLOCK
    last = np.full(grid.shape[1:], -np.inf)
    cell = first_day * last.size + np.arange(last.size).reshape(last.shape)
    days = grid.reshape(-1)
    for day in range(BLOCK):
        np.copyto(last, first_day + day, where=below(days.take(cell + day * last.size), threshold_c))
    return last


def _hidden_frosts(frost: Bools, missing: Bools, last: Floats, completeness: Completeness) -> np.ndarray:
    """Tell which seasons may hide a frost on a missing day after the last one seen."""
    if completeness == "strict":
        expected, limit = missing.astype(float), 0.0
    else:
        frosts, days = sum_nearby(frost.sum(axis=-1)), sum_nearby((~missing).sum(axis=-1))
        chance_by_day = np.where(days > 0, (frosts + 0.5) / (days + 1.0), 1.0)
        expected, limit = missing * chance_by_day[..., np.newaxis], HIDDEN_FROST_LIMIT
    from_day_on = np.cumsum(expected[::-1], axis=0)[::-1]
    from_day_on = np.concatenate([from_day_on, np.zeros((1, *last.shape))])
    first_unseen = np.where(np.isfinite(last), last + 1, 0).astype(np.int64)
    hidden: Bools = np.take_along_axis(from_day_on, first_unseen[np.newaxis], axis=0)[0] > limit
    return hidden


def sum_nearby(daily: npt.NDArray[np.number]) -> Floats:
    """Sum each season day with those within 15 days of it, round the year."""
    wrapped = np.concatenate([daily[-NEARBY_DAYS:], daily, daily[:NEARBY_DAYS]]).astype(np.float64)
    sums = np.cumsum(np.concatenate([np.zeros((1, *daily.shape[1:])), wrapped]), axis=0)
    near: Floats = sums[2 * NEARBY_DAYS + 1 :] - sums[: -2 * NEARBY_DAYS - 1]
    return near
