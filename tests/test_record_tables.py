"""The reader of delimited tables: Access and CDO tables, plain ones, and rows of one day and element."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from frostgate.errors import InputError
from frostgate.sources.records import parse_minima
from frostgate.sources.records.tables import (
    looks_like_access,
    looks_like_element_rows,
    looks_like_table,
    parse_dates,
)
from frostgate.sources.text import read_table

FILE = Path("invented.csv")
ACCESS = '"STATION","DATE","LATITUDE","LONGITUDE","ELEVATION","NAME","TMAX","TMIN","TMIN_ATTRIBUTES"'
PLACE = '"47.117","13.733","1100.0","INVENTED HILL, XX"'


def read(*lines: str, **options: str):
    return parse_minima("\n".join(lines).encode(), FILE, **options)


def access_row(tmin: str, attributes: str = ",,S", day: str = "2026-04-01") -> str:
    return f'"XX000000001","{day}",{PLACE},"  100","{tmin}","{attributes}"'


def test_the_bulk_access_form_states_tenths_and_the_place():
    minima = read(ACCESS, access_row("  -50", ",,E"))  # the row of NCEI's form, its station invented
    station = minima.station
    assert minima.tmin_c.tolist() == [-5.0]
    assert (station.id, station.name) == ("XX000000001", "INVENTED HILL, XX")
    assert (station.latitude, station.longitude, station.elevation_m) == (47.117, 13.733, 1100.0)


@pytest.mark.parametrize("attributes", [",I,S", "H,X,7,0700", ", I ,S"])
def test_the_second_attribute_is_the_quality_flag(attributes):
    minima = read(ACCESS, access_row("  -50"), access_row("  -60", attributes, "2026-04-02"))
    assert minima.flagged.astype(str).tolist() == ["2026-04-02"]


@pytest.mark.parametrize("attributes", [",,S", "H,,7,0700", "", ",,"])
def test_the_other_attributes_drop_nothing(attributes):
    assert read(ACCESS, access_row("  -50", attributes)).tmin_c.tolist() == [-5.0]


def test_attributes_of_another_form_are_refused():
    with pytest.raises(InputError, match="attributes that are not M,Q,S") as caught:
        read(ACCESS, access_row("  -50"), access_row("  -60", "I", "2026-04-02"))
    assert (caught.value.line, caught.value.value) == (3, "I")


DOUBTFUL = {
    "unpadded": [ACCESS, access_row("-50")],
    "decimals": [ACCESS, access_row(" -5.0")],
    "one value unpadded": [ACCESS, access_row("  -50"), access_row("-60", day="2026-04-02")],
    "no attributes": [ACCESS.rpartition(",")[0], access_row("  -50").rpartition(',",')[0]],
    "the order of CDO": [
        '"STATION","NAME","DATE","TMIN"',
        '"XX000000001","INVENTED HILL, XX","2026-04-01","-5"',
    ],
    "a plain table": ["date,TMIN", "2026-04-01,-5"],
}


@pytest.mark.parametrize("lines", DOUBTFUL.values(), ids=DOUBTFUL.keys())
def test_a_unit_that_is_not_stated_is_never_guessed(lines):
    with pytest.raises(InputError, match=r"could be °F, °C or tenths of °C.*Say --unit F or --unit C"):
        read(*lines)


@pytest.mark.parametrize(("unit", "tmin_c"), [("F", -10.0), ("C", 14.0), ("tenths-C", 1.4)])
def test_a_unit_that_is_not_stated_is_as_told(unit, tmin_c):
    assert read("date,TMIN", "2026-04-01,14", unit=unit).tmin_c.tolist() == [tmin_c]


@pytest.mark.parametrize(
    ("name", "tmin_c"),
    [
        ("tmin_c", 14.0),
        ("TMIN_F", -10.0),
        ("tmin (°C)", 14.0),
        ("Tmin [°F]", -10.0),
        ("tmin_degf", -10.0),
        ("tmin_deg_C", 14.0),
        ("tmin degrees celsius", 14.0),
        ("min_temp_fahrenheit", -10.0),
        ("Minimum temperature (C)", 14.0),
        ("temperature_2m_min (°C)", 14.0),
        ("T_min_F", -10.0),
    ],
)
def test_a_unit_in_the_name_of_the_column_states_it(name, tmin_c):
    assert read(f"date,{name},tmax", "2026-04-01,14,90").tmin_c.tolist() == [tmin_c]


@pytest.mark.parametrize(("name", "unit"), [("tmin_c", "F"), ("tmin_f", "C"), ("tmin_c", "tenths-C")])
def test_a_unit_that_contradicts_the_name_of_the_column_is_refused(name, unit):
    with pytest.raises(InputError, match="as the file itself says"):
        read(f"date,{name}", "2026-04-01,14", unit=unit)


def test_of_two_columns_of_minima_the_unit_picks_one():
    lines = "date,tmin_c,tmin_f", "2026-04-01,-10,14"
    assert read(*lines, unit="F").tmin_c.tolist() == read(*lines, unit="C").tmin_c.tolist() == [-10.0]
    with pytest.raises(InputError, match=r"several columns of minima: tmin_c, tmin_f.*Say --unit"):
        read(*lines)


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_any_of_three_separators_will_do(separator):
    lines = [separator.join(row) for row in (("date", "tmin_c", "rain"), ("2026-04-01", "-2.2", "0"))]
    assert read(*lines).tmin_c.tolist() == [-2.2]


@pytest.mark.parametrize("number", ["-2,2", "−2.2", " -2.2 ", "-2.20"])
def test_numbers_may_be_written_as_spreadsheets_do(number):
    assert read("date;tmin_c", f"2026-04-01;{number}").tmin_c.tolist() == [-2.2]


@pytest.mark.parametrize("word", ["", "NA", "nan", "N/A", "null"])
def test_missing_is_written_in_several_ways(word):
    minima = read("date,tmin_c", "2026-04-01,1", f"2026-04-02,{word}")
    np.testing.assert_array_equal(minima.tmin_c, [1.0, np.nan])


@pytest.mark.parametrize("unit", ["F", "C"])
def test_minus_9999_is_missing_only_among_tenths(unit):
    lines = "date,TMIN", "2026-04-01,10", "2026-04-02,-9999"
    assert np.isnan(read(*lines, unit="tenths-C").tmin_c[1])
    with pytest.raises(InputError, match=r"no place on earth.*leave it empty or write NA") as caught:
        read(*lines, unit=unit)
    assert caught.value.line == 3


def test_year_month_and_day_make_a_date():
    assert str(read("year,month,day,tmin_c", "2026,4,1,0", "2026,12,31,0").dates[0]) == "2026-04-01"


def test_where_the_station_stood_last_is_kept():
    moved = access_row("  -60", day="2026-04-02").replace("1100.0", "-999.9").replace("47.117", "47.2")
    minima = read(ACCESS, moved, access_row("  -50"))
    assert (minima.station.latitude, minima.station.elevation_m) == (47.2, None)
    assert "the station moved within the record; its last place is kept" in minima.notes


@pytest.mark.parametrize(
    ("part", "wrong", "what"),
    [
        ("47.117", "97.1", "no place on earth has this latitude"),
        ("13.733", "east", r"not a number \(column LONGITUDE\)"),
        ("1100.0", "99999", "no place on earth has this elevation"),
    ],
)
def test_a_place_that_is_not_on_earth_is_refused(part, wrong, what):
    with pytest.raises(InputError, match=what) as caught:
        read(ACCESS, access_row("  -50").replace(part, wrong))
    assert (caught.value.line, caught.value.value) == (2, wrong)


FAULTS = {
    "no date column": (
        ["when,tmin_c", "2026-04-01,1"],
        "no column of dates; the columns are when, tmin_c",
        None,
    ),
    "half a date": (["year,month,tmin_c", "2026,4,1"], "no column of dates", None),
    "no minima": (["date,tmax", "2026-04-01,1"], "no column of minima; the columns are date, tmax", None),
    "two dates": (["date,Date,tmin_c", "2026-04-01,2026-04-01,1"], "two columns of one meaning, date", None),
    "no header": (["2026-04-01,1", "2026-04-02,1"], "the columns are 2026-04-01, 1", None),
    "nothing below": (["date,tmin_c", "", ""], "a header and nothing below it", None),
    "no leap year": (["date,tmin_c", "2023-02-28,1", "2023-02-29,1"], "not a date: '2023-02-29'", 3),
    "another order": (["date,tmin_c", "04/01/2026,1"], "not a date: '04/01/2026'.*YYYY-MM-DD", 2),
    "mixed units": (
        ["date,tmin", "2026-04-01,32F", "2026-04-02,0C"],
        r"not a number \(column tmin\w*\): '32F'.*one unit",
        2,
    ),
    "a word": (
        ["date,tmin_c", "", "2026-04-01,1", "2026-04-02,mild"],
        r"not a number \(column tmin\w*\): 'mild'",
        4,
    ),
    "no finite number": (["date,tmin_c", "2026-04-01,inf"], r"not a number \(column tmin\w*\): 'inf'", 2),
    "a decimal comma": (["date,tmin_c", "2026-04-01,-2,2"], "a row of 3 cells, where the header has 2", 2),
    "too hot": (
        ["date,tmin_c", "2026-04-01,1", "2026-04-02,85"],
        "such a minimum: '85 °C'.*°F or in tenths",
        3,
    ),
    "too hot in °F": (["date,tmin_f", "2026-04-01,217"], "such a minimum: '217 °F'.*tenths of °C", 2),
    "a quotation mark": (["date,tmin_c,note", '2026-04-01,1,"late', "2026-04-02,1,x"], "a quotation mark", 2),
}


@pytest.mark.parametrize(("lines", "what", "line"), FAULTS.values(), ids=FAULTS.keys())
def test_a_table_that_cannot_be_right_is_refused_with_its_line(lines, what, line):
    with pytest.raises(InputError, match=what) as caught:
        read(*lines)
    assert caught.value.line == line
    assert caught.value.remedy


def test_quoted_commas_and_blank_lines_do_not_shift_the_line_numbers():
    with pytest.raises(InputError, match="not a number") as caught:
        read("", 'date,"note, short",tmin_c', "", '2026-04-01,"a, b",1', " ", '2026-04-02,"c, d",x')
    assert caught.value.line == 6


@pytest.mark.parametrize(
    ("head", "access", "table"), [("STATION,DATE,TMIN", True, True), ("date", False, False)]
)
def test_tables_are_told_by_their_first_line(head, access, table):
    assert (looks_like_access(head), looks_like_table(head)) == (access, table)


def test_metric_whole_numbers_of_the_archive_are_tenths_where_they_cannot_be_degrees():
    head = '"STATION","DATE","NAME","TMIN"'
    rows = [
        '"XX000000001","2026-04-01","SOMEWHERE, XX","-22"',
        '"XX000000001","2026-07-01","SOMEWHERE, XX","194"',
    ]
    made = parse_minima("\n".join([head, *rows]).encode(), Path("a.csv"), unit="C")
    assert made.tmin_c.tolist() == [-2.2, 19.4]
    plain = parse_minima("\n".join([head, rows[0]]).encode(), Path("a.csv"), unit="C")
    assert plain.tmin_c.tolist() == [-22.0]  # could be degrees, so it is what was told
    with pytest.raises(InputError, match="no place on earth"):
        parse_minima(b"date,tmin\n2026-07-01,194\n", Path("a.csv"), unit="C")


def table_of(*lines: str):
    return read_table(lines, FILE)


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
    read = table_of("date,x", f"{text},1")
    assert parse_dates(read).astype(str).tolist() == [day]


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
    read = table_of("date,x", "2026-03-31,1", f"{text},1")
    with pytest.raises(InputError, match="not a date") as caught:
        parse_dates(read)
    assert (caught.value.line, caught.value.value) == (3, text)


ROW = "XX000000001,20260401,TMIN,-22,,,S,0700"


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


ROW_FAULTS = {
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


@pytest.mark.parametrize(("rows", "what", "line", "value"), ROW_FAULTS.values(), ids=ROW_FAULTS.keys())
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
    with pytest.raises(InputError, match="no column of quality flags; the columns are date, element"):
        read(header, "20260401,TMIN,-22" + "," * (header.count(",") - 2))


@pytest.mark.parametrize("head", ["", "date,tmin_c", "a,b,c,d", "XX000000001,20260401,TMIN", "date,value"])
def test_other_files_are_not_taken_for_element_rows(head):
    assert not looks_like_element_rows(head)
