"""Each statement of a TOML text has its line, and what is not TOML is named."""

from __future__ import annotations

import tomllib

import pytest

from frostgate.garden.mistakes import LONGEST, MOST_FAULTS, read_statements
from tests.garden_text import FULL, line_of

ODD = '''\
top = 1
[[a]]
x = "1"
[a.inner]
deep = 1
[[a]]
x = [
  "one",   # a comment ] in a list
  "two = 2",
]
text = """
x = 3
[[a]]
"""
dotted.key.name = { inline = { deeper = 1 } }
[[a.list]]
y = 1
[[a.list]]
y = 2
["quoted key"]
'odd key' = 3
'''


@pytest.mark.parametrize(
    ("place", "line"),
    [
        (("top",), 1), (("a", 0), 2), (("a", 0, "x"), 3), (("a", 0, "inner"), 4),
        (("a", 0, "inner", "deep"), 5), (("a", 1), 6), (("a", 1, "x"), 7), (("a", 1, "x", 1), 7),
        (("a", 1, "text"), 11), (("a", 1, "dotted", "key", "name", "inline", "deeper"), 15),
        (("a", 1, "list", 0, "y"), 17),
        (("a", 1, "list", 1), 18), (("a", 1, "list", 1, "y"), 19), (("quoted key", "odd key"), 21),
    ],
)  # fmt: skip
def test_each_place_has_the_line_of_its_statement(place, line):
    assert read_statements(ODD).line_of(place) == line


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_lines_are_counted_by_either_ending(ending):
    said = read_statements(ODD.replace("\n", ending))
    assert said.values == tomllib.loads(ODD)
    assert said.line_of(("a", 1, "list", 1, "y")) == 19


def test_a_key_that_is_missing_has_the_line_of_its_table():
    assert read_statements(ODD).line_of(("a", 1, "missing")) == 6
    assert read_statements(ODD).line_of(("missing",)) is None


def test_the_first_of_a_list_may_stand_alone():
    said = read_statements('[site]\nname = "x"')
    assert said.line_of(("site", 0, "name")) == 2
    assert said.line_of(("site", 0, "risk")) == 1


def test_the_values_are_those_of_the_reader_itself():
    said = read_statements(FULL)
    assert (said.values, said.faults, said.lost) == (tomllib.loads(FULL), (), frozenset())


@pytest.mark.parametrize(
    ("text", "lines", "lost"),
    [
        ('a = 1\nb = 10%\nc = "x\nd = 2\n', [2, 3], {"b", "c"}),
        ('a = "x\nb = \'y\n"c" = z\n', [1, 2, 3], {"a", "b", "c"}),
        ("a = 1\na = 2\nb = 3\n", [2], {"a"}),
        ("a = 11-15\nb = 2026-02-30\n", [1, 2], {"a", "b"}),
        ("a = “x”\nb\nc = 1", [1, 2], {"a"}),
    ],
)
def test_a_line_that_is_wrong_by_itself_does_not_hide_the_rest(text, lines, lost):
    said = read_statements(text)
    assert [fault.line for fault in said.faults] == lines
    assert said.lost == lost


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("a = [1,\nb = 2\n[c]\n", 1, "without its closing bracket"),
        ("x = 1\na = [1,\n  2,\n\n[c]\nd = 1\n", 2, "without its closing bracket"),
        ('x = 1\na = """\nb = 2\n', 2, "closing quote"),
        ("x = 1\na = { b = 1,\n", 2, "not TOML"),
        ("[[pots]\nname = 1\n", 1, "not TOML"),
        ("a = [\n  1,\n  2 3,\n]\n", 3, "closing bracket"),
        ("[rules]\n[rules]\n", 2, "table that stands twice"),
        ("[[pots]]\n[pots]\n", 2, "table that stands twice"),
        ("x = 1\ny = " + "9" * 5000, 2, "thousands of digits"),
        ("x = 1\ny = " + "[" * 5000, 2, "too deep"),
        ("just words\n", 1, "neither a table"),
    ],
)
def test_what_cannot_be_read_is_named_where_it_begins(text, line, words):
    fault = read_statements(text).faults[0]
    assert fault.line == line
    assert words in fault.what


def test_a_text_of_nothing_but_faults_ends():
    said = read_statements("a = b c\n" * 500)
    assert len(said.faults) == MOST_FAULTS
    assert said.values is None


def test_places_are_known_up_to_a_statement_that_no_garden_has():
    long = "\n".join(["a = 1", "b = [", *["  1,"] * LONGEST, "]", "c = 1"])
    said = read_statements(long)
    assert (said.line_of(("a",)), said.line_of(("b",)), said.line_of(("c",))) == (1, None, None)
    assert said.values["c"] == 1


def test_a_table_of_tables_is_followed_no_deeper_than_any_garden_goes():
    assert read_statements(".".join("abcdefgh") + " = 1").line_of(tuple("abcdefgh")) == 1


def test_every_statement_of_the_sample_has_a_line():
    said = read_statements(FULL)
    assert said.line_of(("site", 1, "name")) == line_of("name", 2)
    assert said.line_of(("phase", 0, "feed", 1, "n_ppm")) == line_of("feed =")
    assert said.line_of(("product", 0, "secondary", "Mg")) == line_of("secondary")
    assert said.line_of(("rules", "autumn_risk")) == line_of("autumn_risk")
