"""A record made of several stations, as a table that is read like any other."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from frostgate.errors import InputError
from frostgate.terms import DailyMinima
from frostgate.units import WHOLE_F_STEP_C, whole_f


def write_minima(path: Path, minima: DailyMinima) -> None:
    """Write minima as a table of station, date and minimum: whole °F where such were observed, else °C.

    Raises
    ------
    InputError
        Where the file cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> from frostgate.terms import Station
    >>> days = ["2026-04-01", "2026-04-02"]
    >>> record = DailyMinima(station=Station(id="X"), dates=days, tmin_c=[-2.2, np.nan])
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_minima(Path(folder) / "a.csv", record)
    ...     (Path(folder) / "a.csv").read_text().split()
    ['station,date,tmin_f', 'X,2026-04-01,28', 'X,2026-04-02,']
    """
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(_rows(minima))
    try:
        path.write_text(text.getvalue(), encoding="utf-8")
    except OSError as fault:
        raise InputError(
            "cannot be written",
            file=path,
            value=fault.strerror,
            remedy="Name a folder that can be written to.",
        ) from None


def _rows(minima: DailyMinima) -> Iterator[tuple[str, str, str]]:
    in_f = minima.step_c == WHOLE_F_STEP_C
    degrees = whole_f(minima.tmin_c)[0] if in_f else minima.tmin_c
    yield "station", "date", "tmin_f" if in_f else "tmin_c"
    for date, value in zip(minima.dates, degrees, strict=True):
        shown = "" if np.isnan(value) else f"{value:.0f}" if in_f else f"{value:.1f}"
        yield minima.station.id, str(date), shown
