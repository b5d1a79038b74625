"""Delimited tables of daily minima: any with a date and a column of minima, and the archive's own.

GHCN-Daily's by-station and by-year files have one row a day and element, values in tenths of °C, with or
without a header: ``ID,YYYYMMDD,ELEMENT,VALUE,MFLAG,QFLAG,SFLAG,OBSTIME``.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Collection
from dataclasses import replace
from pathlib import Path

import numpy as np

from frostgate.errors import InputError, UnstatedUnitError
from frostgate.files import decode
from frostgate.model.records import Station
from frostgate.seasons import Dates, Floats
from frostgate.sources.records.contradictions import Mask, Readings, UnitHint, agree_on_unit, pick_station
from frostgate.sources.text import Table, plain_name, read_table, split_line, split_lines
from frostgate.units import COLDEST_C, HOTTEST_C, fahrenheit

_MINIMUM = re.compile(
    r"""(?: t[_ ]?min | temp(?:erature)?[_ ]min | min[_ ]?temp(?:erature)? | minimum(?:[ _]temperature)?
          | temperature_2m_min )
        (?: [ _]* [(\[]? [ ]* (?: [°º] | deg(?:rees)?[ _]? | (?<![a-z]) ) [ ]*
            (?P<unit> f | c | fahrenheit | celsius ) [ ]* [)\]]? )?""",
    re.IGNORECASE | re.VERBOSE,
)
_MAXIMUM = re.compile(_MINIMUM.pattern.replace("min", "max"), re.IGNORECASE | re.VERBOSE)
_STATION = {"station", "stationid"}
_DATES = (("date",), ("yyyymmdd",), ("yearmonthday",), ("year", "month", "day"))  # any one of these will do
_DAY = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})|(\d{4})(\d\d)(\d\d)", re.ASCII)
_LIMITS = {"latitude": 90.0, "longitude": 180.0, "elevation": 9000.0}  # degrees, degrees, metres
_UNKNOWN_M = -999.9  # as the archive's station list writes an unknown elevation (from memory)

_ACCESS_ORDER = ("STATION", "DATE", "LATITUDE", "LONGITUDE", "ELEVATION", "NAME")
_PADDED = re.compile(r"(?=.{5}$) *-?\d+")  # whole tenths, five characters wide

_ELEMENT_ORDER = ("ID", "DATE", "ELEMENT", "VALUE", "M_FLAG", "Q_FLAG", "S_FLAG", "OBS_TIME")
_HEADLESS = r"[A-Z]{2}[A-Z0-9_-]{9}", r"\d{4}-?\d{2}-?\d{2}", r"[A-Z][A-Z0-9]{3}", r"-?\d+"
_ELEMENT = {"element", "attr", "attribute", "datatype"}
_VALUE = {"value", "datavalue"}
_QUALITY = {"q", "qflag", "qualityflag"}
_LETTERED = ("a", "b", "c", "d")  # measurement, quality, source, time of observation

_CLEAR = {"clearcalm", "clearandcalm", "clearcalmnight", "clearnight", "clear"}
_YES = ("YES", "Y", "TRUE", "1", "X")
_NO = ("NO", "N", "FALSE", "0", "")  # the column marks the clear calm nights, so a blank marks none


def looks_like_access(head: str) -> bool:
    """Return whether a file's first line is the header of an Access or CDO table."""
    return {"STATION", "DATE"} <= set(split_line(head))


def looks_like_table(head: str) -> bool:
    """Return whether a file's first line could be the header of a plain table."""
    return len(split_line(head)) > 1


def looks_like_element_rows(head: str) -> bool:
    """Return whether a file's first line is a row of one element, or a header that names such rows."""
    plain = {plain_name(field) for field in split_line(head)}
    needed = ({"date", "yyyymmdd", "yearmonthday"}, _ELEMENT, _VALUE)
    return _is_headless(head) or all(plain & names for names in needed)


