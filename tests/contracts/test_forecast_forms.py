"""What every form of a forecast keeps, whatever its file looks like."""

import datetime as dt
import gzip
import json

import numpy as np
import pytest

from frostgate.errors import InputError
from frostgate.sources.forecasts import FORMS, forms_of, read_forecast
from frostgate.sources.forecasts.nights import Opened
from frostgate.sources.forecasts.strict_json import JsonValue, parse_json
from frostgate.sources.text import Spot

FIRST = dt.date(2026, 4, 8)
DAYS = [FIRST + dt.timedelta(days=k) for k in range(4)]
WHOLE_F = [41, 14, -4, 23]  # 5, -10, -20 and -5 °C exactly
WHOLE_C = [5, -10, -20, -5]
GAP = 1  # a night without a minimum, in the tests that need one


def _table(days, degrees, unit):
    rows = [f"{day},{'' if d is None else d}" for day, d in zip(days, degrees, strict=True)]
    return "\n".join([f"date,tmin_{unit.lower()}", *rows, ""])


def _quantiles(days, degrees, unit):
    rows = [";".join([str(day), *(["", ""] if d is None else [str(d - 2), str(d)])])
            for day, d in zip(days, degrees, strict=True)]  # fmt: skip
    return "\n".join([f"date;q10_{unit.lower()};q50_{unit.lower()}", *rows, ""])


def _member_columns(days, degrees, unit):
    rows = ["\t".join([str(day), *(["", "", ""] if d is None else [str(d - 1), str(d), str(d + 1)])])
            for day, d in zip(days, degrees, strict=True)]  # fmt: skip
    return "\n".join(["date\t" + "\t".join(f"member_{k}_{unit.lower()}" for k in (1, 2, 3)), *rows, ""])


def _periods(days, degrees, unit):
    periods = [
        {
            "startTime": f"{day - dt.timedelta(days=1)}T18:00:00-04:00",
            "endTime": f"{day}T06:00:00-04:00",
            "isDaytime": False,
            "temperature": d,
            "temperatureUnit": unit,
        }
        for day, d in zip(days, degrees, strict=True)
    ]
    return json.dumps({"properties": {"periods": periods}}, indent=1)


def _gridpoint(days, degrees, unit):
    values = [{"validTime": f"{day}T00:00:00+00:00/PT13H", "value": d}
              for day, d in zip(days, degrees, strict=True)]  # fmt: skip
    layer = {"uom": f"wmoUnit:deg{unit}", "values": values}
    return json.dumps({"properties": {"timeZone": "America/New_York", "minTemperature": layer}}, indent=1)


def _daily(days, degrees, unit, **more):
    units = {"time": "iso8601", "temperature_2m_min": f"°{unit}"}
    daily = {"time": [str(day) for day in days], "temperature_2m_min": degrees, **more}
    return json.dumps(
        {"timezone": "America/New_York", "daily_units": units, "daily": daily}, indent=1, ensure_ascii=False
    )


def _daily_members(days, degrees, unit):
    members = {
        f"temperature_2m_min_member{k:02d}": [None if d is None else d + step for d in degrees]
        for k, step in ((1, -1), (2, 0), (3, 1))
    }
    return _daily(days, degrees, unit, **members)


SAMPLES = {
    "table": ("table", _table),
    "table of quantiles": ("table", _quantiles),
    "table of members": ("table", _member_columns),
    "periods": ("US National Weather Service forecast", _periods),
    "gridpoint": ("US National Weather Service gridpoint data", _gridpoint),
    "daily arrays": ("daily arrays", _daily),
    "daily arrays of members": ("daily arrays", _daily_members),
}
SPREAD = {name for name in SAMPLES if "quantiles" in name or "members" in name}


@pytest.fixture(params=SAMPLES)
def sample(request):
    return request.param


@pytest.fixture
def read(tmp_path, sample):
    def written(days=DAYS, degrees=WHOLE_C, unit="C", change=lambda content: content, **said):
        path = tmp_path / "forecast.bin"  # its name says nothing
        path.write_bytes(change(SAMPLES[sample][1](days, degrees, unit).encode()))
        return read_forecast(path, **said)

    return written


def _same(one, other):
    np.testing.assert_array_equal(one.dates, other.dates)
    np.testing.assert_array_equal(one.tmin_c, other.tmin_c)
    np.testing.assert_array_equal(one.sd_c, other.sd_c)
    assert (one.form, one.issued_at, one.time_zone) == (other.form, other.issued_at, other.time_zone)


def test_every_registered_form_has_a_sample():
    assert set(FORMS) == {form for form, _ in SAMPLES.values()}


def test_a_sample_is_of_its_form_alone(tmp_path, sample):
    form, write = SAMPLES[sample]
    text, path = write(DAYS, WHOLE_C, "C"), tmp_path / "f"
    tree = parse_json(text, path) if text[0] == "{" else JsonValue(value=None, spot=Spot(file=path))
    opened = Opened(path=path, text=text, tree=tree)
    assert forms_of(opened) == [form]


