"""Files that are whole or not there, and work that may take only so long."""

from __future__ import annotations

import datetime as dt
import threading

import pytest

from frostgate.errors import InputError
from frostgate.sources.fetched import Fetched, find_kept, keep, record_file
from frostgate.sources.http import Deadline, Fault, within
from tests.network.invented import LONG_AGO, NOW, STATION

OLD, NEW = b"as it was", b"as it is"
DAY = dt.timedelta(days=1)


def test_what_a_killed_program_left_is_cleared_away(tmp_path):
    path = record_file(STATION, tmp_path)
    for pid, age in ((1, DAY), (2, dt.timedelta(minutes=1))):
        keep(b"half", path.with_name(f".{path.name}.{pid}.part"), NOW - age)

    keep(NEW, path, NOW)

    assert sorted(one.name for one in path.parent.iterdir()) == [f".{path.name}.2.part", path.name]


def test_a_write_that_fails_leaves_what_was_kept(tmp_path, monkeypatch):
    path = record_file(STATION, tmp_path)
    keep(OLD, path, LONG_AGO)
    monkeypatch.setattr("os.utime", lambda *_: (_ for _ in ()).throw(OSError(28, "No space left on device")))

    with pytest.raises(InputError, match="No space"):
        keep(NEW, path, NOW)

    assert {one.name: one.read_bytes() for one in path.parent.iterdir()} == {path.name: OLD}


def test_an_empty_file_is_not_kept(tmp_path):
    path = record_file(STATION, tmp_path)
    path.parent.mkdir()
    path.touch()

    assert find_kept(path) is None


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        (0.01, "less than a minute old"),
        (1 / 60, "1 minute old"),
        (1.6, "2 hours old"),
        (47.9, "48 hours old"),
        (48.0, "2 days old"),
    ],
)
def test_ages_are_said_as_one_says_them(tmp_path, hours, words):
    assert Fetched(path=tmp_path, fetched_at=NOW - dt.timedelta(hours=hours)).age(NOW) == words


def test_work_that_hangs_is_left_behind(clock):
    over = threading.Event()

    def work():
        clock.time_s += 10.0
        over.wait()

    with pytest.raises(Fault, match=r"not whole within 9 s"):
        within(Deadline(9.0), work)

    over.set()


def test_what_the_work_raises_is_raised():
    with pytest.raises(ZeroDivisionError):
        within(Deadline(5.0), lambda: 1 // 0)
