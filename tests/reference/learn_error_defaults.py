"""Print the numbers of `frostgate.gate.own_errors` from the archive of city forecasts.

FROSTGATE_REFERENCE_DATA=... python -m tests.reference.learn_error_defaults
"""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pandas as pd

from frostgate.climate.site import know_weather
from frostgate.gate.forecast_errors import error_spread
from frostgate.gate.own_errors import BIAS_EFFECTIVE, BIAS_N0, SPREAD_EFFECTIVE, SPREAD_N0, near_frost
from frostgate.model.gate import ForecastLog, Policy
from frostgate.model.records import DailyMinima, Station
from frostgate.proof.error_fits import crps_mixture
from frostgate.seasons import NORTH, split_dates
from frostgate.units import celsius

ARCHIVE = "email_data_reorganized_one_year.csv.gz"
LEADS = {"forecast_lo_current_AM": 0.5, "forecast_lo_prev_PM": 1.0, "forecast_lo_prev_AM": 1.5}  # days
FARTHEST_C = 12.0  # beyond it a bulletin was misread: 30 of 172 000
FEWEST_NIGHTS = 30  # of a city, to tell it from others


def read_archive(folder: Path) -> ForecastLog:
    """Read the digests: a row dated D holds the low of the morning of D + 1 and what was forecast for it."""
    table = pd.read_csv(
        folder / "forecast" / ARCHIVE, parse_dates=["date"], keep_default_na=False, na_values="NA"
    )
    table["place"] = table["city"].astype(str) + " " + table["state"].astype(str)
    long = table.melt(["date", "place", "actual_lo_next_AM"], list(LEADS), "column", "forecast_f").dropna()
    mornings = long["date"].to_numpy().astype("datetime64[D]") + 1
    lead = pd.to_timedelta(long["column"].map(LEADS) * 24, unit="h").to_numpy().astype("timedelta64[m]")
    return ForecastLog(
        issued=mornings.astype("datetime64[m]") + np.timedelta64(6, "h") - lead,
        mornings=mornings,
        forecast_c=celsius(long["forecast_f"].to_numpy(float)),
        observed_c=celsius(long["actual_lo_next_AM"].to_numpy(float)),
        place=long["place"].to_numpy(str),
    )


def scatter_of(log: ForecastLog) -> np.ndarray:
    """Give each row the spread of its city's lows at that time of the year, as the gate takes it.

    It is that of the one year there is, where a garden has its station's years before.
    """
    climate_sd_c = np.empty(log.size)
    for place in np.unique(log.place):
        here = log.place == place
        dates, first = np.unique(log.mornings[here], return_index=True)
        lows = DailyMinima(station=Station(id=place), dates=dates, tmin_c=log.observed_c[here][first])
        climate_sd_c[here] = know_weather(lows, NORTH)[1][split_dates(log.mornings[here], NORTH)[1]]
    return climate_sd_c


