"""Tables of daily minima: any table with a date and a column of minima, and the archive's own."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Collection, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from frostgate.errors import InputError, UnstatedUnitError
from frostgate.files import decode
from frostgate.model.records import Station
from frostgate.seasons import Dates, Floats
from frostgate.sources.records.rows import (
    Mask,
    Readings,
    UnitHint,
    agree_on_unit,
    pick_station,
)
from frostgate.sources.text import Table, plain_name, read_table, split_line, split_lines
from frostgate.units import COLDEST_C, HOTTEST_C, fahrenheit

STATION_NAMES = frozenset({"station", "stationid"})
_MINIMUM = re.compile(
    r"""(?: t[_ ]?min | temp(?:erature)?[_ ]min | min[_ ]?temp(?:erature)? | minimum(?:[ _]temperature)?
          | temperature_2m_min )
        (?: [ _]* [(\[]? [ ]* (?: [°º] | deg(?:rees)?[ _]? | (?<![a-z]) ) [ ]*
            (?P<unit> f | c | fahrenheit | celsius ) [ ]* [)\]]? )?""",
    re.IGNORECASE | re.VERBOSE,
)
_DATE = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})|(\d{4})(\d\d)(\d\d)", re.ASCII)
_ACCESS_ORDER = ("STATION", "DATE", "LATITUDE", "LONGITUDE", "ELEVATION", "NAME")
_PADDED = re.compile(r"(?=.{5}$) *-?\d+")  # whole tenths, five characters wide
_FAILED = re.compile(
    r"[^,]*,\s*[^,\s].*"
)  # attributes are "M,Q,S" or "M,Q,S,hhmm": the second is the quality flag
_UNKNOWN_M = -999.9  # as the archive's station list writes an unknown elevation (from memory)
_LIMITS = {"latitude": 90.0, "longitude": 180.0, "elevation": 9000.0}  # degrees, degrees, metres


def looks_like_access(head: str) -> bool:
    """Return whether a file's first line is the header of an Access or CDO table."""
    return {"STATION", "DATE"} <= set(split_line(head))


def looks_like_table(head: str) -> bool:
    """Return whether a file's first line could be the header of a plain table."""
    return len(split_line(head)) > 1


def parse_columns(content: bytes, path: Path, unit: UnitHint | None, station: str | None) -> Readings:
    """Read the minima of one station from a table with one row a day."""
    table = read_daily(split_lines(decode(content, path)), path)
    column, stated = _find_minima(table, unit)
    place, table, notes = keep_station(table, station, STATION_NAMES)
    dates, degrees = _parse_dates(table), parse_numbers(table, column)
    if stated is None and _states_tenths(table, column):
        stated = "tenths-C"
    place, moved = _describe(place, table, dates)
    return Readings(
        path=path,
        station=place,
        unit=agree_on_unit(stated, _metric_of_the_archive(table, degrees, unit), path),
        dates=dates,
        degrees=degrees,
        flagged=_failed(table, column),
        lines=np.array(table.lines),
        notes=[*notes, *moved],
    )


def read_daily(lines: Sequence[str], path: Path, names: Sequence[str] | None = None) -> Table:
    """Read a table of days, of which there must be one."""
    table = read_table(lines, path, names=names)
    if not table.rows:
        remedy = "Take a file that holds daily values."
        raise InputError("a header and nothing below it", file=path, remedy=remedy)
    return table


def keep_station(
    table: Table, wanted: str | None, id_names: Collection[str]
) -> tuple[Station, Table, list[str]]:
    """Keep one station's rows: those of the wanted one, or all, where there is but one."""
    column = table.find(id_names)
    if column is None:
        name = pick_station([Path(table.path.name.removesuffix(".gz")).stem], wanted, table.path)
        return Station(id=name), table, [f"the file names no station, so it is called {name} after the file"]
    ids = table.text(column)
    if "" in ids:
        raise table.spot(ids.index("")).fault("a row without a station", "", "Write the station's id.")
    name = pick_station(sorted(set(ids)), wanted, table.path)
    return Station(id=name), table.where([one == name for one in ids]), []


def parse_days(table: Table, texts: Sequence[str]) -> Dates:
    """Turn a text for each row, such as 2026-04-01 or 20260401, into days."""
    days = []
    for row, text in enumerate(texts):
        match = _DATE.fullmatch(text)
        try:
            days.append(dt.date(*map(int, filter(None, match.groups()))) if match else None)
        except ValueError:
            days.append(None)
        if days[-1] is None:
            raise table.spot(row).fault("not a date", text, "Write it as YYYY-MM-DD.")
    return np.array(days, dtype="datetime64[D]")


