"""A site's own forecast errors, learned from what was forecast there and what came.

What the gate needs of a site is the mean of its errors, and how wide they are beside the policy's. Both start
at the policy's numbers and move to the site's own as mornings close, by the posterior mean of a site among
others,

    bias   = policy's bias + v / (v + BIAS_N0) * (own mean error - policy's bias)
    spread = policy's spread * sqrt((u * own ratio + SPREAD_N0) / (u + SPREAD_N0))

where the own ratio is the mean of error^2 / spread^2 about that bias. v and u count mornings, fewer than
there are: consecutive errors are correlated (``BIAS_EFFECTIVE``, ``SPREAD_EFFECTIVE``), and a morning loses
half its weight in ``HALF_LIFE_DAYS``, since errors change with the season and with the forecast's maker. A
morning counts once, however many forecasts were made for it: its errors at leads of 0.5 and 1.5 days are
correlated by 0.9, so they are averaged. One factor serves every lead: the cities' ratios at 0.5 and 1.5 days
are correlated by 0.98.

Only nights forecast within ``NEAR_FROST_C`` of the damage temperature are learned from: they decide, and on
mild nights forecasts err otherwise.

An error is counted in the garden: the forecast with the stated offset (``Policy.garden_less_forecast_c``) on
it, less the minimum observed there. So an offset that is stated is not learned a second time, an offset that
is changed changes the errors of past mornings with it, and what is left over is the bias the gate takes off.
How unsure the offset is (``Policy.offset_sd_c``) is in those errors too: it is part of the spread that they
are held against, and changes by the same factor.

Whatever is learned must not talk a frost away: a site's own mornings make its forecast milder by no more than
``MILDEST_BIAS_C``; where they say more than ``ANOTHER_THERMOMETER_C``, or have come to say so of late, the
thermometer is doubted and nothing is learned. What makes the forecast colder is learned as it is.

A spread that a forecast states itself is left alone, only its bias is learned: the log does not keep it.

The numbers are those of the US National Weather Service city digests (166 cities, 2021-01-30 to 2022-02-01,
leads of 0.5, 1 and 1.5 days, nights near 32 °F, errors scaled to each city's weather at the time of the
year); ``tests/reference/learn_error_defaults.py`` prints them, and a test holds them to it.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from frostgate.errors import InputError
from frostgate.gate.forecast_errors import error_spread
from frostgate.model.curves import FrostCurve
from frostgate.model.gate import ForecastLog, Policy, Reason
from frostgate.seasons import Dates, Floats, split_dates

Flags = npt.NDArray[np.bool_]

BIAS_N0 = 11.0  # variance of errors within a city over the mean square of the cities' biases about 0
SPREAD_N0 = 18.0  # variance of a city's scaled squared errors over the variance of the cities' ratios
BIAS_EFFECTIVE = 0.75  # (1 - r) / (1 + r), r the correlation of errors on consecutive mornings
SPREAD_EFFECTIVE = 0.89  # the same of squared errors
HALF_LIFE_DAYS = 60.0  # of 30, 45, 60, 90, 180 days and none the one of least mean CRPS, by little
FEWEST_MORNINGS = 5
NEAR_FROST_C = 10.0  # found by trying: with it chances near 32 °F are better, by little
ANOTHER_PLACE_C = 15.0  # no garden's minima differ so much from its forecast's
# Biases of the 166 cities scatter by 0.5 °C; two places of one provider are off by 1.3 and 0.8.
MILDEST_BIAS_C = 1.5
ANOTHER_THERMOMETER_C = 3.0
LATEST = 10  # mornings
FARTHEST = 4.0  # spreads from the middle of the errors, beyond which an error is drawn in to that


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnErrors:
    """What a site's log says of its forecast, and the policy it leads to."""

    policy: Policy  # with the site's bias and spread, as far as they have taken over
    mornings: int = 0  # closed mornings near frost
    far_off: int = 0  # how many of these lay so far off that they were drawn in
    mean_error_c: float = math.nan  # forecast in the garden less observed, recent mornings first [°C]
    bias_weight: float = 0.0  # share of the bias that is the site's own
    spread_weight: float = 0.0  # and of the spread, as variance
    spread_factor: float = 1.0  # the policy's spread was multiplied by this
    doubted_c: float = 0.0  # the observed minima are so much too warm to be believed: nothing is learned

    @property
    def reason(self) -> Reason:
        """What was learned, for the grower."""
        if self.mornings == 0:
            return Reason("no-own-mornings")
        if self.doubted_c:
            return Reason("own-minima-too-warm", {"mornings": self.mornings, "warmer_c": self.doubted_c})
        if self.bias_weight == 0.0:
            return Reason("few-own-mornings", {"mornings": self.mornings, "fewest": FEWEST_MORNINGS})
        names = ("mornings", "mean_error_c", "bias_weight", "spread_factor", "far_off")
        return Reason("own-errors", {name: getattr(self, name) for name in names})


