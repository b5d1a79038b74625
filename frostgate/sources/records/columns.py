"""Tables with one row a day and a column of minima: the archive's Access form, and any plain table.

Only the bulk Access form and a unit in the column's name state the unit; it is never guessed.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from frostgate.errors import InputError, UnstatedUnitError
from frostgate.sources.records.delimited import (
    TextTable,
    parse_days,
    parse_numbers,
    plain_name,
    read_table,
    require_whole_tenths,
)
from frostgate.sources.records.merging import merge, no_minimum
from frostgate.sources.records.readings import Mask, Readings, UnitHint, agree_on_unit, require_unit
from frostgate.sources.records.splitting import split_line
from frostgate.sources.records.station_columns import describe_station, keep_station
from frostgate.terms import DailyMinima
from frostgate.terms.arrays import Dates, Floats
from frostgate.units import COLDEST_C, HOTTEST_C, fahrenheit

_MINIMUM = re.compile(
    r"""(?: t[_ ]?min | temp(?:erature)?[_ ]min | min[_ ]?temp(?:erature)? | minimum(?:[ _]temperature)?
          | temperature_2m_min )
        (?: [ _]* [(\[]? [ ]* (?: [°º] | deg(?:rees)?[ _]? | (?<![a-z]) ) [ ]*
            (?P<unit> f | c | fahrenheit | celsius ) [ ]* [)\]]? )?""",
    re.IGNORECASE | re.VERBOSE,
)
_ACCESS_ORDER = ("STATION", "DATE", "LATITUDE", "LONGITUDE", "ELEVATION", "NAME")
_PADDED = r"(?=.{5}$) *-?\d+"  # whole tenths, five characters wide
_FAILED = r"[^,]*,\s*[^,\s].*"  # attributes are "M,Q,S" or "M,Q,S,hhmm": the second is the quality flag


def looks_like_access(head: str) -> bool:
    """Tell whether a file's first line is the header of an Access or CDO table.

    Examples
    --------
    >>> looks_like_access('"STATION","NAME","DATE","TMIN"'), looks_like_access("date,tmin_c")
    (True, False)
    """
    return {"STATION", "DATE"} <= set(split_line(head))


def looks_like_table(head: str) -> bool:
    """Tell whether a file's first line could be the header of a plain table.

    Examples
    --------
    >>> looks_like_table("date,tmin_c"), looks_like_table("no table")
    (True, False)
    """
    return len(split_line(head)) > 1


def parse_columns(
    content: bytes,
    path: Path,
    *,
    unit: UnitHint | None = None,
    station: str | None = None,
    drop_contradictions: bool = False,
) -> DailyMinima:
    r"""Read the minima of one station from a table with one row a day.

    Parameters
    ----------
    content
        The file's bytes, lines ending in a line feed.
    path
        The file, for messages; its name stands in for the station where no column does.
    unit
        Of the minima, where the file does not state it.
    station
        Which station to take, if there are several.

    Raises
    ------
    InputError
        Where the columns of date or minimum are missing, the unit is not known, or a row cannot be read.

    Examples
    --------
    >>> table = b"\n".join([b"date,tmin_f", b"2026-04-01,28", b"2026-04-02,NA"])
    >>> minima = parse_columns(table, Path("garden.csv"))
    >>> minima.station.id, minima.tmin_c
    ('garden', array([-2.2,  nan]))
    """
    table = read_table(content, path)
    column, stated = _find_minima(table, unit)
    place, table, notes = keep_station(table, station, {"station", "stationid"})
    dates = _parse_dates(table)
    degrees = parse_numbers(table, column)
    if np.isnan(degrees).all():
        raise no_minimum(path)
    unit = _settle_unit(table, column, stated, _metric_of_the_archive(table, degrees, unit))
    if unit == "tenths-C":
        degrees = require_whole_tenths(table, column, degrees)
    readings = Readings(
        path=path,
        unit=unit,
        dates=dates,
        degrees=degrees,
        flagged=_failed(table, column) & np.isfinite(degrees),
        lines=table.lines,
    )
    place, moved = describe_station(place, table, dates)
    return merge(readings, place, [*notes, *moved], drop_contradictions=drop_contradictions)


def _find_minima(table: TextTable, told: UnitHint | None) -> tuple[int, UnitHint | None]:
    """Find the column of minima, and the unit that its name states."""
    named = ((column, _MINIMUM.fullmatch(name)) for column, name in enumerate(table.names))
    found = [(column, _unit_of(match)) for column, match in named if match]
    if len(found) > 1:
        found = [(column, stated) for column, stated in found if stated == told] or found
    if len(found) == 1:
        return found[0]
    if not found:
        raise _missing_column(table, "minima", "tmin_c or tmin_f")
    raise UnstatedUnitError(
        f"several columns of minima: {', '.join(table.names[column] for column, _ in found)}",
        file=table.path,
        remedy="Say --unit F or --unit C to pick one, or remove the others.",
    )


def _unit_of(match: re.Match[str]) -> UnitHint | None:
    letter = (match["unit"] or "")[:1].upper()
    return "F" if letter == "F" else "C" if letter == "C" else None


def _settle_unit(table: TextTable, column: int, stated: UnitHint | None, told: UnitHint | None) -> UnitHint:
    if stated is None and _states_tenths(table, column):
        stated = "tenths-C"
    return agree_on_unit(stated, told, table.path) if stated else require_unit(told, table.path)


def _metric_of_the_archive(table: TextTable, degrees: Floats, told: UnitHint | None) -> UnitHint | None:
    """Take °C for tenths in the archive's own form, where whole numbers can be no degrees, °C or °F."""
    known = degrees[np.isfinite(degrees)]
    whole = bool((known == np.round(known)).all())
    in_archive_form = {"STATION", "DATE"} <= set(table.names)
    beyond_nature = bool(known.max() > fahrenheit(HOTTEST_C) or known.min() < fahrenheit(COLDEST_C))
    return "tenths-C" if told == "C" and in_archive_form and whole and beyond_nature else told


