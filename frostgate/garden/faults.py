"""What SQLite reports, said to a grower."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from frostgate.errors import FrostgateError

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
    """Let no error of SQLite through but in words.

    Raises
    ------
    FrostgateError
        What went wrong with the file, and what to do.

    Examples
    --------
    >>> with in_words(Path("garden.journal.sqlite")):
    ...     raise sqlite3.DatabaseError("file is not a database")
    Traceback (most recent call last):
    ...
    frostgate.errors.FrostgateError: garden.journal.sqlite: the journal cannot be used: ...
    """
    try:
        yield
    except sqlite3.Error as fault:
        code = getattr(fault, "sqlite_errorcode", 0) & _PRIMARY
        what, remedy = _BY_CODE.get(code, _OTHER)
        raise FrostgateError(what, file=path, value=fault, remedy=remedy) from None


def garbled(path: Path, found: str) -> FrostgateError:
    """Make the error of a journal whose content is no longer what was written.

    Examples
    --------
    >>> garbled(Path("garden.journal.sqlite"), "row 3 is missing").value
    'row 3 is missing'
    """
    what, remedy = _GARBLED
    return FrostgateError(what, file=path, value=found, remedy=remedy)
