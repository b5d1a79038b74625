"""What a station's record holds and what is made of it: minima, frost dates, years, weather, curves."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from frostgate.errors import InputError
from frostgate.seasons import SLOTS, Dates, Floats, Ints, SeasonStart, date_of, frozen_copy, month_day_text
from frostgate.units import STORED_STEP_C, WHOLE_F_STEP_C, as_stored, celsius, fahrenheit, whole_f

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
    flagged: Dates = field(default_factory=lambda: np.empty(0, "datetime64[D]"))
    suspect: Dates = field(default_factory=lambda: np.empty(0, "datetime64[D]"))
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
        """Return the minima to compare with a threshold [°C], shape (n,).

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


Basis = Literal["all", "recent", "trend"]
YearsWish = Literal["best", "all", "recent", "trend"]
BASES: tuple[Basis, ...] = ("all", "recent", "trend")


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """How the frost dates of a record move over its years, with what chance would do.

    Parameters
    ----------
    seasons
        Known seasons; a season without a frost counts as the earliest of all in spring, the latest in autumn.
    first_year, last_year
        Of the known seasons; None where there is none.
    s, variance, z, p
        Mann-Kendall: the statistic (positive where frosts come later), its variance with ties, its normal
        score, and the two-sided chance of as much without any trend.
    dates
        Seasons with a frost; the slope is theirs alone.
    days_per_decade, low, high
        Theil-Sen slope and its 95 % interval [d per decade], positive where frosts come later; None with
        fewer than 5 dates.

    Examples
    --------
    >>> none = Trend(seasons=0, first_year=None, last_year=None, s=0, variance=0.0, z=0.0, p=1.0, dates=0)
    >>> none.low is None
    True
    """

    seasons: int
    first_year: int | None
    last_year: int | None
    s: int
    variance: float
    z: float
    p: float
    dates: int
    days_per_decade: float | None = None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BasisScore:
    """How well the curve of some years foretold the seasons that followed them.

    Parameters
    ----------
    basis
        ``all``, ``recent`` or ``trend``.
    crps_days
        Mean CRPS of the seasons judged [d], smaller is better.
    gain_days, error_days
        By how much that is less than by all years, and the standard error of it over the seasons [d].

    Examples
    --------
    >>> BasisScore(basis="all", crps_days=6.2).gain_days
    0.0
    """

    basis: Basis
    crps_days: float
    gain_days: float = 0.0
    error_days: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class YearsChoice:
    """Which years a curve rests on, and why.

    Parameters
    ----------
    basis
        The years used: ``all``; ``recent``, the last 30 known seasons; or ``trend``, all of them, each date
        moved along the trend to the last season.
    best
        The years that the scores would choose; another basis was asked for by name.
    threshold_c
        Of the frosts that were judged [°C].
    judged
        Seasons with 30 known ones before them, each foretold from those alone.
    scores
        One for each basis; none where too few seasons could be judged.
    trend
        The trend of those frosts.
    reason
        The years and the evidence in plain words, to stand behind a colon.

    Raises
    ------
    InputError
        Where there is no such basis.

    Examples
    --------
    >>> trend = Trend(seasons=0, first_year=None, last_year=None, s=0, variance=0.0, z=0.0, p=1.0, dates=0)
    >>> YearsChoice(basis="all", best="all", threshold_c=0.0, judged=0, scores=(), trend=trend,
    ...             reason="All.").basis
    'all'
    """

    basis: Basis
    best: Basis
    threshold_c: float
    judged: int
    scores: tuple[BasisScore, ...]
    trend: Trend
    reason: str

    def __post_init__(self) -> None:
        for basis in (self.basis, self.best):
            if basis not in BASES:
                raise InputError("no such choice of years", value=basis)


RECENT_DAYS = 60  # how far back the weather of late is looked at


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weather:
    """What a station's minima tell beside their last frosts.

    Parameters
    ----------
    climatology_c
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
    >>> weather = Weather(climatology_c=np.full(366, 5.0), persistence=0.3, explained=0.02,
    ...                   recent_c=np.full(60, 6.0),
    ...                   last_day=dt.date(2026, 4, 12))
    >>> weather.recent_c.mean() - weather.climatology_c[0]
    np.float64(1.0)
    """

    climatology_c: Floats
    persistence: float
    explained: float
    recent_c: Floats
    last_day: dt.date

    def __post_init__(self) -> None:
        object.__setattr__(self, "climatology_c", frozen_copy(self.climatology_c, np.float64))
        object.__setattr__(self, "recent_c", frozen_copy(self.recent_c, np.float64))
        if (
            self.climatology_c.shape != (SLOTS,)
            or self.recent_c.ndim != 1
            or self.recent_c.size > RECENT_DAYS
        ):
            raise InputError(f"weather needs {SLOTS} usual minima and at most {RECENT_DAYS} recent ones")
        if not 0.0 <= self.persistence <= 1.0:
            raise InputError("persistence lies between 0 and 1", value=self.persistence)
        if not 0.0 <= self.explained < 1.0:
            raise InputError("the explained variance lies between 0 and 1", value=self.explained)


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
        """Return the date of one season's frost, or None where there is none or it cannot be known."""
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
        """Return the season day at which the risk has fallen to ``risk``; NaN where it was never that high.

        In spring the first such day, in autumn the last.
        """
        return day_at_risk(self.risk, risk, self.side)

    def date_at(self, risk: float) -> str | None:
        """Return the date (MM-DD) at a level of risk, or None where there is no such date.

        The nearest whole day: in spring the first with at most that risk of a frost on a later day, in autumn
        the last with at most that risk of one on an earlier day.
        """
        day = self.day_at_risk(risk)
        if math.isnan(day):
            return None
        nearest = math.ceil(day - 0.5) if self.side == "spring" else math.floor(day + 0.5)
        return month_day_text(nearest, self.start)


def day_at_risk(table: Floats, risk: float, side: Side = "spring") -> float:
    """Read a table of 366 risks backwards; NaN where it is never that high, or never that low."""
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
