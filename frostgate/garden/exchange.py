"""The journal as CSV and JSON, out and in again."""

from __future__ import annotations

import contextlib
import csv
import datetime as dt
import io
import json
import os
import re
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

from frostgate.errors import FrostgateError, InputError
from frostgate.garden.entries import body_text, check_entry, parse_body, without_twins
from frostgate.garden.journal import Journal
from frostgate.model.garden import Entry, EntryKind

BOM = "\ufeff"
FIELDS = ("id", "made_at", "on", "kind", "group", "undoes", "body")
_FIRST_LINE = f"Begin with the line: {','.join(FIELDS)}."
_AS_EXPORTED = "Leave it as the export has it: one list of entries."
_BLANK = re.compile(r"[ \t\r\n]*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Raw:
    """The fields of one entry as a file has them, and the line they begin on."""

    line: int
    fields: dict[str, Any]


def write_table(entries: Iterable[Entry]) -> str:
    r"""Write entries as a table."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(FIELDS)
    for entry in entries:
        fields = _fields(entry) | {"body": body_text(entry.body)}
        writer.writerow(["" if fields[name] is None else fields[name] for name in FIELDS])
    return BOM + text.getvalue()


def write_json(entries: Iterable[Entry]) -> str:
    r"""Write entries as a list in JSON, one entry on a line."""
    lines = [json.dumps(_fields(entry) | {"body": dict(entry.body)}, ensure_ascii=False) for entry in entries]
    return "[\n" + ",\n".join(lines) + "\n]\n" if lines else "[]\n"


def read_table(text: str, path: Path) -> Iterator[Raw]:
    r"""Read a table's rows as a spreadsheet may have saved it: any separator, order, quoting, line ends."""
    text = text.removeprefix(BOM)
    separator = max(",;\t", key=re.split(r"[\r\n]", text.lstrip(), maxsplit=1)[0].count)
    rows = _rows(csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True), path)
    line, header = next(rows, (1, []))
    names = [cell.lower() for cell in header]
    if sorted(filter(None, names)) != sorted(FIELDS):
        shown = ", ".join(header)
        raise InputError(
            "not the columns of a journal", file=path, line=line, value=shown, remedy=_FIRST_LINE
        )
    for line, cells in rows:
        if any(cells[len(names) :]) or any(
            cell for name, cell in zip(names, cells, strict=False) if not name
        ):
            remedy = "Remove what does not belong there."
            raise InputError("a cell beside the columns", file=path, line=line, remedy=remedy)
        row = {name: cell or None for name, cell in zip(names, cells, strict=False) if name}
        yield Raw(line=line, fields=_with_body(row, path, line))


def read_json(text: str, path: Path) -> Iterator[Raw]:
    r"""Read the entries of a list in JSON, however it is laid out."""
    scan = _Scan(path, text)
    scan.take("[", "not a list of entries")
    if scan.sign != "]":
        yield scan.entry()
    while scan.sign != "]":
        scan.take(",", "not a list of entries")
        yield scan.entry()
    scan.take("]", "not a list of entries")
    if scan.sign:
        raise scan.fault("more after the list's end")


WRITERS: dict[str, Callable[[Iterable[Entry]], str]] = {".csv": write_table, ".json": write_json}
READERS: dict[str, Callable[[str, Path], Iterator[Raw]]] = {".csv": read_table, ".json": read_json}
"""The forms by the ending of a file's name."""


def _fields(entry: Entry) -> dict[str, Any]:
    return {
        "id": entry.id,
        "made_at": entry.made_at.isoformat(),
        "on": entry.on.isoformat(),
        "kind": entry.kind,
        "group": entry.group,
        "undoes": entry.undoes,
    }


def _rows(reader: Iterator[Sequence[str]], path: Path) -> Iterator[tuple[int, list[str]]]:
    """Return the rows that hold anything, each with the line it begins on."""
    while True:
        line = reader.line_num + 1  # type: ignore[attr-defined]  # csv's reader counts, but has no public type
        try:
            cells = [cell.strip() for cell in next(reader)]
        except StopIteration:
            return
        except csv.Error as fault:
            remedy = "Mend the quotation marks."
            raise InputError(f"not a row of a table ({fault})", file=path, line=line, remedy=remedy) from None
        if any(cells):
            yield line, cells


def _with_body(row: dict[str, Any], path: Path, line: int) -> dict[str, Any]:
    try:
        return row | {"body": parse_body(row.get("body") or "")}
    except InputError as fault:
        raise InputError(
            f"the body is {fault.what}", file=path, line=line, value=fault.value, remedy=fault.remedy
        ) from None


class _Scan:
    """A place in a JSON text, and the line it is on."""

    def __init__(self, path: Path, text: str) -> None:
        self._path, self._text = path, text
        self._at, self._line = 0, 1
        self._decoder = json.JSONDecoder(object_pairs_hook=without_twins)
        self._move(0)

    @property
    def sign(self) -> str:
        """The next sign, empty at the end."""
        return self._text[self._at : self._at + 1]

    def take(self, sign: str, otherwise: str) -> None:
        """Step over a sign that must stand here."""
        if self.sign != sign:
            raise self.fault(otherwise)
        self._move(self._at + 1)

    def entry(self) -> Raw:
        """Read the entry that begins here."""
        try:
            fields, end = self._decoder.raw_decode(self._text, self._at)
        except (ValueError, RecursionError) as fault:
            self._move(getattr(fault, "pos", self._at))
            raise self.fault(f"not JSON ({fault})") from None
        if not isinstance(fields, dict) or not set(fields) <= set(FIELDS):
            shown = ", ".join(fields) if isinstance(fields, dict) else fields
            raise self.fault("not the fields of an entry", shown)
        raw = Raw(line=self._line, fields=fields)
        self._move(end)
        return raw

    def fault(self, what: str, value: object = None) -> InputError:
        """Make an error that names the line."""
        return InputError(what, file=self._path, line=self._line, value=value, remedy=_AS_EXPORTED)

    def _move(self, to: int) -> None:
        after = _BLANK.match(self._text, to)
        end = to if after is None else after.end()
        self._line += self._text.count("\n", self._at, end)
        self._at = end


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """An entry, and the line of the file it stands on."""

    line: int
    entry: Entry


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """How many entries were added, and how many were there already."""

    added: int
    there: int


