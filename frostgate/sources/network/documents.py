"""Records, forecasts and station lists of the network: when each is fetched anew, and what may replace it."""

from __future__ import annotations

import datetime as dt
import hashlib
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Literal

from frostgate.errors import FrostgateError, InputError, UnstatedUnitError
from frostgate.sources.network.faults import CHECK_ADDRESS, Fault
from frostgate.sources.network.kept import Fetched, check_id, find_kept, keep, record_file, say_age
from frostgate.terms.network import Network
from frostgate.values import dataclass

Advance = Callable[[int, int | None], None]
ListName = Literal["ghcnd-stations.txt", "ghcnd-inventory.txt"]

_OFFLINE = Fault("the network was not to be asked", remedy="Leave --offline out, once.", passing=False)
FAR_SHORTER = 0.9  # of the kept copy's size; records and lists grow, so a shorter one was cut on its way


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A document of the network and how it is judged.

    Parameters
    ----------
    name
        What it is, for messages.
    url
        Its address.
    path
        Where it is kept.
    limit
        It is fetched anew once it is older.
    read
        Reads the content and raises an `InputError` where it is not such a document.
    grows
        Whether a newer one is never far shorter.
    """

    name: str
    url: str
    path: Path
    limit: dt.timedelta
    read: Callable[[bytes, Path], object]
    grows: bool = True

    def check(self, content: bytes) -> None:
        """Raise a `Fault` where the content must not replace what is kept."""
        if content.lstrip()[:1] == b"<":
            raise Fault(f"a web page came, not a {self.name}", remedy=CHECK_ADDRESS, passing=False)
        try:
            self.read(content, self.path)
        except InputError as error:
            at = "" if error.line is None else f" in line {error.line}"
            raise Fault(
                f"what came is not a {self.name}: {error.what}{at}", remedy=CHECK_ADDRESS, passing=False
            ) from None
        self._refuse_what_was_cut(content)

    def _refuse_what_was_cut(self, content: bytes) -> None:
        kept = find_kept(self.path) if self.grows else None
        if kept is not None and len(content) < FAR_SHORTER * kept.path.stat().st_size:
            raise Fault(
                f"the {self.name} that came is far shorter than the one that is kept",
                remedy=f"If that is right, remove {kept.path} and fetch it again.",
                passing=False,
            )


def fetch_record(
    station_id: str,
    network: Network,
    folder: Path,
    *,
    now: dt.datetime,
    advance: Advance | None = None,
) -> Fetched:
    """Get a station's record: the kept one while it is young, else from the archive.

    Parameters
    ----------
    station_id
        Of the station, eleven characters.
    network
        Where the archive is, and on what terms it is asked.
    folder
        Where documents are kept.
    now
        The moment; aware, UTC.
    advance
        Called with the bytes that came, and how many there will be, where that is known.

    Returns
    -------
    Fetched
        Where the record lies, from when it is, and why an older one had to serve.

    Raises
    ------
    InputError
        Where the id is none.
    FrostgateError
        Where no record came and none is kept.

    Examples
    --------
    >>> now = dt.datetime(2026, 4, 12, 6, tzinfo=dt.UTC)
    >>> fetch_record("XX000000017", Network(offline=True), Path("no such folder"), now=now)
    Traceback (most recent call last):
    frostgate.errors.FrostgateError: https://www.ncei.noaa.gov/pub/data/ghcn/daily/all/XX000000017.dly: ...
    """
    name = check_id(station_id)
    return fetch(
        Document(
            name=f"record of station {name}",
            url=f"{network.archive.rstrip('/')}/all/{name}.dly",
            path=record_file(name, folder),
            limit=dt.timedelta(days=network.record_days),
            read=lambda content, path: _read_record(content, path, name),
        ),
        network,
        folder,
        now=now,
        advance=advance,
    )


def fetch_forecast(url: str, network: Network, folder: Path, *, now: dt.datetime) -> Fetched:
    """Get a forecast by its address; arguments, returns and errors as in `fetch_record`.

    Examples
    --------
    >>> now = dt.datetime(2026, 4, 12, 6, tzinfo=dt.UTC)
    >>> fetch_forecast("forecast.json", Network(), Path("no such folder"), now=now)
    Traceback (most recent call last):
    frostgate.errors.InputError: an address begins with https:// (or http://): 'forecast.json'. ...
    """
    if not url.startswith(("http://", "https://")):
        raise InputError(
            "an address begins with https:// (or http://)", value=url, remedy="Or name a file instead."
        )
    digest = hashlib.blake2b(url.encode(), digest_size=8).hexdigest()
    return fetch(
        Document(
            name="forecast of minima",
            url=url,
            path=folder / "forecasts" / digest,
            limit=dt.timedelta(hours=network.forecast_hours),
            read=_read_forecast,
            grows=False,
        ),
        network,
        folder,
        now=now,
    )


def fetch_list(
    name: ListName, network: Network, folder: Path, *, now: dt.datetime, advance: Advance | None = None
) -> Fetched:
    """Get the archive's list of stations, or of what they measure; the rest as in `fetch_record`.

    Examples
    --------
    >>> now = dt.datetime(2026, 4, 12, 6, tzinfo=dt.UTC)
    >>> fetch_list("ghcnd-stations.txt", Network(offline=True), Path("no such folder"), now=now)
    Traceback (most recent call last):
    frostgate.errors.FrostgateError: https://www.ncei.noaa.gov/pub/data/ghcn/daily/ghcnd-stations.txt: ...
    """
    from frostgate.sources.stations import parse_inventory, parse_stations

    read = parse_stations if name == "ghcnd-stations.txt" else parse_inventory
    return fetch(
        Document(
            name="list of stations",
            url=f"{network.archive.rstrip('/')}/{name}",
            path=folder / "lists" / name,
            limit=dt.timedelta(days=network.list_days),
            read=read,
        ),
        network,
        folder,
        now=now,
        advance=advance,
    )


def fetch(
    document: Document,
    network: Network,
    folder: Path,
    *,
    now: dt.datetime,
    advance: Advance | None = None,
) -> Fetched:
    """Get any document: the kept copy while it is young; else a newer one; else the kept one with the reason.

    Raises
    ------
    FrostgateError
        Where none came and none is kept.
    """
    kept = find_kept(document.path)
    if kept is not None and kept.younger_than(document.limit, now):
        return kept
    if network.offline:
        return _serve_kept(document, kept, _OFFLINE, now)
    try:
        return _renew(document, network, folder, now, advance)
    except Fault as fault:
        return _serve_kept(document, kept, fault, now)


def _renew(
    document: Document, network: Network, folder: Path, now: dt.datetime, advance: Advance | None
) -> Fetched:
    from frostgate.sources.network.session import ask  # slow to load, and seldom needed

    content = ask(document.url, network, folder, document.check, advance)
    try:
        return keep(content, document.path, now)
    except OSError as fault:
        raise Fault(
            f"cannot be written into {document.path.parent} ({fault.strerror})",
            remedy="Make room there, or name another folder.",
        ) from None


def _serve_kept(document: Document, kept: Fetched | None, fault: Fault, now: dt.datetime) -> Fetched:
    if kept is None:
        raise FrostgateError(
            f"no {document.name} is kept, and none came: {fault.what}",
            file=document.url,
            remedy=fault.remedy,
        )
    stale = f"{say_age(kept, now)}: no newer {document.name} came: {fault.what}"
    return Fetched(path=kept.path, fetched_at=kept.fetched_at, stale=stale)


def _read_record(content: bytes, path: Path, station_id: str) -> None:
    from frostgate.sources.records import parse_minima

    station = parse_minima(content, path, drop_contradictions=True).station
    if station.id != station_id:
        raise InputError(f"it is that of station {station.id}", file=path)


def _read_forecast(content: bytes, path: Path) -> None:
    """Read it as far as can be without the grower's own word for the unit and the time zone."""
    from frostgate.sources.forecasts import read_forecast

    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / path.name
        copy.write_bytes(content)
        try:
            read_forecast(copy, time_zone="UTC")
        except UnstatedUnitError:
            return
