"""Tables of daily minima: any table with a date and a TMIN column, and the archive's own."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from frostgate.errors import InputError, UnstatedUnitError
from frostgate.files import decode
from frostgate.model.records import DailyMinima, Station
from frostgate.seasons import Dates, Floats, Ints
from frostgate.sources.records.rows import (
    MISSING_TENTHS,
    Mask,
    Readings,
    UnitHint,
    agree_on_unit,
    merge,
    name_by_file,
    no_minimum,
    pick_station,
    require_unit,
)
from frostgate.units import COLDEST_C, HOTTEST_C, fahrenheit

if TYPE_CHECKING:
    import pandas as pd

SEPARATORS = ";\t,"
_QUOTE, _LINE_FEED = b'"\n'


def find_separator(line: str) -> str:
    """Tell what separates the fields of a line: what stands in it most often, outside quotation marks."""
    bare = re.sub(r'"[^"]*"', "", line)
    return max(SEPARATORS, key=bare.count)


def split_line(line: str) -> list[str]:
    """Split one line into its fields, without quotation marks and surrounding blanks."""
    fields = next(csv.reader([line], delimiter=find_separator(line)), [])
    return [field.strip() for field in fields]


def refuse_ragged(text: str, separator: str, above: int, path: Path) -> None:
    r"""Refuse rows of unequal width, which pandas would fill up in silence, and rows of several lines."""
    raw = np.frombuffer((text if text.endswith("\n") else text + "\n").encode(), np.uint8)
    quoted = np.logical_xor.accumulate(raw == _QUOTE)
    ends = np.flatnonzero(raw == _LINE_FEED)
    widths = np.diff(np.searchsorted(np.flatnonzero((raw == ord(separator)) & ~quoted), ends), prepend=0)
    even = not quoted[ends].any() and (widths == widths[0]).all()
    if not (even and _quotes_whole_fields(raw, separator)):
        _name_ragged_row(text, separator, above, path)


def _quotes_whole_fields(raw: npt.NDArray[np.uint8], separator: str) -> bool:
    """Return whether every quotation mark stands at the edge of a field, or is doubled."""
    marks = np.flatnonzero(raw == _QUOTE)
    beside = raw[
        np.append(marks[::2] - 1, marks[1::2] + 1)
    ]  # raw[-1] is a line feed, as before the first row
    return bool(np.isin(beside, np.frombuffer(f'{separator}\n"'.encode(), np.uint8)).all())


def _name_ragged_row(text: str, separator: str, above: int, path: Path) -> None:
    width = 0
    for line, row in _split_rows(text, separator):
        width = width or len(row or ())
        if row is None:
            what, remedy = "a quotation mark out of place or never closed", "Close it, or remove it."
        elif len(row) > width or (len(row) < width and "".join(row).strip()):
            what = f"a row of {len(row)} fields, where the header has {width}"
            remedy = "Correct the line, or fetch the file again."
        else:
            continue
        shown = text.split("\n")[line - 1]
        raise InputError(what, file=path, line=above + line, value=shown, remedy=remedy)


def _split_rows(text: str, separator: str) -> Iterator[tuple[int, list[str] | None]]:
    """Return each row with its line; None for a row whose quotation marks reach beyond its line."""
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    while True:
        line = rows.line_num + 1
        try:
            row = next(rows, [])
        except csv.Error:
            row = None
        if rows.line_num < line and row is not None:
            return
        yield line, row if rows.line_num == line else None


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
    """Return whether a file's first line is the header of an Access or CDO table."""
    return {"STATION", "DATE"} <= set(split_line(head))


def looks_like_table(head: str) -> bool:
    """Return whether a file's first line could be the header of a plain table."""
    return len(split_line(head)) > 1


def parse_columns(
    content: bytes,
    path: Path,
    *,
    unit: UnitHint | None = None,
    station: str | None = None,
    drop_contradictions: bool = False,
) -> DailyMinima:
    r"""Read the minima of one station from a table with one row a day."""
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
    """Whether this is the bulk Access form, by its order of columns, its flags and its padded values."""
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


MISSING_WORDS = ("", "NA", "N/A", "NAN", "NULL")  # as spreadsheets and statistics packages write it

_DATE = r"[0-9]{4}-[0-9]{1,2}-[0-9]{1,2}|[0-9]{8}"
_BLANK_LINES = re.compile(r"(?:[^\S\n]*\n)*")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TextTable:
    r"""Columns of text.

    Parameters
    ----------
    path
        The file.
    separator
        What stands between two fields.
    names
        The columns, as the file's first line names them.
    cells
        The text as it stands, shape (rows, columns).
    lines
        Where each row stands, counted from 1 as an editor does, shape (rows,).
    """

    path: Path
    separator: str
    names: tuple[str, ...]
    cells: pd.DataFrame
    lines: Ints

    def text(self, column: int) -> pd.Series[str]:
        """Return a column without surrounding blanks."""
        stripped: pd.Series[str] = self.cells.iloc[:, column].str.strip()
        return stripped

    def find(self, wanted: Collection[str]) -> int | None:
        """Find the column with one of some plain names; None without one."""
        found = [column for column, name in enumerate(self.names) if plain_name(name) in wanted]
        if len(found) > 1:
            raise InputError(
                f"two columns of one meaning, {self.names[found[0]]} and {self.names[found[1]]}",
                file=self.path,
                remedy="Remove or rename one of them.",
            )
        return found[0] if found else None

    def where(self, keep: Mask) -> TextTable:
        """Return some of the rows."""
        return replace(self, cells=self.cells[keep].reset_index(drop=True), lines=self.lines[keep])

    def refuse(self, bad: Mask, text: pd.Series[str], what: str, remedy: str) -> None:
        """Raise an error at the first bad row, if there is one."""
        if bad.any():
            row = int(np.argmax(bad))
            line, value = int(self.lines[row]), text.iloc[row]
            raise InputError(what, file=self.path, line=line, value=value, remedy=remedy)


