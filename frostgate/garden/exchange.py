"""The journal as CSV and JSON, out and in again."""

from __future__ import annotations

import csv
import datetime as dt
import io
import itertools
import json
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from frostgate.errors import InputError
from frostgate.files import csv_text
from frostgate.garden.entries import AS_EXPORTED, body_text, check_entry
from frostgate.garden.journal import Journal
from frostgate.model.garden import Entry

RESCUE_FIRST = "Make a sound one of it by frostgate log rescue FILE, and import into that what it has lost."
BOM = "\ufeff"  # by which spreadsheets know UTF-8
FIELDS = ("id", "made_at", "on", "kind", "group", "undoes", "body")

Raw = tuple[int, dict[str, Any]]  # the line on which an entry begins, and its fields as a file has them


class Placed(NamedTuple):
    """An entry, and the line of the file it stands on."""

    line: int
    entry: Entry


class Imported(NamedTuple):
    """How many entries were added, and how many were there already."""

    added: int
    there: int


def _fields(entry: Entry) -> dict[str, Any]:
    told = {name: getattr(entry, name) for name in FIELDS}
    return told | {"made_at": entry.made_at.isoformat(), "on": entry.on.isoformat(), "body": dict(entry.body)}


def write_table(entries: Iterable[Entry]) -> str:
    """Write entries as a table."""
    rows = ((_fields(entry) | {"body": body_text(entry.body)}).values() for entry in entries)
    return BOM + csv_text([FIELDS, *rows])


def write_json(entries: Iterable[Entry]) -> str:
    """Write entries as a list in JSON, one entry on a line."""
    lines = [json.dumps(_fields(entry), ensure_ascii=False) for entry in entries]
    return "[\n" + ",\n".join(lines) + "\n]\n" if lines else "[]\n"