def _is_headless(head: str) -> bool:
    fields = split_line(head)
    forms = zip(_HEADLESS, fields, strict=False)
    return len(fields) >= len(_HEADLESS) and all(re.fullmatch(form, field) for form, field in forms)


def parse_columns(content: bytes, path: Path, unit: UnitHint | None, station: str | None) -> Readings:
    """Read the minima of one station from a table with one row a day."""
    table = _read_days(content, path)
    column, stated = _find_minima(table, unit)
    place, table, notes = _keep_station(table, station, _STATION)
    attributes = table.find({f"{plain_name(table.names[column])}attributes"})
    if stated is None and attributes is not None and _is_padded(table, column):
        stated = "tenths-C"
    dates, degrees = parse_dates(table), table.numbers(column)
    place, moved = _describe(place, table, dates)
    return Readings(
        path=path,
        station=place,
        unit=agree_on_unit(stated, _metric_of_the_archive(table, degrees, unit), path),
        dates=dates,
        degrees=degrees,
        flagged=np.zeros(dates.size, dtype=bool) if attributes is None else _failed(table, attributes),
        lines=np.array(table.lines),
        notes=[*notes, *moved],
        above_maxima=_share_above_maxima(table, column, degrees),
    )


def _share_above_maxima(table: Table, column: int, minima: Floats) -> float:
    """Return on which share of the days with both the minimum lies above the table's own maximum."""
    unit = (_MINIMUM.fullmatch(table.names[column]) or {"unit": None})["unit"]
    named = [_MAXIMUM.fullmatch(name) for name in table.names]
    of_unit = [at for at, match in enumerate(named) if match is not None and match["unit"] == unit]
    if not of_unit:
        return 0.0
    texts = [text.replace("−", "-") for text in table.text(of_unit[0])]
    maxima = np.array([float(text) if re.fullmatch(r"-?\d+(\.\d*)?", text) else np.nan for text in texts])
    both = np.isfinite(minima + maxima)
    return float((minima[both] > maxima[both]).mean()) if both.any() else 0.0


def parse_element_rows(content: bytes, path: Path, unit: UnitHint | None, station: str | None) -> Readings:
    """Read the TMIN rows of one station from a table with one row a day and element."""
    table = _read_days(content, path)
    place, table, notes = _keep_station(table, station, {"id", *_STATION})
    element, value = (
        next(column for column, name in enumerate(table.names) if plain_name(name) in wanted)
        for wanted in (_ELEMENT, _VALUE)
    )
    quality, elements = _find_quality(table, value), table.text(element)
    if "TMIN" not in elements:
        what = f"holds no TMIN, only {', '.join(sorted(set(elements)))}"
        raise InputError(what, file=path, remedy="Take a station that measures minima.")
    table = table.where([one == "TMIN" for one in elements])
    if quality is None:
        notes.append("the file has no quality flags")
    return Readings(
        path=path,
        station=place,
        unit=agree_on_unit("tenths-C", unit, path),
        dates=parse_dates(table),
        degrees=table.numbers(value),
        flagged=np.array([quality is not None and row[quality].strip() != "" for row in table.rows]),
        lines=np.array(table.lines),
        notes=notes,
    )


def clear_nights(content: bytes, path: Path, dates: Dates) -> Mask | None:
    """Return which dates a column of a table marks as clear and calm nights; None without such a column."""
    table = read_table(split_lines(decode(content, path), path), path)
    column = table.find(_CLEAR)
    if column is None:
        return None
    marks: dict[np.datetime64, bool] = {}
    for row, (day, text) in enumerate(zip(parse_dates(table), table.text(column), strict=True)):
        clear = text.upper() in _YES
        if not clear and text.upper() not in _NO:
            remedy = "Write yes for a clear calm night, or no."
            raise table.spot(row).fault("a mark that is neither yes nor no", text, remedy)
        if marks.setdefault(day, clear) != clear:
            what = "a morning marked clear and calm on one line, and not on another"
            raise table.spot(row).fault(what, text, "Correct one of them.")
    return np.array([marks.get(day, False) for day in dates])


