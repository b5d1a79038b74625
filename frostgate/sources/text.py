"""Text files: tables of cells that know their line, and the spot that an error names."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import compress
from pathlib import Path

import numpy as np

from frostgate.errors import InputError
from frostgate.seasons import Floats

MISSING_WORDS = frozenset({"", "na", "n/a", "nan", "null", "none"})  # as spreadsheets and R write it
SEPARATORS = ";\t,"
LONGEST_LINE = 10_000  # characters; the widest header of the archive has about 3,000
MOST_LINES = 1_000_000  # the longest station file of the archive has about 600,000
_LINE_END = r"\r\n|\r|\n"
_NUMBER = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)(e[-+]?\d+)?", re.ASCII | re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A spot in a file: a line of a table, or a position in a document."""

    file: Path | None  # None where the grower said the value
    line: int | None = None  # from 1
    name: str = ""  # a column, or a position in words; entries count from 1

    @property
    def words(self) -> str:
        """The spot without its file, for an error about two spots."""
        return self.name if self.line is None else f"line {self.line}"

    def fault(
        self,
        what: str,
        value: object = None,
        remedy: str | None = None,
        *,
        kind: type[InputError] = InputError,
    ) -> InputError:
        """Return the error that names this spot, to be raised."""
        said = f"{what} ({self.name})" if self.name else what
        return kind(said, file=self.file, line=self.line, value=value, remedy=remedy)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Table:
    """Rows of cells, each row as wide as the header; rows that hold nothing are left out."""

    path: Path
    separator: str
    names: tuple[str, ...]
    rows: Sequence[Sequence[str]]
    lines: Sequence[int]  # where each row stands, from 1
    first_line: int = 1  # where the header stands

    def text(self, column: int) -> list[str]:
        """Return a column without surrounding blanks."""
        return [row[column].strip() for row in self.rows]

    def find(self, wanted: Collection[str]) -> int | None:
        """Find the column with one of some plain names; None without one."""
        found = [column for column, name in enumerate(self.names) if plain_name(name) in wanted]
        if len(found) > 1:
            what = f"two columns of one meaning, {self.names[found[0]]} and {self.names[found[1]]}"
            raise InputError(what, file=self.path, remedy="Remove or rename one of them.")
        return found[0] if found else None

    def where(self, keep: Sequence[bool]) -> Table:
        """Return some of the rows."""
        return replace(self, rows=list(compress(self.rows, keep)), lines=list(compress(self.lines, keep)))

    def spot(self, row: int | None, column: int | None = None) -> Spot:
        """Return where a row, or a cell of it, stands; None for the header."""
        line = self.first_line if row is None else self.lines[row]
        name = "" if column is None else f"column {self.names[column]}"
        return Spot(file=self.path, line=line, name=name)

    def say_row(self, row: int) -> str:
        """Write a row as an error shows it."""
        return ", ".join(cell.strip() for cell in self.rows[row])

    def number(self, row: int, column: int) -> float:
        """Read a number, also with a decimal comma where no comma divides the cells; NaN where missing."""
        text = self.rows[row][column].strip()
        if text.lower() in MISSING_WORDS:
            return math.nan
        plain = text.replace("−", "-")
        if self.separator != ",":
            plain = plain.replace(",", ".")
        if _NUMBER.fullmatch(plain) is None:
            remedy = "Write bare numbers, all in one unit, and NA where one is missing."
            raise self.spot(row, column).fault("not a number", text, remedy)
        return float(plain)

    def numbers(self, column: int) -> Floats:
        """Read a column of numbers."""
        return np.array([self.number(row, column) for row in range(len(self.rows))])


def split_lines(text: str, path: Path) -> list[str]:
    """Split a text into the lines that an editor counts; refuse too many, or too long ones, before that."""
    remedy, start = "Check that it is the file you mean.", 0
    lines = max(map(text.count, "\r\n"))
    if lines > MOST_LINES:
        raise Spot(file=path).fault(f"{lines} lines, more than any station's file has", remedy=remedy)
    while len(text) - start > LONGEST_LINE:
        end = max(text.rfind(mark, start, start + LONGEST_LINE + 1) for mark in "\r\n")
        if end < 0:
            length = len(re.split(r"[\r\n]", text[start:], maxsplit=1)[0])
            spot = Spot(file=path, line=len(re.findall(_LINE_END, text[:start])) + 1)
            raise spot.fault(f"a line of {length} characters, more than any table has", remedy=remedy)
        start = end + 1
    return re.split(_LINE_END, text)


def split_line(line: str) -> list[str]:
    """Split one line into its cells, without quotation marks and surrounding blanks."""
    return [cell.strip() for cell in next(csv.reader([line], delimiter=find_separator(line)), [])]


def find_separator(line: str) -> str:
    """Tell what separates the cells of a line: what stands in it most often, outside quotation marks."""
    bare = re.sub(r'"[^"]*"', "", line)
    return max(SEPARATORS, key=bare.count)


def plain_name(name: str) -> str:
    """Reduce a column's name to its letters and figures, in lower case."""
    return re.sub(r"[^a-z0-9]", "", name.lower())


def read_table(
    lines: Sequence[str], path: Path, *, names: Sequence[str] | None = None, above: int = 0
) -> Table:
    """Make a table of lines that stand below ``above`` others; refuse rows of unequal width.

    The first row names the columns unless ``names`` does. The csv module reads them, since pandas fills up
    short rows and mends quotation marks in silence.
    """
    first = next((number for number, line in enumerate(lines) if line.strip()), 0)
    separator = find_separator(lines[first])
    rows: list[list[str]] = []
    numbers = []
    for number, line in enumerate(lines[first:], start=above + first + 1):
        try:
            row = next(csv.reader([line], delimiter=separator, strict=True), [])
        except csv.Error:
            what, remedy = "a quotation mark out of place or never closed", "Close it, or remove it."
            raise Spot(file=path, line=number).fault(what, line, remedy) from None
        width = len(names or (rows[0] if rows else row))
        if (names or rows) and len(row) <= width and not any(cell.strip() for cell in row):
            continue  # a blank line, or one of separators alone
        if len(row) != width:
            cells = "1 cell" if len(row) == 1 else f"{len(row)} cells"
            what = f"a row of {cells}, where the header has {width}"
            remedy = "Correct the line, or fetch the file again."
            raise Spot(file=path, line=number).fault(what, line, remedy)
        rows.append(row)
        numbers.append(number)
    if names is None:
        names, rows, numbers = [name.strip() for name in rows[0]], rows[1:], numbers[1:]
    return Table(
        path=path,
        separator=separator,
        names=tuple(names),
        rows=rows,
        lines=numbers,
        first_line=above + first + 1,
    )
