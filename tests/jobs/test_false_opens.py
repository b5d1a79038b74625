"""Plausible, wrong or unusual input that would open a gate which a careful grower keeps shut.

Each case was once answered with OPEN. The garden, its station and its forecasts are invented.
"""

from __future__ import annotations

import datetime as dt
import json
import time
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

import pytest
from freezegun import freeze_time

GARDEN = ("--offset", "-2F")
MILD_F = 52.0  # of a night in May or June at which nothing happens


@pytest.fixture
def table(tmp_path: Path) -> Callable[..., Path]:
    """Return a function that writes a forecast of consecutive mornings."""

    def _table(
        first: str, nights: Iterable[Sequence[float] | float], columns: str = "tmin_f", made: str = ""
    ) -> Path:
        day = dt.date.fromisoformat(first)
        rows = [night if isinstance(night, Sequence) else [night] for night in nights]
        lines = [f"# issued: {made}"] if made else []
        lines += [f"date,{columns}"]
        lines += [
            ",".join(map(str, (day + dt.timedelta(days=ahead), *night))) for ahead, night in enumerate(rows)
        ]
        path = tmp_path / "forecast.csv"
        path.write_text("\n".join(lines) + "\n")
        return path

    return _table


@pytest.fixture
def ask(run, samples):
    """Return a function that asks about a forecast on a day and returns the exit status and the answer."""

    def _ask(forecast: Path, on: str, *more: object, record: Path | None = None):
        station = record or samples / "oskelmere.dly"
        given = ("--record", station, "--forecast", forecast, "--on", on, *GARDEN, *more)
        ran = run("today", *given, "--format", "json")
        return ran.status, ran.json

    return _ask


OPEN, SHUT, ERROR, UNKNOWN = 0, 1, 2, 3
JUNE = "2026-06-10"  # by the curve alone the gate is open


def test_a_mild_forecast_in_june_opens(ask, table):
    """What the cases below change in one place each."""
    assert ask(table("2026-06-11", [MILD_F] * 14), JUNE)[0] == OPEN


@pytest.mark.parametrize("on", ["2026-07-16", "2026-07-25", "2026-07-31"])
def test_a_frost_after_the_end_of_the_seasons_table(ask, table, on):
    first = dt.date.fromisoformat(on) + dt.timedelta(days=1)
    nights = [*[60.0] * (dt.date(2026, 8, 1) - first).days, 20.0]
    status, answer = ask(table(str(first), nights), on)
    assert status == SHUT
    assert answer["nights"][-1] == pytest.approx(answer["nights"][-1] | {"chance": 1.0}, abs=0.01)


MEMBERS = ",".join(f"m{number}_f" for number in range(1, 21))


@pytest.mark.parametrize(
    ("columns", "night", "mild", "stated"),
    [
        ("m1_f,m2_f,m3_f,m4_f", [28, 28, 52, 52], [50, 52, 54, 56], 0.5),
        (MEMBERS, [29] * 2 + [52] * 18, [52] * 20, 0.1),
        (MEMBERS, [29] * 11 + [52] * 9, [52] * 20, 0.55),
        ("q40_f,q50_f", [31, 44], [51, 52], 0.4),
        ("tmin_f,sd_f", [42, 12], [52, 3], 0.2),
    ],
    ids=["half the members", "two of twenty", "eleven of twenty", "quantiles", "spread"],
)
def test_a_forecast_that_states_a_wide_spread_keeps_its_own_frosts(ask, table, columns, night, mild, stated):
    forecast = table("2026-06-11", [night, *[mild] * 9], columns, f"{JUNE}T06:00")
    limit = f"{round(stated * 100) - 1}%"
    status, answer = ask(forecast, JUNE, "--risk", limit if stated < 0.5 else "49%")
    assert status == SHUT
    assert answer["nights"][0]["chance"] >= stated
    assert answer["risk_today"] >= stated


@pytest.mark.parametrize(
    ("columns", "night"), [("tmin_f,q50_f", [50, 30]), ("tmin_f,q10_f,q50_f,q90_f", [50, 25, 30, 40])]
)
def test_a_minimum_that_its_own_quantiles_contradict(ask, table, columns, night):
    status, answer = ask(table("2026-06-11", [night] * 5, columns), JUNE)
    assert status == ERROR
    assert "contradicts its own" in answer["error"]["what"]
    assert answer["error"]["line"] == 2


