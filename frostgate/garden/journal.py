"""The journal: SQLite that only grows."""

from __future__ import annotations

import datetime as dt
import itertools
import json
import shutil
import tempfile
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from frostgate.errors import FrostgateError, InputError
from frostgate.files import AnyPath
from frostgate.garden import store
from frostgate.garden.entries import check_entry
from frostgate.garden.store import COLUMNS, PATIENCE_S, RESCUE, UnopenedError, in_words
from frostgate.model.garden import ENTRY_KINDS, Damaged, Entry, EntryKind
from frostgate.model.gate import State

if TYPE_CHECKING:
    import sqlite3

_SELECT = f"SELECT {COLUMNS} FROM entries"  # noqa: S608  # of constants
BY_KIND = f"""
{_SELECT}
WHERE kind IN (SELECT value FROM json_each(:kinds)) AND on_day >= :since
      AND (:group IS NULL OR pot_group IS NULL OR pot_group = :group)
      AND (:verdicts IS NULL OR kind <> 'verdict' OR json_extract(body, '$.state') = :verdicts)
ORDER BY number
"""  # noqa: S608  # of constants
SHORTEST_ID = 4
START_AGAIN = (
    "Move it, and the files beside it whose names begin alike, to another folder; "
    "then read your last export into a new journal: frostgate log import FILE."
)
NAMED = 3  # damaged entries, in a note
_READ_TOO = """
CREATE TEMP TRIGGER read_too AFTER INSERT ON main.entries BEGIN INSERT INTO entries
VALUES (new.number, new.id, new.made_at, new.on_day, new.kind, new.pot_group, new.body, new.undoes); END
"""


def new_entry(kind: EntryKind, *, made_at: dt.datetime, on: dt.date | None = None, **told: Any) -> Entry:  # noqa: ANN401  # as Entry takes it
    """Make an entry with an id of its own; its day is that of its making where none is given."""
    import uuid  # a morning that writes nothing down need not load it

    return Entry(id=str(uuid.uuid4()), kind=kind, made_at=made_at, on=on or made_at.date(), **told)


def journal_file(garden_file: Path) -> Path:
    """Name the journal of a garden file."""
    return garden_file.with_suffix(".journal.sqlite")


