"""Past springs, laid out so that each can be judged by what the others knew."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from frostgate.climate.curves import FEWEST_SEASONS
from frostgate.climate.fits import FITS, POOLED, check_kind
from frostgate.climate.frosts import Bools, last_frosts
from frostgate.climate.weather import mean_and_spread, persistence, powers, sum_nearby
from frostgate.errors import TooFewSeasonsError
from frostgate.model.records import DailyMinima
from frostgate.seasons import Floats, Ints, SeasonStart, season_grid
from frostgate.units import as_stored


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
    sums = [sum_nearby(part) for part in powers(tmin_c.T)]
    climatology_c, climate_sd_c = mean_and_spread(*(one.sum(axis=-1, keepdims=True) - one for one in sums))
    anomaly = np.where(np.isfinite(tmin_c), (tmin_c - climatology_c.T) / climate_sd_c.T, 0.0)
    kept, explained = persistence(anomaly, each_left_out=True)
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
