"""The plain table of a forecast."""

import datetime as dt
import math
from pathlib import Path

import numpy as np
import pytest

from frostgate.errors import InputError
from frostgate.sources.forecasts import read_forecast
from frostgate.sources.forecasts.tables import known_column, known_columns, sd_from_quantiles
from frostgate.sources.text import Spot

ROWS = "2026-04-11,1.5\n2026-04-12,-2\n"


@pytest.fixture
def read(tmp_path):
    def written(text, **said):
        path = tmp_path / "table.csv"
        path.write_text(text, encoding="utf-8", newline="")
        return read_forecast(path, **said)

    return written


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_a_table_is_read_with_every_separator(read, separator):
    forecast = read(f"date,tmin_c\n{ROWS}".replace(",", separator))
    assert forecast.form == "table"
    assert [str(date) for date in forecast.dates] == ["2026-04-11", "2026-04-12"]
    np.testing.assert_array_equal(forecast.tmin_c, [1.5, -2.0])
    assert np.isnan(forecast.sd_c).all()


@pytest.mark.parametrize(
    ("name", "unit", "expected_c"),
    [("tmin_c", None, 14.0), ("tmin_f", None, -10.0), ("tmin (°F)", None, -10.0), ("low", "F", -10.0),
     ("tmin", "C", 14.0), ("tmin_f", "F", -10.0)],
)  # fmt: skip  # 14 °F = -10 °C exactly
def test_the_unit_comes_from_the_name_or_from_the_grower(read, name, unit, expected_c):
    assert read(f"date,{name}\n2026-04-11,14\n", unit=unit).tmin_c == pytest.approx([expected_c])


@pytest.mark.parametrize("name", ["sd", "spread", "sd_f"])
def test_a_spread_in_fahrenheit_is_a_difference(read, name):
    assert read(f"date,tmin_f,{name}\n2026-04-11,14,3.6\n").sd_c == pytest.approx([2.0])


@pytest.mark.parametrize("cell", ["", "NA", "NaN", "null", " n/a "])
def test_an_empty_cell_is_a_known_gap(read, cell):
    forecast = read(f"date,tmin_c\n2026-04-11,{cell}\n2026-04-12,2\n2026-04-13,4\n")
    np.testing.assert_array_equal(forecast.tmin_c, [np.nan, 2.0, 4.0])


def test_a_real_minus_sign_is_read(read):
    assert read("date,tmin_c\n2026-04-11,−2.5\n").tmin_c == pytest.approx([-2.5])


def test_quantiles_give_median_and_cold_spread(read):
    forecast = read("date,q10_f,q50_f,q90_f\n2026-04-11,27.4,32,33\n2026-04-12,,33.8,35.6\n")
    assert forecast.tmin_c == pytest.approx([0.0, 1.0])
    # (32 - 27.4) / 1.8 / 1.281552, the normal quantile of 90 %
    assert forecast.sd_c[0] == pytest.approx(4.6 / 1.8 / 1.281552, rel=1e-6)
    assert np.isnan(forecast.sd_c[1])
    assert "the median less q10_f" in forecast.notes[0]


def test_a_minimum_beside_quantiles_is_the_minimum(read):
    forecast = read("date,tmin_c,q10,q50\n2026-04-11,1.5,-1,1\n2026-04-12,,-1,1\n")
    assert forecast.tmin_c == pytest.approx([1.5, 1.0])
    assert forecast.sd_c == pytest.approx([2.0 / 1.281552] * 2, rel=1e-6)


def test_a_minimum_stands_for_a_median_that_is_not_there(read):
    forecast = read("date,tmin_c,p10\n2026-04-11,1,-1\n")
    assert forecast.sd_c == pytest.approx([2.0 / 1.281552], rel=1e-6)


def test_quantiles_of_the_warm_side_alone_give_no_spread(read):
    forecast = read("date,q50_c,q90_c\n2026-04-11,1,4\n")
    assert np.isnan(forecast.sd_c).all()
    assert not any("cold side" in note for note in forecast.notes)


def test_members_give_mean_and_sample_sd(read):
    forecast = read(
        "date,member_1,member_2,member_3,member_4\n"
        "2026-04-11,1,2,3,\n2026-04-12,,,,\n2026-04-13,-1,0.5,2,4.5\n",
        unit="C",
    )
    np.testing.assert_allclose(forecast.tmin_c, [2.0, np.nan, 1.5])
    np.testing.assert_allclose(forecast.sd_c, [1.0, np.nan, np.std([-1, 0.5, 2, 4.5], ddof=1)])
    assert "mean of 4 members" in forecast.notes[0]


