"""What a station's record holds and what is made of it: minima, frost dates, years, weather, curves."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from frostgate.errors import InputError
from frostgate.model.gate import Policy
from frostgate.seasons import (
    SLOTS,
    Dates,
    Floats,
    Ints,
    SeasonStart,
    date_of,
    freeze,
    month_day_text,
    slot_of,
)
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

    def to_series(self) -> pd.Series[float]:
        """Return the minima [°C] by day; `frostgate.minima` makes a record of such a series."""
        import pandas as pd

        return pd.Series(self.tmin_c, index=pd.DatetimeIndex(self.dates, name="date"), name="tmin_c")


Basis = Literal["all", "recent", "trend"]
BasisOption = Literal["best", "all", "recent", "trend"]
BASES: tuple[Basis, ...] = ("all", "recent", "trend")


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """How the frost dates of a record move over its years, with what chance would do."""

    seasons: int  # known ones; one without a frost counts as the earliest in spring, the latest in autumn
    first_year: int | None  # of the known seasons
    last_year: int | None
    s: int  # Mann-Kendall: positive where frosts come later
    variance: float  # of s, with ties
    z: float
    p: float  # two-sided chance of as much without any trend
    dates: int  # seasons with a frost; the slope is theirs alone
    days_per_decade: float | None = None  # Theil-Sen; None with fewer than 5 dates
    low: float | None = None  # of its 95 % interval [d per decade]
    high: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BasisScore:
    """How well the curve of some years foretold the seasons that followed them."""

    basis: Basis
    crps_days: float  # mean CRPS of the seasons judged [d], smaller is better
    gain_days: float = 0.0  # by how much that is less than by all years [d]
    error_days: float = 0.0  # standard error of the gain over the seasons [d]


@dataclass(frozen=True, slots=True, kw_only=True)
class YearsChoice:
    """Which years a curve rests on, and why."""

    basis: Basis  # all; recent, the last 30 known; or trend, each date moved along it to the last season
    best: Basis  # what the scores would choose; another basis was asked for by name
    threshold_c: float  # of the frosts that were judged [°C]
    judged: int  # seasons with 30 known ones before them, each foretold from those alone
    scores: tuple[BasisScore, ...]  # none where too few seasons could be judged
    trend: Trend
    reason: str  # the years and the evidence in plain words, to stand behind a colon


RECENT_DAYS = 60  # how far back the weather of late is looked at


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weather:
    """What a station's minima tell beside their last frosts."""

    climatology_c: Floats  # mean minimum around each season day [°C], shape (366,)
    persistence: float  # what the rest of the spring keeps of the mean anomaly of the past 60 days, 0 to 1
    explained: float  # variance of an anomaly that this foretells, in units of the weather's own, below 1
    recent_c: Floats  # the last minima, one a day, NaN where missing [°C], shape (n,), n at most 60
    last_day: dt.date  # of the last of them

    def __post_init__(self) -> None:
        freeze(self, climatology_c=float, recent_c=float)
        too_long = self.recent_c.ndim != 1 or self.recent_c.size > RECENT_DAYS
        if self.climatology_c.shape != (SLOTS,) or too_long:
            raise InputError(f"weather needs {SLOTS} usual minima and at most {RECENT_DAYS} recent ones")
        if not 0.0 <= self.persistence <= 1.0:
            raise InputError("persistence lies between 0 and 1", value=self.persistence)
        if not 0.0 <= self.explained < 1.0:
            raise InputError("the explained variance lies between 0 and 1", value=self.explained)

    def __repr__(self) -> str:
        return (
            f"<Weather: {self.recent_c.size} minima to {self.last_day}, persistence {self.persistence:.2f}>"
        )


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


HELD_DAYS = 14.5


