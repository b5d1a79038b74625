"""The frost dates of a record, and the curve fitted to them."""

from __future__ import annotations

import datetime as dt
import math
from typing import Literal

import numpy as np

from frostgate.errors import InputError
from frostgate.seasons import SLOTS, SeasonStart, date_of, month_day_text
from frostgate.terms.arrays import Floats, Ints, frozen_copy
from frostgate.terms.minima import Station
from frostgate.terms.weather import Weather
from frostgate.terms.years import YearsChoice
from frostgate.units import STORED_STEP_C
from frostgate.values import dataclass, replace

Side = Literal["spring", "autumn"]
Completeness = Literal["chance", "strict"]
State = Literal["frost", "none", "unknown"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FrostDates:
    """The last spring or first autumn frost of each season: one number per season.

    Parameters
    ----------
    side
        ``spring`` for the season's last frost, ``autumn`` for its first.
    threshold_c
        A frost is a minimum at or below this [°C].
    start
        Where a season begins.
    years
        The calendar year of each spring (or autumn), shape (seasons,).
    day
        Season day of the frost, shape (seasons,): finite = that day; -inf (spring) or +inf (autumn) = no
        frost that season; NaN = cannot know.
    step_c
        The step in which the minima were observed [°C].

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
    """

    side: Side
    threshold_c: float
    start: SeasonStart
    years: Ints
    day: Floats
    step_c: float = STORED_STEP_C

    def __post_init__(self) -> None:
        object.__setattr__(self, "years", frozen_copy(self.years, np.int64))
        object.__setattr__(self, "day", frozen_copy(self.day, np.float64))
        if self.years.shape != self.day.shape:
            raise InputError(
                "seasons and frost days differ in number", value=(self.years.size, self.day.size)
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
        """Give the date of one season's frost, or None where there is none or it cannot be known."""
        if not np.isfinite(self.day[index]):
            return None
        lag = self.start.spring_lag if self.side == "spring" else 0
        return date_of(int(self.years[index]) - lag, float(self.day[index]), self.start)

    def of_years(self, first: int, last: int) -> FrostDates:
        """Return the seasons of some years, both ends included."""
        keep = (self.years >= first) & (self.years <= last)
        return replace(self, years=self.years[keep], day=self.day[keep])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FrostCurve:
    """How likely a frost still is after each day of a season (spring), or already was before it (autumn).

    The curve is kept as a table of risks at season days 0 to 365 and read between them by straight lines;
    a day is a point on a continuous axis here, as in the published normals.

    Parameters
    ----------
    kind
        The name of the fit that made it.
    side, threshold_c, start
        As in `FrostDates`.
    risk
        Spring: chance of a frost after that day, never rising. Autumn: chance of a frost before it, never
        falling. Shape (366,).
    spread_c
        Standard deviation of the station's minima around each season day [°C], shape (366,), or None. No
        forecast is worse than knowing the time of the year, so no forecast error is wider.
    low, high
        Confidence bounds of ``risk``, shape (366,), or None.
    confidence
        The share of resamples between ``low`` and ``high``.
    frost_share
        Share of known seasons with such a frost.
    seasons_used, seasons_unknown
        How many seasons were known, and how many not.
    first_year, last_year
        Of the seasons used.
    step_c
        The step in which the minima were observed [°C]: a frost is an observation that rounds to the
        threshold or less.

    Raises
    ------
    InputError
        Where a table has another shape or holds something that is no chance.

    Examples
    --------
    >>> from frostgate.seasons import NORTH
    >>> curve = FrostCurve(kind="given", side="spring", threshold_c=0.0, start=NORTH,
    ...                    risk=np.linspace(1, 0, 366), frost_share=1.0, seasons_used=30, seasons_unknown=0,
    ...                    first_year=1991, last_year=2020)
    >>> round(curve.day_at_risk(0.1), 1), round(float(curve.risk_at(328.5)), 3), curve.date_at(0.3)
    (328.5, 0.1, '04-12')
    """

    kind: str
    side: Side
    threshold_c: float
    start: SeasonStart
    risk: Floats
    frost_share: float
    seasons_used: int
    seasons_unknown: int
    first_year: int
    last_year: int
    step_c: float = STORED_STEP_C
    spread_c: Floats | None = None
    low: Floats | None = None
    high: Floats | None = None
    confidence: float | None = None

    def __post_init__(self) -> None:
        for name in ("risk", "low", "high"):
            if getattr(self, name) is None:
                continue
            table = frozen_copy(getattr(self, name), np.float64)
            if table.shape != (SLOTS,):
                raise InputError("a curve needs a risk for each of 366 season days", value=table.shape)
            if not bool(np.all((table >= 0.0) & (table <= 1.0))):
                raise InputError("a risk lies between 0 and 1")
            object.__setattr__(self, name, table)
        if self.spread_c is not None:
            object.__setattr__(self, "spread_c", frozen_copy(self.spread_c, np.float64))
            if self.spread_c.shape != (SLOTS,) or not bool(np.all(self.spread_c > 0.0)):
                raise InputError("a spread of minima above 0 is needed for each of 366 season days")

    def risk_at(self, season_day: float | Floats | Ints) -> Floats:
        """Risk after (spring) or before (autumn) a season day; any shape in, the same shape out."""
        return np.asarray(
            np.interp(np.asarray(season_day, np.float64), np.arange(SLOTS), self.risk), dtype=np.float64
        )

    def day_at_risk(self, risk: float) -> float:
        """Give the season day at which the risk has fallen to ``risk``; NaN where it was never that high.

        In spring the first such day, in autumn the last.
        """
        return day_at_risk(self.risk, risk, self.side)

    def date_at(self, risk: float) -> str | None:
        """Give the date (MM-DD) at a level of risk, or None where there is no such date.

        The nearest whole day: in spring the first with at most that risk of a frost on a later day, in autumn
        the last with at most that risk of one on an earlier day.
        """
        day = self.day_at_risk(risk)
        if math.isnan(day):
            return None
        nearest = math.ceil(day - 0.5) if self.side == "spring" else math.floor(day + 0.5)
        return month_day_text(nearest, self.start)


def day_at_risk(table: Floats, risk: float, side: Side = "spring") -> float:
    """Read a table of 366 risks backwards; NaN where it is never that high, or never that low.

    Examples
    --------
    >>> day_at_risk(np.linspace(0.5, 0.0, 366), 0.6)
    nan
    """
    falling = table if side == "spring" else table[::-1]
    if not falling[0] > risk >= falling[-1]:
        return float("nan")
    after = int(np.argmax(falling <= risk))
    drop = falling[after - 1] - falling[after]
    day = after if drop <= 0.0 else after - 1 + min((falling[after - 1] - risk) / drop, 1.0)
    return float(day if side == "spring" else SLOTS - 1 - day)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SiteClimate:
    """All that a morning needs of a station's past.

    Parameters
    ----------
    station
        Where the minima were measured.
    curve
        Last spring frosts at the station's minimum that damages the garden.
    suspects, suspects_kept
        How many minima look like plain errors, and whether they were used all the same.
    flagged
        How many values were dropped for their quality flags.
    last_day
        The record's last day.
    notes
        What the grower should know of the record, in words.
    years
        Which years the curve rests on, and why; None where that was never asked.
    weather
        What the minima tell beside their last frosts; None where that was never asked.
    autumn
        First autumn frosts at the same minimum; None where that was never asked, or too few are known.

    Examples
    --------
    >>> from frostgate.seasons import NORTH
    >>> curve = FrostCurve(kind="given", side="spring", threshold_c=0.0, start=NORTH, risk=np.zeros(366),
    ...                    frost_share=0, seasons_used=30, seasons_unknown=0, first_year=1991, last_year=2020)
    >>> SiteClimate(station=Station(id="X"), curve=curve, suspects=0, suspects_kept=False, flagged=0,
    ...             last_day=dt.date(2020, 7, 31)).notes
    ()
    """

    station: Station
    curve: FrostCurve
    suspects: int
    suspects_kept: bool
    flagged: int
    last_day: dt.date
    notes: tuple[str, ...] = ()
    years: YearsChoice | None = None
    weather: Weather | None = None
    autumn: FrostCurve | None = None
