"""Forecasts drawn for past nights, that behave as real ones do.

The observation scatters around a real forecast, not the forecast around the observation: a forecast knows
part of what comes and is silent about the rest. With the covariance W of the weather's anomalies over the
window's nights, and the covariance E of the forecast's errors, a forecast f of the anomalies a that leaves
errors uncorrelated with itself is

    f = K a + e,    K = (W - E) W^-1,    cov(e) = K E,

so that the mean of the weather given the forecasts is the forecasts themselves, and E is what they miss. E
has the policy's spread by lead (never wider than the weather) and its correlation from night to night. The
policy's tails come from mornings that are worse than most: on its share of them E is the wide one. What a
forecast of one night misses in one morning it mostly misses in the next, and bad mornings come together: the
chance in e, and that of a bad morning, are correlated from morning to morning (0.8, an assumption, no source
found).
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from scipy import special

from frostgate.gate.forecast_errors import error_spread, part_tails
from frostgate.model.gate import Policy
from frostgate.proof.springs import Springs
from frostgate.seasons import SLOTS, Floats, Ints

FROM_MORNING_TO_MORNING = 0.8
LEAST_KNOWLEDGE = 0.05  # of the weather's spread, that even the longest lead knows
LEAST_EIGENVALUE = 1e-3


def draw_mornings(
    springs: Springs, policy: Policy, mornings: Ints, nights: int, rng: np.random.Generator
) -> Iterator[Floats]:
    """Draw, morning by morning, a forecast of the coming nights for every spring."""
    weather, anomalies = _weather_covariance(springs, nights), springs.anomaly_c / springs.climate_sd_c
    chance = rng.standard_normal((len(springs.years), SLOTS + nights))
    luck = rng.standard_normal(len(springs.years))
    for morning in mornings:
        days = np.minimum(morning + 1 + np.arange(nights), SLOTS - 1)
        climate_sd_c = springs.climate_sd_c[:, days]
        anomaly, ahead = anomalies[:, days], chance[:, morning + 1 : morning + 1 + nights]
        told_of, bad = [], special.ndtr(luck) < policy.wide_share
        for error in _errors(climate_sd_c.mean(axis=0), policy):
            known, silent = _split(weather, _covariance(error, weather, policy))
            told_of.append(anomaly @ known.T + ahead @ silent)
        told = np.where(bad[:, np.newaxis], told_of[1], told_of[0])
        told_c = springs.climatology_c[:, days] + climate_sd_c * told + policy.error_bias_c
        yield np.where(morning + 1 + np.arange(nights) < SLOTS, told_c, np.nan)
        chance, luck = _next(chance, rng), _next(luck, rng)


def _next(chance: Floats, rng: np.random.Generator) -> Floats:
    """Go from one morning's chance to the next's."""
    fresh = rng.standard_normal(chance.shape)
    return FROM_MORNING_TO_MORNING * chance + math.sqrt(1 - FROM_MORNING_TO_MORNING**2) * fresh


def _weather_covariance(springs: Springs, nights: int) -> Floats:
    """Return the correlation of anomalies so many nights apart, as a matrix of shape (nights, nights)."""
    anomaly = springs.anomaly_c / springs.climate_sd_c
    days = anomaly.shape[1] - nights
    apart = np.array([np.mean(anomaly[:, :days] * anomaly[:, lag : days + lag]) for lag in range(nights)])
    matrix: Floats = (apart / apart[0])[_nights_apart(nights)]
    return matrix


def _errors(climate_sd_c: Floats, policy: Policy) -> tuple[Floats, Floats]:
    """The errors' spread by night on most mornings and on bad ones, in units of the weather's spread."""
    sd_c = error_spread(np.arange(climate_sd_c.size) + 1.0, math.nan, policy, climate_sd_c)
    narrow_c, wide_c = part_tails(sd_c, policy, climate_sd_c)
    most = math.sqrt(1 - LEAST_KNOWLEDGE**2)
    return np.minimum(narrow_c / climate_sd_c, most), np.minimum(wide_c / climate_sd_c, most)


def _covariance(error: Floats, weather: Floats, policy: Policy) -> Floats:
    """Return the covariance of a window's errors.

    They are correlated as the policy says, and as the weather itself where nothing of it is foreseen.
    """
    early = policy.error_correlation ** _nights_apart(error.size)
    unforeseen = np.outer(error, error)
    matrix: Floats = unforeseen * (early + (weather - early) * unforeseen)
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


def _nights_apart(nights: int) -> Ints:
    apart: Ints = np.abs(np.subtract.outer(np.arange(nights), np.arange(nights)))
    return apart
