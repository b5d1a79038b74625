"""What the grower settles, and what follows from it each morning."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal

import numpy as np

from frostgate.errors import InputError
from frostgate.terms.arrays import Dates, Floats, frozen_copy
from frostgate.units import COLDEST_C, HOTTEST_C

State = Literal["open", "shut", "unknown"]

LARGEST_TOLERANCE = 0.5

# Spread of the error of the daily minimum [°C] by lead [d]. To 1.5 days: US National Weather Service city
# digests, 166 cities, 2021-01-30 to 2022-02-01, 57 000 pairs a lead. Days 4 to 8: hourly forecasts for 6
# cities, 2020-01-10 to 2020-03-19, about 370 pairs a lead; their days 1 to 3 (1.2 to 1.6) lie below the
# larger archive's and are bridged by a straight line. Day 10: no source, the same slope continued.
ERROR_SD_C = (
    *((0.5, 1.70), (1.0, 1.79), (1.5, 1.86)),
    *((4.0, 2.06), (5.0, 2.59), (6.0, 2.98), (7.0, 3.55), (8.0, 3.95)),
    (10.0, 4.75),
)
# What can be meant by each number of a policy; NaN lies in no range.
_LIMITS = {
    "damage_temp_c": (COLDEST_C, HOTTEST_C),
    "offset_c": (-20.0, 20.0),
    "forecast_offset_c": (-20.0, 20.0),
    "first_exposed_days": (0, 7),
    "max_age_hours": (0.1, 1000.0),
    "window_days": (1, 46),
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
        Spread of the forecast's error [°C] by lead [d], rising leads; straight lines between them. It is
        never taken wider than the station's own minima scatter at that time of the year.
    error_bias_c
        Mean of forecast less observed [°C]. 0 by default: the two archives differ in sign (+0.5, -0.3).
    error_correlation
        Correlation of the errors of consecutive nights. 0.6: from memory, no number found in a source.
    wide_share, wide_factor
        Errors have heavier tails than a Gaussian: on this share of nights their spread is this many times
        that of the others. 0.1 and 2.2 give the ratio of standard to mean absolute error of the city
        digests, 1.31.
    spread_floor_c
        Added in quadrature to a spread that the forecast states itself [°C]; the error at lead 0 of the
        hourly forecasts.

    Raises
    ------
    InputError
        Where a number cannot be meant.

    Examples
    --------
    >>> Policy(risk_tolerance=0.05).damage_temp_c
    0.0
    """

    risk_tolerance: float = 0.10
    damage_temp_c: float = 0.0
    offset_c: float = 0.0
    forecast_offset_c: float | None = None
    first_exposed_days: int = 1
    max_age_hours: float = 48.0
    window_days: int = 7
    error_sd_c: tuple[tuple[float, float], ...] = ERROR_SD_C
    error_bias_c: float = 0.0
    error_correlation: float = 0.6
    wide_share: float = 0.1
    wide_factor: float = 2.2
    spread_floor_c: float = 1.0

    def __post_init__(self) -> None:
        if not 0.0 < self.risk_tolerance <= LARGEST_TOLERANCE:
            raise InputError(
                "a tolerance lies above 0 and at 50 % or less",
                value=f"{self.risk_tolerance:g}",
                remedy="Above 50 % a damaging frost is more likely than not; write for example 10%.",
            )
        for name, (low, high) in _LIMITS.items():
            value = getattr(self, name)
            if value is not None and not low <= value <= high:
                raise InputError(f"{name.replace('_', ' ')} lies between {low:g} and {high:g}", value=value)
        leads, spreads = np.array(self.error_sd_c, dtype=np.float64).reshape(-1, 2).T
        rising = bool(np.all(np.diff(leads) > 0.0) and np.all(np.diff(spreads) >= 0.0))
        if not (rising and spreads.size and np.isfinite(leads).all() and 0.0 < spreads[0] < np.inf):
            raise InputError("the spread of errors must be above 0 and grow with lead", value=self.error_sd_c)

    @property
    def station_threshold_c(self) -> float:
        """The station's minimum at which the garden reaches the damage temperature [°C]."""
        return self.damage_temp_c - self.offset_c

    @property
    def garden_less_forecast_c(self) -> float:
        """Garden minimum less forecast minimum [°C]."""
        return self.offset_c if self.forecast_offset_c is None else self.forecast_offset_c