def form_of(path: Path) -> str:
    """Tell the form of an export by the ending of its name."""
    form = path.suffix.lower()
    if form not in WRITERS:
        raise InputError(
            "a journal is exported as .csv or .json", file=path, remedy="Name the file accordingly."
        )
    return form


def write_export(path: Path, entries: Iterable[Entry]) -> None:
    r"""Write entries to a file beside its place and move it there whole."""
    text = WRITERS[form_of(path)](entries)
    place, part = path.resolve(), None
    try:
        handle, part = tempfile.mkstemp(prefix=f".{place.name}.", suffix=".part", dir=place.parent)
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        Path(part).chmod(place.stat().st_mode if place.exists() else 0o644)
        Path(part).replace(place)
    except OSError as fault:
        if part is not None:
            with contextlib.suppress(OSError):
                Path(part).unlink(missing_ok=True)
        remedy = "Check the folder, that it may be written, and the space left; nothing was changed."
        raise FrostgateError(
            "the export cannot be written", file=path, value=fault.strerror, remedy=remedy
        ) from None


def read_export(text: str, path: Path) -> tuple[Placed, ...]:
    """Read and check every entry of an export."""
    return tuple(Placed(line=raw.line, entry=_entry(raw, path)) for raw in READERS[form_of(path)](text, path))


def import_entries(journal: Journal, placed: Sequence[Placed], path: Path) -> Imported:
    """Add the entries that the journal has not yet; everything is checked before anything is written."""
    with journal.together():
        there = {entry.id: entry for entry in journal.history()}
        new = _new_ones(placed, there, path)
        journal.add(*_in_order(new, set(there), path))
    return Imported(added=len(new), there=len(placed) - len(new))


def is_kept(journal: Journal, placed: Sequence[Placed]) -> bool:
    """Return whether a journal holds every one of some entries."""
    there = {entry.id: entry for entry in journal.history()}
    return all(there.get(each.entry.id) == each.entry for each in placed)


def _new_ones(placed: Sequence[Placed], there: Mapping[str, Entry], path: Path) -> list[Placed]:
    new: dict[str, Placed] = {}
    for each in placed:
        entry = each.entry
        twin = new.get(entry.id)
        before = there.get(entry.id) if twin is None else twin.entry
        if before is None:
            new[entry.id] = each
        elif before != entry:
            where = "in the journal" if twin is None else f"on line {twin.line}"
            raise InputError(
                f"an entry that stands otherwise {where}",
                file=path,
                line=each.line,
                value=entry.id,
                remedy="Nothing was imported. Remove this entry from the file, or mend it.",
            )
    return list(new.values())


def _in_order(new: Sequence[Placed], known: set[str], path: Path) -> list[Entry]:
    """Put an undo after what it undoes, whichever way a spreadsheet has sorted them."""
    ordered: list[Entry] = []
    left = list(new)
    while left:
        waiting = []
        for each in left:
            if each.entry.undoes is None or each.entry.undoes in known:
                known.add(each.entry.id)
                ordered.append(each.entry)
            else:
                waiting.append(each)
        if len(waiting) == len(left):
            raise InputError(
                "it undoes an entry that is neither in the journal nor in the file",
                file=path,
                line=left[0].line,
                value=left[0].entry.undoes,
                remedy="Nothing was imported. Import the whole export.",
            )
        left = waiting
    return ordered


def _entry(raw: Raw, path: Path) -> Entry:
    fields = raw.fields
    try:
        entry = Entry(
            id=_text(fields, "id"),
            made_at=_time(_text(fields, "made_at")),
            on=_date(_text(fields, "on")),
            kind=cast(EntryKind, _text(fields, "kind")),
            group=None if fields.get("group") is None else _text(fields, "group"),
            undoes=None if fields.get("undoes") is None else _text(fields, "undoes"),
            body=_object(fields),
        )
        check_entry(entry)
    except InputError as fault:
        raise InputError(
            fault.what, file=path, line=raw.line, value=fault.value, remedy=fault.remedy
        ) from None
    return entry


def _text(fields: Mapping[str, Any], name: str) -> str:
    value = fields.get(name)
    if not isinstance(value, str):
        shown = "nothing" if value is None else value
        raise InputError(f"no text as {name}", value=shown, remedy="Leave it as the export has it.")
    return value


def _object(fields: Mapping[str, Any]) -> dict[str, Any]:
    body = fields.get("body")
    if not isinstance(body, dict):
        raise InputError("the body is not a JSON object", value=body, remedy="Leave it as the export has it.")
    return body


def _date(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        remedy = "Write it as YYYY-MM-DD; a spreadsheet may have changed it."
        raise InputError("not a date", value=text, remedy=remedy) from None


def _time(text: str) -> dt.datetime:
    try:
        return dt.datetime.fromisoformat(text)
    except ValueError:
        remedy = "Write it as YYYY-MM-DDTHH:MM:SS; a spreadsheet may have changed it."
        raise InputError("not a time", value=text, remedy=remedy) from None
