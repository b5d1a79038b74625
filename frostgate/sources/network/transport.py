"""The adapter below the session: it gives a whole, checked document, or says what went wrong.

Whatever is cut, endless, late, of the wrong length or of the wrong kind never reaches the cache above.
"""

from __future__ import annotations

import datetime as dt
import gzip
import io
import zlib
from collections.abc import Callable, Mapping
from email.utils import parsedate_to_datetime
from http.client import HTTPException
from typing import Any
from urllib.parse import urljoin, urlsplit

import requests
from requests.adapters import HTTPAdapter
from requests.exceptions import RequestException
from urllib3.exceptions import HTTPError
from urllib3.response import HTTPResponse

from frostgate.sources.network.deadline import Deadline
from frostgate.sources.network.faults import AGAIN, CHECK_ADDRESS, Fault, status_fault
from frostgate.values import dataclass

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
        """Answer with status 200 and the whole document, or with status 304.

        Raises
        ------
        Fault
            Where neither comes in time.
        """
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
