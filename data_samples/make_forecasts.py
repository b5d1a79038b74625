"""Write the three invented forecasts, each in another form; the numbers worth changing stand at the top."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import Any

# The invented place: the coordinates lie in mid-ocean, so they are nobody's garden.
LATITUDE, LONGITUDE, ELEVATION_M = 41.5, -45.0, 212.0
ZONE, UTC_OFFSET_H = "Etc/GMT+3", -3
NOTICE = "INVENTED SAMPLE DATA: no such place, no such weather"

# The forecasts [°F], a number for each night. A night belongs to the morning that ends it.
CLEAR_ISSUED = "2026-05-15T06:00"
CLEAR_F = (52, 54, 55, 53, 51, 54, 57, 58, 56, 55, 56, 57, 57, 58)
CLEAR_SD_F = (2.5, 2.7, 2.9, 3.1, 3.4, 3.7, 4.0, 4.3, 4.6, 4.9, 5.1, 5.3, 5.5, 5.6)
FROST_ISSUED = "2026-04-22T06:00"
FROST_NIGHTS_F = (41, 38, 31, 29, 36, 42, 46)
FROST_DAYS_F = (58, 55, 49, 51, 57, 63, 66)
EDGE_FIRST = "2026-05-10"  # the day of issue; this form does not tell the hour
EDGE_F = (49, 46, 38, 44, 48, 51, 53, 54, 52, 54, 55, 54, 56, 55)

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def write_forecasts(folder: Path) -> None:
    """Write the three forecasts into a folder."""
    write_clear_forecast(folder / "forecast_clear.csv")
    write_frost_forecast(folder / "forecast_frost.json")
    write_edge_forecast(folder / "forecast_edge.json")


def write_clear_forecast(path: Path) -> None:
    """Write the mild forecast as a plain table that tells its own spread."""
    mornings = _days_after(CLEAR_ISSUED, len(CLEAR_F))
    rows = [f"{day},{f},{sd}" for day, f, sd in zip(mornings, CLEAR_F, CLEAR_SD_F, strict=True)]
    head = [f"# issued: {CLEAR_ISSUED}", f"# time zone: {ZONE}", "date,tmin_f,sd_f"]
    path.write_bytes("\n".join([*head, *rows, ""]).encode())


def write_frost_forecast(path: Path) -> None:
    """Write the frosty forecast in the form of the US National Weather Service: day, night, day, night."""
    issued = dt.datetime.fromisoformat(FROST_ISSUED).replace(
        tzinfo=dt.timezone(dt.timedelta(hours=UTC_OFFSET_H))
    )
    temperatures = [f for pair in zip(FROST_DAYS_F, FROST_NIGHTS_F, strict=True) for f in pair]
    updated = issued.astimezone(dt.UTC).isoformat()
    properties = {
        "units": "us",
        "forecastGenerator": NOTICE,
        "generatedAt": updated,
        "updateTime": updated,
        "validTimes": f"{updated}/P7D",
        "elevation": {"unitCode": "wmoUnit:m", "value": ELEVATION_M},
        "periods": [_period(issued, place, f) for place, f in enumerate(temperatures)],
    }
    geometry = {"type": "Point", "coordinates": [LONGITUDE, LATITUDE]}
    _write_json(path, {"type": "Feature", "geometry": geometry, "properties": properties})


def write_edge_forecast(path: Path) -> None:
    """Write the doubtful forecast in the open form of one array for each quantity."""
    document = {
        "notice": NOTICE,
        "latitude": LATITUDE,
        "longitude": LONGITUDE,
        "elevation": ELEVATION_M,
        "timezone": ZONE,
        "utc_offset_seconds": UTC_OFFSET_H * 3600,
        "daily_units": {"time": "iso8601", "temperature_2m_min": "°C"},
        "daily": {
            "time": [EDGE_FIRST, *_days_after(EDGE_FIRST, len(EDGE_F) - 1)],
            "temperature_2m_min": [round((f - 32) / 1.8, 1) for f in EDGE_F],
        },
    }
    _write_json(path, document)


def _period(issued: dt.datetime, place: int, temp_f: int) -> dict[str, Any]:
    start, is_day = issued + dt.timedelta(hours=12 * place), place % 2 == 0
    weekday = WEEKDAYS[start.weekday()]
    name = weekday if is_day else f"{weekday} Night"
    return {
        "number": place + 1,
        "name": ("Today", "Tonight")[place] if place < 2 else name,
        "startTime": start.isoformat(),
        "endTime": (start + dt.timedelta(hours=12)).isoformat(),
        "isDaytime": is_day,
        "temperature": temp_f,
        "temperatureUnit": "F",
        "temperatureTrend": None,
        "shortForecast": "Areas Of Frost" if temp_f <= 36 else "Mostly Clear",
    }


def _days_after(start: str, count: int) -> list[str]:
    first = dt.date.fromisoformat(start[:10])
    return [(first + dt.timedelta(days=day + 1)).isoformat() for day in range(count)]


def _write_json(path: Path, document: dict[str, Any]) -> None:
    path.write_bytes(f"{json.dumps(document, indent=1, ensure_ascii=False)}\n".encode())
