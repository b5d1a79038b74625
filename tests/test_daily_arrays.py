"""The open daily-array document."""

import copy
import datetime as dt
import json

import numpy as np
import pytest

from frostgate.errors import InputError
from frostgate.sources.forecasts import read_forecast

# structure as published; place and values invented
DOCUMENT = {
    "latitude": 52.5,
    "longitude": 13.4,
    "timezone": "Europe/Berlin",
    "utc_offset_seconds": 7200,
    "daily_units": {"time": "iso8601", "temperature_2m_min": "°C"},
    "daily": {
        "time": ["2026-10-10", "2026-10-11", "2026-10-12"],
        "temperature_2m_min": [11.4, None, -2.5],
    },
}
MEMBERS = [[1.0, None, -1.0], [2.0, None, 0.5], [3.0, None, 2.0], [None, None, 4.5]]


@pytest.fixture
def read(tmp_path):
    def written(document, **said):
        path = tmp_path / "daily.json"
        path.write_text(json.dumps(document), encoding="utf-8")
        return read_forecast(path, **said)

    return written


def _with(**parts):
    """Copy the document with parts replaced or left out (...)."""
    changed = copy.deepcopy(DOCUMENT)
    changed.update(parts)
    return {name: value for name, value in changed.items() if value is not ...}


def _daily(**arrays):
    return _with(daily={**DOCUMENT["daily"], **arrays})


def _units(**units):
    return _with(daily_units={k: v for k, v in {**DOCUMENT["daily_units"], **units}.items() if v is not ...})


def _midnights(utc_offset_h):
    first = dt.datetime(2026, 10, 10, tzinfo=dt.timezone(dt.timedelta(hours=utc_offset_h)))
    return [int((first + dt.timedelta(days=k)).timestamp()) for k in range(3)]


def _in_seconds(times, **parts):
    units = {"time": "unixtime", "temperature_2m_min": "°C"}
    return _with(daily={**DOCUMENT["daily"], "time": times}, daily_units=units, **parts)


def _ensemble(members=MEMBERS):
    arrays = {f"temperature_2m_min_member{i:02d}": values for i, values in enumerate(members, start=1)}
    return _with(daily={"time": DOCUMENT["daily"]["time"], **arrays})


def test_days_and_minima_are_read_as_they_stand(read):
    forecast = read(DOCUMENT)
    assert (forecast.form, forecast.time_zone) == ("daily arrays", "Europe/Berlin")
    assert [str(date) for date in forecast.dates] == ["2026-10-10", "2026-10-11", "2026-10-12"]
    np.testing.assert_array_equal(forecast.tmin_c, [11.4, np.nan, -2.5])


def test_the_document_never_says_when_it_was_made(read):
    forecast = read({**DOCUMENT, "generated_at": "2026-10-09T12:00", "generationtime_ms": 0.2})
    assert (forecast.issued_at, forecast.issued_stated) == (dt.datetime(2026, 10, 9, 6), False)
    assert "does not say when" in forecast.notes[-1]


@pytest.mark.parametrize("document", [_units(temperature_2m_min=...), _with(daily_units=...)])
def test_a_document_without_unit_asks_for_it(read, document):
    with pytest.raises(InputError, match=r"no unit is stated \(daily_units.temperature_2m_min\)") as caught:
        read(document)
    assert caught.value.remedy == "Say --forecast-unit F or --forecast-unit C."
    assert read(document, unit="F").tmin_c[0] == pytest.approx((11.4 - 32) / 1.8)


def test_unix_seconds_are_dated_in_the_documents_zone(read):
    for parts in ({}, {"timezone": ...}, {"utc_offset_seconds": ...}):
        forecast = read(_in_seconds(_midnights(2), **parts))  # Berlin is UTC+2 until 25 October 2026
        assert [str(date) for date in forecast.dates] == ["2026-10-10", "2026-10-11", "2026-10-12"]
    assert read(_in_seconds(_midnights(2), timezone=...)).time_zone == "UTC+02:00"


