"""The morning check, end to end, on the invented sample data."""

from __future__ import annotations

import math
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from freezegun import freeze_time

GARDEN = ("--offset", "-2F")
KEYS = {
    "on", "verdict", "reasons", "risk_tolerance", "risk_today", "earliest_date", "by_risk", "forecast",
    "record", "curve", "damage_temp_c", "offset_c", "cautions",
}  # fmt: skip


@pytest.fixture
def ask(run, samples):
    def _ask(forecast, on, *more):
        given = ("--forecast", samples / forecast) if forecast else ()
        return run("today", "--record", samples / "oskelmere.dly", *given, "--on", on, *GARDEN, *more)

    return _ask


@pytest.mark.parametrize(
    ("forecast", "on", "verdict", "status"),
    [
        ("forecast_clear.csv", "2026-05-15", "open", 0),
        ("forecast_frost.json", "2026-04-22", "shut", 1),
        ("forecast_edge.json", "2026-05-10", "shut", 1),
        (None, "2026-05-15", "unknown", 3),
        ("forecast_clear.csv", "2026-06-05", "unknown", 3),
        ("forecast_clear.csv", "2026-05-10", "unknown", 3),
    ],
)
def test_the_verdict_is_the_exit_status(ask, forecast, on, verdict, status):
    text, answer = ask(forecast, on), ask(forecast, on, "--format", "json")

    assert (text.status, answer.status) == (status, status)
    assert text.out.startswith(verdict.upper())
    assert answer.json["verdict"] == verdict


def test_the_json_answer_holds_what_it_promises(ask):
    answer = ask("forecast_frost.json", "2026-04-22", "--format", "json").json

    assert set(answer) >= KEYS
    assert [row["risk"] for row in answer["by_risk"]] == [0.5, 0.3, 0.2, 0.1, 0.05, 0.02, 0.01]
    assert answer["forecast"]["issued"] == "2026-04-22T06:00"
    assert (answer["forecast"]["through"], answer["forecast"]["age_hours"]) == ("2026-04-29", 0.0)
    assert answer["record"]["station"] == "XX000000017"
    assert answer["record"]["seasons_used"] + answer["record"]["seasons_unknown"] == 61
    assert set(answer["curve"]) >= {"kind", "frost_share", "median_date"}
    assert (answer["damage_temp_c"], answer["offset_c"]) == (0.0, -1.111)
    assert answer["cautions"]


def test_an_unknown_answer_states_no_risk_and_no_date(ask):
    answer = ask(None, "2026-05-15", "--format", "json").json

    assert answer["risk_today"] is None
    assert answer["earliest_date"] is None
    assert answer["forecast"] is None
    assert all(row["date"] for row in answer["by_risk"])  # the climate's table is shown


def test_the_climate_alone_answers_only_when_asked_and_says_so(ask):
    answer = ask(None, "2026-06-20", "--climate-only", "--format", "json")

    assert answer.status == 0
    assert answer.json["climate_only"]
    assert "no forecast" in answer.json["cautions"][0]


def test_the_edge_turns_with_the_tolerance(ask):
    statuses = [
        ask("forecast_edge.json", "2026-05-10", "--risk", risk).status for risk in ("10%", "12%", "20%")
    ]

    assert statuses == [1, 1, 0]


@pytest.mark.parametrize(
    ("forecast", "on", "option", "values"),
    [
        ("forecast_frost.json", "2026-04-22", "--risk", ("5%", "20%", "50%")),
        ("forecast_frost.json", "2026-04-22", "--damage-temp", ("34F", "32F", "28F")),
        ("forecast_edge.json", "2026-05-10", "--forecast-offset", ("-6F", "-2F", "4F")),
    ],
)
def test_a_bolder_question_never_waits_longer(ask, forecast, on, option, values):
    dates = [ask(forecast, on, option, value, "--format", "json").json["earliest_date"] for value in values]

    assert dates == sorted(dates, reverse=True)
    assert len(set(dates)) > 1


def test_units_follow_the_grower(ask):
    fahrenheit = ask("forecast_frost.json", "2026-04-22").out
    celsius = ask("forecast_frost.json", "2026-04-22", "--show", "C").out

    assert "32 °F or less" in fahrenheit
    assert "0 °C or less" in celsius
    assert "°F" not in celsius