def test_columns_that_are_not_read_are_named(read):
    forecast = read("date,tmax_c,tmin_c,m1,m2,m3\n2026-04-11,20,3.5,1,2,3\n")
    assert forecast.tmin_c == pytest.approx([2.0])
    assert "Not read: tmax_c, tmin_c." in forecast.notes


def test_remarks_state_issue_and_zone(read):
    forecast = read(
        f"# by hand\n\n# Issued: 2026-04-10T06:00\n#time zone: Europe/Berlin\ndate,tmin_c\n{ROWS}"
    )
    assert (forecast.issued_at, forecast.issued_stated) == (dt.datetime(2026, 4, 10, 6), True)
    assert forecast.time_zone == "Europe/Berlin"
    assert forecast.notes == ()


def test_a_column_states_the_issue(read):
    rows = "2026-04-11,1,2026-04-10 18:30\n2026-04-12,2,2026-04-10T18:30\n"
    assert read(f"date,tmin_c,issued\n{rows}").issued_at == dt.datetime(2026, 4, 10, 18, 30)


def test_an_issue_with_an_offset_is_brought_to_local_time(read):
    text = f"# issued: 2026-04-10T06:00Z\n# time zone: Europe/Berlin\ndate,tmin_c\n{ROWS}"
    assert read(text).issued_at == dt.datetime(2026, 4, 10, 8)  # UTC+2 in April
    assert read(text, time_zone="America/New_York").issued_at == dt.datetime(2026, 4, 10, 2)


def test_the_growers_zone_wins(read):
    forecast = read(f"# time zone: Europe/Berlin\ndate,tmin_c\n{ROWS}", time_zone="Europe/London")
    assert forecast.time_zone == "Europe/London"


def test_blank_lines_are_no_nights(read):
    assert read(f"\n\ndate,tmin_c\n\n{ROWS}\n  \n").dates.size == 2


def test_a_decimal_comma_is_read_where_no_comma_divides(read):
    assert read("date;tmin_c\n2026-04-11;1,5\n").tmin_c == pytest.approx([1.5])


def test_quoted_cells_are_read(read):
    assert read('"date","tmin_c"\n"2026-04-11","1.5"\n').tmin_c == pytest.approx([1.5])