def test_unix_seconds_survive_the_change_of_the_clocks(read):
    midnights = [int(dt.datetime(2026, 10, 24 + k, tzinfo=dt.timezone(dt.timedelta(hours=2))).timestamp())
                 for k in range(3)]  # fmt: skip  # the third is 23:00 of the day before, on the clock
    forecast = read(_in_seconds(midnights))
    assert [str(date) for date in forecast.dates] == ["2026-10-24", "2026-10-25", "2026-10-26"]


def test_unix_seconds_without_a_zone_ask_for_it(read):
    document = _in_seconds(_midnights(2), timezone=..., utc_offset_seconds=...)
    with pytest.raises(
        InputError, match=r"Unix seconds, and no time zone is known \(daily.time, entry 1\)"
    ) as caught:
        read(document)
    assert caught.value.value == str(_midnights(2)[0])
    assert caught.value.remedy.startswith("Say --time-zone")
    assert str(read(document, time_zone="Europe/Berlin").dates[0]) == "2026-10-10"


def test_members_give_mean_and_sample_sd(read):
    forecast = read(_ensemble(), unit="C")
    np.testing.assert_allclose(forecast.tmin_c, [2.0, np.nan, 1.5])
    np.testing.assert_allclose(forecast.sd_c, [1.0, np.nan, np.std([-1, 0.5, 2, 4.5], ddof=1)])
    assert "mean of 4 members" in forecast.notes[0]


def test_a_single_run_beside_members_is_not_read_and_named(read):
    document = _ensemble()
    document["daily"]["temperature_2m_min"] = [2.5, 2.5, 2.5]
    forecast = read(document)
    assert forecast.tmin_c[0] == 2.0
    assert "Not read: daily.temperature_2m_min" in forecast.notes[0]
    document["daily"]["temperature_2m_min"] = [20.0, 2.5, 2.5]
    with pytest.raises(InputError, match="contradicts its own members"):
        read(document)


def test_days_of_another_zone_are_dated_by_the_growers_mornings(read):
    utc = _with(timezone="GMT", utc_offset_seconds=0)
    forecast = read(utc, time_zone="Pacific/Auckland")  # UTC+13: a UTC day runs from 13:00 to 13:00 there
    assert [str(date) for date in forecast.dates] == ["2026-10-11", "2026-10-12", "2026-10-13"]
    assert forecast.time_zone == "Pacific/Auckland"
    assert "days are those of GMT" in forecast.notes[0]


def test_days_of_utc_serve_a_place_west_of_it(read):
    forecast = read(_with(timezone="GMT", longitude=-122.0), time_zone="America/Los_Angeles")
    assert [str(date) for date in forecast.dates] == ["2026-10-10", "2026-10-11", "2026-10-12"]
    assert read(_with(timezone="GMT", longitude=-122.0)).time_zone == "GMT"


@pytest.mark.parametrize(("longitude", "hours"), [(77.0, 5), (175.0, 12)])
def test_days_of_utc_cut_the_nights_of_a_place_far_east_and_are_refused(read, longitude, hours):
    with pytest.raises(InputError, match=f"days of GMT, which begin {hours} hours after midnight") as caught:
        read(_with(timezone="GMT", longitude=longitude))
    assert caught.value.value == str(longitude)
    assert "own time zone" in caught.value.remedy


@pytest.mark.parametrize(
    ("zone", "longitude"),
    [("America/Adak", 173.0), ("Pacific/Apia", -172.0), ("Asia/Urumqi", 87.0), ("Europe/Madrid", -8.5)],
)  # clocks furthest from their sun
def test_real_clocks_are_never_taken_for_those_of_elsewhere(read, zone, longitude):
    assert read(_with(timezone=zone, longitude=longitude)).time_zone == zone


