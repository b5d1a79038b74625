"""Asking the network: requests-cache on requests and urllib3; of our own only a deadline and a largest size.

What is kept as files, and how long it serves, is told in `fetched`, which loads this only when it must ask.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import io
import ipaddress
import logging
import socket
import sqlite3
import threading
from collections.abc import Callable, Collection, Mapping
from concurrent import futures
from http import HTTPStatus
from http.client import HTTPException
from importlib.metadata import version
from pathlib import Path
from time import monotonic, sleep
from typing import Any, TypeVar
from urllib.parse import urljoin, urlsplit

import requests
import requests_cache
from requests import PreparedRequest, Response
from requests.adapters import HTTPAdapter
from requests.exceptions import RequestException, TooManyRedirects
from urllib3.exceptions import HTTPError, InvalidHeader
from urllib3.response import HTTPResponse
from urllib3.util import Retry, parse_url

from frostgate.errors import FrostgateError, InputError, without_secrets
from frostgate.files import gunzip
from frostgate.model.garden import Network

Advance = Callable[[int, int | None], None]  # told the bytes that came, and how many there will be, if known

AGAIN = "Try again later."
CHECK_ADDRESS = "Check the address."
CHECK_FOLDER = "Make room there, or name another folder."
OK, UNCHANGED = 200, 304
PASSING_STATUS = frozenset({408, 429, 500, 502, 503, 504})  # RFC 9110 and 6585: may be asked again
USER_AGENT = f"frostgate/{version('frostgate')} (frost risk for gardens; requests-cache)"
STORE = "http.sqlite"
SILENCE_S = 10.0  # the longest that a server may say nothing; common practice
MOST_REDIRECTS = 5
BACKOFF_S = 0.5  # the first pause is none, then follow 1 s, 2 s and so on, as urllib3 counts
CHUNK = 65_536  # bytes
POLL_S = 0.1  # how often a deadline is looked at

Given = TypeVar("Given")


def _hide_secrets(record: logging.LogRecord) -> bool:
    record.msg, record.args = without_secrets(record.getMessage()), None
    return True


# What both of them log has whole addresses. requests-cache also warns, with a traceback, whenever an earlier
# reply has to serve: the caller says so itself.
logging.getLogger("urllib3.connectionpool").addFilter(_hide_secrets)
logging.getLogger("requests_cache").setLevel(logging.CRITICAL)


class Fault(FrostgateError):  # noqa: N818  # said so to tell it from the errors of the libraries
    """Why no whole document came, and what to do."""

    earlier: tuple[bytes, dt.datetime] | None = None  # a reply that came before, and when

    def __init__(self, what: str, remedy: str = CHECK_ADDRESS, *, again_s: float | None = None) -> None:
        super().__init__(what, remedy=remedy)
        self.again_s = again_s  # after how long asking again may help; None where it cannot


class Deadline:
    """The moment by which a document must be here, counted from now."""

    clock: Callable[[], float] = staticmethod(monotonic)
    pause: Callable[[float], None] = staticmethod(sleep)

    def __init__(self, wait_s: float) -> None:
        self.wait_s = wait_s
        self._end = self.clock() + wait_s

    def remaining_s(self) -> float:
        """Return what is left [s]; negative once it is over."""
        return self._end - self.clock()

    def check(self) -> None:
        """Raise a `Fault` once the time is over."""
        if self.remaining_s() <= 0.0:
            remedy = "Try again later, or allow it more time with --wait."
            raise Fault(f"not whole within {self.wait_s:g} s", remedy)

    def bound(self, work: Callable[[], Given]) -> Given:
        """Do some work, and give up on it when the time is over, even where it cannot be interrupted.

        Looking up an address or waiting for a server's headers cannot be stopped from outside; so the work
        runs beside, and is left behind if it hangs.
        """
        outcome: futures.Future[Given] = futures.Future()

        def run() -> None:
            try:
                outcome.set_result(work())
            except BaseException as fault:  # handed over whole to the one who waits
                outcome.set_exception(fault)

        threading.Thread(target=run, name="frostgate network", daemon=True).start()
        while not futures.wait([outcome], POLL_S).done:
            self.check()
        return outcome.result()


def ask(
    url: str, network: Network, folder: Path, check: Callable[[bytes], None], advance: Advance | None = None
) -> bytes:
    """Return a document as it is now, or raise a `Fault` where none came whole, sound and in time.

    Earlier replies stand in the folder, so that only what changed is sent; where no new one comes, the fault
    has the earlier one with it. ``check`` raises an InputError where the content is not what was asked for;
    ``advance`` is told the bytes that came, and how many there will be, where that is known.
    """
    store, documents = folder / STORE, WholeDocuments(network, check, advance)
    try:
        try:
            return _ask(url, store, documents)
        except sqlite3.OperationalError:  # locked, full or not to be written: whole, but of no use now
            raise
        except sqlite3.DatabaseError:  # broken: once more, with a new one
            store.unlink()
            return _ask(url, store, documents)
    except (OSError, sqlite3.Error) as error:
        raise Fault(f"the folder {folder} cannot be used ({error})", CHECK_FOLDER) from None


def _ask(url: str, store: Path, documents: WholeDocuments) -> bytes:
    """Ask through the store of earlier replies.

    How long a document serves is judged by the age of the kept file, at the moment that the caller states. So
    nothing counts as fresh here: a reply is stored where the server gave something to tell changes by (ETag
    or Last-Modified), and is confirmed each time it is used.
    """
    store.parent.mkdir(parents=True, exist_ok=True)
    session = requests_cache.CachedSession(
        str(store),
        serializer="json",  # nothing that can be run
        expire_after=requests_cache.EXPIRE_IMMEDIATELY,  # by default nothing ever expires
        stale_if_error=True,
    )
    with contextlib.closing(session):
        session.headers.update({"User-Agent": USER_AGENT, "Accept-Encoding": "gzip"})
        for scheme in ("http://", "https://"):
            session.mount(scheme, documents)
        try:
            reply = session.get(url, allow_redirects=False)
        except RequestException:  # what is met below is a Fault already; this is the address itself
            raise Fault("no address that can be asked") from None
    if reply.from_cache and not reply.revalidated:
        fault = documents.fault or Fault(f"the folder {store.parent} cannot be used", CHECK_FOLDER)
        fault.earlier = (reply.content, reply.created_at)
        raise fault
    if reply.status_code != OK:  # unchanged, though no earlier reply was shown
        raise _status_fault(reply)
    content: bytes = reply.content
    return content


class WholeDocuments(HTTPAdapter):
    """Stands below the cache: asks, again where that may help, and hands on sound whole documents alone."""

    def __init__(
        self, network: Network, check: Callable[[bytes], None], advance: Advance | None = None
    ) -> None:
        super().__init__(max_retries=0)
        self._network = network
        self._check = check
        self._advance = advance
        self._deadline = Deadline(network.wait_s)
        self.fault: Fault | None = None  # why it handed nothing on

    def send(self, request: PreparedRequest, *_: Any, **settings: Any) -> Response:  # noqa: ANN401  # as its parent has them
        """Answer with status 200 and the whole document, or with status 304."""
        try:
            return self._deadline.bound(lambda: self._try(request, settings))
        except FrostgateError as error:
            self.fault = Fault(error.what, error.remedy or CHECK_ADDRESS)
            raise self.fault from None

    def _try(self, request: PreparedRequest, settings: Mapping[str, Any]) -> Response:
        """Take the document; after a passing fault try again, as often as allowed and while there is time."""
        retries = Retry(total=self._network.retries, backoff_factor=BACKOFF_S)
        while True:
            try:
                return self._take(request, settings)
            except Fault as fault:
                if fault.again_s is None or not retries.total:
                    raise
                retries = retries.increment(error=fault)
                pause_s = max(fault.again_s, retries.get_backoff_time())
                if pause_s >= self._deadline.remaining_s():
                    raise
                self._deadline.pause(pause_s)

    def _take(self, request: PreparedRequest, settings: Mapping[str, Any]) -> Response:
        """Ask once, read the answer whole, and hand it on with nothing left to read from the network."""
        self._deadline.check()
        patience_s = min(SILENCE_S, self._deadline.remaining_s())
        settings = {**settings, "stream": True, "timeout": patience_s, "allow_redirects": True}
        begun = False
        try:
            with (
                CarefulSession(self._network.redirects) as session,
                session.send(request, **settings) as answer,
            ):
                if answer.status_code not in {OK, UNCHANGED}:
                    raise _status_fault(answer)
                begun = answer.status_code == OK
                content = self._read(answer) if begun else b""
        except (HTTPError, HTTPException, OSError, ValueError) as error:
            raise _say(error, begun=begun, patience_s=min(SILENCE_S, self._network.wait_s)) from None
        if begun:
            self._check(content)
            self._deadline.check()
        answer.raw = HTTPResponse(io.BytesIO(content), status=answer.status_code, preload_content=False)
        answer.history = []
        return answer

    def _read(self, answer: Response) -> bytes:
        """Read a body bit by bit, and unpack it; fewer bytes than were promised are an error of urllib3's."""
        promised = answer.raw.length_remaining  # None where it is not told
        self._refuse_above(promised or 0)
        body = bytearray()
        while chunk := answer.raw.read1(CHUNK, decode_content=False):
            body += chunk
            self._deadline.check()
            self._refuse_above(len(body))
            if self._advance is not None:
                self._advance(len(body), promised)
        is_told = promised is not None or answer.raw.chunked  # how long it is
        encoding = answer.headers.get("Content-Encoding", "identity").strip().lower()
        if encoding in {"", "identity"}:
            if not is_told and not body.endswith((b"\n", b"\r", b"}", b"]")):  # a line, or a document in JSON
                raise Fault("came without its length, and ends inside a line", AGAIN, again_s=0.0)
            return bytes(body)
        if encoding not in {"gzip", "x-gzip"}:
            raise Fault(f"packed as {encoding}, which was not asked for")
        try:
            content = gunzip(io.BytesIO(body), int(self._network.largest_mb * 1e6) + 1, answer.url)
        except InputError:
            raise Fault("packed as gzip, but broken or cut short", AGAIN, again_s=0.0) from None
        self._refuse_above(len(content))
        return content

    def _refuse_above(self, size: int) -> None:
        if size > self._network.largest_mb * 1e6:
            remedy = "Check the address, or allow a larger size in the settings."
            raise Fault(f"larger than {self._network.largest_mb:g} MB", remedy)


