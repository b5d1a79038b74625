"""The journal's file: its tables, each entry with its checksum; opened, migrated, copied, looked through."""

from __future__ import annotations

import contextlib
import datetime as dt
import itertools
import json
import re
import shutil
import struct
import sys
import tempfile
import time
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from frostgate.errors import FrostgateError
from frostgate.garden.entries import body_text, check_entry
from frostgate.model.garden import Damaged, Entry

if TYPE_CHECKING:
    import sqlite3  # at run time loaded by what opens a journal: a morning without a garden has none

UNCHANGED = "Nothing of this was written; what stood there is safe."
RESCUE = (
    "Nothing in it was changed. Write all that can still be read, there and in the copies kept of it, into a "
    "new journal: frostgate log rescue FILE. What is in your last export is read in by: frostgate log import."
)
CORRUPT = "the journal is corrupt, or not a journal"
_UNWRITABLE = "IOERR READONLY CANTOPEN PERM"
_FAULTS = {
    "BUSY LOCKED": (
        "the journal is held by another program",
        f"Close that, or try again in a moment. {UNCHANGED}",
    ),
    "FULL": (
        "no space is left for the journal",
        f"Free some space on the disk and give the command again. {UNCHANGED}",
    ),
    _UNWRITABLE: (
        "the journal cannot be opened or written here",
        f"Check that you may write the file and its folder, and that the disk is not full. {UNCHANGED}",
    ),
    "NOTADB CORRUPT": (CORRUPT, RESCUE),
    "CONSTRAINT": ("an entry that does not fit the journal", UNCHANGED),
}  # what is wrong and what to do, by SQLite's result codes
_DAMAGED = {"CORRUPT", "TOOBIG", "NOMEM", "NOTADB"}  # what reading a damaged page may come to
APPLICATION_ID = 0x46524F53  # "FROS", by which a journal is told from any other SQLite file


class UnopenedError(FrostgateError):
    """A journal that cannot be opened as it stands, for want of a right, space or its end; a copy may."""


def _code(fault: Exception) -> str:
    if isinstance(fault, UnicodeDecodeError):  # SQLite quotes what it cannot read
        return "CORRUPT"
    return str(getattr(fault, "sqlite_errorname", "SQLITE_UNKNOWN")).split("_")[1]


@contextmanager
def in_words(path: Path) -> Iterator[None]:
    """Let no error of SQLite through but in words."""
    import sqlite3

    try:
        yield
    except (sqlite3.Error, UnicodeDecodeError) as fault:
        code = _code(fault)
        told = (said for codes, said in _FAULTS.items() if code in codes.split())
        what, remedy = next(told, ("the journal cannot be used", UNCHANGED))
        kind = UnopenedError if code in f"{_UNWRITABLE} FULL CORRUPT".split() else FrostgateError
        raise kind(what, file=path, value=fault, remedy=remedy) from None


Row = tuple[Any, ...]  # the columns of an entry, but for its number and checksum
COLUMNS = "id, made_at, on_day, kind, pot_group, body, undoes"
ADD = f"INSERT INTO main.entries (number, {COLUMNS}, checksum) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)"  # noqa: S608  # of constants


def row_of(number: int, entry: Entry) -> Row:
    """Lay an entry out as a row of the journal, with its number and its checksum."""
    told = (entry.made_at.isoformat(), entry.on.isoformat(), entry.kind, entry.group)
    row = (entry.id, *told, body_text(entry.body), entry.undoes)
    return (number, *row, checksum(number, *(cell.encode() if cell else None for cell in row)))


def entry_of(row: Row) -> Entry:
    """Read an entry from a row of the journal."""
    texts: Iterator[Any] = (cell.decode() if isinstance(cell, bytes) else cell for cell in row)
    entry_id, made_at, on, kind, group, body, undoes = texts
    return Entry(id=entry_id, made_at=dt.datetime.fromisoformat(made_at), on=dt.date.fromisoformat(on),
                 kind=kind, group=group, body=json.loads(body), undoes=undoes)  # fmt: skip


