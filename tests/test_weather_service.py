"""The two documents of the US National Weather Service that state minima."""

import copy
import datetime as dt
import json

import numpy as np
import pytest

from frostgate.errors import InputError
from frostgate.sources.forecasts import read_forecast

# The shape of a real document of 2023-12-10, trimmed; the temperatures and times are invented.
FORECAST = {
    "properties": {
        "units": "us",
        "updateTime": "2026-04-08T23:45:27+00:00",
        "generatedAt": "2026-04-09T00:10:00+00:00",
        "periods": [
            {"startTime": "2026-04-08T19:00:00-04:00", "endTime": "2026-04-09T06:00:00-04:00",
             "isDaytime": False, "temperature": 32, "temperatureUnit": "F", "temperatureTrend": "rising"},
            {"startTime": "2026-04-09T06:00:00-04:00", "endTime": "2026-04-09T18:00:00-04:00",
             "isDaytime": True, "temperature": 50, "temperatureUnit": "F"},
            {"startTime": "2026-04-09T18:00:00-04:00", "endTime": "2026-04-10T06:00:00-04:00",
             "isDaytime": False, "temperature": {"unitCode": "wmoUnit:degC", "value": -1.5}},
            {"startTime": "2026-04-10T18:00:00-04:00", "endTime": "2026-04-11T06:00:00-04:00",
             "isDaytime": False, "temperature": None, "temperatureUnit": "F"},
        ],
    }
}  # fmt: skip
GRIDPOINT = {
    "geometry": {"type": "Point", "coordinates": [-74.0, 40.8]},
    "properties": {
        "updateTime": "2026-04-08T02:05:40+00:00",
        "timeZone": "America/New_York",
        "minTemperature": {
            "uom": "wmoUnit:degC",
            "values": [
                {"validTime": "2026-04-08T00:00:00+00:00/PT13H", "value": 1.1},
                {"validTime": "2026-04-09T00:00:00+00:00/PT13H", "value": None},
                {"validTime": "2026-04-10T00:00:00+00:00/PT13H", "value": -2.5},
            ],
        },
    },
}


@pytest.fixture
def read(tmp_path):
    def written(document, **said):
        path = tmp_path / "doc.json"
        path.write_text(json.dumps(document), encoding="utf-8")
        return read_forecast(path, **said)

    return written


def _changed(document, path, value):
    """Copy a document with one value changed, or left out (...)."""
    changed = copy.deepcopy(document)
    *way, last = path
    found = changed
    for step in way:
        found = found[step]
    if value is ...:
        del found[last]
    else:
        found[last] = value
    return changed


def _period(number, name):
    return ("properties", "periods", number, name)


def _value(number, name):
    return ("properties", "minTemperature", "values", number, name)


def test_nights_are_dated_by_the_local_date_they_end_on_each_in_its_own_unit(read):
    forecast = read(FORECAST)
    assert [str(date) for date in forecast.dates] == ["2026-04-09", "2026-04-10", "2026-04-11"]
    np.testing.assert_allclose(forecast.tmin_c, [0.0, -1.5, np.nan])
    assert np.isnan(forecast.sd_c).all()
    assert forecast.time_zone == "UTC-04:00"


def test_the_time_of_issue_is_brought_to_the_periods_own_offset(read):
    assert read(FORECAST).issued_at == dt.datetime(2026, 4, 8, 19, 45, 27)


@pytest.mark.parametrize("name", ["generatedAt", "updated"])
def test_another_time_of_issue_stands_in_where_the_first_is_missing(read, name):
    document = copy.deepcopy(FORECAST)
    del document["properties"]["updateTime"], document["properties"]["generatedAt"]
    assert not read(document).issued_stated
    document["properties"][name] = "2026-04-09T00:00:00Z"
    assert read(document).issued_at == dt.datetime(2026, 4, 8, 20)


def test_the_growers_zone_dates_the_periods(read):
    forecast = read(FORECAST, time_zone="America/Los_Angeles")
    assert forecast.time_zone == "America/Los_Angeles"
    assert forecast.issued_at == dt.datetime(2026, 4, 8, 16, 45, 27)  # UTC-7 in April
    assert str(forecast.dates[0]) == "2026-04-09"


def test_a_stated_zone_names_the_place(read):
    assert read(_changed(FORECAST, ("properties", "timeZone"), "America/New_York")).time_zone == (
        "America/New_York"
    )


