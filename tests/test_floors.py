"""The floors of the house, checked by a machine."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "frostgate"
BELOW_THE_FACES = sorted(path for path in PACKAGE.rglob("*.py") if "cli" not in path.parts)
DEADLINE = "sources/http.py"  # asks a monotonic clock how long a document has taken
TIME = ("time", "monotonic", "perf_counter", "process_time")
CLOCKS = {
    *(f"time.{name}" for name in TIME), *(f"time.{name}_ns" for name in TIME), "time.localtime",
    *(f"datetime.datetime.{name}" for name in ("now", "utcnow", "today")), "datetime.date.today",
    *(f"pandas.Timestamp.{name}" for name in ("now", "utcnow", "today")),
    "os.environ", "os.getenv", "os.environb", "sys.argv",
}  # fmt: skip
DATES = {"numpy.datetime64", "pandas.Timestamp", "pandas.to_datetime"}  # that read "now" and "today" as words


def asked_of_the_machine(source: str) -> set[str]:
    """Find where a module asks a clock, the environment or the command line, under whatever name."""
    tree, meant = ast.parse(source), dict[str, str]()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            meant |= {one.asname or one.name: one.name for one in node.names}
        elif isinstance(node, ast.ImportFrom) and not node.level:
            meant |= {one.asname or one.name: f"{node.module}.{one.name}" for one in node.names}

    def full_name(node: ast.AST) -> str:
        first, dot, rest = ast.unparse(node).partition(".")
        return meant.get(first, "") + dot + rest

    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Name | ast.Attribute) and full_name(node) in CLOCKS:
            found.add(f"{ast.unparse(node)} (line {node.lineno})")
        if isinstance(node, ast.Call) and full_name(node.func) in DATES:
            words = {one.value for one in node.args if isinstance(one, ast.Constant)}
            found |= {f"{ast.unparse(node)} (line {node.lineno})"} if words & {"now", "today"} else set()
    return found


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
    asked = asked_of_the_machine(path.read_text(encoding="utf-8"))

    if path.relative_to(PACKAGE).as_posix() == DEADLINE:
        asked = {one for one in asked if "monotonic" not in one}
    assert asked == set()


@pytest.mark.parametrize(
    "source",
    ["import time\ntime.time()", "from time import monotonic\nmonotonic()", "from time import time as t\nt()",
     "import datetime as dt\ndt.datetime.now(dt.UTC)", "from datetime import date\ndate.today()",
     "import numpy as np\nnp.datetime64('today')", "from numpy import datetime64\ndatetime64('now', 's')",
     "import pandas as pd\npd.Timestamp.now()", "import pandas as pd\npd.Timestamp('today')",
     "import os\nos.environ['HOME']", "from os import environ\nenviron.get('HOME')",
     "import sys\nsys.argv[1:]"],
)  # fmt: skip
def test_a_clock_is_found_under_every_name(source: str):
    assert asked_of_the_machine(source)


@pytest.mark.parametrize(
    "source",
    ["import datetime as dt\ndt.date(2026, 4, 12)", "import time\ntime.sleep(0.1)", "import os\nos.getpid()",
     "import numpy as np\nnp.datetime64('2026-04-12')", "def ask(now, today): return now"],
)  # fmt: skip
def test_what_asks_no_clock_is_left_in_peace(source: str):
    assert not asked_of_the_machine(source)


@pytest.mark.parametrize("path", BELOW_THE_FACES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_only_the_edges_open_files(path: Path):
    if path.relative_to(PACKAGE).parts[0] in {"files.py", "sources", "garden", "show"}:
        return
    tree = ast.parse(path.read_text(encoding="utf-8"))

    opened = [
        ast.unparse(node.func)
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and (
            (isinstance(node.func, ast.Name) and node.func.id == "open")
            or (
                isinstance(node.func, ast.Attribute) and node.func.attr in {"open", "read_text", "read_bytes"}
            )
        )
    ]

    assert set(opened) <= {"Journal.open"}  # of garden/journal, one of the edges
