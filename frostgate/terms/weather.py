"""What is usual at a station, how long its weather lasts, and how it has been of late."""

from __future__ import annotations

import datetime as dt

import numpy as np

from frostgate.errors import InputError
from frostgate.seasons import SLOTS
from frostgate.terms.arrays import Floats, frozen_copy
from frostgate.values import dataclass

RECENT_DAYS = 60  # how far back the weather of late is looked at


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weather:
    """What a station's minima tell beside their last frosts.

    Parameters
    ----------
    usual_c
        Mean minimum around each season day [°C], shape (366,).
    persistence
        How much of the mean anomaly of the past 60 days the rest of the spring keeps, 0 to 1: how far a mild
        spring stays mild.
    explained
        Variance of an anomaly that this foretells, in units of the weather's own, 0 to below 1.
    recent_c
        The record's last minima, one a day, NaN where missing [°C], shape (n,), n at most 60.
    last_day
        The day of the last of them.

    Raises
    ------
    InputError
        Where a table has another shape.

    Examples
    --------
    >>> weather = Weather(usual_c=np.full(366, 5.0), persistence=0.3, explained=0.02,
    ...                   recent_c=np.full(60, 6.0),
    ...                   last_day=dt.date(2026, 4, 12))
    >>> weather.recent_c.mean() - weather.usual_c[0]
    np.float64(1.0)
    """

    usual_c: Floats
    persistence: float
    explained: float
    recent_c: Floats
    last_day: dt.date

    def __post_init__(self) -> None:
        object.__setattr__(self, "usual_c", frozen_copy(self.usual_c, np.float64))
        object.__setattr__(self, "recent_c", frozen_copy(self.recent_c, np.float64))
        if self.usual_c.shape != (SLOTS,) or self.recent_c.ndim != 1 or self.recent_c.size > RECENT_DAYS:
            raise InputError(f"weather needs {SLOTS} usual minima and at most {RECENT_DAYS} recent ones")
        if not 0.0 <= self.persistence <= 1.0:
            raise InputError("persistence lies between 0 and 1", value=self.persistence)
        if not 0.0 <= self.explained < 1.0:
            raise InputError("the explained variance lies between 0 and 1", value=self.explained)