class Journal:
    """A garden's journal, open for reading and writing; use it in a ``with`` statement.

    It only grows: nothing in it is ever changed or deleted, and what is wrong is undone by a further entry.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> morning = dt.datetime(2026, 4, 12, 7)
    >>> with TemporaryDirectory() as folder, Journal.open(Path(folder) / "a.journal.sqlite") as journal:
    ...     seen = new_entry("minimum", made_at=morning, body={"tmin_c": -1.5})
    ...     journal.add(seen)
    ...     _ = journal.undo(seen.id, morning)
    ...     len(journal.entries()), len(journal.history())
    (0, 2)
    """

    def __init__(
        self, db: sqlite3.Connection, path: Path, in_stead: tuple[FrostgateError, Path] | None = None
    ) -> None:
        self._db = db
        self.path = path
        self.damaged: tuple[Damaged, ...] = ()  # entries that are left out of all that is read
        self.unkept = ""  # why a copy that was due could not be kept
        self._refusal = in_stead[0] if in_stead else None  # why nothing can be written
        self._folder = in_stead[1] if in_stead else None  # of the copy that is read
        self._is_whole = False  # its pages, as far as was looked
        try:
            self._look_through()
        except BaseException:
            self.close()
            raise

    @classmethod
    def open(cls, path: AnyPath, *, patience_s: float = PATIENCE_S, to_read: bool = False) -> Journal:
        """Open a journal, make it where there is none, or migrate it where it is older.

        Every entry is held against its checksum: one that is damaged is named in ``damaged`` and left out.

        Parameters
        ----------
        path
            The file. A journal of an older version is copied before it is migrated.
        patience_s
            How long to wait for another process that writes [s].
        to_read
            Whether it need only be read: without a right to write where it stands, a copy of it is read.

        Returns
        -------
        Journal
            Close it, or use it in a ``with`` statement.

        Raises
        ------
        FrostgateError
            Where the file is corrupt, not a journal, that of a newer version, held by another process, or
            cannot be opened. Nothing in it is changed then.
        """
        path = Path(path)
        try:
            return cls(store.connect(path, patience_s), path)
        except UnopenedError as fault:
            if not to_read or not path.is_file():
                raise
            folder = None
            try:
                folder = Path(tempfile.mkdtemp())
                return cls(
                    store.connect(store.copy_to_read(path, folder), is_copy=True), path, (fault, folder)
                )
            except (OSError, FrostgateError):
                if folder is not None:
                    shutil.rmtree(folder, ignore_errors=True)
                raise fault from None

    def _look_through(self) -> None:
        """Hold every entry against its checksum, and read apart from what is damaged."""
        with in_words(self.path):
            if not store.is_all_sound(self._db):
                found = store.look_through(self._db)
                self.damaged = found.damaged
                if not found.is_straight:
                    self._read_apart(found.sound)
            if self._folder is not None:
                (last,) = self._db.execute("SELECT coalesce(max(number), 0) FROM entries").fetchone()
                self.damaged += store.lost_behind(self.path, last)

    def _read_apart(self, sound: dict[int, store.Row]) -> None:
        """Put sound entries into a table that is read in the file's stead; what is added gets there too."""
        self._db.execute(f"CREATE TEMP TABLE entries (number INTEGER PRIMARY KEY, {COLUMNS})")
        rows = ((number, *(cell and cell.decode() for cell in row)) for number, row in sound.items())
        self._db.executemany("INSERT INTO temp.entries VALUES (?, ?, ?, ?, ?, ?, ?, ?)", rows)
        self._db.execute(_READ_TOO)

    def close(self) -> None:
        """Close the file."""
        with in_words(self.path):
            self._db.close()
        if self._folder is not None:
            shutil.rmtree(self._folder, ignore_errors=True)

    def __enter__(self) -> Journal:
        return self

    def __exit__(self, *fault: object) -> None:
        self.close()

    @contextmanager
    def together(self) -> Iterator[None]:
        """Read and write with no other process between; what is added becomes durable whole or not at all."""
        with in_words(self.path):
            if self._db.in_transaction:
                yield
                return
            self._require_writable()
            with self._db:
                self._db.execute("BEGIN IMMEDIATE")
                yield

    def _require_writable(self) -> None:
        if self._refusal is None and not self._is_whole:
            broken = store.broken_pages(self._db)
            if broken:
                what = "the journal is damaged, and nothing more can be written into it"
                self._refusal = FrostgateError(what, file=self.path, value=broken[0], remedy=RESCUE)
            self._is_whole = not broken
        if self._refusal is not None:
            raise self._refusal

    def add(self, *entries: Entry) -> None:
        """Add entries, all or none.

        Parameters
        ----------
        *entries
            As `new_entry` makes them; what each kind holds is told with `Entry`.

        Raises
        ------
        InputError
            Where an entry is not what its kind must hold.
        FrostgateError
            Where it could not be written: an id is there already, the disk is full, another process holds the
            journal. What was there before is safe, and nothing of this was written.

        Notes
        -----
        The entries are on the disk when this returns, unless within `together`: a crash or a power cut loses
        none of them.
        """
        for entry in entries:
            check_entry(entry)
        with self.together():
            self._keep_copy(entries)
            (last,) = self._db.execute("SELECT coalesce(max(number), 0) FROM main.entries").fetchone()
            self._db.executemany(store.ADD, itertools.starmap(store.row_of, enumerate(entries, last + 1)))

    def _keep_copy(self, coming: Sequence[Entry]) -> None:
        """Keep a copy, once a week, before more is written; of a damaged journal none."""
        if coming and not self.damaged and self._db.execute("SELECT 1 FROM main.entries LIMIT 1").fetchone():
            try:
                with in_words(self.path):
                    store.keep_weekly(self.path, coming[0].made_at.date())
            except FrostgateError as fault:
                self.unkept = f"This week's copy of the journal could not be kept: {fault}"

    def take_over(self, entries: Sequence[Entry]) -> None:
        """Add the entries of another journal, undos of what is lost among them."""
        self._db.execute("PRAGMA foreign_keys = OFF")
        self.add(*entries)

    def entries(
        self,
        kinds: Collection[str] | None = None,
        since: dt.date | None = None,
        group: str | None = None,
        undone: bool = False,
        verdicts: State | None = None,
    ) -> tuple[Entry, ...]:
        """Return entries in the order in which they were written.

        Parameters
        ----------
        kinds
            Which kinds; None takes all.
        since
            The first day.
        group
            Only this group of pots, and what is told of the whole garden.
        undone
            Whether to return what was undone, and the undos, too.
        verdicts
            Of verdicts only those of this state.

        Returns
        -------
        tuple of Entry
            What stands, undone entries left out unless they are asked for.

        Raises
        ------
        FrostgateError
            Where the journal is corrupt, or cannot be read.
        """
        wanted = {
            "kinds": json.dumps(list(ENTRY_KINDS if kinds is None else kinds)),
            "since": "" if since is None else since.isoformat(),
            "group": group,
            "verdicts": verdicts,
        }
        found = self._read(BY_KIND, wanted)
        if undone:
            return found
        gone = self.undone()
        return tuple(entry for entry in found if entry.kind != "undo" and entry.id not in gone)

    def history(self) -> tuple[Entry, ...]:
        """Return every entry, undone ones and undos too, in the order they were added."""
        return self._read(f"{_SELECT} ORDER BY number", ())

    def undone(self) -> frozenset[str]:
        """Return the ids of what is undone; an undo that was itself undone takes nothing back."""
        query = "SELECT id, undoes FROM entries WHERE kind = 'undo' ORDER BY number DESC"
        gone: set[str] = set()
        with in_words(self.path):
            for undo, undoes in self._db.execute(query):  # newest first: what undoes an undo came after it
                if undo not in gone:
                    gone.add(undoes)
        return frozenset(gone)

    def find(self, beginning: str) -> Entry:
        """Return the one entry whose id is, or begins with, a text."""
        wanted = beginning.strip()
        found = self._read(
            f"{_SELECT} WHERE substr(id, 1, length(?1)) = ?1 ORDER BY length(id), id",
            (wanted,),
        )
        if found and (found[0].id == wanted or (len(found) == 1 and len(wanted) >= SHORTEST_ID)):
            return found[0]
        if len(wanted) < SHORTEST_ID:
            remedy = f"Give at least its first {SHORTEST_ID} characters."
        elif found:
            remedy = "Give more of it: " + " or ".join(entry.id for entry in found[:4]) + "."
        else:
            remedy = "See the ids with: frostgate log list."
        what = "several entries begin so" if len(found) > 1 else "no entry of this id"
        raise InputError(what, file=self.path, value=beginning, remedy=remedy)

    def undo(self, entry_id: str, made_at: dt.datetime) -> Entry:
        """Take an entry back by a new entry, and return that; an undo can be undone too."""
        with self.together():
            target = self.find(entry_id)
            if target.id in self.undone():
                raise InputError(
                    f"this {target.kind} of {target.on} is undone already",
                    file=self.path,
                    value=target.id,
                    remedy="To bring it back, undo its undo: frostgate log list --all shows it.",
                )
            undo = new_entry("undo", made_at=made_at, group=target.group, undoes=target.id)
            self.add(undo)
        return undo

    def _read(self, query: str, wanted: dict[str, Any] | tuple[str, ...]) -> tuple[Entry, ...]:
        with in_words(self.path):
            rows = self._db.execute(query, wanted).fetchall()
        try:
            return tuple(map(store.entry_of, rows))
        except (ValueError, TypeError) as fault:
            raise FrostgateError(store.CORRUPT, file=self.path, value=fault, remedy=RESCUE) from None

    def notes(self) -> tuple[str, ...]:
        """Return what the grower must know: damaged entries by name, a copy that could not be kept."""
        told = [
            f"Entry {one.number} of the journal ({one.name or 'unreadable'}) is damaged and left out."
            for one in self.damaged
        ]
        if len(told) > NAMED:
            told = [
                *told[:NAMED],
                f"{len(told) - NAMED} more entries of the journal are damaged and left out.",
            ]
        if self.damaged:
            told.append("What can be done: frostgate log check.")
        if self.unkept:
            told.append(self.unkept)
        return tuple(told)

    def faults(self) -> tuple[str, ...]:
        """Return what SQLite itself finds wrong with the file."""
        with in_words(self.path):
            return tuple(store.faults_of(self._db, "main.integrity_check"))