@pytest.mark.parametrize(
    ("columns", "night"),
    [("tmin_f,sd_f", [36, 0]), ("tmin_f,sd_f", [36, 0.1]), ("q10_f,q50_f,q90_f", [36, 36, 36])],
)
def test_a_stated_spread_of_nothing_is_not_believed(ask, table, columns, night):
    """The measured error of such a forecast is 3 to 6 °F."""
    bare = ask(table("2026-05-27", [36.0] * 8, made="2026-05-26T06:00"), "2026-05-26")
    sure = ask(table("2026-05-27", [night] * 8, columns, "2026-05-26T06:00"), "2026-05-26")
    assert bare[0] == sure[0] == SHUT
    assert [one["chance"] for one in sure[1]["nights"]] == [one["chance"] for one in bare[1]["nights"]]


def test_a_number_of_the_grower_that_is_hard_to_believe(ask, table):
    mild, frost = (table("2026-06-11", [degrees] * 14) for degrees in (MILD_F, 27.0))
    for forecast, name, number in (
        (mild, "offset", ("--offset", "36F")),
        (frost, "damage-temp", ("--damage-temp", "0F")),
        (frost, "damage-temp", ("--damage-temp=-40F",)),
    ):
        status, answer = ask(forecast, JUNE, *number)
        assert status == UNKNOWN
        assert any(f"--believe {name}" in reason for reason in answer["reasons"])


def test_a_forecast_in_another_unit(ask, table):
    """27 °F read as 27 °C: milder than any June night here."""
    status, answer = ask(table("2026-06-11", [27.0] * 10, "tmin_c"), JUNE)
    assert status == UNKNOWN
    assert any("--believe forecast" in reason for reason in answer["reasons"])


def test_one_night_of_a_forecast_in_another_unit(ask, table):
    """27 °F written among nights in °C."""
    nights = [12.0, 12.0, 27.0, *[12.0] * 7]
    status, answer = ask(table("2026-05-17", nights, "tmin_c", "2026-05-16T06:00"), "2026-05-16")
    assert status == UNKNOWN
    assert any("--believe night" in reason for reason in answer["reasons"])


def test_a_forecast_for_the_other_half_of_the_world(ask, table):
    forecast = table("2026-06-11", [MILD_F] * 14)
    forecast.write_text("# time zone: Australia/Hobart\n" + forecast.read_text())
    status, answer = ask(forecast, JUNE)
    assert status == UNKNOWN
    assert any("--believe hemisphere" in reason for reason in answer["reasons"])


def rewritten(
    source: Path, target: Path, change: Callable[[dt.date, int], tuple[dt.date, int] | None]
) -> Path:
    """Write a record's minima [tenths of °C] anew as a table, each changed."""
    import numpy as np

    import frostgate as fg

    minima = fg.read_minima(source)
    rows = ["date,tmin_c"]
    for day, tmin_c in zip(minima.dates.astype(object), minima.tmin_c, strict=True):
        if np.isfinite(tmin_c) and (changed := change(day, round(tmin_c * 10))) is not None:
            rows.append(f"{changed[0]},{changed[1] / 10:.1f}")
    target.write_text("\n".join(rows) + "\n")
    return target


def dated_later(day: dt.date, tenths: int) -> tuple[dt.date, int] | None:
    return None if (day.month, day.day) == (2, 29) else (day.replace(year=day.year + 95), tenths)


LIES = {
    "record-stuck": lambda day, _: (day, 50),
    "record-clipped": lambda day, tenths: (day, max(tenths, -40)),
    "record-jumps": lambda day, tenths: (day, tenths + 80 * (day.year >= 1995)),
    "record-years": dated_later,
}


@pytest.mark.parametrize("name", LIES)
def test_a_record_that_cannot_be_believed(ask, table, samples, tmp_path, name):
    record = rewritten(samples / "oskelmere.dly", tmp_path / "record.csv", LIES[name])
    forecast = table("2026-06-11", [MILD_F] * 14)
    status, answer = ask(forecast, JUNE, "--hemisphere", "north", record=record)
    assert status == UNKNOWN
    assert any(f"--believe {name}" in reason for reason in answer["reasons"])