def checksum(number: int, *row: bytes | None) -> int:
    """Return the CRC-32 of a row: any single flipped bit, and any run of up to 32, changes it."""
    return zlib.crc32(b"\0".join([b"%d" % number, *[cell or b"" for cell in row]]))


def _is_fit(row: Row) -> bool:
    try:
        check_entry(entry_of(row))
    except (ValueError, TypeError, AttributeError, RecursionError):
        return False
    return True


def _is_sound(number: int, row: Row, written: int | None) -> bool:
    """Return whether a row is as it was written; without a checksum, as before version 3, if it is fit."""
    try:
        return _is_fit(row) if written is None else checksum(number, *row) == written
    except (TypeError, AttributeError):  # damage has made a number of a text
        return False


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
_IN_INDEX = "FROM entries INDEXED BY sqlite_autoindex_entries_1 WHERE id >= ''"
_BYTES = ", ".join(f"CAST({column} AS BLOB)" for column in COLUMNS.split(", "))  # be they text or not
_SUM_UP = f"UPDATE entries SET checksum = checksum(number, {_BYTES}) WHERE is_fit({_BYTES})"  # noqa: S608  # of constants

MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (_ENTRIES, _NO_UPDATE, _NO_DELETE),
    (_NO_REPLACE, _BY_KIND),
    ("ALTER TABLE entries ADD COLUMN checksum INTEGER", "DROP TRIGGER nothing_is_changed", _SUM_UP,
     _NO_UPDATE, "DROP INDEX entries_by_kind"),  # which, damaged, would hide entries in silence
)  # fmt: skip  # the statements that lead to version 1, to version 2, and so on
WITH_CHECKSUMS = 3

PATIENCE_S = 5.0
OLDEST_SQLITE = (3, 37)  # knows STRICT tables
SHORTEST_FILE = 512  # bytes, SQLite's smallest page
SHORTEST_ROW = 40  # bytes; no file holds more entries than its size allows

LONGEST_FILE = 2**30  # bytes that a file cut off may have had
_PAGE_SIZE_IN_HEAD, _PAGES_IN_HEAD = slice(16, 18), slice(28, 32)  # https://www.sqlite.org/fileformat.html

_LOG_HEAD, _FRAME_HEAD = 32, 24  # bytes, of a write-ahead log and of each page in it

_PAUSE_S = 0.02
_LOOKS = 4
_DURABLE = ("synchronous = FULL", "fullfsync = ON", "checkpoint_fullfsync = ON", "foreign_keys = ON")


def connect(path: Path, patience_s: float = PATIENCE_S, *, is_copy: bool = False) -> sqlite3.Connection:
    """Open a journal's file, make it where there is none, or migrate it where it is older.

    One whose write-ahead log is broken is opened in a copy alone: SQLite drops what stands behind the break.
    """
    import sqlite3

    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        raise FrostgateError(
            "the SQLite of this Python is too old for a journal",
            value=sqlite3.sqlite_version,
            remedy="SQLite 3.37 or newer is needed: install a newer Python.",
        )
    size = path.stat().st_size if path.is_file() else 0
    is_emptied = size == 0 and path.exists() and copies_of(path)
    if 0 < size < SHORTEST_FILE or is_emptied:  # SQLite would take it for a new one and write over it
        raise FrostgateError(CORRUPT, file=path, value=f"{size} bytes", remedy=RESCUE)
    if not is_copy and has_broken_log(path):
        what = "the write-ahead log beside the journal is damaged, and what was written last cannot be read"
        raise UnopenedError(what, file=path, remedy=RESCUE)
    with in_words(path):
        db = sqlite3.connect(path, timeout=patience_s, isolation_level=None)
        try:
            _bring_up_to_date(db, path)
            _use_write_ahead_log(db, patience_s)
            for setting in _DURABLE:
                db.execute(f"PRAGMA {setting}")
        except BaseException:
            db.close()
            raise
    return db


