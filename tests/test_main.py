"""The door: exit statuses, and errors that never leave as a traceback."""

from __future__ import annotations

import os
import re
import subprocess
import sys

import click
import pytest

from frostgate.cli import main as door
from frostgate.errors import InputError


@pytest.fixture
def command(monkeypatch: pytest.MonkeyPatch):
    """Return a function that lets the commands do something else."""

    def _do(what):
        monkeypatch.setattr(door.frostgate, "main", lambda **_: what())

    return _do


@pytest.mark.parametrize(("answer", "status"), [(0, 0), (1, 1), (3, 3), (None, 0)])
def test_a_commands_answer_is_the_exit_status(command, monkeypatch, answer, status):
    command(lambda: answer)
    monkeypatch.setattr(sys, "argv", ["frostgate", "today"])

    with pytest.raises(SystemExit) as left:
        door.run()

    assert left.value.code == status


def raising(error: BaseException):
    def _raise():
        raise error

    return _raise


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (
            InputError("not a date", file="a.csv", line=3, value="31/31"),
            "Error: a.csv, line 3: not a date: '31/31'.",
        ),
        (click.UsageError("No such option"), "No such option"),
        (click.exceptions.Abort(), "Stopped."),
        (ZeroDivisionError("division by zero"), "a fault of frostgate itself"),
    ],
    ids=["input", "usage", "abort", "fault"],
)
def test_an_error_is_told_and_not_thrown(command, capsys, error, said):
    command(raising(error))

    assert door.main(["today"]) == 2
    assert said in capsys.readouterr().err


def test_a_reader_that_went_away_is_no_traceback(command, monkeypatch):
    command(raising(door.OutputClosedError()))
    monkeypatch.setattr(sys, "argv", ["frostgate", "today"])
    closed = []
    monkeypatch.setattr(os, "dup2", lambda source, target: closed.append((source, target)))
    monkeypatch.setattr(sys.stdout, "fileno", lambda: 1, raising=False)

    with pytest.raises(SystemExit) as left:
        door.run()

    assert left.value.code == 2
    assert closed[0][1] == 1


def test_a_reader_that_went_away_is_told_from_shut(samples):
    """Exit status 1 means shut and nothing else, also where nobody reads the answer to its end."""
    asked = ["today", "--record", str(samples / "oskelmere.dly"), "--climate-only", "--on", "2026-05-16"]
    code = "import sys; from frostgate.cli.main import run; run()"
    ran = subprocess.Popen(
        [sys.executable, "-c", code, *asked], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    ran.stdout.close()

    _, told = ran.communicate()

    assert (ran.returncode, told) == (2, b"")


@pytest.mark.parametrize(
    ("arguments", "wanted"),
    [
        (["--format", "json"], True),
        (["--format=json"], True),
        (["--format", "text"], False),
        (["json"], False),
    ],
)
def test_json_is_wanted_where_the_arguments_say_so(command, capsys, arguments, wanted):
    command(raising(InputError("too short")))

    door.main(["record", *arguments])

    assert capsys.readouterr().out.startswith("{") == wanted


@pytest.mark.parametrize("encoding", ["cp1252", "ascii"])
@pytest.mark.parametrize(
    "command", ["curve", "record", "replay --years 2000-2015", "risk", "compare", "today --record"]
)
def test_a_letter_that_the_screen_lacks_is_written_as_it_can_be(samples, command, encoding):
    name, *options = command.split()
    where = os.environ | {"PYTHONIOENCODING": encoding, "PYTHONUTF8": "0", "NO_COLOR": "1"}
    asked = [name, *options, str(samples / "oskelmere.dly"), *(["--climate-only"] if name == "today" else [])]

    ran = subprocess.run(
        [sys.executable, "-c", "from frostgate.cli.main import run; run()", *asked],
        env=where, cwd=samples.parent, capture_output=True, check=False,
    )  # fmt: skip

    assert ran.stderr == b""
    assert ran.returncode in {0, 1}
    shown = ran.stdout.decode(encoding)
    assert re.search(r"\d F\b", shown) if encoding == "ascii" else re.search(r"\d °F", shown)


@pytest.mark.parametrize(
    ("written", "plain"),
    [("≤ 0 °C", "<= 0 C"), ("−2 – 3 — 4", "-2 - 3 - 4"), ("1½ tbsp ±1.3 × 2", "1 1/2 tbsp +/-1.3 x 2"),
     ("█ ĝ ñ 林", "# g n ?")],
)  # fmt: skip
def test_what_ascii_lacks_is_still_readable(written, plain):
    assert written.encode("ascii", door.PLAINLY).decode("ascii") == plain
