"""What any form states of a night: its unit, its degrees, its dates, times and zone."""

import datetime as dt
import math
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from frostgate.errors import InputError
from frostgate.sources.forecasts.documents import mornings, parse_instant, parse_interval, parse_unit
from frostgate.sources.forecasts.nights import find_zone, mean_and_sd, minimum_c, parse_date, parse_time
from frostgate.sources.forecasts.strict_json import JsonValue
from frostgate.sources.forecasts.tables import spread_c
from frostgate.sources.text import Spot

FILE = Path("f.csv")
SPOT = Spot(file=FILE, line=7, name="column tmin")
LINE_4 = Spot(file=Path("f.csv"), line=4)
EASTERN = ZoneInfo("America/New_York")


@pytest.mark.parametrize(
    ("text", "unit"),
    [("°C", "C"), ("°F", "F"), ("C", "C"), ("f", "F"),
     ("wmoUnit:degC", "C"), ("wmoUnit:degF", "F"), ("unit:degC", "C"), ("celsius", "C"),
     ("Fahrenheit", "F"), (" °F ", "F")],
)  # fmt: skip
def test_a_unit_is_known_by_its_names(text, unit):
    assert parse_unit(JsonValue(value=text, spot=SPOT)) == (unit, SPOT)


@pytest.mark.parametrize("text", ["K", "", "wmoUnit:K", "degrees", "°"])
def test_another_unit_is_refused_with_its_place(text):
    with pytest.raises(InputError, match="not °F or °C") as caught:
        parse_unit(JsonValue(value=text, spot=SPOT))
    assert (caught.value.line, caught.value.value) == (7, text)


def test_missing_stays_missing():
    assert math.isnan(minimum_c(math.nan, "F", SPOT))
    assert math.isnan(spread_c(math.nan, "F", SPOT))


@pytest.mark.parametrize(
    ("degrees", "unit", "value"),
    [(-90.1, "C", "-90.1 °C"), (60.1, "C", "60.1 °C"), (-9999.0, "F", "-9999 °F"), (141.0, "F", "141 °F")],
)
def test_a_minimum_outside_nature_is_refused(degrees, unit, value):
    with pytest.raises(InputError, match="no place on earth has such a temperature") as caught:
        minimum_c(degrees, unit, SPOT)
    assert (caught.value.file, caught.value.line, caught.value.value) == ("f.csv", 7, value)


@pytest.mark.parametrize(("degrees", "what"), [(-0.1, "never negative"), (99.0, "wider than any climate")])
def test_a_spread_that_cannot_be_is_refused(degrees, what):
    with pytest.raises(InputError, match=what) as caught:
        spread_c(degrees, "C", SPOT)
    assert (caught.value.line, caught.value.value) == (7, f"{degrees:g} °C")


def test_missing_members_are_left_out_and_too_few_give_no_spread():
    assert mean_and_sd([1.0, math.nan, 2.0, 3.0]) == (2.0, 1.0)
    mean, sd = mean_and_sd([1.0, math.nan, 2.0])
    assert mean == 1.5
    assert math.isnan(sd)
    assert all(math.isnan(x) for x in mean_and_sd([math.nan] * 3))


def _utc(month, day, hour, minute=0):
    return dt.datetime(2026, month, day, hour, minute, tzinfo=dt.UTC)


def test_a_leap_day_is_read_where_it_exists():
    assert parse_date("2028-02-29", LINE_4) == dt.date(2028, 2, 29)


@pytest.mark.parametrize(
    "text",
    ["2026-02-29", "2026-4-8", "08.04.2026", "20260408", "2026-W15-3", "", "2026-04-08T06:00", "0001-01-01",
     "9999-12-31", "٢٠٢٦-04-08"],
)  # fmt: skip
def test_what_is_no_iso_date_of_this_age_is_refused(text):
    with pytest.raises(InputError, match="Write dates as YYYY-MM-DD") as caught:
        parse_date(text, LINE_4)
    assert (caught.value.file, caught.value.line, caught.value.value) == ("f.csv", 4, text)


@pytest.mark.parametrize("text", ["2026-04-10T06:00", "2026-04-10 06:00:00", "2026-04-10t06:00:00.000"])
def test_a_time_without_offset_stays_as_it_stands(text):
    assert parse_time(text, LINE_4) == dt.datetime(2026, 4, 10, 6)


@pytest.mark.parametrize("text", ["2026-04-10T06:00:00Z", "2026-04-10T02:00-04:00", "2026-04-10T07:30+0130"])
def test_an_instant_is_the_same_in_every_offset(text):
    assert parse_instant(JsonValue(value=text, spot=LINE_4)) == _utc(4, 10, 6)


