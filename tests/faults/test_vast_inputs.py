"""Inputs that would take a machine's memory or time are refused in words, soon, before they are taken in."""

from __future__ import annotations

import gzip
import os
import subprocess
import sys
from pathlib import Path

import pytest

from frostgate.cli.main import main
from frostgate.errors import InputError
from frostgate.files import read_bytes

READ = r"""
import re, sys
from pathlib import Path
from frostgate.errors import InputError
from frostgate.sources.forecasts import read_forecast
from frostgate.sources.records import read_minima
for name in sys.argv[1:]:
    try:
        print("READ", (read_forecast if Path(name).name.startswith("forecast") else read_minima)(name))
    except InputError as error:
        print(f"{error.file}, line {error.line}: {error.what}")
print(re.search(r"VmHWM:\s*([0-9]+) kB", Path("/proc/self/status").read_text())[1])
"""
MOST_MB, MOST_S = 200, 60.0  # for all of them, one after the other, on however busy a machine
NIGHT = "2026-04-23,1\n"
VAST = {
    "forecast_above_2_mb": ("date,tmin_c\n" + NIGHT * 170_000, "None: larger than 2 MiB, too large for"),
    "forecast_packed": (gzip.compress(NIGHT.encode() * 4_000_000), "None: larger than 2 MiB, too large for"),
    "forecast_of_columns": (
        "# ours\ndate," + ",".join(f"m{number}" for number in range(200_000)),
        "2: a line of 1488894 characters, more than any table has",
    ),
    "forecast_of_members": (
        "date," + ",".join(f"m{number}" for number in range(1_500)) + "\n",
        "1: no unit is stated",
    ),
    "forecast_of_elements": (
        '{"daily":{"time":[' + "0," * 900_000 + "0]}}",
        "None: 900001 values, more than any forecast has",
    ),
    "forecast_of_one_number": ('{"a":' + "9" * 1_900_000 + "}", "1: a number that is none, or too large"),
    "forecast_of_one_text": (
        '{"b":"' + "x" * 1_800_000 + '","a":NaN}',
        "1: a number that is none, or too large",
    ),
    "forecast_of_one_name": ('{"b":"' + r"\"" * 900_000 + '","a":1,"a":2}', "1: a name that stands twice"),
    "forecast_of_depth": ("[" * 1_000_000, "None: JSON nested too deeply"),
    "forecast_that_never_closes": (
        'date,tmin_c\n"2026-04-23,1\n' + NIGHT * 100_000,
        "2: a quotation mark out of place or never closed",
    ),
    "forecast_of_one_line": ('date,"tmin_c' + "x" * 1_900_000, "1: a line of 1900012 characters"),
    "forecast_of_blanks": ("# issued:" + " " * 1_900_000 + "x\n", "1: a line of 1900010 characters"),
    "record_of_columns": (
        "date,tmin_c" + ",x" * 6_000 + "\n" + ("2026-04-23,1" + ",1" * 6_000 + "\n") * 1_000,
        "1: a line of 12011 characters, more than any table has",
    ),
    "record_that_never_closes": (
        'date,tmin_c\n"2026-04-23,1\n' + NIGHT * 900_000,
        "2: a quotation mark out of place or never closed",
    ),
    "record_of_lines": (
        "date,tmin_c\n" + NIGHT * 2_000_000,
        "None: 2000001 lines, more than any station's file has",
    ),
    "record_of_one_line": ("," * 40_000_000, "1: a line of 40000000 characters"),
}


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="asks Linux for the most memory taken")
def test_what_is_vast_is_refused_in_little_memory(tmp_path):
    for name, (content, _) in VAST.items():
        (tmp_path / name).write_bytes(content if isinstance(content, bytes) else content.encode())
    done = subprocess.run(
        [sys.executable, "-c", READ, *(tmp_path / name for name in VAST)],
        capture_output=True,
        text=True,
        timeout=MOST_S,
        check=False,
    )
    assert done.stderr == ""
    *refused, peak_kb = done.stdout.splitlines()
    for line, (name, (_, words)) in zip(refused, VAST.items(), strict=True):
        assert line.startswith(str(tmp_path / name))
        assert words in line
    assert int(peak_kb) < MOST_MB * 1024


@pytest.mark.parametrize("option", ["--record", "--forecast", "--forecast-log", "--observed", "--garden"])
def test_a_pipe_is_refused_and_nobody_waits_for_its_writer(option, samples, tmp_path, capsys):
    os.mkfifo(tmp_path / "pipe")
    files = {
        "--record": samples / "oskelmere.dly",
        "--forecast": samples / "forecast_frost.json",
        "--forecast-log": tmp_path / "log.csv",
    }
    if option == "--garden":
        files = {}
    asked = [str(word) for pair in (files | {option: tmp_path / "pipe"}).items() for word in pair]
    assert main(["today", "--on", "2026-04-22", *asked]) == 2
    assert f"{tmp_path / 'pipe'}: a pipe or a device, not a file" in capsys.readouterr().err


def test_a_device_is_refused():
    with pytest.raises(InputError, match="/dev/zero: a pipe or a device, not a file"):
        read_bytes("/dev/zero")
