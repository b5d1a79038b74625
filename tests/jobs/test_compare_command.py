"""`frostgate compare`: sites and stations side by side, each figure as the single command gives it."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import frostgate.service.compare as service

FIVE = ("USW00094728", "USW00013904", "USW00014819", "USC00042319", "ASN00064008")
ON = "2026-05-15"  # the day before the first night of forecast_clear.csv
GARDEN = """
units = "us"

[[site]]
name = "Hollin Bank"
record = "oskelmere.dly"
forecast = "forecast_clear.csv"
time_zone = "Etc/GMT+3"
offset = "-2F"
offset_spread = "1.5F"

[[site]]
name = "Top allotment"
record = "oskelmere.dly"
offset = "-5F"
risk = "5%"

[[site]]
name = "Friend's hill"
"""


@pytest.fixture
def garden(tmp_path: Path, samples: Path) -> Path:
    """Write a garden of three invented sites, one of them without a record."""
    for name in ("oskelmere.dly", "forecast_clear.csv", "forecast_frost.json"):
        (tmp_path / name).write_bytes((samples / name).read_bytes())
    file = tmp_path / "garden.toml"
    file.write_text(GARDEN, encoding="utf-8")
    return file


def by_name(answer: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {place["name"]: place for place in answer["places"]}


@pytest.mark.parametrize(("threshold", "stations"), [("32F", FIVE), ("36F", FIVE[2:4])])
def test_five_stations_have_the_figures_of_the_single_commands(run, reference, threshold, stations):
    files = [reference / "ghcnd" / "tmin" / f"{station}.dly" for station in stations]
    ran = run("compare", *files, "--damage-temp", threshold, "--format", "json")
    assert ran.status == 0
    for file, place in zip(files, ran.json["places"], strict=True):
        curve = run("curve", file, "--threshold", threshold, "--format", "json").json
        spring, autumn = ({**fact} for fact in curve["curves"])
        at = {(level["season"], level["risk"]): level["date"] for level in curve["levels"]}
        days = {level["chance"]: level["days"] for level in curve["season_lengths"]}
        assert (place["last_median"], place["last_at_risk"]) == (at["spring", 0.5], at["spring", 0.1])
        assert (place["first_median"], place["first_at_risk"]) == (at["autumn", 0.5], at["autumn", 0.1])
        assert (place["season_median_days"], place["season_at_risk_days"]) == (days[0.5], days[0.9])
        for name in ("frost_share", "seasons_used", "seasons_unknown", "first_year", "last_year"):
            assert place[name] == spring[name]
        trend = spring["trend"]
        figures = (place["trend_days_per_decade"], place["trend_low"], place["trend_high"])
        assert figures == (trend["days_per_decade"], trend["low"], trend["high"])
        assert autumn["median_date"] == place["first_median"]

        today = run("today", "--record", file, "--climate-only", "--damage-temp", threshold,
                    "--on", "2025-03-01", "--format", "json").json["curve"]  # fmt: skip
        assert (place["last_median"], place["frost_share"]) == (today["median_date"], today["frost_share"])
        assert place["threshold_c"] == today["threshold_c"]


def test_a_gardens_sites_have_the_verdict_of_today(run, garden):
    ran = run("compare", "--garden", garden, "--on", ON, "--format", "json")
    today = run("today", "--garden", garden, "--on", ON, "--format", "json").json
    home, top, hill = ran.json["places"]
    assert ran.status == 0
    assert (home["verdict"], home["on"]) == (today["verdict"], ON)
    assert home["earliest_date"] == today["earliest_date"]
    assert home["last_median"] == today["curve"]["median_date"]
    assert (top["verdict"], top["no_verdict"]) == (None, None)
    assert (hill["last_median"], hill["verdict"]) == (None, None)
    assert hill["problem"].startswith("no station's record is named")


def test_a_colder_site_of_one_station_has_later_dates_and_the_same_zone(run, garden, monkeypatch):
    monkeypatch.chdir(garden.parent)  # the garden of this folder is found by itself
    home, top, _ = run("compare", "--on", ON, "--format", "json").json["places"]
    assert top["last_median"] > home["last_median"]
    assert top["first_median"] < home["first_median"]
    assert top["season_median_days"] < home["season_median_days"]
    assert (top["zone"], top["coldest_night_c"]) == (home["zone"], home["coldest_night_c"])
    assert (home["risk"], top["risk"]) == (0.1, 0.05)


def test_a_forecast_is_taken_for_places_that_name_none_and_told_of(run, garden):
    extra = garden.parent / "oskelmere.dly"
    forecast = garden.parent / "forecast_frost.json"
    ran = run(
        "compare", extra, "--garden", garden, "--forecast", forecast, "--on", "2026-04-22", "--format", "json"
    )
    home, top, _, station = ran.json["places"]
    alone = run(
        "today", "--record", extra, "--forecast", forecast, "--on", "2026-04-22", "--format", "json"
    ).json
    assert station["verdict"] == top["verdict"] == alone["verdict"] == "shut"
    assert station["earliest_date"] == alone["earliest_date"]
    assert home["verdict"] is None  # its own forecast is of May
    assert "a forecast for another time" in home["no_verdict"]
    assert ran.json["notes"] == [
        "The forecast forecast_frost.json is taken for each of: Top allotment, Friend's hill, oskelmere.dly."
    ]


def test_one_file_that_fails_does_not_keep_the_others_back(run, samples):
    short = samples / "hollin_bank.csv"
    ran = run("compare", samples / "oskelmere.dly", "none.dly", short, samples / "README.md")
    assert ran.status == 0
    for part in (
        "XX000000017",
        "Not compared",
        "none.dly: no such file",
        "too few to say anything",
        "README.md",
    ):
        assert part in ran.out


@pytest.mark.parametrize("form", ["text", "json", "csv"])
def test_only_where_every_place_fails_is_the_exit_status_2(run, form):
    ran = run("compare", "none.dly", "nothing.dly", "--format", form)
    assert ran.status == 2
    assert "no such file" in ran.out
    assert "nothing.dly" in ran.out


def test_rows_of_csv_and_places_of_json_say_the_same(run, garden):
    arguments = ("compare", "--garden", garden, "--on", ON, "--format")
    rows = list(csv.DictReader(io.StringIO(run(*arguments, "csv").out)))
    places = run(*arguments, "json").json["places"]
    for row, place in zip(rows, places, strict=True):
        assert {
            key: "" if value is None else str(value) for key, value in place.items() if key != "notes"
        } == row


def test_places_of_one_name_are_told_apart(run, samples, tmp_path):
    twin = tmp_path / "twin.dly"
    twin.write_bytes((samples / "oskelmere.dly").read_bytes())
    file = samples / "oskelmere.dly"
    names = list(by_name(run("compare", file, twin, twin, "--format", "json").json))
    assert names == ["XX000000017 (oskelmere.dly)", "XX000000017 (twin.dly)", "XX000000017 (twin.dly), 2"]


@pytest.mark.parametrize(
    ("by", "first", "last"),
    [
        ("last", "USC00042319", "USW00014819"),
        ("zone", "USW00014819", "USC00042319"),
        ("name", "USC00042319", "USW00094728"),
    ],
)
def test_places_are_put_in_order(run, reference, by, first, last):
    files = [
        reference / "ghcnd" / "tmin" / f"{name}.dly" for name in ("USW00014819", "USW00094728", "USC00042319")
    ]
    names = list(by_name(run("compare", "none.dly", *files, "--sort", by, "--format", "json").json))
    where = [name for name in names if name != "none.dly"]
    assert (where[0], where[-1]) == (first, last)
    assert by == "name" or names[-1] == "none.dly"  # what could not be compared comes last


def test_a_zone_finds_its_records_and_says_what_it_does_not_tell(run, reference, tmp_path):
    for station in (*FIVE, "USW00012960"):
        file = f"{station}.dly"
        (tmp_path / file).write_bytes((reference / "ghcnd" / "tmin" / file).read_bytes())
    (tmp_path / "notes.txt").write_text("not a record\n", encoding="utf-8")
    (tmp_path / ".hidden").write_text("no\n", encoding="utf-8")
    answer = run("compare", "--zone", "9", "--records", tmp_path, "--format", "json").json
    assert answer["zone"] == {"zone": "9", "records": 3, "elsewhere": {"6a": 1, "7b": 1, "8b": 1}}
    north, south = answer["last_medians"]
    assert (north["earliest"], north["latest"]) == (
        {"name": "USC00042319", "date": "01-02"},
        {"name": "USW00012960", "date": "02-05"},
    )
    assert (north["days"], south["hemisphere"]) == (34, "south")
    half = run("compare", "--zone", "9a", "--records", tmp_path)
    assert half.status == 0
    words = " ".join(half.out.split())
    assert "Zone 9a (mean coldest night" in words
    assert "2 of 6 records" in words
    assert "notes.txt: not a record of daily minima" in words
    assert ".hidden" not in words


def test_a_zone_without_a_record_is_an_answer_too(run, samples):
    ran = run("compare", samples / "oskelmere.dly", "--zone", "3b")
    assert ran.status == 0
    assert "0 of 1 records" in ran.out
    assert "1 in 7b" in ran.out


def test_a_folder_is_compared_whole_where_no_zone_is_named(run, garden):
    places = by_name(run("compare", "--records", garden.parent, "--format", "json").json)
    assert places["XX000000017"]["zone"] == "7b"
    assert "garden.toml" in places  # whatever lies there is tried, and told of where it is no record
    assert places["garden.toml"]["problem"]


def test_the_chart_is_written_and_spoken_of_on_the_error_stream(run, garden, tmp_path):
    ran = run("compare", "--garden", garden, "--on", ON, "--chart", tmp_path / "all.svg", "--format", "json")
    content = (tmp_path / "all.svg").read_text(encoding="utf-8")
    assert "all.svg" in ran.err
    assert ran.json["places"]
    for text in ("Last frost of spring, place by place", "Hollin Bank, 34 °F", "Top allotment, 37 °F"):
        assert f">{text}<" in content


def test_without_a_place_there_is_no_chart(run, tmp_path):
    ran = run("compare", "none.dly", "--chart", tmp_path / "all.png")
    assert (ran.status, (tmp_path / "all.png").exists()) == (2, False)
    assert "No chart" in ran.err


@pytest.mark.parametrize(
    ("arguments", "unit"),
    [((), "°F"), (("--show", "C"), "°C"), (("--damage-temp", "0C"), "°C"), (("--offset", "-2F"), "°F")],
)
def test_temperatures_are_shown_as_asked_written_or_observed(run, samples, arguments, unit):
    out = run("compare", samples / "oskelmere.dly", *arguments).out
    assert f"{unit} or less at the station" in out


def test_a_gardens_own_unit_is_shown(run, garden):
    garden.write_text(garden.read_text(encoding="utf-8").replace('"us"', '"metric"'), encoding="utf-8")
    assert "°C" in run("compare", "--garden", garden, "--on", ON).out


def test_suspects_are_kept_where_that_is_asked(run, samples):
    kept = run("compare", samples / "oskelmere.dly", "--keep-suspects", "--zone", "7b", "--format", "json")
    left = run("compare", samples / "oskelmere.dly", "--zone", "7b", "--format", "json")
    assert kept.status == left.status == 0
    assert kept.json["zone"]["records"] + sum(kept.json["zone"]["elsewhere"].values()) == 1


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ((), "no place to compare"),
        (("--zone", "8a"), "search for the zone"),
        (("--zone", "8x", "a.dly"), "no hardiness zone has this name"),
        (("--records", "nowhere"), "no such folder"),
        (("--records", "README.md"), "no such folder"),
        (("--risk", "70%", "a.dly"), "tolerance"),
        (("--chart", "a.gif", "data_samples/oskelmere.dly"), "no such form of chart"),
    ],
)
def test_what_cannot_be_done_is_told_in_words(run, samples, monkeypatch, arguments, told):
    monkeypatch.chdir(samples.parent)
    ran = run("compare", *arguments)
    assert ran.status == 2
    assert told in ran.out + ran.err


def test_an_empty_folder_is_refused(run, tmp_path):
    ran = run("compare", "--records", tmp_path)
    assert (ran.status, "an empty folder" in ran.err) == (2, True)


def test_a_wrong_garden_file_is_told_as_a_whole(run, tmp_path):
    (tmp_path / "garden.toml").write_text("[[site]]\nnam = 1\n", encoding="utf-8")
    ran = run("compare", "--garden", tmp_path / "garden.toml", "--format", "json")
    assert ran.status == 2
    assert json.loads(ran.out)["error"]["file"].endswith("garden.toml")


def test_many_records_are_looked_at_in_several_processes_with_the_same_answer(run, tmp_path, monkeypatch):
    (tmp_path / "wrong.csv").write_text("date,tmin\n2020-02-30,1\n", encoding="utf-8")
    for number in range(3):
        days = np.arange("2005-08-01", f"{2018 + number}-08-01", dtype="datetime64[D]")
        tmin_c = 6 + number + 9 * np.cos((days - days[0]).astype(int) / 58.1) + np.arange(days.size) % 7
        rows = "".join(f"{day},{value:.1f}\n" for day, value in zip(days, tmin_c, strict=True))
        (tmp_path / f"place {number}.csv").write_text(f"date,tmin_c\n{rows}", encoding="utf-8")
    asked = ("compare", "--records", tmp_path, "--hemisphere", "north", "--format", "json")
    alone = run(*asked)
    monkeypatch.setattr(service, "FEW", 2)
    assert (alone.status, run(*asked)) == (0, alone)
    assert [place["problem"] is None for place in alone.json["places"]] == [True, True, True, False]
    assert "wrong.csv, line 2" in alone.json["places"][3]["problem"]
