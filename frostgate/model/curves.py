"""How likely a frost still is: the curve, how it is read, the years and the weather behind it."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from frostgate.errors import InputError
from frostgate.model.gate import Policy, Reason
from frostgate.model.records import Side, Station
from frostgate.seasons import SLOTS, Floats, SeasonStart, freeze, month_day_text, slot_of
from frostgate.units import STORED_STEP_C

if TYPE_CHECKING:
    import pandas as pd


Basis = Literal["all", "recent", "trend"]
BasisOption = Literal["best", "all", "recent", "trend"]
BASES: tuple[Basis, ...] = ("all", "recent", "trend")


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """How the frost dates of a record move over its years, with what chance would do."""

    seasons: int  # known ones; one without a frost counts as the earliest in spring, the latest in autumn
    first_year: int | None  # of the known seasons
    last_year: int | None
    s: int  # Mann-Kendall: pairs of seasons that rise less those that fall, positive where frosts come later
    variance: float  # of s where there is no trend, ties counted
    dates: int  # seasons with a frost; the slope is theirs alone
    days_per_decade: float | None = None  # Theil-Sen; None with fewer than 5 dates
    low: float | None = None  # of its 95 % interval [d per decade]
    high: float | None = None

    @property
    def z(self) -> float:
        """The normal score of ``s``, with the correction for its whole steps."""
        return 0.0 if self.variance <= 0.0 else float(self.s - np.sign(self.s)) / math.sqrt(self.variance)

    @property
    def p(self) -> float:
        """The two-sided chance of as much without any trend."""
        return math.erfc(abs(self.z) / math.sqrt(2.0))


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


def risk_if_fed(risk: Floats, first_exposed_days: int) -> Floats:
    """Return, for each season day, the chance of a frost on pots fed that day, by a curve's table."""
    last_safe = np.clip(np.arange(SLOTS) + first_exposed_days - 1, 0, SLOTS - 1)
    return risk_by_day(risk)[..., last_safe]


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
    autumn_basis : the years that these rest on; None where that was never asked
    policy : the numbers it was made for; None where they are kept elsewhere
    doubts : what in the record cannot be believed
    with_suspects : the curve had the cold minima that look like plain errors been used; None without any
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
    autumn_basis: Basis | None = None
    policy: Policy | None = None
    doubts: tuple[Reason, ...] = ()
    with_suspects: FrostCurve | None = None

    def __repr__(self) -> str:
        curve = self.curve
        return (
            f"<SiteClimate of {self.station}, {curve.first_year} to {curve.last_year}: last frosts at "
            f"{curve.threshold_c:.1f} °C, 50 % on {curve.date_at(0.5)}, 10 % on {curve.date_at(0.1)}>"
        )
