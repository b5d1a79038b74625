"""Documents fetched from the network: one session, bounded in size and time, kept and renewed."""

from __future__ import annotations

import contextlib
import datetime as dt
import gzip
import hashlib
import io
import os
import re
import sqlite3
import tempfile
import threading
import zlib
from collections.abc import Callable, Mapping
from concurrent.futures import Future
from dataclasses import dataclass
from email.utils import parsedate_to_datetime
from http import HTTPStatus
from http.client import HTTPException
from pathlib import Path
from time import monotonic, sleep
from typing import Any, Literal, TypeVar
from urllib.parse import urljoin, urlsplit

import requests
import requests_cache
from requests.adapters import HTTPAdapter
from requests.exceptions import RequestException
from urllib3.exceptions import HTTPError
from urllib3.response import HTTPResponse

from frostgate import __version__
from frostgate.errors import FrostgateError, InputError, UnstatedUnitError
from frostgate.model.garden import Network

AGAIN = "Try again later."
CHECK_ADDRESS = "Check the address."
PASSING_STATUS = frozenset({408, 429, 500, 502, 503, 504})  # RFC 9110 and 6585: may be asked again


class Fault(Exception):  # noqa: N818  # it says what is at fault; the error for the grower is FrostgateError
    """Why no whole document came.

    Parameters
    ----------
    what
        In words, without a full stop.
    remedy
        What to do about it, one sentence.
    passing
        Whether asking once more may help.
    wait_s
        How long the server asks to wait first [s].
    """

    def __init__(
        self, what: str, *, remedy: str = AGAIN, passing: bool = True, wait_s: float | None = None
    ) -> None:
        super().__init__(what)
        self.what = what
        self.remedy = remedy
        self.passing = passing
        self.wait_s = wait_s


def status_fault(status: int, wait_s: float | None = None) -> Fault:
    """Say what a status means that is no document."""
    try:
        meaning = f" ({HTTPStatus(status).phrase.lower()})"
    except ValueError:
        meaning = ""
    passing = status in PASSING_STATUS
    asked = f" and asks to wait {wait_s:.0f} s" if wait_s else ""
    what = f"the server answers {status}{meaning}{asked}"
    remedy = AGAIN if passing else "Check the address, and the id in it."
    return Fault(what, remedy=remedy, passing=passing, wait_s=wait_s)


Given = TypeVar("Given")

GRACE_S = 0.2  # in which the work may still say itself what held it up


class Deadline:
    """A stretch of time that begins now.

    Parameters
    ----------
    wait_s
        How long it lasts [s].
    """

    def __init__(self, wait_s: float) -> None:
        self.wait_s = wait_s
        self._end = monotonic() + wait_s

    def remaining_s(self) -> float:
        """Return what is left [s], no less than 0."""
        return max(self._end - monotonic(), 0.0)

    def check(self) -> None:
        """Raise a `Fault` once the time is over."""
        if self.remaining_s() <= 0.0:
            raise self.passed()

    def pause(self, pause_s: float) -> None:
        """Wait, but never beyond the end [s]."""
        sleep(min(pause_s, self.remaining_s()))

    def passed(self) -> Fault:
        """Return the fault that says so."""
        return Fault(
            f"not whole within {self.wait_s:g} s",
            remedy="Try again later, or allow it more time with --wait.",
            passing=False,
        )


def within(deadline: Deadline, work: Callable[[], Given]) -> Given:
    """Do some work, and give up on it when the time is over, even where it cannot be interrupted.

    Looking up an address or waiting for a server's headers cannot be stopped from outside; so the work runs
    beside, and is left behind if it hangs. It must look at the deadline itself before it keeps anything.
    """
    outcome: Future[Given] = Future()

    def run() -> None:
        try:
            outcome.set_result(work())
        except BaseException as fault:  # handed over whole to the one who waits
            outcome.set_exception(fault)

    threading.Thread(target=run, name="frostgate network", daemon=True).start()
    try:
        return outcome.result(deadline.remaining_s() + GRACE_S)
    except TimeoutError:
        raise deadline.passed() from None


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
    """

    path: Path
    fetched_at: dt.datetime
    stale: str | None = None

    def age_hours(self, now: dt.datetime) -> float:
        """Return its age [h]; negative where this machine's clock was set back since."""
        return (now - self.fetched_at) / dt.timedelta(hours=1)

    def younger_than(self, limit: dt.timedelta, now: dt.datetime) -> bool:
        """Return whether it is no older than a limit, and not from the future."""
        return -CLOCK_SLACK <= now - self.fetched_at <= limit


