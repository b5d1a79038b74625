"""Station files parsed by hand, so that these tests lean on none of frostgate's own readers.

Columns of a .dly file: the archive's readme, section III. Minima stay whole tenths of a °C here.
"""

from __future__ import annotations

import csv
import datetime as dt
import gzip
from pathlib import Path

import numpy as np

from frostgate.model.records import DailyMinima, Station

NORTHERN_FILES = {
    station: f"ghcnd/tmin/{station}.dly"
    for station in (
        "USC00042319", "USW00012960", "USW00013904", "USW00014819", "USW00023174", "USW00023183",
        "USW00094728",
    )
} | {"USW00014839": "ghcnd/csv/GHCN_USW00014839.csv"}  # fmt: skip
FILES = NORTHERN_FILES | {
    "ASN00064008": "ghcnd/tmin/ASN00064008.dly",
    "USC00045532": "ghcnd/csv/GHCN_USC00045532_USW00023257.csv.gz",
}


def read_tenths(path: Path) -> dict[dt.date, int]:
    """Give each day's unflagged minimum [tenths of a °C]; a day without one is left out."""
    return _read_dly(path) if path.suffix == ".dly" else _read_csv(path)


def read_record(folder: Path, station: str) -> DailyMinima:
    """Make a record of one of `FILES`, under the archive's name of its station."""
    tenths = read_tenths(folder / FILES[station])
    days = sorted(tenths)
    return DailyMinima(
        station=Station(id=station),
        dates=np.array(days, dtype="datetime64[D]"),
        tmin_c=[tenths[day] / 10 for day in days],
    )


def _read_dly(path: Path) -> dict[dt.date, int]:
    tenths = {}
    for line in path.read_text().splitlines():
        for day in range(31 if line[17:21] == "TMIN" else 0):
            value, quality = int(line[21 + 8 * day : 26 + 8 * day]), line[27 + 8 * day]
            if value != -9999 and quality == " ":
                tenths[dt.date(int(line[11:15]), int(line[15:17]), day + 1)] = value
    return tenths


def _read_csv(path: Path) -> dict[dt.date, int]:
    """Read minima in °F, rounded to the tenths of a °C that they came from; the first of a day holds."""
    opened = gzip.open if path.suffix == ".gz" else open
    tenths: dict[dt.date, int] = {}
    with opened(path, "rt") as lines:
        for row in csv.DictReader(lines):
            if row["TMIN"] != "NA":
                tenths.setdefault(dt.date.fromisoformat(row["date"]), round((float(row["TMIN"]) - 32) / 0.18))
    return tenths