def test_the_last_nights_of_a_record_in_another_unit(ask, table, samples, tmp_path):
    """Sixty nights in °F at the end of a record in °C: "58 °F milder than usual" was believed."""

    last = dt.date(2025, 3, 15)

    def in_f(day: dt.date, tenths: int) -> tuple[dt.date, int] | None:
        if day > last:
            return None
        return day, round(tenths * 1.8 + 320) if day > last - dt.timedelta(days=60) else tenths

    record = rewritten(samples / "oskelmere.dly", tmp_path / "record.csv", in_f)
    status, answer = ask(table("2025-03-17", [30.0] * 14), "2025-03-16", record=record)
    assert status == UNKNOWN
    assert any("--believe recent-nights" in reason for reason in answer["reasons"])


def test_the_last_nights_of_a_record_by_another_thermometer(ask, table, samples, tmp_path):
    """10 °C too warm since late January, it moved the gate from 6 May to 22 April."""

    def warmer(day: dt.date, tenths: int) -> tuple[dt.date, int]:
        return day, tenths + 100 * (day > dt.date(2026, 1, 25))

    record = rewritten(samples / "oskelmere.dly", tmp_path / "record.csv", warmer)
    status, answer = ask(table("2026-04-25", [MILD_F] * 10), "2026-04-24", record=record)
    assert status == UNKNOWN
    assert any("--believe recent-nights" in reason for reason in answer["reasons"])


def test_minima_above_the_maxima_of_every_day(ask, table, samples, tmp_path):
    record = rewritten(samples / "oskelmere.dly", tmp_path / "record.csv", lambda day, tenths: (day, tenths))
    head, *rows = record.read_text().splitlines()
    swapped = [f"{day},{float(low) + 9:.1f},{low}" for day, low in (row.split(",") for row in rows)]
    record.write_text("\n".join([f"{head},tmax_c", *swapped]) + "\n")
    status, answer = ask(table("2026-06-11", [MILD_F] * 14), JUNE, record=record)
    assert status == UNKNOWN
    assert any("--believe record-maxima" in reason for reason in answer["reasons"])


def test_lone_cold_nights_left_out_as_errors_do_not_open_the_gate(ask, table, samples, tmp_path):
    """One June frost in every other spring, far enough from its neighbours to look like an error."""

    def with_frost(day: dt.date, tenths: int) -> tuple[dt.date, int]:
        return day, -40 if day.year % 2 and (day.month, day.day) == (6, 20) else tenths

    record = rewritten(samples / "oskelmere.dly", tmp_path / "record.csv", with_frost)
    status, answer = ask(table("2026-06-08", [MILD_F] * 7), "2026-06-07", record=record)
    assert answer["record"]["suspects"] > 20
    assert status == UNKNOWN
    assert any("--believe suspects" in reason for reason in answer["reasons"])
    assert ask(table("2026-06-08", [MILD_F] * 7), "2026-06-07", "--keep-suspects", record=record)[0] == SHUT


@pytest.mark.parametrize(
    ("zone", "hours"), [("UTC", 0), ("Pacific/Kiritimati", 14), ("America/Los_Angeles", -7)]
)
def test_a_frost_of_tonight_is_seen_whatever_the_machines_zone(run, samples, table, zone, hours, monkeypatch):
    """It is the evening of 10 June in the garden and in UTC, and the next morning in Kiritimati."""
    monkeypatch.setenv("TZ", zone)
    time.tzset()
    forecast = table("2026-06-11", [27.0, *[MILD_F] * 12])
    try:
        with freeze_time("2026-06-10 21:00:00", tz_offset=hours):
            given = ("--record", samples / "oskelmere.dly", "--forecast", forecast, *GARDEN)
            named = run("today", *given, "--time-zone", "America/New_York", "--format", "json")
            bare = run("today", *given, "--format", "json")
    finally:
        monkeypatch.undo()
        time.tzset()
    assert (named.status, bare.status) == (SHUT, SHUT)
    assert not any("--time-zone" in caution for caution in named.json["cautions"])
    assert any("--time-zone" in caution for caution in bare.json["cautions"])


