"""The journal's tables, version by version, and how an older journal becomes the newest.

A journal states its version in ``user_version``. An older one is brought up to date in one transaction, with
a copy of it laid beside first; where that fails it stays as it was.
"""

from __future__ import annotations

import itertools
import sqlite3
from contextlib import closing
from pathlib import Path

from frostgate.errors import FrostgateError
from frostgate.garden.faults import UNCHANGED, garbled

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
    """Make the tables of a new journal, or migrate an older one.

    Raises
    ------
    FrostgateError
        Where the file belongs to another program or to a newer frostgate, or an older journal is garbled.

    Examples
    --------
    >>> with closing(sqlite3.connect(":memory:", isolation_level=None)) as db:
    ...     bring_up_to_date(db, Path("new.sqlite"))
    ...     version_of(db, Path("new.sqlite"))
    2
    """
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
    """Give a journal's version; 0 is a file without anything in it yet.

    Raises
    ------
    FrostgateError
        Where the file belongs to another program or to a newer frostgate.

    Examples
    --------
    >>> with closing(sqlite3.connect(":memory:")) as db:
    ...     version_of(db, Path("new.sqlite"))
    0
    """
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
    """Read the whole file and make sure that nothing in it is garbled.

    Raises
    ------
    FrostgateError
        Says what SQLite found first.

    Examples
    --------
    >>> with closing(sqlite3.connect(":memory:")) as db:
    ...     require_sound(db, Path("new.sqlite"))
    """
    (found,) = db.execute("PRAGMA quick_check(1)").fetchone()
    if found != "ok":
        raise garbled(path, " ".join(found.split()))


def backup_name(path: Path, version: int) -> Path:
    """Give the first name that is still free for the copy of an older journal.

    Examples
    --------
    >>> backup_name(Path("garden.journal.sqlite"), 1).name
    'garden.journal.version-1.sqlite'
    """
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
