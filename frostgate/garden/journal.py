"""The journal: an SQLite file beside the garden file, to which entries are only ever added.

An entry is acknowledged when `Journal.add` returns; it is on the disk by then (write-ahead log,
``synchronous = FULL``), and outlives a kill and a power cut. Nothing is changed or deleted: an undo is an
entry too, and triggers in the file itself refuse anything else.
"""

from __future__ import annotations

import datetime as dt
import json
import sqlite3
import time
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any

from frostgate.errors import FrostgateError, InputError
from frostgate.garden.bodies import check_entry
from frostgate.garden.faults import garbled, in_words
from frostgate.garden.migrations import bring_up_to_date, require_sound
from frostgate.garden.rows import ADD, AS_ADDED, BY_ID, BY_KIND, UNDOS, entry_of, new_entry, row_of
from frostgate.terms.journal import ENTRY_KINDS, Entry
from frostgate.terms.verdict import State

PATIENCE_S = 5.0
OLDEST_SQLITE = (3, 37)  # knows STRICT tables
SHORTEST_FILE = 512  # bytes, SQLite's smallest page
SHORTEST_ID = 4

_PAUSE_S = 0.02
_DURABLE = ("synchronous = FULL", "fullfsync = ON", "checkpoint_fullfsync = ON", "foreign_keys = ON")


def journal_file(garden_file: Path) -> Path:
    """Name the journal of a garden file.

    Examples
    --------
    >>> journal_file(Path("hollin/garden.toml")).name
    'garden.journal.sqlite'
    """
    return garden_file.with_suffix(".journal.sqlite")


class Journal:
    """A garden's journal, open for reading and writing; use it in a ``with`` statement.

    Examples
    --------
    >>> import tempfile
    >>> seen = new_entry("minimum", made_at=dt.datetime(2026, 4, 12, 7), body={"tmin_c": -1.1})
    >>> with tempfile.TemporaryDirectory() as folder, Journal.open(Path(folder) / "j.sqlite") as journal:
    ...     journal.add(seen)
    ...     undo = journal.undo(seen.id, dt.datetime(2026, 4, 12, 8))
    ...     journal.entries(), len(journal.entries(undone=True))
    ((), 2)
    """

    def __init__(self, db: sqlite3.Connection, path: Path) -> None:
        self._db = db
        self.path = path

    @classmethod
    def open(cls, path: Path, *, patience_s: float = PATIENCE_S, thorough: bool = False) -> Journal:
        """Open a journal, make it where there is none, or migrate it where it is older.

        Parameters
        ----------
        path
            The journal's file.
        patience_s
            How long to wait for another process that writes [s].
        thorough
            Whether to read the whole file first and refuse it where it is garbled anywhere; else only what is
            asked for is read.

        Raises
        ------
        FrostgateError
            Where it cannot be opened: garbled, another program's, newer, locked, in a read-only folder.
        """
        if sqlite3.sqlite_version_info < OLDEST_SQLITE:
            raise FrostgateError(
                "the SQLite of this Python is too old for a journal",
                value=sqlite3.sqlite_version,
                remedy="SQLite 3.37 or newer is needed: install a newer Python.",
            )
        _refuse_stub(path)
        with in_words(path):
            db = sqlite3.connect(path, timeout=patience_s, isolation_level=None)
            try:
                bring_up_to_date(db, path)
                if thorough:
                    require_sound(db, path)
                _use_write_ahead_log(db, patience_s)
                for setting in _DURABLE:
                    db.execute(f"PRAGMA {setting}")
            except BaseException:
                db.close()
                raise
        return cls(db, path)

    def close(self) -> None:
        """Close the file."""
        with in_words(self.path):
            self._db.close()

    def __enter__(self) -> Journal:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @contextmanager
    def together(self) -> Iterator[None]:
        """Read and write with no other process in between; what is added becomes durable whole or not at all.

        Raises
        ------
        FrostgateError
            Where it cannot be written; then nothing of it was.
        """
        with in_words(self.path):
            is_within = self._db.in_transaction
            if is_within:
                yield
                return
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
                raise

    def add(self, *entries: Entry) -> None:
        """Add entries, all or none; they are on the disk when this returns, unless within `together`.

        Raises
        ------
        InputError
            Where an entry does not hold what its kind must.
        FrostgateError
            Where an entry of the same id is there, or the journal cannot be written; then nothing was.
        """
        for entry in entries:
            check_entry(entry)
        with self.together():
            self._db.executemany(ADD, [row_of(entry) for entry in entries])

    def entries(
        self,
        kinds: Collection[str] | None = None,
        since: dt.date | None = None,
        group: str | None = None,
        undone: bool = False,
        verdicts: State | None = None,
    ) -> tuple[Entry, ...]:
        """Give entries by the day they tell of, those of one day as they were written.

        Parameters
        ----------
        kinds
            Which kinds; None for all.
        since
            The first day; None for all.
        group
            Entries of this group and of the whole garden; None for all.
        undone
            Whether to give what was undone too, and the undos themselves.
        verdicts
            Of verdicts, those of this state alone; None for all.

        Raises
        ------
        FrostgateError
            Where the journal cannot be read.
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
        """Give every entry, undone ones and undos too, in the order they were added."""
        return self._read(AS_ADDED, ())

    def undone(self) -> frozenset[str]:
        """Give the ids of what is undone; an undo that was itself undone takes nothing back."""
        gone: set[str] = set()
        with in_words(self.path):
            for undo, undoes in self._db.execute(
                UNDOS
            ):  # the newest first: what undoes an undo came after it
                if undo not in gone:
                    gone.add(undoes)
        return frozenset(gone)

    def find(self, beginning: str) -> Entry:
        """Give the one entry whose id is, or begins with, a text.

        Raises
        ------
        InputError
            Where there is none or there are several, or the text is too short.
        """
        wanted = beginning.strip()
        found = self._read(BY_ID, (wanted,))
        exact = [entry for entry in found if entry.id == wanted]
        if exact or (len(found) == 1 and len(wanted) >= SHORTEST_ID):
            return (exact or found)[0]
        if len(wanted) < SHORTEST_ID:
            remedy = f"Give at least its first {SHORTEST_ID} characters."
        elif found:
            remedy = "Give more of it: " + " or ".join(entry.id for entry in found[:4]) + "."
        else:
            remedy = "See the ids with: frostgate log list."
        what = "several entries begin so" if len(found) > 1 else "no entry of this id"
        raise InputError(what, file=self.path, value=beginning, remedy=remedy)

    def undo(self, entry_id: str, made_at: dt.datetime) -> Entry:
        """Take an entry back by a new entry, and give that; an undo can be undone too.

        Raises
        ------
        InputError
            Where there is no entry of this id, or it is undone already.
        """
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
            return tuple(entry_of(row) for row in rows)
        except (ValueError, TypeError) as fault:
            raise garbled(self.path, str(fault)) from None


def _refuse_stub(path: Path) -> None:
    """Refuse a file shorter than any SQLite file: SQLite would take it for a new one and write over it."""
    size = path.stat().st_size if path.is_file() else 0
    if 0 < size < SHORTEST_FILE:
        raise garbled(path, f"{size} bytes")


def _use_write_ahead_log(db: sqlite3.Connection, patience_s: float) -> None:
    """Change to it, which SQLite refuses without waiting while another process is in a new journal."""
    for _ in range(int(patience_s / _PAUSE_S)):
        try:
            db.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as fault:
            if fault.sqlite_errorcode != sqlite3.SQLITE_BUSY:
                raise
            time.sleep(_PAUSE_S)
        else:
            return
    db.execute("PRAGMA journal_mode = WAL")
