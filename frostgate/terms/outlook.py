"""What is seen ahead of a morning, and the risk it makes."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import numpy.typing as npt

from frostgate.errors import InputError
from frostgate.terms.arrays import Dates, Floats, frozen_copy
from frostgate.values import dataclass

_ROUNDING = 1e-9  # a risk passes through a logarithm and back


def is_within(risk: Floats | float, limit: float) -> npt.NDArray[np.bool_]:
    """Tell whether a risk is at most a limit, the last digits of the arithmetic aside.

    Examples
    --------
    >>> is_within(np.array([0.1 + 1e-16, 0.1001]), 0.1)
    array([ True, False])
    """
    return np.asarray(np.asarray(risk) <= limit + _ROUNDING)


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
    scatter_c
        Spread of the station's minima at that time of the year [°C]; infinite where it is not known.
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
    scatter_c: float = math.inf


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """What is seen of the coming nights: of one spring, or of many along leading axes.

    The n nights run from the first exposed one to the season's end; a forecast tells of the first m of them.
    Anomalies are counted in units of the station's own scatter at that time of the year.

    Parameters
    ----------
    curve
        Hazard of each night by the curve, none coming after it, shape (..., n).
    end
        Hazard left at the season's end, shape (...).
    margin_c, sd_c
        Forecast minimum in the garden less the warmest that counts as a frost, and its spread [°C], shape
        (..., m).
    scatter_c
        Spread of the station's minima on the forecast's nights [°C], shape (..., m); infinite where unknown.
    frost
        The warmest anomaly that counts as a frost, shape (..., n); None where what is usual is not known, and
        then the forecast is taken as it stands and the curve too.
    recent
        Mean anomaly of the past 60 days, shape (...); None where it is not known.
    persistence, explained
        As in `Weather`, shape (...).

    Examples
    --------
    >>> Seen(curve=np.zeros(30), end=0.0, margin_c=np.full(7, 4.0), sd_c=np.full(7, 1.8),
    ...      scatter_c=np.full(7, 4.5)).frost is None
    True
    """

    curve: Floats
    end: Floats | float
    margin_c: Floats
    sd_c: Floats
    scatter_c: Floats
    frost: Floats | None = None
    recent: Floats | float | None = None
    persistence: Floats | float = 0.0
    explained: Floats | float = 0.0


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
    seen
        What the risk was made of; None in an outlook made by hand.
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
    seen: Seen | None = None
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
        low_enough = is_within(self.risk if table is None else table, risk)
        if not low_enough.any():
            return None
        date: dt.date = self.dates[int(np.argmax(low_enough))].astype(object)
        return date