def _bring_up_to_date(db: sqlite3.Connection, path: Path) -> None:
    """Make the tables of a new journal, or migrate an older one, where no other process did so meanwhile.

    One whose pages are damaged stays as it is: it is read, and refuses what is to be written.
    """
    version = version_of(db, path)
    if version == len(MIGRATIONS) or (version and broken_pages(db)):
        return
    db.create_function("checksum", -1, checksum, deterministic=True)
    db.create_function("is_fit", -1, lambda *row: _is_fit(row), deterministic=True)
    with db:  # commits, or rolls back whatever goes wrong
        db.execute("BEGIN IMMEDIATE")
        version = version_of(db, path)
        if 0 < version < len(MIGRATIONS):
            copy_to(version_copy(path, version), path)
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


def broken_pages(db: sqlite3.Connection) -> tuple[str, ...]:
    """Return what is wrong with the file's pages, whatever the entries hold: no more may be written then."""
    return tuple(message for message in faults_of(db, "main.quick_check") if " in entries" not in message)


def faults_of(db: sqlite3.Connection, check: str) -> Iterator[str]:
    """Return what a check of SQLite finds wrong, and that it had to break off."""
    import sqlite3

    try:
        for (message,) in db.execute(f"PRAGMA {check}"):
            if message != "ok":
                yield " ".join(message.split())
    except (sqlite3.Error, UnicodeDecodeError) as fault:
        if _code(fault) not in _DAMAGED:
            raise
        yield str(fault)


def is_all_sound(db: sqlite3.Connection) -> bool:
    """Return whether every row is as it was written, in order, without a gap, and in the index of ids."""
    import sqlite3

    db.text_factory = bytes  # what is no text must not stop the reading
    try:
        rows = db.execute(f"SELECT checksum, number, {COLUMNS} FROM entries ORDER BY number")  # noqa: S608
        place = 0
        for place, (written, *row) in enumerate(rows, 1):
            if row[0] != place or checksum(*row) != written:
                return False
        (known,) = db.execute(f"SELECT count(*) {_IN_INDEX}").fetchone()
    except (sqlite3.Error, UnicodeDecodeError, TypeError):
        return False
    finally:
        db.text_factory = str
    return bool(known == place)


class Found(NamedTuple):
    """What a journal holds."""

    sound: dict[int, Row]  # by their numbers
    damaged: tuple[Damaged, ...]
    is_straight: bool  # whether its file, read as it stands, gives these and in this order


def look_through(db: sqlite3.Connection) -> Found:
    """Read every row without an index, and hold it against its checksum.

    Which entries there must be is told by the index of ids and by the numbers, which have no gaps.
    """
    (size,) = db.execute("SELECT page_count * page_size FROM pragma_page_count, pragma_page_size").fetchone()
    (version,) = db.execute("PRAGMA user_version").fetchone()
    most, summed = size // SHORTEST_ROW, "checksum" if version >= WITH_CHECKSUMS else "NULL"
    sound: dict[int, Row] = {}
    found: dict[int, Row] = {}  # and not sound
    db.text_factory = bytes
    query = f"SELECT number, {COLUMNS}, {summed} FROM entries WHERE number > ? ORDER BY number"  # noqa: S608
    order = []
    for number, *row, written in _whatever_can_be_read(db, query, most):
        (sound if _is_sound(number, tuple(row), written) else found)[number] = tuple(row)
        order.append(number)
    named: dict[int, bytes] = dict(_whatever_can_be_read(db, f"SELECT number, id {_IN_INDEX} AND id >= ?", 0))
    db.text_factory = str
    last, ids = max(sound, default=0), {row[0] for row in sound.values()}
    missed = {*named, *found, *(range(1, last) if last <= most else ())} - sound.keys()
    lost = (number for number in sorted(missed) if named.get(number) not in ids)
    damaged = tuple(_damaged(number, found.get(number), named.get(number)) for number in lost)
    return Found(dict(sorted(sound.items())), damaged, order == sorted(set(order)) and not damaged)


