"""Files: read whole and within a limit, written whole or not at all; and values kept between two runs."""

from __future__ import annotations

import contextlib
import datetime as dt
import io
import json
import math
import os
import threading
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import MISSING, Field, fields, is_dataclass
from importlib.util import source_hash
from pathlib import Path
from typing import Any, BinaryIO, TypeVar

import numpy as np

from frostgate.errors import FrostgateError, InputError

AnyPath = str | os.PathLike[str]

LARGEST = 64 * 2**20  # bytes, unpacked; the longest station file of the archive has about 20 million
_GZIP = b"\x1f\x8b"
_STATION = "one station's file"
_CUT_OUT = "Cut out the one station first, for example with: grep ^STATION_ID FILE > STATION.csv"
MARKS = (  # by which frostgate knows what it made: a page, a drawing, a picture, a calendar
    b'<meta name="generator" content="frostgate">',
    b"<!-- Generator: frostgate -->",
    b"Software\0frostgate",
    b"PRODID:-//frostgate//feeding calendar//EN",
)
ENTRUSTED = (  # how a journal, what was last written to one, and a log of forecasts begin
    b"SQLite format 3\0",
    b"\x37\x7f\x06",
    b"issued_at,morning,forecast_c,observed_c",
)
_HEAD = 4096  # bytes that hold all of these
ELSEWHERE = "Name a file in a folder that can be written to."


def read_bytes(path: AnyPath, *, largest: int = LARGEST, kind: str = _STATION) -> bytes:
    """Read a file whole, unpacking gzip by content, without ever holding more than ``largest`` bytes."""
    path, content = Path(path), None
    try:
        if path.exists() and not path.is_file() and not path.is_dir():  # it may never end, or never begin
            remedy = "Save what comes from it as a file, and name that."
            raise InputError("a pipe or a device, not a file", file=path, remedy=remedy)
        if path.stat().st_size <= largest:
            with path.open("rb") as file:
                is_packed = file.peek(len(_GZIP)).startswith(_GZIP)
                content = gunzip(file, largest + 1, path) if is_packed else file.read(largest + 1)
    except IsADirectoryError:
        raise InputError("a directory, not a file", file=path, remedy="Name the file inside it.") from None
    except FileNotFoundError:
        raise InputError("no such file", file=path, remedy="Check the name and the folder.") from None
    except OSError as fault:
        raise InputError("cannot be read", file=path, value=fault.strerror) from None
    if content is None or len(content) > largest:
        limit = f"{largest // 2**20} MiB" if largest >= 2**20 else f"{largest // 2**10} KiB"
        remedy = _CUT_OUT if kind == _STATION else "Check that it is the file you mean."
        raise InputError(f"larger than {limit}, too large for {kind}", file=path, remedy=remedy)
    refuse_what_is_not_text(content, path)
    return content


