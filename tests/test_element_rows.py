"""The reader of by-station and by-year files: one row a day and element."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from frostgate.errors import InputError
from frostgate.sources.records import parse_minima
from frostgate.sources.records.element_rows import looks_like_element_rows

FILE = Path("invented.csv.gz")
ROW = "XX000000001,20260401,TMIN,-22,,,S,0700"


def read(*lines: str, **options: str):
    return parse_minima("\n".join(lines).encode(), FILE, **options)


def test_a_by_year_file_reads_as_its_raw_lines_say(reference):
    path = reference / "ghcnd" / "csv" / "USW00014922_2014-2015_byyear.csv"
    minima = parse_minima(path.read_bytes(), path)
    raw = [row for row in csv.DictReader(path.read_text().splitlines()) if row["attr"] == "TMIN"]
    assert len(raw) == 401  # counted: grep -c ,TMIN,
    assert [str(day).replace("-", "") for day in minima.dates] == [row["date"] for row in raw]
    assert minima.tmin_c.tolist() == [int(row["value"]) / 10 for row in raw]
    assert minima.flagged.size == 0
    assert minima.notes == (
        "the file names no station, so it is called USW00014922_2014-2015_byyear after the file",
    )


@pytest.mark.parametrize(
    "header",
    [
        "ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG,S_FLAG,OBS_TIME",
        '"ID","YEAR/MONTH/DAY","ELEMENT","DATA VALUE","M-FLAG","Q-FLAG","S-FLAG","OBS-TIME"',
        "station,date,datatype,value,a,b,c,d",
        "station,date,attribute,value,mflag,qflag,sflag,time",
    ],
)
def test_a_header_changes_nothing(header):
    rows = ROW, "XX000000001,20260402,TMIN,-33,,I,S,0700"
    named, headless = read(header, *rows), read(*rows)
    assert named.tmin_c.tolist()[0] == headless.tmin_c.tolist()[0] == -2.2
    assert named.flagged.tolist() == headless.flagged.tolist() == [np.datetime64("2026-04-02")]
    assert named.station.id == "XX000000001"


def test_quality_is_the_second_of_the_lettered_flags():
    flags = read(
        "date,attr,value,a,b,c,d", "20260401,TMIN,1,H,,,", "20260402,TMIN,2,,,I,", "20260403,TMIN,3,,I,,"
    )
    assert flags.flagged.astype(str).tolist() == ["2026-04-03"]


def test_a_flag_on_a_missing_value_counts_for_nothing():
    assert read(ROW, "XX000000001,20260402,TMIN,-9999,,I,S,").flagged.size == 0


def test_dates_may_be_dashed_or_compact():
    minima = read(ROW, "XX000000001,2026-04-02,TMIN,11,,,S,")
    assert minima.dates.astype(str).tolist() == ["2026-04-01", "2026-04-02"]


def test_only_the_rows_of_minima_are_read():
    minima = read("XX000000001,20260331,PRCP,0,T,,S,", ROW, "XX000000001,2026040X,TMAX,many,,,S,")
    assert minima.dates.astype(str).tolist() == ["2026-04-01"]


def test_a_file_without_quality_flags_is_noted():
    assert "the file has no quality flags" in read("date,element,value", "20260401,TMIN,-22").notes
    assert read("XX000000001,20260401,TMIN,-22").notes == ("the file has no quality flags",)


def test_a_station_without_an_id_goes_by_the_name_of_its_file():
    assert read("date,element,value,q_flag", "20260401,TMIN,-22,").station.id == "invented"


def test_five_of_many_stations_are_listed():
    rows = [f"XX00000000{number},20260401,TMIN,-22,,,S," for number in (7, 6, 5, 4, 3, 2, 1)]
    with pytest.raises(InputError, match=r"holds 7 stations: XX000000001, .*, XX000000005 and 2 more"):
        read(*rows)


FAULTS = {
    "a decimal": (["XX000000001,20260402,TMIN,-2.2,,,S,"], "not a whole number of tenths", 2, "-2.2"),
    "no such day": (["XX000000001,20260229,TMIN,-22,,,S,"], "not a date", 2, "20260229"),
    "no date": (["XX000000001,,TMIN,-22,,,S,"], "not a date", 2, ""),
    "no station": ([",20260402,TMIN,-22,,,S,"], "a row without a station", 2, ""),
    "a short row": (
        ["", "XX000000001,20260402,TMIN,-22"],
        "a row of 4 cells, where the header has 8",
        3,
        None,
    ),
    "a long row": ([ROW + ",,"], "a row of 10 cells, where the header has 8", 2, None),
    "a word": (["XX000000001,20260402,TMIN,cold,,,S,"], "not a number", 2, "cold"),
}


@pytest.mark.parametrize(("rows", "what", "line", "value"), FAULTS.values(), ids=FAULTS.keys())
def test_a_row_that_cannot_be_right_is_refused_with_its_line(rows, what, line, value):
    with pytest.raises(InputError, match=what) as caught:
        read(ROW, *rows)
    assert caught.value.line == line
    assert value is None or caught.value.value == value


def test_a_file_without_minima_names_its_elements():
    with pytest.raises(InputError, match="holds no TMIN, only PRCP, TMAX"):
        read("XX000000001,20260401,TMAX,1,,,S,", "XX000000001,20260401,PRCP,1,,,S,")


@pytest.mark.parametrize("behind", ["source", "x,y", "a,q2", "a"])
def test_columns_behind_the_value_that_could_hold_any_flag_are_refused(behind):
    header = f"date,element,value,{behind}"
    with pytest.raises(InputError, match="no column tells the quality flag; the columns are date, element"):
        read(header, "20260401,TMIN,-22" + "," * (header.count(",") - 2))


@pytest.mark.parametrize("head", ["", "date,tmin_c", "a,b,c,d", "XX000000001,20260401,TMIN", "date,value"])
def test_other_files_are_not_taken_for_element_rows(head):
    assert not looks_like_element_rows(head)
