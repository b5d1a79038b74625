"""Tables of coming nights."""

from __future__ import annotations

import csv
import datetime as dt
import itertools
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from frostgate.errors import InputError
from frostgate.model.gate import Forecast
from frostgate.sources.forecasts.documents import Spot
from frostgate.sources.forecasts.nights import (
    FEWEST_MEMBERS,
    SAY_ZONE,
    Night,
    Opened,
    agree_on_unit,
    find_zone,
    mean_and_sd,
    minimum_c,
    parse_date,
    parse_time,
    spread_c,
    to_forecast,
    to_local,
)
from frostgate.units import TemperatureUnit

Kind = Literal["date", "issued", "minimum", "spread", "quantile", "member"]

_KINDS: dict[str, Kind] = {
    "date": "date", "issued": "issued", "tmin": "minimum", "low": "minimum", "sd": "spread",
    "spread": "spread", "q": "quantile", "p": "quantile", "m": "member", "member": "member",
}  # fmt: skip
_NAME = re.compile(
    r"""(?: (?P<day>date | issued)
          | (?: (?P<plain>tmin | low | sd | spread)
              | (?P<counted>q | p | m | member) _? (?P<number>\d+(\.\d+)?) )
            (?: _(?P<letter>[cf]) | \s* [(\[] \s* °? \s* (?P<bracketed>[cf]) \s* [)\]] )? )""",
    re.IGNORECASE | re.VERBOSE | re.ASCII,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column that the reader knows.

    Parameters
    ----------
    index, name
        Where it stands, from 0, and its name in the header.
    kind
        What it holds.
    number
        The level of a quantile [%], or the number of a member.
    unit
        The unit its name states.
    """

    index: int
    name: str
    kind: Kind
    number: float = 0.0
    unit: TemperatureUnit | None = None


def known_column(index: int, name: str) -> Column | None:
    """Tell what a column holds by its name; None for a column that says nothing of minima."""
    match = _NAME.fullmatch(name)
    if match is None:
        return None
    kind = _KINDS[(match["day"] or match["plain"] or match["counted"]).lower()]
    letter = (match["letter"] or match["bracketed"] or "").upper()
    unit: TemperatureUnit | None = "F" if letter == "F" else "C" if letter == "C" else None
    return Column(index=index, name=name, kind=kind, number=float(match["number"] or 0), unit=unit)


def known_columns(header: Sequence[str], spot: Spot) -> dict[Kind, list[Column]]:
    """Sort the columns of a header by what they hold; quantiles and members rise."""
    named = (known_column(index, name) for index, name in enumerate(header))
    columns = sorted((c for c in named if c is not None), key=lambda column: column.number)
    for one, other in itertools.combinations(columns, 2):
        if (one.kind, one.number) == (other.kind, other.number):
            raise spot.fault("two columns say the same", f"{one.name}, {other.name}", "Keep one of them.")
    kinds: dict[Kind, list[Column]] = {}
    for column in columns:
        kinds.setdefault(column.kind, []).append(column)
    _refuse_what_cannot_be(kinds, spot)
    return kinds


def sd_from_quantiles(levels: Sequence[float], quantiles: Sequence[float]) -> float:
    """The standard deviation of the cold side: median less lowest quantile, over its normal quantile."""
    at = dict(zip(levels, quantiles, strict=True))
    lowest = min(at)
    if lowest >= 50.0:
        return math.nan
    from statistics import NormalDist  # slow to load, and few forecasts state quantiles

    return (at.get(50.0, math.nan) - at[lowest]) / -NormalDist().inv_cdf(lowest / 100.0)


def _refuse_what_cannot_be(kinds: dict[Kind, list[Column]], spot: Spot) -> None:
    spreads: list[Kind] = [kind for kind in ("spread", "quantile", "member") if kind in kinds]
    levels = [column.number for column in kinds.get("quantile", [])]
    if len(spreads) > 1:
        names = _names(column for kind in spreads for column in kinds[kind])
        raise spot.fault("more than one kind of spread", names, "Keep sd, quantiles or members.")
    if 0 < len(kinds.get("member", [])) < FEWEST_MEMBERS:
        raise spot.fault(f"fewer than {FEWEST_MEMBERS} members", _names(kinds["member"]), "Add the others.")
    if levels and not 0.0 < levels[0] <= levels[-1] < 100.0:
        raise spot.fault("a quantile lies between 0 and 100", _names(kinds["quantile"]), "Leave it out.")
    if "minimum" not in kinds and "member" not in kinds and 50.0 not in levels:
        names = _names(column for columns in kinds.values() for column in columns)
        remedy = "Name it tmin_c, tmin_f, low, q50 or member_1, member_2, member_3."
        raise spot.fault("no column of minima", names, remedy)


def _names(columns: Iterable[Column]) -> str:
    return ", ".join(column.name for column in columns)


FORM = "table"

_NUMBER = re.compile(r"[-+−]?(?:\d+(?:\.\d*)?|\.\d+)", re.ASCII)
_MISSING = {"", "na", "n/a", "nan", "null", "none"}
_REMARK = re.compile(r"\s*#\s*(issued|time[ _]?zone)\s*:\s*(.*?)\s*", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of a table, split into cells."""

    file: Path
    line: int
    cells: tuple[str, ...]

    def spot(self, name: str = "") -> Spot:
        """Name a cell of it by its column."""
        return Spot(file=self.file, line=self.line, name=f"column {name}" if name else "")

    def number(self, index: int, name: str) -> float:
        """Read a number; NaN where the cell says that it is missing."""
        text = self.cells[index]
        if text.lower() in _MISSING:
            return math.nan
        if _NUMBER.fullmatch(text) is None:
            remedy = "Write it with a decimal point, or leave it empty."
            raise self.spot(name).fault("not a number", text, remedy)
        return float(text.replace("−", "-"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    r"""A table: the remarks above its header, the header, and the rows."""

    remarks: tuple[tuple[int, str], ...]
    header: Row
    rows: tuple[Row, ...]


def fits(opened: Opened) -> bool:
    """Return whether a file is such a table: its first line that is no remark has a column ``date``."""
    return opened.tree is None and split_table(opened.text, opened.path) is not None


def read(opened: Opened) -> Forecast:
    r"""Read a plain table."""
    table = split_table(opened.text, opened.path)
    if table is None:
        raise InputError("no column named date", file=opened.path, remedy="Begin with a line: date,tmin_c.")
    header = table.header
    kinds = known_columns(header.cells, header.spot())
    columns = sorted(itertools.chain(*kinds.values()), key=lambda column: column.index)
    stated = [(c.unit, header.spot(c.name)) for c in columns if c.unit is not None]
    unit = agree_on_unit(stated, opened.unit, header.spot())
    zone = opened.zone or _stated_zone(table)
    return to_forecast(
        [_night(row, kinds, unit) for row in table.rows],
        form=FORM,
        file=opened.path,
        issued=_issued(table, kinds, zone),
        zone=zone,
        notes=_notes(table, kinds, columns),
    )


def split_table(text: str, file: Path) -> Table | None:
    r"""Split a table into remarks, header and rows; None where no header names a column ``date``."""
    lines = [(n, line) for n, line in enumerate(re.split(r"\r\n|\r|\n", text), start=1) if line.strip()]
    remarks = tuple(itertools.takewhile(lambda numbered: numbered[1].lstrip().startswith("#"), lines))
    if len(remarks) == len(lines):
        return None
    separator = max(",;\t", key=lines[len(remarks)][1].count)
    header = _row(lines[len(remarks)], separator, file)
    if "date" not in [cell.lower() for cell in header.cells]:
        return None
    rows = tuple(_row(numbered, separator, file) for numbered in lines[len(remarks) + 1 :])
    for row in rows:
        if len(row.cells) != len(header.cells):
            what = f"{len(row.cells)} cells where the header has {len(header.cells)}"
            raise row.spot().fault(what, separator.join(row.cells), "Complete the line.")
    return Table(remarks=remarks, header=header, rows=rows)


def _row(numbered: tuple[int, str], separator: str, file: Path) -> Row:
    number, line = numbered
    try:
        cells = next(csv.reader([line], delimiter=separator, strict=True))
    except csv.Error as fault:
        spot = Spot(file=file, line=number)
        raise spot.fault(f"not a line of a table: {fault}", line, "Mend the quotation marks.") from None
    return Row(file=file, line=number, cells=tuple(cell.strip() for cell in cells))


def _night(row: Row, kinds: dict[Kind, list[Column]], unit: TemperatureUnit) -> Night:
    def minima(kind: Kind) -> list[float]:
        columns = kinds.get(kind, [])
        return [minimum_c(row.number(c.index, c.name), unit, row.spot(c.name)) for c in columns]

    tmin_c, sd_c = next(iter(minima("minimum")), math.nan), math.nan
    if "member" in kinds:
        tmin_c, sd_c = mean_and_sd(minima("member"))
    elif "quantile" in kinds:
        levels = [column.number for column in kinds["quantile"]]
        tmin_c, sd_c = _from_quantiles(row, levels, minima("quantile"), tmin_c)
    elif "spread" in kinds:
        column = kinds["spread"][0]
        sd_c = spread_c(row.number(column.index, column.name), unit, row.spot(column.name))
    date = kinds["date"][0]
    spot = row.spot(date.name)
    return Night(date=parse_date(row.cells[date.index], spot), spot=spot, tmin_c=tmin_c, sd_c=sd_c)


def _from_quantiles(
    row: Row, levels: Sequence[float], values: Sequence[float], tmin_c: float
) -> tuple[float, float]:
    at = {50.0: tmin_c, **dict(zip(levels, values, strict=True))}
    known = [(level, at[level]) for level in sorted(at) if not math.isnan(at[level])]
    for (low, lower), (high, higher) in itertools.pairwise(known):
        if higher < lower:
            what = f"quantile {high:g} lies below quantile {low:g}"
            raise row.spot().fault(what, ", ".join(row.cells), "Quantiles rise with their level.")
    return at[50.0] if math.isnan(tmin_c) else tmin_c, sd_from_quantiles(list(at), list(at.values()))


def _remark(table: Table, name: str) -> tuple[str, Spot] | None:
    found = []
    for line, text in table.remarks:
        match = _REMARK.fullmatch(text)
        if match and match[1].lower().startswith(name):
            found.append((match[2], Spot(file=table.header.file, line=line, name=f"# {match[1]}")))
    if len(found) > 1:
        raise found[1][1].fault("said twice", found[1][0], "Keep one of the lines.")
    return found[0] if found else None


def _stated_zone(table: Table) -> dt.tzinfo | None:
    said = _remark(table, "time")
    return None if said is None else find_zone(*said)


def _issued(table: Table, kinds: dict[Kind, list[Column]], zone: dt.tzinfo | None) -> dt.datetime | None:
    said = _remark(table, "issued")
    texts = [] if said is None else [said]
    for column in kinds.get("issued", []):
        texts += [(row.cells[column.index], row.spot(column.name)) for row in table.rows]
    times = [(_local_issue(text, spot, zone), spot) for text, spot in texts]
    for (first, above), (time, spot) in itertools.pairwise(times):
        if time != first:
            what = f"made at another time than {above.words} says ({first:%Y-%m-%dT%H:%M})"
            raise spot.fault(what, f"{time:%Y-%m-%dT%H:%M}", "Name a file of one forecast.")
    return times[0][0] if times else None


def _local_issue(text: str, spot: Spot, zone: dt.tzinfo | None) -> dt.datetime:
    time = parse_time(text, spot)
    if time.tzinfo is None:
        return time
    if zone is None:
        raise spot.fault("a time with an offset from UTC, and no time zone is known", text, SAY_ZONE)
    return to_local(time, zone)


def _notes(table: Table, kinds: dict[Kind, list[Column]], columns: Sequence[Column]) -> list[str]:
    known = {column.index for column in columns}
    unread = [name for index, name in enumerate(table.header.cells) if index not in known]
    notes = []
    if "member" in kinds:
        unread += [column.name for column in kinds.get("minimum", [])]
        notes.append(f"Each minimum is the mean of {len(kinds['member'])} members, its sd theirs.")
    if "quantile" in kinds and kinds["quantile"][0].number < 50.0:
        lowest = kinds["quantile"][0].name
        notes.append(f"The sd is that of the cold side: the median less {lowest}.")
    if unread:
        notes.append(f"Not read: {', '.join(unread)}.")
    return notes