def decode(content: bytes, path: AnyPath) -> str:
    """Turn bytes into text: UTF-8, with or without a byte order mark."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = content.count(b"\n", 0, fault.start) + 1
        remedy = "Save it as UTF-8 text, or fetch it again."
        raise InputError("not UTF-8 text", file=path, line=line, remedy=remedy) from None


def refuse_what_is_not_text(content: bytes, path: AnyPath) -> None:
    """Refuse content that is empty or binary."""
    if not content or content.isspace():
        raise InputError("an empty file", file=path, remedy="Fetch it again.")
    nul = content.find(b"\0")
    if nul >= 0:
        line = content.count(b"\n", 0, nul) + 1
        remedy = "Name a text file, or fetch it again."
        raise InputError("not a text file (it holds a NUL byte)", file=path, line=line, remedy=remedy)


def gunzip(packed: BinaryIO, most: int, source: AnyPath) -> bytes:
    """Unpack no more than so many bytes; refuse what is broken or cut short."""
    import gzip  # a morning that reads plain files need not load it
    import zlib

    try:
        return gzip.GzipFile(fileobj=packed).read(most)
    except (EOFError, zlib.error, gzip.BadGzipFile) as fault:
        what, remedy = "a gzip file that is broken or cut short", "Fetch it again."
        raise InputError(what, file=source, value=fault, remedy=remedy) from None


def write_whole(
    path: AnyPath,
    content: str | bytes,
    *,
    what: str = "cannot be written",
    remedy: str = ELSEWHERE,
    dated: dt.datetime | None = None,
) -> None:
    """Write a file beside its place and move it there: it is whole or as it was, whatever happens.

    A link stays a link, and a file that is replaced keeps its mode. ``what`` and ``remedy`` are those of the
    InputError where it cannot be written; ``dated`` sets the time of its last change.
    """
    data = content.encode() if isinstance(content, str) else content
    path = Path(path)
    place = Path(os.path.realpath(path))  # which knows links that lead to themselves
    part = place.with_name(f".{place.name}.{os.getpid()}.{threading.get_ident()}.part")
    try:
        if path.exists() and not path.is_file():  # a pipe or a device has no place to move to
            path.write_bytes(data)
            return
        with part.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if place.exists():
            part.chmod(place.stat().st_mode)
        if dated is not None:
            os.utime(part, (dated.timestamp(), dated.timestamp()))
        part.replace(place)
    except OSError as fault:
        raise InputError(what, file=path, value=fault.strerror, remedy=remedy) from None
    finally:
        with contextlib.suppress(OSError):
            part.unlink()


LOCK_WAIT_S = 10.0  # far longer than any writing takes


@contextlib.contextmanager
def held(path: AnyPath) -> Iterator[None]:
    """Hold a file that is read, changed and written whole against every other process that does the same.

    The lock is SQLite's on an empty file beside it: the same on every system, and it ends with its process.
    """
    import sqlite3  # which a morning that only reads need not load

    place = Path(os.path.realpath(path))
    beside = place.with_name(f".{place.name}.lock")
    try:
        with contextlib.closing(sqlite3.connect(beside, timeout=LOCK_WAIT_S, isolation_level=None)) as lock:
            lock.execute("BEGIN EXCLUSIVE")
            yield
    except sqlite3.Error as fault:
        what, remedy = "cannot be written, nor a lock beside it", "Check the folder, and the space left."
        if getattr(fault, "sqlite_errorcode", None) == sqlite3.SQLITE_BUSY:
            what, remedy = "another program is writing in it", "Give the command again in a moment."
        raise InputError(what, file=path, value=fault, remedy=f"{remedy} The file is as it was.") from None


def save(
    path: AnyPath, content: str | bytes, *, replace: bool = False, in_use: Iterable[AnyPath] = ()
) -> None:
    """Write a file that the grower named: over one that is there only if frostgate made it, or if told to.

    What frostgate made bears one of `MARKS`, the same as the new content. A journal, a log of forecasts and
    the files ``in_use`` are never written over.
    """
    path, data = Path(path), content.encode() if isinstance(content, str) else content
    try:
        is_there = path.is_file()
        if is_there and path.stat().st_size == len(data) and path.read_bytes() == data:
            return
        head = _head(path) if is_there else b""
        is_entrusted = head.startswith(ENTRUSTED) or any(_is_same(path, Path(one)) for one in in_use)
    except OSError as fault:
        raise InputError("cannot be written", file=path, value=fault.strerror, remedy=ELSEWHERE) from None
    if is_entrusted:
        what = "a file that the garden or this command rests on is never written over"
        raise InputError(what, file=path, remedy=ELSEWHERE)
    if is_there and not (replace or any(mark in head and mark in data for mark in MARKS)):
        what = "there is a file of this name already, which frostgate did not make"
        raise InputError(what, file=path, remedy="Name another file, or have it replaced: --replace.")
    write_whole(path, data)


def _head(path: Path) -> bytes:
    with path.open("rb") as file:
        return file.read(_HEAD)


def _is_same(path: Path, other: Path) -> bool:
    """Return whether two names are of one file, be it by links or not there yet."""
    if path.exists() and other.exists():
        return path.samefile(other)
    return os.path.realpath(path) == os.path.realpath(other)


def csv_text(rows: Iterable[Iterable[object]]) -> str:
    """Write rows as comma-separated values; None is an empty cell."""
    import csv  # which a morning need not load

    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue()


Made = TypeVar("Made")

_DIGITS = 9  # after the point, of an array's numbers
_UNREADABLE = (
    *(OSError, ArithmeticError, ValueError, KeyError, TypeError, AttributeError, RecursionError),
    FrostgateError,
)


def key_of(content: bytes, **settings: object) -> str:
    """Name what is made of a file by the file's content and the settings that shape it."""
    told = json.dumps(sorted(settings.items()), default=str).encode()
    return source_hash(told + content).hex()  # 64 bits; hashlib would load OpenSSL, a moment of every morning


def kept_or_made(
    folder: Path | None, name: str, make: Callable[[], Made], nouns: Collection[type[Any]]
) -> Made:
    """Return a noun as an earlier run kept it, or make it and keep it for the next.

    ``nouns`` are the dataclasses it is built of. What is kept carries a checksum: a file that cannot be read,
    or was changed, is made anew, and where nothing can be kept nothing is lost.
    """
    if folder is None:
        return make()
    place = folder / f"{name}.json"
    try:
        check, text = json.loads(place.read_text(encoding="utf-8"))
        if check == source_hash(text.encode()).hex():
            named = {noun.__name__: noun for noun in nouns}
            kept: Made = json.loads(text, object_hook=lambda each: _made(each, named))
            return kept
    except _UNREADABLE:
        pass
    made = make()
    text = json.dumps(made, default=_plain)
    with contextlib.suppress(OSError, InputError):
        folder.mkdir(parents=True, exist_ok=True)
        write_whole(place, json.dumps([source_hash(text.encode()).hex(), text]))
    return made


def _plain(value: Any) -> object:  # noqa: ANN401  # any value of a noun
    """Lay out what JSON does not know; a field at its default is left out, since defaults may change."""
    if is_dataclass(value):
        stated = {field.name: getattr(value, field.name) for field in fields(value) if _stated(field, value)}
        return {"noun": type(value).__name__} | stated
    if isinstance(value, np.ndarray):
        return [None if math.isnan(number) else number for number in np.round(value, _DIGITS).tolist()]
    if isinstance(value, Mapping):
        return {"facts": dict(value)}
    return {"date": value.isoformat()} if isinstance(value, dt.date) else {"path": os.fspath(value)}


def _stated(field: Field[Any], noun: object) -> bool:
    default = field.default if field.default_factory is MISSING else field.default_factory()
    return default is MISSING or not np.array_equal(getattr(noun, field.name), default)


def _made(kept: dict[str, Any], nouns: dict[str, type[Any]]) -> object:
    """Return what was laid out as such an object of JSON."""
    if "facts" in kept:
        return kept["facts"]
    if "noun" in kept:
        noun = nouns[kept.pop("noun")]
        return noun(**{name: _tupled(value) for name, value in kept.items()})
    return dt.date.fromisoformat(kept["date"]) if "date" in kept else Path(kept["path"])


def _tupled(value: Any) -> Any:  # noqa: ANN401  # any value of a noun
    return tuple(map(_tupled, value)) if isinstance(value, list) else value
