"""Read the garden file: what the grower owns, and the numbers that decide.

A garden that was found sound is kept as plain data, by its file's content, so that the morning need not load
what checks a file and reads its labels.
"""

from __future__ import annotations

import contextlib
import json
import os
import threading
from importlib.util import source_hash
from pathlib import Path

from frostgate.errors import InputError
from frostgate.garden import keeping
from frostgate.garden.mistakes import GardenFileError
from frostgate.terms.garden import Garden

FORM = 3  # of what is kept; raise it when a check or a key of the garden file changes
LARGEST = 128 * 2**10  # bytes; a garden file has a few thousand
_UNREADABLE = (
    *(OSError, ArithmeticError, ValueError, KeyError, TypeError, AttributeError, RecursionError),
    InputError,
)


def read_garden(path: Path, kept: Path | None = None) -> Garden:
    """Read a garden file, or name every mistake in it.

    Parameters
    ----------
    path
        The file; records and forecasts are named in it from its own folder.
    kept
        A folder in which the checked file is kept until it changes; None keeps nothing.

    Raises
    ------
    GardenFileError
        Where the file cannot be read or used; holds every mistake with its line, value and remedy.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder) / "garden.toml"
    ...     _ = file.write_text('site = { name = "Hollin Bank" }')
    ...     read_garden(file).home.name
    'Hollin Bank'
    """
    try:
        content = _content(path)
        place = None if kept is None else kept / f"garden-{_key_of(content)}.json"
        garden = None if place is None else _load(place, path)
        return garden or _check(content, path, place)
    except GardenFileError:
        raise
    except InputError as error:
        raise GardenFileError(path, [error]) from None


def _content(path: Path) -> bytes:
    if path.is_dir():
        raise InputError("a directory, not a file", remedy="Name the garden file inside it.")
    try:
        with path.open("rb") as stream:
            content = stream.read(LARGEST + 1)
    except FileNotFoundError:
        raise InputError(
            "no such file", remedy="Check the name, or write a new one with: frostgate init"
        ) from None
    except OSError as fault:
        raise InputError("cannot be read", value=fault.strerror) from None
    if len(content) > LARGEST:
        raise InputError(f"larger than {LARGEST // 2**10} KiB, too large for a garden file",
                         remedy="Name the garden file, not a record.")  # fmt: skip
    return content


def _text(content: bytes) -> str:
    if not content.strip():
        raise InputError("an empty file", remedy="Write a new one under another name with: frostgate init")
    nul = content.find(b"\0")
    if nul >= 0:
        line = content.count(b"\n", 0, nul) + 1
        raise InputError("not a text file (it holds a NUL byte)", line=line, remedy="Name a text file.")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = content.count(b"\n", 0, fault.start) + 1
        raise InputError("not UTF-8 text", line=line, remedy="Save it as UTF-8 text.") from None


def _check(content: bytes, path: Path, place: Path | None) -> Garden:
    from frostgate.garden.checking import check  # loads pydantic, which the morning must not wait for
    from frostgate.garden.nouns import make_garden

    garden = make_garden(check(_text(content), path), path)
    if place is not None:
        _keep(place, garden)
    return garden


def _key_of(content: bytes) -> str:
    return source_hash(content + bytes([FORM])).hex()


def _load(place: Path, path: Path) -> Garden | None:
    """Make the garden of what is kept, or give None where that cannot be read whole."""
    try:
        return keeping.made(json.loads(place.read_text(encoding="utf-8")), path)
    except _UNREADABLE:
        return None


def _keep(place: Path, garden: Garden) -> None:
    """Write beside the place and move there whole, so two mornings at once do no harm."""
    part = place.with_name(f"{place.stem}.{os.getpid()}.{threading.get_ident()}.part")
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        part.write_text(json.dumps(keeping.plain(garden)), encoding="utf-8")
        part.replace(place)
    except OSError:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
