"""The grower's own log of forecasts: a table that any spreadsheet opens, one line for each forecast night.

    issued_at,morning,forecast_c,observed_c
    2026-04-10T06:00,2026-04-11,2.5,1.1
    2026-04-10T06:00,2026-04-12,3.5,

``issued_at`` is when the forecast was made and ``morning`` the date its night ends on, both local;
temperatures are in °C; ``observed_c`` is empty until the minimum is known. A table of several places tells
them apart in a column ``place``. A log with a line that cannot be read is never written over, and what two
processes write at once is kept of both.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

import numpy as np

from frostgate.errors import InputError
from frostgate.files import AnyPath, csv_text, decode, held, read_bytes, write_whole
from frostgate.model.gate import MORNING, Forecast, ForecastLog
from frostgate.seasons import Dates, Floats
from frostgate.sources.forecasts.nights import minimum_c, parse_date, parse_time
from frostgate.sources.text import Table, read_table, split_lines

COLUMNS = ("issued_at", "morning", "forecast_c", "observed_c")
PLACE = "place"

Told = TypeVar("Told")


@dataclass(frozen=True, slots=True, kw_only=True)
class Closed:
    """What closing did: minima filled in, and minima that stood there otherwise and were left."""

    filled: int
    differing: int


def read_log(path: AnyPath) -> ForecastLog:
    r"""Read a log of forecasts, of one place or of several.

    Parameters
    ----------
    path
        The log, plain or gzip, with the columns that stand at the head of this module.

    Returns
    -------
    ForecastLog
        Its nights, in the order of the file; minima in [°C], NaN while they are not known.

    Raises
    ------
    InputError
        Where it cannot be read, or a line is no night, or stands there twice; names the line.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder) / "log.csv"
    ...     _ = file.write_text(f"{','.join(COLUMNS)}\n2026-04-10T18:00,2026-04-11,2.5,1.1\n")
    ...     log = read_log(file)
    >>> log.lead_days, log.forecast_c - log.observed_c
    (array([0.5]), array([1.4]))
    """
    path = Path(path)
    table = read_table(split_lines(decode(read_bytes(path), path), path), path)
    names = [name.lower() for name in table.names]
    if set(names) - {PLACE} != set(COLUMNS) or len(set(names)) < len(names):
        remedy = f"Begin with the line: {','.join(COLUMNS)}."
        raise table.spot(None).fault("not the columns of a log", ", ".join(table.names), remedy)
    at = {name: names.index(name) for name in names}
    lines: dict[tuple[str, dt.datetime, dt.date], int] = {}
    minima_c = []
    for row, line in enumerate(table.lines):
        issued, morning, *forecast_and_observed_c = _night(table, row, at)
        key = (table.rows[row][at[PLACE]].strip() if PLACE in at else "", issued, morning)
        if key in lines:
            what = f"the night of line {lines[key]} once more"
            raise table.spot(row).fault(what, table.say_row(row), "Remove one of the two lines.")
        lines[key] = line
        minima_c.append(forecast_and_observed_c)
    place, issues, mornings = np.array(list(lines), dtype=object).reshape(-1, 3).T
    forecast_c, observed_c = np.array(minima_c, dtype=np.float64).reshape(-1, 2).T
    return ForecastLog(
        issued=issues.astype("datetime64[m]"),
        mornings=mornings.astype("datetime64[D]"),
        forecast_c=forecast_c,
        observed_c=observed_c,
        place=place.astype(np.str_),
    )


def keep_forecast(path: AnyPath, forecast: Forecast) -> int:
    """Add a forecast's nights to a garden's log, and make the log where there is none.

    Parameters
    ----------
    path
        The log; it is moved into place whole, so a morning that is cut short leaves it as it was.
    forecast
        The forecast; an issue that is in the log already is not added again.

    Returns
    -------
    int
        How many nights were added: those ahead of the issue that have a minimum.

    Raises
    ------
    InputError
        Where the log cannot be read or written, or is a table of several places.

    Examples
    --------
    >>> import tempfile
    >>> forecast = Forecast(source="f.csv", form="table", issued_at=dt.datetime(2026, 4, 10, 18),
    ...                     dates=["2026-04-11", "2026-04-12"], tmin_c=[2.5, np.nan], sd_c=[np.nan, np.nan])
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     [keep_forecast(Path(folder) / "log.csv", forecast) for _ in range(2)]
    [1, 0]
    """
    issued = np.datetime64(forecast.issued_at, "m")
    ahead = issued <= forecast.dates + np.timedelta64(MORNING.hour, "h")
    new = np.isfinite(forecast.tmin_c) & ahead

    def add(log: ForecastLog) -> tuple[ForecastLog, int]:
        count = 0 if (log.issued == issued).any() else int(new.sum())
        added = ForecastLog(
            issued=np.append(log.issued, np.full(count, issued)),
            mornings=np.append(log.mornings, forecast.dates[new][:count]),
            forecast_c=np.append(log.forecast_c, forecast.tmin_c[new][:count]),
            observed_c=np.append(log.observed_c, np.full(count, np.nan)),
        )
        return (added if count else log), count

    return _change(path, add)


def close_forecasts(path: AnyPath, dates: Dates, minima_c: Floats, today: dt.date) -> Closed:
    r"""Fill the observed minima of nights that are past into a garden's log.

    Parameters
    ----------
    path
        The log; one that is not there has no nights.
    dates, minima_c
        Days, and the minimum [°C] observed on each, both of shape (n,); NaN where it is not known.
    today
        Nights that end later stay open.

    Returns
    -------
    Closed
        How many nights were filled in, and how many had another minimum than here; these are left.

    Raises
    ------
    InputError
        Where the log cannot be read or written, or is a table of several places.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder) / "log.csv"
    ...     _ = file.write_text(f"{','.join(COLUMNS)}\n2026-04-10T18:00,2026-04-11,2.5,\n")
    ...     days = np.array(["2026-04-11"], dtype="datetime64[D]")
    ...     closed = close_forecasts(file, days, np.array([1.1]), dt.date(2026, 4, 12))
    ...     closed.filled, read_log(file).observed_c
    (1, array([1.1]))
    """
    days = np.asarray(dates, dtype="datetime64[D]")
    known = dict(zip(days.astype(object), np.asarray(minima_c).tolist(), strict=True))

    def close(log: ForecastLog) -> tuple[ForecastLog, Closed]:
        came_c = np.array([known.get(morning, math.nan) for morning in log.mornings.astype(object)])
        came_c[log.mornings > np.datetime64(today)] = math.nan
        opened = np.isnan(log.observed_c) & np.isfinite(came_c)
        differing = np.abs(log.observed_c - came_c) > 0.051  # written in other tenths, not merely rounded
        closed = replace(log, observed_c=np.where(opened, came_c, log.observed_c)) if opened.any() else log
        return closed, Closed(filled=int(opened.sum()), differing=int(differing.sum()))

    return _change(path, close)


def _change(path: AnyPath, change: Callable[[ForecastLog], tuple[ForecastLog, Told]]) -> Told:
    """Change a log as it stands while nobody else does; one that is right already is only read."""
    log = read_own_log(path)
    changed, told = change(log)
    if changed is not log:
        with held(path):
            changed, told = change(read_own_log(path))
            _write(path, changed)
    return told


def read_own_log(path: AnyPath) -> ForecastLog:
    """Read the garden's own log, to be written in again; where there is none, it is empty."""
    try:
        Path(path).stat()
    except FileNotFoundError:
        days: Dates = np.empty(0, dtype="datetime64[D]")
        return ForecastLog(issued=days, mornings=days, forecast_c=np.empty(0), observed_c=np.empty(0))
    except OSError:  # what is wrong with it is told by what reads it
        pass
    log = read_log(path)
    if (log.place != "").any():
        what, remedy = "a table of several places is no garden's log", "Name a log of the garden alone."
        raise InputError(what, file=path, line=1, remedy=remedy)
    if Path(path).read_bytes().startswith(b"\x1f\x8b"):
        raise InputError("a packed file is no log to write in", file=path, remedy="Unpack it first.")
    return log


