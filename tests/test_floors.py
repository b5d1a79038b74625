"""The floors of the house, checked by a machine."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "frostgate"
BELOW_THE_FACES = sorted(path for path in PACKAGE.rglob("*.py") if "cli" not in path.parts)
CLOCKS = {"now", "utcnow", "today", "time", "monotonic", "perf_counter", "getenv", "environ", "argv"}


def test_imports_point_only_downward():
    done = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command as run; run()"],
        cwd=PACKAGE.parent,
        capture_output=True,
        text=True,
        check=False,
    )

    assert done.returncode == 0, done.stdout + done.stderr
    assert "1 kept, 0 broken" in done.stdout


@pytest.mark.parametrize("path", BELOW_THE_FACES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_nothing_below_the_faces_reads_a_clock_or_the_environment(path: Path):
    tree = ast.parse(path.read_text(encoding="utf-8"))

    asked = {
        f"{ast.unparse(node)} (line {node.lineno})"
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute)
        and node.attr in CLOCKS
        and ast.unparse(node.value)
        in {"dt.datetime", "dt.date", "datetime", "date", "time", "os", "sys", "np.datetime64"}
    }

    assert asked == set()


@pytest.mark.parametrize("path", BELOW_THE_FACES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_only_the_edges_open_files(path: Path):
    if path.relative_to(PACKAGE).parts[0] in {"files.py", "sources", "garden", "show"}:
        return
    tree = ast.parse(path.read_text(encoding="utf-8"))

    opened = [
        node.lineno
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and ast.unparse(node.func).rpartition(".")[2] in {"open", "read_text", "read_bytes"}
    ]

    assert opened == []
