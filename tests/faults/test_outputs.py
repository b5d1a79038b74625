"""Exit status 1 means shut and nothing else: an answer that cannot be written, a folder that is gone."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from frostgate.garden.journal import Journal

RUN = [sys.executable, "-c", "from frostgate.cli.main import run; run()"]
PATHS = {"PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
SHUT = ("today", "--record", "oskelmere.dly", "--climate-only", "--on", "2026-02-16")
GARDEN = ("--garden", "shut/garden.toml")
AS_USER = () if os.geteuid() else ("setpriv", "--bounding-set=-dac_override,-dac_read_search")
FILES = ("garden.toml", "oskelmere.dly", "forecast_clear.csv")


@pytest.fixture
def folder(samples, tmp_path):
    """A folder with the invented garden."""
    for name in FILES:
        shutil.copy(samples / name, tmp_path)
    return tmp_path


def frostgate(folder, *arguments, to="", by=()):
    """Run a command with its standard output led elsewhere, as a shell does it."""
    shell = ["sh", "-c", f'"$@" {to}', "sh", *by, *RUN, *arguments]
    return subprocess.run(
        shell, cwd=folder, env=os.environ | PATHS, capture_output=True, text=True, check=False
    )


def told(ran):
    """Return what was said on the error stream of a command that ended in an error, in words."""
    assert ran.returncode == 2
    assert "Traceback" not in ran.stderr
    assert "a fault of frostgate itself" not in ran.stderr
    assert "Exception ignored" not in ran.stderr
    return ran.stderr


full = pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")


def test_that_feeding_is_shut_is_exit_status_1(folder):
    assert frostgate(folder, *SHUT).returncode == 1


@pytest.mark.parametrize("asked", [SHUT, ("--help",), ("today", "--help"), ("--version",)])
def test_a_closed_output_is_told_from_shut(folder, asked):
    assert "standard output is closed" in told(frostgate(folder, *asked, to=">&-"))


@full
@pytest.mark.parametrize(
    "asked",
    [
        SHUT, (*SHUT, "--format", "json"), ("--help",), ("today", "--help"), ("--version",),
        ("compare", "oskelmere.dly"), ("curve", "oskelmere.dly", "--format", "csv"),
        ("record", "nothing.dly", "--format", "json"),
    ],
)  # fmt: skip
def test_a_full_output_is_told_from_shut(folder, asked):
    assert "the answer cannot be written: 'No space left on device'" in told(
        frostgate(folder, *asked, to=">/dev/full")
    )


@pytest.mark.parametrize("asked", [SHUT, ("--help",), ("today", "--help"), ("compare", "oskelmere.dly")])
def test_a_reader_that_went_away_is_told_from_shut_without_a_word(folder, asked):
    reading, writing = os.pipe()
    os.close(reading)
    how = {"cwd": folder, "env": os.environ | PATHS, "stderr": subprocess.PIPE, "text": True}
    ran = subprocess.run([*RUN, *asked], check=False, stdout=writing, **how)
    os.close(writing)
    assert told(ran) == ""


@full
@pytest.mark.parametrize("to", ["2>/dev/full", "2>&-", ">/dev/full 2>/dev/full", ">&- 2>&-"])
@pytest.mark.parametrize("asked", [("record", "nothing.dly"), ("today", "--no-such-option")])
def test_an_error_that_nobody_can_read_is_still_one(folder, asked, to):
    assert frostgate(folder, *asked, to=to).returncode == 2


@full
@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("log", "minimum", "29F"), "Logged for"),
        (("log", "feed", "--group", "old plums", "--product", "First feed=60 g"), "To take it back: "),
        (("init", "--file", "new.toml", "--no-questions"), "Wrote new.toml"),
        (("plan", "--climate-only", "--calendar", "season.ics"), "Written: season.ics"),
        (("today", "--climate-only"), "forecast and verdict are in the journal"),
        ((*SHUT, "--forecast-log", "log.csv"), "The log of forecasts is up to date: log.csv"),
    ],
)  # fmt: skip
def test_what_was_written_is_said_although_the_answer_is_not(folder, asked, said):
    assert said in told(frostgate(folder, *asked, to=">/dev/full"))


def test_without_an_input_nobody_answers(folder):
    assert "nobody answers" in told(frostgate(folder, "init", "--file", "new.toml", to="<&-"))


@full
def test_what_was_logged_before_the_output_failed_is_logged(folder):
    told(frostgate(folder, "log", "minimum", "29F", to=">/dev/full"))
    with Journal.open(folder / "garden.journal.sqlite") as journal:
        assert [entry.kind for entry in journal.entries()] == ["minimum"]


@pytest.mark.parametrize(
    "asked",
    [
        ("today",), ("garden",), ("log", "list"), ("plan",), ("init", "--no-questions"),
        ("curve", "{folder}/oskelmere.dly", "--chart", "a.svg"), ("record", "oskelmere.dly"),
        ("plan", "--garden", "{folder}/garden.toml", "--climate-only", "--card", "card.html"),
    ],
)  # fmt: skip
def test_a_folder_that_is_gone_is_told_in_words(folder, asked):
    gone = folder / "gone"
    gone.mkdir()
    arguments = [word.format(folder=folder) for word in asked]
    shell = ["sh", "-c", 'rmdir "$PWD"; "$@"', "sh", *RUN, *arguments]
    ran = subprocess.run(shell, cwd=gone, env=os.environ | PATHS, capture_output=True, text=True, check=False)
    assert told(ran)


@pytest.mark.skipif(AS_USER and not shutil.which(AS_USER[0]), reason="nothing is shut to this user")
@pytest.mark.parametrize(
    "asked",
    [
        ("today", *GARDEN), ("garden", *GARDEN), ("log", "minimum", "29F", *GARDEN), ("plan", *GARDEN),
        ("record", "shut/oskelmere.dly"),
        ("today", "--record", "oskelmere.dly", "--forecast", "shut/forecast_clear.csv"),
        ("today", "--record", "shut/oskelmere.dly"), ("compare", "--records", "shut"),
        ("init", "--file", "shut/new.toml", "--no-questions"),
        ("curve", "oskelmere.dly", "--chart", "shut/a.svg"),
        ("plan", "--climate-only", "--calendar", "shut/a.ics"),
        ("today", "--record", "oskelmere.dly", "--forecast-log", "shut/log.csv", "--climate-only"),
    ],
)  # fmt: skip
def test_a_folder_that_may_not_be_entered_is_told_in_words(folder, asked):
    shut = folder / "shut"
    shut.mkdir()
    for name in FILES:
        shutil.copy(folder / name, shut)
    shut.chmod(0o600)
    error = told(frostgate(folder, *asked, by=AS_USER))
    assert "shut" in error
    assert "Permission denied" in error
