"""GHCN-Daily's by-station and by-year files: one row a day and element, values in tenths of °C.

``ID,YYYYMMDD,ELEMENT,VALUE,MFLAG,QFLAG,SFLAG,OBSTIME``, with or without a header.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from frostgate.errors import InputError
from frostgate.model.records import DailyMinima
from frostgate.sources.records.rows import Mask, Readings, UnitHint, agree_on_unit, merge
from frostgate.sources.records.tables import (
    TextTable,
    keep_station,
    parse_days,
    parse_numbers,
    plain_name,
    read_table,
    require_whole_tenths,
    split_line,
)

_ORDER = ("ID", "DATE", "ELEMENT", "VALUE", "M_FLAG", "Q_FLAG", "S_FLAG", "OBS_TIME")
_ID = {"id", "station", "stationid"}
_DATE = {"date", "yyyymmdd", "yearmonthday"}
_ELEMENT = {"element", "attr", "attribute", "datatype"}
_VALUE = {"value", "datavalue"}
_QUALITY = {"q", "qflag", "qualityflag"}
_LETTERED = ("a", "b", "c", "d")  # measurement, quality, source, time of observation
_FIELDS = (
    re.compile(r"[A-Z]{2}[A-Z0-9_-]{9}"),
    re.compile(r"\d{4}-?\d{2}-?\d{2}"),
    re.compile(r"[A-Z][A-Z0-9]{3}"),
    re.compile(r"-?\d+"),
)


def looks_like_element_rows(head: str) -> bool:
    """Return whether a file's first line is a row of one element, or a header that names such rows."""
    fields = split_line(head)
    return _is_headless(fields) or all(
        any(plain_name(field) in names for field in fields) for names in (_DATE, _ELEMENT, _VALUE)
    )


def parse_element_rows(
    content: bytes,
    path: Path,
    *,
    unit: UnitHint | None = None,
    station: str | None = None,
    drop_contradictions: bool = False,
) -> DailyMinima:
    r"""Read the TMIN rows of one station."""
    stated = agree_on_unit("tenths-C", unit, path)
    table = read_table(content, path, _names_of_headless(content))
    quality = _find_quality(table)
    place, table, notes = keep_station(table, station, _ID)
    table = _rows_of_minima(table)
    value = _column(table, _VALUE)
    tenths = require_whole_tenths(table, value, parse_numbers(table, value))
    failed = _filled(table, quality)
    readings = Readings(
        path=path,
        unit=stated,
        dates=parse_days(table, table.text(_column(table, _DATE))),
        degrees=tenths,
        flagged=failed & np.isfinite(tenths),
        lines=table.lines,
    )
    unflagged = [] if quality is not None else ["the file has no quality flags"]
    return merge(readings, place, [*notes, *unflagged], drop_contradictions=drop_contradictions)


def _is_headless(fields: list[str]) -> bool:
    return len(fields) >= len(_FIELDS) and all(
        form.fullmatch(field) for form, field in zip(_FIELDS, fields, strict=False)
    )


def _names_of_headless(content: bytes) -> tuple[str, ...] | None:
    head = content.lstrip().partition(b"\n")[0].decode("utf-8", "replace")
    fields = split_line(head)
    return _ORDER[: len(fields)] if _is_headless(fields) else None


def _find_quality(table: TextTable) -> int | None:
    """Find the column of quality flags; None where nothing stands behind the value."""
    named = table.find(_QUALITY)
    behind = tuple(plain_name(name) for name in table.names[_column(table, _VALUE) + 1 :])
    if named is not None or not behind:
        return named
    if len(behind) > 1 and behind == _LETTERED[: len(behind)]:
        return len(table.names) - len(behind) + 1
    raise InputError(
        f"no column tells the quality flag; the columns are {', '.join(table.names)}",
        file=table.path,
        remedy="Name the column of the quality flag Q_FLAG.",
    )


def _rows_of_minima(table: TextTable) -> TextTable:
    elements = table.text(_column(table, _ELEMENT))
    minima = (elements == "TMIN").to_numpy(dtype=bool)
    if not minima.any():
        raise InputError(
            f"holds no TMIN, only {', '.join(sorted(elements.unique()))}",
            file=table.path,
            remedy="Take a station that measures minima.",
        )
    return table.where(minima)


def _column(table: TextTable, names: set[str]) -> int:
    return next(column for column, name in enumerate(table.names) if plain_name(name) in names)


def _filled(table: TextTable, column: int | None) -> Mask:
    if column is None:
        return np.zeros(table.lines.size, dtype=bool)
    filled: Mask = (table.text(column) != "").to_numpy(dtype=bool)
    return filled
