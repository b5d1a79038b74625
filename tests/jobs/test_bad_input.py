"""Bad input ends in a clear error that names file, line and value, and in exit status 2."""

from __future__ import annotations

import gzip
import json
import os

import pytest

GOOD = "USC00000001202604TMIN" + "  -22  0" * 30 + "-9999   " + "\n"

RECORDS = {
    "cut line": (GOOD + GOOD.replace("202604", "202603")[:100] + "\n", 2),
    "not a number": (GOOD + GOOD.replace("202604", "202603").replace("  -22  0", "  -x2  0", 1), 2),
    "absurd": (GOOD + GOOD.replace("202604", "202603").replace("  -22  0", " 9000  0", 1), 2),
    "a day that does not exist": (GOOD.replace("202604", "202602"), 1),
    "contradicting twins": ("date,tmin_c\n2026-04-01,1.0\n2026-04-02,2.0\n2026-04-01,3.0\n", 4),
    "not a date": ("date,tmin_c\n2026-04-01,1.0\n2026-02-30,2.0\n", 3),
    "words": ("date,tmin_c\n2026-04-01,1.0\n2026-04-02,cold\n", 3),
    "mixed units": ("date,tmin_f\n2026-04-01,32\n2026-04-02,0C\n", 3),
    "wrong columns": ("day,rain\n2026-04-01,1.0\n", None),
    "no unit": ("date,tmin\n2026-04-01,32\n", None),
    "empty": ("", None),
    "blank": ("\n \n", None),
    "prose": ("It froze last night.\n", None),
    "NUL": ("date,tmin_c\n2026-04-01,1.0\n\0\n", 3),
    "only missing": ("date,tmin_c\n2026-04-01,NA\n", None),
}

FORECASTS = {
    "falling dates": ("date,tmin_c\n2026-04-24,5\n2026-04-23,6\n", 3),
    "a date twice": ("date,tmin_c\n2026-04-23,5\n2026-04-23,6\n", 3),
    "words": ("date,tmin_c\n2026-04-23,mild\n", 2),
    "absurd": ("date,tmin_c\n2026-04-23,75\n", 2),
    "all null": (json.dumps({"timezone": "Europe/Berlin", "daily_units": {"temperature_2m_min": "°C"},
                 "daily": {"time": ["2026-04-23"], "temperature_2m_min": [None]}}), None),
    "no such zone": (json.dumps({"timezone": "Europe/Atlantis", "daily_units": {"temperature_2m_min": "°C"},
                     "daily": {"time": ["2026-04-23"], "temperature_2m_min": [4.0]}}), None),
    "cut JSON": ('{"daily": {"time": ["2026-04-23"],\n "temperature_2m_min": [4.0', 2),
    "no unit": ("date,tmin\n2026-04-23,32\n", None),
    "empty": ("", None),
}  # fmt: skip


def refused(done, file, line):
    assert done.status == 2
    error = done.json["error"]
    assert error["file"] == str(file)
    if line is not None:
        assert error["line"] == line
    assert error["what"]
    return error


@pytest.mark.parametrize(("content", "line"), RECORDS.values(), ids=RECORDS)
@pytest.mark.parametrize("command", ["record", "curve", "today"])
def test_a_bad_record(run, tmp_path, samples, content, line, command):
    file = tmp_path / "station.dat"
    file.write_text(content)
    asked = (
        ("--record", file, "--forecast", samples / "forecast_clear.csv") if command == "today" else (file,)
    )

    refused(run(command, *asked, "--format", "json"), file, line)
    text = run(command, *asked)
    assert text.status == 2
    assert str(file) in text.err


@pytest.mark.parametrize(("content", "line"), FORECASTS.values(), ids=FORECASTS)
def test_a_bad_forecast(run, tmp_path, samples, content, line):
    file = tmp_path / "forecast.dat"
    file.write_text(content)

    done = run("today", "--record", samples / "oskelmere.dly", "--forecast", file, "--on", "2026-04-22",
               "--format", "json")  # fmt: skip

    refused(done, file, line)


@pytest.mark.parametrize(
    ("on", "status"), [("2026-03-01", 2), ("2026-04-20", 3), ("2026-05-10", 3), ("2026-07-01", 2)]
)
def test_a_forecast_for_another_month_is_refused_and_a_stale_one_unknown(run, samples, on, status):
    file = samples / "forecast_frost.json"

    asked = ("--record", samples / "oskelmere.dly", "--forecast", file, "--on", on)
    done = run("today", *asked, "--format", "json")

    assert done.status == status
    if status == 2:
        assert done.json["error"]["file"] == str(file)
        assert done.json["error"]["value"] == "2026-04-23 to 2026-04-29"


TABLE = "date,tmin_c\n2026-04-01,1.0\n2026-04-02,2.0\n"
LOG = "issued_at,morning,forecast_c,observed_c,place\n"


