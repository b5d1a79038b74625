"""Several processes write in one log of forecasts at once: nothing that one of them kept is lost."""

from __future__ import annotations

import contextlib
import sqlite3
import subprocess
import sys

import pytest

from frostgate import files
from frostgate.sources.forecast_log import read_log

WRITERS, BULLETINS = 4, 12
WRITER = """
import datetime as dt, sys
import numpy as np
from frostgate.model.gate import Forecast
from frostgate.sources.forecast_log import close_forecasts, keep_forecast
log, number, bulletins = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
print("ready", flush=True)
sys.stdin.readline()
for bulletin in range(bulletins):
    issued = dt.datetime(2026, 1, 1 + bulletin, number)
    days = np.datetime64(issued.date(), "D") + 1 + np.arange(2)
    keep_forecast(log, Forecast(source="f", form="table", issued_at=issued, dates=days,
                                tmin_c=np.array([1.0, 2.0]), sd_c=np.full(2, np.nan)))
    close_forecasts(log, days, np.array([0.5, 1.5]), dt.date(2026, 3, 1))
"""


def test_no_bulletin_of_many_writers_is_lost(tmp_path):
    log = tmp_path / "log.csv"
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", WRITER, log, str(number), str(BULLETINS)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        for number in range(WRITERS)
    ]
    for writer in writers:
        assert writer.stdout.readline() == "ready\n"
    for writer in writers:
        writer.stdin.write("go\n")
        writer.stdin.flush()
    for writer in writers:
        writer.communicate()
        assert writer.returncode == 0
    kept = read_log(log)
    assert len(set(kept.issued.tolist())) == WRITERS * BULLETINS
    assert kept.closed.issued.size == kept.issued.size == 2 * WRITERS * BULLETINS


@pytest.fixture
def held_log(tmp_path, monkeypatch):
    """Hold a log as another process would, longer than anybody waits."""
    monkeypatch.setattr(files, "LOCK_WAIT_S", 0.0)
    with contextlib.closing(sqlite3.connect(tmp_path / ".log.csv.lock", isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        yield tmp_path / "log.csv"


def test_a_log_that_another_process_holds_fails_the_morning_aloud(held_log, samples, capsys):
    from frostgate.cli.main import main

    asked = ["today", "--record", samples / "oskelmere.dly", "--forecast", samples / "forecast_frost.json"]
    status = main([str(one) for one in (*asked, "--on", "2026-04-22", "--forecast-log", held_log)])
    assert status == 2
    assert f"{held_log}: another program is writing in it" in capsys.readouterr().err
    assert not held_log.exists()