def risk_by_day(table: Floats, side: Side = "spring") -> Floats:
    """Return the chance of a frost after (spring) or before (autumn) each whole season day, shape (..., 366).

    A minimum dated d belongs to the morning of d; pots fed on d face d + 1 and later. On the axis of a curve,
    the day d reaches from d - 1/2 to d + 1/2: "after d" is its table's value at d + 1/2, "before d" at
    d - 1/2. The two weeks at the season's far end keep the chance they begin with: there the table falls to 0
    whatever the weather does, and where frosts come all year round that must not look like safety.
    """
    if side == "autumn":
        return risk_by_day(table[..., ::-1])[..., ::-1]
    day = np.minimum(np.arange(SLOTS) + 0.5, SLOTS - HELD_DAYS)
    low = day.astype(np.int64)
    share = day - low
    after: Floats = (1 - share) * table[..., low] + share * table[..., low + 1]
    return after


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
class FrostCurve:
    """How likely a frost still is after each day of a season (spring), or already was before it (autumn).

    The curve is a table of risks at the points 0 to 365 of a continuous axis, with straight lines between.
    `risk_after` and `risk_before` read it on whole days, exactly as the gate does (see `risk_by_day`);
    `date_at` reads it backwards, as the published freeze normals are read.

    Parameters
    ----------
    kind : the name of the fit that made it
    side, threshold_c, start : as in `FrostDates`
    risk : spring, chance of a frost later than each point, never rising; autumn, chance of one earlier, never
        falling; shape (366,)
    spread_c : standard deviation of the station's minima around each season day [°C], shape (366,), or None;
        no forecast is worse than knowing the time of the year, so no forecast error is wider
    low, high : confidence bounds of ``risk``, shape (366,), or None
    confidence : the share of resamples between ``low`` and ``high``
    frost_share : share of known seasons with such a frost
    seasons_used, seasons_unknown : how many seasons were known, and how many not
    first_year, last_year : of the seasons used
    step_c : the step in which the minima were observed [°C]; a frost is an observation that rounds to the
        threshold or less

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
    >>> curve
    <FrostCurve of spring at 0.0 °C (given), 30 seasons 1991 to 2020: 50 % on 01-30, 10 % on 06-24>
    >>> round(curve.risk_after("04-11"), 4), round(curve.risk_after("04-12"), 4), curve.date_at(0.3)
    (0.3027, 0.3, '04-12')
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
        freeze(self, risk=float, low=float, high=float, spread_c=float)
        for table in (self.risk, self.low, self.high):
            if table is not None and table.shape != (SLOTS,):
                raise InputError("a curve needs a risk for each of 366 season days", value=table.shape)
            if table is not None and not bool(np.all((table >= 0.0) & (table <= 1.0))):
                raise InputError("a risk lies between 0 and 1")
        spread_c = self.spread_c
        if spread_c is not None and not (spread_c.shape == (SLOTS,) and bool(np.all(spread_c > 0.0))):
            raise InputError("a spread of minima above 0 is needed for each of 366 season days")

    def __repr__(self) -> str:
        seasons = f"{self.seasons_used} seasons {self.first_year} to {self.last_year}"
        dates = f"50 % on {self.date_at(0.5)}, 10 % on {self.date_at(0.1)}"
        return f"<FrostCurve of {self.side} at {self.threshold_c:.1f} °C ({self.kind}), {seasons}: {dates}>"

    @property
    def by_day(self) -> Floats:
        """The chance of a frost after (spring) or before (autumn) each whole season day, shape (366,)."""
        return risk_by_day(self.risk, self.side)

    def risk_after(self, day: str | dt.date) -> float:
        """Return the chance of a last spring frost on a later day than this one, a date or its MM-DD.

        That is the risk, by the curve alone, of feeding on that day.
        """
        return self._risk_on(day, "spring")

    def risk_before(self, day: str | dt.date) -> float:
        """Return the chance of a first autumn frost on an earlier day than this one, a date or its MM-DD."""
        return self._risk_on(day, "autumn")

    def _risk_on(self, day: str | dt.date, side: Side) -> float:
        if self.side != side:
            says = "after a day: risk_after" if self.side == "spring" else "before a day: risk_before"
            raise InputError(f"a curve of {self.side} frosts tells of those {says}")
        return float(self.by_day[slot_of(day, self.start)])

    def day_at_risk(self, risk: float) -> float:
        """Return the point of the axis at a level of risk, in spring the first, in autumn the last.

        NaN where the curve is never that high, or never that low.
        """
        return day_at_risk(self.risk, risk, self.side)

    def date_at(self, risk: float) -> str | None:
        """Return the date (MM-DD) at a level of risk, or None where there is no such date.

        In spring the first day with at most that risk of a frost on a later day, in autumn the last with at
        most that risk of one on an earlier day.

        Raises
        ------
        InputError
            Where the risk is no share between 0 and 1.
        """
        try:
            share = float(risk)
        except (TypeError, ValueError):
            share = math.nan
        if not 0.0 <= share <= 1.0:
            raise InputError("no risk between 0 and 1", value=risk, remedy="Write 10 % as 0.10.")
        day = self.day_at_risk(share)
        if math.isnan(day):
            return None
        whole = math.ceil(day - 0.5) if self.side == "spring" else math.floor(day + 0.5)
        return month_day_text(whole, self.start)

    def to_series(self) -> pd.Series[float]:
        """Return the chance of a frost after (spring) or before (autumn) each day, by MM-DD."""
        return self.to_dataframe()["risk"]

    def to_dataframe(self) -> pd.DataFrame:
        """Return ``risk`` after (spring) or before (autumn) each day, by MM-DD, and its bounds."""
        import pandas as pd

        tables = {"risk": self.risk, "low": self.low, "high": self.high}
        days = pd.Index([month_day_text(slot, self.start) for slot in range(SLOTS)], name="day")
        columns = {name: risk_by_day(table, self.side) for name, table in tables.items() if table is not None}
        return pd.DataFrame(columns, index=days)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SiteClimate:
    """All that a morning needs of a station's past; `frostgate.site` makes it.

    Parameters
    ----------
    station : where the minima were measured
    curve : last spring frosts at the station's minimum that damages the garden
    suspects, suspects_kept : how many minima look like plain errors, and whether they were used all the same
    flagged : how many values were dropped for their quality flags
    last_day : the record's last day
    notes : what the grower should know of the record, in words
    years : which years the curve rests on, and why; None where that was never asked
    weather : what the minima tell beside their last frosts; None where that was never asked
    autumn : first autumn frosts at the same minimum; None where that was never asked, or too few are known
    policy : the numbers it was made for; None where they are kept elsewhere
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
    policy: Policy | None = None

    def __repr__(self) -> str:
        curve = self.curve
        return (
            f"<SiteClimate of {self.station}, {curve.first_year} to {curve.last_year}: last frosts at "
            f"{curve.threshold_c:.1f} °C, 50 % on {curve.date_at(0.5)}, 10 % on {curve.date_at(0.1)}>"
        )
