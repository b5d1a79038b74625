"""What the gate takes and gives: a forecast, the grower's policy, the outlook, the verdict."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import numpy.typing as npt

from frostgate.errors import InputError
from frostgate.seasons import Dates, Floats, freeze
from frostgate.units import COLDEST_C, HOTTEST_C, say_share

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Forecast:
    """Forecast minima of the coming nights, each dated by the local morning it ends on.

    Parameters
    ----------
    source : the file, for messages
    form : the form it came in, in words
    issued_at : when it was made, local time of the place, without zone
    issued_stated : whether the file tells that; else ``issued_at`` is the earliest it can have been
    time_zone : the place's time zone, where the file tells
    dates : mornings, strictly rising, shape (n,)
    tmin_c : forecast minimum [°C], shape (n,); NaN where the forecast has none
    sd_c : the forecast's own spread [°C], shape (n,); NaN where it states none
    notes : what the reader took for granted, in words
    latitude, longitude : of its place, degrees north and east, where the file tells
    members_c : the equally likely minima of each night that it states, as the members of an ensemble or read
        from its quantiles [°C], shape (n, k), or None; NaN where a night has fewer

    Raises
    ------
    InputError
        Where there is no night at all, lengths differ, dates do not rise, a number is infinite, a spread
        negative, or ``issued_at`` no local time.

    Examples
    --------
    >>> forecast = Forecast(source="f.csv", form="table", issued_at=dt.datetime(2026, 4, 1, 6),
    ...                     dates=["2026-04-02", "2026-04-03"], tmin_c=[1.5, -2], sd_c=[np.nan, np.nan])
    >>> forecast
    <Forecast of 2026-04-01 06:00, for 2026-04-02 to 2026-04-03: coldest -2.0 °C>
    """

    source: str
    form: str
    issued_at: dt.datetime
    dates: Dates
    tmin_c: Floats
    sd_c: Floats
    issued_stated: bool = True
    time_zone: str | None = None
    notes: tuple[str, ...] = ()
    latitude: float | None = None
    longitude: float | None = None
    members_c: Floats | None = None

    def __post_init__(self) -> None:
        freeze(self, dates="M8[D]", tmin_c=float, sd_c=float, members_c=float)
        if not self.dates.shape == self.tmin_c.shape == self.sd_c.shape or self.dates.size == 0:
            raise InputError("a forecast needs a minimum for each of its nights", file=self.source)
        if self.members_c is not None and self.members_c.shape[:-1] != self.dates.shape:
            raise InputError("a forecast's members are those of each of its nights", file=self.source)
        members_c = np.zeros(0) if self.members_c is None else self.members_c
        if any(np.isinf(one).any() for one in (self.tmin_c, self.sd_c, members_c)):
            remedy = "Where the forecast has none, it is NaN."
            raise InputError("no place on earth has such a temperature", file=self.source, remedy=remedy)
        if members_c.ndim > 1 and bool(np.any(np.isfinite(members_c[np.isnan(self.tmin_c)]))):
            raise InputError("a night with members and no minimum", file=self.source)
        if bool(np.any(self.sd_c < 0.0)):
            raise InputError("a spread is never negative", file=self.source)
        if getattr(self.issued_at, "tzinfo", self) is not None:  # nor is a date a time
            what = "a forecast is made at a local time without zone"
            raise InputError(what, file=self.source, value=str(self.issued_at))
        if not bool(np.all(np.diff(self.dates).astype(int) > 0)):
            raise InputError("the dates of a forecast must rise, each day once", file=self.source)

    def __repr__(self) -> str:
        made, coldest_c = f"{self.issued_at:%Y-%m-%d %H:%M}", np.fmin.reduce(self.tmin_c)
        return f"<Forecast of {made}, for {self.dates[0]} to {self.dates[-1]}: coldest {coldest_c:.1f} °C>"

    @property
    def through(self) -> dt.date:
        """The last morning it tells of."""
        last: dt.date = self.dates[-1].astype(object)
        return last

    def to_series(self) -> pd.Series[float]:
        """Return the forecast minima [°C] by morning."""
        return self.to_dataframe()["tmin_c"]

    def to_dataframe(self) -> pd.DataFrame:
        """Return ``tmin_c`` and the forecast's own spread ``sd_c`` [°C] by morning."""
        import pandas as pd

        mornings = pd.DatetimeIndex(self.dates, name="morning")
        return pd.DataFrame({"tmin_c": self.tmin_c, "sd_c": self.sd_c}, index=mornings)


