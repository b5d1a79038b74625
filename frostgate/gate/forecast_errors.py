"""How far a forecast minimum may miss, by lead: spread, tails, and how errors hang together."""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from frostgate.model.arrays import Floats
from frostgate.model.gate import Policy

# Anomalies of minima keep about this much from one night to the next: the mean over lags of 1 to 5 days and
# 19 records is 0.71, see tests/reference/learn_gate_defaults.py.
WEATHER_LINK = 0.7
SMALLEST_SD_C = 0.1  # no forecast is surer than a thermometer can tell
_STEP = 0.15
_ROWS = 64
_GRID = np.arange(-6.0, 6.0 + _STEP / 2, _STEP)


def error_spread(
    lead_days: float | npt.NDArray[Any],
    stated_sd_c: float,
    policy: Policy,
    scatter_c: float | Floats = math.inf,
) -> Floats:
    """Give the spread of a night's forecast error [°C].

    The policy's table holds where minima scatter by ``policy.reference_scatter_c``; elsewhere the part of its
    variance above the local one grows with the variance of the weather,

        sd(lead)^2 = local^2 + (table(lead)^2 - local^2) * (scatter / reference)^2,

    and no forecast is worse than knowing the time of the year. A spread that the forecast states itself is
    joined in quadrature with the policy's floor instead, as in non-homogeneous regression (variance =
    c + d S^2 with d = 1; Gneiting et al. 2005, doi:10.1175/MWR2904.1).

    Parameters
    ----------
    lead_days
        From the forecast's issue to the morning [d].
    stated_sd_c
        The forecast's own spread [°C], NaN where it states none.
    scatter_c
        Spread of the station's minima at that time of the year [°C]; infinite where it is not known, and then
        the table is taken as it stands.

    Examples
    --------
    >>> [round(float(error_spread(1.0, math.nan, Policy(), scatter_c)), 2) for scatter_c in (2.5, 4.5, 6.0)]
    [1.41, 1.77, 2.1]
    >>> float(error_spread(1.0, 0.75, Policy()))
    1.25
    """
    if math.isfinite(stated_sd_c):
        own = max(math.hypot(policy.spread_floor_c, stated_sd_c), SMALLEST_SD_C)
        return np.asarray(np.minimum(own, scatter_c), dtype=np.float64)
    leads, spreads = zip(*policy.error_sd_c, strict=True)
    table = np.interp(lead_days, leads, spreads) ** 2
    weather = np.where(np.isinf(scatter_c), 1.0, np.asarray(scatter_c) / policy.reference_scatter_c) ** 2
    local = np.minimum(policy.error_local_c**2, table)
    sd_c: Floats = np.minimum(np.sqrt(local + (table - local) * weather), scatter_c)
    return sd_c


def part_tails(
    sd_c: float | Floats, policy: Policy, scatter_c: float | Floats = math.inf
) -> tuple[Floats, Floats]:
    """Part a spread into that of most nights and that of the policy's share of bad ones [°C].

    Neither is wider than the weather: where nothing is foreseen any more, a bad night is like any other.

    Parameters
    ----------
    sd_c
        Spread of the error over all nights [°C].
    scatter_c
        Spread of the station's minima [°C].

    Examples
    --------
    >>> narrow_c, wide_c = part_tails(2.0, Policy(wide_share=0.1, wide_factor=2.2))
    >>> float(wide_c / narrow_c), round(float(0.9 * narrow_c**2 + 0.1 * wide_c**2), 6)
    (2.2, 4.0)
    """
    share, factor = policy.wide_share, policy.wide_factor
    sd = np.asarray(sd_c, dtype=np.float64)
    wide = np.minimum(factor * sd / math.sqrt(1 - share + share * factor**2), scatter_c)
    if share == 1.0:
        return wide, wide
    return np.sqrt(np.maximum(sd**2 - share * wide**2, 0.0) / (1 - share)), wide


