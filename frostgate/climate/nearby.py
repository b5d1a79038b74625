"""Sums over the days near each day of the year."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from frostgate.terms import Floats

NEARBY_DAYS = 15  # each side of a day of the year


def sum_nearby(daily: npt.NDArray[np.number]) -> Floats:
    """Sum each season day with those within 15 days of it, round the year.

    Parameters
    ----------
    daily
        A value for each season day, shape (366, ...).

    Returns
    -------
    array of shape (366, ...)
        The sums.

    Examples
    --------
    >>> sum_nearby(np.ones(366))[:2]
    array([31., 31.])
    """
    wrapped = np.concatenate([daily[-NEARBY_DAYS:], daily, daily[:NEARBY_DAYS]]).astype(np.float64)
    sums = np.cumsum(np.concatenate([np.zeros((1, *daily.shape[1:])), wrapped]), axis=0)
    near: Floats = sums[2 * NEARBY_DAYS + 1 :] - sums[: -2 * NEARBY_DAYS - 1]
    return near
