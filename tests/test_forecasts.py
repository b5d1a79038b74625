"""The one door to every form of a forecast; JSON to the letter, and errors that name the place."""

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from frostgate.errors import InputError
from frostgate.sources.forecasts import FORMS, read_forecast
from frostgate.sources.forecasts.strict_json import parse_json


@pytest.fixture
def write(tmp_path):
    def written(text, name="forecast.txt"):
        path = tmp_path / name
        path.write_bytes(text.encode() if isinstance(text, str) else text)
        return path

    return written


@pytest.mark.parametrize(
    ("text", "line", "value"),
    [
        ("<html>\n<body>busy</body>", 1, "<html>"),
        ("\n\nday,tmin_c\n2026-04-08,1\n", 3, "day,tmin_c"),
        ("just words", 1, "just words"),
        ("# issued: 2026-04-10T06:00\n", 1, "# issued: 2026-04-10T06:00"),
        ("\ufeff", 1, ""),
        ('{"hourly": {"time": []}, "latitude": 5}', 1, "hourly, latitude"),
        ('\n{"properties": {"temperature": {}}}', 2, "properties"),
        ('[{"daily": {"time": []}}]', 1, '[{"daily": {"time": []}}]'),
        ("{}", 1, "{}"),
        ('{"properties": [], "daily": 3}', 1, "properties, daily"),
    ],
)
def test_a_file_of_no_known_form_is_refused_and_the_known_forms_are_named(write, text, line, value):
    with pytest.raises(InputError, match="not a forecast of a known form") as caught:
        read_forecast(write(text))
    assert caught.value.file.endswith("forecast.txt")
    assert (caught.value.line, caught.value.value) == (line, value)
    for form in FORMS:
        assert form in caught.value.remedy


def test_a_document_of_two_forms_is_refused(write):
    both = {"properties": {"periods": []}, "daily": {"time": []}}
    with pytest.raises(InputError, match="not a forecast of a known form"):
        read_forecast(write(json.dumps(both)))


def test_a_zone_the_grower_misspelt_is_refused_before_the_file_is_read(write):
    with pytest.raises(InputError, match=r"no time zone has this name \(--time-zone\): 'Europe/Berlim'"):
        read_forecast(write("date,tmin_c\n2026-04-08,1\n"), time_zone="Europe/Berlim")


def test_a_file_may_be_named_by_a_text(write):
    assert read_forecast(str(write("date,tmin_c\n2026-04-08,1\n"))).tmin_c.tolist() == [1.0]
    with pytest.raises(InputError, match=r"x\.json: no such file"):
        read_forecast("x.json")


def test_reading_a_forecast_loads_neither_pandas_nor_scipy_nor_pydantic(write):
    program = (
        "import sys; from frostgate.sources.forecasts import read_forecast; read_forecast(sys.argv[1]);"
        "ends = ('pandas', 'scipy', 'pydantic');"
        "print([name for name in sys.modules if name.endswith(ends)])"
    )
    file = write("date,tmin_c\n2026-04-08,1\n")
    done = subprocess.run([sys.executable, "-c", program, file], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


FILE = Path("f.json")


def test_a_value_names_its_position_through_objects_and_arrays():
    tree = parse_json('{"a": {"b": [{"c": [1]}, {"c": [2, 3]}]}}', FILE)
    found = tree.at("a").at("b").elements()[1].at("c").elements()[1]
    assert (found.number(), found.spot.name) == (3.0, "a.b, entry 2, c, entry 2")


def test_null_is_a_missing_number_and_not_given():
    tree = parse_json('{"a": null}', FILE)
    assert np.isnan(tree.at("a").number())
    assert tree.at("a").value is None
    assert tree.required("a").value is None


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
        (int, "a whole number", None),
        (str, "a text", '"1"'),
        (bool, "true or false", "true"),
        (list, "an array", "[1]"),
    ],
)
def test_a_value_of_another_type_is_refused_with_its_position_and_value(read, due, fitting):
    for written in {'"1"', "1.5", "true", "[1]", '{"b": 1}'} - {fitting}:
        found = parse_json(f'{{"a": {written}}}', FILE).at("a")
        with pytest.raises(InputError, match=f"not {due}.*\\(a\\)") as caught:
            found.number() if read == "number" else found.read(read)
        assert (caught.value.file, caught.value.value) == ("f.json", written)


@pytest.mark.parametrize("kind", [str, bool, int, list])
def test_a_name_that_is_not_there_is_refused_with_its_position(kind):
    with pytest.raises(InputError, match=r"f\.json: missing or null where .* is due \(a\.b\)"):
        parse_json('{"a": {}}', FILE).at("a").at("b").read(kind)


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