def link_errors(unforeseen: Floats, policy: Policy) -> list[float]:
    """Give the correlation of the errors of consecutive nights of one forecast.

    While the forecast knows the weather its errors are its own, correlated as the policy says; where it knows
    nothing its error is the weather, and correlated like that.

    Parameters
    ----------
    unforeseen
        Spread of each night's error in units of the weather's, shape (n,).

    Returns
    -------
    list of n - 1
        In hundredths.

    Examples
    --------
    >>> link_errors(np.array([0.4, 0.4, 0.8, 1.0]), Policy(error_correlation=0.2))
    [0.28, 0.36, 0.6]
    """
    shared = unforeseen[:-1] * unforeseen[1:]
    links: list[float] = (
        np.round(policy.error_correlation + (WEATHER_LINK - policy.error_correlation) * shared, 2)
    ).tolist()
    return links


def frost_chance(margin_c: float, sd_c: float, policy: Policy, scatter_c: float = math.inf) -> float:
    """Give the chance that a minimum falls at least ``margin_c`` below its forecast.

    The error is a mixture of two Gaussians, most nights narrow and a few wide, with standard deviation
    ``sd_c`` over all.

    Parameters
    ----------
    margin_c
        Forecast minimum less damage temperature [°C]; negative where a frost is forecast.
    sd_c
        Spread of the error [°C].
    scatter_c
        Spread of the station's minima [°C].

    Examples
    --------
    >>> gaussian = Policy(wide_share=0.0)
    >>> round(frost_chance(4 / 1.8, 3 / 1.8, gaussian), 5)  # 36 °F forecast, sd 3 °F, 32 °F
    0.09121
    """
    narrow_c, wide_c = (float(part) for part in part_tails(sd_c, policy, scatter_c))
    share = policy.wide_share
    return (1 - share) * _below(-margin_c / narrow_c) + share * _below(-margin_c / wide_c)


def chance_of_any(chances: Sequence[float] | Floats, correlation: float | Sequence[float]) -> Floats:
    """Give the chance of a frost on at least one of the nights from each night on.

    The nights' errors are joined by a Gaussian copula in which consecutive nights are correlated and the
    others follow (an AR(1) chain), so the chance of no frost at all is a product of conditional chances,
    summed over a fine grid of the error from the last night back to the first.

    Parameters
    ----------
    chances
        Chance of a frost on each of n nights, shape (..., n).
    correlation
        Of the errors of consecutive nights: one number, or n - 1 of them.

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
    edges, steps = _edges(), max(nightly.shape[-1] - 1, 0)
    links = [correlation] * steps if isinstance(correlation, float | int) else list(correlation)
    weight = np.diff(edges)
    clear = np.ones((*nightly.shape[:-1], nightly.shape[-1] + 1))
    later = np.ones((*nightly.shape[:-1], _GRID.size))
    for night in range(nightly.shape[-1] - 1, -1, -1):
        frost = np.clip((nightly[..., night, np.newaxis] - edges[:-1]) / weight, 0.0, 1.0)
        here = (1 - frost) * later
        clear[..., night] = here @ weight / weight.sum()
        later = _carry(here, _transition(links[night - 1])) if night else here
    any_frost: Floats = np.maximum.accumulate(1 - clear[..., ::-1], axis=-1)[..., ::-1]
    return any_frost


def _carry(here: Floats, transition: Floats) -> Floats:
    """Carry a function of one night's error to the night before, some rows at a time.

    So small a product is not worth several threads: shared among them it takes up to forty times as long.
    """
    rows = here.reshape(-1, here.shape[-1])
    carried = np.empty_like(rows)
    for first in range(0, len(rows), _ROWS):
        carried[first : first + _ROWS] = rows[first : first + _ROWS] @ transition.T
    return carried.reshape(here.shape)


@functools.cache
def _edges() -> Floats:
    """Chance of an error below each edge between the cells of the grid."""
    return np.array([_below(z) for z in np.append(_GRID - _STEP / 2, _GRID[-1] + _STEP / 2)])


@functools.lru_cache(maxsize=64)
def _transition(correlation: float) -> Floats:
    """Chance to step from each error of the grid to each error of the next night."""
    spread = math.sqrt(1 - correlation**2)
    density = np.exp(-0.5 * ((_GRID - correlation * _GRID[:, np.newaxis]) / spread) ** 2)
    return np.asarray(density / density.sum(axis=1, keepdims=True), dtype=np.float64)


def _below(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2.0))
