"""Documents of the network, kept as files: a young one serves, else a newer one is fetched.

Nothing here loads the libraries of HTTP before the network must be asked (`http`).
"""

from __future__ import annotations

import contextlib
import datetime as dt
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np

from frostgate.errors import FrostgateError, InputError, UnstatedUnitError
from frostgate.files import LARGEST, key_of, read_bytes, write_whole
from frostgate.model.garden import Network

if TYPE_CHECKING:
    from frostgate.sources.http import Advance

ListName = Literal["ghcnd-stations.txt", "ghcnd-inventory.txt"]

CLOCK_SLACK = dt.timedelta(minutes=1)  # by which a file may seem to be fetched in the future
ABANDONED = dt.timedelta(hours=1)  # a part that old was left by a program that was killed
FAR_LESS = 0.9  # of what the kept copy tells; records and lists grow, so what tells less was cut on its way


@dataclass(frozen=True, slots=True, kw_only=True)
class Fetched:
    """A document of the network, as a file that is whole and readable."""

    path: Path
    fetched_at: dt.datetime  # or last confirmed to be unchanged; aware, UTC
    stale: str | None = None  # why an older copy had to serve, and how old it is

    def age(self, now: dt.datetime) -> str:
        """Say how old it is."""
        hours = (now - self.fetched_at) / dt.timedelta(hours=1)
        if hours < 0.0:
            return "of unknown age (this machine's clock was set back)"
        if hours < 1 / 60:
            return "less than a minute old"
        number, unit = (hours * 60, "minute") if hours < 1.5 else (hours, "hour")
        if hours >= 48.0:
            number, unit = hours / 24, "day"
        return f"{number:.0f} {unit}{'' if round(number) == 1 else 's'} old"


def fetch_record(
    station_id: str, network: Network, folder: Path, *, now: dt.datetime, advance: Advance | None = None
) -> Fetched:
    """Return a station's record: the kept one while it is young, else from the archive."""
    name = check_id(station_id)

    def read(content: bytes, path: Path) -> int:
        from frostgate.sources.records import parse_minima

        minima = parse_minima(content, path, station=name, drop_contradictions=True)
        return int(np.isfinite(minima.tmin_c).sum())

    document = Document(
        name=f"record of station {name}",
        url=f"{network.archive.rstrip('/')}/all/{name}.dly",
        path=record_file(name, folder),
        limit=dt.timedelta(days=network.record_days),
        largest=LARGEST,
        read=read,
    )
    return fetch(document, network, folder, now=now, advance=advance)


def fetch_list(
    name: ListName, network: Network, folder: Path, *, now: dt.datetime, advance: Advance | None = None
) -> Fetched:
    """Return the archive's list of stations, or of what they measure, kept or fetched."""
    from frostgate.sources.stations import LARGEST as LARGEST_LIST
    from frostgate.sources.stations import parse_inventory, parse_stations

    of_stations = name == "ghcnd-stations.txt"

    def read(content: bytes, path: Path) -> int:
        return len(parse_stations(content, path) if of_stations else parse_inventory(content, path))

    document = Document(
        name="list of stations" if of_stations else "list of what stations measure",
        url=f"{network.archive.rstrip('/')}/{name}",
        path=folder / "lists" / name,
        limit=dt.timedelta(days=network.list_days),
        largest=LARGEST_LIST,
        read=read,
    )
    return fetch(document, network, folder, now=now, advance=advance)