MORNING = dt.time(6)  # minima come near sunrise: every night holds this hour, and leads are counted to it
LOG_COLUMNS = ("issued", "mornings", "forecast_c", "observed_c", "place")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ForecastLog:
    """Forecast nights, each with its observed minimum once it is known; a night has one row for each issue.

    Raises
    ------
    InputError
        Where lengths differ, a forecast is missing, or it was made after its morning.
    """

    issued: npt.NDArray[np.datetime64]  # when each was made, local time of the place, shape (n,)
    mornings: Dates  # the date each night ends on, shape (n,)
    forecast_c: Floats  # forecast minimum [°C], shape (n,)
    observed_c: Floats  # observed minimum [°C], NaN while it is not known, shape (n,)
    # where, shape (n,); one empty name for a log of one place
    place: npt.NDArray[np.str_] = field(default_factory=lambda: np.empty(0, dtype=np.str_))

    def __post_init__(self) -> None:
        freeze(self, issued="M8[m]", mornings="M8[D]", forecast_c=float, observed_c=float)
        object.__setattr__(self, "place", self.place if np.size(self.place) else [""] * self.size)
        freeze(self, place=np.str_)
        shapes = {getattr(self, name).shape for name in LOG_COLUMNS}
        if shapes != {(self.size,)}:
            raise InputError("each forecast night needs its issue, morning, forecast and observed minimum")
        if not bool(np.all(np.isfinite(self.forecast_c))):
            raise InputError("a night without a forecast has no place in a log")
        if bool(np.any(self.lead_days < 0.0)):
            raise InputError("a forecast made after its morning has no place in a log")

    def __repr__(self) -> str:
        return f"<ForecastLog: {self.size:,} nights, {self.closed.size:,} of them with their minimum>"

    @property
    def size(self) -> int:
        """How many nights it holds, of all issues."""
        return int(self.mornings.size)

    @property
    def lead_days(self) -> Floats:
        """From each forecast's issue to its morning [d], shape (n,)."""
        morning = self.mornings.astype("datetime64[m]") + np.timedelta64(MORNING.hour, "h")
        return np.asarray(
            (morning - self.issued.astype("datetime64[m]")) / np.timedelta64(1, "D"), np.float64
        )

    @property
    def closed(self) -> ForecastLog:
        """The nights whose minimum is known."""
        return self.only(np.isfinite(self.observed_c))

    def only(self, these: npt.NDArray[np.bool_]) -> ForecastLog:
        """Return some of the nights."""
        return replace(self, **{name: getattr(self, name)[these] for name in LOG_COLUMNS})


LARGEST_TOLERANCE = 0.5
# What an answer may doubt, by the name under which the grower overrules it; `frostgate.gate.plausibility`.
Doubt = Literal[
    "offset", "damage-temp", "forecast", "night", "hemisphere", "zone", "place", "suspects", "recent-nights",
    "record-years", "record-maxima", "record-stuck", "record-clipped", "record-jumps",
]  # fmt: skip

