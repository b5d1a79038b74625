"""GHCN-Daily fixed-width files (``.dly``): one line a month and element, read as raw bytes.

The layout is that of the archive's readme, section III: station 1-11, year 12-15, month 16-17, element 18-21,
then for each of 31 days a value of 5 characters and the flags M, Q and S of one each. Values are tenths of a
degree Celsius; -9999 is missing, and so are the days that a month does not have.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import numpy.typing as npt

from frostgate.errors import InputError
from frostgate.model.records import DailyMinima, Station
from frostgate.seasons import Dates, Ints
from frostgate.sources.records.rows import Mask, Readings, UnitHint, agree_on_unit, merge, pick_station

Bytes = npt.NDArray[np.uint8]
Words = npt.NDArray[np.uint64]

_EACH = np.uint64(0x01_01_01_01_01)  # the lowest bit of each of the five characters
_FIVE = np.uint64(0xFF_FF_FF_FF_FF)
_LAST = np.uint64(0x01_00_00_00_00)
_TEN = np.uint64(10)


def parse_five_characters(cells: Bytes) -> tuple[Ints, Mask]:
    """Read the number in the first five bytes of each cell: blanks, perhaps a minus, digits up to the end."""
    words = cells.view("<u8")[..., 0] & _FIVE
    digit = (
        words >> np.uint64(4)
    ) & _EACH  # of "0-9", "-" and " " (0x30-0x39, 0x2d, 0x20) only digits have it
    minus = words & ~digit & _EACH  # and of the other two only "-" is odd
    figures = words & (digit * np.uint64(0x0F))
    numbers = _join(figures).astype(np.int64)
    return np.where(minus != 0, -numbers, numbers), _is_number(words, digit, minus, figures)


def _join(figures: Words) -> Words:
    """Put the five figures of each word together: pairs first, then pairs of pairs."""
    figures = figures << np.uint64(24)  # as eight figures, the first three of them 0
    pairs = (figures * _TEN + (figures >> np.uint64(8))) & np.uint64(0x00FF00FF00FF00FF)
    fours = (pairs * np.uint64(100) + (pairs >> np.uint64(16))) & np.uint64(0x0000FFFF0000FFFF)
    return (fours * np.uint64(10_000) + (fours >> np.uint64(32))) & np.uint64(0xFFFFFFFF)


def _is_number(words: Words, digit: Words, minus: Words, figures: Words) -> Mask:
    spelled = _EACH * np.uint64(0x20) + digit * np.uint64(0x10) + minus * np.uint64(0x0D) + figures
    above_nine = (figures + _EACH * np.uint64(6)) & (_EACH * np.uint64(0x10))
    begun = ((digit | minus) << np.uint64(8)) & _EACH
    broken_off = (
        begun | _LAST
    ) & ~digit  # behind a digit or a minus stands a digit, and so does it at the end
    valid: Mask = ((spelled ^ words) | above_nine | broken_off) == 0
    return valid


WIDTH = 269
_DAYS = 31
_LINE_FEED, _BLANK, _ZERO = b"\n 0"
_LAST_VALUE_END = 266  # what stands behind it are three flags
_MISSING = -9999
_MONTHS_OF_FIGURES = np.array([12_000, 1200, 120, 12, 10, 1])  # of a year's four figures and a month's two
_FIRST_LINE = re.compile(r"[A-Z]{2}[A-Z0-9_-]{9}\d{6}[A-Z][A-Z0-9]{3}[ \d-]")


def looks_like_dly(head: str) -> bool:
    """Return whether a file's first line is a month of a GHCN-Daily station."""
    return _FIRST_LINE.match(head) is not None


def parse_dly(
    content: bytes,
    path: Path,
    *,
    unit: UnitHint | None = None,
    station: str | None = None,
    drop_contradictions: bool = False,
) -> DailyMinima:
    """Read the minima of one station from the bytes of a ``.dly`` file, whatever other elements it holds."""
    stated = agree_on_unit("tenths-C", unit, path)
    table, lines = _lay_out(content, path)
    _refuse_garbled_heads(table, lines, path)
    name, own = _rows_of_station(table, station, path)
    minima = own & (_fields(table, 17, 21) == b"TMIN")
    if not minima.any():
        elements = np.unique(_fields(table[own], 17, 21))
        raise InputError(
            f"holds no TMIN of {name}, only {b', '.join(elements).decode()}",
            file=path,
            remedy="Take a station that measures minima.",
        )
    readings = _readings(table[minima], lines[minima], path, stated)
    return merge(readings, Station(id=name), drop_contradictions=drop_contradictions)


def _lay_out(content: bytes, path: Path) -> tuple[Bytes, Ints]:
    """Lay the lines under each other, shape (lines, 269), with their numbers."""
    raw = np.frombuffer(content if content.endswith(b"\n") else content + b"\n", np.uint8)
    months, rest = divmod(raw.size, WIDTH + 1)
    if rest == 0:
        table = raw.reshape(months, WIDTH + 1)
        if bool((table[:, WIDTH] == _LINE_FEED).all()) and np.count_nonzero(raw == _LINE_FEED) == months:
            return table[:, :WIDTH], np.arange(1, months + 1)
    return _lay_out_line_by_line(content, path)


