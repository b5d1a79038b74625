"""The journal: SQLite that only grows."""

from __future__ import annotations

import datetime as dt
import itertools
import json
import sqlite3
import time
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any

from frostgate.errors import FrostgateError, InputError
from frostgate.garden.entries import body_text, check_entry
from frostgate.model.garden import ENTRY_KINDS, Entry, EntryKind
from frostgate.model.gate import State

UNCHANGED = "Nothing of this was written; what stood there is safe."
START_AGAIN = (
    "Nothing in it was changed. Move it, and the files beside it whose names begin alike, to another folder; "
    "then read your last export into a new journal: frostgate log import FILE."
)

_IN_USE = ("the journal is held by another program", f"Close that, or try again in a moment. {UNCHANGED}")
_FULL = (
    "no space is left for the journal",
    f"Free some space on the disk and give the command again. {UNCHANGED}",
)
_SHUT = (
    "the journal cannot be opened or written here",
    f"Check that you may write the file and its folder, and that the disk is not full. {UNCHANGED}",
)
_GARBLED = ("the journal is garbled, or is no journal", START_AGAIN)
_MISFIT = ("an entry that does not fit the journal", UNCHANGED)
_OTHER = ("the journal cannot be used", UNCHANGED)
_BY_CODE = {
    sqlite3.SQLITE_BUSY: _IN_USE,
    sqlite3.SQLITE_LOCKED: _IN_USE,
    sqlite3.SQLITE_FULL: _FULL,
    sqlite3.SQLITE_IOERR: _SHUT,
    sqlite3.SQLITE_READONLY: _SHUT,
    sqlite3.SQLITE_CANTOPEN: _SHUT,
    sqlite3.SQLITE_PERM: _SHUT,
    sqlite3.SQLITE_NOTADB: _GARBLED,
    sqlite3.SQLITE_CORRUPT: _GARBLED,
    sqlite3.SQLITE_CONSTRAINT: _MISFIT,
}
_PRIMARY = 0xFF  # an extended result code keeps the plain one in its lowest byte


@contextmanager
def in_words(path: Path) -> Iterator[None]:
    """Let no error of SQLite through but in words."""
    try:
        yield
    except sqlite3.Error as fault:
        code = getattr(fault, "sqlite_errorcode", 0) & _PRIMARY
        what, remedy = _BY_CODE.get(code, _OTHER)
        raise FrostgateError(what, file=path, value=fault, remedy=remedy) from None


def garbled(path: Path, found: str) -> FrostgateError:
    """Make the error of a journal whose content is no longer what was written."""
    what, remedy = _GARBLED
    return FrostgateError(what, file=path, value=found, remedy=remedy)


BY_KIND = """
SELECT id, made_at, on_day, kind, pot_group, body, undoes FROM entries
WHERE kind IN (SELECT value FROM json_each(:kinds)) AND on_day >= :since
      AND (:group IS NULL OR pot_group IS NULL OR pot_group = :group)
      AND (:verdicts IS NULL OR kind <> 'verdict' OR json_extract(body, '$.state') = :verdicts)
ORDER BY on_day, made_at, number
"""
AS_ADDED = "SELECT id, made_at, on_day, kind, pot_group, body, undoes FROM entries ORDER BY number"
BY_ID = """
SELECT id, made_at, on_day, kind, pot_group, body, undoes FROM entries
WHERE substr(id, 1, length(?1)) = ?1 ORDER BY id
"""
UNDOS = "SELECT id, undoes FROM entries WHERE kind = 'undo' ORDER BY number DESC"
ADD = """
INSERT INTO entries (id, made_at, on_day, kind, pot_group, body, undoes) VALUES (?, ?, ?, ?, ?, ?, ?)
"""


def new_entry(
    kind: EntryKind,
    *,
    made_at: dt.datetime,
    on: dt.date | None = None,
    group: str | None = None,
    body: Mapping[str, Any] | None = None,
    undoes: str | None = None,
) -> Entry:
    """Make an entry with an id of its own; its day is that of its making where none is given."""
    import uuid  # a morning that writes nothing down need not load it

    return Entry(
        id=str(uuid.uuid4()),
        made_at=made_at,
        on=made_at.date() if on is None else on,
        kind=kind,
        group=group,
        body={} if body is None else body,
        undoes=undoes,
    )


def row_of(entry: Entry) -> tuple[str | None, ...]:
    """Lay an entry out as a row of the journal."""
    told = (entry.made_at.isoformat(), entry.on.isoformat(), entry.kind, entry.group)
    return entry.id, *told, body_text(entry.body), entry.undoes


def entry_of(row: Sequence[Any]) -> Entry:
    """Read an entry from a row of the journal."""
    entry_id, made_at, on, kind, group, body, undoes = row
    return Entry(
        id=entry_id,
        made_at=dt.datetime.fromisoformat(made_at),
        on=dt.date.fromisoformat(on),
        kind=kind,
        group=group,
        body=json.loads(body),
        undoes=undoes,
    )


APPLICATION_ID = 0x46524F53  # "FROS", by which a journal is told from any other SQLite file

