"""Non-homogeneous regression of minima on a forecast and its stated spread, fitted by minimum CRPS.

Gneiting, Raftery, Westveld & Goldman 2005, doi:10.1175/MWR2904.1. Nothing the morning needs is here: it loads
an optimiser.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from scipy import optimize

from frostgate.errors import InputError
from frostgate.gate.error_scores import crps_normal
from frostgate.gate.forecast_errors import SMALLEST_SD_C, frost_chance
from frostgate.terms import Floats, Policy
from frostgate.values import dataclass

FEWEST_PAIRS = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Emos:
    """Non-homogeneous regression: observed ~ N(a + b x, c + d S^2); Gneiting et al. 2005.

    Parameters
    ----------
    a, b
        Of the mean, from the forecast x [°C].
    c, d
        Of the variance, from the variance S^2 that the forecast states [°C^2].

    Examples
    --------
    >>> emos = Emos(a=0.5, b=0.95, c=1.0, d=0.8)
    >>> float(emos.mean_c(2.0)), round(float(emos.variance(2.25)), 9)
    (2.4, 2.8)
    >>> round(emos.frost_chance(2.0, 2.25, 0.0), 5)
    0.07575
    """

    a: float
    b: float
    c: float
    d: float = 0.0

    def mean_c(self, forecast_c: npt.ArrayLike) -> Floats:
        """Give the expected minimum [°C]."""
        return np.asarray(self.a + self.b * np.asarray(forecast_c, dtype=np.float64))

    def variance(self, stated_variance: npt.ArrayLike = 0.0) -> Floats:
        """Give its variance [°C^2]."""
        return np.asarray(self.c + self.d * np.asarray(stated_variance, dtype=np.float64))

    def frost_chance(self, forecast_c: float, stated_variance: float, damage_temp_c: float) -> float:
        """Give the chance of a minimum at or below the damage temperature."""
        margin_c = float(self.mean_c(forecast_c)) - damage_temp_c
        return frost_chance(margin_c, math.sqrt(self.variance(stated_variance)), Policy(wide_share=0.0))


def fit_emos(
    forecast_c: npt.ArrayLike, observed_c: npt.ArrayLike, spread_c: npt.ArrayLike | None = None
) -> Emos:
    """Fit a non-homogeneous regression by minimum CRPS, with b, c and d at least 0.

    Parameters
    ----------
    forecast_c, observed_c
        Pairs [°C], shape (n,).
    spread_c
        Spread that each forecast states [°C]; without it d is 0.

    Raises
    ------
    InputError
        Where there are fewer than ten pairs, or lengths differ.

    Examples
    --------
    >>> x = np.random.default_rng(1).normal(5, 4, 2000)
    >>> y = np.random.default_rng(2).normal(0.5 + 0.95 * x, 1.0)
    >>> emos = fit_emos(x, y)
    >>> round(emos.b, 1), round(emos.c, 1), emos.d
    (1.0, 1.0, 0.0)
    """
    forecast, observed = _pairs(forecast_c, observed_c)
    stated = np.zeros(forecast.size) if spread_c is None else np.asarray(spread_c, np.float64) ** 2
    slope, start = np.polyfit(forecast, observed, 1) if np.ptp(forecast) > 0.0 else (1.0, 0.0)
    left = max(float(np.var(observed - start - slope * forecast)), SMALLEST_SD_C**2)
    d_most = 0.0 if spread_c is None else None

    def loss(numbers: Floats) -> float:
        a, b, c, d = numbers
        return float(crps_normal(observed, a + b * forecast, np.sqrt(c + d * stated)).mean())

    found = optimize.minimize(
        loss,
        [start, max(slope, 0.0), left, 0.0],
        method="L-BFGS-B",
        bounds=[(None, None), (0.0, None), (SMALLEST_SD_C**2, None), (0.0, d_most)],
    )
    a, b, c, d = (float(number) for number in found.x)
    return Emos(a=a, b=b, c=c, d=d)


def _pairs(forecast_c: npt.ArrayLike, observed_c: npt.ArrayLike) -> tuple[Floats, Floats]:
    forecast, observed = np.asarray(forecast_c, np.float64), np.asarray(observed_c, np.float64)
    if forecast.shape != observed.shape or forecast.size < FEWEST_PAIRS:
        sizes = f"{forecast.size} and {observed.size}"
        raise InputError("a fit needs at least ten pairs of forecast and observed", value=sizes)
    return forecast, observed
