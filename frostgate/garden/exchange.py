"""A journal out to a file and back in again, without loss."""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, cast

from frostgate.errors import FrostgateError, InputError
from frostgate.garden.bodies import check_entry
from frostgate.garden.exchange_forms import READERS, WRITERS, Raw
from frostgate.garden.journal import Journal
from frostgate.terms.journal import Entry, EntryKind
from frostgate.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """An entry, and the line of the file it stands on.

    Examples
    --------
    >>> Placed(line=2, entry=Entry(id="1", made_at=dt.datetime(2026, 4, 12, 7), on=dt.date(2026, 4, 12),
    ...                            kind="growth")).line
    2
    """

    line: int
    entry: Entry


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """How many entries were added, and how many were there already.

    Examples
    --------
    >>> Imported(added=3, there=0).added
    3
    """

    added: int
    there: int


def form_of(path: Path) -> str:
    """Tell the form of an export by the ending of its name.

    Raises
    ------
    InputError
        Where it is neither ``.csv`` nor ``.json``.

    Examples
    --------
    >>> form_of(Path("Journal.CSV"))
    '.csv'
    """
    form = path.suffix.lower()
    if form not in WRITERS:
        raise InputError(
            "a journal is exported as .csv or .json", file=path, remedy="Name the file accordingly."
        )
    return form


def write_export(path: Path, entries: Iterable[Entry]) -> None:
    r"""Write entries to a file beside its place and move it there whole.

    Raises
    ------
    FrostgateError
        Where the name has another ending, or the file cannot be written; then what stood there still stands.

    Examples
    --------
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_export(Path(folder) / "journal.json", [])
    ...     (Path(folder) / "journal.json").read_text()
    '[]\n'
    """
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
    """Read and check every entry of an export.

    Parameters
    ----------
    text
        What stands in the file.
    path
        Its name: the ending tells the form, and errors name it.

    Raises
    ------
    InputError
        Names the line of the first entry that cannot be read or lacks what its kind must hold.

    Examples
    --------
    >>> read_export("[]", Path("journal.json"))
    ()
    """
    return tuple(Placed(line=raw.line, entry=_entry(raw, path)) for raw in READERS[form_of(path)](text, path))


def import_entries(journal: Journal, placed: Sequence[Placed], path: Path) -> Imported:
    """Add the entries that the journal has not yet; everything is checked before anything is written.

    Raises
    ------
    InputError
        Names the line of an entry that stands otherwise in the journal or earlier in the file, or that undoes
        an entry which is in neither.
    FrostgateError
        Where the journal cannot be written; then nothing was.

    Examples
    --------
    >>> with tempfile.TemporaryDirectory() as folder, Journal.open(Path(folder) / "j.sqlite") as journal:
    ...     import_entries(journal, (), Path("journal.json"))
    Imported(added=0, there=0)
    """
    with journal.together():
        there = {entry.id: entry for entry in journal.history()}
        new = _new_ones(placed, there, path)
        journal.add(*_in_order(new, set(there), path))
    return Imported(added=len(new), there=len(placed) - len(new))


def is_kept(journal: Journal, placed: Sequence[Placed]) -> bool:
    """Tell whether a journal holds every one of some entries.

    Examples
    --------
    >>> with tempfile.TemporaryDirectory() as folder, Journal.open(Path(folder) / "j.sqlite") as journal:
    ...     is_kept(journal, ())
    True
    """
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