def _night(table: Table, row: int, at: dict[str, int]) -> tuple[dt.datetime, dt.date, float, float]:
    """Read one night: its issue, its morning, the forecast and the observed minimum."""
    spots = [table.spot(row, at[name]) for name in COLUMNS]
    cells = [table.rows[row][at[name]].strip() for name in COLUMNS]
    issued = parse_time(cells[0], spots[0]).replace(second=0, microsecond=0)
    if issued.tzinfo is not None:
        raise spots[0].fault("a time with an offset from UTC", cells[0], "Write the garden's local time.")
    morning = parse_date(cells[1], spots[1])
    if issued > dt.datetime.combine(morning, MORNING):
        raise spots[0].fault("made after the morning it foretells", cells[0], "Mend one of the two.")
    forecast_c = minimum_c(table.number(row, at["forecast_c"]), "C", spots[2])
    observed_c = minimum_c(table.number(row, at["observed_c"]), "C", spots[3])
    if math.isnan(forecast_c):
        raise spots[2].fault("no forecast", cells[2], "Fill it in, or remove the line.")
    return issued, morning, forecast_c, observed_c


def _write(path: AnyPath, log: ForecastLog) -> None:
    times = log.issued.astype(str), log.mornings.astype(str)
    minima = (map(_degrees, temps_c.tolist()) for temps_c in (log.forecast_c, log.observed_c))
    content = csv_text([COLUMNS, *zip(*times, *minima, strict=True)])
    remedy = "Check the folder, that it may be written, and the space left; the log is as it was."
    write_whole(path, content, what="the log cannot be written", remedy=remedy)


def _degrees(temp_c: float) -> str:
    return "" if math.isnan(temp_c) else f"{round(temp_c, 3) + 0.0:.6g}"
