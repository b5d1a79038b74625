"""What is kept of the network: plain files, whole or not there; the file's own time says when it was fetched.

A file and its age move into place together, so neither can be had without the other.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import re
from pathlib import Path

from frostgate.errors import InputError
from frostgate.values import dataclass

CLOCK_SLACK = dt.timedelta(minutes=1)  # by which a file may seem to be fetched in the future
ABANDONED = dt.timedelta(hours=1)  # a part that old was left by a program that was killed

_STATION_ID = re.compile(r"[A-Z]{2}[A-Z0-9_-]{9}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fetched:
    """A document of the network, as a file.

    Parameters
    ----------
    path
        Where it lies, whole and readable.
    fetched_at
        When it was fetched, or last confirmed to be unchanged; aware, UTC.
    stale
        Why an older copy had to serve, and how old it is, in words; None where it is as fresh as wished.

    Examples
    --------
    >>> now = dt.datetime(2026, 4, 12, 6, tzinfo=dt.UTC)
    >>> Fetched(path=Path("a.dly"), fetched_at=now - dt.timedelta(hours=3)).age_hours(now)
    3.0
    """

    path: Path
    fetched_at: dt.datetime
    stale: str | None = None

    def age_hours(self, now: dt.datetime) -> float:
        """Give its age [h]; negative where this machine's clock was set back since."""
        return (now - self.fetched_at) / dt.timedelta(hours=1)

    def younger_than(self, limit: dt.timedelta, now: dt.datetime) -> bool:
        """Tell whether it is no older than a limit, and not from the future."""
        return -CLOCK_SLACK <= now - self.fetched_at <= limit


def kept_record(station_id: str, folder: Path) -> Path | None:
    """Find a station's record among what is kept, without asking the network; None where there is none.

    Raises
    ------
    InputError
        Where the id is none.

    Examples
    --------
    >>> kept_record("XX000000017", Path("no such folder")) is None
    True
    """
    kept = find_kept(record_file(station_id, folder))
    return None if kept is None else kept.path


def record_file(station_id: str, folder: Path) -> Path:
    """Say where a station's record is kept.

    Raises
    ------
    InputError
        Where the id is none of the archive.

    Examples
    --------
    >>> record_file("xx000000017", Path("kept")).name
    'XX000000017.dly'
    """
    return folder / "records" / f"{check_id(station_id)}.dly"


def check_id(station_id: str) -> str:
    """Give a station's id in capitals.

    Raises
    ------
    InputError
        Where the text is no id of the archive.

    Examples
    --------
    >>> check_id(" xx000000017 ")
    'XX000000017'
    """
    name = station_id.strip().upper()
    if _STATION_ID.fullmatch(name) is None:
        raise InputError(
            "not the id of a GHCN-Daily station",
            value=station_id,
            remedy="An id has eleven characters, such as XX000000017; frostgate stations near finds them.",
        )
    return name


def find_kept(path: Path) -> Fetched | None:
    """Find a kept file and when it was fetched; None where there is none.

    Examples
    --------
    >>> find_kept(Path("no such file")) is None
    True
    """
    try:
        status = path.stat()
    except OSError:
        return None
    if not path.is_file() or status.st_size == 0:
        return None
    return Fetched(path=path, fetched_at=dt.datetime.fromtimestamp(status.st_mtime, dt.UTC))


def keep(content: bytes, path: Path, now: dt.datetime) -> Fetched:
    """Write a document beside its place, date it, and move it there whole.

    Raises
    ------
    OSError
        Where it cannot be written; what was kept before then stands as it was.

    Examples
    --------
    >>> import tempfile
    >>> now = dt.datetime(2026, 4, 12, 6, tzinfo=dt.UTC)
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     kept = keep(b"text", Path(folder) / "lists" / "a.txt", now)
    ...     find_kept(kept.path) == kept, kept.path.read_bytes()
    (True, b'text')
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        _sweep(path, now)
        part.write_bytes(content)
        _date(part, now)
        part.replace(path)
    except OSError:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        raise
    return Fetched(path=path, fetched_at=now)


def say_age(fetched: Fetched, now: dt.datetime) -> str:
    """Say how old a document is.

    Examples
    --------
    >>> now = dt.datetime(2026, 4, 12, 6, tzinfo=dt.UTC)
    >>> [say_age(Fetched(path=Path("a"), fetched_at=now - dt.timedelta(hours=h)), now) for h in (0.2, 3, 80)]
    ['12 minutes old', '3 hours old', '3 days old']
    """
    hours = fetched.age_hours(now)
    if hours < 0.0:
        return "of unknown age, since this machine's clock was set back,"
    if hours < 1 / 60:
        return "less than a minute old"
    number, unit = (hours * 60, "minute") if hours < 1.5 else (hours, "hour")
    if hours >= 48.0:
        number, unit = hours / 24, "day"
    return f"{number:.0f} {unit}{'' if round(number) == 1 else 's'} old"


def _date(path: Path, now: dt.datetime) -> None:
    os.utime(path, (now.timestamp(), now.timestamp()))


def _sweep(path: Path, now: dt.datetime) -> None:
    """Clear away what a program that was killed left beside the file."""
    for part in path.parent.glob(f"{path.name}.*.part"):
        with contextlib.suppress(OSError):
            if now - dt.datetime.fromtimestamp(part.stat().st_mtime, dt.UTC) > ABANDONED:
                part.unlink()