def test_the_curve_is_kept_and_the_answer_stays_the_same(ask, monkeypatch, tmp_path):
    monkeypatch.setenv("FROSTGATE_CACHE", str(tmp_path / "kept"))

    first = ask("forecast_frost.json", "2026-04-22").out
    kept = list((tmp_path / "kept").iterdir())
    monkeypatch.setattr("frostgate.climate.site.know_site", None)  # a second fit would fail
    second = ask("forecast_frost.json", "2026-04-22").out

    assert len(kept) == 1
    assert first == second


def test_thresholds_closer_than_a_tenth_are_kept_apart(ask, monkeypatch, tmp_path):
    monkeypatch.setenv("FROSTGATE_CACHE", str(tmp_path / "kept"))

    for damage_temp in ("28F", "28.04F"):  # -2.222 and -2.2 °C
        ask("forecast_frost.json", "2026-04-22", "--damage-temp", damage_temp)

    assert len(list((tmp_path / "kept").iterdir())) == 2


@pytest.mark.parametrize(
    ("written", "shown"), [((), "°C"), (("--damage-temp", "30F"), "°F"), (("--damage-temp", "0C"), "°C")]
)
def test_the_unit_shown_is_the_one_the_grower_wrote_else_the_stations(run, tmp_path, written, shown):
    days = np.arange("1990-08-01", "2006-08-01", dtype="datetime64[D]")
    yearly = np.cos((days - days[0] - 170).astype(int) / 365.25 * 2 * np.pi)
    tmin_c = 6 - 10 * yearly + np.random.default_rng(1).normal(0, 3, days.size)
    table = tmp_path / "celsius.csv"
    table.write_text("date,tmin_c\n" + "".join(f"{d},{t:.1f}\n" for d, t in zip(days, tmin_c, strict=True)))

    out = run("today", "--record", table, "--climate-only", "--on", "2026-04-01", *written).out

    assert f"{shown} or less" in out


def test_what_cannot_be_kept_is_no_harm(ask, monkeypatch, tmp_path):
    blocked = tmp_path / "a file"
    blocked.write_text("in the way")
    monkeypatch.setenv("FROSTGATE_CACHE", str(blocked))

    assert ask("forecast_frost.json", "2026-04-22").status == 1


def test_too_few_seasons_are_unknown_and_not_an_error(run, samples, tmp_path):
    lines = (samples / "oskelmere.dly").read_text().splitlines(keepends=True)
    short = tmp_path / "short.dly"
    short.write_text("".join(line for line in lines if line[11:15] >= "2019"))

    asked = ("--record", short, "--forecast", samples / "forecast_clear.csv", "--on", "2026-05-15")
    answer = run("today", *asked, "--format", "json")

    assert answer.status == 3
    assert "seasons are known" in answer.json["reasons"][0]
    assert answer.json["record"] is None


def test_without_a_date_the_clock_of_the_garden_is_asked(run, samples):
    """The garden keeps UTC-3; at 02:00 UTC on 16 May it is still 15 May there."""
    with freeze_time("2026-05-16 02:00:00"):
        asked = ("--record", samples / "oskelmere.dly", "--forecast", samples / "forecast_clear.csv")
        answer = run("today", *asked, "--format", "json")

    assert answer.json["on"] == "2026-05-15"
    assert answer.json["forecast"]["age_hours"] == 17.0


def test_a_gzipped_record_under_any_name_gives_the_same_answer(run, samples, tmp_path, ask):
    import gzip

    packed = tmp_path / "station.txt"
    packed.write_bytes(gzip.compress((samples / "oskelmere.dly").read_bytes()))
    plain = ask("forecast_frost.json", "2026-04-22", "--format", "json").json

    asked = ("--record", packed, "--forecast", samples / "forecast_frost.json", "--on", "2026-04-22", *GARDEN)
    answer = run("today", *asked, "--format", "json").json

    assert answer == plain


def test_the_unit_is_a_hint_where_only_one_of_the_two_files_needs_it(run, samples, tmp_path):
    table = tmp_path / "forecast.csv"
    table.write_text("date,tmin\n" + "".join(f"2026-05-{day},55\n" for day in range(16, 26)))

    needs = run("today", "--record", samples / "oskelmere.dly", "--forecast", table, "--on", "2026-05-15")
    told = run(
        "today",
        "--record",
        samples / "oskelmere.dly",
        "--forecast",
        table,
        "--on",
        "2026-05-15",
        "--forecast-unit",
        "F",
    )

    assert (needs.status, told.status) == (2, 0)
    assert "--forecast-unit F" in needs.err


