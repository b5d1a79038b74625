"""Tables of text: where lines divide, what stands on which line, and which rows are refused for it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from frostgate.errors import InputError
from frostgate.sources.text import Spot, find_separator, read_table, split_line, split_lines

FILE = Path("invented.csv")


def table(*lines: str):
    return read_table(lines, FILE)


def test_a_spot_names_file_line_column_value_and_remedy():
    fault = Spot(file=Path("f.csv"), line=3, name="column low").fault("not a number", "x", "Mend it.")
    assert str(fault) == "f.csv, line 3: not a number (column low): 'x'. Mend it."


@pytest.mark.parametrize(
    ("line", "separator"),
    [
        ("date,tmin", ","),
        ("date;tmin", ";"),
        ("date\ttmin", "\t"),
        ("date;tmin, in °C", ";"),
        ('"A, B, C";"D, E"', ";"),
    ],
)
def test_the_separator_is_what_stands_most_often_outside_quotation_marks(line, separator):
    assert find_separator(line) == separator


@pytest.mark.parametrize(
    ("line", "cells"), [("a, b ,c", ["a", "b", "c"]), ('"a, ""b""",c', ['a, "b"', "c"]), ("", [])]
)
def test_a_line_splits_into_its_fields(line, cells):
    assert split_line(line) == cells


SOUND = {
    "plain": "a,b\n1,2\n3,4",
    "blank lines": "a,b\n\n1,2\n  \n3,4\n\n",
    "empty cells": "a,b\n,\n1,\n,2",
    "a quoted comma": 'a,b\n"1,5",2',
    "a doubled mark": 'a,b\n"1""5",2',
    "a mark within": 'a,b\n5" pot,2\n1,2',
}


@pytest.mark.parametrize("text", SOUND.values(), ids=SOUND.keys())
def test_rows_as_wide_as_the_first_are_taken(text):
    table = read_table(split_lines(text, FILE), FILE)
    assert {len(row) for row in table.rows} == {2}


RAGGED = {
    "short": ("a,b\n1,2\n3", "a row of 1 cell, where the header has 2", 3),
    "long": ("a,b\n1,2,3", "a row of 3 cells, where the header has 2", 2),
    "long and empty": ("a,b\n,,,,", "a row of 5 cells, where the header has 2", 2),
    "short behind blanks": ("a,b\n\n \n1", "a row of 1 cell", 4),
    "never closed": ('a,b\n1,"2\n3,4', "a quotation mark out of place or never closed", 2),
    "closed on a later line": ('a,b\n1,2\n1,"2\n3,4"', "a quotation mark out of place or never closed", 3),
    "twice never closed": ('a,b\n"1,2\n"3,4', "a quotation mark out of place or never closed", 2),
    "text behind a mark": ('a,b\n1,"2"3\n', "a quotation mark out of place or never closed", 2),
    "a mark that splits a field": ('a,b\n1,x"2,3"\n', "a row of 3 cells", 2),
}


@pytest.mark.parametrize(("text", "what", "line"), RAGGED.values(), ids=RAGGED.keys())
def test_other_rows_are_refused_with_their_line_and_text(text, what, line):
    with pytest.raises(InputError, match=what) as caught:
        read_table(split_lines(text, FILE), FILE, above=10)
    assert caught.value.line == 10 + line
    assert caught.value.value == text.split("\n")[line - 1]


def test_every_row_knows_its_line():
    assert table("", "a,b", "1,2", "", "3,4", " ", "5,6").lines == [3, 5, 7]


def test_rows_of_nothing_but_separators_are_blank():
    read = table("a,b", "1,2", ",", ",4")
    assert read.text(1) == ["2", "4"]
    assert read.lines == [2, 4]


def test_some_rows_keep_their_lines():
    some = table("a,b", "1,2", "3,4", "5,6").where([True, False, True])
    assert (some.text(0), some.lines) == (["1", "5"], [2, 4])


def test_columns_are_found_by_their_plain_names():
    read = table('"Q-Flag", Station_ID', "1,2")
    assert (read.find({"qflag"}), read.find({"stationid"}), read.find({"date"})) == (0, 1, None)


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("1", 1.0),
        ("-2.5", -2.5),
        ("+3", 3.0),
        (".5", 0.5),
        ("-0", 0.0),
        ("−4", -4.0),
        ("NA", np.nan),
        ("1e-1", 0.1),
    ],
)
def test_numbers_are_read(text, number):
    np.testing.assert_array_equal(table("x,tmin", f"1,{text}").number(0, 1), number)


@pytest.mark.parametrize(
    "text", ["32F", "1 2", "1_000", "0x1F", "inf", "-inf", "True", "--1", "1.2.3", "M", "-", "°"]
)
def test_what_is_no_number_is_refused_with_its_line(text):
    with pytest.raises(InputError, match=r"not a number \(column tmin\)") as caught:
        table("x,tmin", "1,2", f"1,{text}").number(1, 1)
    assert (caught.value.line, caught.value.value) == (3, text)


def test_a_decimal_comma_is_read_where_it_cannot_separate():
    assert table("x;tmin", "1;-2,5").number(0, 1) == -2.5
    with pytest.raises(InputError, match="'-2,5'"):
        table("x,tmin", '1,"-2,5"').number(0, 1)
