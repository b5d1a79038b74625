"""Forecasts drawn for past nights, that behave as real ones do.

The observation scatters around a real forecast, not the forecast around the observation: a forecast knows
part of what comes and is silent about the rest. With the covariance W of the weather's anomalies over the
window's nights, and the covariance E of the forecast's errors, a forecast f of the anomalies a that leaves
errors uncorrelated with itself is

    f = K a + e,    K = (W - E) W^-1,    cov(e) = K E,

so that the mean of the weather given the forecasts is the forecasts themselves, and E is what they miss. E
has the policy's spread by lead (never wider than the weather) and its correlation from night to night. What a
forecast of one night misses in one morning it mostly misses in the next: the chance in e is correlated from
morning to morning (0.8, an assumption, no source found).
"""

from __future__ import annotations

import math

import numpy as np

from frostgate.gate.forecast_errors import error_spread
from frostgate.proof.springs import Springs
from frostgate.seasons import SLOTS
from frostgate.terms import Floats, Ints, Policy

FROM_MORNING_TO_MORNING = 0.8
LEAST_KNOWLEDGE = 0.05  # of the weather's spread, that even the longest lead knows
LEAST_EIGENVALUE = 1e-3


def draw_mornings(
    springs: Springs, policy: Policy, mornings: Ints, nights: int, rng: np.random.Generator
) -> Floats:
    """Draw, for every morning of every spring, a forecast of the coming nights.

    Parameters
    ----------
    springs
        The springs.
    policy
        For the spread, the bias, the correlation and the tails of the errors.
    mornings
        Season days on which a forecast is made, rising, shape (mornings,).
    nights
        How many nights each tells of.
    rng
        Where chance comes from.

    Returns
    -------
    array of shape (mornings, springs, nights)
        Forecast minima of the station [°C].

    Examples
    --------
    >>> from frostgate.seasons import NORTH
    >>> rng, shape = np.random.default_rng(1), (20, 366)
    >>> springs = Springs(years=np.arange(20), last_frost=np.zeros(20), risk=np.zeros(shape), step_c=0.1,
    ...                   anomaly_c=4 * rng.standard_normal(shape), usual_c=np.full(shape, 5.0),
    ...                   spread_c=np.full(shape, 4.0), start=NORTH)
    >>> draw_mornings(springs, Policy(), np.arange(200, 203), 7, rng).shape
    (3, 20, 7)
    """
    drawn = np.empty((mornings.size, len(springs.years), nights))
    weather = _weather_covariance(springs, nights)
    chance = _fresh((len(springs.years), SLOTS + nights), policy, rng)
    stays, comes = FROM_MORNING_TO_MORNING, math.sqrt(1 - FROM_MORNING_TO_MORNING**2)
    for at, morning in enumerate(mornings):
        days = np.minimum(morning + 1 + np.arange(nights), SLOTS - 1)
        spread_c = springs.spread_c[:, days]
        known, silent = _split(weather, _error_covariance(spread_c.mean(axis=0), policy))
        anomaly = springs.anomaly_c[:, days] / spread_c
        told = anomaly @ known.T + chance[:, morning + 1 : morning + 1 + nights] @ silent
        drawn[at] = springs.usual_c[:, days] + spread_c * told + policy.error_bias_c
        chance = stays * chance + comes * _fresh(chance.shape, policy, rng)
    return drawn


def _weather_covariance(springs: Springs, nights: int) -> Floats:
    """Give the correlation of anomalies so many nights apart, as a matrix of shape (nights, nights)."""
    anomaly = springs.anomaly_c / springs.spread_c
    days = anomaly.shape[1] - nights
    apart = np.array([np.mean(anomaly[:, :days] * anomaly[:, lag : days + lag]) for lag in range(nights)])
    matrix: Floats = (apart / apart[0])[_nights_apart(nights)]
    return matrix


def _error_covariance(spread_c: Floats, policy: Policy) -> Floats:
    """Give the covariance of the errors of a window's nights, in units of the weather's spread."""
    nights = spread_c.size
    sd_c = np.array([error_spread(lead + 1.0, math.nan, policy) for lead in range(nights)])
    sd = np.minimum(sd_c / spread_c, math.sqrt(1 - LEAST_KNOWLEDGE**2))
    matrix: Floats = np.outer(sd, sd) * policy.error_correlation ** _nights_apart(nights)
    return matrix


def _split(weather: Floats, error: Floats) -> tuple[Floats, Floats]:
    """Part the weather into what a forecast knows and what chance it adds: K, and a root of cov(e)."""
    knowledge = _raised(weather - error, LEAST_EIGENVALUE)
    known = knowledge @ np.linalg.inv(weather)
    added = known @ (weather - knowledge)
    return known, _root((added + added.T) / 2)


def _raised(matrix: Floats, least: float) -> Floats:
    values, vectors = np.linalg.eigh(matrix)
    raised: Floats = (vectors * np.maximum(values, least)) @ vectors.T
    return raised


def _root(matrix: Floats) -> Floats:
    values, vectors = np.linalg.eigh(matrix)
    root: Floats = (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
    return root


def _fresh(shape: tuple[int, ...], policy: Policy, rng: np.random.Generator) -> Floats:
    """Draw unit chance with the policy's tails."""
    share, factor = policy.wide_share, policy.wide_factor
    narrow = 1.0 / math.sqrt(1 - share + share * factor**2)
    wide = rng.random(shape) < share
    return np.where(wide, factor * narrow, narrow) * rng.standard_normal(shape)


def _nights_apart(nights: int) -> Ints:
    apart: Ints = np.abs(np.subtract.outer(np.arange(nights), np.arange(nights)))
    return apart