@dataclass(frozen=True, slots=True, kw_only=True)
class Night:
    """One forecast night, as the gate weighs it.

    Parameters
    ----------
    morning
        The date the night ends on.
    garden_c
        Forecast minimum in the garden [°C].
    margin_c
        That minimum less the warmest that counts as a damaging frost [°C]; negative: a frost is forecast.
    sd_c
        Spread of its error [°C].
    lead_days
        From the forecast's issue to that morning [d].
    chance
        Chance of a damaging frost that night.

    Examples
    --------
    >>> Night(morning=dt.date(2026, 4, 12), garden_c=0, margin_c=0, sd_c=1.8, lead_days=1, chance=0.5).chance
    0.5
    """

    morning: dt.date
    garden_c: float
    margin_c: float
    sd_c: float
    lead_days: float
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outlook:
    """The risk of every candidate date, from today to the season's end.

    Parameters
    ----------
    today
        The first candidate.
    dates
        Candidate feeding dates, one a day, shape (n,).
    risk
        Chance of a damaging frost once the pots are fed that day, never rising, shape (n,).
    window_risk, climate_risk
        Its two parts: in the forecast's nights, and in the season beyond them, shape (n,).
    climate_low, climate_high
        Confidence bounds of ``climate_risk``, shape (n,).
    climate_alone
        The risk by the curve alone, without any forecast, shape (n,).
    nights
        The forecast nights that count, none where there is no usable forecast.
    doubts
        Why the risk cannot be trusted, in words; empty where it can.

    Examples
    --------
    >>> one = np.array([0.04])
    >>> outlook = Outlook(today=dt.date(2026, 5, 20), dates=["2026-05-20"], risk=one, window_risk=0 * one,
    ...                   climate_risk=one, climate_low=one, climate_high=one, climate_alone=one)
    >>> outlook.date_at(0.05)
    datetime.date(2026, 5, 20)
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
    doubts: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "dates", frozen_copy(self.dates, "datetime64[D]"))
        tables = ("risk", "window_risk", "climate_risk", "climate_low", "climate_high", "climate_alone")
        for name in tables:
            object.__setattr__(self, name, frozen_copy(getattr(self, name), np.float64))
            if getattr(self, name).shape != self.dates.shape:
                raise InputError(f"an outlook needs a {name} for each of its dates")

    def date_at(self, risk: float, table: Floats | None = None) -> dt.date | None:
        """Give the first candidate whose risk is at most ``risk``, or None where there is none."""
        low_enough = (self.risk if table is None else table) <= risk
        if not low_enough.any():
            return None
        date: dt.date = self.dates[int(np.argmax(low_enough))].astype(object)
        return date


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The morning's answer.

    Parameters
    ----------
    on
        The day it is for.
    state
        ``open``, ``shut`` or ``unknown``; unknown is never safe.
    reasons
        Why, what drives it, and what would change it, in words.
    risk_tolerance
        The grower's.
    risk_today
        Chance of a damaging frost once the pots are fed today; None where it is unknown.
    earliest_date
        The first date at which the risk falls to the tolerance; None where it never does or is unknown.
    likely_from, likely_to
        The range in which that date will likely fall as forecasts come in; None where it is past or unknown.
    by_risk
        For several risks, the first date at which it is that low. Where the verdict is unknown these are the
        curve's dates alone.
    climate_only
        Whether the answer rests on the curve alone.

    Examples
    --------
    >>> Verdict(on=dt.date(2026, 4, 12), state="unknown", reasons=("The forecast is too old.",),
    ...         risk_tolerance=0.1).earliest_date is None
    True
    """

    on: dt.date
    state: State
    reasons: tuple[str, ...]
    risk_tolerance: float
    risk_today: float | None = None
    earliest_date: dt.date | None = None
    likely_from: dt.date | None = None
    likely_to: dt.date | None = None
    by_risk: tuple[tuple[float, dt.date | None], ...] = ()
    climate_only: bool = False