def errors_by_lead(log: ForecastLog, climate_sd_c: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Lay errors near frost and the policy's spreads out by lead, city and morning, missing as NaN."""
    near = near_frost(log, Policy())
    log, climate_sd_c = log.only(near), climate_sd_c[near]
    lead = np.searchsorted(sorted(LEADS.values()), log.lead_days)
    place = np.unique(log.place, return_inverse=True)[1]
    day = (log.mornings - log.mornings.min()).astype(int)
    shape = (lead.max() + 1, place.max() + 1, day.max() + 1)
    error_c, sd_c = np.full(shape, np.nan), np.full(shape, np.nan)
    error_c[lead, place, day] = log.forecast_c - log.observed_c
    error_c[np.abs(error_c) > FARTHEST_C] = np.nan
    sd_c[lead, place, day] = error_spread(log.lead_days, np.nan, Policy(), climate_sd_c)
    return error_c, sd_c


def correlate(first: np.ndarray, second: np.ndarray) -> float:
    """Correlate within each city and average over the cities."""
    there = np.isfinite(first) & np.isfinite(second)
    found = [np.corrcoef(a[t], b[t])[0, 1] for a, b, t in zip(first, second, there, strict=True)]
    return float(np.average(found, weights=there.sum(axis=1)))


def learn_defaults(log: ForecastLog, climate_sd_c: np.ndarray) -> dict[str, float]:
    """Learn how far cities differ, mean over the three leads; sampling is taken off by effective mornings."""
    error_c, sd_c = errors_by_lead(log, climate_sd_c)
    often = np.isfinite(error_c).sum(axis=2).min(axis=0) >= FEWEST_NIGHTS
    error_c, sd_c = error_c[:, often], sd_c[:, often]
    count = np.isfinite(error_c).sum(axis=2)
    bias_c = np.nanmean(error_c, axis=2)
    centred = error_c - bias_c[..., np.newaxis]
    square = (centred / sd_c) ** 2
    follow = np.mean([correlate(lead[:, :-1], lead[:, 1:]) for lead in centred])
    follow_square = np.mean([correlate(lead[:, :-1], lead[:, 1:]) for lead in square])
    bias_effective, spread_effective = ((1 - r) / (1 + r) for r in (follow, follow_square))
    within, within_square = np.nanvar(error_c, axis=2), np.nanvar(square, axis=2)
    between = np.mean(bias_c**2 - within / (bias_effective * count))
    ratio = np.nanmean(square, axis=2)
    relative = within_square / ratio**2
    differ = np.mean((ratio - ratio.mean()) ** 2 / ratio.mean() ** 2) - np.mean(
        relative / (spread_effective * count)
    )
    return {
        "BIAS_N0": float(within.mean() / between),
        "SPREAD_N0": float(relative.mean() / differ),
        "BIAS_EFFECTIVE": float(bias_effective),
        "SPREAD_EFFECTIVE": float(spread_effective),
        "correlation of one morning's errors between leads": correlate(error_c[0], error_c[2]),
        "correlation of one issue's errors on consecutive nights": correlate(
            centred[0][:, :-1], centred[2][:, 1:]
        ),
        "correlation of cities' ratios between leads": float(np.corrcoef(ratio[0], ratio[2])[0, 1]),
        "mean ratio": float(ratio.mean()),
        "sd of cities' biases [°C]": float(np.sqrt(between - np.mean(bias_c) ** 2)),
        "sd of cities' ratios": float(np.sqrt(differ)),
    }


def score_half_lives(
    log: ForecastLog, climate_sd_c: np.ndarray, half_lives: tuple[float, ...] = (30, 45, 60, 90, 180, np.inf)
) -> dict[float, float]:
    """Give the mean CRPS [°C] by half-life, each city learning at 1 day's lead from its mornings before."""
    error_c, sd_c = (part[1] for part in errors_by_lead(log, climate_sd_c))
    return {half_life: _score(error_c, sd_c, 0.5 ** (1 / half_life)) for half_life in half_lives}


def _score(error_c: np.ndarray, sd_c: np.ndarray, keep: float) -> float:
    mornings, total_c, square = np.zeros((3, error_c.shape[0]))
    scores = []
    for error, sd in zip(error_c.T, sd_c.T, strict=True):
        own_c = total_c / np.maximum(mornings, 1e-9)
        weight = BIAS_EFFECTIVE * mornings / (BIAS_EFFECTIVE * mornings + BIAS_N0)
        effective = SPREAD_EFFECTIVE * mornings / (SPREAD_EFFECTIVE * mornings + SPREAD_N0)
        ratio = np.where(mornings > 0, square / np.maximum(mornings, 1e-9), 1.0)
        factor = np.sqrt(effective * ratio + 1 - effective)
        share, wide = Policy().wide_share, Policy().wide_factor
        scores.append(crps_mixture(error, weight * own_c, factor * sd, share, wide))
        there = np.isfinite(error)
        mornings = keep * mornings + there
        total_c = keep * total_c + np.where(there, error, 0.0)
        square = keep * square + np.where(there, ((error - weight * own_c) / sd) ** 2, 0.0)
    return float(np.nanmean(scores))


if __name__ == "__main__":
    archive = read_archive(Path(os.environ["FROSTGATE_REFERENCE_DATA"]))
    for name, number in learn_defaults(archive, scatter_of(archive)).items():
        print(f"{number:8.3f}  {name}")
    for half_life, crps_c in score_half_lives(archive, scatter_of(archive)).items():
        print(f"{crps_c:8.4f}  mean CRPS [°C] at 1 day, half-life {half_life:g} days")