def test_a_record_without_a_unit_is_read_by_the_one_told(run, samples, tmp_path):
    lines = (samples / "oskelmere.dly").read_text().splitlines()
    months = [line for line in lines if line[17:21] == "TMIN" and line[11:15] > "1990"]
    table = tmp_path / "station.csv"
    rows = [
        f"{line[11:15]}-{line[15:17]}-{day + 1:02d},{round(int(cell[:5]) * 0.18 + 32)}"
        for line in months
        for day, cell in enumerate(line[at : at + 8] for at in range(21, 269, 8))
        if cell[:5] != "-9999" and cell[6] == " "
    ]
    table.write_text("\n".join(["date,tmin", *rows]))
    asked = ("--record", table, "--forecast", samples / "forecast_clear.csv", "--on", "2026-05-15")

    needs, told = run("today", *asked), run("today", *asked, "--unit", "F")

    assert (needs.status, told.status) == (2, 0)
    assert "--unit F" in needs.err


def test_a_copy_elsewhere_is_answered_alike(run, samples, tmp_path: Path, ask):
    copy = tmp_path / "oskelmere.dly"
    shutil.copy(samples / "oskelmere.dly", copy)

    answer = run(
        "today",
        "--record",
        copy,
        "--forecast",
        samples / "forecast_frost.json",
        "--on",
        "2026-04-22",
        *GARDEN,
    )

    assert answer.out == ask("forecast_frost.json", "2026-04-22").out


@pytest.fixture
def edge(run, samples):
    def _edge(*more):
        given = ("--record", samples / "oskelmere.dly", "--forecast", samples / "forecast_edge.json")
        return run("today", *given, "--on", "2026-05-10", "--offset", "-2F", *more, "--format", "json")

    return _edge


def test_an_uncertain_offset_widens_every_nights_error(edge):
    sure, unsure = edge().json["nights"], edge("--offset-spread", "2F").json["nights"]

    for known, guessed in zip(sure, unsure, strict=True):
        assert guessed["sd_c"] == pytest.approx(math.hypot(known["sd_c"], 2 / 1.8), abs=0.011)


def test_a_stated_difference_from_the_forecast_is_taken_as_sure(edge):
    offsets = ("--forecast-offset", "-2F")

    assert edge(*offsets, "--offset-spread", "2F").json["nights"] == edge(*offsets).json["nights"]


def test_an_uncertain_offset_gives_another_curve(edge):
    sure, unsure = edge().json["risk_parts"], edge("--offset-spread", "3F").json["risk_parts"]

    assert sure["beyond_by_curve"] != unsure["beyond_by_curve"]


@pytest.mark.parametrize("spread", ["-1F", "1.5", "wide"])
def test_a_spread_that_is_none_is_refused(edge, spread):
    refused = edge("--offset-spread", spread)

    assert refused.status == 2
    assert spread in refused.json["error"]["what"]


HEAVY = ("pandas", "scipy", "pydantic", "rich", "altair", "requests", "icalendar", "jinja2")
PROBE = (
    "import sys; from frostgate.cli.main import main; main(sys.argv[2:]); "
    "print([name for name in sys.argv[1].split() if name in sys.modules])"
)


@pytest.mark.parametrize(
    ("asked", "spared"),
    [("--record oskelmere.dly --offset -2F", (*HEAVY, "sqlite3")), ("--garden garden.toml", HEAVY)],
)
@pytest.mark.parametrize("form", ["text", "json"])
def test_a_morning_with_a_kept_curve_loads_no_heavy_library(samples, asked, spared, form):
    told = ("--forecast", "forecast_frost.json", "--on", "2026-04-22", "--format", form)
    arguments = [sys.executable, "-c", PROBE, " ".join(spared), "today", *asked.split(), *told]
    subprocess.run(arguments, cwd=samples, capture_output=True, check=True)  # keeps what it had to make

    again = subprocess.run(arguments, cwd=samples, capture_output=True, text=True, check=True)

    assert again.stdout.splitlines()[-1] == "[]"
