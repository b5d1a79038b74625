"""An older journal is brought up to date whole, with a copy beside it; a newer one is refused."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest

from frostgate.errors import FrostgateError
from frostgate.garden import journal as journals
from frostgate.garden.journal import APPLICATION_ID, MIGRATIONS, Journal
from tests.journal_cases import NOW, minimum, one_of_each, version_1, version_of_file

NEWEST = len(MIGRATIONS)


@pytest.fixture
def path(tmp_path):
    return tmp_path / "garden.journal.sqlite"


def test_a_new_journal_has_the_newest_version_and_is_known_by_its_number(path):
    with Journal.open(path) as journal:
        assert journal._db.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)
    assert version_of_file(path) == NEWEST == 2
    assert [file.name for file in path.parent.iterdir()] == [path.name]


def test_a_file_that_was_cut_off_before_anything_stood_in_it_is_a_new_journal(path):
    path.touch()
    with Journal.open(path) as journal:
        assert journal.history() == ()


def test_an_older_journal_keeps_its_entries_and_leaves_a_copy(path):
    entries = one_of_each()
    before = version_1(path, *entries).read_bytes()
    with Journal.open(path) as journal:
        assert journal.history() == entries
        undo = journal.undo(entries[0].id, NOW)
    copy = path.with_name("garden.journal.version-1.sqlite")
    assert (version_of_file(path), version_of_file(copy)) == (NEWEST, 1)
    with closing(sqlite3.connect(copy)) as db:
        assert db.execute("SELECT count(*) FROM entries").fetchone() == (len(entries),)
        assert db.execute("PRAGMA quick_check").fetchone() == ("ok",)
    assert len(before) > 0
    assert {file.name for file in path.parent.iterdir()} == {path.name, copy.name}
    with Journal.open(path) as journal:
        assert journal.history() == (*entries, undo)


def test_a_migrated_journal_is_as_a_new_one(path):
    version_1(path, minimum())
    with Journal.open(path), Journal.open(path.with_name("new.sqlite")):
        pass
    assert _tables(path) == _tables(path.with_name("new.sqlite"))


def test_a_copy_that_is_there_is_not_written_over(path):
    version_1(path, minimum())
    first = path.with_name("garden.journal.version-1.sqlite")
    first.write_bytes(b"an earlier copy")
    with Journal.open(path):
        pass
    assert first.read_bytes() == b"an earlier copy"
    assert version_of_file(path.with_name("garden.journal.version-1-2.sqlite")) == 1


@pytest.mark.parametrize("at", [0, 1])
def test_a_migration_that_fails_leaves_the_old_journal_as_it_was(path, monkeypatch, at):
    entries = one_of_each()
    before = version_1(path, *entries).read_bytes()
    steps = list(MIGRATIONS[1])
    steps.insert(at + 1, "CREATE INDEX broken ON no_such_table (a)")
    with monkeypatch.context() as patch:
        patch.setattr(journals, "MIGRATIONS", (MIGRATIONS[0], tuple(steps)))
        with pytest.raises(FrostgateError, match="cannot be used") as refused:
            Journal.open(path)
    assert "what stood there is safe" in refused.value.remedy
    assert path.read_bytes() == before
    with Journal.open(path) as journal:
        assert journal.history() == entries


def test_a_copy_that_cannot_be_made_stops_the_migration(path, monkeypatch):
    before = version_1(path, minimum()).read_bytes()
    monkeypatch.setattr(journals, "backup_name", lambda path, _: path.with_name("no such folder") / "x")
    with pytest.raises(FrostgateError, match="cannot be opened or written"):
        Journal.open(path)
    assert (path.read_bytes(), version_of_file(path)) == (before, 1)


def test_a_corrupt_older_journal_is_not_migrated(path):
    version_1(path, *(minimum() for _ in range(2000)))
    content = bytearray(path.read_bytes())
    content[20 * 4096 : 24 * 4096] = b"\xa5" * (4 * 4096)
    path.write_bytes(content)
    with pytest.raises(FrostgateError, match="corrupt"):
        Journal.open(path)
    assert path.read_bytes() == content
    assert not list(path.parent.glob("*version-1*"))


def test_a_second_process_that_waited_for_the_migration_finds_it_done(path, monkeypatch):
    """The version is looked at again under the lock: stand in for the one that looked too early."""
    version_1(path, minimum())
    with Journal.open(path):
        pass
    looks = iter([1, 1])
    real = journals.version_of
    monkeypatch.setattr(journals, "version_of", lambda db, path: next(looks, None) or real(db, path))
    with Journal.open(path) as journal:
        assert len(journal.history()) == 1
    assert len(list(path.parent.glob("*version-1*"))) == 1


def test_a_journal_of_a_newer_version_is_refused_and_left_alone(path):
    with Journal.open(path) as journal:
        journal._db.execute(f"PRAGMA user_version = {NEWEST + 1}")
    before = path.read_bytes()
    with pytest.raises(FrostgateError, match=f"a journal of version {NEWEST + 1}") as refused:
        Journal.open(path)
    assert "newer frostgate" in refused.value.remedy
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    "made", ["CREATE TABLE t (a)", "PRAGMA user_version = 7", "PRAGMA application_id = 7"]
)
def test_a_file_of_another_program_is_refused_and_left_alone(path, made):
    with closing(sqlite3.connect(path)) as db:
        db.execute(made)
    before = path.read_bytes()
    with pytest.raises(FrostgateError, match="another program"):
        Journal.open(path)
    assert path.read_bytes() == before
    assert [file.name for file in path.parent.iterdir()] == [path.name]


def _tables(path):
    with closing(sqlite3.connect(path)) as db:
        return sorted(db.execute("SELECT type, name, sql FROM sqlite_master").fetchall())