def kept_record(station_id: str, folder: Path) -> Path | None:
    """Find a station's record among what is kept, without asking the network; None where there is none."""
    kept = find_kept(record_file(station_id, folder))
    return None if kept is None else kept.path


def record_file(station_id: str, folder: Path) -> Path:
    """Say where a station's record is kept."""
    return folder / "records" / f"{check_id(station_id)}.dly"


def check_id(station_id: str) -> str:
    """Return a station's id in capitals."""
    name = station_id.strip().upper()
    if _STATION_ID.fullmatch(name) is None:
        raise InputError(
            "not the id of a GHCN-Daily station",
            value=station_id,
            remedy="An id has eleven characters, such as XX000000017; frostgate stations near finds them.",
        )
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


def keep(content: bytes, path: Path, now: dt.datetime) -> Fetched:
    """Write a document beside its place, date it, and move it there whole."""
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
    """Say how old a document is."""
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


Advance = Callable[[int, int | None], None]

SILENCE_S = 10.0  # the longest that a server may say nothing; common practice
MOST_REDIRECTS = 5
FIRST_PAUSE_S = 0.5  # before a second attempt; doubled before each further one
CHUNK = 65_536  # bytes
REDIRECTS = frozenset({301, 302, 303, 307, 308})


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """On what terms a document is taken.

    Parameters
    ----------
    deadline
        When it must be here.
    largest
        No larger one is taken [bytes].
    retries
        How often a passing fault is tried again.
    check
        Raises a `Fault` where the content is not what was asked for.
    advance
        Called with the bytes that came, and how many there will be, where that is known.
    """

    deadline: Deadline
    largest: int
    retries: int
    check: Callable[[bytes], None]
    advance: Advance | None = None


class WholeDocuments(HTTPAdapter):
    """Sends a request, and again where that may help, and reads the answer whole."""

    def __init__(self, terms: Terms) -> None:
        super().__init__(max_retries=0)
        self._terms = terms
        self._patience_s = min(SILENCE_S, terms.deadline.wait_s)

    def send(self, request: requests.PreparedRequest, *_: Any, **settings: Any) -> requests.Response:  # noqa: ANN401  # as its parent has them
        """Answer with status 200 and the whole document, or with status 304."""
        attempt = 0
        while True:
            try:
                return self._follow(request, settings)
            except Fault as fault:
                if not fault.passing or attempt == self._terms.retries:
                    raise
                self._pause(fault, attempt)
            attempt += 1

    def _pause(self, fault: Fault, attempt: int) -> None:
        """Wait before the next attempt, or give up where that would take too long."""
        pause_s = max(fault.wait_s or 0.0, FIRST_PAUSE_S * 2.0**attempt)
        if pause_s >= self._terms.deadline.remaining_s():
            raise fault
        self._terms.deadline.pause(pause_s)

    def _follow(self, request: requests.PreparedRequest, settings: Mapping[str, Any]) -> requests.Response:
        """Follow a few redirects."""
        for _ in range(MOST_REDIRECTS + 1):
            answer = self._ask(request, settings)
            target = answer.headers.get("Location")
            if answer.status_code not in REDIRECTS or target is None:
                return self._take(answer)
            answer.close()
            request = _redirected(request, target)
        raise Fault(
            f"redirected more than {MOST_REDIRECTS} times", remedy=CHECK_ADDRESS, passing=False
        ) from None

    def _ask(self, request: requests.PreparedRequest, settings: Mapping[str, Any]) -> requests.Response:
        self._terms.deadline.check()
        silence_s = min(SILENCE_S, self._terms.deadline.remaining_s())
        asked = {**settings, "stream": True, "timeout": (silence_s, silence_s)}
        try:
            return super().send(request, **asked)
        except (RequestException, HTTPError, HTTPException, OSError, ValueError) as fault:
            raise _say(fault, self._patience_s) from None

    def _take(self, answer: requests.Response) -> requests.Response:
        """Read an answer whole and hand it on with nothing left to read from the network."""
        try:
            if answer.status_code == requests.codes.not_modified:
                return self._whole(answer, b"")
            if answer.status_code != requests.codes.ok:
                raise status_fault(answer.status_code, _retry_after_s(answer.headers))
            content = _unpack(self._read(answer), answer.headers, self._terms.largest)
        finally:
            answer.close()
        self._terms.check(content)
        self._terms.deadline.check()
        return self._whole(answer, content)

    def _read(self, answer: requests.Response) -> bytes:
        """Read a body bit by bit; fewer bytes than were promised are an error of urllib3's own."""
        promised = _promised(answer.headers)
        if promised is not None and promised > self._terms.largest:
            raise _too_large(self._terms.largest)
        body = bytearray()
        try:
            while chunk := answer.raw.read1(CHUNK, decode_content=False):
                body += chunk
                self._terms.deadline.check()
                if len(body) > self._terms.largest:
                    raise _too_large(self._terms.largest)
                if self._terms.advance is not None:
                    self._terms.advance(len(body), promised)
        except (RequestException, HTTPError, HTTPException, OSError, ValueError) as fault:
            raise _say(fault, self._patience_s, begun=True) from None
        return bytes(body)

    def _whole(self, answer: requests.Response, content: bytes) -> requests.Response:
        headers = {
            name: value
            for name, value in answer.headers.items()
            if name.lower() not in {"content-encoding", "content-length", "transfer-encoding"}
        }
        raw = HTTPResponse(
            body=io.BytesIO(content),
            headers=headers,
            status=answer.status_code,
            reason=answer.reason,
            preload_content=False,
            request_url=answer.request.url,
        )
        return self.build_response(answer.request, raw)