# Spread of the error of the daily minimum [°C] by lead [d], where minima scatter by 4.5 °C. To 1.5 days: US
# National Weather Service city digests, 166 cities, 2021-01-30 to 2022-02-01, 57 000 pairs a lead, by
# tests/reference/learn_gate_defaults.py. Days 4 to
# 8: hourly forecasts for London, Moscow, New York, Novosibirsk, Rome and Warsaw, 2020-01-10 to 2020-03-19,
# about 370 pairs a lead, brought from a winter scatter of 5 °C (from memory) to 4.5; their days 1 to 3 (1.2
# to 1.6) lie below the larger archive's and are bridged by a straight line. Day 10: no source, same slope.
ERROR_SD_C = (
    *((0.5, 1.68), (1.0, 1.77), (1.5, 1.84)),
    *((4.0, 1.93), (5.0, 2.39), (6.0, 2.73), (7.0, 3.24), (8.0, 3.59)),
    (10.0, 4.29),
)
# What can be meant by each number of a policy, whoever states it; NaN lies in no range.
LIMITS = {
    "damage_temp_c": (COLDEST_C, HOTTEST_C),
    "offset_c": (-20.0, 20.0),
    "offset_sd_c": (0.0, 10.0),
    "forecast_offset_c": (-20.0, 20.0),
    "first_exposed_days": (0, 7),
    "max_age_hours": (0.1, 1000.0),
    "window_days": (1, 46),
    "reference_scatter_c": (0.1, 50.0),
    "error_local_c": (0.0, 20.0),
    "error_bias_c": (-20.0, 20.0),
    "error_correlation": (0.0, 0.95),
    "wide_share": (0.0, 1.0),
    "wide_factor": (1.0, 100.0),
    "spread_floor_c": (0.0, 20.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """Every number of the gate that the grower may dispute.

    Parameters
    ----------
    risk_tolerance
        The chance of a damaging frost after the first feeding that one can live with, above 0, at most 0.5.
    damage_temp_c
        A minimum at or below this, in the garden, kills the flush [°C]. 0 °C is the light freeze of the US
        National Weather Service (29 to 32 °F: tender plants killed).
    offset_c
        Garden minimum less station minimum [°C]; negative where the garden is colder.
    offset_sd_c
        How sure that is: its standard deviation on a single frost night [°C]. It widens the forecast's
        errors, unless ``forecast_offset_c`` is stated; the curve is averaged over it beforehand.
    forecast_offset_c
        Garden minimum less forecast minimum [°C]; None takes ``offset_c``, as a forecast for the station's
        surroundings.
    first_exposed_days
        A minimum dated d belongs to the morning of d. Pots fed on d are exposed to the minima dated
        d + ``first_exposed_days`` and later; 1 is also what "after" means in the published freeze normals.
    max_age_hours
        An older forecast is stale, and the verdict unknown [h].
    window_days
        Nights further ahead of today are left to the climate [d]; a frost that is forecast is weighed however
        far ahead.
    error_sd_c
        Spread of the forecast's error [°C] by lead [d], rising leads; straight lines between them. It holds
        where minima scatter by ``reference_scatter_c``, and is never taken wider than the station's own
        minima scatter at that time of the year.
    reference_scatter_c, error_local_c
        Errors grow with the scatter of the weather, save a local part that does not [°C]. Both from the city
        digests: the error's variance by season is 1.21^2 + b scatter^2, within 5 % in each.
    error_bias_c
        Mean of forecast less observed [°C]. 0 by default: the two archives differ in sign (+0.5, -0.3).
    error_correlation
        Correlation of the errors of consecutive nights of one forecast while it knows the weather; where it
        knows nothing, errors hang together as the weather does. 0.17: the city digests, between half a day
        and a day and a half, 56 000 pairs.
    wide_share, wide_factor
        Errors have heavier tails than a Gaussian: on this share of nights their spread is this many times
        that of the others. 0.17 and 1.7 are likeliest for the city digests once errors are scaled to each
        city's scatter: standard over mean absolute error 1.29 (1.253 for a Gaussian), three deviations too
        warm on 0.3 % of nights. Most of that is one city differing from another.
    spread_floor_c
        Added in quadrature to a spread that the forecast states itself [°C]; the error at lead 0 of the
        hourly forecasts.
    believed
        The names of doubts that the grower has looked into and overrules, such as ``forecast``: see
        `frostgate.gate.plausibility`.

    Raises
    ------
    InputError
        Where a number cannot be meant.

    Examples
    --------
    >>> hollow = Policy(damage_temp_c=0.0, offset_c=-1.5)
    >>> hollow.station_threshold_c, hollow.garden_less_forecast_c
    (1.5, -1.5)
    """

    risk_tolerance: float = 0.10
    damage_temp_c: float = 0.0
    offset_c: float = 0.0
    offset_sd_c: float = 0.0
    forecast_offset_c: float | None = None
    first_exposed_days: int = 1
    max_age_hours: float = 48.0
    window_days: int = 14
    error_sd_c: tuple[tuple[float, float], ...] = ERROR_SD_C
    reference_scatter_c: float = 4.5
    error_local_c: float = 1.21
    error_bias_c: float = 0.0
    error_correlation: float = 0.17
    wide_share: float = 0.17
    wide_factor: float = 1.7
    spread_floor_c: float = 1.0
    believed: tuple[Doubt, ...] = ()

    def __post_init__(self) -> None:
        if not 0.0 < self.risk_tolerance <= LARGEST_TOLERANCE:
            raise InputError(
                "a tolerance lies above 0 and at 50 % or less",
                value=f"{self.risk_tolerance:g}",
                remedy="Above 50 % a damaging frost is more likely than not; write for example 10%.",
            )
        for name, (low, high) in LIMITS.items():
            value = getattr(self, name)
            if value is not None and not low <= value <= high:
                raise InputError(f"{name.replace('_', ' ')} lies between {low:g} and {high:g}", value=value)
        if not isinstance(self.first_exposed_days, int):
            raise InputError("first exposed days are whole days", value=self.first_exposed_days)
        leads, spreads = np.array(self.error_sd_c, dtype=np.float64).reshape(-1, 2).T
        rising = bool(np.all(np.diff(leads) > 0.0) and np.all(np.diff(spreads) >= 0.0))
        if not (rising and spreads.size and np.isfinite(leads).all() and 0.0 < spreads[0] < np.inf):
            raise InputError("the spread of errors must be above 0 and grow with lead", value=self.error_sd_c)

    @property
    def station_threshold_c(self) -> float:
        """The station's minimum at which the garden reaches the damage temperature [°C]."""
        return self.damage_temp_c - self.offset_c

    @property
    def garden_less_forecast_sd_c(self) -> float:
        """How sure the garden's difference from the forecast is [°C]."""
        return self.offset_sd_c if self.forecast_offset_c is None else 0.0

    @property
    def garden_less_forecast_c(self) -> float:
        """Garden minimum less forecast minimum [°C]."""
        return self.offset_c if self.forecast_offset_c is None else self.forecast_offset_c

    def clear_of(self, frost: dt.date) -> dt.date:
        """Return the first day on which pots that are fed are not exposed to the frost of a morning."""
        return frost + dt.timedelta(days=1 - self.first_exposed_days)


_ROUNDING = 1e-9  # a risk passes through a logarithm and back


def is_within(risk: Floats | float, limit: float) -> npt.NDArray[np.bool_]:
    """Return whether a risk is at most a limit, the last digits of the arithmetic aside."""
    return np.asarray(np.asarray(risk) <= limit + _ROUNDING)


@dataclass(frozen=True, slots=True, kw_only=True)
class Night:
    """One forecast night, as the gate weighs it."""

    morning: dt.date  # the date the night ends on
    garden_c: float  # forecast minimum in the garden [°C]
    margin_c: float  # that less the warmest damaging frost [°C]; negative: a frost is forecast
    sd_c: float  # spread of its error [°C]
    lead_days: float  # from the forecast's issue to that morning [d]
    chance: float  # of a damaging frost that night
    stated: float = 0.0  # of one then or later, as the forecast itself states it; 0 where it states no spread
    climate_sd_c: float = math.inf  # of the station's minima then [°C]; infinite where unknown


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """What is seen of the coming nights: of one spring, or of many along leading axes.

    The n nights run from the first exposed one to the season's end; a forecast tells of the first m of them.
    Anomalies are counted in units of the station's own scatter at that time of the year.
    """

    hazard: Floats  # of each night by the curve, none coming after it, shape (..., n)
    end: Floats | float  # hazard left at the season's end, shape (...)
    margin_c: Floats  # forecast minimum in the garden less the warmest frost [°C], shape (..., m)
    sd_c: Floats  # spread of its error [°C], shape (..., m)
    climate_sd_c: Floats  # of the station's minima [°C], shape (..., m); infinite where unknown
    # the warmest anomaly that counts as a frost, shape (..., n); None where what is usual is not known, and
    # then the forecast is taken as it stands and the curve too
    frost: Floats | None = None
    recent: Floats | float | None = None  # mean anomaly of the past 60 days, shape (...), if known
    persistence: Floats | float = 0.0  # as in `Weather`, shape (...)
    explained: Floats | float = 0.0  # as in `Weather`, shape (...)

    def __repr__(self) -> str:
        nights, told = self.hazard.shape[-1], self.margin_c.shape[-1]
        return f"<Seen: {nights} nights to the season's end, {told} of them forecast>"


OUTLOOK_TABLES = ("risk", "window_risk", "climate_risk", "climate_low", "climate_high", "climate_alone")


@dataclass(frozen=True, slots=True)
class Reason:
    """Why an answer is as it is, or what to mind with it: a code, and the numbers it rests on.

    The words stand in `frostgate.show.reasons`, in the reader's unit.
    """

    code: str  # such as night-to-watch
    # numbers and dates by name, the unit in the name; a risk, chance or limit is a share of 1
    facts: Mapping[str, Any] = field(default_factory=dict)

    @property
    def name(self) -> str:
        """Of a doubt, the name by which the grower overrules it."""
        return self.code.removeprefix("doubt-")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outlook:
    """The risk of every candidate date, from today to the season's end.

    Parameters
    ----------
    today : the first candidate
    dates : candidate feeding dates, one a day, shape (n,)
    risk : chance of a damaging frost once the pots are fed that day, never rising, shape (n,)
    window_risk, climate_risk : its parts, in the forecast's nights and in the season beyond, shape (n,)
    climate_low, climate_high : confidence bounds of ``climate_risk``, shape (n,)
    climate_alone : the risk by the curve alone, without any forecast, shape (n,)
    nights : the forecast nights that count, none where there is no usable forecast
    seen : what the risk was made of; None in an outlook made by hand
    forecast_checks : why the forecast, and so the risk, cannot be trusted; empty where it can

    Examples
    --------
    >>> falling = np.array([0.14, 0.09, 0.04])
    >>> days = np.arange("2026-05-20", "2026-05-23", dtype="datetime64[D]")
    >>> outlook = Outlook(today=dt.date(2026, 5, 20), dates=days, risk=falling, window_risk=0 * falling,
    ...                   climate_risk=falling, climate_low=falling, climate_high=falling,
    ...                   climate_alone=falling)
    >>> outlook.date_at(0.1)
    datetime.date(2026, 5, 21)
    >>> outlook
    <Outlook from 2026-05-20, by the curve alone: risk 14 % today, at most 10 % from 2026-05-21>
    """

    today: dt.date
    dates: Dates
    risk: Floats
    window_risk: Floats
    climate_risk: Floats
    climate_low: Floats
    climate_high: Floats
    climate_alone: Floats
    nights: tuple[Night, ...] = ()
    seen: Seen | None = None
    forecast_checks: tuple[Reason, ...] = ()

    def __post_init__(self) -> None:
        freeze(self, dates="M8[D]", **dict.fromkeys(OUTLOOK_TABLES, float))
        for name in OUTLOOK_TABLES:
            if getattr(self, name).shape != self.dates.shape:
                raise InputError(f"an outlook needs a {name} for each of its dates")

    def __repr__(self) -> str:
        if self.forecast_checks:
            return f"<Outlook from {self.today}: not to be trusted ({self.forecast_checks[0].code})>"
        by = f"{len(self.nights)} forecast nights" if self.nights else "the curve alone"
        ten = self.date_at(0.1)
        when = "above 10 % all season" if ten is None else f"at most 10 % from {ten}"
        return f"<Outlook from {self.today}, by {by}: risk {say_share(float(self.risk[0]))} today, {when}>"

    def date_at(self, risk: float, table: Floats | None = None) -> dt.date | None:
        """Return the first candidate whose risk is at most ``risk``, or None where there is none."""
        low_enough = is_within(self.risk if table is None else table, risk)
        if not low_enough.any():
            return None
        date: dt.date = self.dates[int(np.argmax(low_enough))].astype(object)
        return date

    def to_series(self) -> pd.Series[float]:
        """Return the risk by date."""
        return self.to_dataframe()["risk"]

    def to_dataframe(self) -> pd.DataFrame:
        """Return the risk, its parts, their bounds and the curve's own risk by date."""
        import pandas as pd

        tables = {name: getattr(self, name) for name in OUTLOOK_TABLES}
        return pd.DataFrame(tables, index=pd.DatetimeIndex(self.dates, name="date"))


State = Literal["open", "shut", "unknown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The morning's answer.

    Parameters
    ----------
    on : the day it is for
    state : ``open``, ``shut`` or ``unknown``; unknown is never safe
    reasons : why, what drives it, and what would change it
    risk_tolerance : the grower's
    risk_today : chance of a damaging frost once the pots are fed today; None where it is unknown
    earliest_date : the first date whose risk is within the tolerance; None where none is or it is unknown
    likely_from, likely_to : the range in which that date will likely fall as forecasts come in; None where
        it is past or unknown
    by_risk : for several risks, the first date at which it is that low; where the verdict is unknown, the
        curve's dates alone
    climate_only : whether the answer rests on the curve alone

    Examples
    --------
    >>> from frostgate.gate.verdict import cannot_know
    >>> verdict = cannot_know(dt.date(2026, 4, 12), (Reason("no-forecast"),), Policy())
    >>> verdict.state, [reason.code for reason in verdict.reasons], verdict.earliest_date
    ('unknown', ['no-forecast', 'unknown-not-safe'], None)
    """

    on: dt.date
    state: State
    reasons: tuple[Reason, ...]
    risk_tolerance: float
    risk_today: float | None = None
    earliest_date: dt.date | None = None
    likely_from: dt.date | None = None
    likely_to: dt.date | None = None
    by_risk: tuple[tuple[float, dt.date | None], ...] = ()
    climate_only: bool = False

    def __repr__(self) -> str:
        risk = "" if self.risk_today is None else f", risk {say_share(self.risk_today)}"
        return f"<Verdict of {self.on}: {self.state}{risk}, earliest {self.earliest_date}>"
