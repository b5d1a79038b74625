"""Kill the process at any moment: what was acknowledged is there, and the file is sound."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from frostgate.garden.journal import Journal
from tests.journal_cases import one_of_each, version_1, version_of_file

ROOT = Path(__file__).parents[2]
WRITERS = Path(__file__).with_name("killed_writers.py")
KILLS = 200

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="a process is killed in a fork of one")


def kill(what, path, kills, seed):
    """Give for each kill what the writer had said."""
    command = [sys.executable, WRITERS, what, path, str(kills), str(seed)]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    done = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, done.stderr
    return [line.split() for line in done.stdout.split("\n")[:-1]]


def test_200_kills_lose_nothing_acknowledged_and_garble_nothing(tmp_path):
    path = tmp_path / "garden.journal.sqlite"
    said = kill("one", path, KILLS, seed=20260412)
    acknowledged = [line for lines in said for line in lines if line != "open"]
    assert len(said) == KILLS
    assert sum("open" in lines for lines in said) < KILLS  # some were killed before the journal was open
    assert sum(len(lines) > 1 for lines in said) > KILLS / 3  # and others while they wrote
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    with Journal.open(path, thorough=True) as journal:
        kept = [entry.id for entry in journal.history()]
    assert set(acknowledged) <= set(kept)
    # beyond what was acknowledged, a kill may leave one entry that was written but not yet said
    assert len(acknowledged) <= len(kept) <= len(acknowledged) + KILLS


@pytest.mark.parametrize("older", [False, True], ids=["new", "older"])
def test_kills_while_a_journal_is_made_or_migrated_leave_it_whole(tmp_path, older):
    path, entries = tmp_path / "garden.journal.sqlite", one_of_each() if older else ()
    if older:
        version_1(path, *entries)
    said = kill("made", path, 40, seed=7)
    assert 0 < sum("open" in lines for lines in said) < 40
    for number, lines in enumerate(said):
        copy = tmp_path / f"{number}.sqlite"
        if not copy.exists():
            assert lines == []
            continue
        assert version_of_file(copy) in {1 if older else 0, 2}
        with Journal.open(copy, thorough=True) as journal:
            kept = journal.history()
        assert kept[: len(entries)] == entries
        assert set(lines) - {"open"} <= {entry.id for entry in kept}


def test_two_processes_write_at_once_and_all_is_there(tmp_path):
    path, each = tmp_path / "garden.journal.sqlite", 150
    script = (
        "import sys; from pathlib import Path; from frostgate.garden.journal import Journal; "
        "from tests.journal_cases import minimum\n"
        "with Journal.open(Path(sys.argv[1]), patience_s=60) as journal:\n"
        f"    for _ in range({each}):\n"
        "        entry = minimum()\n"
        "        journal.add(entry)\n"
        "        print(entry.id)\n"
    )
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", script, path], env=environment, stdout=subprocess.PIPE, text=True
        )
        for _ in range(2)
    ]
    said = [writer.communicate(timeout=120)[0].split() for writer in writers]
    assert [writer.returncode for writer in writers] == [0, 0]
    with Journal.open(path, thorough=True) as journal:
        kept = [entry.id for entry in journal.history()]
    assert len(kept) == 2 * each
    assert set(kept) == {line for lines in said for line in lines}