def _redirected(request: requests.PreparedRequest, target: str) -> requests.PreparedRequest:
    """Turn a request to where the server points, within http and https and never back to http."""
    before = urlsplit(request.url or "")
    try:
        address = urljoin(request.url or "", target)
        after = urlsplit(address)
    except ValueError:
        raise _no_address("redirected to no address") from None
    if after.scheme not in {"http", "https"} or (before.scheme == "https" and after.scheme == "http"):
        raise Fault(
            f"redirected from {before.scheme} to {after.scheme or 'nowhere'}",
            remedy=CHECK_ADDRESS,
            passing=False,
        )
    turned = request.copy()
    try:
        turned.prepare_url(address, None)
    except (RequestException, ValueError):
        raise _no_address("redirected to no address") from None
    if before.netloc != after.netloc:
        turned.headers.pop("Authorization", None)
    return turned


def _no_address(what: str = "no address that can be asked") -> Fault:
    return Fault(what, remedy=CHECK_ADDRESS, passing=False)


def _promised(headers: Mapping[str, str]) -> int | None:
    """Read how many bytes were promised, where that counts: not where the body comes in chunks."""
    length = headers.get("Content-Length", "")
    return int(length) if length.isdecimal() and "Transfer-Encoding" not in headers else None


def _unpack(body: bytes, headers: Mapping[str, str], largest: int) -> bytes:
    """Undo the one encoding that was allowed, never beyond the largest size."""
    encoding = headers.get("Content-Encoding", "identity").strip().lower()
    if encoding in {"", "identity"}:
        return body
    if encoding not in {"gzip", "x-gzip"}:
        raise Fault(f"packed as {encoding}, which was not asked for", remedy=CHECK_ADDRESS, passing=False)
    try:
        content = gzip.GzipFile(fileobj=io.BytesIO(body)).read(largest + 1)
    except (EOFError, OSError, zlib.error):
        raise Fault("packed as gzip, but broken or cut short") from None
    if len(content) > largest:
        raise _too_large(largest)
    return content


def _too_large(largest: int) -> Fault:
    return Fault(
        f"larger than {largest / 1e6:g} MB",
        remedy="Check the address, or allow a larger size in the settings.",
        passing=False,
    )


def _retry_after_s(headers: Mapping[str, str]) -> float | None:
    """Read how long to wait [s]; a date is read against the server's own clock."""
    asked = headers.get("Retry-After", "").strip()
    if asked.isdecimal():
        return float(asked[:9])
    try:
        until, sent = parsedate_to_datetime(asked), parsedate_to_datetime(headers.get("Date", ""))
        return max((until - sent) / dt.timedelta(seconds=1), 0.0)
    except (TypeError, ValueError):  # no date, or one of them without a zone
        return None