def fetch_forecast(url: str, network: Network, folder: Path, *, now: dt.datetime) -> Fetched:
    """Return the forecast of an address, kept or fetched; it may yet need the grower's word for its unit."""
    from frostgate.sources.forecasts import LARGEST as LARGEST_FORECAST
    from frostgate.sources.forecasts import parse_forecast

    def read(content: bytes, path: Path) -> int:
        try:
            forecast, worth = parse_forecast(content, path), 2
        except InputError:  # it may need the grower's word for its unit or time zone
            worth = 1
            try:
                forecast = parse_forecast(content, path, time_zone="UTC")
            except UnstatedUnitError:
                forecast = parse_forecast(content, path, time_zone="UTC", unit="C")
        if forecast.dates[-1].item() < now.date() - dt.timedelta(days=1):
            raise InputError(f"its nights are past, the last on {forecast.dates[-1]}")
        return worth

    document = Document(
        name="forecast of minima",
        url=url,
        path=folder / "forecasts" / key_of(url.encode()),
        limit=dt.timedelta(hours=network.forecast_hours),
        largest=LARGEST_FORECAST,
        read=read,
    )
    return fetch(document, network, folder, now=now)


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A document of the network and how it is judged."""

    name: str  # for messages
    url: str
    path: Path  # where it is kept
    limit: dt.timedelta  # it is fetched anew once it is older
    largest: int  # no larger one can be read [bytes]
    read: Callable[[bytes, Path], int]  # returns how much it tells; raises an InputError where it is none

    def check(self, content: bytes) -> None:
        """Raise an InputError where the content must not replace what is kept."""
        if content.lstrip()[:1] == b"<":
            raise InputError(f"a web page came, not a {self.name}")
        if len(content) > self.largest:
            raise InputError(f"too large for a {self.name}")
        try:
            told = self.read(content, self.path)
        except InputError as error:
            at = "" if error.line is None else f" in line {error.line}"
            raise InputError(f"what came is not a {self.name}: {error.what}{at}") from None
        with contextlib.suppress(InputError):  # what is kept is none, or none any more
            if told < FAR_LESS * self.read(read_bytes(self.path, largest=self.largest), self.path):
                what = f"the {self.name} that came tells far less than the one that is kept"
                remedy = f"If that is right, remove {self.path} and fetch it again."
                raise FrostgateError(what, remedy=remedy)


def fetch(
    document: Document, network: Network, folder: Path, *, now: dt.datetime, advance: Advance | None = None
) -> Fetched:
    """Return a document: a young copy serves, else a newer one, else the old one with its age and why."""
    kept = find_kept(document.path)
    if kept is not None and -CLOCK_SLACK <= now - kept.fetched_at <= document.limit:
        return kept
    try:
        return _fetch_newer(document, network, folder, now, advance)
    except FrostgateError as fault:
        why = fault.what if fault.value is None else f"{fault.what} ({fault.value})"
        kept = find_kept(document.path)
        if kept is not None:
            return replace(kept, stale=f"{kept.age(now)}: no newer {document.name} came: {why}")
        what, remedy = f"no {document.name} is kept, and none came: {why}", fault.remedy
        raise FrostgateError(what, file=document.url, remedy=remedy) from None


def _fetch_newer(
    document: Document, network: Network, folder: Path, now: dt.datetime, advance: Advance | None
) -> Fetched:
    """Ask the network and keep what comes, or an earlier reply where no copy is kept; say why none came."""
    if network.offline:
        raise FrostgateError("the network was not to be asked", remedy="Leave --offline out, once.")
    from frostgate.sources.http import Fault, ask  # slow to load

    try:
        return keep(ask(document.url, network, folder, document.check, advance), document.path, now)
    except Fault as fault:
        if fault.earlier is not None and find_kept(document.path) is None:
            content, came_at = fault.earlier
            keep(content, document.path, came_at)
        raise


def record_file(station_id: str, folder: Path) -> Path:
    """Return where a station's record is kept."""
    return folder / "records" / f"{check_id(station_id)}.dly"


def check_id(station_id: str) -> str:
    """Return a station's id in capitals."""
    name = station_id.strip().upper()
    if re.fullmatch(r"[A-Z]{2}[A-Z0-9_-]{9}", name) is None:
        remedy = "An id has eleven characters, such as XX000000017; frostgate stations near finds them."
        raise InputError("not the id of a GHCN-Daily station", value=station_id, remedy=remedy)
    return name


def find_kept(path: Path) -> Fetched | None:
    """Find a kept file and when it was fetched; None where there is none."""
    try:
        status = path.stat()
    except OSError:
        return None
    if not path.is_file() or status.st_size == 0:
        return None
    return Fetched(path=path, fetched_at=dt.datetime.fromtimestamp(status.st_mtime, dt.UTC))


def keep(content: bytes, path: Path, fetched_at: dt.datetime) -> Fetched:
    """Keep a document as a file of that date, and clear away what a killed program left beside it."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        for part in path.parent.glob(f".{path.name}.*.part"):
            if fetched_at - dt.datetime.fromtimestamp(part.stat().st_mtime, dt.UTC) > ABANDONED:
                part.unlink()
    except OSError:  # a folder that cannot be used is said by the writing, one line below
        pass
    what, remedy = f"cannot be written into {path.parent}", "Make room there, or name another folder."
    write_whole(path, content, what=what, remedy=remedy, dated=fetched_at)
    return Fetched(path=path, fetched_at=fetched_at.astimezone(dt.UTC))
