"""The grower's own log of forecasts: a table that any spreadsheet opens, one line for each forecast night.

    issued_at,morning,forecast_c,observed_c
    2026-04-10T06:00,2026-04-11,2.5,1.1
    2026-04-10T06:00,2026-04-12,3.5,

``issued_at`` is when the forecast was made and ``morning`` the date its night ends on, both local;
temperatures are in °C; ``observed_c`` is empty until the minimum is known. A table of several places tells
them apart in a column ``place``.

A log is written whole beside its place and moved there, so a morning that is cut short leaves the log as it
was, and a log with a line that cannot be read is never written over.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from frostgate.errors import InputError
from frostgate.files import decode, read_bytes, write_whole
from frostgate.model.gate import Forecast, ForecastLog
from frostgate.seasons import Dates, Floats
from frostgate.sources.forecasts.documents import Spot
from frostgate.sources.forecasts.nights import parse_date, parse_time
from frostgate.sources.forecasts.tables import Row
from frostgate.units import COLDEST_C, HOTTEST_C

COLUMNS = ("issued_at", "morning", "forecast_c", "observed_c")
PLACE = "place"
_FIRST_LINE = f"Begin with the line: {','.join(COLUMNS)}."


@dataclass(frozen=True, slots=True, kw_only=True)
class Closed:
    """What closing did: minima filled in, and minima that stood there otherwise and were left."""

    filled: int
    differing: int


def read_log(path: Path) -> ForecastLog:
    r"""Read a log."""
    nights = _nights(decode(read_bytes(path), path), path)
    return ForecastLog(
        issued=np.array([night.issued for night in nights], dtype="datetime64[m]"),
        mornings=np.array([night.morning for night in nights], dtype="datetime64[D]"),
        forecast_c=np.array([night.forecast_c for night in nights], dtype=np.float64),
        observed_c=np.array([night.observed_c for night in nights], dtype=np.float64),
        place=np.array([night.place for night in nights], dtype=np.str_),
    )


def keep_forecast(path: Path, forecast: Forecast) -> int:
    """Add a forecast's nights to the log, unless its issue is there; make the log where there is none."""
    kept = _own(path)
    issued = forecast.issued_at.replace(second=0, microsecond=0)
    if any(night.issued == issued for night in kept):
        return 0
    nights = zip(forecast.dates.astype(object), forecast.tmin_c.tolist(), strict=True)
    new = [
        _Night(issued=issued, morning=morning, forecast_c=tmin_c, observed_c=math.nan)
        for morning, tmin_c in nights
        if math.isfinite(tmin_c) and _is_ahead(issued, morning)
    ]
    if new:
        _write(path, [*kept, *new])
    return len(new)


def close_forecasts(path: Path, dates: Dates, minima_c: Floats, today: dt.date) -> Closed:
    """Fill in the observed minima of nights that are past; a minimum that stands there is left."""
    came = {
        morning: tmin_c
        for morning, tmin_c in zip(dates.astype(object), np.asarray(minima_c).tolist(), strict=True)
        if math.isfinite(tmin_c) and morning <= today
    }
    nights = _own(path)
    past = [night for night in nights if night.morning in came]
    opened = [night for night in past if math.isnan(night.observed_c)]
    if opened:
        _write(path, [night.closed_by(came) for night in nights])
    differing = sum(abs(night.observed_c - came[night.morning]) > 0.051 for night in past)
    return Closed(filled=len(opened), differing=differing)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Night:
    issued: dt.datetime
    morning: dt.date
    forecast_c: float
    observed_c: float
    place: str = ""

    def closed_by(self, came: dict[dt.date, float]) -> _Night:
        if not math.isnan(self.observed_c):
            return self
        return replace(self, observed_c=came.get(self.morning, math.nan))

    def cells(self) -> tuple[str, str, str, str]:
        return (
            self.issued.isoformat(timespec="minutes"),
            self.morning.isoformat(),
            _degrees(self.forecast_c),
            _degrees(self.observed_c),
        )