def learn_site(
    policy: Policy, log: ForecastLog | None, on: dt.date, climate_sd_c: Floats | float = math.inf
) -> OwnErrors:
    """Let the site's own closed mornings take over from the policy's error model, as far as they are many."""
    if log is None:
        return OwnErrors(policy=policy)
    there = np.isfinite(log.observed_c) & (log.mornings <= np.datetime64(on, "D")) & near_frost(log, policy)
    past = log.only(there)
    mornings, at = np.unique(past.mornings, return_inverse=True)
    if mornings.size < FEWEST_MORNINGS:
        return OwnErrors(policy=policy, mornings=mornings.size)
    scatter_c = np.broadcast_to(np.asarray(climate_sd_c, dtype=np.float64), there.shape)[there]
    spread_c = error_spread(past.lead_days, math.nan, policy, scatter_c)
    sd_c = np.hypot(spread_c, policy.garden_less_forecast_sd_c)
    raw_c = past.forecast_c + policy.garden_less_forecast_c - past.observed_c - policy.error_bias_c
    if abs(apart_c := _median(raw_c)) > ANOTHER_PLACE_C:
        raise InputError(
            "the log's forecasts and observed minima are not of one place, or not in one unit",
            value=f"{abs(apart_c):.0f} °C apart on most mornings",
            remedy="Check the log: both columns are in °C, and the minima are the garden's own.",
        )
    if (doubted_c := _too_warm(raw_c, at)) > 0.0:
        return OwnErrors(policy=policy, mornings=mornings.size, doubted_c=doubted_c)
    scaled, middle = raw_c / sd_c, _median(raw_c / sd_c)
    drawn_in = np.clip(scaled, middle - FARTHEST, middle + FARTHEST)
    error_c = drawn_in * sd_c
    recent = 0.5 ** ((np.datetime64(on, "D") - mornings).astype(np.float64) / HALF_LIFE_DAYS)

    def mean(values: Floats, weights: Floats) -> float:
        """Average over the forecasts of each morning, then over mornings, the recent ones weighing more."""
        each = np.bincount(at, values * weights) / np.bincount(at, weights)
        return float(np.average(each, weights=recent))

    closed = float(recent.sum())
    own_c = mean(error_c, 1 / sd_c**2)
    bias_weight = BIAS_EFFECTIVE * closed / (BIAS_EFFECTIVE * closed + BIAS_N0)
    taken_c = max(bias_weight * own_c, -MILDEST_BIAS_C)
    ratio = mean(((error_c - bias_weight * own_c) / sd_c) ** 2, np.ones(sd_c.size))
    spread_weight = SPREAD_EFFECTIVE * closed / (SPREAD_EFFECTIVE * closed + SPREAD_N0)
    factor = math.sqrt(spread_weight * ratio + 1 - spread_weight)
    return OwnErrors(
        policy=replace(  # the spread's parts, local, of the weather and of the offset, all by one factor
            policy,
            offset_sd_c=policy.offset_sd_c * factor,
            error_bias_c=policy.error_bias_c + taken_c,
            error_local_c=policy.error_local_c * factor,
            error_sd_c=tuple((lead, table_c * factor) for lead, table_c in policy.error_sd_c),
        ),
        mornings=mornings.size,
        far_off=int((np.bincount(at, drawn_in != scaled) > 0).sum()),
        mean_error_c=policy.error_bias_c + own_c,
        bias_weight=taken_c / own_c if own_c else bias_weight,
        spread_weight=spread_weight,
        spread_factor=factor,
    )


def near_frost(log: ForecastLog, policy: Policy) -> Flags:
    """Tell which nights are forecast within 10 °C of the damage temperature, in the garden."""
    above_c = log.forecast_c + policy.garden_less_forecast_c - policy.damage_temp_c
    return np.asarray(np.abs(above_c) <= NEAR_FROST_C)


def scatter_on(curve: FrostCurve, mornings: Dates) -> Floats | float:
    """Read from a curve how far minima scatter at the time of the year of some mornings [°C]."""
    if curve.spread_c is None:
        return math.inf
    _, day = split_dates(mornings, curve.start)
    climate_sd_c: Floats = curve.spread_c[day]
    return climate_sd_c


def _median(values: Floats) -> float:
    """Return the middle value; numpy's own median loads the masked arrays, a tenth of a morning."""
    ordered = np.sort(values)
    return float(ordered[(ordered.size - 1) // 2] + ordered[ordered.size // 2]) / 2


def _too_warm(raw_c: Floats, at: npt.NDArray[np.intp]) -> float:
    """Return how much all minima, or the latest, are too warm to be believed [°C]; or 0."""
    each_c = np.bincount(at, raw_c) / np.bincount(at)
    warmer_c = -_median(each_c)
    if each_c.size >= 2 * LATEST:
        jump_c = _median(each_c[:-LATEST]) - _median(each_c[-LATEST:])
        warmer_c = max(warmer_c, jump_c)
    return warmer_c if warmer_c > ANOTHER_THERMOMETER_C else 0.0
