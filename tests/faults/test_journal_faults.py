"""A full disk, a read-only folder, a locked or corrupt journal: clear words, and what stood there is safe."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from frostgate.errors import FrostgateError
from frostgate.garden.journal import Journal
from tests.journal_cases import event, minimum, one_of_each

ROOT = Path(__file__).parents[2]
PAGE = 4096  # bytes, SQLite's default
NOBODY = 65534


@pytest.fixture
def path(tmp_path):
    return tmp_path / "garden.journal.sqlite"


@pytest.fixture
def open_folder():
    """Give a folder that another user may enter, too."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o777)
    yield folder
    folder.chmod(0o777)
    shutil.rmtree(folder)


@contextmanager
def plain_user():
    """Be somebody whom a folder's rights bind: they do not bind root."""
    is_root = os.geteuid() == 0
    if is_root:
        os.seteuid(NOBODY)
    try:
        yield
    finally:
        if is_root:
            os.seteuid(0)


def note(letters=1000):
    return event("growth", group=None, note="x" * letters)


@pytest.mark.parametrize("there", [False, True], ids=["new", "there"])
def test_a_read_only_folder_is_told(open_folder, there):
    path, entries = open_folder / "garden.journal.sqlite", one_of_each()
    with plain_user():
        if there:
            with Journal.open(path) as journal:
                journal.add(*entries)
        before = path.read_bytes() if there else b""
    open_folder.chmod(0o555)
    if there:
        path.chmod(0o444)
    with plain_user(), pytest.raises(FrostgateError, match="cannot be opened or written here") as refused:
        _open_and_add(path)
    assert "write the file and its folder" in refused.value.remedy
    assert path.exists() == there
    assert not there or path.read_bytes() == before


def test_a_folder_that_is_not_there_is_told(tmp_path):
    with pytest.raises(FrostgateError, match="cannot be opened or written here"):
        Journal.open(tmp_path / "no such folder" / "garden.journal.sqlite")
    with pytest.raises(FrostgateError, match="cannot be opened or written here"):
        Journal.open(tmp_path)


def test_a_journal_that_another_process_holds_is_told_after_some_patience(path):
    entries = one_of_each()
    with Journal.open(path) as journal:
        journal.add(*entries)
    hold = (
        "import sqlite3, sys; db = sqlite3.connect(sys.argv[1], isolation_level=None); "
        "db.execute('BEGIN IMMEDIATE'); print('held', flush=True); sys.stdin.read()"
    )
    with subprocess.Popen([sys.executable, "-c", hold, path], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                          text=True) as holder:  # fmt: skip
        assert holder.stdout.readline() == "held\n"
        with Journal.open(path, patience_s=0.1) as journal:
            with pytest.raises(FrostgateError, match="held by another program") as refused:
                journal.add(minimum())
            with pytest.raises(FrostgateError, match="held by another program"):
                journal.undo(entries[0].id, entries[0].made_at)
            assert "try again in a moment" in refused.value.remedy
            assert journal.history() == entries  # reading does not wait for a writer
        holder.stdin.close()
    with Journal.open(path) as journal:
        journal.add(minimum())
        assert len(journal.history()) == len(entries) + 1


def test_a_full_disk_is_told_and_nothing_is_written_half(path):
    entries = one_of_each()
    with Journal.open(path) as journal:
        journal.add(*entries)
        pages = journal._db.execute("PRAGMA page_count").fetchone()[0]
        journal._db.execute(f"PRAGMA max_page_count = {pages + 5}")
        with pytest.raises(FrostgateError, match="no space is left") as refused:
            journal.add(*(note() for _ in range(50)))
        assert "Free some space" in refused.value.remedy
        assert journal.history() == entries
        journal.add(minimum())  # one that still finds room
    with Journal.open(path) as journal:
        assert journal.history()[:-1] == entries


def test_a_disk_that_takes_no_more_is_told_and_what_was_acknowledged_is_there(path):
    script = (
        "import resource, sys; from pathlib import Path; from frostgate.garden.journal import Journal; "
        "from frostgate.errors import FrostgateError; from tests.journal_cases import event\n"
        "with Journal.open(Path(sys.argv[1])) as journal:\n"
        "    resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, 200_000))\n"
        "    try:\n"
        "        for _ in range(1000):\n"
        "            entry = event('growth', note='x' * 1000)\n"
        "            journal.add(entry)\n"
        "            print(entry.id)\n"
        "    except FrostgateError as refused:\n"
        "        print(refused, file=sys.stderr)\n"
    )
    done = subprocess.run([sys.executable, "-c", script, path], capture_output=True, text=True, check=True,
                          env=os.environ | {"PYTHONPATH": str(ROOT)})  # fmt: skip
    assert "the journal cannot be opened or written here" in done.stderr
    assert "the disk is not full" in done.stderr
    with Journal.open(path) as journal:
        assert [entry.id for entry in journal.history()] == done.stdout.split()
        assert len(journal.history()) > 10
        journal.add(minimum())


@pytest.mark.parametrize(
    "content",
    [b"date,tmin_c\n2026-04-12,1.0\n" * 20, b"\0" * 10_000, b"SQLite format 3\0" + b"\xa5" * 5000, b"x"],
    ids=["table", "zeros", "header", "letter"],
)
def test_a_file_that_is_no_journal_is_refused_untouched(path, content):
    path.write_bytes(content)
    with pytest.raises(FrostgateError, match="corrupt, or not a journal"):
        Journal.open(path)
    assert path.read_bytes() == content
    assert [file.name for file in path.parent.iterdir()] == [path.name]


def test_an_error_of_sqlite_that_is_not_foreseen_is_still_in_words(path):
    with Journal.open(path) as journal:
        journal.close()
        with pytest.raises(FrostgateError, match="the journal cannot be used"):
            journal.history()
        with pytest.raises(FrostgateError, match="closed database"):
            journal.add(minimum())


def test_a_copy_made_while_the_journal_is_open_by_sqlite_itself_is_a_journal(path, tmp_path):
    """``VACUUM INTO`` leaves the write-ahead mode behind; opening the copy takes it up again."""
    copy = tmp_path / "copy.sqlite"
    with Journal.open(path) as journal:
        journal.add(*one_of_each())
        journal._db.execute("VACUUM INTO ?", (str(copy),))
        with Journal.open(copy) as other:
            assert other.history() == journal.history()
    with closing(sqlite3.connect(copy)) as db:
        assert db.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def _open_and_add(path):
    with Journal.open(path) as journal:
        journal.add(minimum())


@pytest.mark.parametrize("to_read", [False, True])
def test_damage_that_sqlite_quotes_in_letters_of_no_encoding_is_in_words(path, to_read):
    with Journal.open(path) as journal:
        journal.add(minimum())
    path.write_bytes(path.read_bytes().replace(b"CREATE TABLE entries", b"CREATE TABL\xe6 entries", 1))
    with pytest.raises(FrostgateError, match="corrupt") as told:
        Journal.open(path, to_read=to_read)
    assert told.value.file == str(path)
