"""The hazard of each coming night: the forecast's while it knows something, the climate's after that.

The hazard of a night is -ln(1 - chance of a frost that night, none coming after it). Hazards add up to the
risk of a candidate date,

    risk(d) = 1 - exp(-sum of the hazards of the nights after d),

so forecast and climate are joined night by night.

* The **climate's** hazard is the curve's, tilted by what is known of this spring: it is multiplied by
  Phi((x - m) / s) / Phi(x), where x is the warmest anomaly that is a frost, and m and s are the mean and
  spread of that night's anomaly, given the forecast and the past 60 days.
* The **forecast's** hazard is the chance of a frost under its error, errors of consecutive nights being
  correlated (`chance_of_any`).
* They are joined by w, the share of the weather's variance that the forecast knows that night. Where the
  forecast is the milder, h = forecast^w * climate^(1 - w). Where it is the colder, h = v * forecast +
  (1 - v) * climate, v being w or the chance of frost that it gives where that is more: a frost that is
  forecast keeps most of its chance even where the curve knows none (50 % is stated as 42 % at a spread of
  1.8 °C, as 29 % at 3.2 °C).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TypeAlias

import numpy as np

from frostgate.errors import FrostgateError
from frostgate.gate.forecast_errors import WEATHER_LINK, chance_of_any, link_errors, part_tails
from frostgate.seasons import SLOTS
from frostgate.terms import Floats, Policy, Seen

Cdf: TypeAlias = Callable[[Floats], Floats]

MOST_TOLD = 2.0  # a forecast that knows little cannot promise much: in units of its own spread
FARTHEST = -2.5  # from here on the curve's own tail is surer than that of a Gaussian
_SMALLEST = 1e-9
_TILT = (-8.0, 4.0)
_HELD_DAYS = 14.5


def normal_cdf(z: Floats) -> Floats:
    """Give the standard normal distribution function, without scipy.

    Examples
    --------
    >>> normal_cdf(np.array([0.0, 1.96])).round(3)
    array([0.5  , 0.975])
    """
    return np.asarray(_erfc(np.asarray(z) / -math.sqrt(2.0)), dtype=np.float64) / 2


_erfc = np.frompyfunc(math.erfc, 1, 1)


def risk_after(risk: Floats) -> Floats:
    """Give the chance of a frost after each whole season day, as the gate reads a curve's table.

    "After day d" is the table's value at d + 1/2. A season's last two weeks keep the chance they begin with:
    the table falls to 0 at the season's end whatever the weather does, and where frosts come all year round
    that must not look like safety.

    Parameters
    ----------
    risk
        Chance of a later frost, shape (..., 366).

    Examples
    --------
    >>> risk_after(np.linspace(1, 0, 366))[[0, -1]].round(3)
    array([0.999, 0.037])
    """
    day = np.minimum(np.arange(SLOTS) + 0.5, SLOTS - _HELD_DAYS)
    low = day.astype(np.int64)
    share = day - low
    after: Floats = (1 - share) * risk[..., low] + share * risk[..., low + 1]
    return after


def curve_hazards(risk: Floats) -> tuple[Floats, Floats]:
    """Turn a curve's table into the hazard of a frost dated on each season day, and what is left at the end.

    Parameters
    ----------
    risk
        Chance of a later frost, shape (..., 366).

    Returns
    -------
    hazards, left
        Shapes (..., 366) and (...).

    Examples
    --------
    >>> hazards, left = curve_hazards(np.clip((290 - np.arange(366.0)) / 60, 0, 1))
    >>> round(1 - math.exp(-hazards[261:].sum() - left), 3)  # after day 260
    0.492
    """
    total = -np.log(np.maximum(1 - risk_after(risk), _SMALLEST))
    before = np.concatenate([total[..., :1], total[..., :-1]], axis=-1)
    return np.maximum(before - total, 0.0), total[..., -1]


def weigh(seen: Seen, policy: Policy, cdf: Cdf = normal_cdf) -> tuple[Floats, Floats]:
    """Give the hazards of the nights that a forecast tells of, and of those beyond it.

    Parameters
    ----------
    seen
        What is seen of the n coming nights, of which a forecast tells m.
    policy
        The grower's numbers.
    cdf
        The standard normal distribution function.

    Returns
    -------
    window, beyond
        Shapes (..., m) and (..., n - m).

    Examples
    --------
    >>> mild = Seen(curve=np.full(60, 0.01), end=0.0, margin_c=np.full(7, 8.0), sd_c=np.full(7, 2.5),
    ...             scatter_c=np.full(7, 4.0), frost=np.full(60, -1.5), recent=0.5, persistence=0.4)
    >>> window, beyond = weigh(mild, Policy())
    >>> bool(window.sum() < 0.02), bool(beyond.sum() < 0.53)
    (True, True)
    """
    nights = seen.margin_c.shape[-1]
    window = _forecast_hazards(seen, policy, cdf) if nights else seen.margin_c
    if seen.frost is None:
        return window, seen.curve[..., nights:]
    climate = seen.curve * np.exp(tilt(seen, cdf))
    return _join(window, climate[..., :nights], _skill(seen)), climate[..., nights:]


def _join(forecast: Floats, climate: Floats, skill: Floats) -> Floats:
    """Join the hazards of the forecast's nights by what it knows of each."""
    milder = np.exp(skill * np.log(forecast + _SMALLEST) + (1 - skill) * np.log(climate + _SMALLEST))
    trust = np.maximum(skill, 1 - np.exp(-forecast))
    colder = trust * forecast + (1 - trust) * climate
    joined: Floats = np.where(forecast < climate, np.minimum(milder, climate), colder)
    return joined