def _say(fault: Exception, patience_s: float, *, begun: bool = False) -> Fault:
    """Turn an exception of the HTTP libraries into words."""
    kind = type(fault).__name__
    if "SSL" in kind or "SSL" in str(fault):
        return Fault("its certificate or encryption cannot be trusted", remedy=CHECK_ADDRESS, passing=False)
    if "Timeout" in kind or isinstance(fault, TimeoutError):
        return Fault(f"no answer within {patience_s:g} s")
    if "Proxy" in kind:
        return Fault("the proxy does not answer", remedy="Check the proxy in your environment.")
    if isinstance(fault, ValueError) and not begun:  # an address that no request can be made of
        return _no_address()
    if begun or "reset" in str(fault) or "RemoteDisconnected" in str(fault):
        return Fault("the connection was cut", remedy=AGAIN)
    return Fault("cannot be reached", remedy="Check the network and the address, or try again later.")


USER_AGENT = f"frostgate/{__version__} (frost risk for gardens; requests-cache)"
STORE = "http.sqlite"
_OK = 200


def ask(
    url: str, network: Network, folder: Path, check: Callable[[bytes], None], advance: Advance | None = None
) -> bytes:
    """Ask for a document: only for what changed, where an earlier answer stands in the folder.

    Parameters
    ----------
    url
        Its address.
    network
        Limits of time and size, and how often to try.
    folder
        Where earlier answers stand, with what the server said to tell changes by.
    check
        Raises a `Fault` where the content is not what was asked for; such an answer is not kept.
    advance
        Called with the bytes that came, and how many there will be.

    Raises
    ------
    Fault
        Where no whole document of the right kind came in time.
    """
    deadline = Deadline(network.wait_s)
    terms = Terms(
        deadline=deadline,
        largest=int(network.largest_mb * 1e6),
        retries=network.retries,
        check=check,
        advance=advance,
    )
    return within(deadline, lambda: _ask_and_mend(url, folder, terms))


def _ask_and_mend(url: str, folder: Path, terms: Terms) -> bytes:
    """Ask; where the store of earlier answers is broken, once more with a new one."""
    store = folder / STORE
    try:
        try:
            return _ask(url, store, terms)
        except sqlite3.OperationalError:  # locked, full or not to be written: whole, but of no use now
            raise
        except sqlite3.DatabaseError:
            store.unlink()
            return _ask(url, store, terms)
    except (OSError, sqlite3.Error) as fault:
        raise Fault(
            f"the folder {folder} cannot be used ({fault})", remedy="Make room there, or name another folder."
        ) from None


def _ask(url: str, store: Path, terms: Terms) -> bytes:
    with contextlib.closing(open_session(store, terms)) as session:
        try:
            response = session.get(url, allow_redirects=False)
        except RequestException:  # what the adapter meets is a Fault already; this is the address itself
            raise Fault("no address that can be asked", remedy=CHECK_ADDRESS, passing=False) from None
        if response.status_code != _OK:  # unchanged, though no earlier answer was shown
            raise status_fault(response.status_code)
        content: bytes = response.content
        return content


def open_session(store: Path, terms: Terms) -> requests_cache.CachedSession:
    """Open the session that keeps answers in a store.

    Nothing counts as fresh in it: how long a document serves is judged by the age of the kept file, at the
    moment that the caller states. So an answer is stored only where the server gave something to tell
    changes by (ETag or Last-Modified), and is confirmed each time it is used. Where that fails, the kept
    file serves and the reason is shown (`documents`), hence no ``stale_if_error`` here.
    """
    store.parent.mkdir(parents=True, exist_ok=True)
    session = requests_cache.CachedSession(
        str(store),
        backend="sqlite",
        serializer="json",  # nothing that can be run
        expire_after=requests_cache.EXPIRE_IMMEDIATELY,
        allowable_codes=(_OK,),
        allowable_methods=("GET",),
        stale_if_error=False,
    )
    session.headers.update({"User-Agent": USER_AGENT, "Accept-Encoding": "gzip"})
    for scheme in ("http://", "https://"):
        session.mount(scheme, WholeDocuments(terms))
    return session


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
    """Get a station's record: the kept one while it is young, else from the archive."""
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
    """Get a forecast by its address; arguments, returns and errors as in `fetch_record`."""
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
    """Get the archive's list of stations, or of what they measure; the rest as in `fetch_record`."""
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
    """Get any document: the kept copy while young; else a newer one; else the kept one with the reason."""
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
