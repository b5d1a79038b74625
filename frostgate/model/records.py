"""What a station measured and what is read off it: its minima, and the frost dates of each season."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from frostgate.errors import InputError
from frostgate.seasons import Dates, Floats, Ints, SeasonStart, date_of, freeze
from frostgate.units import (
    STORED_STEP_C,
    WHOLE_F_STEP_C,
    as_stored,
    celsius,
    fahrenheit,
    observed_step_c,
    whole_f,
)

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """A place where minima are measured; what its file does not tell is None.

    Parameters
    ----------
    id : the archive's name for it
    name : in words
    latitude, longitude : degrees north and east
    elevation_m : above the sea [m]

    Examples
    --------
    >>> print(Station(id="ZZE00000001", name="Oskelmere", elevation_m=42.0))
    Oskelmere (ZZE00000001)
    """

    id: str
    name: str | None = None
    latitude: float | None = None
    longitude: float | None = None
    elevation_m: float | None = None

    def __str__(self) -> str:
        return self.id if self.name is None else f"{self.name} ({self.id})"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DailyMinima:
    """One station's daily minima, each day once.

    Parameters
    ----------
    station : where they were measured
    dates : days, strictly rising, shape (n,)
    tmin_c : minima [°C], rounded to the tenths in which records are stored, shape (n,); NaN where missing
    flagged : days whose value was dropped for its quality flag, shape (k,)
    suspect : days whose value was left out as a plain error, shape (m,)
    notes : what the reader put right, in words
    above_maxima : share of the days with both on which the file's own maximum lies below the minimum

    Raises
    ------
    InputError
        Where dates do not rise or lengths differ.

    Examples
    --------
    >>> minima = DailyMinima(station=Station(id="X"), dates=["2026-04-01", "2026-04-02"], tmin_c=[-2.2, 1.1])
    >>> minima.step_c  # both are whole °F
    0.5555555555555556
    >>> minima
    <DailyMinima of X, 2026-04-01 to 2026-04-02: 2 minima in 2 days>
    """

    station: Station
    dates: Dates
    tmin_c: Floats
    flagged: Dates = field(default_factory=lambda: np.empty(0, "datetime64[D]"))
    suspect: Dates = field(default_factory=lambda: np.empty(0, "datetime64[D]"))
    notes: tuple[str, ...] = ()
    above_maxima: float = 0.0

    def __post_init__(self) -> None:
        object.__setattr__(self, "tmin_c", as_stored(np.asarray(self.tmin_c, float)))
        freeze(self, dates="M8[D]", tmin_c=float, flagged="M8[D]", suspect="M8[D]")
        if self.dates.shape != self.tmin_c.shape:
            raise InputError("dates and minima differ in number", value=(self.dates.size, self.tmin_c.size))
        if not bool(np.all(np.diff(self.dates).astype(int) > 0)):
            raise InputError("the dates of a record must rise, each day once")

    def __repr__(self) -> str:
        days = f"{self.dates[0]} to {self.dates[-1]}" if self.dates.size else "no day"
        return f"<DailyMinima of {self.station}, {days}: {self.known:,} minima in {self.dates.size:,} days>"

    @property
    def known(self) -> int:
        """How many days have a minimum."""
        return int(np.isfinite(self.tmin_c).sum())

    @property
    def step_c(self) -> float:
        """The step in which the minima were observed [°C]: a whole °F, or a tenth of a °C."""
        return observed_step_c(self.tmin_c)

    @property
    def observed_c(self) -> Floats:
        """The minima as they were observed [°C], shape (n,): whole °F where such were, else as stored."""
        if self.step_c != WHOLE_F_STEP_C:
            return self.tmin_c
        degrees, fits = whole_f(self.tmin_c)
        return np.where(fits, celsius(degrees), self.tmin_c)

    def comparable_with(self, threshold_c: float) -> Floats:
        """Return the minima to compare with a threshold [°C], shape (n,).

        Where whole °F were observed, the minima are what was observed, in rounded tenths; elsewhere, and for
        a threshold that is itself in tenths of °C, they are as stored.
        """
        in_tenths = abs(threshold_c - as_stored(threshold_c)) < 1e-6
        in_whole_f = abs(fahrenheit(threshold_c) - round(fahrenheit(threshold_c))) < 1e-6
        return self.tmin_c if in_tenths and not in_whole_f else as_stored(self.observed_c)

    def leave_out(self, days: Dates) -> DailyMinima:
        """Return the record with the minima of some days left out as suspect."""
        hit = np.isin(self.dates, days)
        left = np.where(hit, np.nan, self.tmin_c)
        return replace(self, tmin_c=left, suspect=np.union1d(self.suspect, self.dates[hit]))

    def to_series(self) -> pd.Series[float]:
        """Return the minima [°C] by day; `frostgate.minima` makes a record of such a series."""
        import pandas as pd

        return pd.Series(self.tmin_c, index=pd.DatetimeIndex(self.dates, name="date"), name="tmin_c")


Side = Literal["spring", "autumn"]
Completeness = Literal["chance", "strict"]
State = Literal["frost", "none", "unknown"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FrostDates:
    """The last spring or first autumn frost of each season: one number per season.

    Parameters
    ----------
    side : ``spring`` for the season's last frost, ``autumn`` for its first
    threshold_c : a frost is a minimum at or below this [°C]
    start : where a season begins
    years : the calendar year of each spring (or autumn), shape (seasons,)
    day : season day of the frost, shape (seasons,); -inf (spring) or +inf (autumn) where the season had none,
        NaN where it cannot be known
    step_c : the step in which the minima were observed [°C]

    Raises
    ------
    InputError
        Where the shapes differ.

    Examples
    --------
    >>> from frostgate.seasons import NORTH
    >>> frosts = FrostDates(side="spring", threshold_c=0.0, start=NORTH, years=[2024, 2025, 2026],
    ...                     day=[250, -np.inf, np.nan])
    >>> frosts.states, frosts.date(0)
    (('frost', 'none', 'unknown'), datetime.date(2024, 4, 7))
    >>> frosts
    <FrostDates of spring at 0.0 °C, 2024 to 2026: 1 with a frost, 1 without, 1 unknown>
    """

    side: Side
    threshold_c: float
    start: SeasonStart
    years: Ints
    day: Floats
    step_c: float = STORED_STEP_C

    def __post_init__(self) -> None:
        freeze(self, years=np.int64, day=float)
        if self.years.shape != self.day.shape:
            raise InputError(
                "seasons and frost days differ in number", value=(self.years.size, self.day.size)
            )

    def __repr__(self) -> str:
        count = self.states.count
        years = f"{self.years[0]} to {self.years[-1]}" if self.years.size else "no season"
        return (
            f"<FrostDates of {self.side} at {self.threshold_c:.1f} °C, {years}: "
            f"{count('frost')} with a frost, {count('none')} without, {count('unknown')} unknown>"
        )

    @property
    def states(self) -> tuple[State, ...]:
        """Each season's outcome in one word."""
        return tuple("unknown" if np.isnan(d) else "none" if np.isinf(d) else "frost" for d in self.day)

    @property
    def known(self) -> Floats:
        """The days of the seasons whose outcome is known, shape (known seasons,)."""
        return self.day[~np.isnan(self.day)]

    def date(self, index: int) -> dt.date | None:
        """Return the date of one season's frost, or None where there is none or it cannot be known."""
        if not np.isfinite(self.day[index]):
            return None
        lag = self.start.spring_lag if self.side == "spring" else 0
        return date_of(int(self.years[index]) - lag, float(self.day[index]), self.start)

    def of_years(self, first: int, last: int) -> FrostDates:
        """Return the seasons of some years, both ends included."""
        keep = (self.years >= first) & (self.years <= last)
        return replace(self, years=self.years[keep], day=self.day[keep])

    def to_dataframe(self) -> pd.DataFrame:
        """Return each season's ``date`` and ``state`` (frost, none or unknown) by year."""
        import pandas as pd

        dates = np.array([self.date(index) for index in range(self.years.size)], dtype="datetime64[s]")
        return pd.DataFrame({"date": dates, "state": self.states}, index=pd.Index(self.years, name="year"))
