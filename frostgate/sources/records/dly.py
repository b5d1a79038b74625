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
from frostgate.model.records import Station
from frostgate.seasons import Dates, Ints
from frostgate.sources.records.contradictions import (
    MISSING_TENTHS,
    Mask,
    Readings,
    UnitHint,
    agree_on_unit,
    pick_station,
)

Bytes = npt.NDArray[np.uint8]
Months = npt.NDArray[np.void]  # of the layout below, shape (lines,)

_DAYS = 31
_DAY = np.dtype([("value", "u1", 5), ("measurement", "u1"), ("quality", "u1"), ("source", "u1")])
_MONTH = np.dtype(
    [("station", "S11"), ("year_month", "u1", 6), ("element", "S4"), ("days", _DAY, _DAYS), ("end", "u1")]
)
_WIDTH = _MONTH.itemsize - 1  # without the line feed: 269
_LAST_VALUE_END = _WIDTH - 3  # what stands behind it are three flags
_LINE_FEED, _BLANK, _MINUS, _ZERO = b"\n -0"
MONTHS_COMPARED = 120
_FETCH = "Fetch the file again."


def looks_like_dly(head: str) -> bool:
    """Return whether a file's first line is a month of a GHCN-Daily station."""
    return re.match(r"[A-Z]{2}[A-Z0-9_-]{9}\d{6}[A-Z][A-Z0-9]{3}[ \d-]", head) is not None


def parse_dly(content: bytes, path: Path, unit: UnitHint | None, station: str | None) -> Readings:
    """Read the minima of one station, whatever other elements the file holds."""
    stated = agree_on_unit("tenths-C", unit, path)
    if b"\r" in content:
        content = content.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    months, lines = _lay_out(content, path)
    name = pick_station(
        [one.decode("ascii", "replace") for one in np.unique(months["station"])], station, path
    )
    own = months["station"] == name.encode()
    minima = own & (months["element"] == b"TMIN")
    if not minima.any():
        what = f"holds no TMIN of {name}, only {b', '.join(np.unique(months['element'][own])).decode()}"
        raise InputError(what, file=path, remedy="Take a station that measures minima.")
    plain = months.view(f"V{_MONTH.itemsize}")  # its rows are copied faster than those of named fields
    above_maxima = _share_above_maxima(months, minima, own & (months["element"] == b"TMAX"))
    months, lines = plain[minima].view(_MONTH), lines[minima]
    cells = months["days"]
    tenths, valid = parse_five_characters(cells["value"])
    if not valid.all():
        month, day = np.argwhere(~valid)[0]
        what, value = f"the minimum of day {day + 1} is no whole number", _text(cells["value"][month, day])
        raise InputError(what, file=path, line=int(lines[month]), value=value, remedy=_FETCH)
    dates, exists = _days_of_months(months)
    impossible = ~exists & (tenths != MISSING_TENTHS)
    if impossible.any():
        month, day = np.argwhere(impossible)[0]
        what = f"a minimum on day {day + 1} of {str(dates[month, 0])[:7]}, which does not exist"
        value = f"{tenths[month, day]}"
        raise InputError(what, file=path, line=int(lines[month]), value=value, remedy=_FETCH)
    return Readings(
        path=path,
        station=Station(id=name),
        unit=stated,
        dates=dates[exists],
        degrees=tenths[exists].astype(np.float64),
        flagged=cells["quality"][exists] != _BLANK,
        lines=np.broadcast_to(lines[:, None], exists.shape)[exists],
        above_maxima=above_maxima,
    )


