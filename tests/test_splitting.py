"""Where delimited text divides, and which rows are refused for it."""

from __future__ import annotations

from pathlib import Path

import pytest

from frostgate.errors import InputError
from frostgate.sources.records.tables import find_separator, refuse_ragged, split_line

FILE = Path("invented.csv")


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
    ("line", "fields"), [("a, b ,c", ["a", "b", "c"]), ('"a, ""b""",c', ['a, "b"', "c"]), ("", [])]
)
def test_a_line_splits_into_its_fields(line, fields):
    assert split_line(line) == fields


SOUND = {
    "plain": "a,b\n1,2\n3,4",
    "blank lines": "a,b\n\n1,2\n  \n3,4\n\n",
    "empty fields": "a,b\n,\n1,\n,2",
    "a quoted comma": 'a,b\n"1,5",2',
    "a doubled mark": 'a,b\n"1""5",2',
    "a mark within": 'a,b\n5" pot,2\n1,2',
}


@pytest.mark.parametrize("text", SOUND.values(), ids=SOUND.keys())
def test_rows_as_wide_as_the_first_are_taken(text):
    refuse_ragged(text, ",", 0, FILE)


RAGGED = {
    "short": ("a,b\n1,2\n3", "a row of 1 fields, where the header has 2", 3),
    "long": ("a,b\n1,2,3", "a row of 3 fields, where the header has 2", 2),
    "long and empty": ("a,b\n,,,,", "a row of 5 fields, where the header has 2", 2),
    "short behind blanks": ("a,b\n\n \n1", "a row of 1 fields", 4),
    "never closed": ('a,b\n1,"2\n3,4', "a quotation mark out of place or never closed", 2),
    "closed on a later line": ('a,b\n1,2\n1,"2\n3,4"', "a quotation mark out of place or never closed", 3),
    "twice never closed": ('a,b\n"1,2\n"3,4', "a quotation mark out of place or never closed", 2),
    "text behind a mark": ('a,b\n1,"2"3\n', "a quotation mark out of place or never closed", 2),
    "a mark that splits a field": ('a,b\n1,x"2,3"\n', "a row of 3 fields", 2),
}


@pytest.mark.parametrize(("text", "what", "line"), RAGGED.values(), ids=RAGGED.keys())
def test_other_rows_are_refused_with_their_line_and_text(text, what, line):
    with pytest.raises(InputError, match=what) as caught:
        refuse_ragged(text, ",", 10, FILE)
    assert caught.value.line == 10 + line
    assert caught.value.value == text.split("\n")[line - 1]