class CarefulSession(requests.Session):
    """Follows a few redirects within a site, never from https to http nor into a private network."""

    def __init__(self, allowed: Collection[str] = ()) -> None:
        super().__init__()
        self.max_redirects = MOST_REDIRECTS
        self.allowed = {site.lower() for site in allowed}  # other sites, by their names

    def get_redirect_target(self, resp: Response) -> str | None:
        """Return where the server points, or raise a `Fault` where nobody is to be asked there."""
        target: str | None = super().get_redirect_target(resp)
        if target is None:
            return None
        resp.close()
        before, after = (urlsplit(address).scheme for address in (resp.url, urljoin(resp.url, target)))
        if after not in {before, "https"}:
            raise Fault(f"redirected from {before} to {after or 'nowhere'}")
        return target

    def rebuild_auth(self, prepared_request: PreparedRequest, response: Response) -> None:
        """Let nobody be asked but the same site or an allowed one; as before, no password goes elsewhere."""
        here, there = (parse_url(str(one.url)).host or "" for one in (response, prepared_request))
        is_one_site = f".{there}".endswith(f".{here}") or f".{here}".endswith(f".{there}")
        if not is_one_site and there not in self.allowed:
            remedy = (
                "Name the address there, or allow the site: redirects in the [network] of the garden file."
            )
            raise Fault(f"redirected from {here} to another site, {there}", remedy)
        if is_public(here) and not is_public(there):
            raise Fault(f"redirected to {there}, an address of a private network")
        super().rebuild_auth(prepared_request, response)


