"""What a station measured."""

from __future__ import annotations

from dataclasses import field

import numpy as np

from frostgate.errors import InputError
from frostgate.terms.arrays import Dates, Floats, frozen_copy, no_days
from frostgate.units import STORED_STEP_C, WHOLE_F_STEP_C, as_stored, celsius, fahrenheit, whole_f
from frostgate.values import dataclass, replace

WHOLE_F_SHARE = 0.9  # by chance 9 of 50 tenths can be a whole °F, below 0 °C 18 of 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """A place where minima are measured; what its file does not tell is None.

    Examples
    --------
    >>> Station(id="XX000000001").name is None
    True
    """

    id: str
    name: str | None = None
    latitude: float | None = None
    longitude: float | None = None
    elevation_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DailyMinima:
    """One station's daily minima, each day once.

    Parameters
    ----------
    station
        Where they were measured.
    dates
        Days, strictly rising, shape (n,).
    tmin_c
        Minima [°C], kept in stored tenths, shape (n,); NaN where missing.
    flagged
        Days whose value was dropped for its quality flag, shape (k,).
    suspect
        Days whose value was left out as a plain error, shape (m,).
    notes
        What the reader put right, in words.

    Raises
    ------
    InputError
        Where dates do not rise or lengths differ.

    Examples
    --------
    >>> minima = DailyMinima(station=Station(id="X"), dates=["2026-04-01", "2026-04-02"], tmin_c=[-2.2, 1.1])
    >>> minima.step_c  # both are whole °F
    0.5555555555555556
    """

    station: Station
    dates: Dates
    tmin_c: Floats
    flagged: Dates = field(default_factory=no_days)
    suspect: Dates = field(default_factory=no_days)
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for name in ("dates", "flagged", "suspect"):
            object.__setattr__(self, name, frozen_copy(getattr(self, name), "datetime64[D]"))
        object.__setattr__(self, "tmin_c", frozen_copy(as_stored(np.asarray(self.tmin_c, float)), float))
        if self.dates.shape != self.tmin_c.shape:
            raise InputError("dates and minima differ in number", value=(self.dates.size, self.tmin_c.size))
        if not bool(np.all(np.diff(self.dates).astype(int) > 0)):
            raise InputError("the dates of a record must rise, each day once")

    @property
    def known(self) -> int:
        """How many days have a minimum."""
        return int(np.isfinite(self.tmin_c).sum())

    @property
    def step_c(self) -> float:
        """The step in which the minima were observed [°C]: a whole °F, or a tenth of a °C."""
        _, fits = whole_f(self.tmin_c[np.isfinite(self.tmin_c)])
        return WHOLE_F_STEP_C if fits.size and fits.mean() >= WHOLE_F_SHARE else STORED_STEP_C

    def comparable_with(self, threshold_c: float) -> Floats:
        """Give the minima to compare with a threshold [°C], shape (n,).

        Where whole °F were observed, the minima are what was observed, in rounded tenths; elsewhere, and for
        a threshold that is itself in tenths of °C, they are as stored.
        """
        in_tenths = abs(threshold_c - as_stored(threshold_c)) < 1e-6
        in_whole_f = abs(fahrenheit(threshold_c) - round(fahrenheit(threshold_c))) < 1e-6
        if (in_tenths and not in_whole_f) or self.step_c != WHOLE_F_STEP_C:
            return self.tmin_c
        degrees, fits = whole_f(self.tmin_c)
        return np.where(fits, as_stored(celsius(degrees)), self.tmin_c)

    def leave_out(self, days: Dates) -> DailyMinima:
        """Return the record with the minima of some days left out as suspect."""
        hit = np.isin(self.dates, days)
        left = np.where(hit, np.nan, self.tmin_c)
        return replace(self, tmin_c=left, suspect=np.union1d(self.suspect, self.dates[hit]))