_ENTRIES = """
CREATE TABLE entries (
    number    INTEGER PRIMARY KEY,
    id        TEXT NOT NULL UNIQUE,
    made_at   TEXT NOT NULL,
    on_day    TEXT NOT NULL,
    kind      TEXT NOT NULL CHECK (kind IN ('feeding', 'bud break', 'fruit set', 'growth', 'damage',
                                            'minimum', 'forecast', 'verdict', 'undo')),
    pot_group TEXT,
    body      TEXT NOT NULL CHECK (json_valid(body)),
    undoes    TEXT REFERENCES entries (id),
    CHECK ((kind = 'undo') = (undoes IS NOT NULL) AND undoes IS NOT id)
) STRICT
"""
_NO_UPDATE = """
CREATE TRIGGER nothing_is_changed BEFORE UPDATE ON entries
BEGIN SELECT RAISE(ABORT, 'an entry is never changed; undo it'); END
"""
_NO_DELETE = """
CREATE TRIGGER nothing_is_deleted BEFORE DELETE ON entries
BEGIN SELECT RAISE(ABORT, 'an entry is never deleted; undo it'); END
"""
# SQLite fires no DELETE trigger for what INSERT OR REPLACE replaces
_NO_REPLACE = """
CREATE TRIGGER nothing_is_replaced BEFORE INSERT ON entries
WHEN EXISTS (SELECT 1 FROM entries WHERE id = new.id OR number = new.number)
BEGIN SELECT RAISE(ABORT, 'an entry of this id is there already'); END
"""
_BY_KIND = "CREATE INDEX entries_by_kind ON entries (kind, on_day, made_at)"

MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (_ENTRIES, _NO_UPDATE, _NO_DELETE),
    (_NO_REPLACE, _BY_KIND),
)
"""The statements that lead to version 1, to version 2, and so on."""


def bring_up_to_date(db: sqlite3.Connection, path: Path) -> None:
    """Make the tables of a new journal, or migrate an older one."""
    if version_of(db, path) == len(MIGRATIONS):
        return
    if version_of(db, path) > 0:
        require_sound(db, path)
    db.execute("BEGIN IMMEDIATE")
    try:
        _migrate(db, path)
        db.execute("COMMIT")
    except BaseException:
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise


def version_of(db: sqlite3.Connection, path: Path) -> int:
    """Return a journal's version; 0 is a file without anything in it yet."""
    (owner,) = db.execute("PRAGMA application_id").fetchone()
    (version,) = db.execute("PRAGMA user_version").fetchone()
    (tables,) = db.execute("SELECT count(*) FROM sqlite_master").fetchone()
    if owner != APPLICATION_ID and (owner or version or tables):
        raise FrostgateError(
            "a file of another program, not a journal",
            file=path,
            remedy="Move it out of the garden's folder; frostgate has not changed it.",
        )
    if version > len(MIGRATIONS):
        raise FrostgateError(
            f"a journal of version {version}; this frostgate knows versions up to {len(MIGRATIONS)}",
            file=path,
            remedy=f"Install the newer frostgate that wrote it. {UNCHANGED}",
        )
    return int(version)


def require_sound(db: sqlite3.Connection, path: Path) -> None:
    """Read the whole file and make sure that nothing in it is garbled."""
    (found,) = db.execute("PRAGMA quick_check(1)").fetchone()
    if found != "ok":
        raise garbled(path, " ".join(found.split()))


def backup_name(path: Path, version: int) -> Path:
    """Return the first name that is still free for the copy of an older journal."""
    names = (
        path.with_name(f"{path.stem}.version-{version}{again}{path.suffix}")
        for again in itertools.chain([""], (f"-{count}" for count in itertools.count(2)))
    )
    return next(name for name in names if not name.exists())


def _migrate(db: sqlite3.Connection, path: Path) -> None:
    """Go from version to version, where no other process has done so while this one waited for the lock."""
    version = version_of(db, path)
    if 0 < version < len(MIGRATIONS):
        _back_up(path, version)
    for number in range(version, len(MIGRATIONS)):
        for statement in MIGRATIONS[number]:
            db.execute(statement)
        db.execute(f"PRAGMA user_version = {number + 1}")
    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")


def _back_up(path: Path, version: int) -> None:
    """Copy a journal; the copy appears under its name once it is whole."""
    place = backup_name(path, version)
    part = place.with_name(f"{place.name}.part")
    part.unlink(missing_ok=True)
    try:
        with closing(sqlite3.connect(path)) as old, closing(sqlite3.connect(part)) as copy:
            old.backup(copy)
        part.replace(place)
    finally:
        part.unlink(missing_ok=True)


PATIENCE_S = 5.0
OLDEST_SQLITE = (3, 37)  # knows STRICT tables
SHORTEST_FILE = 512  # bytes, SQLite's smallest page
SHORTEST_ID = 4

_PAUSE_S = 0.02
_DURABLE = ("synchronous = FULL", "fullfsync = ON", "checkpoint_fullfsync = ON", "foreign_keys = ON")


def journal_file(garden_file: Path) -> Path:
    """Name the journal of a garden file."""
    return garden_file.with_suffix(".journal.sqlite")


class Journal:
    """A garden's journal, open for reading and writing; use it in a ``with`` statement."""

    def __init__(self, db: sqlite3.Connection, path: Path) -> None:
        self._db = db
        self.path = path

    @classmethod
    def open(cls, path: Path, *, patience_s: float = PATIENCE_S, thorough: bool = False) -> Journal:
        """Open a journal, make it where there is none, or migrate it where it is older."""
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
        """Read and write with no other process between; what is added becomes durable whole or not at all."""
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
        """Add entries, all or none; they are on the disk when this returns, unless within `together`."""
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
        """Return entries by the day they tell of, those of one day as they were written."""
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
        return self._read(AS_ADDED, ())

    def undone(self) -> frozenset[str]:
        """Return the ids of what is undone; an undo that was itself undone takes nothing back."""
        gone: set[str] = set()
        with in_words(self.path):
            for undo, undoes in self._db.execute(
                UNDOS
            ):  # the newest first: what undoes an undo came after it
                if undo not in gone:
                    gone.add(undoes)
        return frozenset(gone)

    def find(self, beginning: str) -> Entry:
        """Return the one entry whose id is, or begins with, a text."""
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
        """Take an entry back by a new entry, and give that; an undo can be undone too."""
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
