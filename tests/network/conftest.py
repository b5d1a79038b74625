"""A server on this machine, and a network that means it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from frostgate.model.garden import Network
from tests.network.server import Server, forget_proxies, running_server


@pytest.fixture(autouse=True)
def _no_proxy(monkeypatch: pytest.MonkeyPatch) -> None:
    forget_proxies(monkeypatch)


@pytest.fixture
def server() -> Iterator[Server]:
    with running_server() as running:
        yield running


@pytest.fixture
def network(server: Server) -> Network:
    return Network(archive=f"{server.address}/daily", wait_s=1.0, largest_mb=3.0, retries=0)