def _share_above_maxima(months: Months, minima: Mask, maxima: Mask) -> float:
    """Return on which share of days the minimum lies above the maximum, by some months over all the years."""
    rows = [np.flatnonzero(which) for which in (minima, maxima)]
    of_minima, of_maxima = (
        np.ascontiguousarray(months["year_month"][row]).view("S6").ravel() for row in rows
    )
    _, *both_have = np.intersect1d(of_minima, of_maxima, return_indices=True)
    tenths = []
    for row, place in zip(rows, both_have, strict=True):
        cells = months["days"][row[place[:: max(place.size // MONTHS_COMPARED, 1)]]]
        values, valid = parse_five_characters(cells["value"])
        is_good = valid & (values != MISSING_TENTHS) & (cells["quality"] == _BLANK)
        tenths.append(np.where(is_good, values, np.nan))
    both = np.isfinite(tenths[0] + tenths[1])
    return float((tenths[0][both] > tenths[1][both]).mean()) if both.any() else 0.0


def parse_five_characters(cells: Bytes) -> tuple[Ints, Mask]:
    """Read numbers of five characters, shape (..., 5): blanks, perhaps a minus, digits up to the end."""
    characters = np.ascontiguousarray(np.moveaxis(cells, -1, 0))
    digits = characters - _ZERO  # what is no digit is above 9, since bytes wrap around
    digit, minus, blank = digits < 10, characters == _MINUS, characters == _BLANK
    sound = blank[:-1] | ((minus | digit)[:-1] & digit[1:])  # behind a minus or a digit stands a digit
    numbers = np.zeros(characters.shape[1:], dtype=np.int64)
    for figures in np.where(digit, digits, 0):
        numbers = 10 * numbers + figures
    return np.where(minus.any(axis=0), -numbers, numbers), sound.all(axis=0) & digit[-1]


def _lay_out(content: bytes, path: Path) -> tuple[Months, Ints]:
    """Lay the lines under each other, with their numbers; refuse one that cannot be a month."""
    whole = content if content.endswith(b"\n") else content + b"\n"
    ends = np.flatnonzero(np.frombuffer(whole, np.uint8) == _LINE_FEED) + 1
    lines = np.arange(ends.size) + 1
    if not np.array_equal(ends, lines * _MONTH.itemsize):
        numbered = enumerate(content.split(b"\n"), start=1)
        full = {number: _fill_up(line, number, path) for number, line in numbered if line.strip()}
        whole, lines = b"".join(full.values()), np.array(list(full))
    months = np.frombuffer(whole, _MONTH)
    head = np.ascontiguousarray(np.frombuffer(whole, np.uint8).reshape(-1, _MONTH.itemsize)[:, 11:21].T)
    year_month, element = head[:6] - _ZERO, head[6:]
    month = year_month[4] * 10 + year_month[5]
    sound = (year_month < 10).all(axis=0) & (month >= 1) & (month <= 12)
    sound &= ((element - ord("A") < 26) | (element - _ZERO < 10)).all(axis=0)
    if not sound.all():
        row = int(np.argmin(sound))
        what = "a line that does not begin with station, year, month and element"
        value = _text(months[row])[:21]
        raise InputError(what, file=path, line=int(lines[row]), value=value, remedy=_FETCH)
    return months, lines


def _fill_up(line: bytes, number: int, path: Path) -> bytes:
    """Give a line back the trailing blanks that an editor took away; refuse a line that lost more."""
    text = line.rstrip()
    has_value = text[_LAST_VALUE_END - 5 : _LAST_VALUE_END] != b"-9999"
    has_lost_flags = len(line) < _WIDTH and has_value and text[28 : 28 + 8 * (_DAYS - 1) : 8].strip()
    if len(text) > _WIDTH:
        fault = f"a line of {len(text)} characters, where a month has {_WIDTH}"
    elif len(text) < _LAST_VALUE_END or has_lost_flags:  # day 31 has no source flag, though others have one
        fault = f"a line cut short after {len(line)} of {_WIDTH} characters"
    else:
        return text.ljust(_WIDTH) + b"\n"
    raise InputError(fault, file=path, line=number, value=line[:21].decode("ascii", "replace"), remedy=_FETCH)


def _days_of_months(lines: Months) -> tuple[Dates, Mask]:
    """Return 31 days to each month, and tell which of them exist, each of shape (months, 31)."""
    count = (lines["year_month"] - _ZERO) @ np.array([12_000, 1200, 120, 12, 10, 1])
    months = (count - 1970 * 12 - 1).astype("datetime64[M]")
    firsts, ends = (month.astype("datetime64[D]")[:, None] for month in (months, months + 1))
    days = firsts + np.arange(_DAYS)
    return days, days < ends


def _text(characters: Bytes) -> str:
    return characters.tobytes().decode("ascii", "replace")
