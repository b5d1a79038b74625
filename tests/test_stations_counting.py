"""How complete a kept record is."""

from __future__ import annotations

import datetime as dt

import pytest

from frostgate.errors import InputError
from frostgate.sources.stations import count_record
from tests.network.invented import dly


@pytest.fixture
def file(tmp_path):
    def write(content: bytes):
        path = tmp_path / "record.dly"
        path.write_bytes(content)
        return path

    return write


def test_a_whole_record_counts_as_whole(file):
    """36 calendar years hold 36 springs; that of 1990 is known though its winter began before the record."""
    counted = count_record(file(dly(years=range(1990, 2026))), latitude=51.0)

    assert (counted.first, counted.last) == (dt.date(1990, 1, 1), dt.date(2025, 12, 31))
    assert counted.share == 1.0
    assert counted.springs == 36


def test_missing_and_flagged_days_do_not_count(file):
    lines = dly(years=range(1990, 2000)).splitlines(keepends=True)
    march = b"1995" + b"03TMIN"
    content = b"".join(line for line in lines if march not in line)
    at = content.index(b"199601TMIN") + len(b"199601TMIN") + 6
    flagged = content[:at] + b"I" + content[at + 1 :]

    counted = count_record(file(flagged), latitude=51.0)

    assert counted.share == pytest.approx((3652 - 31 - 1) / 3652)


def test_a_plain_error_does_not_count(file):
    content = dly(years=range(1990, 2000))
    at = content.index(b"199507TMIN") + len(b"199507TMIN") + 14 * 8
    content = content[:at] + b" -350" + content[at + 5 :]

    counted = count_record(file(content), latitude=51.0)

    assert counted.share == pytest.approx((3652 - 1) / 3652)


@pytest.mark.parametrize(("latitude", "coldest"), [(None, 1), (51.0, 1), (-33.9, 7), (None, 7), (0.0, 7)])
def test_springs_are_those_of_the_hemisphere(file, latitude, coldest):
    counted = count_record(file(dly(years=range(1990, 2000), coldest_month=coldest)), latitude)

    assert 9 <= counted.springs <= 11


def test_without_a_hemisphere_springs_are_not_counted(file):
    line = dly(years=range(1990, 1991)).splitlines(keepends=True)[3]

    assert count_record(file(line)).springs is None


def test_a_record_that_cannot_be_read_is_an_error(file):
    with pytest.raises(InputError):
        count_record(file(b"<html>"))
