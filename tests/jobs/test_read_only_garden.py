"""A garden in a folder that may only be read: what only asks is answered, what was not written is told."""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path

import pytest
from freezegun import freeze_time

from frostgate.garden.journal import Journal
from tests.journal_cases import event, minimum, older_journal

SAMPLES = Path(__file__).parents[2] / "data_samples"
MORNING = "2026-05-16 09:30:00"  # 06:30 in the garden, three hours west of Greenwich
NOBODY = 65534
ENTRIES = [minimum(-1.5), event("bud break", group="old plums", note="half of them"), minimum(-2.5)]


def forms(path, how):
    """Write a journal: closed, with a write-ahead log beside it as after a kill, or of an older version."""
    if how == "older":
        older_journal(path, *ENTRIES)
        return
    with Journal.open(path) as journal:
        journal.add(ENTRIES[0])
    if how == "closed":
        with Journal.open(path) as journal:
            journal.add(*ENTRIES[1:])
        return
    with Journal.open(path) as journal:
        journal.add(*ENTRIES[1:])
        for name in (path.name, f"{path.name}-wal"):
            shutil.copy(path.with_name(name), path.with_name(f"{name}.left"))
    for name in (path.name, f"{path.name}-wal"):
        path.with_name(f"{name}.left").replace(path.with_name(name))
    assert path.with_name(f"{path.name}-wal").stat().st_size > 0


@pytest.fixture(params=["closed", "write-ahead log", "older"])
def there(request, monkeypatch, run):
    """Stand as somebody without a right to write in the folder of the sample garden."""
    folder = Path(tempfile.mkdtemp())
    (folder / "kept").mkdir()
    (folder / "garden").mkdir()
    for name in ("garden.toml", "oskelmere.dly", "forecast_clear.csv"):
        shutil.copy(SAMPLES / name, folder / "garden")
    monkeypatch.setenv("FROSTGATE_CACHE", str(folder / "kept"))
    monkeypatch.chdir(folder / "garden")
    with freeze_time(MORNING):  # what is loaded late may not be readable for somebody else
        for command in (["today"], ["plan"], ["log", "list"], ["log", "export", "a.json"], ["log", "check"]):
            assert run(*command).status == 0
    (folder / "garden" / "a.json").unlink()
    (folder / "garden" / "garden.journal.sqlite").unlink()
    forms(folder / "garden" / "garden.journal.sqlite", request.param)
    for file in (folder / "kept").iterdir():
        file.chmod(0o666)
    for place, mode in ((folder, 0o777), (folder / "kept", 0o777), (folder / "garden", 0o555)):
        place.chmod(mode)
    before = {file: file.read_bytes() for file in (folder / "garden").iterdir() if file.is_file()}
    for file in before:
        file.chmod(0o444)
    is_root = os.geteuid() == 0
    if is_root:
        os.seteuid(NOBODY)
    yield folder
    if is_root:
        os.seteuid(0)
    (folder / "garden").chmod(0o755)
    assert {file: file.read_bytes() for file in (folder / "garden").iterdir() if file.is_file()} == before
    shutil.rmtree(folder)


def test_what_only_asks_is_answered_in_a_folder_that_may_only_be_read(run, there):
    with freeze_time(MORNING):
        morning, plan = run("today"), run("plan")
        listed = run("log", "list", "--format", "json")
        exported = run("log", "export", there / "kept" / "a.json")
        checked = run("log", "check")
    assert (morning.status, plan.status) == (0, 0), morning.err + plan.err
    assert "This morning is not in the journal" in " ".join(morning.out.split())
    assert "cannot be opened or written here" in " ".join(morning.out.split())
    assert [entry["id"] for entry in listed.json["entries"]] == [entry.id for entry in ENTRIES]
    assert (exported.status, "Exported 3 entries" in exported.out) == (0, True)
    assert (checked.status, "The journal is sound." in checked.out) == (0, True)


def test_what_is_to_be_written_there_is_refused_and_nothing_is_taken_as_written(run, there):
    refused = run("log", "minimum", "29F")
    assert (refused.status, "Logged" in refused.out) == (2, False)
    assert "cannot be opened or written here" in refused.err
    assert run("log", "undo", ENTRIES[0].id).status == 2
    assert run("log", "rescue", there / "garden" / "b.sqlite").status == 2
    with Journal.open(there / "garden" / "garden.journal.sqlite", to_read=True) as journal:
        assert list(journal.history()) == ENTRIES


def test_what_could_not_be_written_there_is_rescued_elsewhere(run, there):
    file = there / "kept" / "b.sqlite"
    assert "Rescued 3 entries" in run("log", "rescue", file).out
    with closing(sqlite3.connect(file)) as db:
        assert db.execute("SELECT count(*) FROM entries").fetchone() == (3,)