@pytest.mark.parametrize(
    ("path", "value", "shown", "what"),
    [
        (_period(0, "isDaytime"), "false", '"false"', r"not true or false \(.*entry 1, isDaytime\)"),
        (_period(0, "isDaytime"), ..., None, r"missing .* true or false is due \(.*entry 1, isDaytime\)"),
        (_period(0, "temperature"), "32", '"32"', r"not a number or null \(.*entry 1, temperature\)"),
        (_period(0, "temperature"), True, "true", r"not a number or null \(.*entry 1, temperature\)"),
        (_period(0, "temperature"), ..., None, r"missing \(properties.periods, entry 1, temperature\)"),
        (_period(0, "temperature"), 999, "999 °F", r"no place on earth .*\(.*entry 1, temperature\)"),
        (_period(0, "temperatureUnit"), "K", "K", r"not °F or °C \(.*entry 1, temperatureUnit\)"),
        (_period(0, "temperatureUnit"), None, None, r"missing .* \(.*entry 1, temperatureUnit\)"),
        (_period(2, "temperature"), {"value": 1}, None, r"missing .*\(.*entry 3, temperature.unitCode\)"),
        (_period(2, "temperature"), {"unitCode": "wmoUnit:degC"}, None, r"missing .*temperature.value\)"),
        (_period(0, "endTime"), "2026-04-09T06:00:00", "2026-04-09T06:00:00", "a time without its offset"),
        (_period(0, "endTime"), "tomorrow", "tomorrow", r"not a date with its time \(.*entry 1, endTime\)"),
        (_period(0, "endTime"), 5, "5", r"not a text \(properties.periods, entry 1, endTime\)"),
        (_period(0, "startTime"), ..., None, r"missing .* \(properties.periods, entry 1, startTime\)"),
        (
            _period(3, "endTime"),
            "2026-04-11T12:01:00-04:00",
            "2026-04-11T12:01:00-04:00",
            r"a night that ends after noon, local time \(.*entry 4, endTime\)",
        ),
        (
            _period(0, "endTime"),
            "2026-04-08T18:00:00-04:00",
            "2026-04-08T18:00:00-04:00",
            r"a period that ends before it starts \(.*entry 1, endTime\)",
        ),
        (
            _period(2, "startTime"),
            "2026-04-09T05:00:00-04:00",
            "2026-04-09T05:00:00-04:00",
            r"begins before the one in properties.periods, entry 1 ends \(.*entry 3, startTime\)",
        ),
        (("properties", "periods"), {}, "{}", r"not an array .*\(properties.periods\)"),
        (
            ("properties", "updateTime"),
            "today",
            "today",
            r"not a date with its time \(properties.updateTime\)",
        ),
        (("properties", "timeZone"), "Mars/Base", "Mars/Base", r"no time zone .*\(properties.timeZone\)"),
    ],
)
def test_a_forecast_that_cannot_be_used_is_refused_with_position_and_value(read, path, value, shown, what):
    with pytest.raises(InputError, match=what) as caught:
        read(_changed(FORECAST, path, value))
    assert caught.value.file.endswith("doc.json")
    assert caught.value.value == shown
    assert caught.value.remedy


def test_two_nights_of_one_date_are_refused_with_both_positions(read):
    document = _changed(FORECAST, _period(0, "endTime"), "2026-04-09T02:00:00-04:00")
    document["properties"]["periods"][2]["startTime"] = "2026-04-09T03:00:00-04:00"
    document["properties"]["periods"][2]["endTime"] = "2026-04-09T06:00:00-04:00"
    with pytest.raises(
        InputError, match=r"periods, entry 3\) comes after 2026-04-09 \(.*entry 1\)"
    ) as caught:
        read(document)
    assert caught.value.value == "2026-04-09"


def test_the_hourly_forecast_is_refused_by_its_name(read):
    hours = [
        {"startTime": f"2026-04-09T0{h}:00:00-04:00", "endTime": f"2026-04-09T0{h + 1}:00:00-04:00",
         "isDaytime": False, "temperature": 40, "temperatureUnit": "F"}
        for h in range(6)
    ]  # fmt: skip
    with pytest.raises(InputError, match="an hourly forecast, which states no minima") as caught:
        read({"properties": {"periods": hours}})
    assert "half days" in caught.value.remedy


def test_intervals_are_dated_by_the_mornings_they_hold(read):
    forecast = read(GRIDPOINT)
    assert [str(date) for date in forecast.dates] == ["2026-04-08", "2026-04-09", "2026-04-10"]
    np.testing.assert_array_equal(forecast.tmin_c, [1.1, np.nan, -2.5])
    assert forecast.issued_at == dt.datetime(2026, 4, 7, 22, 5, 40)  # UTC-4
    assert (forecast.time_zone, forecast.notes) == ("America/New_York", ())