@pytest.mark.parametrize(
    "text",
    ["2026-04-10", "2026-04-10T25:00", "10.04.2026 06:00", "06:00", "2026-04-10T06", "", "1026-04-10T06:00",
     "2026-04-10T06:00+99:00"],
)  # fmt: skip
def test_what_is_no_time_is_refused(text):
    with pytest.raises(InputError, match="not a date with its time") as caught:
        parse_time(text, LINE_4)
    assert (caught.value.file, caught.value.line, caught.value.value) == ("f.csv", 4, text)


def test_an_instant_needs_its_offset():
    with pytest.raises(InputError, match="a time without its offset from UTC: '2026-04-10T06:00'"):
        parse_instant(JsonValue(value="2026-04-10T06:00", spot=LINE_4))


@pytest.mark.parametrize(
    "name",
    [
        "Mars/Olympus",
        "",
        "Europe",
        "../etc/passwd",
        "/etc/passwd",
        "a\0b",
        "x" * 300,
        "EST5EDT6",
        "UTC-15:00",
    ],
)
def test_a_zone_that_does_not_exist_is_refused_by_its_name(name):
    with pytest.raises(InputError, match="no time zone has this name") as caught:
        find_zone(name, LINE_4)
    assert (caught.value.line, caught.value.value) == (4, name)
    assert caught.value.remedy == "Say --time-zone, for example America/New_York."


@pytest.mark.parametrize(
    ("start", "end", "zone", "dates"),
    [
        # 20:00 to 09:00 in New York (UTC-4 in April)
        (_utc(4, 8, 0), _utc(4, 8, 13), EASTERN, ["2026-04-08"]),
        # 06:00 sharp: an interval holds its end, not its start
        (_utc(4, 8, 0), _utc(4, 8, 10), EASTERN, ["2026-04-08"]),
        (_utc(4, 8, 10), _utc(4, 9, 9, 59), EASTERN, ["2026-04-09"]),
        (_utc(4, 8, 10), _utc(4, 9, 10), EASTERN, ["2026-04-09"]),
        # two mornings
        (_utc(4, 8, 9), _utc(4, 9, 11), EASTERN, ["2026-04-08", "2026-04-09"]),
        # no morning: the date of its end, which is 01:00 on the 9th in New York
        (_utc(4, 9, 1), _utc(4, 9, 5), EASTERN, ["2026-04-09"]),
        # the night the clocks go forward (8 March 2026): 06:00 is then 10:00 UTC
        (_utc(3, 8, 1), _utc(3, 8, 10), EASTERN, ["2026-03-08"]),
        # the far side of the date line, UTC+12 in April
        (_utc(4, 8, 8), _utc(4, 8, 21), ZoneInfo("Pacific/Auckland"), ["2026-04-09"]),
        (_utc(4, 8, 0), _utc(4, 8, 7), dt.UTC, ["2026-04-08"]),
    ],
)  # from the definition, by hand
def test_an_interval_holds_the_mornings_whose_six_o_clock_it_holds(start, end, zone, dates):
    assert [str(date) for date in mornings(start, end, zone)] == dates


def test_the_offset_in_which_an_interval_is_written_does_not_matter():
    start, end = _utc(4, 8, 0), _utc(4, 8, 13)
    assert mornings(start.astimezone(EASTERN), end.astimezone(EASTERN), EASTERN) == mornings(
        start, end, EASTERN
    )


@pytest.mark.parametrize(
    ("lasting", "hours"),
    [("PT13H", 13), ("P1D", 24), ("P1DT2H", 26), ("PT90M", 1.5), ("P1DT1H30M", 25.5), ("P46D", 46 * 24)],
)
def test_a_duration_is_read_in_days_hours_and_minutes(lasting, hours):
    stated = JsonValue(value=f"2026-04-08T00:00:00+00:00/{lasting}", spot=LINE_4)
    start, end = parse_interval(stated)
    assert end - start == dt.timedelta(hours=hours)


@pytest.mark.parametrize(
    "lasting",
    ["P", "PT", "P1DT", "13H", "PT13", "P1H", "PT1D", "P1W", "P1M", "PT1.5H", "PT-1H", "pt1h", "",
     "PT13H/PT1H", "PT0H", "P99999D", "2026-04-08T13:00:00+00:00"],
)  # fmt: skip
def test_what_is_no_such_duration_is_refused(lasting):
    text = f"2026-04-08T00:00:00+00:00/{lasting}"
    with pytest.raises(InputError, match="interval") as caught:
        parse_interval(JsonValue(value=text, spot=LINE_4))
    assert (caught.value.line, caught.value.value) == (4, text)


@pytest.mark.parametrize("text", ["PT13H", "2026-04-08T00:00:00/PT13H", "2026-04-08/PT13H", "/PT13H"])
def test_an_interval_without_an_instant_is_refused(text):
    with pytest.raises(InputError, match=r"f\.csv, line 4: (not|a time without) "):
        parse_interval(JsonValue(value=text, spot=LINE_4))
