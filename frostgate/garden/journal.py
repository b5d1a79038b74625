"""The journal: SQLite that only grows."""

from __future__ import annotations

import datetime as dt
import itertools
import json
import time
from collections.abc import Collection, Iterator
from contextlib import closing, contextmanager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any

from frostgate.errors import FrostgateError, InputError
from frostgate.files import AnyPath
from frostgate.garden.entries import body_text, check_entry
from frostgate.model.garden import ENTRY_KINDS, Entry, EntryKind
from frostgate.model.gate import State

if TYPE_CHECKING:
    import sqlite3  # at run time loaded by what opens a journal: a morning without a garden has none

UNCHANGED = "Nothing of this was written; what stood there is safe."
START_AGAIN = (
    "Nothing in it was changed. Move it, and the files beside it whose names begin alike, to another folder; "
    "then read your last export into a new journal: frostgate log import FILE."
)
_CORRUPT = "the journal is corrupt, or not a journal"
_FAULTS = {
    "BUSY LOCKED": (
        "the journal is held by another program",
        f"Close that, or try again in a moment. {UNCHANGED}",
    ),
    "FULL": (
        "no space is left for the journal",
        f"Free some space on the disk and give the command again. {UNCHANGED}",
    ),
    "IOERR READONLY CANTOPEN PERM": (
        "the journal cannot be opened or written here",
        f"Check that you may write the file and its folder, and that the disk is not full. {UNCHANGED}",
    ),
    "NOTADB CORRUPT": (_CORRUPT, START_AGAIN),
    "CONSTRAINT": ("an entry that does not fit the journal", UNCHANGED),
}  # what is wrong and what to do, by SQLite's result codes
APPLICATION_ID = 0x46524F53  # "FROS", by which a journal is told from any other SQLite file
_SELECT = "SELECT id, made_at, on_day, kind, pot_group, body, undoes FROM entries"
BY_KIND = f"""
{_SELECT}
WHERE kind IN (SELECT value FROM json_each(:kinds)) AND on_day >= :since
      AND (:group IS NULL OR pot_group IS NULL OR pot_group = :group)
      AND (:verdicts IS NULL OR kind <> 'verdict' OR json_extract(body, '$.state') = :verdicts)
ORDER BY on_day, made_at, number
"""  # noqa: S608  # of constants
ADD = "INSERT INTO entries (id, made_at, on_day, kind, pot_group, body, undoes) VALUES (?, ?, ?, ?, ?, ?, ?)"


@contextmanager
def _in_words(path: Path) -> Iterator[None]:
    """Let no error of SQLite through but in words."""
    import sqlite3

    try:
        yield
    except sqlite3.Error as fault:
        code = getattr(fault, "sqlite_errorname", "SQLITE_UNKNOWN").split("_")[1]
        told = (said for codes, said in _FAULTS.items() if code in codes.split())
        what, remedy = next(told, ("the journal cannot be used", UNCHANGED))
        raise FrostgateError(what, file=path, value=fault, remedy=remedy) from None


def new_entry(kind: EntryKind, *, made_at: dt.datetime, on: dt.date | None = None, **told: Any) -> Entry:  # noqa: ANN401  # as Entry takes it
    """Make an entry with an id of its own; its day is that of its making where none is given."""
    import uuid  # a morning that writes nothing down need not load it

    return Entry(id=str(uuid.uuid4()), kind=kind, made_at=made_at, on=on or made_at.date(), **told)


def row_of(entry: Entry) -> tuple[str | None, ...]:
    """Lay an entry out as a row of the journal."""
    told = (entry.made_at.isoformat(), entry.on.isoformat(), entry.kind, entry.group)
    return entry.id, *told, body_text(entry.body), entry.undoes


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
)  # the statements that lead to version 1, to version 2, and so on


def _bring_up_to_date(db: sqlite3.Connection, path: Path) -> None:
    """Make the tables of a new journal, or migrate an older one, where no other process did so meanwhile."""
    if version_of(db, path) == len(MIGRATIONS):
        return
    if version_of(db, path) > 0:
        _require_sound(db, path)
    with db:  # commits, or rolls back whatever goes wrong
        db.execute("BEGIN IMMEDIATE")
        version = version_of(db, path)
        if 0 < version < len(MIGRATIONS):
            _back_up(path, version)
        for number in range(version, len(MIGRATIONS)):
            for statement in MIGRATIONS[number]:
                db.execute(statement)
            db.execute(f"PRAGMA user_version = {number + 1}")
        db.execute(f"PRAGMA application_id = {APPLICATION_ID}")


def version_of(db: sqlite3.Connection, path: Path) -> int:
    """Return a journal's version; 0 is a file without anything in it yet."""
    owner, version, tables = (
        db.execute(query).fetchone()[0]
        for query in ("PRAGMA application_id", "PRAGMA user_version", "SELECT count(*) FROM sqlite_master")
    )
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


