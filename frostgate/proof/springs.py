"""Past springs, laid out so that each can be judged by what the others knew."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from frostgate.climate.curves import FEWEST_SEASONS
from frostgate.climate.fits import FITS, POOLED
from frostgate.climate.frosts import last_frosts
from frostgate.climate.nearby import sum_nearby
from frostgate.climate.weather import persistence
from frostgate.errors import InputError, TooFewSeasonsError
from frostgate.model.records import DailyMinima
from frostgate.seasons import Floats, Ints, SeasonStart, season_grid
from frostgate.units import as_stored

Bools: TypeAlias = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Springs:
    """The known springs of a record, each with the curve and the usual minima of all the others.

    Parameters
    ----------
    years
        Calendar years, shape (springs,).
    last_frost
        Season day of the last frost, -inf for none, shape (springs,).
    tmin_c
        Minima [°C], NaN where missing, shape (springs, 366).
    climatology_c, climate_sd_c
        Mean and standard deviation by the other springs [°C], shape (springs, 366).
    risk
        Chance of a later frost by the other springs, shape (springs, 366).
    persistence
        How much of a mild spell the rest of the spring keeps by the other springs, shape (springs,).
    explained
        Variance of an anomaly that this foretells, shape (springs,).
    threshold_c
        The station's minimum that damages the garden [°C].
    step_c
        The step in which the minima were observed [°C].
    start
        Where a season begins.
    """

    years: Ints
    last_frost: Floats
    tmin_c: Floats
    climatology_c: Floats
    climate_sd_c: Floats
    risk: Floats
    persistence: Floats
    explained: Floats
    threshold_c: float
    step_c: float
    start: SeasonStart

    @property
    def anomaly_c(self) -> Floats:
        """Minima less what is usual by the other springs [°C], shape (springs, 366); 0 where missing."""
        return np.where(np.isfinite(self.tmin_c), self.tmin_c - self.climatology_c, 0.0)

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
    if kind not in FITS:
        raise InputError("no such kind of curve", value=kind, remedy=f"Choose one of {', '.join(FITS)}.")
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
    climatology_c, climate_sd_c = _by_the_others(tmin_c)
    others = np.where(np.eye(last_frost.size, dtype=bool), np.nan, last_frost)
    anomaly = np.where(np.isfinite(tmin_c), (tmin_c - climatology_c) / climate_sd_c, 0.0)
    kept, explained = persistence(anomaly, each_left_out=True)
    return Springs(
        years=frosts.years[known],
        last_frost=last_frost,
        tmin_c=tmin_c,
        climatology_c=climatology_c,
        climate_sd_c=climate_sd_c,
        risk=FITS[kind](others),
        persistence=kept,
        explained=explained,
        threshold_c=threshold_c,
        step_c=minima.step_c,
        start=start,
    )


def _by_the_others(tmin_c: Floats) -> tuple[Floats, Floats]:
    """Return mean and spread of the other seasons' minima near each season day, (seasons, 366) each."""
    there = np.isfinite(tmin_c)
    values = np.where(there, tmin_c, 0.0)
    count, total, square = (sum_nearby(part.T).T for part in (there.astype(float), values, values**2))
    count, total, square = (part.sum(axis=0) - part for part in (count, total, square))
    mean = total / np.maximum(count, 1.0)
    variance = square / np.maximum(count, 1.0) - mean**2
    return mean, np.sqrt(np.maximum(variance, 0.25))