def test_an_interval_over_two_mornings_gives_both(read):
    document = _changed(GRIDPOINT, _value(2, "validTime"), "2026-04-10T00:00:00+00:00/P1DT13H")
    assert [str(d) for d in read(document).dates[2:]] == ["2026-04-10", "2026-04-11"]


@pytest.mark.parametrize(
    ("geometry", "zone"),
    [
        ({"type": "Point", "coordinates": [-74.0, 40.8]}, "UTC-05:00"),
        ({"type": "Polygon", "coordinates": [[[7.0, 50], [7.2, 50], [7.2, 51], [7.0, 50]]]}, "UTC"),
        ({"type": "Point", "coordinates": [-180.0, 52]}, "UTC-12:00"),
        ({"type": "Polygon", "coordinates": [[[179.9, 52], [-179.9, 52], [-179.8, 53]]]}, "UTC+12:00"),
    ],
    ids=["a point", "a polygon", "the date line", "across the date line"],
)
def test_without_a_zone_the_sun_dates_the_nights_and_a_note_says_so(read, geometry, zone):
    document = _changed(GRIDPOINT, ("properties", "timeZone"), ...)
    forecast = read(_changed(document, ("geometry",), geometry))
    assert forecast.time_zone == zone
    assert "dated by the sun" in forecast.notes[0]


def test_the_sun_and_the_clock_give_the_same_dates(read):
    by_clock, by_sun = read(GRIDPOINT), read(_changed(GRIDPOINT, ("properties", "timeZone"), ...))
    np.testing.assert_array_equal(by_clock.dates, by_sun.dates)


@pytest.mark.parametrize(
    "geometry",
    [None, {}, {"type": "Point"}, {"type": "Polygon", "coordinates": []},
     {"type": "LineString", "coordinates": [[1.0, 2.0]]}],
    ids=["null", "empty", "no coordinates", "no points", "a line"],
)  # fmt: skip
def test_without_zone_and_place_the_grower_is_asked(read, geometry):
    document = _changed(GRIDPOINT, ("properties", "timeZone"), ...)
    document = _changed(document, ("geometry",), geometry)
    with pytest.raises(
        InputError, match=r"neither a time zone nor a place .*\(properties.timeZone\)"
    ) as caught:
        read(document)
    assert caught.value.remedy == "Say --time-zone, for example America/New_York."
    assert read(document, time_zone="America/New_York").time_zone == "America/New_York"


@pytest.mark.parametrize("longitude", [181.0, -200.0, None])
def test_a_longitude_that_is_none_is_refused(read, longitude):
    document = _changed(GRIDPOINT, ("properties", "timeZone"), ...)
    with pytest.raises(InputError, match=r"not a longitude .*\(geometry.coordinates, entry 1\)"):
        read(_changed(document, ("geometry", "coordinates"), [longitude, 40.0]))


@pytest.mark.parametrize(
    ("path", "value", "shown", "what"),
    [
        (("properties", "minTemperature"), None, None, r"missing .*\(properties.minTemperature\)"),
        (("properties", "minTemperature", "uom"), ..., None, r"missing .*\(properties.minTemperature.uom\)"),
        (("properties", "minTemperature", "uom"), "wmoUnit:K", "wmoUnit:K", r"not °F or °C \(.*uom\)"),
        (_value(1, "value"), "1.1", '"1.1"', r"not a number or null \(.*values, entry 2, value\)"),
        (_value(1, "value"), ..., None, r"missing \(.*values, entry 2, value\)"),
        (_value(1, "value"), -99, "-99 °C", r"no place on earth .*\(.*values, entry 2, value\)"),
        (
            _value(1, "validTime"),
            "2026-04-09T00:00:00+00:00/P46DT1M",
            "2026-04-09T00:00:00+00:00/P46DT1M",
            r"an interval of more than 46 days \(.*entry 2, validTime\)",
        ),
        (_value(1, "validTime"), "PT13H", "PT13H", r"not an interval such as .*\(.*entry 2, validTime\)"),
        (("properties", "timeZone"), "Mars/Base", "Mars/Base", r"no time zone .*\(properties.timeZone\)"),
    ],
)
def test_a_gridpoint_that_cannot_be_used_is_refused_with_position_and_value(read, path, value, shown, what):
    with pytest.raises(InputError, match=what) as caught:
        read(_changed(GRIDPOINT, path, value))
    assert caught.value.file.endswith("doc.json")
    assert caught.value.value == shown
    assert caught.value.remedy