def _own(path: Path) -> list[_Night]:
    """Read the garden's own log; where there is none, it is empty."""
    try:
        with path.open("rb") as file:
            packed = file.read(2) == b"\x1f\x8b"
    except FileNotFoundError:
        return []
    except OSError:  # what is wrong with it is told below
        packed = False
    if packed:
        raise InputError("a packed file is no log to write in", file=path, remedy="Unpack it first.")
    nights = _nights(decode(read_bytes(path), path), path)
    if any(night.place for night in nights):
        remedy = "Name a log of the garden alone, without that column."
        raise InputError("a table of several places is no garden's log", file=path, line=1, remedy=remedy)
    return nights


def _nights(text: str, path: Path) -> list[_Night]:
    header, *rows = list(_rows(text, path))
    names = [cell.lower() for cell in header.cells]
    missing = [name for name in COLUMNS if name not in names]
    unknown = [name for name in names if name not in {*COLUMNS, PLACE}]
    if missing or unknown or len(set(names)) < len(names):
        raise header.spot().fault("not the columns of a log", ", ".join(header.cells), _FIRST_LINE)
    seen: dict[tuple[str, dt.datetime, dt.date], int] = {}
    nights = []
    for row in rows:
        if len(row.cells) != len(names):
            what = f"{len(row.cells)} cells where the first line has {len(names)}"
            raise row.spot().fault(what, ", ".join(row.cells), "Complete the line, or remove it.")
        night = _night(row, names)
        key = (night.place, night.issued, night.morning)
        if key in seen:
            what = f"the night of line {seen[key]} once more"
            raise row.spot().fault(what, ", ".join(row.cells), "Remove one of the two lines.")
        seen[key] = row.line
        nights.append(night)
    return nights


def _rows(text: str, path: Path) -> Iterator[Row]:
    lines = [(n, line) for n, line in enumerate(re.split(r"\r\n|\r|\n", text), start=1) if line.strip()]
    separator = max(",;\t", key=lines[0][1].count)
    for number, line in lines:
        try:
            cells = next(csv.reader([line], delimiter=separator, strict=True))
        except csv.Error as fault:
            spot = Spot(file=path, line=number)
            raise spot.fault(f"not a line of a log: {fault}", line, "Mend the quotation marks.") from None
        yield Row(file=path, line=number, cells=tuple(cell.strip() for cell in cells))


def _night(row: Row, names: Sequence[str]) -> _Night:
    text = dict(zip(names, row.cells, strict=True))
    spot = row.spot("issued_at")
    issued = parse_time(text["issued_at"], spot)
    if issued.tzinfo is not None:
        raise spot.fault(
            "a time with an offset from UTC", text["issued_at"], "Write the garden's local time."
        )
    morning = parse_date(text["morning"], row.spot("morning"))
    if not _is_ahead(issued, morning):
        raise spot.fault("made after the morning it foretells", text["issued_at"], "Mend one of the two.")
    forecast_c = _minimum_c(row, names, "forecast_c")
    if math.isnan(forecast_c):
        raise row.spot("forecast_c").fault(
            "no forecast", text["forecast_c"], "Fill it in, or remove the line."
        )
    return _Night(
        issued=issued.replace(second=0, microsecond=0),
        morning=morning,
        forecast_c=forecast_c,
        observed_c=_minimum_c(row, names, "observed_c"),
        place=text.get(PLACE, ""),
    )


def _minimum_c(row: Row, names: Sequence[str], name: str) -> float:
    tmin_c = row.number(names.index(name), name)
    if not (math.isnan(tmin_c) or COLDEST_C <= tmin_c <= HOTTEST_C):
        remedy = "Write it in °C, or leave it empty."
        raise row.spot(name).fault("no place on earth has such a minimum", f"{tmin_c:g}", remedy)
    return tmin_c


def _is_ahead(issued: dt.datetime, morning: dt.date) -> bool:
    return issued <= dt.datetime.combine(morning, dt.time(6))


def _degrees(temp_c: float) -> str:
    return "" if math.isnan(temp_c) else f"{round(temp_c, 3) + 0.0:.6g}"


def _write(path: Path, nights: Sequence[_Night]) -> None:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows([COLUMNS, *(night.cells() for night in nights)])
    remedy = "Check the folder, that it may be written, and the space left; the log is as it was."
    write_whole(path, text.getvalue(), what="the log cannot be written", remedy=remedy)