def test_each_document_has_a_unit_of_its_own(run, samples, tmp_path):
    """The unit of a garden's record once turned a forecast of 27 °F into one of 27 °C."""
    record = rewritten(samples / "oskelmere.dly", tmp_path / "record.csv", lambda day, tenths: (day, tenths))
    record.write_text(record.read_text().replace("tmin_c", "tmin"))
    rows = "".join(f"2026-06-{day},27\n" for day in range(11, 25))
    (tmp_path / "forecast.csv").write_text(f"date,tmin\n{rows}")
    site = 'record = "record.csv"\nforecast = "forecast.csv"\nunit = "C"\n'
    garden = tmp_path / "garden.toml"
    garden.write_text(f'units = "us"\n[[site]]\nname = "Hollin Bank"\n{site}')
    unstated = run("today", "--garden", garden, "--on", JUNE)
    assert unstated.status == ERROR
    assert 'forecast_unit = "F"' in run("garden", "--garden", garden).err
    garden.write_text(garden.read_text() + 'forecast_unit = "F"\n')
    assert run("today", "--garden", garden, "--on", JUNE).status == SHUT


def test_what_is_doubted_can_be_overruled_by_name(ask, table, run, samples, tmp_path):
    mild = table("2026-06-11", [MILD_F] * 14)
    assert ask(mild, JUNE, "--offset", "12F")[0] == UNKNOWN
    assert ask(mild, JUNE, "--offset", "12F", "--believe", "offset")[0] == OPEN
    assert run("today", "--record", samples / "oskelmere.dly", "--believe", "everything").status == ERROR
    garden = tmp_path / "garden.toml"
    site = f'record = "{samples / "oskelmere.dly"}"\nforecast = "{mild}"\noffset = "12F"\n'
    garden.write_text(f'units = "us"\n[[site]]\nname = "Hollin Bank"\n{site}')
    assert run("today", "--garden", garden, "--on", JUNE).status == UNKNOWN
    garden.write_text(garden.read_text() + 'believe = ["offset"]\n')
    assert run("today", "--garden", garden, "--on", JUNE).status == OPEN


def test_members_that_freeze_each_on_another_night(ask, table):
    """Seven in ten of the members bring a frost, none of the nights more than one of them."""
    members, columns = range(20), ",".join(f"m{number}_f" for number in range(20))
    nights = [[28 if member == night else MILD_F for member in members] for night in range(14)]
    status, answer = ask(table("2026-06-11", nights, columns, f"{JUNE}T06:00"), JUNE, "--risk", "50%")
    assert status == SHUT
    assert answer["risk_today"] >= 0.7


def test_a_frost_beyond_the_window_is_one_by_the_stations_steps(ask, table):
    """32.3 °F in the garden is 32 °F to a station of whole °F, on each night alike."""
    shut = [ask(table("2026-06-11", [*[MILD_F] * days, 34.3]), JUNE)[0] for days in (12, 16)]
    assert shut == [SHUT, SHUT]


def test_a_frost_that_members_state_beyond_the_window(ask, table):
    nights = [*[[MILD_F] * 4] * 16, [28, 28, 52, 52]]
    status, answer = ask(table("2026-06-11", nights, "m1_f,m2_f,m3_f,m4_f", f"{JUNE}T06:00"), JUNE)
    assert status == SHUT
    assert answer["nights"][-1]["chance"] >= 0.5


@pytest.mark.parametrize(
    ("columns", "mild", "night", "expected"),
    [
        ("tmin_f,m1_f,m2_f,m3_f", [52] * 4, [20, "", "", ""], SHUT),
        (f"tmin_f,{MEMBERS}", [52] * 21, [27, 26, *[52] * 19], SHUT),
        ("q10_f,q50_f,q90_f", [48, 52, 56], [20, "", 40], ERROR),
        ("tmin_f,q10_f", [52, 48], ["", 20], ERROR),
    ],
    ids=["a night without members", "one run colder than members", "no median", "no minimum"],
)
def test_a_frost_that_only_some_columns_of_the_last_night_state(ask, table, columns, mild, night, expected):
    forecast = table("2026-06-11", [*[mild] * 9, night], columns, f"{JUNE}T06:00")
    assert ask(forecast, JUNE)[0] == expected