def _without_twins(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Make a JSON object, but of no key twice: one of the two would be lost."""
    made = dict(pairs)
    if len(made) < len(pairs):
        twin = next(key for key in made if sum(other == key for other, _ in pairs) > 1)
        raise ValueError(f"{twin!r} stands there twice")
    return made


_DECODER = json.JSONDecoder(object_pairs_hook=_without_twins)


def read_table(text: str) -> Iterator[Raw]:
    """Read a table's rows as a spreadsheet may have saved it: any separator, order, quoting, line ends."""
    text = text.removeprefix(BOM)
    separator = max(",;\t", key=re.split(r"[\r\n]", text.lstrip(), maxsplit=1)[0].count)
    rows = _rows(text, separator)
    line, header = next(rows, (1, []))
    names = [cell.lower() for cell in header]
    if sorted(filter(None, names)) != sorted(FIELDS):
        remedy = f"Begin with the line: {','.join(FIELDS)}."
        raise InputError("not the columns of a journal", line=line, value=", ".join(header), remedy=remedy)
    for line, cells in rows:
        row: dict[str, Any] = {}
        for name, cell in itertools.zip_longest(names, cells, fillvalue=""):
            if cell and not name:
                what, remedy = "a cell beside the columns", "Remove what does not belong there."
                raise InputError(what, line=line, remedy=remedy)
            row[name] = cell or None
        body = row["body"] or ""
        try:
            yield line, row | {"body": _DECODER.decode(body)}
        except (ValueError, RecursionError) as fault:
            what = f"the body is not JSON ({fault})"
            raise InputError(what, line=line, value=body, remedy=AS_EXPORTED) from None


def _rows(text: str, separator: str) -> Iterator[tuple[int, list[str]]]:
    """Return the rows that hold anything, each with the line it begins on."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    line = 1
    try:
        for row in reader:
            cells = [cell.strip() for cell in row]
            if any(cells):
                yield line, cells
            line = reader.line_num + 1
    except csv.Error as fault:
        what, remedy = f"not a row of a table ({fault})", "Mend the quotation marks."
        raise InputError(what, line=line, remedy=remedy) from None


def read_json(text: str) -> Iterator[Raw]:
    """Read the entries of a list in JSON, however it is laid out."""
    if re.fullmatch(r"\s*\[\s*\]\s*", text):
        return
    remedy = "Leave it as the export has it: one list of entries."
    before, end, line = re.compile(r"\s*\[\s*"), 0, 1
    while begins := before.match(text, end):
        line += begins[0].count("\n")
        try:
            fields, end = _DECODER.raw_decode(text, begins.end())
        except (ValueError, RecursionError) as fault:
            line = getattr(fault, "lineno", line)
            raise InputError(f"not JSON ({fault})", line=line, remedy=remedy) from None
        if not isinstance(fields, dict) or not set(fields) <= set(FIELDS):
            shown = ", ".join(fields) if isinstance(fields, dict) else fields
            raise InputError("not the fields of an entry", line=line, value=shown, remedy=remedy)
        yield line, fields
        line += text.count("\n", begins.end(), end)
        before = re.compile(r"\s*,\s*")
    rest = text[end:].lstrip()
    odd = rest.removeprefix("]").lstrip()
    if odd or not rest:
        line = text.count("\n", 0, len(text) - len(odd)) + 1
        raise InputError("not a list of entries and nothing more", line=line, remedy=remedy)


WRITERS: dict[str, Callable[[Iterable[Entry]], str]] = {".csv": write_table, ".json": write_json}
READERS: dict[str, Callable[[str], Iterator[Raw]]] = {".csv": read_table, ".json": read_json}
"""The forms by the ending of a file's name."""


def form_of(path: Path) -> str:
    """Tell the form of an export by the ending of its name."""
    form = path.suffix.lower()
    if form not in WRITERS:
        what, remedy = "a journal is exported as .csv or .json", "Name the file accordingly."
        raise InputError(what, file=path, remedy=remedy)
    return form


def read_export(text: str, path: Path) -> tuple[Placed, ...]:
    """Read and check every entry of an export."""
    try:
        return tuple(_placed(line, fields) for line, fields in READERS[form_of(path)](text))
    except InputError as fault:
        raise fault.but(file=path) from None


def import_entries(journal: Journal, placed: Sequence[Placed], path: Path) -> Imported:
    """Add the entries that the journal has not yet; everything is checked before anything is written."""
    if journal.damaged:  # whose damaged entries may be in the file, and stand in the way
        raise InputError("the journal is damaged", file=journal.path, remedy=RESCUE_FIRST)
    with journal.together():
        there = {entry.id: entry for entry in journal.history()}
        try:
            new = _new_ones(placed, there)
            journal.add(*_in_order(new, set(there)))
        except InputError as fault:
            raise fault.but(file=path, remedy=f"Nothing was imported. {fault.remedy}") from None
    return Imported(added=len(new), there=len(placed) - len(new))


def first_lost(journal: Journal, placed: Sequence[Placed]) -> Placed | None:
    """Return the first of some entries that a journal does not hold as it stands there."""
    there = {entry.id: entry for entry in journal.history()}
    return next((each for each in placed if there.get(each.entry.id) != each.entry), None)


def _new_ones(placed: Sequence[Placed], there: Mapping[str, Entry]) -> list[Placed]:
    new: dict[str, Placed] = {}
    for line, entry in placed:
        twin = new.get(entry.id)
        before = there.get(entry.id) if twin is None else twin.entry
        if before is None:
            new[entry.id] = Placed(line, entry)
        elif before != entry:
            where = "in the journal" if twin is None else f"on line {twin.line}"
            what, remedy = f"an entry that stands otherwise {where}", "Remove it from the file, or mend it."
            raise InputError(what, line=line, value=entry.id, remedy=remedy)
    return list(new.values())


def _in_order(new: Sequence[Placed], known: set[str]) -> list[Entry]:
    """Put an undo after what it undoes, whichever way a spreadsheet has sorted them."""
    by_id = {each.entry.id: each for each in new}
    ordered: list[Entry] = []
    for each in new:
        chain: dict[str, Placed] = {}
        line: int = each.line
        wanted: str | None = each.entry.id
        while wanted is not None and wanted not in known:
            if wanted not in by_id or wanted in chain:
                what = "it undoes an entry that is neither in the journal nor in the file"
                raise InputError(what, line=line, value=wanted, remedy="Import the whole export.")
            chain[wanted] = by_id[wanted]
            line, wanted = chain[wanted].line, chain[wanted].entry.undoes
        ordered += [one.entry for one in reversed(chain.values())]
        known |= chain.keys()
    return ordered


def _placed(line: int, fields: Mapping[str, Any]) -> Placed:
    try:
        entry = Entry(**{name: _told(name, fields.get(name)) for name in FIELDS})
        check_entry(entry)
    except InputError as fault:
        raise fault.but(line=line) from None
    return Placed(line, entry)


_MOMENTS = {
    "made_at": (dt.datetime.fromisoformat, "not a time", "YYYY-MM-DDTHH:MM:SS"),
    "on": (dt.date.fromisoformat, "not a date", "YYYY-MM-DD"),
}


def _told(name: str, value: Any) -> Any:  # noqa: ANN401  # any field of an entry
    """Return a field of an entry by what a file tells of it."""
    if value is None and name in {"group", "undoes"}:
        return None
    kind: type[Any] = dict if name == "body" else str
    if not isinstance(value, kind):
        what = f"no {'text' if kind is str else 'JSON object'} as {name}"
        raise InputError(what, value="nothing" if value is None else value, remedy=AS_EXPORTED)
    if name not in _MOMENTS:
        return value
    read, what, form = _MOMENTS[name]
    try:
        return read(value)
    except ValueError:
        remedy = f"Write it as {form}; a spreadsheet may have changed it."
        raise InputError(what, value=value, remedy=remedy) from None