@pytest.mark.parametrize(
    ("text", "line", "value", "what"),
    [
        ("date,tmin\n2026-04-11,1\n", 1, None, "no unit is stated"),
        (
            "date,tmin_c,sd_f\n2026-04-11,1,2\n",
            1,
            "°F",
            r"mixed units: column tmin_c is in °C \(column sd_f\)",
        ),
        ("date,rain\n2026-04-11,1\n", 1, "date", "no column of minima"),
        (
            "# x\ndate,tmin_c\n2026-04-11,1,5\n",
            3,
            "2026-04-11,1,5",
            "a row of 3 cells, where",
        ),
        (
            "date,tmin_c\n2026-04-11,1\n2026-04-12\n",
            3,
            "2026-04-12",
            "a row of 1 cell, where",
        ),
        ('date,tmin_c\n2026-04-11,"1\n', 2, '2026-04-11,"1', "a quotation mark out of place or never closed"),
        ('date,tmin_c\n2026-04-11,"1,5"\n', 2, "1,5", r"not a number \(column tmin_c\)"),
        ("date,tmin_c\n2026-04-11,1_0\n", 2, "1_0", r"not a number \(column tmin_c\)"),
        ("date,tmin_c\n2026-04-11,inf\n", 2, "inf", r"not a number \(column tmin_c\)"),
        ("date,tmin_c\n2026-04-11,cold\n", 2, "cold", r"not a number \(column tmin_c\)"),
        ("date,tmin_c\n11.04.2026,1\n", 2, "11.04.2026", r"not a date of this calendar \(column date\)"),
        ("date,tmin_c\n2026-04-31,1\n", 2, "2026-04-31", "not a date of this calendar"),
        ("date,tmin_c\n2026-04-11,-99\n", 2, "-99 °C", r"no place on earth .* \(column tmin_c\)"),
        ("date,tmin_c,sd\n2026-04-11,1,-0.5\n", 2, "-0.5 °C", r"a spread is never negative \(column sd\)"),
        ("date,q10_c,q50_c\n2026-04-11,2,1\n", 2, "2026-04-11, 2, 1", "quantile 50 lies below quantile 10"),
        ("date,tmin_c,q10\n2026-04-11,1,2\n", 2, "2026-04-11, 1, 2", "quantile 50 lies below quantile 10"),
        ("date,m1_c,m2_c\n2026-04-11,1,2\n", 1, "m1_c, m2_c", "fewer than 3 members"),
        (
            "# issued: today\ndate,tmin_c\n2026-04-11,1\n",
            1,
            "today",
            r"not a date with its time \(# issued\)",
        ),
        ("# issued: 2026-04-10\ndate,tmin_c\n2026-04-11,1\n", 1, "2026-04-10", "not a date with its time"),
        ("# time zone: Mars/Base\ndate,tmin_c\n2026-04-11,1\n", 1, "Mars/Base", "no time zone has this name"),
        (
            "# issued: 2026-04-10T06:00Z\ndate,tmin_c\n2026-04-11,1\n",
            1,
            "2026-04-10T06:00Z",
            "a time with an offset from UTC, and no time zone is known",
        ),
        (
            "# issued: 2026-04-10T06:00\n# issued: 2026-04-10T06:00\ndate,tmin_c\n2026-04-11,1\n",
            2,
            "2026-04-10T06:00",
            "said twice",
        ),
        (
            "date,tmin_c,issued\n2026-04-11,1,2026-04-10T06:00\n2026-04-12,1,2026-04-10T07:00\n",
            3,
            "2026-04-10T07:00",
            r"made at another time than line 2 says \(2026-04-10T06:00\)",
        ),
        (
            "# issued: 2026-04-09T06:00\ndate,tmin_c,issued\n2026-04-11,1,2026-04-10T06:00\n",
            3,
            "2026-04-10T06:00",
            "made at another time than line 1 says",
        ),
        ("date,tmin_c,issued\n2026-04-11,1,\n", 2, "", "not a date with its time"),
        ("date,tmin_c\n2026-04-11,1\n# the end,\n", 3, "# the end", "not a date of this calendar"),
    ],
)
def test_a_table_that_cannot_be_used_is_refused_with_file_line_and_value(read, text, line, value, what):
    with pytest.raises(InputError, match=what) as caught:
        read(text)
    assert caught.value.file.endswith("table.csv")
    assert (caught.value.line, caught.value.value) == (line, value)
    assert caught.value.remedy


def test_the_issue_of_tomorrow_cannot_be_true(read):
    assert read(f"# issued: 2026-04-12T23:00\ndate,tmin_c\n{ROWS}").issued_stated
    with pytest.raises(InputError, match="made on 2026-10-04, after its last morning") as caught:
        read(f"# issued: 2026-10-04T06:00\ndate,tmin_c\n{ROWS}")
    assert (caught.value.line, caught.value.value) == (4, "2026-04-12")


SPOT = Spot(file=Path("f.csv"), line=3)


@pytest.mark.parametrize(
    ("name", "kind", "number", "unit"),
    [
        ("date", "date", 0, None),
        ("Date", "date", 0, None),
        ("issued", "issued", 0, None),
        ("tmin", "minimum", 0, None),
        ("tmin_c", "minimum", 0, "C"),
        ("TMIN_F", "minimum", 0, "F"),
        ("tmin (°C)", "minimum", 0, "C"),
        ("tmin [F]", "minimum", 0, "F"),
        ("low", "minimum", 0, None),
        ("low(°f)", "minimum", 0, "F"),
        ("sd", "spread", 0, None),
        ("spread_c", "spread", 0, "C"),
        ("q10", "quantile", 10, None),
        ("p2.5_f", "quantile", 2.5, "F"),
        ("q50 (°C)", "quantile", 50, "C"),
        ("tmax_c", "maximum", 0, "C"),
        ("member_1", "member", 1, None),
        ("member01", "member", 1, None),
        ("m12_c", "member", 12, "C"),
    ],
)
def test_a_column_is_known_by_its_name(name, kind, number, unit):
    column = known_column(5, name)
    assert (column.kind, column.number, column.unit, column.index) == (kind, number, unit, 5)


