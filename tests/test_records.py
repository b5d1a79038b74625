"""Records of any form through the one entry, with all that can be wrong about a file."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from frostgate.errors import InputError
from frostgate.files import read_bytes
from frostgate.sources.records import parse_minima, read_minima
from frostgate.units import fahrenheit

TABLE = b"date,tmin_c\n2026-04-01,-2.2\n"


@pytest.fixture
def csv_folder(reference: Path) -> Path:
    return reference / "ghcnd" / "csv"


def test_a_form_is_told_by_content_and_never_by_name(tmp_path):
    (tmp_path / "table.dly").write_bytes(TABLE)
    assert read_minima(tmp_path / "table.dly").tmin_c.tolist() == [-2.2]


def test_a_file_may_be_named_by_a_text(tmp_path):
    (tmp_path / "garden.csv").write_bytes(TABLE)
    minima = read_minima(str(tmp_path / "garden.csv"))
    assert (minima.tmin_c.tolist(), minima.station.id) == ([-2.2], "garden")
    with pytest.raises(InputError, match=r"x\.dly: no such file"):
        read_minima("x.dly")


@pytest.mark.parametrize("content", [b"no table", b"<html>gone</html>", b'{"daily":[]}', b"1\n2\n3\n"])
def test_what_is_no_record_is_refused_with_the_forms_that_can_be_read(content):
    with pytest.raises(InputError, match=r"not a record of daily minima.*GHCN-Daily \.dly, .*plain table"):
        parse_minima(content, Path("a.txt"))


@pytest.mark.parametrize("content", [b"", b"\n \r\n"])
def test_nothing_at_all_is_refused(content):
    with pytest.raises(InputError, match="an empty file"):
        parse_minima(content, Path("a.txt"))


def test_text_in_another_encoding_is_refused_with_its_line():
    with pytest.raises(InputError, match="not UTF-8 text") as caught:
        parse_minima("date;tmin (°C)\r\n2026-04-01;1".encode("latin-1"), Path("a.csv"))
    assert caught.value.line == 1


def test_a_table_of_fahrenheit_made_of_tenths_gives_the_tenths_back(csv_folder):
    minima = read_minima(csv_folder / "GHCN_USW00014839.csv", unit="F")
    raw = (csv_folder / "GHCN_USW00014839.csv").read_text().splitlines()
    assert raw[2].endswith(",26.96")  # a whole °F stored as tenths: -2.8 °C
    assert minima.tmin_c[minima.dates == np.datetime64("1938-04-02")].tolist() == [-2.8]
    assert minima.notes[1:] == ("1 row stood out of order",)  # 1939-06-08, says the README of the data
    assert (minima.dates.size, str(minima.dates[-1])) == (len(raw) - 1, "2026-08-19")


def test_a_table_of_two_stations_is_refused_at_the_day_they_contradict(csv_folder):
    with pytest.raises(InputError, match="1998-08-01") as caught:
        read_minima(csv_folder / "GHCN_USC00045532_USW00023257.csv.gz", unit="F")
    assert "57.02 °F on line 35325 and 60.08 °F on line 35326" in caught.value.what


def test_without_the_contradiction_that_table_reads_with_its_absent_days(csv_folder):
    path = csv_folder / "GHCN_USC00045532_USW00023257.csv.gz"
    lines = read_bytes(path).split(b"\n")
    minima = parse_minima(b"\n".join(lines[:35325] + lines[35326:]), path, unit="F")
    days = np.arange(minima.dates[0], minima.dates[-1] + 1)
    assert (minima.dates.size, minima.known) == (44_342, 43_724)  # rows, and rows whose TMIN is not NA
    assert days.size - minima.dates.size == 909  # of 45,251 days from 1899-06-01 to 2023-04-22
    for day, tmin_c in (("1998-06-07", -2.8), ("2003-05-23", -17.8)):  # 26.96 and -0.04 °F: errors, unflagged
        assert minima.tmin_c[minima.dates == np.datetime64(day)].tolist() == [tmin_c]


def test_two_copies_of_one_station_agree_to_the_whole_fahrenheit(csv_folder, reference):
    table = read_minima(csv_folder / "central_park_weather.csv", unit="F")
    fixed = read_minima(reference / "ghcnd" / "tmin" / "USW00094728.dly")
    days, of_table, of_fixed = np.intersect1d(table.dates, fixed.dates, return_indices=True)
    told, stored = table.tmin_c[of_table], fixed.tmin_c[of_fixed]
    both = np.isfinite(told) & np.isfinite(stored)
    days, told, stored = days[both], told[both], stored[both]
    assert days.size == 4020
    np.testing.assert_array_equal(np.round(fahrenheit(told)), np.round(fahrenheit(stored)))
    differ = told != stored
    assert differ.sum() == 388  # 9.7 %: from 2013-11-12 on the archive rounds minima below 0 °C up,
    assert str(days[differ][0]) == "2013-11-12"  # 28 °F to -2.1 and not to -2.2 °C
    assert np.round(stored - told, 1)[differ].tolist() == [0.1] * 388
    assert (told[differ] < 0.0).all()


def test_a_real_cdo_table_is_refused_without_its_unit(csv_folder):
    with pytest.raises(InputError, match="could be °F, °C or tenths of °C"):
        read_minima(csv_folder / "central_park_weather.csv")


def test_a_real_table_read_in_the_wrong_unit_is_refused_where_a_value_is_absurd(csv_folder):
    with pytest.raises(InputError, match=r"'67 °C'.*Is the file in °F") as caught:
        read_minima(csv_folder / "central_park_weather.csv", unit="C")
    assert caught.value.line == 117


@pytest.mark.parametrize("content", [TABLE, b"XX000000001,20260401,TMIN,-22,,,S,0700\n"])
def test_reading_a_record_loads_neither_pandas_nor_scipy(content, tmp_path):
    (tmp_path / "record").write_bytes(content)
    program = (
        "import sys; from frostgate.sources.records import read_minima; read_minima(sys.argv[1]);"
        "print(sorted({'pandas', 'scipy'} & set(sys.modules)))"
    )
    command = [sys.executable, "-c", program, str(tmp_path / "record")]
    assert subprocess.run(command, capture_output=True, text=True, check=True).stdout.strip() == "[]"
