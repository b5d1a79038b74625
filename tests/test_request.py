"""What is asked about a place: in whose time, by which numbers, in which unit."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from freezegun import freeze_time

from frostgate.cli.options import clock
from frostgate.errors import InputError, UnstatedUnitError
from frostgate.model.garden import Site
from frostgate.model.gate import Policy
from frostgate.service.request import Request, local_time, read_hinted

NIGHT = "2026-04-12 03:30:00"  # of UTC


@pytest.mark.parametrize(
    ("time_zone", "now"),
    [("America/New_York", dt.datetime(2026, 4, 11, 23, 30)), ("Asia/Kolkata", dt.datetime(2026, 4, 12, 9, 0)),
     ("UTC", dt.datetime(2026, 4, 12, 3, 30)), ("UTC-05:00", dt.datetime(2026, 4, 11, 22, 30)),
     ("UTC+05:30", dt.datetime(2026, 4, 12, 9, 0)), ("UTC-03:30", dt.datetime(2026, 4, 12, 0, 0)),
     ("Etc/GMT+5", dt.datetime(2026, 4, 11, 22, 30))],
)  # fmt: skip
def test_the_moment_is_that_of_the_gardens_own_clock(time_zone, now):
    with freeze_time(NIGHT):
        assert local_time(clock(), time_zone) == now


@pytest.mark.parametrize(
    ("utc", "local"),  # clocks go forward from 2 to 3 on 8 March 2026, back from 2 to 1 on 1 November
    [("2026-03-08 06:59", "2026-03-08 01:59"), ("2026-03-08 07:00", "2026-03-08 03:00"),
     ("2026-11-01 05:59", "2026-11-01 01:59"), ("2026-11-01 06:00", "2026-11-01 01:00")],
)  # fmt: skip
def test_the_gardens_clock_keeps_summer_time(utc, local):
    with freeze_time(utc):
        assert local_time(clock(), "America/New_York") == dt.datetime.fromisoformat(local)


@pytest.mark.parametrize(("hours", "day"), [(-4, 11), (0, 12), (9, 12)])
def test_without_a_zone_this_machines_clock_is_read(hours, day):
    with freeze_time(NIGHT, tz_offset=hours):
        now = local_time(clock(), None)
    assert (now, now.day) == (dt.datetime(2026, 4, 12, 3, 30) + dt.timedelta(hours=hours), day)


@pytest.mark.parametrize("time_zone", [None, "Asia/Kolkata", "UTC-05:00"])
def test_a_day_asked_about_is_answered_as_on_its_morning(time_zone):
    with freeze_time(NIGHT):
        assert local_time(clock(), time_zone, dt.date(2025, 12, 31)) == dt.datetime(2025, 12, 31, 6, 0)


@pytest.mark.parametrize("time_zone", [None, "UTC", "UTC+05:30", "Europe/Berlin"])
def test_a_moment_carries_no_zone(time_zone):
    assert local_time(clock(), time_zone).tzinfo is None


@pytest.mark.parametrize("time_zone", ["Nowhere/City", "", "America", "../secret", "UTC+25:00", "UTC+5"])
def test_a_zone_that_there_is_not_is_refused_in_words(time_zone):
    with pytest.raises(InputError, match="time zone"):
        local_time(clock(), time_zone)


SITE = Site(
    name="Hollin Bank", record=Path("own.dly"), time_zone="Europe/London", hemisphere="north",
    policy=Policy(risk_tolerance=0.05, offset_c=-1.0),
)  # fmt: skip


def test_what_is_requested_goes_before_the_gardens_own():
    asked = Request(risk=0.2, record=Path("other.dly"), damage_temp=(1.0, "C")).about(SITE, "F")

    assert (asked.record, asked.time_zone, asked.hemisphere) == (Path("other.dly"), "Europe/London", "north")
    assert asked.policy == Policy(risk_tolerance=0.2, offset_c=-1.0, damage_temp_c=1.0)


@pytest.mark.parametrize(
    ("request_", "unit"),
    [(Request(), "F"), (Request(offset=(-1.0, "C")), "C"), (Request(show="F", damage_temp=(0.0, "C")), "F")],
)
def test_the_unit_is_as_asked_or_as_written_or_the_gardens(request_, unit):
    assert request_.about(SITE, "F").unit_shown(None) == unit


def test_a_number_that_cannot_be_meant_is_refused_when_it_is_asked():
    with pytest.raises(InputError):
        Request(risk=0.9)


def test_a_unit_counts_only_for_a_file_that_states_none():
    def unstated(unit):
        if unit is None:
            raise UnstatedUnitError("no unit")
        return unit

    assert read_hinted(lambda unit: unit, "F") is None
    assert read_hinted(unstated, "F") == "F"
    with pytest.raises(UnstatedUnitError):
        read_hinted(unstated, None)
