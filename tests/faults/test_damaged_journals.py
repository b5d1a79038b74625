"""Bytes flipped, pages overwritten, swapped or cut off: no entry is lost or changed without a word."""

from __future__ import annotations

import random

import pytest

from frostgate.errors import FrostgateError
from frostgate.garden.journal import Journal, rescue
from frostgate.garden.store import copies_folder, copies_of
from tests.faults.damaged_journals import PAGE, a_season, run
from tests.journal_cases import DAY, NOW, event, minimum, one_of_each


@pytest.fixture
def path(tmp_path):
    return tmp_path / "garden.journal.sqlite"


def test_no_entry_of_a_damaged_journal_is_hidden_without_a_word():
    came = run(60)
    assert came["all named"] > 20
    assert came["all read"] > 3


@pytest.mark.slow
def test_no_entry_of_a_thousand_damaged_journals_is_hidden_without_a_word():
    came = run(1000, seed=1)
    assert came["all named"] > 400
    assert came["refused without its name"] == 0


@pytest.mark.parametrize(
    "byte", [b"\xff", b'"', b"k", b"\x00"], ids=["no text", "no JSON", "a letter", "NUL"]
)
def test_one_damaged_byte_of_a_note_leaves_out_that_entry_alone(path, byte):
    entries = [minimum(), event("damage", note="tips brown"), event("fruit set"), minimum(2.0)]
    with Journal.open(path) as journal:
        journal.add(*entries)
    path.write_bytes(path.read_bytes().replace(b"tips brown", b"tips " + byte + b"rown"))
    with Journal.open(path) as journal:
        assert list(journal.history()) == [entries[0], *entries[2:]]
        (lost,) = journal.damaged
        assert (lost.number, lost.name) == (2, f"damage, 2026-04-12, {entries[1].id}")
        assert "tips" in lost.text
        assert "Entry 2 of the journal" in journal.notes()[0]
        more = minimum(3.0)
        journal.add(more)
        journal.undo(entries[0].id, NOW)
        assert journal.entries() == (*entries[2:], more)
        assert journal.faults() in {(), ("CHECK constraint failed in entries",)}


def test_a_table_whose_own_description_is_no_text_is_told(path):
    with Journal.open(path) as journal:
        journal.add(minimum())
    path.write_bytes(path.read_bytes().replace(b"BEFORE UPDATE ON", b"BEFORE \xfdPDATE ON"))
    with pytest.raises(FrostgateError, match="corrupt"):
        Journal.open(path, to_read=True)


def test_a_number_that_is_another_now_is_damaged_too(path):
    with Journal.open(path) as journal:
        journal.add(minimum(-1.5))
    path.write_bytes(path.read_bytes().replace(b"-1.5", b"+1.5").replace(b"+1.5", b"11.5"))
    with Journal.open(path) as journal:
        assert (journal.entries(), len(journal.damaged)) == ((), 1)


def test_what_a_journal_has_lost_is_rescued_from_its_copies(path, tmp_path):
    entries = [minimum(), event("damage", note="tips brown"), event("fruit set"), minimum(2.0)]
    with Journal.open(path) as journal:
        journal.add(*entries[:3])
        journal.add(entries[3])  # before which a copy was kept
    content = path.read_bytes().replace(b"tips brown", b"tips frown")
    path.write_bytes(content)
    done = rescue(path, tmp_path / "new.sqlite")
    assert (done.saved, done.by_copies, done.lost) == (4, 1, ())
    with Journal.open(tmp_path / "new.sqlite") as journal:
        assert list(journal.history()) == entries
    assert path.read_bytes() == content
    with pytest.raises(FrostgateError, match="cannot be made") as refused:
        rescue(path, tmp_path / "new.sqlite")
    assert refused.value.value == "File exists"


def test_an_undo_whose_entry_is_lost_is_rescued_for_the_day_that_it_comes_back(path, tmp_path):
    wrong = event("damage", note="tips brown")
    with Journal.open(path) as journal:
        journal.add(wrong)
    copies = copies_folder(path)
    with Journal.open(path) as journal:
        undo = journal.undo(wrong.id, NOW)
    next(copies.iterdir()).unlink()
    path.write_bytes(path.read_bytes().replace(b"tips brown", b"tips frown"))
    done = rescue(path, tmp_path / "new.sqlite")
    assert [one.number for one in done.lost] == [1]
    with Journal.open(tmp_path / "new.sqlite") as journal:
        assert journal.history() == (undo,)
        journal.add(wrong)
        assert journal.entries() == ()


def test_a_copy_of_another_journal_is_not_taken(path, tmp_path):
    copies_folder(path).mkdir()
    with Journal.open(copies_folder(path) / "2026-04-01.sqlite") as other:
        other.add(*one_of_each())
    with Journal.open(path) as journal:
        journal.add(minimum(), event("damage", note="tips brown"))
    path.write_bytes(path.read_bytes().replace(b"tips brown", b"tips frown"))
    assert rescue(path, tmp_path / "new.sqlite").by_copies == 0


@pytest.mark.parametrize("left", [b"", b"\xa5" * 3 * PAGE], ids=["emptied", "overwritten"])
def test_a_journal_of_which_nothing_is_left_is_refused_and_rescued_from_its_latest_copy(path, tmp_path, left):
    entries = a_season(random.Random(1), 5)
    with Journal.open(path) as journal:
        journal.add(*entries)
        journal.add(minimum())
    path.write_bytes(left)
    with pytest.raises(FrostgateError, match="corrupt") as refused:
        Journal.open(path, to_read=True)
    assert "frostgate log rescue" in refused.value.remedy
    assert rescue(path, tmp_path / "new.sqlite").by_copies == len(entries)
    assert path.read_bytes() == left


def test_a_copy_is_kept_each_week_and_four_of_them_stay(path):
    with Journal.open(path) as journal:
        for day in range(60):
            journal.add(minimum(on=(NOW + day * DAY).date(), made_at=NOW + day * DAY))
    kept = sorted(copy.stem for copy in copies_of(path))
    assert kept == ["2026-05-18", "2026-05-25", "2026-06-01", "2026-06-08"]
    with Journal.open(copies_of(path)[0]) as copy:
        assert len(copy.history()) == 57  # what was there before that day's


def test_a_clock_that_was_wrong_once_does_not_end_the_copies(path):
    with Journal.open(path) as journal:
        for day in (0, 20_000, 1, 8, 15, 22, 29, -9000, 36):
            journal.add(minimum(made_at=NOW + day * DAY))
    assert copies_of(path)[0].stem == "2026-05-18"
    assert len(copies_of(path)) == 4


def test_a_copy_that_cannot_be_kept_is_told_and_the_entry_is_written(path):
    copies_folder(path).write_text("a file where the folder should be")
    with Journal.open(path) as journal:
        journal.add(minimum())
        journal.add(minimum())
        assert "copy of the journal could not be kept" in journal.notes()[0]
        assert len(journal.history()) == 2
