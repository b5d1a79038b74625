"""Fixtures that every test may use."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

ROOT = Path(__file__).parents[1]

# No test depends on how fast the machine is: examples have no deadline.
settings.register_profile("unhurried", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("unhurried")


@pytest.fixture(scope="session")
def reference() -> Path:
    """Return the folder of real station data; tests that need it skip without it."""
    folder = os.environ.get("FROSTGATE_REFERENCE_DATA")
    if not folder or not Path(folder).is_dir():
        pytest.skip("needs real station data: set FROSTGATE_REFERENCE_DATA to its folder")
    return Path(folder)


@pytest.fixture(scope="session")
def samples() -> Path:
    """Return the folder of the invented sample data."""
    return ROOT / "data_samples"


@pytest.fixture(autouse=True)
def _own_cache(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> None:
    """Keep what is kept between mornings out of the user's own folders."""
    monkeypatch.setenv("FROSTGATE_CACHE", str(tmp_path_factory.getbasetemp() / "kept"))


@pytest.fixture(autouse=True)
def _no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let no test reach beyond this machine."""
    connect = socket.socket.connect

    def guarded(self: socket.socket, address: object) -> None:
        host = address[0] if isinstance(address, tuple) else "localhost"
        if host not in {"127.0.0.1", "::1", "localhost"}:
            pytest.fail(f"a test reached for the network: {address}")
        connect(self, address)  # type: ignore[arg-type]  # as wide as the method it guards

    monkeypatch.setattr(socket.socket, "connect", guarded)
