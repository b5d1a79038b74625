"""The two forms in which a journal is exported: a table for spreadsheets, and JSON.

Both hold one entry in a row or object, with the same fields; in the table the body stands as JSON in one
column. The table begins with a byte order mark, by which spreadsheets know that it is UTF-8.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from frostgate.errors import InputError
from frostgate.garden.bodies import body_text, parse_body, without_twins
from frostgate.terms.journal import Entry
from frostgate.values import dataclass

BOM = "\ufeff"
FIELDS = ("id", "made_at", "on", "kind", "group", "undoes", "body")
_FIRST_LINE = f"Begin with the line: {','.join(FIELDS)}."
_AS_EXPORTED = "Leave it as the export has it: one list of entries."
_BLANK = re.compile(r"[ \t\r\n]*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Raw:
    """The fields of one entry as a file has them, and the line they begin on.

    Examples
    --------
    >>> Raw(line=2, fields={"id": "1"}).line
    2
    """

    line: int
    fields: dict[str, Any]


def write_table(entries: Iterable[Entry]) -> str:
    r"""Write entries as a table.

    Examples
    --------
    >>> write_table([]).lstrip(BOM)
    'id,made_at,on,kind,group,undoes,body\n'
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(FIELDS)
    for entry in entries:
        fields = _fields(entry) | {"body": body_text(entry.body)}
        writer.writerow(["" if fields[name] is None else fields[name] for name in FIELDS])
    return BOM + text.getvalue()


def write_json(entries: Iterable[Entry]) -> str:
    r"""Write entries as a list in JSON, one entry on a line.

    Examples
    --------
    >>> write_json([])
    '[]\n'
    """
    lines = [json.dumps(_fields(entry) | {"body": dict(entry.body)}, ensure_ascii=False) for entry in entries]
    return "[\n" + ",\n".join(lines) + "\n]\n" if lines else "[]\n"


def read_table(text: str, path: Path) -> Iterator[Raw]:
    r"""Read the rows of a table as a spreadsheet may have saved it: any separator, order, quoting, line ends.

    Raises
    ------
    InputError
        Names the line that cannot be read.

    Examples
    --------
    >>> [raw.fields["body"] for raw in read_table('body;id\n"{""note"": ""a;b""}";1\n', Path("a.csv"))]
    Traceback (most recent call last):
    ...
    frostgate.errors.InputError: a.csv, line 1: not the columns of a journal: 'body, id'. Begin with ...
    """
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
    r"""Read the entries of a list in JSON, however it is laid out.

    Raises
    ------
    InputError
        Names the line that cannot be read.

    Examples
    --------
    >>> [raw.line for raw in read_json('[\n{"id": "1"},\n{"id": "2"}]', Path("a.json"))]
    [2, 3]
    """
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
    """Give the rows that hold anything, each with the line it begins on."""
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
