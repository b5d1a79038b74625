"""Processes that write a journal and are killed at random moments; run by `test_journal_kills`.

One process loads what is needed once. Each writer is a fork of it that opens the journal and adds entries,
one after the other, and says the id of each once it is acknowledged. What was said before each kill is
printed at the end.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import sys
import time
from pathlib import Path

from frostgate.garden.journal import Journal
from tests.journal_cases import minimum


def write_until_killed(path: Path, pipe: int) -> None:
    with Journal.open(path) as journal:
        os.write(pipe, b"open\n")
        while True:
            entry = minimum()
            journal.add(entry)
            os.write(pipe, f"{entry.id}\n".encode())


def kill_one(path: Path, chance: random.Random) -> list[str]:
    """Start a writer, kill it, and give what it had said.

    Every other one is killed so many ms after its start, be it open or not; the others at some moment after
    they have said a few lines, however slow the disk is.
    """
    read, write = os.pipe()
    writer = os.fork()
    if writer == 0:
        try:
            write_until_killed(path, write)
        except BaseException as fault:
            print(repr(fault), file=sys.stderr, flush=True)
        finally:
            os._exit(1)
    os.close(write)
    with os.fdopen(read) as said:
        heard = [said.readline() for _ in range(chance.randint(1, 12))] if chance.random() < 0.5 else []
        time.sleep(chance.uniform(0.0, 0.002 if heard else 0.02))
        os.kill(writer, signal.SIGKILL)
        _, status = os.waitpid(writer, 0)
        lines = "".join([*heard, said.read()]).split()
    if not os.WIFSIGNALED(status):
        sys.exit(f"a writer ended by itself, after {lines}")
    return lines


def in_one_journal(path: Path, kills: int, seed: int) -> None:
    """Kill writers of one journal, one after the other."""
    chance = random.Random(seed)
    for _ in range(kills):
        print(*kill_one(path, chance))


def while_it_is_made(path: Path, kills: int, seed: int) -> None:
    """Kill writers of a journal that is new or of an older version, a fresh one each."""
    chance = random.Random(seed)
    for number in range(kills):
        copy = path.with_name(f"{number}.sqlite")
        if path.exists():
            shutil.copy(path, copy)
        print(*kill_one(copy, chance))


if __name__ == "__main__":
    what, file, times, start = sys.argv[1:]
    {"one": in_one_journal, "made": while_it_is_made}[what](Path(file), int(times), int(start))
