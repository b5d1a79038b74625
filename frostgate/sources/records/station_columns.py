"""Which station the rows of a table belong to, and where it stands."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from frostgate.errors import InputError
from frostgate.sources.records.delimited import MISSING_WORDS, TextTable
from frostgate.sources.records.merging import name_by_file, pick_station
from frostgate.terms import Station
from frostgate.terms.arrays import Dates
from frostgate.values import replace

_UNKNOWN_M = -999.9  # as the archive's station list writes an unknown elevation (from memory)
_LIMITS = {"latitude": 90.0, "longitude": 180.0, "elevation": 9000.0}  # degrees, degrees, metres


def keep_station(
    table: TextTable, wanted: str | None, id_names: Collection[str]
) -> tuple[Station, TextTable, list[str]]:
    r"""Keep one station's rows: those of the wanted one, or all, where there is but one.

    Returns
    -------
    station, table, notes
        The station goes by the file's name where no column tells its id; a note says so.

    Raises
    ------
    InputError
        Where there are several and none is wanted, or the wanted one is not there.

    Examples
    --------
    >>> from pathlib import Path
    >>> from frostgate.sources.records.delimited import read_table
    >>> table = read_table(b"station,tmin" + b"\n" + b"XX000000001,3", Path("a.csv"))
    >>> keep_station(table, None, {"station"})[0].id
    'XX000000001'
    """
    column = table.find(id_names)
    if column is None:
        station, note = name_by_file(table.path, wanted)
        return station, table, [note]
    ids = table.text(column)
    table.refuse((ids == "").to_numpy(dtype=bool), ids, "a row without a station", "Write the station's id.")
    name = pick_station(sorted(ids.unique()), wanted, table.path)
    return Station(id=name), table.where((ids == name).to_numpy(dtype=bool)), []


def describe_station(station: Station, table: TextTable, dates: Dates) -> tuple[Station, list[str]]:
    r"""Add what the columns tell of a station: its name, and where it stands, or stood last if it moved.

    Returns
    -------
    station, notes
        A note tells of a move.

    Raises
    ------
    InputError
        Where a coordinate is no number, or lies nowhere on earth.

    Examples
    --------
    >>> from pathlib import Path
    >>> from frostgate.sources.records.delimited import read_table
    >>> table = read_table(b"name,latitude" + b"\n" + b"INVENTED HILL,50.5", Path("a.csv"))
    >>> describe_station(Station(id="X"), table, np.array(["2026-04-01"], "datetime64[D]"))[0].latitude
    50.5
    """
    latest = int(np.argmax(dates))
    columns = {part: table.find({part}) for part in ("name", *_LIMITS)}
    there = {part: column for part, column in columns.items() if column is not None}
    told = {part: table.text(column).iloc[latest] for part, column in there.items()}
    moved = any(table.text(column).nunique() > 1 for part, column in there.items() if part in _LIMITS)
    elevation_m = _coordinate(table, latest, told, "elevation")
    described = replace(
        station,
        name=told.get("name") or None,
        latitude=_coordinate(table, latest, told, "latitude"),
        longitude=_coordinate(table, latest, told, "longitude"),
        elevation_m=None if elevation_m == _UNKNOWN_M else elevation_m,
    )
    return described, ["the station moved within the record; its last place is kept"] if moved else []


def _coordinate(table: TextTable, row: int, told: dict[str, str], part: str) -> float | None:
    text = told.get(part, "")
    if text.upper() in MISSING_WORDS:
        return None
    try:
        number = float(text)
    except ValueError:
        number = np.nan
    if not abs(number) <= _LIMITS[part]:
        raise InputError(
            f"a {part} that no place on earth has",
            file=table.path,
            line=int(table.lines[row]),
            value=text,
            remedy="Write it as a number, in degrees or metres.",
        )
    return number
