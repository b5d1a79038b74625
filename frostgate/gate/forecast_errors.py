"""How far a forecast minimum may miss, by lead: spread, tails, and how errors hang together."""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from frostgate.model.gate import Forecast, Policy
from frostgate.seasons import Floats

# Anomalies of minima keep about this much from one night to the next: the mean over lags of 1 to 5 days and
# 19 records is 0.71, see tests/reference/learn_gate_defaults.py.
WEATHER_LINK = 0.7
SMALLEST_SD_C = 0.1  # no forecast is surer than a thermometer can tell
_STEP = 0.15
_ROWS = 64
_GRID = np.arange(-6.0, 6.0 + _STEP / 2, _STEP)
_erfc = np.frompyfunc(math.erfc, 1, 1)


def normal_cdf(z: Floats) -> Floats:
    """Return the standard normal distribution function, without scipy."""
    return np.asarray(_erfc(np.asarray(z) / -math.sqrt(2.0)), dtype=np.float64) / 2


_EDGES = normal_cdf(np.append(_GRID - _STEP / 2, _GRID[-1] + _STEP / 2))  # chance below each cell's edge


def error_spread(
    lead_days: float | npt.NDArray[Any],
    stated_sd_c: float,
    policy: Policy,
    climate_sd_c: float | Floats = math.inf,
) -> Floats:
    """Return the spread of a night's forecast error [°C].

    The policy's table holds where minima scatter by ``policy.reference_scatter_c``; elsewhere the part of its
    variance above the local one grows with the variance of the weather,

        sd(lead)^2 = local^2 + (table(lead)^2 - local^2) * (scatter / reference)^2,

    and no forecast is worse than knowing the time of the year. A spread that the forecast states itself,
    joined in quadrature with the policy's floor as in non-homogeneous regression (variance = c + d S^2 with
    d = 1; Gneiting et al. 2005, doi:10.1175/MWR2904.1), may be wider than that, never narrower: what it is
    worth has not been measured.
    """
    leads, spreads = zip(*policy.error_sd_c, strict=True)
    table = np.interp(lead_days, leads, spreads) ** 2
    weather = (
        np.where(np.isinf(climate_sd_c), 1.0, np.asarray(climate_sd_c) / policy.reference_scatter_c) ** 2
    )
    local = np.minimum(policy.error_local_c**2, table)
    sd_c = np.sqrt(local + (table - local) * weather)
    if math.isfinite(stated_sd_c):
        sd_c = np.maximum(sd_c, math.hypot(policy.spread_floor_c, stated_sd_c))
    return np.asarray(np.minimum(sd_c, climate_sd_c), dtype=np.float64)


def stated_chances(forecast: Forecast, frost_c: float, sd_c: float = 0.0) -> Floats:
    """Return the chance of a minimum at or below ``frost_c`` that a forecast itself states, for each night.

    It is the share of its members, else that of its normal distribution, made wider by ``sd_c`` [°C]; 0 where
    it states no spread. What the climate knows better of does not make it smaller: a frost that some members
    bring must not be lost because their spread is wide.
    """
    spread_c = np.hypot(forecast.sd_c, sd_c)
    with np.errstate(divide="ignore", invalid="ignore"):
        stated = np.nan_to_num(normal_cdf((frost_c - forecast.tmin_c) / spread_c))
    if forecast.members_c is not None:
        there = np.isfinite(forecast.members_c)
        count = there.sum(axis=-1)
        cold = (there & (forecast.members_c <= frost_c)).sum(axis=-1)
        stated = np.where(count > 0, cold / np.maximum(count, 1), stated)
    return stated


def stated_from(stated: Floats, members_c: Floats | None, frost_c: float) -> Floats:
    """Return the chance of a frost on each night or a later one of the same forecast, as it states it itself.

    It is at least that of the likeliest night, and the share of members with a frost on any of them: each of
    ten members may bring its frost on another night.
    """
    nightly = stated
    if members_c is not None:
        there, cold = np.isfinite(members_c), members_c <= frost_c
        told, froze = (np.logical_or.accumulate(one[::-1])[::-1].sum(axis=-1) for one in (there, cold))
        nightly = np.maximum(stated, froze / np.maximum(told, 1))
    return np.asarray(np.maximum.accumulate(nightly[::-1])[::-1], dtype=np.float64)


def part_tails(
    sd_c: float | Floats, policy: Policy, climate_sd_c: float | Floats = math.inf
) -> tuple[Floats, Floats]:
    """Part a spread into that of most nights and that of the policy's share of bad ones [°C].

    Neither is wider than the weather: where nothing is foreseen any more, a bad night is like any other.
    """
    share, factor = policy.wide_share, policy.wide_factor
    sd = np.asarray(sd_c, dtype=np.float64)
    wide = np.minimum(factor * sd / math.sqrt(1 - share + share * factor**2), climate_sd_c)
    if share == 1.0:
        return wide, wide
    return np.sqrt(np.maximum(sd**2 - share * wide**2, 0.0) / (1 - share)), wide


def link_errors(unforeseen: Floats, policy: Policy) -> list[float]:
    """Return the correlation of the errors of consecutive nights of one forecast.

    While the forecast knows the weather its errors are its own, correlated as the policy says; where it knows
    nothing its error is the weather, and correlated like that.
    """
    shared = unforeseen[:-1] * unforeseen[1:]
    links: list[float] = (
        np.round(policy.error_correlation + (WEATHER_LINK - policy.error_correlation) * shared, 2)
    ).tolist()
    return links


def frost_chance(
    margin_c: float | Floats, sd_c: float | Floats, policy: Policy, climate_sd_c: float | Floats = math.inf
) -> Floats:
    """Return the chance that a minimum falls at least ``margin_c`` below its forecast.

    The error is a mixture of two Gaussians, most nights narrow and a few wide, with standard deviation
    ``sd_c`` over all.
    """
    narrow, wide = (normal_cdf(-margin_c / part) for part in part_tails(sd_c, policy, climate_sd_c))
    return (1 - policy.wide_share) * narrow + policy.wide_share * wide


def chance_of_any(chances: Sequence[float] | Floats, correlation: float | Sequence[float]) -> Floats:
    """Return the chance of a frost on at least one of the nights from each night on.

    The nights' errors are joined by a Gaussian copula in which consecutive nights are correlated and the
    others follow (an AR(1) chain), so the chance of no frost at all is a product of conditional chances,
    summed over a fine grid of the error from the last night back to the first.
    """
    nightly = np.asarray(chances, dtype=np.float64)
    steps = max(nightly.shape[-1] - 1, 0)
    links = [correlation] * steps if isinstance(correlation, float | int) else list(correlation)
    weight = np.diff(_EDGES)
    clear = np.ones((*nightly.shape[:-1], nightly.shape[-1] + 1))
    later = np.ones((*nightly.shape[:-1], _GRID.size))
    for night in range(nightly.shape[-1] - 1, -1, -1):
        frost = np.clip((nightly[..., night, np.newaxis] - _EDGES[:-1]) / weight, 0.0, 1.0)
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


@functools.lru_cache(maxsize=64)
def _transition(correlation: float) -> Floats:
    """Chance to step from each error of the grid to each error of the next night."""
    spread = math.sqrt(1 - correlation**2)
    density = np.exp(-0.5 * ((_GRID - correlation * _GRID[:, np.newaxis]) / spread) ** 2)
    return np.asarray(density / density.sum(axis=1, keepdims=True), dtype=np.float64)
