"""Columns of text, and the days and numbers made of them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from frostgate.errors import InputError
from frostgate.sources.records.tables import parse_days, parse_numbers, read_table, require_whole_tenths

FILE = Path("invented.csv")


def table(*lines: str):
    return read_table("\n".join(lines).encode(), FILE)


def test_every_row_knows_its_line():
    assert table("", "a,b", "1,2", "", "3,4", " ", "5,6").lines.tolist() == [3, 5, 7]


def test_rows_of_nothing_but_separators_are_blank():
    read = table("a,b", "1,2", ",", ",4")
    assert read.text(1).tolist() == ["2", "4"]
    assert read.lines.tolist() == [2, 4]


def test_some_rows_keep_their_lines():
    some = table("a,b", "1,2", "3,4", "5,6").where(np.array([True, False, True]))
    assert (some.text(0).tolist(), some.lines.tolist()) == (["1", "5"], [2, 4])


def test_columns_are_found_by_their_plain_names():
    read = table('"Q-Flag", Station_ID', "1,2")
    assert (read.find({"qflag"}), read.find({"stationid"}), read.find({"date"})) == (0, 1, None)


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2026-04-01", "2026-04-01"),
        ("20260401", "2026-04-01"),
        ("2026-4-1", "2026-04-01"),
        ("1763-01-01", "1763-01-01"),
    ],
)
def test_dates_of_two_forms_are_read(text, day):
    read = table("date,x", f"{text},1")
    assert parse_days(read, read.text(0)).astype(str).tolist() == [day]


@pytest.mark.parametrize(
    "text",
    [
        "2023-02-29",
        "2026-13-01",
        "2026-04-31",
        "2026-04",
        "2026-04- 1",
        "01.04.2026",
        "4/1/2026",
        "26-04-01",
        "",
        "NaT",
        "2026-04-01T06:00",
        "now",
        "٢٠٢٦-٠٤-٠١",
        "202641",
        "0",
    ],
)
def test_what_is_no_date_is_refused_with_its_line(text):
    read = table("date,x", "2026-03-31,1", f"{text},1")
    with pytest.raises(InputError, match="not a date") as caught:
        parse_days(read, read.text(0))
    assert (caught.value.line, caught.value.value) == (3, text)


@pytest.mark.parametrize(
    ("text", "number"),
    [("1", 1.0), ("-2.5", -2.5), ("+3", 3.0), (".5", 0.5), ("-0", 0.0), ("−4", -4.0), ("NA", np.nan)],
)
def test_numbers_are_read(text, number):
    np.testing.assert_array_equal(parse_numbers(table("x,tmin", f"1,{text}"), 1), [number])


@pytest.mark.parametrize(
    "text", ["32F", "1 2", "1_000", "0x1F", "inf", "-inf", "True", "--1", "1.2.3", "M", "-", "°"]
)
def test_what_is_no_number_is_refused_with_its_line(text):
    with pytest.raises(InputError, match="a minimum that is no number") as caught:
        parse_numbers(table("x,tmin", "1,2", f"1,{text}"), 1)
    assert (caught.value.line, caught.value.value) == (3, text)


def test_a_decimal_comma_is_read_where_it_cannot_separate():
    assert parse_numbers(table("x;tmin", "1;-2,5"), 1).tolist() == [-2.5]
    with pytest.raises(InputError, match="no number: '-2,5'"):
        parse_numbers(table("x,tmin", '1,"-2,5"'), 1)


def test_tenths_are_whole():
    read = table("x,tmin", "1,-22", "1,2.5")
    with pytest.raises(InputError, match="not a whole number of tenths") as caught:
        require_whole_tenths(read, 1, np.array([-22.0, 2.5]))
    assert (caught.value.line, caught.value.value) == (3, "2.5")