def test_a_document_without_zone_takes_the_growers_word(read):
    document = _with(timezone=..., utc_offset_seconds=...)
    assert read(document).time_zone is None
    forecast = read(document, time_zone="Europe/Berlin")
    assert (forecast.time_zone, str(forecast.dates[0])) == ("Europe/Berlin", "2026-10-10")


@pytest.mark.parametrize(
    ("document", "shown", "what"),
    [
        (
            _daily(temperature_2m_min=[1.0, 2.0]),
            "2",
            r"2 values for the 3 days .*\(daily.temperature_2m_min\)",
        ),
        (_daily(temperature_2m_min=[1, 2, 3, 4]), "4", r"4 values for the 3 days"),
        (_daily(temperature_2m_min=[1, "2", 3]), '"2"', r"not a number or null \(.*_min, entry 2\)"),
        (_daily(temperature_2m_min=[1, -999, 3]), "-999 °C", r"no place on earth .*\(.*_min, entry 2\)"),
        (_daily(temperature_2m_min=7.5), "7.5", r"not an array .*\(daily.temperature_2m_min\)"),
        (_with(daily={"time": ["2026-10-10"]}), "time", r"no array of minima \(daily\)"),
        (_daily(time=None), None, r"missing .*\(daily.time\)"),
        (_daily(time=[1, 2, 3]), "1", r"not a text \(daily.time, entry 1\)"),
        (
            _daily(time=["2026-10-10", "11.10.2026", "x"]),
            "11.10.2026",
            r"not a date .*\(daily.time, entry 2\)",
        ),
        (_with(timezone="Mars/Base"), "Mars/Base", r"no time zone has this name \(timezone\)"),
        (_with(timezone=5), "5", r"not a text \(timezone\)"),
        (
            _with(timezone=..., utc_offset_seconds=90000),
            "90000",
            r"no offset from UTC \(utc_offset_seconds\)",
        ),
        (_with(timezone=..., utc_offset_seconds="2h"), '"2h"', r"not a whole number \(utc_offset_seconds\)"),
        (_with(longitude="13.4 E"), '"13.4 E"', r"not a number or null \(longitude\)"),
        (_units(time="unixtime"), '"2026-10-10"', r"not a whole number \(daily.time, entry 1\)"),
        (_units(time="julian"), "julian", r"neither iso8601 nor unixtime \(daily_units.time\)"),
        (_units(temperature_2m_min="K"), "K", r"not °F or °C \(daily_units.temperature_2m_min\)"),
        (_with(daily_units=[]), None, r"no unit is stated"),
        (_in_seconds([0.5, 1.5, 2.5]), "0.5", r"not a whole number \(daily.time, entry 1\)"),
        (_in_seconds([10**30, 1, 2]), str(10**30), r"not Unix seconds of this age \(daily.time, entry 1\)"),
        (
            {**_in_seconds(_midnights(2)), "daily_units": {"temperature_2m_min": "°C"}},
            str(_midnights(2)[0]),
            r"daily_units.time does not say unixtime \(daily.time, entry 1\)",
        ),
        (
            _ensemble(MEMBERS[:2]),
            "temperature_2m_min_member01, temperature_2m_min_member02",
            r"fewer than 3 members \(daily\)",
        ),
        (
            _ensemble([*MEMBERS, [1.0]]),
            "1",
            r"1 values for the 3 days .*\(daily.temperature_2m_min_member05\)",
        ),
        (
            {**_ensemble(), "daily_units": {"temperature_2m_min": "°C", "temperature_2m_min_member02": "°F"}},
            "°F",
            r"mixed units: daily_units.temperature_2m_min is in °C \(daily_units.*_member02\)",
        ),
    ],
)
def test_a_document_that_cannot_be_used_is_refused_with_position_and_value(read, document, shown, what):
    with pytest.raises(InputError, match=what) as caught:
        read(document)
    assert caught.value.file.endswith("daily.json")
    assert caught.value.value == shown
    assert caught.value.remedy
