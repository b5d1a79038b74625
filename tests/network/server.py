"""A server on this machine that serves invented documents, and fails in every way that a server can.

No test waits for real seconds: a server that is slow moves the hands of a clock that the deadline reads.
"""

from __future__ import annotations

import gzip
import random
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from email.utils import formatdate
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest

Way = Callable[["Handler"], None]
TICK_S = 5.0  # of the test's clock, between two pieces of a slow answer


class Clock:
    """A clock that stands still unless it is moved, or somebody pauses by it."""

    def __init__(self) -> None:
        self.time_s = 1000.0
        self.pauses: list[float] = []

    def __call__(self) -> float:
        return self.time_s

    def pause(self, pause_s: float) -> None:
        self.pauses.append(pause_s)
        self.time_s += pause_s


class Server(ThreadingHTTPServer):
    """What it answers is in `ways`, by path; what it was asked, and what it sent, is counted."""

    daemon_threads = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), Handler)
        self.ways: dict[str, Way] = {}
        self.asked: list[tuple[str, dict[str, str]]] = []
        self.bodies_sent = 0
        self.stopped = threading.Event()
        self.clock = Clock()

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.server_address[1]}"

    def handle_error(self, request: object, client_address: object) -> None:
        """Say nothing: clients that go away are what is tested."""


class Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    server: Server

    def do_GET(self) -> None:
        self.server.asked.append((self.path, dict(self.headers)))
        self.server.ways.get(self.path, status(404))(self)

    def log_message(self, *_: object) -> None:
        """Say nothing."""

    def head(self, code: int = 200, **headers: str) -> None:
        self.send_response_only(code)
        self.send_header("Date", formatdate(usegmt=True))
        for name, value in headers.items():
            self.send_header(name.replace("_", "-"), value)
        self.end_headers()

    def tick(self) -> bool:
        """Let time pass by the test's clock, and tell whether to go on."""
        self.server.clock.time_s += TICK_S
        return not self.server.stopped.wait(0.001)

    def stay_silent(self) -> None:
        """Say nothing more, however long anybody waits."""
        self.server.stopped.wait()
        self.close_connection = True


@contextmanager
def running_server() -> Iterator[Server]:
    with Server() as running:
        thread = threading.Thread(target=running.serve_forever, kwargs={"poll_interval": 0.01}, daemon=True)
        thread.start()
        try:
            yield running
        finally:
            running.stopped.set()
            running.shutdown()
            thread.join()


def forget_proxies(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ask the server itself, whatever proxy this machine is set to."""
    for name in ("http_proxy", "https_proxy", "all_proxy"):
        monkeypatch.delenv(name, raising=False)
        monkeypatch.delenv(name.upper(), raising=False)


def whole(content: bytes, *, etag: str | None = None, modified: str | None = None, **headers: str) -> Way:
    """Serve a document; unchanged ones by status 304."""
    marks = {name: mark for name, mark in (("ETag", etag), ("Last_Modified", modified)) if mark}

    def way(to: Handler) -> None:
        shown = (to.headers.get("If-None-Match"), to.headers.get("If-Modified-Since"))
        if (etag is not None and shown[0] == etag) or (modified is not None and shown[1] == modified):
            to.head(304, **marks)
            return
        to.server.bodies_sent += 1
        to.head(Content_Length=str(len(content)), **marks, **headers)
        to.wfile.write(content)

    return way


def chunked(content: bytes, *, cut: bool = False) -> Way:
    def way(to: Handler) -> None:
        to.head(Transfer_Encoding="chunked")
        for start in range(0, len(content), 5000):
            piece = content[start : start + 5000]
            to.wfile.write(b"%x\r\n%s\r\n" % (len(piece), piece))
        if cut:
            to.close_connection = True
        else:
            to.wfile.write(b"0\r\n\r\n")

    return way


def packed(content: bytes, encoding: str = "gzip") -> Way:
    return whole(gzip.compress(content), Content_Encoding=encoding)


def packed_and_cut(content: bytes) -> Way:
    return whole(gzip.compress(content)[:-20], Content_Encoding="gzip")


def status(code: int, **headers: str) -> Way:
    return lambda to: to.head(code, Content_Length="0", **headers)


def in_turn(*ways: Way) -> Way:
    """Answer each request in another way, the last one for ever."""
    left = list(ways)

    def way(to: Handler) -> None:
        one = left.pop(0) if len(left) > 1 else left[0]
        one(to)

    return way


def never(to: Handler) -> None:
    to.stay_silent()


def drip(content: bytes) -> Way:
    """Send a byte now and then, never so seldom that a single wait would time out."""

    def way(to: Handler) -> None:
        to.head(Content_Length=str(len(content)))
        for place in range(len(content)):
            if not to.tick():
                return
            to.wfile.write(content[place : place + 1])

    return way


def drip_head(to: Handler) -> None:
    """Send header after header; too many of them would be another fault."""
    to.wfile.write(b"HTTP/1.1 200 OK\r\n")
    for _ in range(50):
        to.tick()
        to.wfile.write(b"X-More: yes\r\n")
    to.stay_silent()


def promise(content: bytes, length: int) -> Way:
    """Promise another length than comes."""

    def way(to: Handler) -> None:
        to.head(Content_Length=str(length))
        to.wfile.write(content)
        to.close_connection = True

    return way


def unpromised(content: bytes) -> Way:
    """Promise no length: whoever reads cannot tell the end from a cut."""

    def way(to: Handler) -> None:
        to.head()
        to.wfile.write(content)
        to.close_connection = True

    return way


def hang_up(to: Handler) -> None:
    to.close_connection = True


def garbage(to: Handler) -> None:
    whole(random.Random(5).randbytes(20_000))(to)


def not_http(to: Handler) -> None:
    to.wfile.write(b"220 mail.example ready\r\n")
    to.close_connection = True


def web_page(to: Handler) -> None:
    page = b"\n<!DOCTYPE html><html><title>Sign in</title><p>Welcome to the network of the inn</html>"
    whole(page, Content_Type="text/html")(to)


def redirect(target: str, code: int = 302) -> Way:
    return status(code, Location=target)


def endless(to: Handler) -> None:
    to.head()
    while not to.server.stopped.is_set():
        to.wfile.write(b"XX000000017" * 5000)


def endless_chunks(code: int = 200, **headers: str) -> Way:
    def way(to: Handler) -> None:
        to.head(code, Transfer_Encoding="chunked", **headers)
        while not to.server.stopped.is_set():
            to.wfile.write(b"4000\r\n" + b"x" * 0x4000 + b"\r\n")

    return way


def bomb(to: Handler) -> None:
    packed(b" " * 80_000_000)(to)


def large(to: Handler) -> None:
    to.head(Content_Length=str(10**12))
    to.stay_silent()


@contextmanager
def refusing_address() -> Iterator[str]:
    """Hold a port of this machine that no server listens at, so that nobody else can take it."""
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        yield f"http://127.0.0.1:{held.getsockname()[1]}"
