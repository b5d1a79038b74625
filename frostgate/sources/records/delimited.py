"""Delimited text as columns of text, every row with the line it stands on."""

from __future__ import annotations

import io
import re
from collections.abc import Collection
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from frostgate.errors import InputError
from frostgate.sources.files import decode
from frostgate.sources.records.readings import MISSING_TENTHS, Mask
from frostgate.sources.records.splitting import find_separator, refuse_ragged
from frostgate.terms.arrays import Dates, Floats, Ints
from frostgate.values import dataclass, replace

if TYPE_CHECKING:
    import pandas as pd

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

    Examples
    --------
    >>> table = read_table(b"date,tmin_c" + b"\n" * 2 + b"2026-04-01, -2.2", Path("a.csv"))
    >>> table.names, list(table.text(1)), table.lines
    (('date', 'tmin_c'), ['-2.2'], array([3]))
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
        """Find the column with one of some plain names; None without one.

        Raises
        ------
        InputError
            Where several columns have such a name.
        """
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
        """Raise an error at the first bad row, if there is one.

        Raises
        ------
        InputError
            Names the line and its text.
        """
        if bad.any():
            row = int(np.argmax(bad))
            line, value = int(self.lines[row]), text.iloc[row]
            raise InputError(what, file=self.path, line=line, value=value, remedy=remedy)


def read_table(content: bytes, path: Path, names: tuple[str, ...] | None = None) -> TextTable:
    """Split delimited text into columns; blank lines are passed over.

    Parameters
    ----------
    content
        The file's bytes, lines ending in a line feed.
    path
        The file, for messages.
    names
        The columns, where the file has no header.

    Raises
    ------
    InputError
        Where a row has more or fewer fields than the header, a quotation mark is left open, or no row
        follows.

    Examples
    --------
    >>> read_table(b"2026-04-01;-2,2", Path("a.csv"), ("date", "tmin")).separator
    ';'
    """
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
    r"""Turn text such as 2026-04-01 or 20260401 into days, shape (rows,).

    Raises
    ------
    InputError
        Where the text is no such date; names the line.

    Examples
    --------
    >>> table = read_table(b"date" + b"\n" + b"20240229", Path("a.csv"))
    >>> parse_days(table, table.text(0))
    array(['2024-02-29'], dtype='datetime64[D]')
    """
    import pandas as pd  # here, since the morning command must not load it

    dashed = pd.to_datetime(text, format="%Y-%m-%d", errors="coerce")
    compact = pd.to_datetime(text, format="%Y%m%d", errors="coerce")
    days: Dates = dashed.fillna(compact).to_numpy().astype("datetime64[D]")
    unclear = ~text.str.fullmatch(_DATE).to_numpy(dtype=bool)  # pandas itself would take "2026-04- 1"
    table.refuse(np.isnat(days) | unclear, text, "not a date", "Write it as YYYY-MM-DD.")
    return days


def parse_numbers(table: TextTable, column: int) -> Floats:
    r"""Turn a column of minima into numbers, NaN where missing, shape (rows,).

    Raises
    ------
    InputError
        Where the text is no number; names the line.

    Examples
    --------
    >>> table = read_table(b"date;tmin\n20260401;-2,2\n20260402;NA\n", Path("a.csv"))
    >>> parse_numbers(table, 1)
    array([-2.2,  nan])
    """
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
    r"""Check that numbers can be tenths of a degree, and turn -9999 into NaN.

    Raises
    ------
    InputError
        Where one has a fraction; names the line.

    Examples
    --------
    >>> table = read_table(b"tmin\n-22\n-9999\n", Path("a.csv"))
    >>> require_whole_tenths(table, 0, np.array([-22.0, -9999.0]))
    array([-22.,  nan])
    """
    broken = np.isfinite(numbers) & (numbers != np.round(numbers))
    text = table.text(column)
    table.refuse(broken, text, "not a whole number of tenths of °C", "Check the unit of the file.")
    return np.where(numbers == MISSING_TENTHS, np.nan, numbers)


def plain_name(name: str) -> str:
    """Reduce a column's name to its letters and figures, in lower case.

    Examples
    --------
    >>> plain_name("Q-FLAG")
    'qflag'
    """
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
