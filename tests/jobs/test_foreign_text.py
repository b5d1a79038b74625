"""What others wrote moves no terminal: controls and direction marks are shown escaped, and kept in JSON."""

from __future__ import annotations

import re

import pytest
from freezegun import freeze_time

CONTROLS = *range(0x01, 0x09), *range(0x0E, 0x20), *range(0x7F, 0x85), *range(0x86, 0xA0)
DIRECTIONS = 0x61C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)
MARKS = "".join(map(chr, (*CONTROLS, *DIRECTIONS)))
LIE = f"\x1b[2J\u202eNEPO{MARKS}"  # clears the screen, and reads as OPEN


def is_calm(text):
    """Tell whether nothing in a text but its own ends of line moves a terminal."""
    return not set(
        re.findall(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]", text)
    )


@pytest.fixture
def garden(tmp_path, monkeypatch):
    (tmp_path / "garden.toml").write_text(GARDEN, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


GARDEN = """\
units = "us"

[[site]]
name = "Hollin Bank"
time_zone = "UTC"

[[pots]]
name = "old plums"
tree = "plum"
count = 24
stage = "established"
pot = "9 gal"
per_pot = "3 qt"
winters = "outdoors"
"""


@pytest.mark.usefixtures("garden")
@pytest.mark.parametrize("form", ["text", "json"])
def test_a_note_in_the_journal(run, form):
    with freeze_time("2026-04-12 10:00:00"):
        logged = run("log", "growth", f"tips {LIE} green")
        listed = run("log", "list", "--format", form)
    assert is_calm(logged.out)
    assert is_calm(listed.out)
    assert r"tips \u001b[2J\u202eNEPO\u0001" in listed.out
    if form == "json":
        assert listed.json["entries"][0]["body"]["note"] == f"tips {LIE} green"


@pytest.fixture
def station(samples, tmp_path):
    """A record of a station that calls itself what it likes."""
    rows = ["STATION,DATE,NAME,TMIN_C"]
    days = (samples / "oskelmere.dly").read_text(encoding="utf-8").splitlines()
    for line in days:
        if line[17:21] == "TMIN":
            cells = (line[21 + 8 * day : 26 + 8 * day] for day in range(31))
            rows += [
                f'XX000000017,{line[11:15]}-{line[15:17]}-{day:02d},"{LIE}",{int(cell) / 10}'
                for day, cell in enumerate(cells, start=1)
                if cell.strip() and int(cell) != -9999
            ]
    file = tmp_path / "station.csv"
    file.write_text("\n".join(rows), encoding="utf-8")
    return file


@pytest.fixture
def forecast(tmp_path):
    """A forecast with a column of any name."""
    file = tmp_path / "forecast.csv"
    file.write_text(f"date,tmin_c,{LIE}\n2026-04-23,4,\n2026-04-24,4,\n", encoding="utf-8")
    return file


@pytest.mark.parametrize("form", ["text", "json"])
def test_the_name_of_a_station_and_the_title_of_a_forecasts_column(run, station, forecast, form):
    for command in ("curve", "record", "replay", "compare", "siting"):
        ran = run(command, station, "--format", form)
        assert ran.status == 0
        assert is_calm(ran.out)
    asked = run("today", "--record", station, "--forecast", forecast, "--on", "2026-04-22", "--format", form)
    assert r"\u001b[2J\u202eNEPO\u0001" in asked.out
    assert is_calm(asked.out)


def test_an_error(run, tmp_path):
    file = tmp_path / "a.csv"
    file.write_text(f"date,{LIE}\n2026-04-23,4\n", encoding="utf-8")
    for form in ([], ["--format", "json"]):
        refused = run("curve", file, *form)
        assert refused.status == 2
        assert r"\u001b[2J\u202eNEPO\u0001" in refused.out + refused.err
        assert is_calm(refused.out + refused.err)
    assert is_calm(run("curve", f"{LIE}.csv").err)
    assert is_calm(run("curve", f"--{LIE}").err)
