"""Where delimited text divides: its separator, its fields, and rows that are not as wide as the first."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import numpy.typing as npt

from frostgate.errors import InputError

SEPARATORS = ";\t,"
_QUOTE, _LINE_FEED = b'"\n'


def find_separator(line: str) -> str:
    """Tell what separates the fields of a line: what stands in it most often, outside quotation marks.

    Examples
    --------
    >>> find_separator('"NAME, XX";DATE;TMIN')
    ';'
    """
    bare = re.sub(r'"[^"]*"', "", line)
    return max(SEPARATORS, key=bare.count)


def split_line(line: str) -> list[str]:
    """Split one line into its fields, without quotation marks and surrounding blanks.

    Examples
    --------
    >>> split_line('"STATION","NAME, XX",DATE')
    ['STATION', 'NAME, XX', 'DATE']
    """
    fields = next(csv.reader([line], delimiter=find_separator(line)), [])
    return [field.strip() for field in fields]


def refuse_ragged(text: str, separator: str, above: int, path: Path) -> None:
    r"""Refuse rows of unequal width, which pandas would fill up in silence, and rows of several lines.

    Parameters
    ----------
    text
        The rows, the widest of them first.
    separator
        What stands between two fields.
    above
        How many lines of the file stand above the text.
    path
        The file.

    Raises
    ------
    InputError
        Where a row is too short or too long, or a quotation mark is left open; names the line.

    Examples
    --------
    >>> refuse_ragged("date,tmin\n2026-04-01,3", ",", 0, Path("a.csv"))
    """
    raw = np.frombuffer((text if text.endswith("\n") else text + "\n").encode(), np.uint8)
    quoted = np.logical_xor.accumulate(raw == _QUOTE)
    ends = np.flatnonzero(raw == _LINE_FEED)
    widths = np.diff(np.searchsorted(np.flatnonzero((raw == ord(separator)) & ~quoted), ends), prepend=0)
    even = not quoted[ends].any() and (widths == widths[0]).all()
    if not (even and _quotes_whole_fields(raw, separator)):
        _name_ragged_row(text, separator, above, path)


def _quotes_whole_fields(raw: npt.NDArray[np.uint8], separator: str) -> bool:
    """Tell whether every quotation mark stands at the edge of a field, or is doubled."""
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
    """Give each row with its line; None for a row whose quotation marks reach beyond its line."""
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
