"""GHCN-Daily's by-station and by-year files: one row a day and element, values in tenths of °C.

``ID,YYYYMMDD,ELEMENT,VALUE,MFLAG,QFLAG,SFLAG,OBSTIME``, with or without a header.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from frostgate.errors import InputError
from frostgate.files import decode
from frostgate.sources.records.rows import Readings, UnitHint, agree_on_unit
from frostgate.sources.records.tables import (
    STATION_NAMES,
    keep_station,
    parse_days,
    parse_numbers,
    read_daily,
)
from frostgate.sources.text import Table, plain_name, split_line, split_lines

_ORDER = ("ID", "DATE", "ELEMENT", "VALUE", "M_FLAG", "Q_FLAG", "S_FLAG", "OBS_TIME")
_HEADLESS = r"[A-Z]{2}[A-Z0-9_-]{9}", r"\d{4}-?\d{2}-?\d{2}", r"[A-Z][A-Z0-9]{3}", r"-?\d+"
_DATE = {"date", "yyyymmdd", "yearmonthday"}
_ELEMENT = {"element", "attr", "attribute", "datatype"}
_VALUE = {"value", "datavalue"}
_QUALITY = {"q", "qflag", "qualityflag"}
_LETTERED = ("a", "b", "c", "d")  # measurement, quality, source, time of observation


def looks_like_element_rows(head: str) -> bool:
    """Return whether a file's first line is a row of one element, or a header that names such rows."""
    fields = split_line(head)
    plain = {plain_name(field) for field in fields}
    return _is_headless(fields) or bool(plain & _DATE and plain & _ELEMENT and plain & _VALUE)


def parse_element_rows(content: bytes, path: Path, unit: UnitHint | None, station: str | None) -> Readings:
    """Read the TMIN rows of one station."""
    stated = agree_on_unit("tenths-C", unit, path)
    lines = split_lines(decode(content, path))
    head = split_line(next(line for line in lines if line.strip()))
    table = read_daily(lines, path, _ORDER[: len(head)] if _is_headless(head) else None)
    quality = _find_quality(table)
    place, table, notes = keep_station(table, station, {"id", *STATION_NAMES})
    table = _rows_of_minima(table)
    if quality is None:
        notes.append("the file has no quality flags")
    flags = [""] * len(table.rows) if quality is None else table.text(quality)
    return Readings(
        path=path,
        station=place,
        unit=stated,
        dates=parse_days(table, table.text(_column(table, _DATE))),
        degrees=parse_numbers(table, _column(table, _VALUE)),
        flagged=np.array(flags) != "",
        lines=np.array(table.lines),
        notes=notes,
    )


def _is_headless(fields: list[str]) -> bool:
    forms = zip(_HEADLESS, fields, strict=False)
    return len(fields) >= len(_HEADLESS) and all(re.fullmatch(form, field) for form, field in forms)


def _find_quality(table: Table) -> int | None:
    """Find the column of quality flags; None where nothing stands behind the value."""
    named = table.find(_QUALITY)
    behind = tuple(plain_name(name) for name in table.names[_column(table, _VALUE) + 1 :])
    if named is not None or not behind:
        return named
    if len(behind) > 1 and behind == _LETTERED[: len(behind)]:
        return len(table.names) - len(behind) + 1
    what = f"no column tells the quality flag; the columns are {', '.join(table.names)}"
    raise InputError(what, file=table.path, remedy="Name the column of the quality flag Q_FLAG.")


def _rows_of_minima(table: Table) -> Table:
    elements = table.text(_column(table, _ELEMENT))
    if "TMIN" not in elements:
        what = f"holds no TMIN, only {', '.join(sorted(set(elements)))}"
        raise InputError(what, file=table.path, remedy="Take a station that measures minima.")
    return table.where([element == "TMIN" for element in elements])


def _column(table: Table, names: set[str]) -> int:
    return next(column for column, name in enumerate(table.names) if plain_name(name) in names)