def _require_sound(db: sqlite3.Connection, path: Path) -> None:
    """Read the whole file and make sure that nothing in it is corrupt."""
    (found,) = db.execute("PRAGMA quick_check(1)").fetchone()
    if found != "ok":
        raise FrostgateError(_CORRUPT, file=path, value=" ".join(found.split()), remedy=START_AGAIN)


def backup_name(path: Path, version: int) -> Path:
    """Return the first name that is still free for the copy of an older journal."""
    again = itertools.chain([""], (f"-{count}" for count in itertools.count(2)))
    names = (path.with_name(f"{path.stem}.version-{version}{one}{path.suffix}") for one in again)
    return next(name for name in names if not name.exists())


def _back_up(path: Path, version: int) -> None:
    """Copy a journal; the copy appears under its name once it is whole."""
    import sqlite3

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

    def __init__(self, db: sqlite3.Connection, path: Path) -> None:
        self._db = db
        self.path = path

    @classmethod
    def open(cls, path: AnyPath, *, patience_s: float = PATIENCE_S, thorough: bool = False) -> Journal:
        """Open a journal, make it where there is none, or migrate it where it is older.

        Parameters
        ----------
        path
            The file. A journal of an older version is copied beside it before it is migrated.
        patience_s
            How long to wait for another process that writes [s].
        thorough
            Whether to read the whole file first and make sure that nothing in it is corrupt.

        Returns
        -------
        Journal
            Close it, or use it in a ``with`` statement.

        Raises
        ------
        FrostgateError
            Where the file is corrupt, not a journal, that of a newer version, held by another process, or
            cannot be opened or written. Nothing in it is changed then.
        """
        import sqlite3

        path = Path(path)
        if sqlite3.sqlite_version_info < OLDEST_SQLITE:
            raise FrostgateError(
                "the SQLite of this Python is too old for a journal",
                value=sqlite3.sqlite_version,
                remedy="SQLite 3.37 or newer is needed: install a newer Python.",
            )
        size = path.stat().st_size if path.is_file() else 0
        if 0 < size < SHORTEST_FILE:  # SQLite would take it for a new one and write over it
            raise FrostgateError(_CORRUPT, file=path, value=f"{size} bytes", remedy=START_AGAIN)
        with _in_words(path):
            db = sqlite3.connect(path, timeout=patience_s, isolation_level=None)
            try:
                _bring_up_to_date(db, path)
                if thorough:
                    _require_sound(db, path)
                _use_write_ahead_log(db, patience_s)
                for setting in _DURABLE:
                    db.execute(f"PRAGMA {setting}")
            except BaseException:
                db.close()
                raise
        return cls(db, path)

    def close(self) -> None:
        """Close the file."""
        with _in_words(self.path):
            self._db.close()

    def __enter__(self) -> Journal:
        return self

    def __exit__(self, *fault: object) -> None:
        self.close()

    @contextmanager
    def together(self) -> Iterator[None]:
        """Read and write with no other process between; what is added becomes durable whole or not at all."""
        with _in_words(self.path), nullcontext() if self._db.in_transaction else self._db:
            if not self._db.in_transaction:
                self._db.execute("BEGIN IMMEDIATE")
            yield

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
            self._db.executemany(ADD, [row_of(entry) for entry in entries])

    def entries(
        self,
        kinds: Collection[str] | None = None,
        since: dt.date | None = None,
        group: str | None = None,
        undone: bool = False,
        verdicts: State | None = None,
    ) -> tuple[Entry, ...]:
        """Return entries by the day they tell of, those of one day as they were written.

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
        with _in_words(self.path):
            for undo, undoes in self._db.execute(query):  # newest first: what undoes an undo came after it
                if undo not in gone:
                    gone.add(undoes)
        return frozenset(gone)

    def find(self, beginning: str) -> Entry:
        """Return the one entry whose id is, or begins with, a text."""
        wanted = beginning.strip()
        found = self._read(
            f"{_SELECT} WHERE substr(id, 1, length(?1)) = ?1 ORDER BY length(id), id", (wanted,)
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
        with _in_words(self.path):
            rows = self._db.execute(query, wanted).fetchall()
        try:
            return tuple(
                Entry(id=entry_id, made_at=dt.datetime.fromisoformat(made_at), on=dt.date.fromisoformat(on),
                      kind=kind, group=group, body=json.loads(body), undoes=undoes)
                for entry_id, made_at, on, kind, group, body, undoes in rows
            )  # fmt: skip
        except (ValueError, TypeError) as fault:
            raise FrostgateError(_CORRUPT, file=self.path, value=fault, remedy=START_AGAIN) from None


def _use_write_ahead_log(db: sqlite3.Connection, patience_s: float) -> None:
    """Change to it, which SQLite refuses without waiting while another process is in a new journal."""
    import sqlite3

    for left in range(int(patience_s / _PAUSE_S), -1, -1):
        try:
            db.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as fault:
            if fault.sqlite_errorcode != sqlite3.SQLITE_BUSY or not left:
                raise
            time.sleep(_PAUSE_S)
        else:
            return
