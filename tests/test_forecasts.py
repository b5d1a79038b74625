"""The one door to every form of a forecast."""

import json
import subprocess
import sys

import pytest

from frostgate.errors import InputError
from frostgate.sources.forecasts import FORMS, read_forecast


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
        assert form.shape in caught.value.remedy


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


def test_reading_a_forecast_loads_neither_pandas_nor_scipy_nor_the_readers_of_other_forms(write):
    program = (
        "import sys; from frostgate.sources.forecasts import read_forecast; read_forecast(sys.argv[1]);"
        "ends = ('pandas', 'scipy', 'daily_arrays', 'weather_service');"
        "print([name for name in sys.modules if name.endswith(ends)])"
    )
    file = write("date,tmin_c\n2026-04-08,1\n")
    done = subprocess.run([sys.executable, "-c", program, file], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
