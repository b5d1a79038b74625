"""How long a station's weather lasts: how much of a mild spell the rest of the spring keeps."""

from __future__ import annotations

import numpy as np

from frostgate.seasons import SLOTS
from frostgate.terms import RECENT_DAYS, Floats

FIRST, LAST, STEP = 180, 300, 5  # season days on which one looks back and ahead: late January to late May
AHEAD = (20, 60)  # the days ahead that are compared, beyond what one spell of weather reaches
USUAL_PERSISTENCE = 0.37  # the mean of 19 records, see tests/reference/learn_gate_defaults.py
MOST_EXPLAINED = 0.5
SEASONS_WORTH = 10.0  # how many seasons of a station's own that is worth


def persistence(anomaly: Floats, *, each_left_out: bool = False) -> tuple[Floats, Floats]:
    """Give how much of the mean anomaly of the past 60 days is kept over days 20 to 60 ahead.

    The slope of a line through the origin, over all seasons and every fifth day from late winter to late
    spring, drawn towards what is usual among stations. A station that warms, or was moved, keeps more.

    Parameters
    ----------
    anomaly
        Minima less what is usual, in units of the scatter, 0 where missing, shape (seasons, 366).
    each_left_out
        Give it once for each season, without that season.

    Returns
    -------
    kept, explained
        The share kept, 0 to 1, and the variance of an anomaly that this foretells, at most half; each of
        shape () or (seasons,).

    Examples
    --------
    >>> mild_or_cold = np.where(np.arange(40) % 2, 0.5, -0.5)[:, np.newaxis]
    >>> noise = np.random.default_rng(1).normal(0, 1, (40, 366))
    >>> [round(float(kept), 1) for kept, _ in (persistence(noise), persistence(mild_or_cold + noise))]
    [0.1, 0.8]
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
