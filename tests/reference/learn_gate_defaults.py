"""Print the numbers behind the gate's defaults: errors by scatter from the archive, weather from the records.

FROSTGATE_REFERENCE_DATA=... python -m tests.reference.learn_gate_defaults

The records are the eight of ghcnd/tmin and those that the package aquacrop ships: Brussels, Cambridge,
Champion, Cordoba, Lincolnshire, Norfolk, North Yorkshire, Northumberland, Suffolk and Tunis.
"""

from __future__ import annotations

import importlib.util
import os
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd
from scipy import optimize, stats

from frostgate.climate.quality import find_hemisphere
from frostgate.climate.site import FIRST, LAST, know_weather
from frostgate.gate.forecast_errors import part_tails
from frostgate.model.gate import Policy
from frostgate.model.records import DailyMinima, Station
from frostgate.seasons import season_grid
from frostgate.sources.records import read_minima
from tests.reference.learn_error_defaults import FARTHEST_C, read_archive

REFERENCE_SCATTER_C = Policy().reference_scatter_c
MONTHS = {12: "winter", 1: "winter", 2: "winter", 3: "spring", 4: "spring", 5: "spring"} | {
    **dict.fromkeys((6, 7, 8), "summer"),
    **dict.fromkeys((9, 10, 11), "autumn"),
}
LAGS = 5  # days over which anomalies' correlation is followed


def errors_of(folder: Path) -> pd.DataFrame:
    """Give each forecast's error, its season, and the scatter of its city's lows around the year's course."""
    log = read_archive(folder)
    table = pd.DataFrame(
        {
            "lead": np.round(log.lead_days, 2),
            "place": log.place,
            "season": pd.Series(pd.DatetimeIndex(log.mornings).month).map(MONTHS).to_numpy(),
            "error_c": log.observed_c - log.forecast_c,
        }
    )
    day = (log.mornings - log.mornings.astype("datetime64[Y]")).astype(int)
    turn = 2 * np.pi * day[:, np.newaxis] * np.array([1, 2]) / 365.25
    course = np.column_stack([np.ones(day.size), np.cos(turn), np.sin(turn)])
    table["anomaly_c"] = 0.0
    for rows in table.groupby("place").indices.values():
        lows = log.observed_c[rows]
        fit = np.linalg.lstsq(course[rows], lows, rcond=None)[0]
        table.loc[rows, "anomaly_c"] = lows - course[rows] @ fit
    table = table[table["error_c"].abs() < FARTHEST_C].copy()
    table["climate_sd_c"] = table.groupby(["place", "season"])["anomaly_c"].transform("std")
    return table


def learn_scaling(errors: pd.DataFrame) -> dict[str, float]:
    """Learn how the error's variance grows with the scatter's, from the four seasons at each lead."""
    learned, local = {}, []
    for lead, rows in errors.groupby("lead"):
        cells = rows.groupby("season").agg(
            error=("error_c", "var"), scatter=("climate_sd_c", lambda one: np.mean(one**2))
        )
        slope, start = np.polyfit(cells["scatter"], cells["error"], 1)
        miss = np.abs(np.polyval([slope, start], cells["scatter"]) / cells["error"] - 1).max()
        learned[f"sd at {REFERENCE_SCATTER_C} °C scatter, {lead} d"] = np.sqrt(
            start + slope * REFERENCE_SCATTER_C**2
        )
        learned[f"worst miss of a season's variance, {lead} d"] = miss
        local.append(start)
    return learned | {"local part [°C]": float(np.sqrt(np.mean(local)))}


def learn_tails(errors: pd.DataFrame) -> dict[str, float]:
    """Learn the two Gaussians of errors scaled by their scatter and lead, by greatest likelihood."""
    scaled = []
    for _, rows in errors.groupby("lead"):
        slope, start = np.polyfit(rows["climate_sd_c"] ** 2, rows["error_c"] ** 2, 1)
        centred = rows["error_c"] - rows["error_c"].mean()
        scaled.append(centred / np.sqrt(start + slope * rows["climate_sd_c"] ** 2))
    z = np.concatenate(scaled)
    z /= z.std()

    def misfit(numbers: np.ndarray) -> float:
        policy = Policy(wide_share=float(numbers[0]), wide_factor=float(numbers[1]))
        narrow, wide = part_tails(1.0, policy)
        density = (1 - policy.wide_share) * stats.norm.pdf(z, scale=narrow)
        return -float(np.log(density + policy.wide_share * stats.norm.pdf(z, scale=wide)).mean())

    share, factor = optimize.minimize(misfit, [0.15, 1.8], method="Nelder-Mead", options={"xatol": 0.005}).x
    return {
        "wide share": float(share),
        "wide factor": float(factor),
        "sd over mean absolute": float(z.std() / np.abs(z).mean()),
        "share below -3": float((z < -3).mean()),
    }


def records(folder: Path) -> Iterator[DailyMinima]:
    """Read the records."""
    for path in sorted((folder / "ghcnd" / "tmin").glob("*.dly")):
        yield read_minima(path)
    found = importlib.util.find_spec("aquacrop")
    if found is None or found.origin is None:
        raise SystemExit("needs the package aquacrop, which ships real minima")
    for path in sorted((Path(found.origin).parent / "data").glob("*_climate.txt")):
        names = ["day", "month", "year", "tmin_c"]
        table = pd.read_csv(path, sep=r"\s+", usecols=[0, 1, 2, 3], names=names, header=0)
        days = pd.to_datetime(table[["day", "month", "year"]]).to_numpy()
        dates, first = np.unique(days.astype("datetime64[D]"), return_index=True)
        station = Station(id=path.stem.removesuffix("_climate"))
        record = DailyMinima(station=station, dates=dates, tmin_c=table["tmin_c"].to_numpy()[first])
        if dates.size > 10 * 366:
            yield record


def learn_weather(folder: Path) -> pd.DataFrame:
    """Learn, record by record, how anomalies keep from night to night, and how springs keep."""
    rows = []
    for record in records(folder):
        start = find_hemisphere(record)
        weather, spread_c = know_weather(record, start)
        _, grid = season_grid(record.dates, record.tmin_c, start)
        there = np.isfinite(grid)
        anomaly = np.where(there, (grid.T - weather.climatology_c).T / spread_c[:, np.newaxis], 0.0)
        kept = [np.mean(anomaly[FIRST:LAST] * anomaly[FIRST + lag : LAST + lag]) for lag in range(LAGS + 1)]
        links = np.array(kept[1:]) / np.array(kept[:-1])
        rows.append({"record": record.station.id, "persistence": weather.persistence, "link": links.mean()})
    return pd.DataFrame(rows)


def main() -> None:
    """Print what is learned."""
    folder = Path(os.environ["FROSTGATE_REFERENCE_DATA"])
    errors = errors_of(folder)
    for name, value in (learn_scaling(errors) | learn_tails(errors)).items():
        print(f"{name}: {value:.4f}")
    weather = learn_weather(folder)
    print(weather.to_string(index=False))
    print(weather[["persistence", "link"]].mean())


if __name__ == "__main__":
    main()