class Rescued(NamedTuple):
    """How many entries were saved, of them by a copy, and which are lost."""

    saved: int
    by_copies: int
    lost: tuple[Damaged, ...]


def rescue(path: Path, file: Path) -> Rescued:
    """Write all that can be read, in a journal or else in the copies kept of it, into a new journal.

    A copy that tells of any entry otherwise than the journal is that of another, and is not read.
    """
    rows: dict[int, store.Row] = {}
    lost: dict[int, Damaged] = {}
    fault, by_copies = None, 0
    for source in (path, *store.copies_of(path)):
        try:
            sound, damaged, _ = store.read_apart(source)
        except FrostgateError as unreadable:
            fault = fault or unreadable
            continue
        if not rows:
            rows, lost = sound, {one.number: one for one in damaged}
            by_copies = 0 if source == path else len(rows)
        elif all(rows.get(number, row) == row for number, row in sound.items()):
            found = {number: sound[number] for number in lost.keys() & sound.keys()}
            rows, by_copies = rows | found, by_copies + len(found)
            lost = {number: one for number, one in lost.items() if number not in found}
    if not rows and fault:
        raise fault.but(remedy=f"Neither can a copy be. {START_AGAIN}")
    _write_anew(file, [store.entry_of(row) for _, row in sorted(rows.items())])
    return Rescued(len(rows), by_copies, tuple(lost.values()))


def _write_anew(file: Path, entries: Sequence[Entry]) -> None:
    """Write entries into a journal that is made by this; an undo may be among them whose entry is lost."""
    try:
        file.open("x").close()
    except OSError as fault:
        what, remedy = "the new journal cannot be made", "Name a file that is not there yet."
        raise InputError(what, file=file, value=fault.strerror, remedy=remedy) from None
    try:
        with Journal.open(file) as journal:
            journal.take_over(entries)
    except BaseException:
        file.unlink()
        raise
