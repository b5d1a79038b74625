"""Laws that hold for every forecast, drawn by chance."""

import datetime as dt
import itertools
import json
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from frostgate.errors import InputError
from frostgate.sources.forecasts import read_forecast
from frostgate.sources.forecasts.documents import mornings, parse_interval
from frostgate.sources.forecasts.strict_json import JsonValue
from frostgate.sources.text import Spot

ZONES = ["America/New_York", "America/Anchorage", "Europe/Berlin", "Asia/Kolkata", "Australia/Lord_Howe",
         "Pacific/Auckland", "Pacific/Tongatapu", "Pacific/Pago_Pago", "America/St_Johns", "UTC"]  # fmt: skip
law = settings(derandomize=True, deadline=None)
NIGHTS = st.lists(st.none() | st.integers(-400, 400), min_size=1, max_size=20).filter(
    lambda tenths: any(t is not None for t in tenths)
)
DATES = st.dates(dt.date(1950, 1, 1), dt.date(2150, 1, 1))
INSTANTS = st.datetimes(dt.datetime(1950, 1, 1), dt.datetime(2150, 1, 1), timezones=st.just(dt.UTC))


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return tmp_path_factory.mktemp("forecasts") / "forecast"


def _table(first, tenths, *, unit="C"):
    cells = ["" if t is None else f"{t / 10 if unit == 'C' else t * 0.18 + 32:.6f}" for t in tenths]
    days = (first + dt.timedelta(days=k) for k in itertools.count())
    return "\n".join([f"date,tmin_{unit.lower()}", *(f"{d},{c}" for d, c in zip(days, cells, strict=False))])


def _daily(first, tenths, *, unit="C"):
    values = [None if t is None else t / 10 if unit == "C" else t * 0.18 + 32 for t in tenths]
    days = [str(first + dt.timedelta(days=k)) for k in range(len(tenths))]
    units = {"time": "iso8601", "temperature_2m_min": f"°{unit}"}
    return json.dumps({"daily_units": units, "daily": {"time": days, "temperature_2m_min": values}})


def _gridpoint(first, tenths, *, unit="C", hour=0):
    values = [
        {"validTime": f"{first + dt.timedelta(days=k)}T{hour:02d}:00:00+00:00/PT13H",
         "value": None if t is None else t / 10 if unit == "C" else t * 0.18 + 32}
        for k, t in enumerate(tenths)
    ]  # fmt: skip
    layer = {"uom": f"wmoUnit:deg{unit}", "values": values}
    return json.dumps({"properties": {"timeZone": "UTC", "minTemperature": layer}})


WRITERS = st.sampled_from([_table, _daily, _gridpoint])


def _read(path, content, **said):
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_forecast(path, **said)


@law
@given(write=WRITERS, first=DATES, tenths=NIGHTS)
def test_fahrenheit_and_celsius_say_the_same(path, write, first, tenths):
    in_c, in_f = (_read(path, write(first, tenths, unit=unit)) for unit in "CF")
    np.testing.assert_array_equal(in_c.dates, in_f.dates)
    np.testing.assert_allclose(in_c.tmin_c, in_f.tmin_c, atol=1e-5)
    expected = [np.nan if t is None else t / 10 for t in tenths]
    np.testing.assert_allclose(in_c.tmin_c, expected, atol=1e-9)


@law
@given(first=DATES, hour=st.integers(0, 23), zone=st.sampled_from(ZONES), nights=st.integers(1, 20))
def test_another_zone_moves_a_fixed_instant_by_a_day_at_most(path, first, hour, zone, nights):
    text = _gridpoint(first, [1] * nights, hour=hour)
    here, there = _read(path, text), _read(path, text, time_zone=zone)
    assert here.dates.size == there.dates.size == nights
    assert np.abs((there.dates - here.dates).astype(int)).max() <= 1


@law
@given(start=INSTANTS, minutes=st.integers(1, 46 * 24 * 60), zone=st.sampled_from(ZONES))
def test_an_interval_gives_exactly_the_mornings_it_holds(start, minutes, zone):
    end, place = start + dt.timedelta(minutes=minutes), ZoneInfo(zone)
    found = mornings(start, end, place)
    around = (start.date() + dt.timedelta(days=k) for k in range(-2, minutes // 1440 + 4))
    sixes = {day: dt.datetime.combine(day, dt.time(6), place).timestamp() for day in around}
    held = [day for day, six in sixes.items() if start.timestamp() < six <= end.timestamp()]
    assert list(found) == (held or [end.astimezone(place).date()])


@law
@given(
    start=INSTANTS, lengths=st.lists(st.integers(26, 96), min_size=2, max_size=9), zone=st.sampled_from(ZONES)
)
def test_intervals_end_to_end_give_every_morning_once(start, lengths, zone):
    # 26 hours hold a 06:00 even on the day the clocks go back
    ends = list(
        itertools.accumulate(lengths, lambda at, hours: at + dt.timedelta(hours=hours), initial=start)
    )
    place = ZoneInfo(zone)
    pieces = [day for one, other in itertools.pairwise(ends) for day in mornings(one, other, place)]
    assert pieces == list(mornings(ends[0], ends[-1], place))


@law
@given(days=st.integers(0, 45), hours=st.integers(0, 23), minutes=st.integers(0, 59), start=INSTANTS)
def test_an_interval_is_as_long_as_it_is_written(days, hours, minutes, start):
    start = start.replace(microsecond=0)
    time = f"T{hours}H{minutes}M" if hours or minutes else ""
    text = f"{start.isoformat()}/P{days}D{time}"
    if not days + hours + minutes:
        with pytest.raises(InputError, match="not an interval"):
            parse_interval(JsonValue(value=text, spot=Spot(file=None)))
        return
    begins, ends = parse_interval(JsonValue(value=text, spot=Spot(file=None)))
    assert begins == start
    assert ends - begins == dt.timedelta(days=days, hours=hours, minutes=minutes)


@law
@given(write=WRITERS, cut=st.integers(0, 400), text=st.text(max_size=3))
def test_a_damaged_file_is_read_or_refused_but_never_breaks(path, write, cut, text):
    whole = write(dt.date(2026, 4, 8), [12, None, -5])
    for damaged in (whole[:cut], whole[:cut] + text + whole[cut:], text + whole[cut:]):
        assert _outcome(path, damaged.encode("utf-8", "surrogatepass")) in ("read", "refused by name")


def _outcome(path, content):
    try:
        _read(path, content)
    except InputError as fault:
        return "refused by name" if str(path) in str(fault) else str(fault)
    return "read"