@pytest.mark.parametrize("name", ["rain", "tavg_c", "tmin_k", "q", "member", "lowest", "date_c", "tmin2", ""])
def test_other_columns_are_not_known(name):
    assert known_column(0, name) is None


def test_quantiles_and_members_are_sorted_by_their_number():
    found = known_columns(["m2", "date", "m10", "m1", "tmin"], SPOT)
    assert [column.name for column in found["member"]] == ["m1", "m2", "m10"]


@pytest.mark.parametrize(
    ("header", "what", "value"),
    [
        (["date"], "no column of minima", "date"),
        (["date", "q10", "q90"], "no column of minima", "date, q10, q90"),
        (["date", "sd_c"], "no column of minima", "date, sd_c"),
        (["date", "tmin_c", "tmin_f"], "two columns say the same", "tmin_c, tmin_f"),
        (["date", "tmin", "low"], "two columns say the same", "tmin, low"),
        (["date", "Date", "low"], "two columns say the same", "date, Date"),
        (["date", "q50", "p50"], "two columns say the same", "q50, p50"),
        (["date", "low", "sd", "q10"], "more than one kind of spread", "sd, q10"),
        (["date", "m1", "m2", "m3", "q10"], "more than one kind of spread", "q10, m1, m2, m3"),
        (["date", "m1", "m2"], "fewer than 3 members", "m1, m2"),
        (["date", "low", "q0", "q50"], "a quantile lies between 0 and 100", "q0, q50"),
        (["date", "q50", "q100"], "a quantile lies between 0 and 100", "q50, q100"),
    ],
)
def test_columns_that_cannot_be_together_are_refused_by_name(header, what, value):
    with pytest.raises(InputError, match=what) as caught:
        known_columns(header, SPOT)
    assert (caught.value.file, caught.value.line, caught.value.value) == ("f.csv", 3, value)


def test_the_sd_comes_from_the_cold_side():
    # normal quantile of 10 % is -1.281552 (tables of the standard normal)
    assert sd_from_quantiles({10: -3.0, 50: 1.0, 90: 2.0}) == pytest.approx(4.0 / 1.281552, rel=1e-6)
    assert sd_from_quantiles({90: 2.0, 50: 1.0, 10: -3.0}) == pytest.approx(4.0 / 1.281552, rel=1e-6)


def test_the_lowest_quantile_speaks_for_the_cold_side():
    # normal quantile of 2.5 % is -1.959964
    assert sd_from_quantiles({2.5: -3.0, 25: 0.5, 50: 1.0}) == pytest.approx(4.0 / 1.959964, rel=1e-6)


@pytest.mark.parametrize(
    ("levels", "quantiles"),
    [
        ([50, 90], [1.0, 2.0]),
        ([10, 90], [0.0, 2.0]),
        ([10, 50], [math.nan, 2.0]),
        ([10, 50], [1.0, math.nan]),
    ],
    ids=["no cold side", "no median", "lowest missing", "median missing"],
)
def test_without_median_or_cold_side_there_is_no_sd(levels, quantiles):
    assert math.isnan(sd_from_quantiles(dict(zip(levels, quantiles, strict=True))))


@pytest.mark.parametrize(
    ("columns", "row"),
    [
        ("tmin_f,q50", "50,30"),
        ("tmin_f,q10,q50,q90", "50,25,30,40"),
        ("tmin_f,q10,q90", "20,25,40"),
        ("tmin_f,m1,m2,m3", "50,28,30,31"),
        ("tmin_f,m1,m2,m3", "20,28,30,31"),
    ],
)
def test_a_minimum_that_its_own_quantiles_or_members_contradict_is_refused(read, columns, row):
    with pytest.raises(InputError, match="contradicts its own") as refused:
        read(f"date,{columns}\n2026-05-02,{row}\n")
    assert refused.value.line == 2


@pytest.mark.parametrize(
    ("columns", "row"),
    [("tmin_f,q10", "40,33"), ("tmin_f,q10,q50,q90", "31,25,30,40"), ("tmin_f,m1,m2,m3", "32,28,30,31")],
)
def test_a_minimum_within_what_its_forecast_says_beside_it_is_read(read, columns, row):
    assert read(f"date,{columns}\n2026-05-02,{row}\n").dates.size == 1
