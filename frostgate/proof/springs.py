"""Past springs, each judged by what the others knew, and forecasts of their nights: drawn, or kept.

Drawn forecasts behave as real ones do. The observation scatters around a real forecast, not the forecast
around the observation: a forecast knows part of what comes and is silent about the rest. With the covariance
W of the weather's anomalies over the window's nights, and the covariance E of the forecast's errors, a
forecast f of the anomalies a that leaves errors uncorrelated with itself is

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
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from scipy import special

from frostgate.climate.fits import FEWEST_SEASONS, FITS, POOLED, check_kind
from frostgate.climate.frosts import Bools, last_frosts
from frostgate.climate.site import usual_weather
from frostgate.errors import InputError, TooFewSeasonsError
from frostgate.gate.forecast_errors import error_spread, part_tails
from frostgate.model.gate import ForecastLog, Policy
from frostgate.model.records import DailyMinima
from frostgate.seasons import SLOTS, Floats, Ints, SeasonStart, season_grid, split_dates
from frostgate.units import as_stored

FROM_MORNING_TO_MORNING = 0.8
MOST_ERROR = math.sqrt(1 - 0.05**2)  # even the longest lead knows 0.05 of the weather's spread
LEAST_EIGENVALUE = 1e-3
_TO_NOON = np.timedelta64(12, "h")  # a forecast made after noon is the next morning's


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Springs:
    """The known springs of a record, each with the curve and the usual minima of all the others."""

    years: Ints  # calendar years, shape (springs,)
    last_frost: Floats  # season day, -inf for none, shape (springs,)
    tmin_c: Floats  # [°C], NaN where missing, shape (springs, 366)
    climatology_c: Floats  # mean minimum by the other springs [°C], shape (springs, 366)
    climate_sd_c: Floats  # standard deviation of their minima [°C], shape (springs, 366)
    risk: Floats  # chance of a later frost by the other springs, shape (springs, 366)
    persistence: Floats  # share of a mild spell that the rest of the spring keeps, shape (springs,)
    explained: Floats  # share of an anomaly's variance that this foretells, shape (springs,)
    threshold_c: float  # the station's minimum that damages the garden [°C]
    step_c: float  # in which minima were observed [°C]
    start: SeasonStart

    def __repr__(self) -> str:
        years = f"{self.years[0]} to {self.years[-1]}"
        return f"<Springs of {years} at {self.threshold_c:.1f} °C: {self.years.size} known>"

    @property
    def anomaly(self) -> Floats:
        """Minima less what is usual, in units of their scatter, shape (springs, 366); 0 where missing."""
        away = (self.tmin_c - self.climatology_c) / self.climate_sd_c
        return np.where(np.isfinite(self.tmin_c), away, 0.0)

    @property
    def frost(self) -> Bools:
        """Which days had a damaging frost, shape (springs, 366)."""
        frost: Bools = as_stored(self.tmin_c) <= as_stored(self.threshold_c)
        return frost


def lay_out_springs(
    minima: DailyMinima,
    threshold_c: float,
    start: SeasonStart,
    *,
    kind: str = POOLED,
    years: tuple[int, int] | None = None,
) -> Springs:
    """Lay out the known springs of a record, each with what the others tell.

    The kind of curve is stated and not chosen by score, since a choice would have seen the spring it judges.
    """
    check_kind(kind)
    frosts = last_frosts(minima, threshold_c, start)
    _, grid = season_grid(minima.dates, minima.comparable_with(threshold_c), start)
    known = ~np.isnan(frosts.day)
    if years is not None:
        known &= (frosts.years >= years[0]) & (frosts.years <= years[1])
    if known.sum() <= FEWEST_SEASONS:
        raise TooFewSeasonsError(
            f"only {known.sum()} springs are known, too few to judge each by the others",
            remedy=f"Use a record with more than {FEWEST_SEASONS} known springs.",
        )
    last_frost = frosts.day[known]
    tmin_c = np.where(np.isfinite(grid[:, known]), grid[:, known], np.nan).T
    climatology_c, climate_sd_c, kept, explained = usual_weather(tmin_c.T, each_left_out=True)
    return Springs(
        years=frosts.years[known],
        last_frost=last_frost,
        tmin_c=tmin_c,
        climatology_c=climatology_c.T,
        climate_sd_c=climate_sd_c.T,
        risk=FITS[kind](np.where(np.eye(last_frost.size, dtype=bool), np.nan, last_frost)),
        persistence=kept,
        explained=explained,
        threshold_c=threshold_c,
        step_c=minima.step_c,
        start=start,
    )


def exposed_leads(policy: Policy, nights: int) -> Ints:
    """List how many days ahead the nights are that count, of a forecast that reaches so many nights ahead."""
    return np.arange(policy.first_exposed_days, nights + 1, dtype=np.int64)


def draw_mornings(
    springs: Springs, policy: Policy, mornings: Ints, nights: int, rng: np.random.Generator
) -> Iterator[Floats]:
    """Draw, morning by morning, a forecast of the exposed nights up to so many ahead, for every spring."""
    leads = exposed_leads(policy, nights)
    anomalies, apart, first = springs.anomaly, np.abs(np.subtract.outer(leads, leads)), SLOTS - leads.size
    together = [np.mean(anomalies[:, :first] * anomalies[:, lag : first + lag]) for lag in range(leads.size)]
    weather = (np.array(together) / together[0])[apart]  # the correlation of anomalies some nights apart
    chance = rng.standard_normal((len(springs.years), SLOTS + nights))
    luck = rng.standard_normal(len(springs.years))
    for morning in mornings:
        days = np.minimum(morning + leads, SLOTS - 1)
        climate_sd_c = springs.climate_sd_c[:, days]
        usual_sd_c = climate_sd_c.mean(axis=0)
        error_sd_c = error_spread(leads.astype(np.float64), math.nan, policy, usual_sd_c)
        anomaly, ahead = anomalies[:, days], chance[:, morning + leads]
        told_of, bad = [], special.ndtr(luck) < policy.wide_share
        for part_c in part_tails(error_sd_c, policy, usual_sd_c):  # on most mornings, and on bad ones
            error = np.minimum(part_c / usual_sd_c, MOST_ERROR)
            # correlated as the policy says, and as the weather itself where nothing of it is foreseen
            early, unforeseen = policy.error_correlation**apart, np.outer(error, error)
            known, silent = _split(weather, unforeseen * (early + (weather - early) * unforeseen))
            told_of.append(anomaly @ known.T + ahead @ silent)
        told = np.where(bad[:, np.newaxis], told_of[1], told_of[0])
        told_c = springs.climatology_c[:, days] + climate_sd_c * told + policy.error_bias_c
        yield np.where(morning + leads < SLOTS, told_c, np.nan)
        chance, luck = _next(chance, rng), _next(luck, rng)


def _next(chance: Floats, rng: np.random.Generator) -> Floats:
    """Go from one morning's chance to the next's."""
    fresh = rng.standard_normal(chance.shape)
    return FROM_MORNING_TO_MORNING * chance + math.sqrt(1 - FROM_MORNING_TO_MORNING**2) * fresh


def _split(weather: Floats, error: Floats) -> tuple[Floats, Floats]:
    """Part the weather into what a forecast knows and what chance it adds: K, and a root of cov(e)."""
    knowledge = _with_eigenvalues(weather - error, lambda values: np.maximum(values, LEAST_EIGENVALUE))
    known = knowledge @ np.linalg.inv(weather)
    added = known @ (weather - knowledge)
    return known, _with_eigenvalues((added + added.T) / 2, lambda values: np.sqrt(np.maximum(values, 0.0)))


def _with_eigenvalues(matrix: Floats, change: Callable[[Floats], Floats]) -> Floats:
    """Return a symmetric matrix with its eigenvalues changed."""
    values, vectors = np.linalg.eigh(matrix)
    changed: Floats = (vectors * change(values)) @ vectors.T
    return changed


def lay_out_kept(log: ForecastLog, springs: Springs, policy: Policy, nights: int) -> Floats:
    """Return each morning's exposed nights by the newest forecast made for it, from noon to noon.

    The replay weighs every forecast as fresh, so an older one is not taken: it would be thought surer than it
    is. A morning without one is unknown. A 29 February that does not exist takes the night after it. The
    shape is (springs, 366, exposed nights).
    """
    places = np.unique(log.place)
    if places.size > 1:
        raise InputError(
            "the log of forecasts holds several places",
            value=", ".join(places[:3].tolist()),
            remedy="Leave the lines of one place in it.",
        )
    leads, start = exposed_leads(policy, nights), springs.start
    told_c = np.full((springs.years.size, SLOTS, leads.size), np.nan)
    days = (log.issued + _TO_NOON).astype("datetime64[D]")
    for day in np.unique(days):
        newest = log.only(log.issued == log.issued[days == day].max())
        (season, *seasons), (slot, *slots) = split_dates(np.append(day, newest.mornings), start)
        night = np.array(slots) - slot - policy.first_exposed_days
        within = (np.array(seasons) == season) & (night >= 0) & (night < leads.size)
        leap = start.leap_slot - slot - policy.first_exposed_days
        for spring in np.flatnonzero(springs.years == season + start.spring_lag):
            told = told_c[spring, slot]
            told[night[within]] = newest.forecast_c[within]
            if 0 <= leap < told.size - 1 and np.isnan(told[leap]):
                told[leap] = told[leap + 1]
    return told_c
