"""The journal: what is added stays, what is undone counts no more, and nothing is ever erased."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from frostgate.errors import FrostgateError, InputError
from frostgate.garden import store
from frostgate.garden.journal import Journal, journal_file, new_entry
from frostgate.garden.store import ADD, APPLICATION_ID, MIGRATIONS
from frostgate.model.garden import ENTRY_KINDS
from tests.journal_cases import (
    DAY,
    NOW,
    TODAY,
    event,
    feeding,
    minimum,
    older_journal,
    one_of_each,
    version_of_file,
)

LATER = NOW + DAY


@pytest.fixture
def path(tmp_path):
    return tmp_path / "garden.journal.sqlite"


@pytest.fixture
def journal(path):
    with Journal.open(path) as opened:
        yield opened


@pytest.mark.parametrize(
    ("garden", "journal"),
    [("garden.toml", "garden.journal.sqlite"), ("a/my.plums.toml", "a/my.plums.journal.sqlite"),
     ("garden", "garden.journal.sqlite")],
)  # fmt: skip
def test_the_journal_stands_beside_the_garden_file(garden, journal):
    assert journal_file(Path(garden)) == Path(journal)


def test_what_is_added_is_there_in_the_next_session(path):
    entries = one_of_each()
    with Journal.open(path) as journal:
        journal.add(*entries)
    with Journal.open(path) as journal:
        assert journal.history() == entries
        assert {entry.kind for entry in journal.entries()} == set(ENTRY_KINDS) - {"undo"}


def test_a_commit_waits_for_the_disk(journal):
    # https://www.sqlite.org/pragma.html#pragma_synchronous: in WAL mode only FULL (2) survives a power cut
    asked = {name: journal._db.execute(f"PRAGMA {name}").fetchone()[0]
             for name in ("synchronous", "journal_mode", "foreign_keys")}  # fmt: skip
    assert asked == {"synchronous": 2, "journal_mode": "wal", "foreign_keys": 1}


def test_entries_come_as_they_were_written_whatever_the_clock_said(journal):
    late, early = minimum(on=TODAY, made_at=LATER), minimum(on=TODAY - 3 * DAY)
    first, second = minimum(1.0), minimum(2.0)
    journal.add(late, first, early, second)
    assert journal.entries() == journal.history() == (late, first, early, second)


def test_entries_are_asked_for_by_kind_day_and_group(journal):
    mine, other = feeding(TODAY), feeding(TODAY, "cuttings")
    old, all_round = feeding(TODAY - 5 * DAY), event("growth", group=None)
    journal.add(mine, other, old, all_round, minimum())
    assert journal.entries(kinds=("feeding",)) == (mine, other, old)
    assert journal.entries(kinds={"feeding"}, since=TODAY) == (mine, other)
    assert journal.entries(kinds=("feeding", "growth"), group="old plums") == (mine, old, all_round)
    assert journal.entries(kinds=()) == ()


def test_verdicts_of_one_state_are_given_beside_all_other_kinds(journal):
    shut, opened = (
        new_entry(
            "verdict", made_at=NOW, body={"state": state, "risk_today": 0.1, "reasons": [], "inputs": {}}
        )
        for state in ("shut", "open")
    )
    fed = feeding()
    journal.add(shut, opened, fed)
    kinds = ("verdict", "feeding")
    assert journal.entries(kinds=kinds, verdicts="open") == (opened, fed)
    assert journal.entries(kinds=kinds) == (shut, opened, fed)


def test_an_undone_entry_counts_no_more_but_is_not_erased(journal):
    seen = minimum()
    journal.add(seen)
    undo = journal.undo(seen.id, LATER)
    assert (undo.kind, undo.undoes, undo.made_at, undo.on) == ("undo", seen.id, LATER, LATER.date())
    assert journal.entries() == ()
    assert journal.entries(undone=True) == journal.history() == (seen, undo)
    assert journal.undone() == {seen.id}


def test_an_undo_can_be_undone_and_the_entry_undone_again(journal):
    seen = feeding()
    journal.add(seen)
    first = journal.undo(seen.id, LATER)
    back = journal.undo(first.id, LATER)
    assert journal.entries() == (seen,)
    again = journal.undo(seen.id, LATER)
    assert journal.entries() == ()
    assert journal.undone() == {seen.id, first.id}
    assert (back.group, again.undoes) == ("old plums", seen.id)


def test_what_is_undone_already_is_not_undone_twice(journal):
    seen = minimum()
    journal.add(seen)
    undo = journal.undo(seen.id, LATER)
    with pytest.raises(InputError, match="undone already") as refused:
        journal.undo(seen.id, LATER)
    assert "undo its undo" in refused.value.remedy
    journal.undo(undo.id, LATER)
    with pytest.raises(InputError, match="undone already"):
        journal.undo(undo.id, LATER)
    assert len(journal.history()) == 3


@pytest.mark.parametrize(
    ("beginning", "what", "remedy"),
    [("abcd", "several entries begin so", "abcd1 or abcd2"), ("abc", "several", "first 4"),
     ("", "several", "first 4"), ("zzzz", "no entry of this id", "log list"), ("ef", "no entry", "first 4")],
)  # fmt: skip
def test_an_id_that_names_no_one_entry_is_an_error(journal, beginning, what, remedy):
    for name in ("abcd1", "abcd2", "efgh1"):
        journal.add(_named(name))
    with pytest.raises(InputError, match=what) as refused:
        journal.undo(beginning, LATER)
    assert remedy in refused.value.remedy
    assert len(journal.history()) == 3


def test_the_beginning_of_an_id_is_enough_and_a_whole_id_wins(journal):
    for name in ("ab", "abcd1", "efgh1"):
        journal.add(_named(name))
    assert journal.find(" efgh ").id == "efgh1"
    assert journal.find("ab").id == "ab"
    assert journal.find("abcd").id == "abcd1"


FORBIDDEN = (
    "UPDATE entries SET body = '{}'",
    "UPDATE entries SET undoes = NULL",
    "DELETE FROM entries",
    "REPLACE INTO entries (id, made_at, on_day, kind, body) SELECT id, '', '', 'growth', '{}' FROM entries",
    "REPLACE INTO entries (number, id, made_at, on_day, kind, body) VALUES (1, '2', '', '', 'growth', '{}')",
)


@pytest.mark.parametrize("forbidden", FORBIDDEN)
def test_the_file_itself_refuses_to_change_or_delete_an_entry(path, forbidden):
    with Journal.open(path) as journal:
        seen = minimum()
        journal.add(seen)
    with (
        closing(sqlite3.connect(path)) as db,
        pytest.raises(sqlite3.IntegrityError, match=r"never changed|never deleted|there already"),
    ):
        db.execute(forbidden)
    with Journal.open(path) as journal:
        assert journal.history() == (seen,)


@pytest.mark.parametrize(
    ("kind", "body", "undoes"),
    [("nap", "{}", None), ("undo", "{}", None), ("growth", "{", None), ("growth", b"{}", None),
     ("growth", "{}", "1"), ("undo", "{}", "1"), ("undo", "{}", "2")],
)  # fmt: skip
def test_the_file_itself_refuses_what_is_no_entry(journal, kind, body, undoes):
    with pytest.raises(sqlite3.IntegrityError):
        journal._db.execute(ADD, (1, "1", "", "", kind, None, body, undoes, 0))


def test_entries_are_added_all_or_none(journal):
    good = minimum()
    with pytest.raises(InputError, match="tmin_c"):
        journal.add(good, minimum("cold"))
    with pytest.raises(FrostgateError, match="does not fit") as refused:
        journal.add(good, good)
    assert "Nothing of this was written" in refused.value.remedy
    assert journal.history() == ()


def test_an_undo_of_nothing_is_refused(journal):
    with pytest.raises(FrostgateError, match="does not fit"):
        journal.add(new_entry("undo", made_at=NOW, undoes="not there"))


def test_what_is_written_together_becomes_durable_whole_or_not_at_all(journal):
    with journal.together(), journal.together():
        journal.add(minimum())
        journal.add(minimum())
    with pytest.raises(InputError), journal.together():
        _add_a_good_and_a_bad_one(journal)
    assert len(journal.history()) == 2


def test_an_sqlite_without_strict_tables_is_named(path, monkeypatch):
    monkeypatch.setattr(sqlite3, "sqlite_version_info", (3, 36, 0))
    with pytest.raises(FrostgateError, match="too old"):
        Journal.open(path)
    assert not path.exists()


def test_a_new_journal_waits_for_another_process_that_makes_it_too(path, monkeypatch):
    """SQLite refuses to change to WAL without waiting while another process is inside."""
    monkeypatch.setattr(store, "_PAUSE_S", 0.01)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("CREATE TABLE t (a)")
        other.execute("BEGIN IMMEDIATE")
        with closing(sqlite3.connect(path, timeout=0, isolation_level=None)) as mine:
            with pytest.raises(sqlite3.OperationalError, match="locked"):
                store._use_write_ahead_log(mine, 0.03)
            other.execute("ROLLBACK")
            store._use_write_ahead_log(mine, 0.03)
            assert mine.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_another_fault_than_a_lock_is_not_waited_for(path):
    with closing(sqlite3.connect(path)) as db:
        db.execute("CREATE TABLE t (a)")
    read_only = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    with closing(read_only), pytest.raises(sqlite3.OperationalError, match="readonly"):
        store._use_write_ahead_log(read_only, 60.0)


def test_only_the_journal_loads_sqlite():
    probe = "import sys; import frostgate.garden.entries; print('sqlite3' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)
    assert done.stdout == "False\n"


def _named(name):
    entry = minimum()
    return type(entry)(id=name, made_at=entry.made_at, on=entry.on, kind=entry.kind, body=entry.body)


def _add_a_good_and_a_bad_one(journal):
    journal.add(minimum())
    journal.add(minimum("cold"))


NEWEST = len(MIGRATIONS)


def test_a_new_journal_has_the_newest_version_and_is_known_by_its_number(path):
    with Journal.open(path) as journal:
        assert journal._db.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)
    assert version_of_file(path) == NEWEST == 3
    assert [file.name for file in path.parent.iterdir()] == [path.name]


def test_a_file_that_was_cut_off_before_anything_stood_in_it_is_a_new_journal(path):
    path.touch()
    with Journal.open(path) as journal:
        assert journal.history() == ()


def test_an_older_journal_keeps_its_entries_and_leaves_a_copy(path):
    entries = one_of_each()
    before = older_journal(path, *entries).read_bytes()
    with Journal.open(path) as journal:
        assert journal.history() == entries
        undo = journal.undo(entries[0].id, NOW)
    copy = path.with_name("garden.journal.copies") / "version-1.sqlite"
    assert (version_of_file(path), version_of_file(copy)) == (NEWEST, 1)
    with closing(sqlite3.connect(copy)) as db:
        assert db.execute("SELECT count(*) FROM entries").fetchone() == (len(entries),)
        assert db.execute("PRAGMA quick_check").fetchone() == ("ok",)
    assert len(before) > 0
    assert {file.name for file in path.parent.iterdir()} == {path.name, copy.parent.name}
    with Journal.open(path) as journal:
        assert journal.history() == (*entries, undo)


def test_what_was_damaged_before_there_were_checksums_does_not_get_one(path):
    entries = [minimum(), event("growth", note="new shoots"), minimum(2.0)]
    older_journal(path, *entries, version=2)
    path.write_bytes(path.read_bytes().replace(b"new shoots", b"new \xffhoots"))
    for _ in range(2):
        with Journal.open(path) as journal:
            assert version_of_file(path) == NEWEST
            assert list(journal.history()) == entries[::2]
            assert [one.number for one in journal.damaged] == [2]


def test_a_migrated_journal_is_as_a_new_one(path):
    older_journal(path, minimum())
    with Journal.open(path), Journal.open(path.with_name("new.sqlite")):
        pass
    assert _tables(path) == _tables(path.with_name("new.sqlite"))


def test_a_copy_that_is_there_is_not_written_over(path):
    older_journal(path, minimum())
    first = path.with_name("garden.journal.copies") / "version-1.sqlite"
    first.parent.mkdir()
    first.write_bytes(b"an earlier copy")
    with Journal.open(path):
        pass
    assert first.read_bytes() == b"an earlier copy"
    assert version_of_file(first.with_name("version-1-2.sqlite")) == 1


@pytest.mark.parametrize("at", [0, 1])
def test_a_migration_that_fails_leaves_the_old_journal_as_it_was(path, monkeypatch, at):
    entries = one_of_each()
    before = older_journal(path, *entries).read_bytes()
    steps = list(MIGRATIONS[1])
    steps.insert(at + 1, "CREATE INDEX broken ON no_such_table (a)")
    with monkeypatch.context() as patch:
        patch.setattr(store, "MIGRATIONS", (MIGRATIONS[0], tuple(steps), MIGRATIONS[2]))
        with pytest.raises(FrostgateError, match="cannot be used") as refused:
            Journal.open(path)
    assert "what stood there is safe" in refused.value.remedy
    assert path.read_bytes() == before
    with Journal.open(path) as journal:
        assert journal.history() == entries


def test_a_copy_that_cannot_be_made_stops_the_migration(path):
    before = older_journal(path, minimum()).read_bytes()
    path.with_name("garden.journal.copies").write_text("a file where the folder should be")
    with pytest.raises(FrostgateError, match="cannot be opened or written"):
        Journal.open(path)
    assert (path.read_bytes(), version_of_file(path)) == (before, 1)


def test_a_corrupt_older_journal_is_not_migrated(path):
    older_journal(path, *(minimum() for _ in range(2000)))
    content = bytearray(path.read_bytes())
    content[20 * 4096 : 24 * 4096] = b"\xa5" * (4 * 4096)
    path.write_bytes(content)
    with Journal.open(path) as journal:
        assert 0 < len(journal.history()) == 2000 - len(journal.damaged)
        with pytest.raises(FrostgateError, match="nothing more can be written"):
            journal.add(minimum())
    assert version_of_file(path) == 1
    assert not list(path.parent.glob("*copies*"))


def test_a_second_process_that_waited_for_the_migration_finds_it_done(path, monkeypatch):
    """The version is looked at again under the lock: stand in for the one that looked too early."""
    older_journal(path, minimum())
    with Journal.open(path):
        pass
    looks = iter([1])
    real = store.version_of
    monkeypatch.setattr(store, "version_of", lambda db, path: next(looks, None) or real(db, path))
    with Journal.open(path) as journal:
        assert len(journal.history()) == 1
    assert len(list(path.parent.rglob("version-1*"))) == 1


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