def tilt(seen: Seen, cdf: Cdf = normal_cdf) -> Floats:
    """Give the logarithm of the factor by which this spring's weather changes each night's hazard.

    Parameters
    ----------
    seen
        With ``frost`` known, shape (..., n).
    cdf
        The standard normal distribution function.

    Examples
    --------
    >>> mild = Seen(curve=np.full(2, 0.01), end=0.0, margin_c=np.empty(0), sd_c=np.empty(0),
    ...             scatter_c=np.empty(0), frost=np.full(2, -1.5), recent=0.5, persistence=0.4)
    >>> tilt(mild).round(2)
    array([-0.4, -0.4])
    """
    frost = np.maximum(_warmest(seen), FARTHEST)
    mean, spread = _expected(seen)
    given = np.log(cdf(np.clip((frost - mean) / spread, -30.0, 30.0)))
    factor: Floats = np.clip(given - np.log(cdf(frost)), *_TILT)
    return factor


def _warmest(seen: Seen) -> Floats:
    """Give the warmest anomaly that is a frost; without it there is no tilt."""
    if seen.frost is None:
        raise FrostgateError("what is usual at this station is not known")
    return seen.frost


def _expected(seen: Seen) -> tuple[Floats, Floats]:
    """Give mean and spread of each night's anomaly, given the forecast and the past 60 days.

    What the forecast says of a night counts by its skill, what the night before leaves by the rest.
    """
    nights, shape = seen.margin_c.shape[-1], _warmest(seen).shape
    skill = _skill(seen)
    told = np.minimum(_told(seen), MOST_TOLD * np.sqrt(skill))
    lasting = _lasting(seen)
    mean = np.empty(shape)
    foretold = 0.0 if seen.recent is None else np.asarray(seen.explained)[..., np.newaxis]
    spread = np.broadcast_to(np.sqrt(1 - foretold), shape).copy()
    spread[..., :nights] = seen.sd_c / seen.scatter_c
    last = lasting
    for night in range(nights):
        known, left = skill[..., night, np.newaxis], lasting + WEATHER_LINK * (last - lasting)
        last = known * told[..., night, np.newaxis] + (1 - known) * left
        mean[..., night] = last[..., 0]
    beyond = np.arange(1, shape[-1] - nights + 1)
    mean[..., nights:] = lasting + WEATHER_LINK**beyond * (last - lasting)
    return mean, spread


def _lasting(seen: Seen) -> Floats:
    """Give the anomaly that the rest of the spring keeps of the past 60 days, shape (..., 1)."""
    recent = 0.0 if seen.recent is None else seen.recent
    return np.asarray(seen.persistence * np.asarray(recent), dtype=np.float64)[..., np.newaxis]


def _told(seen: Seen) -> Floats:
    """Give the forecast's anomalies."""
    nights = seen.margin_c.shape[-1]
    told: Floats = _warmest(seen)[..., :nights] + seen.margin_c / seen.scatter_c
    return told


def _skill(seen: Seen) -> Floats:
    """Give the share of the weather's variance that the forecast knows."""
    skill: Floats = np.maximum(1 - (seen.sd_c / seen.scatter_c) ** 2, 0.0)
    return skill


def _forecast_hazards(seen: Seen, policy: Policy, cdf: Cdf) -> Floats:
    """Give the hazards of the forecast's nights under its errors: most nights narrow, some wide."""
    clear: Floats = np.zeros(())
    unforeseen = np.minimum(seen.sd_c / seen.scatter_c, 1.0)
    links = link_errors(unforeseen.reshape(-1, unforeseen.shape[-1]).mean(axis=0), policy)
    shares = (1 - policy.wide_share, policy.wide_share)
    for share, sd_c in zip(shares, part_tails(seen.sd_c, policy, seen.scatter_c), strict=True):
        chances = cdf(np.clip(-seen.margin_c / sd_c, -30.0, 30.0))
        clear = clear + share * (1 - chance_of_any(chances, links))
    logs = np.log(np.maximum(clear, _SMALLEST))
    hazards: Floats = np.maximum(logs[..., 1:] - logs[..., :-1], 0.0)
    return hazards