def _whatever_can_be_read(db: sqlite3.Connection, query: str, most: int) -> Iterator[Row]:
    """Return rows by number; where a page cannot be read, go on behind the numbers that stand there."""
    import sqlite3

    at = 0
    while at <= most:
        try:
            for row in db.execute(query, (at if most else "",)):
                yield row
                at = row[0] if at < row[0] <= most else at
        except (sqlite3.Error, UnicodeDecodeError) as fault:
            if _code(fault) not in _DAMAGED:
                raise
            at += 1
        else:
            return


def _damaged(number: int, row: Row | None, entry_id: bytes | None) -> Damaged:
    told = (entry_id, *[None] * 6) if row is None else row
    cells = (cell.decode(errors="backslashreplace") if isinstance(cell, bytes) else cell for cell in told)
    name, _, on, kind, _, text, _ = ("" if cell is None else str(cell) for cell in cells)
    return Damaged(number=number, name=", ".join(filter(None, (kind, on, name))), text=text)


COPIES = 4  # of a week each, the latest; those made before a migration are kept for good
EVERY = dt.timedelta(days=7)


def log_beside(path: Path) -> Path:
    """Name the write-ahead log in which SQLite keeps what is not in the journal yet."""
    return path.with_name(f"{path.name}-wal")


def has_broken_log(path: Path) -> bool:
    """Return whether what was acknowledged stands behind damage in a write-ahead log."""
    for _ in range(_LOOKS):  # between which another process writes what it has begun
        if not _is_broken(path):
            return False
        time.sleep(_PAUSE_S)
    return True


def _is_broken(path: Path) -> bool:
    """Follow the frames' checksums (https://www.sqlite.org/walformat.html) as far as was acknowledged.

    That is told by the index that a killed process leaves beside the log; without one a transaction behind
    the break tells that it was no kill that broke off the last one.
    """
    index, content = _bytes_of(path.with_name(f"{path.name}-shm")), _bytes_of(log_beside(path))
    if len(content) <= _LOG_HEAD:
        return False
    magic, _, page, *_ = struct.unpack(">8I", content[:_LOG_HEAD])
    form, salts = f"{'>' if magic & 1 else '<'}%dI", content[16:24]
    total = _summed(form, content[: _LOG_HEAD - 8], (0, 0))
    if struct.pack(">2I", *total) != content[_LOG_HEAD - 8 : _LOG_HEAD]:
        return True
    whole = last = 0  # frames up to the break; up to the last transaction's end
    for place, at in enumerate(
        range(_LOG_HEAD, len(content) - page - _FRAME_HEAD + 1, page + _FRAME_HEAD), 1
    ):
        head, data = content[at : at + _FRAME_HEAD], content[at + _FRAME_HEAD : at + _FRAME_HEAD + page]
        if whole == place - 1:
            total = _summed(form, head[:8] + data, total)
            whole += head[8:] == salts + struct.pack(">2I", *total)
        if head[8:16] == salts and any(head[4:8]):
            last = place
    is_indexed = index[32:40] == salts
    return whole < int.from_bytes(index[16:20], sys.byteorder) if is_indexed else whole + 1 < last


def _bytes_of(file: Path) -> bytes:
    with contextlib.suppress(OSError):  # there is none, or no more; what cannot be read SQLite tells
        return file.read_bytes()
    return b""


