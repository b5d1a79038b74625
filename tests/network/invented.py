"""Invented documents of an archive that does not exist."""

from __future__ import annotations

import datetime as dt
import json
import math

STATION = "XX000000017"
NOW = dt.datetime(2026, 4, 12, 6, tzinfo=dt.UTC)
LONG_AGO = NOW - dt.timedelta(days=30)

# id, latitude, longitude, elevation [m], name, first and last year of minima: all invented
STATIONS = (
    ("XX000000017", 51.00, -2.50, 112.0, "OSKELMERE", 1990, 2025),
    ("XX000000018", 51.20, -2.50, 430.0, "HOLLIN TOP", 1957, 2026),
    ("XX000000019", 51.01, -2.52, -999.9, "MARL CROSS", 2021, 2026),
    ("XX000000020", 51.30, -2.10, 90.0, "OLD FARM, NEAR THE LONG WATER", 1930, 1984),
    ("XX000000021", -33.90, -60.10, 20.0, "ESTANCIA FRIA", 1990, 2026),
)


def dly(station: str = STATION, years: range = range(1990, 2026), coldest_month: int = 1) -> bytes:
    """Write a record whose minima swing with the year and freeze each winter."""
    return b"".join(_month(station, year, month, coldest_month) for year in years for month in range(1, 13))


def stations_txt() -> bytes:
    rows = [
        f"{name:<11} {lat:8.4f} {lon:9.4f} {height:6.1f}    {title:<30} {'':11}"
        for name, lat, lon, height, title, *_ in STATIONS
    ]
    return ("\n".join(rows) + "\n").encode()


def inventory_txt() -> bytes:
    rows = [
        f"{name:<11} {lat:8.4f} {lon:9.4f} {element} {first:4d} {last:4d}"
        for name, lat, lon, _, _, first, last in STATIONS
        for element in ("TMAX", "TMIN", "PRCP")
    ]
    rows.append("XX000000099  51.0000   -2.5000 PRCP 1990 2026")
    return ("\n".join(rows) + "\n").encode()


def forecast_json(tmin_c: float = 1.5) -> bytes:
    document = {
        "timezone": "Europe/Berlin",
        "daily_units": {"time": "iso8601", "temperature_2m_min": "°C"},
        "daily": {"time": ["2026-04-12", "2026-04-13"], "temperature_2m_min": [tmin_c, 2.0]},
    }
    return json.dumps(document, indent=1).encode()


def _month(station: str, year: int, month: int, coldest_month: int) -> bytes:
    days = (dt.date(year + month // 12, month % 12 + 1, 1) - dt.date(year, month, 1)).days
    climatology_c = 7.0 - 9.0 * math.cos((month - coldest_month) / 12 * 2 * math.pi)
    cells = []
    for day in range(1, 32):  # weather: two dice a day, so that the coldest nights are few
        off = (day * 37 + year * 11) % 61 + (day * 17 + year * 29 + month * 7) % 61 - 60
        cells.append(f"{round(climatology_c * 10) + off:5d}  0" if day <= days else "-9999   ")
    return f"{station}{year}{month:02d}TMIN{''.join(cells)}\n".encode()
