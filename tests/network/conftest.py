"""A server on this machine, and a network that means it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from frostgate.model.garden import Network
from frostgate.sources import http
from tests.network.server import Clock, Server, forget_proxies, running_server


@pytest.fixture(autouse=True)
def _no_proxy(monkeypatch: pytest.MonkeyPatch) -> None:
    forget_proxies(monkeypatch)


@pytest.fixture
def server() -> Iterator[Server]:
    with running_server() as running:
        yield running


@pytest.fixture(autouse=True)
def clock(server: Server, monkeypatch: pytest.MonkeyPatch) -> Clock:
    """The clock of every deadline; and no busy machine is taken for a server that is silent."""
    monkeypatch.setattr(http.Deadline, "clock", server.clock)
    monkeypatch.setattr(http.Deadline, "pause", server.clock.pause)
    monkeypatch.setattr(http, "SILENCE_S", 300.0)
    return server.clock


@pytest.fixture
def network(server: Server) -> Network:
    return Network(archive=f"{server.address}/daily", wait_s=60.0, largest_mb=3.0, retries=0)
