"""What the grower settles: every number of the gate."""

from __future__ import annotations

import numpy as np

from frostgate.errors import InputError
from frostgate.units import COLDEST_C, HOTTEST_C
from frostgate.values import dataclass

LARGEST_TOLERANCE = 0.5

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
# What can be meant by each number of a policy; NaN lies in no range.
_LIMITS = {
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
    def garden_less_forecast_sd_c(self) -> float:
        """How sure the garden's difference from the forecast is [°C]."""
        return self.offset_sd_c if self.forecast_offset_c is None else 0.0

    @property
    def garden_less_forecast_c(self) -> float:
        """Garden minimum less forecast minimum [°C]."""
        return self.offset_c if self.forecast_offset_c is None else self.forecast_offset_c
