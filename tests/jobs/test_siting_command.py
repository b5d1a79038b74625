"""The garden's difference from its station, end to end."""

from __future__ import annotations

import numpy as np
import pytest

from frostgate.sources.records import read_minima


@pytest.fixture
def record(samples):
    return samples / "oskelmere.dly"


@pytest.fixture
def garden(samples):
    return samples / "hollin_bank.csv"


def test_the_sample_garden_is_as_cold_as_it_was_drawn(run, record, garden):
    """data_samples/make_samples.py draws clear calm nights 3.2 °F colder, scattering by 1.3 °F."""
    answer = run("siting", record, "--garden", garden, "--format", "json").json

    assert answer["offset_c"] * 1.8 == pytest.approx(-3.2, abs=0.5)
    assert answer["scatter_c"] * 1.8 == pytest.approx(1.3, abs=0.4)
    assert answer["offset_spread_c"] == pytest.approx(
        np.hypot(answer["sure_c"], answer["scatter_c"]), abs=1e-3
    )
    assert [one["date"] for one in answer["left_out"]] == ["2025-03-22", "2025-04-28", "2026-03-08"]
    assert answer["station_threshold_c"] == pytest.approx(-answer["offset_c"])
    assert answer["default_share"] < 0.01
    assert answer["default"]["offset_c"] != answer["offset_c"]


def test_the_text_gives_the_options_of_today(run, record, garden):
    done = run("siting", record, "--garden", garden, "--exposure", "low")

    assert done.status == 0
    assert "today --offset -3.2F --offset-spread 1.7F" in done.out
    assert "2025-03-22 (garden 61 °F, station 50 °F)" in done.out
    assert "from memory" in done.out
    assert "ice water" in done.out
    assert max(map(len, done.out.splitlines())) <= 90


def test_without_pairs_the_default_is_given_and_named_so(run, record):
    done = run("siting", record, "--station-elevation", "212m", "--garden-elevation", "1024ft", "--exposure",
               "open", "--show", "C")  # fmt: skip

    assert "--offset -0.3C" in done.out  # 100 m at 3 °C/km
    assert "garden 100 m above the station" in " ".join(done.out.split())
    assert "this is the default, common practice and no measurement" in " ".join(done.out.split())


def test_an_unknown_elevation_is_said_and_widens_the_spread(run, record):
    unknown = run("siting", record, "--exposure", "open", "--format", "json").json
    known = run("siting", record, "--exposure", "open", "--station-elevation", "200m", "--garden-elevation",
                "200m", "--format", "json").json  # fmt: skip

    assert "elevation not known" in unknown["basis"]
    assert unknown["offset_spread_c"] > known["offset_spread_c"]
    assert unknown["pairs"] == 0


def test_the_elevation_that_a_station_file_states_is_used(run, tmp_path):
    table = tmp_path / "station.csv"
    table.write_text("station,date,elevation,tmin_c\nXX1,2026-04-01,300,2\n")

    answer = run("siting", table, "--garden-elevation", "200m", "--exposure", "open", "--hemisphere",
                 "north", "--format", "json").json  # fmt: skip

    assert "garden 100 m below" in answer["basis"]


def test_a_garden_without_a_common_morning_is_an_error(run, record, tmp_path):
    table = tmp_path / "garden.csv"
    table.write_text("date,tmin_c\n2027-04-01,2\n")

    error = run("siting", record, "--garden", table, "--format", "json").json["error"]

    assert "not one morning in common" in error["what"]
    assert error["file"] == str(table)
    assert "2026-03-31" in error["remedy"]


def test_dates_a_day_off_are_pointed_out(run, record, tmp_path):
    station = read_minima(record)
    rows = [
        f"{date + 1},{tmin_c - 1:.1f}"
        for date, tmin_c in zip(station.dates[-90:], station.tmin_c[-90:], strict=True)
        if np.isfinite(tmin_c)
    ]
    table = tmp_path / "garden.csv"
    table.write_text("\n".join(["date,tmin_c", *rows]))

    assert "one day earlier" in " ".join(run("siting", record, "--garden", table).out.split())


def test_several_stations_become_one_record(run, record, tmp_path):
    station = read_minima(record)
    nearby, target = tmp_path / "nearby.csv", tmp_path / "combined.csv"
    kept = station.dates >= np.datetime64("1975-01-01")
    rows = [
        f"{d},{t + 1:.1f}"
        for d, t in zip(station.dates[kept], station.tmin_c[kept], strict=True)
        if np.isfinite(t)
    ]
    rows.append("1978-04-20,3.0")
    nearby.write_text("\n".join(["date,tmin_c", *rows]))

    done = run("siting", record, "--nearby", nearby, "--combined", target, "--format", "json")

    combined = read_minima(target)
    assert done.err == f"Record written to {target}\n"
    assert done.json["combined"][0]["filled"] == 1
    assert combined.station.id == "XX000000017"
    assert combined.tmin_c[combined.dates == np.datetime64("1978-04-20")] == pytest.approx(2.2)  # 36 °F
    assert run("record", target).status == 0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--garden-elevation", "120"), "not a length with its unit"),
        (("--garden-elevation", "99999m"), "no land lies"),
        (("--exposure", "roof"), "roof"),
        (("--combined", "out.csv"), "nothing to combine"),
        (("--garden", "nowhere.csv"), "no such file"),
        (("--station-elevation", "10m", "--garden-elevation", "5000m"), "differ that much in height"),
    ],
)
def test_what_cannot_be_meant_is_refused(run, record, arguments, words):
    done = run("siting", record, *arguments)

    assert done.status == 2
    assert words in done.err


def test_a_folder_that_is_not_there_is_no_traceback(run, record, tmp_path):
    done = run("siting", record, "--nearby", record, "--combined", tmp_path / "no" / "out.csv")

    assert done.status == 2
    assert "cannot be written" in done.err