def _lay_out_line_by_line(content: bytes, path: Path) -> tuple[Bytes, Ints]:
    """Do the same for files with blank lines or without trailing blanks, and name the line that is wrong."""
    full = {
        number: _fill_up(line, number, path)
        for number, line in enumerate(content.split(b"\n"), start=1)
        if line.strip()
    }
    table = np.frombuffer(b"".join(full.values()), np.uint8).reshape(len(full), WIDTH)
    return table, np.array(list(full), dtype=np.int64)


def _fill_up(line: bytes, number: int, path: Path) -> bytes:
    """Return a line back the trailing blanks that an editor took away; refuse a line that lost more."""
    text = line.rstrip()
    if len(text) > WIDTH:
        fault = f"a line of {len(text)} characters, where a month has {WIDTH}"
    elif len(text) < _LAST_VALUE_END or (len(line) < WIDTH and _has_lost_flags(text)):
        fault = f"a line cut short after {len(line)} of {WIDTH} characters"
    else:
        return text.ljust(WIDTH)
    shown = line[:21].decode("ascii", "replace")
    raise InputError(fault, file=path, line=number, value=shown, remedy="Fetch the file again.")


def _has_lost_flags(text: bytes) -> bool:
    """Return whether day 31 has a value but no source flag, though other days of the month have one."""
    measured = text[_LAST_VALUE_END - 5 : _LAST_VALUE_END] != b"-9999"
    return measured and bool(text[28 : 28 + 8 * (_DAYS - 1) : 8].strip())


def _refuse_garbled_heads(table: Bytes, lines: Ints, path: Path) -> None:
    columns = np.ascontiguousarray(table[:, 11:21].T)
    year_month, element = columns[:6] - _ZERO, columns[6:]
    month = year_month[4] * 10 + year_month[5]
    sound = (year_month < 10).all(axis=0) & (month >= 1) & (month <= 12)
    sound &= ((element - ord("A") < 26) | (element - _ZERO < 10)).all(axis=0)
    if not sound.all():
        row = int(np.argmin(sound))
        raise InputError(
            "a line that does not begin with station, year, month and element",
            file=path,
            line=int(lines[row]),
            value=_text(table[row, :21]),
            remedy="Fetch the file again.",
        )


def _rows_of_station(table: Bytes, wanted: str | None, path: Path) -> tuple[str, Mask]:
    ids = table[:, :11]
    if bool((ids == ids[0]).all()):
        name = pick_station([_text(ids[0])], wanted, path)
        return name, np.ones(len(table), dtype=bool)
    each = _fields(table, 0, 11)
    name = pick_station([_text(found) for found in np.unique(each)], wanted, path)
    return name, each == name.encode()


def _readings(table: Bytes, lines: Ints, path: Path, unit: UnitHint) -> Readings:
    cells = np.ascontiguousarray(table[:, 21:]).reshape(-1, _DAYS, 8)
    tenths, valid = parse_five_characters(cells)
    _refuse_what_is_no_number(~valid, cells, lines, path)
    missing = tenths == _MISSING
    dates, exists = _days_of_months(table)
    _refuse_impossible_days(~exists & ~missing, dates, tenths, lines, path)
    real = np.flatnonzero(exists)
    return Readings(
        path=path,
        unit=unit,
        dates=dates.ravel()[real],
        degrees=np.where(missing, np.nan, tenths).ravel()[real],
        flagged=(~missing & (cells[:, :, 6] != _BLANK)).ravel()[real],
        lines=lines[real // _DAYS],
    )


def _refuse_what_is_no_number(invalid: Mask, cells: Bytes, lines: Ints, path: Path) -> None:
    if invalid.any():
        month, day = np.argwhere(invalid)[0]
        raise InputError(
            f"the minimum of day {day + 1} is no whole number",
            file=path,
            line=int(lines[month]),
            value=_text(cells[month, day, :5]),
            remedy="Fetch the file again.",
        )


def _days_of_months(table: Bytes) -> tuple[Dates, Mask]:
    """Return 31 days to each month, and tell which of them exist, each of shape (months, 31)."""
    months = (table[:, 11:17] - _ZERO) @ _MONTHS_OF_FIGURES - 1970 * 12 - 1
    months = months.astype("datetime64[M]")
    starts = months.astype("datetime64[D]")
    lengths = ((months + 1).astype("datetime64[D]") - starts).astype(np.int64)
    day = np.arange(_DAYS)
    return starts[:, None] + day, day < lengths[:, None]


def _refuse_impossible_days(impossible: Mask, dates: Dates, tenths: Ints, lines: Ints, path: Path) -> None:
    if impossible.any():
        month, day = np.argwhere(impossible)[0]
        raise InputError(
            f"a minimum on day {day + 1} of {str(dates[month, 0])[:7]}, which does not exist",
            file=path,
            line=int(lines[month]),
            value=tenths[month, day],
            remedy="Fetch the file again.",
        )


def _fields(table: Bytes, start: int, end: int) -> npt.NDArray[np.bytes_]:
    return np.ascontiguousarray(table[:, start:end]).view(f"S{end - start}").ravel()


def _text(characters: Bytes | np.bytes_) -> str:
    return characters.tobytes().decode("ascii", "replace")
