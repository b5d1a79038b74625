"""What was forecast for each night, and what came of it."""

from __future__ import annotations

import datetime as dt
from dataclasses import field

import numpy as np
import numpy.typing as npt

from frostgate.errors import InputError
from frostgate.terms.arrays import Dates, Floats, frozen_copy
from frostgate.values import dataclass, replace

MORNING_HOUR = 6  # the hour to which a minimum's lead is counted


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ForecastLog:
    """Forecast nights, each with its observed minimum once it is known; a night has one row for each issue.

    Parameters
    ----------
    issued
        When each forecast was made, local time of the place, shape (n,).
    mornings
        The date each night ends on, shape (n,).
    forecast_c
        Forecast minimum [°C], shape (n,).
    observed_c
        Observed minimum [°C], NaN while it is not known, shape (n,).
    place
        Where, shape (n,); one empty name for a log of one place.

    Raises
    ------
    InputError
        Where lengths differ, a forecast is missing, or it was made after its morning.

    Examples
    --------
    >>> log = ForecastLog(issued=["2026-04-10T18:00"], mornings=["2026-04-11"], forecast_c=[3.0],
    ...                   observed_c=[1.5])
    >>> log.lead_days, log.closed.size
    (array([0.5]), 1)
    """

    issued: npt.NDArray[np.datetime64]
    mornings: Dates
    forecast_c: Floats
    observed_c: Floats
    place: npt.NDArray[np.str_] = field(default_factory=lambda: np.empty(0, dtype=np.str_))

    def __post_init__(self) -> None:
        kinds = {"issued": "M8[m]", "mornings": "M8[D]", "forecast_c": "f8", "observed_c": "f8"}
        for name, kind in kinds.items():
            object.__setattr__(self, name, frozen_copy(getattr(self, name), kind))
        place = np.asarray(self.place, dtype=np.str_)
        object.__setattr__(self, "place", frozen_copy(place if place.size else [""] * self.size, np.str_))
        shapes = {getattr(self, name).shape for name in (*kinds, "place")}
        if shapes != {(self.size,)}:
            raise InputError("each forecast night needs its issue, morning, forecast and observed minimum")
        if not bool(np.all(np.isfinite(self.forecast_c))):
            raise InputError("a night without a forecast has no place in a log")
        if bool(np.any(self.lead_days < 0.0)):
            raise InputError("a forecast made after its morning has no place in a log")

    @property
    def size(self) -> int:
        """How many nights it holds, of all issues."""
        return int(self.mornings.size)

    @property
    def lead_days(self) -> Floats:
        """From each forecast's issue to its morning [d], shape (n,)."""
        morning = self.mornings.astype("datetime64[m]") + np.timedelta64(MORNING_HOUR, "h")
        return np.asarray(
            (morning - self.issued.astype("datetime64[m]")) / np.timedelta64(1, "D"), np.float64
        )

    @property
    def closed(self) -> ForecastLog:
        """The nights whose minimum is known."""
        return self.only(np.isfinite(self.observed_c))

    def through(self, day: dt.date) -> ForecastLog:
        """Give the nights that are past on the morning of a day."""
        return self.only(self.mornings <= np.datetime64(day, "D"))

    def only(self, these: npt.NDArray[np.bool_]) -> ForecastLog:
        """Give some of the nights."""
        names = ("issued", "mornings", "forecast_c", "observed_c", "place")
        return replace(self, **{name: getattr(self, name)[these] for name in names})