def parse_dates(table: Table) -> Dates:
    """Read the day of each row, such as 2026-04-01 or 20260401, or from a year, a month and a day."""
    for names in _DATES:
        columns = [column for name in names if (column := table.find({name})) is not None]
        if len(columns) == len(names):
            break
    else:
        raise _missing_column(table, "dates", "date, or year, month and day")
    days = []
    for row, cells in enumerate(zip(*map(table.text, columns), strict=True)):
        match = _DAY.fullmatch("-".join(cells))
        try:
            days.append(dt.date(*map(int, filter(None, match.groups() if match else ()))))
        except (ValueError, TypeError):  # no such day, or none at all
            raise table.spot(row).fault("not a date", "-".join(cells), "Write it as YYYY-MM-DD.") from None
    return np.array(days, dtype="datetime64[D]")


def _read_days(content: bytes, path: Path) -> Table:
    """Read a table of days, of which there must be one; rows of elements may have no header."""
    lines = split_lines(decode(content, path), path)
    head = next(line for line in lines if line.strip())
    names = _ELEMENT_ORDER[: len(split_line(head))] if _is_headless(head) else None
    table = read_table(lines, path, names=names)
    if not table.rows:
        remedy = "Take a file that holds daily values."
        raise InputError("a header and nothing below it", file=path, remedy=remedy)
    return table


def _keep_station(
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


def _is_padded(table: Table, column: int) -> bool:
    """Whether this is the bulk Access form, which has tenths, by its order of columns and padded values."""
    written = [row[column] for row in table.rows if row[column].strip()]
    in_order = table.names[: len(_ACCESS_ORDER)] == _ACCESS_ORDER
    return in_order and all(_PADDED.fullmatch(cell) for cell in written)


def _failed(table: Table, attributes: int) -> Mask:
    """Tell which rows failed a check: attributes are "M,Q,S" or "M,Q,S,hhmm", Q being the quality flag."""
    flags = [text.split(",") for text in table.text(attributes)]
    for row, (first, *rest) in enumerate(flags):
        if first and not rest:
            what = "attributes that are not M,Q,S"
            raise table.spot(row).fault(what, first, "Fetch the file again.")
    return np.array([len(each) > 1 and each[1].strip() != "" for each in flags])


def _find_quality(table: Table, value: int) -> int | None:
    """Find the column of quality flags; None where nothing stands behind the value."""
    named = table.find(_QUALITY)
    behind = tuple(plain_name(name) for name in table.names[value + 1 :])
    if named is not None or not behind:
        return named
    if len(behind) > 1 and behind == _LETTERED[: len(behind)]:
        return value + 2
    raise _missing_column(table, "quality flags", "Q_FLAG")


def _describe(station: Station, table: Table, dates: Dates) -> tuple[Station, list[str]]:
    """Add what the columns tell of a station: its name, and where it stands, or stood last if it moved."""
    latest, name, moved = int(np.argmax(dates)), table.find({"name"}), False
    place: dict[str, float | None] = dict.fromkeys(_LIMITS)
    for part, most in _LIMITS.items():
        column = table.find({part})
        if column is None:
            continue
        moved |= len(set(table.text(column))) > 1
        number = table.number(latest, column)
        if abs(number) > most:
            what, remedy = f"no place on earth has this {part}", "Write it as a number, in degrees or metres."
            raise table.spot(latest).fault(what, f"{number:g}", remedy)
        place[part] = None if np.isnan(number) else number
    described = replace(
        station,
        name=None if name is None else table.rows[latest][name].strip() or None,
        latitude=place["latitude"],
        longitude=place["longitude"],
        elevation_m=None if place["elevation"] == _UNKNOWN_M else place["elevation"],
    )
    return described, ["the station moved within the record; its last place is kept"] if moved else []
