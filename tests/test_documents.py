"""JSON to the letter, and errors that name the place."""

from pathlib import Path

import numpy as np
import pytest

from frostgate.errors import InputError
from frostgate.sources.forecasts.documents import parse_json

FILE = Path("f.json")


def test_a_value_names_its_position_through_objects_and_arrays():
    tree = parse_json('{"a": {"b": [{"c": [1]}, {"c": [2, 3]}]}}', FILE)
    found = tree.at("a").at("b").elements()[1].at("c").elements()[1]
    assert (found.number(), found.spot.name) == (3.0, "a.b, entry 2, c, entry 2")


def test_null_is_a_missing_number_and_not_given():
    tree = parse_json('{"a": null}', FILE)
    assert np.isnan(tree.at("a").number())
    assert not tree.at("a").given
    assert not tree.required("a").given


def test_has_follows_names_through_objects_only():
    tree = parse_json('{"a": {"b": null}, "c": [1]}', FILE)
    assert tree.has("a", "b")
    assert not tree.has("a", "b", "c")
    assert not tree.has("c", "0")
    assert not tree.has("d")


def test_names_are_those_of_an_object_in_the_files_order():
    assert parse_json('{"b": 1, "a": 2}', FILE).names() == ["b", "a"]
    assert parse_json("[1]", FILE).names() == []


@pytest.mark.parametrize(
    ("read", "due", "fitting"),
    [
        ("number", "a number or null", "1.5"),
        ("whole", "a whole number", None),
        ("text", "a text", '"1"'),
        ("truth", "true or false", "true"),
        ("elements", "an array", "[1]"),
    ],
)
def test_a_value_of_another_type_is_refused_with_its_position_and_value(read, due, fitting):
    for written in {'"1"', "1.5", "true", "[1]", '{"b": 1}'} - {fitting}:
        found = parse_json(f'{{"a": {written}}}', FILE).at("a")
        with pytest.raises(InputError, match=f"not {due}.*\\(a\\)") as caught:
            getattr(found, read)()
        assert (caught.value.file, caught.value.value) == ("f.json", written)


@pytest.mark.parametrize("read", ["text", "truth", "whole", "elements"])
def test_a_name_that_is_not_there_is_refused_with_its_position(read):
    with pytest.raises(InputError, match=r"f\.json: missing or null where .* is due \(a\.b\)"):
        getattr(parse_json('{"a": {}}', FILE).at("a").at("b"), read)()


def test_a_name_that_must_be_there_is_missed():
    with pytest.raises(InputError, match=r"f\.json: missing \(a\.b\)"):
        parse_json('{"a": {}}', FILE).at("a").required("b")


def test_a_name_below_something_that_is_no_object_is_refused():
    with pytest.raises(InputError, match=r"not an object .* \(a\): '3'"):
        parse_json('{"a": 3}', FILE).at("a").at("b")


@pytest.mark.parametrize("literal", ["NaN", "Infinity", "-Infinity", "1e999", "-1e999", "9" * 41, "9" * 5000])
def test_a_number_that_is_none_is_refused_with_its_line(literal):
    text = f'{{"a": "NaN and {literal}",\n "b": [1,\n {literal}]}}'
    with pytest.raises(InputError, match="a number that is none, or too large") as caught:
        parse_json(text, FILE)
    assert (caught.value.file, caught.value.line, caught.value.value) == ("f.json", 3, literal)


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ('{"a": 1,\n"a": 2}', 2),
        ('{"a": {"b": 1},\n"c": [{"b": 1},\n{"b": 1, "a": "{",\n"b": 2}]}', 4),
        ('{"a": 1, "\\u0061":\n2}', 1),
    ],
    ids=["at the top", "deep inside", "written in another way"],
)
def test_a_name_twice_in_one_object_is_refused_with_its_line(text, line):
    with pytest.raises(InputError, match="a name that stands twice in one object") as caught:
        parse_json(text, FILE)
    assert (caught.value.file, caught.value.line) == ("f.json", line)
    assert caught.value.value in ("a", "b")


def test_the_same_name_in_two_objects_is_no_repeat():
    assert parse_json('[{"a": 1}, {"a": 2}]', FILE).elements()[1].at("a").number() == 2.0


@pytest.mark.parametrize(
    ("text", "line", "value"),
    [
        ('{"a": [1,\n2,', 2, "the end of the file"),
        ('{"a": 1}\n}', 2, "}"),
        ('{"a":\nx}', 2, "x}"),
        ('{"a": "\x01"}', 1, '\x01"}'),
    ],
    ids=["cut short", "too long", "a bare word", "a control character"],
)
def test_broken_json_is_refused_with_its_line(text, line, value):
    with pytest.raises(InputError, match="not complete JSON") as caught:
        parse_json(text, FILE)
    assert (caught.value.file, caught.value.line, caught.value.value) == ("f.json", line, value)


def test_json_nested_without_end_is_refused():
    with pytest.raises(InputError, match=r"f\.json: JSON nested too deeply"):
        parse_json("[" * 100_000, FILE)
