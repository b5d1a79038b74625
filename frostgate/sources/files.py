"""Open a file the grower named: plain or gzip, of a bounded size, text and nothing else."""

from __future__ import annotations

from pathlib import Path
from typing import BinaryIO

from frostgate.errors import InputError

LARGEST = 64 * 2**20  # bytes, unpacked; the longest station file of the archive has about 20 million
_GZIP = b"\x1f\x8b"


def read_bytes(path: Path, *, largest: int = LARGEST) -> bytes:
    """Read a file whole, unpacking gzip by content, without ever holding more than ``largest`` bytes."""
    try:
        content = _unpacked(path, largest)
    except IsADirectoryError:
        raise InputError("a directory, not a file", file=path, remedy="Name the file inside it.") from None
    except FileNotFoundError:
        raise InputError("no such file", file=path, remedy="Check the name and the folder.") from None
    except OSError as fault:
        raise InputError("cannot be read", file=path, value=fault.strerror) from None
    refuse_what_is_not_text(content, path)
    return content


def decode(content: bytes, path: Path) -> str:
    """Turn bytes into text: UTF-8, with or without a byte order mark."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = content.count(b"\n", 0, fault.start) + 1
        raise InputError(
            "not UTF-8 text", file=path, line=line, remedy="Save it as UTF-8 text, or fetch it again."
        ) from None


def refuse_what_is_not_text(content: bytes, path: Path) -> None:
    """Refuse content that is empty or binary."""
    if not content or content.isspace():
        raise InputError("an empty file", file=path, remedy="Fetch it again.")
    nul = content.find(b"\0")
    if nul >= 0:
        line = content.count(b"\n", 0, nul) + 1
        raise InputError(
            "not a text file (it holds a NUL byte)",
            file=path,
            line=line,
            remedy="Name a text file, or fetch it again.",
        )


def _unpacked(path: Path, largest: int) -> bytes:
    if path.is_dir():
        raise IsADirectoryError
    size, content = path.stat().st_size, b""
    if size <= largest:
        with path.open("rb") as raw:  # opened once: a pipe cannot be read again
            packed = raw.peek(len(_GZIP)).startswith(_GZIP)
            content = _unzipped(raw, path, largest + 1) if packed else raw.read(largest + 1)
    if max(size, len(content)) > largest:
        raise InputError(
            f"larger than {largest // 2**20} MiB, too large for one station's file",
            file=path,
            remedy="Cut out the one station first, for example with: grep ^STATION_ID FILE > STATION.csv",
        )
    return content


def _unzipped(raw: BinaryIO, path: Path, most: int) -> bytes:
    import gzip  # a morning that reads plain files need not load it
    import zlib

    try:
        return gzip.GzipFile(fileobj=raw).read(most)
    except (EOFError, zlib.error, gzip.BadGzipFile) as fault:
        raise InputError(
            "a gzip file that is broken or cut short", file=path, value=fault, remedy="Fetch it again."
        ) from None
