"""Damage journals from fixed seeds, and hold that nothing is hidden without a word.

In the test run by `test_damaged_journals`, by hand: python -m tests.faults.damaged_journals NUMBER
"""

from __future__ import annotations

import collections
import datetime as dt
import random
import shutil
import sys
import tempfile
import time
import uuid
from dataclasses import replace
from pathlib import Path

from frostgate.errors import FrostgateError
from frostgate.garden.journal import Journal, rescue
from frostgate.garden.store import copies_folder, log_beside
from frostgate.model.garden import Entry
from tests.journal_cases import DAY, NOW, event, feeding, forecast, minimum, one_of_each

PAGE = 4096  # bytes, SQLite's default


def a_season(chance: random.Random, days: int) -> list[Entry]:
    """Make the entries of some days: forecasts, minima, notes of many lengths, some longer than a page."""
    entries = list(one_of_each())
    for day in range(days):
        at = NOW + day * DAY
        nights = {str((at + ahead * DAY).date()): 2.5 for ahead in range(1, 15)}
        note = "".join(chance.choices("abc dé½", k=chance.choice([3, 40, 300, 6000])))
        entries += [forecast(f"{at:%Y-%m-%dT06:00}", nights, at), minimum(1.0, at.date(), at)]
        entries += [event("growth", at.date(), made_at=at, note=note), feeding(at.date(), made_at=at)]
    return [replace(entry, id=str(uuid.UUID(int=chance.getrandbits(128)))) for entry in entries]


def index_of(path: Path) -> Path:
    """Name the index of a write-ahead log, which a kill leaves beside it."""
    return path.with_name(f"{path.name}-shm")


def flip(content: bytearray, chance: random.Random) -> None:
    content[chance.randrange(len(content))] ^= 1 << chance.randrange(8)


def replace_byte(content: bytearray, chance: random.Random) -> None:
    content[chance.randrange(len(content))] = chance.randrange(256)


def overwrite_page(content: bytearray, chance: random.Random) -> None:
    at = chance.randrange(len(content) // PAGE) * PAGE
    content[at : at + PAGE] = chance.choice([chance.randbytes(PAGE), bytes(PAGE)])


def overwrite_span(content: bytearray, chance: random.Random) -> None:
    at = chance.randrange(len(content))
    length = min(chance.choice([2, 10, 100, 1000, 20_000]), len(content) - at)
    content[at : at + length] = chance.choice([chance.randbytes(length), bytes(length)])


def swap_pages(content: bytearray, chance: random.Random) -> None:
    one, other = (chance.randrange(len(content) // PAGE) * PAGE for _ in range(2))
    kept = content[one : one + PAGE]
    content[one : one + PAGE] = content[other : other + PAGE]
    content[other : other + PAGE] = kept


def cut(content: bytearray, chance: random.Random) -> None:
    at = chance.randrange(1, len(content))
    del content[chance.choice([at, at // PAGE * PAGE or 1]) :]


DAMAGES = (flip, flip, flip, replace_byte, overwrite_page, overwrite_span, swap_pages, cut)


def hold(path: Path, entries: list[Entry], copied: int) -> str:
    """Read, rescue and write a damaged journal; fail where an entry is lost or changed without a word."""
    files = [file for file in (path, log_beside(path)) if file.exists()]
    before = [file.read_bytes() for file in files]
    try:
        with Journal.open(path, to_read=True) as journal:
            read, damaged = journal.history(), journal.damaged
            assert journal.faults() or damaged or list(read) == entries
            some = journal.entries(kinds=("growth", "minimum"), since=dt.date(2026, 4, 20), undone=True)
            assert some == tuple(
                e for e in read if e.kind in {"growth", "minimum"} and str(e.on) >= "2026-04-20"
            )
        missed = [entry for entry in entries if entry not in read]
        assert [entry for entry in entries if entry in read] == list(read), (
            "changed, twice or in another order"
        )
        assert len(damaged) >= min(len(missed), 1), "hidden without a word"
        outcome = "all read" if not missed else "all named" if len(damaged) >= len(missed) else "some named"
    except FrostgateError as fault:
        read, outcome = (), "refused" if str(path) in str(fault) else "refused without its name"
    if outcome != "all read":  # what is sound in a write-ahead log is taken into the journal
        assert [file.read_bytes() for file in files] == before, "reading has changed the file"
    file = path.with_name("rescued.sqlite")
    try:
        done = rescue(path, file)
        with Journal.open(file) as rescued:
            saved = rescued.history()
            assert (rescued.damaged, rescued.faults(), len(saved)) == ((), (), done.saved)
        assert all(entry in entries for entry in saved)
        assert {entry.id for entry in read} <= {entry.id for entry in saved}
        if copied:
            assert saved[:copied] == tuple(entries[:copied])
    except FrostgateError:
        assert (len(read), copied, file.exists()) == (0, 0, False)
    _write_on(path, read)
    return outcome


def _write_on(path: Path, read: tuple[Entry, ...]) -> None:
    """Add an entry: it is refused in words, or it is there, and so is all that could be read before."""
    more = minimum(5.0)
    try:
        with Journal.open(path) as journal:
            journal.add(more)
    except FrostgateError:
        return
    with Journal.open(path) as journal:
        assert journal.history() == (*read, more), "writing has lost something"


def run(number: int, seed: int = 20260412) -> collections.Counter[str]:
    """Damage so many journals; return what came of them."""
    came: collections.Counter[str] = collections.Counter()
    slowest = 0.0
    with tempfile.TemporaryDirectory() as folder:
        whole = Path(folder) / "whole" / "garden.journal.sqlite"
        whole.parent.mkdir()
        entries = a_season(random.Random(seed), 20)
        with Journal.open(whole) as journal:
            journal.add(*entries[: len(entries) // 2])
        with Journal.open(whole) as journal:
            for entry in entries[len(entries) // 2 :]:
                journal.add(entry)
            killed = [file.read_bytes() for file in (whole, log_beside(whole), index_of(whole))]
        content = whole.read_bytes()
        for one in range(number):
            chance = random.Random(f"{seed} {one}")
            path = Path(folder) / str(one) / whole.name
            path.parent.mkdir()
            damage, is_log = chance.choice(DAMAGES), chance.random() < 0.25
            damaged = bytearray(killed[1] if is_log else content)
            damage(damaged, chance)
            path.write_bytes(killed[0] if is_log else damaged)
            if is_log:
                log_beside(path).write_bytes(damaged)
                index_of(path).write_bytes(killed[2])
            copied = chance.choice([0, len(entries) // 2])
            if copied:
                copies_folder(path).mkdir()
                with Journal.open(copies_folder(path) / "2026-04-12.sqlite") as copy:
                    copy.add(*entries[:copied])
            began = time.monotonic()
            try:
                came[hold(path, entries, copied)] += 1
            except Exception as fault:
                raise AssertionError(f"{damage.__name__} {one}: {fault!r}") from fault
            slowest = max(slowest, time.monotonic() - began)
            shutil.rmtree(path.parent)
    assert slowest < 10.0
    came["slowest ms"] = round(slowest * 1000)
    return came


if __name__ == "__main__":
    print(dict(run(int(sys.argv[1]))))
