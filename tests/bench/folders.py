"""What a folder of records, a large garden and a long record cost, held against limits, with their memory."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from gardens import LAST, large_garden
from pairs import Pair, made_weather

COMMAND = [sys.executable, "-c", "from frostgate.cli.main import run; run()"]
RECORDS, YEARS = 2000, 60
ENTRIES, POTS, LONG_YEARS = 100_000, 1000, 150
PAGE_MB = os.sysconf("SC_PAGE_SIZE") / 1e6


def comparing() -> Iterator[Pair]:
    """A folder of 2,000 records of 60 years in `frostgate compare`, and a tenth of it for its memory."""
    with tempfile.TemporaryDirectory() as folder:
        tenth, whole = Path(folder) / "tenth", Path(folder) / "whole"
        tenth.mkdir(), whole.mkdir()
        for number in range(RECORDS):
            file = whole / f"{number:04d}.dly"
            write_record(file, number, YEARS)
            if number % 10 == 0:
                (tenth / file.name).hardlink_to(file)
        for records, count, limit_s in ((tenth, RECORDS // 10, 6.0), (whole, RECORDS, 60.0)):
            run = Process("compare", "--records", records, "--format", "csv", cache=os.devnull)
            yield Pair(
                what=f"compare {count:,} records of {YEARS} years",
                against=f"{limit_s:g} s on two cores",
                ours=run,
                theirs=limit_s,
                rounds=1,
                wanted=">= 1",
                count=count,
                peak_mb=run.peak_mb,
            )


def asking() -> Iterator[Pair]:
    """`frostgate today` with 1,000 pots, a journal of 100,000 entries and a record of 150 years."""
    with tempfile.TemporaryDirectory() as folder, tempfile.TemporaryDirectory() as cache:
        garden = large_garden(Path(folder), ENTRIES, POTS)
        write_record(Path(folder) / "oskelmere.dly", 1, LONG_YEARS)
        for what, kept in (("curve kept", cache), ("the first time", os.devnull)):
            run = Process("today", "--garden", garden, "--on", LAST, cache=kept)
            yield Pair(
                what=f"today in a large garden, {what}",
                against="1.5 s",
                ours=run,
                theirs=1.5,
                rounds=5,
                wanted=">= 1",
                peak_mb=run.peak_mb,
            )


class Process:
    """A command as a whole process, and the most memory that it and those it begins hold together [MB]."""

    def __init__(self, *arguments: object, cache: str) -> None:
        self.command = [*COMMAND, *map(str, arguments)]
        self.environment = os.environ | {"FROSTGATE_CACHE": cache}
        self.most_mb = 0.0

    def __call__(self) -> None:
        running = subprocess.Popen(self.command, env=self.environment, stdout=subprocess.PIPE,
                                   stderr=subprocess.PIPE, start_new_session=True)  # fmt: skip
        over = threading.Event()
        watch = threading.Thread(target=self._watch, args=(running.pid, over))
        watch.start()
        _, told = running.communicate()
        over.set(), watch.join()
        if running.returncode not in {0, 1}:
            raise SystemExit(told.decode())

    def peak_mb(self) -> float:
        return self.most_mb

    def _watch(self, session: int, over: threading.Event) -> None:
        while not over.wait(0.2):
            self.most_mb = max(self.most_mb, sum(_pages(session)) * PAGE_MB)


def _pages(session: int) -> Iterator[int]:
    """Tell the resident pages of each process of a session."""
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            told = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue  # it has ended
        if int(told[3]) == session:
            yield int(told[21])


def write_record(path: Path, seed: int, years: int) -> None:
    """Write an invented record in the archive's fixed-width form, without a gap."""
    days = np.arange(f"{LAST.year - years}-08-01", LAST, dtype="datetime64[D]")
    tenths = np.round(10 * made_weather(days, 1, seed)[:, 0]).astype(int).tolist()
    months = days.astype("datetime64[M]")
    lines = []
    for month in np.unique(months):
        first, end = np.searchsorted(months, [month, month + 1])
        before = int((days[first] - month.astype("datetime64[D]")).astype(int))
        cells = ["-9999   "] * before + [f"{value:5d}  0" for value in tenths[first:end]]
        cells += ["-9999   "] * (31 - len(cells))
        lines.append(f"XXB{seed:08d}{str(month).replace('-', '')}TMIN{''.join(cells)}\n")
    path.write_text("".join(lines))
