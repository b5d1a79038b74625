"""Run a command as a user would, in this process."""

from __future__ import annotations

import importlib
import json
import pkgutil
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest

import frostgate.cli
from frostgate.cli.main import main

# A command that is first loaded while time is frozen would take dates for another type.
for command in pkgutil.iter_modules(frostgate.cli.__path__):
    importlib.import_module(f"frostgate.cli.{command.name}")


@dataclass(frozen=True)
class Ran:
    status: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Callable[..., Ran]:
    """Return a function that runs `frostgate` with some arguments."""

    def _run(*arguments: object) -> Ran:
        capsys.readouterr()
        status = main([str(argument) for argument in arguments])
        written = capsys.readouterr()
        assert "Traceback" not in written.out + written.err
        return Ran(status, written.out, written.err)

    return _run