def _summed(form: str, data: bytes, total: tuple[int, int]) -> tuple[int, int]:
    one, two = total
    words = struct.unpack(form % (len(data) // 4), data)
    for odd, even in zip(words[::2], words[1::2], strict=True):
        one = (one + odd + two) & 0xFFFFFFFF
        two = (two + even + one) & 0xFFFFFFFF
    return one, two


def copies_folder(path: Path) -> Path:
    """Name the folder in which the copies of a journal are kept."""
    return path.with_name(f"{path.stem}.copies")


def copies_of(path: Path) -> list[Path]:
    """Return the copies that are kept of a journal, the latest first."""
    return sorted(
        copies_folder(path).glob("*.sqlite"), key=lambda copy: copy.stat().st_mtime_ns, reverse=True
    )


def keep_weekly(path: Path, day: dt.date) -> None:
    """Copy a journal unless that was done within a week of this day, and drop the earliest copies."""
    if not path.is_file():  # a journal in memory
        return
    weekly = sorted(copy for copy in copies_of(path) if re.fullmatch(r"\d{4}-\d\d-\d\d", copy.stem))
    if any(abs(day - dt.date.fromisoformat(copy.stem)) < EVERY for copy in weekly):
        return
    copy_to(copies_folder(path) / f"{day}.sqlite", path)
    for copy in weekly[: 1 - COPIES]:
        copy.unlink()


def version_copy(path: Path, version: int) -> Path:
    """Return the first name that is still free for the copy of an older journal."""
    again = itertools.chain([""], (f"-{count}" for count in itertools.count(2)))
    names = (copies_folder(path) / f"version-{version}{one}.sqlite" for one in again)
    return next(name for name in names if not name.exists())


def copy_to(place: Path, path: Path) -> None:
    """Copy a journal, which nobody writes meanwhile; the copy appears under its name once it is whole."""
    import sqlite3

    part = place.with_name("part")
    try:
        place.parent.mkdir(exist_ok=True)
        part.unlink(missing_ok=True)
        with closing(sqlite3.connect(path)) as old, closing(sqlite3.connect(part)) as copy:
            old.backup(copy)
        part.replace(place)
    except OSError as fault:
        what, remedy = _FAULTS[_UNWRITABLE]
        raise UnopenedError(what, file=place, value=fault.strerror, remedy=remedy) from None
    finally:
        with contextlib.suppress(OSError):
            part.unlink()


def copy_to_read(path: Path, folder: Path) -> Path:
    """Copy a journal and its write-ahead log, as they stand together, to where they may be opened.

    SQLite refuses a file that was cut off; its copy is filled up with empty pages, whose entries are lost.
    """
    files = [path, log_beside(path)]
    for _ in range(5):  # until none was written meanwhile
        before = [(file.stat().st_size, file.stat().st_mtime_ns) for file in files if file.exists()]
        for file in files:
            (folder / file.name).unlink(missing_ok=True)
            if file.exists():
                shutil.copyfile(file, folder / file.name)
        if before == [(file.stat().st_size, file.stat().st_mtime_ns) for file in files if file.exists()]:
            break
    copy = folder / path.name
    with copy.open("r+b") as filled:
        head = filled.read(_PAGES_IN_HEAD.stop)
        length = int.from_bytes(head[_PAGE_SIZE_IN_HEAD]) * int.from_bytes(head[_PAGES_IN_HEAD])
        if copy.stat().st_size < length <= LONGEST_FILE:
            filled.truncate(length)
    return copy


def read_apart(path: Path) -> Found:
    """Read what a journal holds in a copy of it, so that nothing in it is changed or migrated."""
    with tempfile.TemporaryDirectory() as folder:
        try:
            copy = copy_to_read(path, Path(folder))
        except OSError as fault:
            what, remedy = "the journal cannot be read", "Check that you may read it, and the space left."
            raise FrostgateError(what, file=path, value=fault.strerror, remedy=remedy) from None
        with in_words(path), closing(connect(copy, is_copy=True)) as db:
            found = look_through(db)
    return found._replace(damaged=found.damaged + lost_behind(path, max(found.sound, default=0)))


def lost_behind(path: Path, last: int) -> tuple[Damaged, ...]:
    """Return what a broken write-ahead log has taken from behind the last entry."""
    lost = Damaged(number=last + 1, name="and perhaps others behind it", text="")
    return (lost,) if has_broken_log(path) else ()