def _states_tenths(table: TextTable, column: int) -> bool:
    """Tell whether this is the bulk Access form, by its order of columns, its flags and its padded values."""
    if table.names[: len(_ACCESS_ORDER)] != _ACCESS_ORDER or _find_attributes(table, column) is None:
        return False
    written = table.cells.iloc[:, column]
    written = written[written.str.strip() != ""]
    return len(written) > 0 and bool(written.str.fullmatch(_PADDED).all())


def _find_attributes(table: TextTable, column: int) -> int | None:
    return table.find({plain_name(table.names[column]) + "attributes"})


def _failed(table: TextTable, column: int) -> Mask:
    """Tell which rows failed a quality check."""
    attributes = _find_attributes(table, column)
    if attributes is None:
        return np.zeros(table.lines.size, dtype=bool)
    text = table.text(attributes)
    unclear = (text != "") & ~text.str.contains(",", regex=False)
    table.refuse(unclear.to_numpy(dtype=bool), text, "attributes that are not M,Q,S", "Fetch the file again.")
    failed: Mask = text.str.fullmatch(_FAILED).to_numpy(dtype=bool)
    return failed


def _parse_dates(table: TextTable) -> Dates:
    column = table.find({"date"})
    if column is not None:
        return parse_days(table, table.text(column))
    parts = [table.find({part}) for part in ("year", "month", "day")]
    texts = [table.text(part) for part in parts if part is not None]
    if len(texts) < len(parts):
        raise _missing_column(table, "dates", "date, or year, month and day")
    return parse_days(table, texts[0] + "-" + texts[1].str.zfill(2) + "-" + texts[2].str.zfill(2))


def _missing_column(table: TextTable, meaning: str, names: str) -> InputError:
    return InputError(
        f"no column of {meaning}; the columns are {', '.join(table.names)}",
        file=table.path,
        remedy=f"Name it {names} in the file's first line.",
    )
