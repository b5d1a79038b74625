"""Kill the process at any moment: what was acknowledged is there, and the file is sound."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from frostgate.garden.journal import Journal
from frostgate.garden.store import copies_of
from tests.journal_cases import older_journal, one_of_each, version_of_file

ROOT = Path(__file__).parents[2]
WRITERS = Path(__file__).with_name("killed_writers.py")

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="a process is killed in a fork of one")


def kill(what, path, kills, seed):
    """Give for each kill what the writer had said."""
    command = [sys.executable, WRITERS, what, path, str(kills), str(seed)]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    done = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, done.stderr
    return [line.split() for line in done.stdout.split("\n")[:-1]]


@pytest.mark.parametrize("kills", [60, pytest.param(500, marks=pytest.mark.slow)])
def test_kills_lose_nothing_acknowledged_and_garble_nothing(tmp_path, kills):
    path = tmp_path / "garden.journal.sqlite"
    said = kill("one", path, kills, seed=20260412)
    acknowledged = [line for lines in said for line in lines if line != "open"]
    assert len(said) == kills
    assert sum("open" in lines for lines in said) < kills  # some were killed before the journal was open
    assert sum(len(lines) > 1 for lines in said) > kills / 3  # and others while they wrote
    with Journal.open(path) as journal:
        assert (journal.damaged, journal.faults()) == ((), ())
        kept = [entry.id for entry in journal.history()]
    assert set(acknowledged) <= set(kept)
    # beyond what was acknowledged, a kill may leave one entry that was written but not yet said
    assert len(acknowledged) <= len(kept) <= len(acknowledged) + kills


@pytest.mark.parametrize("older", [False, True], ids=["new", "older"])
def test_kills_while_a_journal_is_made_or_migrated_leave_it_whole(tmp_path, older):
    path, entries = tmp_path / "garden.journal.sqlite", one_of_each() if older else ()
    if older:
        older_journal(path, *entries)
    said = kill("made", path, 40, seed=7)
    assert 0 < sum("open" in lines for lines in said) < 40
    for number, lines in enumerate(said):
        copy = tmp_path / f"{number}.sqlite"
        if not copy.exists():
            assert lines == []
            continue
        assert version_of_file(copy) in {1 if older else 0, 3}
        with Journal.open(copy) as journal:
            kept = journal.history()
        assert kept[: len(entries)] == entries
        assert set(lines) - {"open"} <= {entry.id for entry in kept}


@pytest.mark.parametrize("older", [False, True], ids=["new", "older"])
def test_ten_processes_write_at_once_and_all_is_there(tmp_path, older):
    """They make or migrate the journal and keep its first copy at once, too."""
    path, each = tmp_path / "garden.journal.sqlite", 25
    there = [entry.id for entry in version_1_of_each(path)] if older else []
    script = (
        "import sys; from pathlib import Path; from frostgate.garden.journal import Journal; "
        "from tests.journal_cases import minimum\n"
        f"for _ in range({each}):\n"
        "    entry = minimum()\n"
        "    with Journal.open(Path(sys.argv[1]), patience_s=60) as journal:\n"
        "        journal.add(entry)\n"
        "    print(entry.id)\n"
    )
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", script, path], env=environment, stdout=subprocess.PIPE, text=True
        )
        for _ in range(10)
    ]
    said = [writer.communicate(timeout=120)[0].split() for writer in writers]
    assert [writer.returncode for writer in writers] == [0] * 10
    with Journal.open(path) as journal:
        assert (journal.damaged, journal.faults()) == ((), ())
        kept = [entry.id for entry in journal.history()]
    assert sorted(kept) == sorted([*there, *(line for lines in said for line in lines)])
    assert {copy.stem for copy in copies_of(path)} == (
        {"2026-04-12", "version-1"} if older else {"2026-04-12"}
    )


def version_1_of_each(path):
    entries = one_of_each()
    older_journal(path, *entries)
    return entries