def test_minima_are_celsius_dated_by_their_morning(read, sample):
    forecast = read()
    assert forecast.form == SAMPLES[sample][0]
    np.testing.assert_array_equal(forecast.dates, np.array(DAYS, dtype="datetime64[D]"))
    np.testing.assert_allclose(forecast.tmin_c, WHOLE_C)
    assert np.isfinite(forecast.sd_c).all() == (sample in SPREAD)


def test_fahrenheit_and_celsius_say_the_same(read, sample):
    in_c, in_f = read(), read(degrees=WHOLE_F, unit="F")
    np.testing.assert_allclose(in_f.tmin_c, in_c.tmin_c)
    if sample in SPREAD:  # the samples spread by the same number of degrees in either unit
        np.testing.assert_allclose(in_f.sd_c, in_c.sd_c / 1.8)


@pytest.mark.parametrize(
    "change",
    [
        gzip.compress,
        lambda content: content.replace(b"\n", b"\r\n"),
        lambda content: b"\xef\xbb\xbf" + content,
    ],
    ids=["gzip", "CRLF", "byte order mark"],
)
def test_packing_and_line_ends_do_not_matter(read, change):
    _same(read(change=change), read())


def test_a_missing_night_stays_a_gap(read):
    degrees = [*WHOLE_C[:GAP], None, *WHOLE_C[GAP + 1 :]]
    forecast = read(degrees=degrees)
    np.testing.assert_array_equal(np.isnan(forecast.tmin_c), [d is None for d in degrees])
    np.testing.assert_allclose(forecast.tmin_c[GAP + 1 :], WHOLE_C[GAP + 1 :])


def test_nothing_but_missing_nights_is_refused(read):
    with pytest.raises(InputError, match="no minimum for any of its 4 nights"):
        read(degrees=[None] * 4)


def test_no_night_at_all_is_refused(read):
    with pytest.raises(InputError, match="a forecast without any night"):
        read(days=[], degrees=[])


@pytest.mark.parametrize("order", [[0, 1, 1, 3], [0, 2, 1, 3]], ids=["twice", "falling"])
def test_dates_that_do_not_rise_are_refused_with_both_places(read, sample, order):
    with pytest.raises(InputError) as caught:
        read(days=[DAYS[k] for k in order])
    places = ("line 3", "line 4") if SAMPLES[sample][0] == "table" else ("entry 2", "entry 3")
    for place in places:
        assert place in str(caught.value)
    if sample != "periods":  # whose nights have times, and overlap
        assert f"comes after {DAYS[order[1]]} (" in caught.value.what
        assert caught.value.value == str(DAYS[order[2]])


def test_a_forecast_has_at_most_46_days(read):
    days = [FIRST + dt.timedelta(days=k) for k in range(47)]
    assert read(days=days[:46], degrees=[0] * 46).dates.size == 46
    with pytest.raises(InputError, match="47 days, longer than any forecast") as caught:
        read(days=days, degrees=[0] * 47)
    assert caught.value.value == str(days[-1])


@pytest.mark.parametrize(("degrees", "unit"), [(-95, "C"), (65, "C"), (-9999, "F"), (150, "F")])
def test_a_minimum_outside_nature_is_refused_with_its_value(read, degrees, unit):
    with pytest.raises(InputError, match="no place on earth has such a temperature") as caught:
        read(degrees=[0, 0, degrees, 0], unit=unit)
    assert float(caught.value.value.split()[0]) == pytest.approx(degrees, abs=2)  # a member, a quantile


@pytest.mark.parametrize(("stated", "asked"), [("C", "F"), ("F", "C")])
def test_a_unit_said_against_the_file_is_refused(tmp_path, sample, stated, asked):
    path = tmp_path / "forecast.bin"
    path.write_text(SAMPLES[sample][1](DAYS, WHOLE_C, stated), encoding="utf-8")
    assert read_forecast(path, unit=stated).dates.size == 4
    with pytest.raises(InputError, match=f"the file says °{stated}, not °{asked}.*Leave --forecast-unit out"):
        read_forecast(path, unit=asked)


def test_a_zone_that_does_not_exist_is_refused(read):
    with pytest.raises(InputError, match="no time zone has this name") as caught:
        read(time_zone="Mars/Base")
    assert caught.value.value == "Mars/Base"


def test_the_growers_zone_is_kept(read):
    assert read(time_zone="America/Toronto").time_zone == "America/Toronto"


def test_a_file_that_does_not_say_when_it_was_made_says_so(read):
    forecast = read()
    assert (forecast.issued_at, forecast.issued_stated) == (dt.datetime(2026, 4, 7, 6), False)
    assert any("does not say when" in note for note in forecast.notes)
