"""`frostgate garden`: check a garden file and show it."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys

import pytest

from frostgate.cli.options import here, named_garden
from tests.garden_text import FULL, line_of


@pytest.fixture
def at_home(tmp_path, samples, monkeypatch):
    """Stand in the folder of the invented garden."""
    for name in ("garden.toml", "oskelmere.dly", "forecast_clear.csv"):
        shutil.copy(samples / name, tmp_path)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_garden_of_this_folder_is_shown(run, at_home):
    done = run("garden")
    assert (done.status, done.err) == (0, "")
    assert done.out.startswith("garden.toml is sound: 1 site, 4 groups of pots, 6 products\n")
    assert "is not there" not in done.out
    assert here().resolve() == at_home / "garden.toml"


def test_another_garden_is_named(run, samples):
    done = run("garden", "--garden", samples / "garden.toml", "--format", "json")
    assert done.status == 0
    assert [group["name"] for group in done.json["groups"]] == [
        "old plums",
        "new pears",
        "cuttings",
        "by the wall",
    ]
    assert done.json["sites"][0]["record"] == str(samples / "oskelmere.dly")


@pytest.mark.usefixtures("at_home")
def test_a_second_look_is_the_same(run):
    assert run("garden", "--format", "json") == run("garden", "--format", "json")


def test_a_missing_record_is_told_and_is_no_error(run, at_home):
    (at_home / "oskelmere.dly").unlink()
    done = run("garden")
    assert done.status == 0
    assert "The record of Hollin Bank is not there: oskelmere.dly." in done.out


def test_without_a_garden_the_way_to_one_is_told(run, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "garden.toml").mkdir()
    assert here() is None
    assert named_garden(here()) is None
    done = run("garden", "--format", "json")
    assert done.status == 2
    assert "frostgate init" in done.json["error"]["remedy"]


def test_every_mistake_is_listed_as_text_and_as_json(run, tmp_path):
    file = tmp_path / "garden.toml"
    file.write_text(
        FULL.replace("count = 9", "count = 0").replace('"30F"', '"30"').replace("[tools]", "[tols]")
    )
    text, answer = run("garden", "--garden", file), run("garden", "--garden", file, "--format", "json")
    assert (text.status, answer.status, text.out) == (2, 2, "")
    lines = [line_of("damage_temp"), line_of("count"), line_of("[tools]")]
    assert [mistake["line"] for mistake in answer.json["error"]["mistakes"]] == lines
    assert [f"line {line}:" in said for line, said in zip(lines, text.err.splitlines()[1:], strict=True)] == [
        True
    ] * 3
    assert text.err.startswith(f"Error: {file}: 3 mistakes in the garden file.\n")


@pytest.mark.parametrize(
    "content", [b"", b"\0", b"\xff", b"[[site", b'site = { name = "x" } }', b"prose only"]
)
def test_what_is_no_garden_ends_in_a_clear_error(run, tmp_path, content):
    file = tmp_path / "garden.toml"
    file.write_bytes(content)
    done = run("garden", "--garden", file, "--format", "json")
    assert done.status == 2
    assert done.json["error"]["file"] == str(file)
    assert done.json["error"]["mistakes"][0]["remedy"]


@pytest.mark.parametrize(
    ("zone", "issued"), [("UTC-03:00", "06:15"), ("UTC", "09:15"), ("UTC+05:30", "14:45")]
)
def test_a_fixed_time_zone_serves_the_forecast_too(run, at_home, zone, issued):
    """The garden file may name one; a sound garden must not be refused by its forecast's reader."""
    nights = "".join(f"2026-04-{day},9.0\n" for day in range(13, 21))
    (at_home / "forecast.csv").write_text(f"# issued: 2026-04-12T09:15Z\ndate,tmin_c\n{nights}")
    file = at_home / "garden.toml"
    text = re.sub(r"time_zone = .*", f'time_zone = "{zone}"', file.read_text())
    file.write_text(text.replace("forecast_clear.csv", "forecast.csv"))
    assert run("garden").status == 0
    told = run("today", "--on", "2026-04-12", "--format", "json").json["forecast"]
    assert (told["issued"], told["time_zone"]) == (f"2026-04-12T{issued}", zone)


UNITLESS = "date,tmin\n2026-01-01,28\n2026-01-02,30\n"


def test_a_record_that_says_no_unit_is_told_where_the_garden_file_says_none_either(run, tmp_path):
    """Every command would refuse it, so the garden is not called sound."""
    (tmp_path / "plain.csv").write_text(UNITLESS)
    file = tmp_path / "garden.toml"
    file.write_text('[[site]]\nname = "Hollin Bank"\n\nrecord = "plain.csv"\n')
    for ran in (
        run("garden", "--garden", file, "--format", "json"),
        run("today", "--garden", file, "--format", "json"),
    ):
        assert ran.status == 2
        assert "do not say their unit" in ran.json["error"]["what"]
    mistake = run("garden", "--garden", file, "--format", "json").json["error"]["mistakes"][0]
    assert (mistake["line"], mistake["what"][:17]) == (4, "record: plain.csv")
    assert 'unit = "F"' in mistake["remedy"]
    file.write_text(file.read_text() + 'unit = "F"\n')
    assert run("garden", "--garden", file).out.startswith("garden.toml is sound")


def test_files_that_no_command_can_read_are_told_on_their_lines(run, tmp_path):
    (tmp_path / "bad.csv").write_text("date,tmin_f\n2026-01-01,28\n2026-01-02,much\n")
    (tmp_path / "bad.json").write_text("{")
    file = tmp_path / "garden.toml"
    file.write_text(
        '[[site]]\nname = "x"\nrecord = "bad.csv"\n\n[[site]]\nname = "y"\nforecast = "bad.json"\n'
    )
    ran = run("garden", "--garden", file, "--format", "json")
    told = {mistake["line"]: mistake["what"] for mistake in ran.json["error"]["mistakes"]}
    assert told[3].startswith("record: bad.csv, line 3: ")
    assert told[7].startswith("forecast: bad.json")


def test_a_kept_garden_loads_no_heavy_library(samples, tmp_path):
    probe = (
        "import sys; from frostgate.cli.options import named_garden; from pathlib import Path; "
        "named_garden(Path(sys.argv[1])); print(sorted({'pydantic', 'tomllib', 'pandas'} & set(sys.modules)))"
    )
    command = [sys.executable, "-c", probe, str(samples / "garden.toml")]
    told = [
        subprocess.run(command, env={**os.environ, "FROSTGATE_CACHE": str(tmp_path)}, cwd=samples.parent,
                       capture_output=True, text=True, check=True).stdout.strip()
        for _ in range(2)
    ]  # fmt: skip
    assert told == ["['pydantic', 'tomllib']", "[]"]