def read_table(content: bytes, path: Path, names: tuple[str, ...] | None = None) -> TextTable:
    """Split delimited text into columns; blank lines are passed over."""
    import pandas as pd  # here, since the morning command must not load it

    text = decode(content, path)
    body = _BLANK_LINES.sub("", text, count=1)
    above = text.count("\n") - body.count("\n")
    separator = find_separator(body.partition("\n")[0])
    refuse_ragged(body, separator, above, path)
    cells = pd.read_csv(
        io.StringIO(body),
        sep=separator,
        header=None,
        dtype=str,
        keep_default_na=False,
        skip_blank_lines=False,
    )
    lines = np.arange(len(cells)) + above + 1
    if names is None:
        names = tuple(str(name).strip() for name in cells.iloc[0])
        cells, lines = cells.iloc[1:].reset_index(drop=True), lines[1:]
    return _without_blank_rows(
        TextTable(path=path, separator=separator, names=names, cells=cells, lines=lines)
    )


def parse_days(table: TextTable, text: pd.Series[str]) -> Dates:
    r"""Turn text such as 2026-04-01 or 20260401 into days, shape (rows,)."""
    import pandas as pd  # here, since the morning command must not load it

    dashed = pd.to_datetime(text, format="%Y-%m-%d", errors="coerce")
    compact = pd.to_datetime(text, format="%Y%m%d", errors="coerce")
    days: Dates = dashed.fillna(compact).to_numpy().astype("datetime64[D]")
    unclear = ~text.str.fullmatch(_DATE).to_numpy(dtype=bool)  # pandas itself would take "2026-04- 1"
    table.refuse(np.isnat(days) | unclear, text, "not a date", "Write it as YYYY-MM-DD.")
    return days


def parse_numbers(table: TextTable, column: int) -> Floats:
    r"""Turn a column of minima into numbers, NaN where missing, shape (rows,)."""
    import pandas as pd  # here, since the morning command must not load it

    text = table.text(column)
    missing = text.str.upper().isin(MISSING_WORDS).to_numpy(dtype=bool)
    plain = text.str.replace("−", "-", regex=False)
    if table.separator != ",":
        plain = plain.str.replace(",", ".", regex=False)
    numbers: Floats = pd.to_numeric(plain, errors="coerce").to_numpy(dtype=np.float64, copy=True)
    numbers[missing] = np.nan
    table.refuse(
        ~missing & ~np.isfinite(numbers),
        text,
        "a minimum that is no number",
        "Write bare numbers, all in one unit, and NA where a day is missing.",
    )
    return numbers


def require_whole_tenths(table: TextTable, column: int, numbers: Floats) -> Floats:
    r"""Check that numbers can be tenths of a degree, and turn -9999 into NaN."""
    broken = np.isfinite(numbers) & (numbers != np.round(numbers))
    text = table.text(column)
    table.refuse(broken, text, "not a whole number of tenths of °C", "Check the unit of the file.")
    return np.where(numbers == MISSING_TENTHS, np.nan, numbers)


def plain_name(name: str) -> str:
    """Reduce a column's name to its letters and figures, in lower case."""
    return re.sub(r"[^a-z0-9]", "", name.lower())


def _without_blank_rows(table: TextTable) -> TextTable:
    blank = (table.text(0) == "").to_numpy(dtype=bool)
    if blank.any():
        blank = blank & (table.cells.iloc[:, 1:] == "").all(axis="columns").to_numpy(dtype=bool)
        table = table.where(~blank)
    if table.lines.size == 0:
        raise InputError(
            "a header and nothing below it", file=table.path, remedy="Take a file that holds daily values."
        )
    return table


_UNKNOWN_M = -999.9  # as the archive's station list writes an unknown elevation (from memory)
_LIMITS = {"latitude": 90.0, "longitude": 180.0, "elevation": 9000.0}  # degrees, degrees, metres


def keep_station(
    table: TextTable, wanted: str | None, id_names: Collection[str]
) -> tuple[Station, TextTable, list[str]]:
    r"""Keep one station's rows: those of the wanted one, or all, where there is but one."""
    column = table.find(id_names)
    if column is None:
        station, note = name_by_file(table.path, wanted)
        return station, table, [note]
    ids = table.text(column)
    table.refuse((ids == "").to_numpy(dtype=bool), ids, "a row without a station", "Write the station's id.")
    name = pick_station(sorted(ids.unique()), wanted, table.path)
    return Station(id=name), table.where((ids == name).to_numpy(dtype=bool)), []


def describe_station(station: Station, table: TextTable, dates: Dates) -> tuple[Station, list[str]]:
    r"""Add what the columns tell of a station: its name, and where it stands, or stood last if it moved."""
    latest = int(np.argmax(dates))
    columns = {part: table.find({part}) for part in ("name", *_LIMITS)}
    there = {part: column for part, column in columns.items() if column is not None}
    told = {part: table.text(column).iloc[latest] for part, column in there.items()}
    moved = any(len(set(table.text(column))) > 1 for part, column in there.items() if part in _LIMITS)
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