def is_public(host: str) -> bool:
    """Return whether a host stands in the open network; one that cannot be looked up is not known not to."""
    try:
        found = socket.getaddrinfo(host.strip("[]"), None)
    except (OSError, UnicodeError):
        return True
    return all(ipaddress.ip_address(address[0]).is_global for *_, address in found)


def _status_fault(answer: Response) -> Fault:
    """Say what a status means that is no document, and how long the server asks to wait."""
    status = answer.status_code
    meaning = f" ({HTTPStatus(status).phrase.lower()})" if status in set(HTTPStatus) else ""
    what = f"the server answers {status}{meaning}"
    if status not in PASSING_STATUS:
        return Fault(what, "Check the address, and the id in it.")
    try:
        wait_s = Retry().parse_retry_after(answer.headers.get("Retry-After", "0"))
    except (InvalidHeader, ValueError, OverflowError):
        wait_s = 0.0
    return Fault(f"{what} and asks to wait {wait_s:.0f} s" if wait_s else what, AGAIN, again_s=wait_s)


def _say(error: Exception, *, begun: bool, patience_s: float) -> Fault:
    """Turn an exception of the HTTP libraries into words: the first of these that fit."""
    kind, text = type(error).__name__, str(error)
    network = "Check the network and the address, or try again later."
    words: tuple[tuple[bool, str, str, float | None], ...] = (
        (isinstance(error, TooManyRedirects), f"redirected over {MOST_REDIRECTS} times", CHECK_ADDRESS, None),
        ("SSL" in kind + text, "its certificate or encryption cannot be trusted", CHECK_ADDRESS, None),
        (isinstance(error, ValueError) and not begun, "no address that can be asked", CHECK_ADDRESS, None),
        ("Timeout" in kind, f"no answer within {patience_s:g} s", AGAIN, 0.0),
        ("Proxy" in kind, "the proxy does not answer", "Check the proxy in your environment.", 0.0),
        (begun or "reset" in text or "RemoteDisconnected" in text, "the connection was cut", AGAIN, 0.0),
        (True, "cannot be reached", network, 0.0),
    )
    _, what, remedy, again_s = next(way for way in words if way[0])
    return Fault(what, remedy, again_s=again_s)
