"""The grower's own minima: a record like any other, and a column that marks clear calm nights."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from frostgate.climate.siting import Mask
from frostgate.errors import InputError
from frostgate.files import read_bytes
from frostgate.model.records import DailyMinima
from frostgate.seasons import Dates
from frostgate.sources.records import parse_minima
from frostgate.sources.records.rows import UnitHint
from frostgate.sources.records.tables import (
    TextTable,
    looks_like_table,
    parse_days,
    plain_name,
    read_table,
    split_line,
)

COLUMN = "clear_calm"
COLUMN_NAMES = frozenset({"clearcalm", "clearandcalm", "clearcalmnight", "clearnight", "clear"})
YES = ("YES", "Y", "TRUE", "1", "X")
NO = ("NO", "N", "FALSE", "0", "")  # the column marks the clear calm nights, so a blank marks none


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GardenMinima:
    """What the grower's thermometer showed.

    Parameters
    ----------
    minima
        The record, named after its file.
    clear
        Whether each of its nights was clear and calm, shape as its dates; None without such a column.
    """

    minima: DailyMinima
    clear: Mask | None = None


def read_garden(
    path: Path, *, unit: UnitHint | None = None, drop_contradictions: bool = False
) -> GardenMinima:
    r"""Read the minima of a garden's own thermometer, and its clear calm nights where they are marked.

    Any record that `read_minima` reads will do; a plain table may have a column ``clear_calm`` besides, with
    yes or no (also y, true, 1, x and n, false, 0, blank).
    """
    content = read_bytes(path)
    minima = parse_minima(content, path, unit=unit, drop_contradictions=drop_contradictions)
    rows = content.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    head = rows.removeprefix(b"\xef\xbb\xbf").lstrip().partition(b"\n")[0].decode("utf-8", "replace")
    if not (looks_like_table(head) and COLUMN_NAMES & {plain_name(name) for name in split_line(head)}):
        return GardenMinima(minima=minima)
    return GardenMinima(minima=minima, clear=_marks(read_table(rows, path), minima.dates))


def _marks(table: TextTable, dates: Dates) -> Mask:
    """Return the mark of each date, from the rows that have it."""
    column, date_column = table.find(COLUMN_NAMES), table.find({"date"})
    if column is None or date_column is None:
        raise InputError(
            f"marks of clear calm nights without a column of dates named date; there are {table.names}",
            file=table.path,
            remedy="Give each morning's date in one column named date, as YYYY-MM-DD.",
        )
    text = table.text(column)
    clear: Mask = text.str.upper().isin(YES).to_numpy(dtype=bool)
    unclear = ~clear & ~text.str.upper().isin(NO).to_numpy(dtype=bool)
    table.refuse(
        unclear, text, "a mark that is neither yes nor no", "Write yes for a clear calm night, or no."
    )
    place = np.searchsorted(dates, parse_days(table, table.text(date_column)))
    marked = np.zeros(dates.size, dtype=bool)
    marked[place[clear]] = True
    again = marked[place] & ~clear
    table.refuse(
        again,
        text,
        "a morning marked clear and calm on another line, and not on this",
        "Correct one of them.",
    )
    return marked