def parse_numbers(table: Table, column: int) -> Floats:
    """Turn a column of minima into numbers, NaN where missing."""
    return np.array([table.number(row, column) for row in range(len(table.rows))])


def _find_minima(table: Table, told: UnitHint | None) -> tuple[int, UnitHint | None]:
    """Find the column of minima, and the unit that its name states."""
    letters: dict[str, UnitHint] = {"f": "F", "c": "C"}
    named = ((column, _MINIMUM.fullmatch(name)) for column, name in enumerate(table.names))
    found = [(column, letters.get((match["unit"] or "-")[0].lower())) for column, match in named if match]
    if len(found) > 1:
        found = [(column, stated) for column, stated in found if stated == told] or found
    if not found:
        raise _missing_column(table, "minima", "tmin_c or tmin_f")
    if len(found) > 1:
        raise UnstatedUnitError(
            f"several columns of minima: {', '.join(table.names[column] for column, _ in found)}",
            file=table.path,
            remedy="Say --unit F or --unit C to pick one, or remove the others.",
        )
    return found[0]


def _parse_dates(table: Table) -> Dates:
    column = table.find({"date"})
    if column is not None:
        return parse_days(table, table.text(column))
    parts = [table.find({part}) for part in ("year", "month", "day")]
    texts = [table.text(part) for part in parts if part is not None]
    if len(texts) < len(parts):
        raise _missing_column(table, "dates", "date, or year, month and day")
    return parse_days(table, ["-".join(date) for date in zip(*texts, strict=True)])


def _missing_column(table: Table, meaning: str, names: str) -> InputError:
    what = f"no column of {meaning}; the columns are {', '.join(table.names)}"
    return InputError(what, file=table.path, remedy=f"Name it {names} in the file's first line.")


def _metric_of_the_archive(table: Table, degrees: Floats, told: UnitHint | None) -> UnitHint | None:
    """Take °C for tenths in the archive's own form, where whole numbers can be no degrees, °C or °F."""
    known = degrees[np.isfinite(degrees)]
    whole = bool((known == np.round(known)).all())
    in_archive_form = {"STATION", "DATE"} <= set(table.names)
    beyond_nature = bool(((known > fahrenheit(HOTTEST_C)) | (known < fahrenheit(COLDEST_C))).any())
    return "tenths-C" if told == "C" and in_archive_form and whole and beyond_nature else told


def _states_tenths(table: Table, column: int) -> bool:
    """Whether this is the bulk Access form, by its order of columns, its flags and its padded values."""
    if table.names[: len(_ACCESS_ORDER)] != _ACCESS_ORDER or _find_attributes(table, column) is None:
        return False
    written = [row[column] for row in table.rows if row[column].strip()]
    return all(_PADDED.fullmatch(cell) for cell in written)


def _find_attributes(table: Table, column: int) -> int | None:
    return table.find({plain_name(table.names[column]) + "attributes"})


def _failed(table: Table, column: int) -> Mask:
    """Tell which rows failed a quality check."""
    attributes = _find_attributes(table, column)
    if attributes is None:
        return np.zeros(len(table.rows), dtype=bool)
    texts = table.text(attributes)
    for row, text in enumerate(texts):
        if text and "," not in text:
            what = "attributes that are not M,Q,S"
            raise table.spot(row).fault(what, text, "Fetch the file again.")
    return np.array([_FAILED.fullmatch(text) is not None for text in texts])


def _describe(station: Station, table: Table, dates: Dates) -> tuple[Station, list[str]]:
    """Add what the columns tell of a station: its name, and where it stands, or stood last if it moved."""
    latest, name = int(np.argmax(dates)), table.find({"name"})
    columns = {part: table.find({part}) for part in _LIMITS}
    moved = any(len(set(table.text(column))) > 1 for column in columns.values() if column is not None)
    place = {part: _coordinate(table, latest, part, column) for part, column in columns.items()}
    described = replace(
        station,
        name=None if name is None else table.rows[latest][name].strip() or None,
        latitude=place["latitude"],
        longitude=place["longitude"],
        elevation_m=None if place["elevation"] == _UNKNOWN_M else place["elevation"],
    )
    return described, ["the station moved within the record; its last place is kept"] if moved else []


def _coordinate(table: Table, row: int, part: str, column: int | None) -> float | None:
    number = np.nan if column is None else table.number(row, column)
    if abs(number) > _LIMITS[part]:
        what, remedy = f"no place on earth has this {part}", "Write it as a number, in degrees or metres."
        raise table.spot(row).fault(what, f"{number:g}", remedy)
    return None if np.isnan(number) else number
