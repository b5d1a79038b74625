"""The grower's own minima: a record like any other, and a column that marks clear calm nights."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from frostgate.climate.siting import Mask
from frostgate.errors import InputError
from frostgate.files import AnyPath, decode, read_bytes
from frostgate.model.records import DailyMinima
from frostgate.seasons import Dates
from frostgate.sources.records import parse_minima
from frostgate.sources.records.rows import UnitHint
from frostgate.sources.records.tables import looks_like_table, parse_days
from frostgate.sources.text import Table, plain_name, read_table, split_line, split_lines

COLUMN_NAMES = frozenset({"clearcalm", "clearandcalm", "clearcalmnight", "clearnight", "clear"})
YES = ("YES", "Y", "TRUE", "1", "X")
NO = ("NO", "N", "FALSE", "0", "")  # the column marks the clear calm nights, so a blank marks none


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GardenMinima:
    """What the grower's thermometer showed."""

    minima: DailyMinima
    clear: Mask | None = None  # whether each of its nights was clear and calm; None without such a column


def read_garden(
    path: AnyPath, *, unit: UnitHint | None = None, drop_contradictions: bool = False
) -> GardenMinima:
    """Read a garden's own record in any form that `read_minima` reads, and the marks of a plain table."""
    path = Path(path)
    content = read_bytes(path)
    minima = parse_minima(content, path, unit=unit, drop_contradictions=drop_contradictions)
    lines = split_lines(decode(content, path))
    head = next(line for line in lines if line.strip())
    if not (looks_like_table(head) and COLUMN_NAMES & {plain_name(name) for name in split_line(head)}):
        return GardenMinima(minima=minima)
    return GardenMinima(minima=minima, clear=_marks(read_table(lines, path), minima.dates))


def _marks(table: Table, dates: Dates) -> Mask:
    """Return the mark of each date, from the rows that have it."""
    column, date_column = table.find(COLUMN_NAMES), table.find({"date"})
    if column is None or date_column is None:
        raise InputError(
            f"marks of clear calm nights without a column of dates named date; there are {table.names}",
            file=table.path,
            remedy="Give each morning's date in one column named date, as YYYY-MM-DD.",
        )
    texts = table.text(column)
    for row, text in enumerate(texts):
        if text.upper() not in YES + NO:
            remedy = "Write yes for a clear calm night, or no."
            raise table.spot(row).fault("a mark that is neither yes nor no", text, remedy)
    clear = np.array([text.upper() in YES for text in texts])
    place = np.searchsorted(dates, parse_days(table, table.text(date_column)))
    marked = np.zeros(dates.size, dtype=bool)
    marked[place[clear]] = True
    again = marked[place] & ~clear
    if again.any():
        row, what = int(np.argmax(again)), "a morning marked clear and calm on another line, and not on this"
        raise table.spot(row).fault(what, texts[row], "Correct one of them.")
    return marked
