"""How far a forecast minimum may miss, by lead: spread, tails, and how errors hang together."""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence

import numpy as np

from frostgate.terms import Floats, Policy

SMALLEST_SD_C = 0.1  # no forecast is surer than a thermometer can tell
_STEP = 0.05
_GRID = np.arange(-8.0, 8.0 + _STEP / 2, _STEP)


def error_spread(lead_days: float, stated_sd_c: float, policy: Policy) -> float:
    """Give the spread of a night's forecast error [°C].

    A spread that the forecast states itself is joined in quadrature with the policy's floor, as in
    non-homogeneous regression (variance = c + d S^2 with d = 1; Gneiting et al. 2005,
    doi:10.1175/MWR2904.1); otherwise the policy's table is read at the lead.

    Parameters
    ----------
    lead_days
        From the forecast's issue to the morning [d].
    stated_sd_c
        The forecast's own spread [°C], NaN where it states none.

    Examples
    --------
    >>> error_spread(1.0, math.nan, Policy()), error_spread(1.0, 0.75, Policy())
    (1.79, 1.25)
    """
    if math.isfinite(stated_sd_c):
        return max(math.hypot(policy.spread_floor_c, stated_sd_c), SMALLEST_SD_C)
    leads, spreads = zip(*policy.error_sd_c, strict=True)
    return float(np.interp(lead_days, leads, spreads))


def frost_chance(margin_c: float, sd_c: float, policy: Policy) -> float:
    """Give the chance that a minimum falls at least ``margin_c`` below its forecast.

    The error is a mixture of two Gaussians, most nights narrow and a few wide, with standard deviation
    ``sd_c`` over all.

    Parameters
    ----------
    margin_c
        Forecast minimum less damage temperature [°C]; negative where a frost is forecast.
    sd_c
        Spread of the error [°C].

    Examples
    --------
    >>> gaussian = Policy(wide_share=0.0)
    >>> round(frost_chance(4 / 1.8, 3 / 1.8, gaussian), 5)  # 36 °F forecast, sd 3 °F, 32 °F
    0.09121
    """
    share, factor = policy.wide_share, policy.wide_factor
    narrow = sd_c / math.sqrt(1 - share + share * factor**2)
    return (1 - share) * _below(-margin_c / narrow) + share * _below(-margin_c / (factor * narrow))


def chance_of_any(chances: Sequence[float] | Floats, correlation: float) -> Floats:
    """Give the chance of a frost on at least one of the nights from each night on.

    The nights' errors are joined by a Gaussian copula in which consecutive nights are correlated and the
    others follow (an AR(1) chain), so the chance of no frost at all is a product of conditional chances,
    summed over a fine grid of the error from the last night back to the first.

    Parameters
    ----------
    chances
        Chance of a frost on each of n nights, shape (..., n).
    correlation
        Of the errors of consecutive nights.

    Returns
    -------
    array of shape (..., n + 1)
        The chance from night i on; the last is 0, no night being left.

    Examples
    --------
    >>> chance_of_any([0.5, 0.5], 0.0).round(3)
    array([0.75, 0.5 , 0.  ])
    """
    nightly = np.asarray(chances, dtype=np.float64)
    edges, step_on = _edges(), _transition(correlation)
    weight = np.diff(edges)
    clear = np.ones((*nightly.shape[:-1], nightly.shape[-1] + 1))
    later = np.ones((*nightly.shape[:-1], _GRID.size))
    for night in range(nightly.shape[-1] - 1, -1, -1):
        frost = np.clip((nightly[..., night, np.newaxis] - edges[:-1]) / weight, 0.0, 1.0)
        here = (1 - frost) * later
        clear[..., night] = here @ weight / weight.sum()
        later = here @ step_on.T
    any_frost: Floats = np.maximum.accumulate(1 - clear[..., ::-1], axis=-1)[..., ::-1]
    return any_frost


@functools.cache
def _edges() -> Floats:
    """Chance of an error below each edge between the cells of the grid."""
    return np.array([_below(z) for z in np.append(_GRID - _STEP / 2, _GRID[-1] + _STEP / 2)])


@functools.lru_cache(maxsize=8)
def _transition(correlation: float) -> Floats:
    """Chance to step from each error of the grid to each error of the next night."""
    spread = math.sqrt(1 - correlation**2)
    density = np.exp(-0.5 * ((_GRID - correlation * _GRID[:, np.newaxis]) / spread) ** 2)
    return np.asarray(density / density.sum(axis=1, keepdims=True), dtype=np.float64)


def _below(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2.0))