@pytest.mark.parametrize(
    ("command", "content"),
    [
        *((command, TABLE) for command in ("record", "curve", "replay", "risk", "siting")),
        *(
            (f"{command} --hemisphere north", TABLE)
            for command in ("curve", "curve --season spring", "replay", "risk")
        ),
        ("errors", LOG + "2026-04-10T18:00,2026-04-11,2.5,1.1,A\n"),
        (
            "replay {samples}/oskelmere.dly --years 2000-2012 --forecast-log",
            LOG + "2026-04-10T18:00,2026-04-11,2.5,,A\n2026-04-10T18:00,2026-04-11,2.5,,B\n",
        ),
    ],
)
def test_what_is_wrong_with_a_file_as_a_whole_names_it(run, tmp_path, samples, command, content):
    file = tmp_path / "file.csv"
    file.write_text(content)
    first, *options = command.format(samples=samples).split()
    asked = [*options, file] if options[-1:] == ["--forecast-log"] else [file, *options]
    refused(run(first, *asked, "--format", "json"), file, None)


@pytest.mark.parametrize("option", ["--record", "--forecast"])
def test_a_directory_and_a_missing_file(run, samples, tmp_path, option):
    given = {"--record": samples / "oskelmere.dly", "--forecast": samples / "forecast_clear.csv"}
    for bad in (tmp_path, tmp_path / "nothing here"):
        asked = [part for pair in (given | {option: bad}).items() for part in pair]
        refused(run("today", *asked, "--format", "json"), bad, None)


def test_a_binary(run, tmp_path):
    file = tmp_path / "picture"
    file.write_bytes(bytes(range(256)) * 40)

    refused(run("record", file, "--format", "json"), file, None)


def test_a_broken_gzip(run, tmp_path, samples):
    file = tmp_path / "station.dly.gz"
    file.write_bytes(gzip.compress((samples / "oskelmere.dly").read_bytes())[:5000])

    assert "broken" in refused(run("record", file, "--format", "json"), file, None)["what"]


def test_two_gigabytes_are_refused_and_not_swallowed(run, tmp_path):
    file = tmp_path / "huge.csv"
    with file.open("wb") as stream:
        stream.write(b"date,tmin_c\n")
        os.truncate(stream.fileno(), 2 * 2**30)

    assert "larger than" in refused(run("record", file, "--format", "json"), file, None)["what"]


def test_a_bomb_is_refused(run, tmp_path):
    file = tmp_path / "bomb.gz"
    with gzip.open(file, "wb", compresslevel=9) as stream:
        for _ in range(80):
            stream.write(b"\n" * 2**20)

    assert "larger than" in refused(run("record", file, "--format", "json"), file, None)["what"]


@pytest.mark.parametrize(
    "options",
    [
        ("--risk", "10"), ("--risk", "60%"), ("--risk", "0%"), ("--risk", "much"), ("--damage-temp", "32"),
        ("--damage-temp", "900F"), ("--offset", "-2"), ("--offset", "-90F"), ("--on", "22.4.2026"),
        ("--on", "2026-02-30"), ("--kind", "crystal-ball"), ("--time-zone", "Europe/Atlantis"),
        ("--no-such-option",),
    ],
    ids=" ".join,
)  # fmt: skip
def test_a_bad_option(run, samples, options):
    asked = ("today", "--record", samples / "oskelmere.dly", "--forecast", samples / "forecast_clear.csv")

    text, answer = run(*asked, *options), run(*asked, *options, "--format", "json")

    assert (text.status, answer.status) == (2, 2)
    assert text.err
    assert set(answer.json["error"]) == {"what", "file", "line", "value", "remedy"}


@pytest.mark.parametrize("years", ["2010-1981", "1981", "a-b"])
def test_bad_years(run, samples, years):
    assert run("curve", samples / "oskelmere.dly", "--years", years).status == 2


def test_no_command_and_an_unknown_one(run):
    assert run("frost").status == 2
    assert run("--help").status == 0
    assert "today" in run("--help").out


@pytest.mark.parametrize("day", ["9999-12-31", "2201-01-01", "1799-12-31", "0001-01-01"])
@pytest.mark.parametrize("command", ["today", "plan", "compare"])
def test_a_year_beyond_all_records_is_refused(run, samples, command, day):
    asked = {"today": ["--record", samples / "oskelmere.dly"], "compare": [samples / "oskelmere.dly"]}
    ran = run(command, *asked.get(command, ["--garden", samples / "garden.toml"]), "--on", day)
    assert ran.status == 2
    assert "a day between 1800 and 2200" in " ".join(ran.err.split())


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (["replay", "--seed", "-1"], "a seed is not below 0: '-1'"),
        (["risk", "--seed", "-1"], "a seed is not below 0: '-1'"),
        (["risk", "--cost-per-day", "1e308", "--loss", "1e308"], "a day's delay is a number above 0"),
        (["risk", "--cost-per-day", "1e-308", "--loss", "1"], "a day's delay is a number above 0"),
        (["risk", "--cost-per-day", "1", "--loss", "1e308"], "the loss of a flush is a number above 0"),
    ],
)  # fmt: skip
def test_a_number_that_nobody_can_mean_is_refused(run, samples, asked, said):
    ran = run(asked[0], samples / "oskelmere.dly", *asked[1:])
    assert ran.status == 2
    assert said in ran.err