def test_minima_and_maxima_in_each_others_place(ask, table, tmp_path):
    swapped = [[60.0, 45.0], [60.0, 28.0], *[[60.0, 45.0]] * 8]
    status, answer = ask(table("2026-06-11", swapped, "tmin_f,tmax_f"), JUNE)
    assert status == ERROR
    assert "minima above the maxima" in answer["error"]["what"]
    lows, highs = zip(*swapped, strict=True)
    days = [f"2026-06-{day}" for day in range(11, 21)]
    daily = {"time": days, "temperature_2m_min": lows, "temperature_2m_max": highs}
    units = {"temperature_2m_min": "°F", "temperature_2m_max": "°F"}
    forecast = tmp_path / "daily.json"
    forecast.write_text(json.dumps({"daily": daily, "daily_units": units}))
    assert ask(forecast, JUNE)[0] == ERROR
    front = [[54.0, 66.0], [54.0, 50.0], *[[54.0, 66.0]] * 8]
    assert ask(table("2026-06-11", front, "tmin_f,tmax_f"), JUNE)[0] == OPEN


def test_a_season_that_has_ended_is_shut_in_a_comparison_too(run, samples, table, tmp_path):
    forecast = table("2026-07-11", [60.0] * 14)
    garden = tmp_path / "garden.toml"
    site = f'record = "{samples / "oskelmere.dly"}"\nforecast = "{forecast}"\noffset = "-2F"\n'
    garden.write_text(f'units = "us"\n[[site]]\nname = "Hollin Bank"\n{site}[rules]\nstop_weeks = 12\n')
    assert run("today", "--garden", garden, "--on", "2026-07-10").status == SHUT
    (place,) = run("compare", "--garden", garden, "--on", "2026-07-10", "--format", "json").json["places"]
    assert place["verdict"] == "shut"


@pytest.mark.parametrize(
    ("latitude", "longitude", "name"),
    [(-27.5, 153.0, "hemisphere"), (34.5, -45.0, "place"), (41.5, -52.0, "place")],
)
def test_a_forecast_whose_place_is_not_the_stations(ask, samples, tmp_path, latitude, longitude, name):
    """Its time zone does not tell, or is that of the garden."""
    days = [f"2026-06-{day}" for day in range(11, 25)]
    daily = {"time": days, "temperature_2m_min": [11.0] * len(days)}
    place = {"latitude": latitude, "longitude": longitude}
    document = {"daily": daily, "daily_units": {"temperature_2m_min": "°C"}}
    forecast = tmp_path / "daily.json"
    forecast.write_text(json.dumps(document | place))
    record = rewritten(samples / "oskelmere.dly", tmp_path / "record.csv", lambda day, tenths: (day, tenths))
    head, *rows = record.read_text().splitlines()
    placed = [f"{head},latitude,longitude", *(f"{row},41.5,-45.0" for row in rows)]
    record.write_text("\n".join(placed) + "\n")
    status, answer = ask(forecast, JUNE, record=record)
    assert status == UNKNOWN
    assert any(f"--believe {name}" in reason for reason in answer["reasons"])
    forecast.write_text(json.dumps(document | {"latitude": 41.0, "longitude": -44.5}))
    assert ask(forecast, JUNE, record=record)[0] == OPEN


def test_without_a_forecast_the_climate_tells_of_the_coming_nights_of_autumn(run, samples, tmp_path):
    """Once the season of the gate was over, nothing told of a frost, and feeding went on."""
    garden = tmp_path / "garden.toml"
    text = (samples / "garden.toml").read_text().replace("oskelmere.dly", str(samples / "oskelmere.dly"))
    text = text.replace('forecast = "forecast_clear.csv"\n', "")
    garden.write_text(text.replace("[rules]", "[rules]\nstop_weeks = 0"))
    fed = ("--product", "First feed=30 g", "--group", "old plums", "--on", "2026-05-20")
    assert run("log", "feed", "--garden", garden, *fed).status == OPEN
    answers = {
        on: run("today", "--garden", garden, "--climate-only", "--on", on).status
        for on in ("2026-08-05", "2026-09-15")
    }
    assert answers == {"2026-08-05": OPEN, "2026-09-15": SHUT}
