"""Rows put in order: units that are never guessed, what merges, what contradicts, what is noted."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from frostgate.errors import InputError
from frostgate.model.records import DailyMinima, Station
from frostgate.sources.records import parse_minima
from frostgate.sources.records.contradictions import Readings, UnitHint, merge

FILE = Path("invented.csv")
NAN = float("nan")
Row = tuple[str, float, bool]


def merged(*rows: Row, unit: UnitHint = "C", drop_contradictions: bool = False) -> DailyMinima:
    days, degrees, flagged = zip(*rows, strict=True)
    readings = Readings(
        path=FILE,
        station=Station(id="X"),
        unit=unit,
        dates=np.array([f"2026-04-{day}" for day in days], "datetime64[D]"),
        degrees=np.array(degrees),
        flagged=np.array(flagged),
        lines=np.arange(len(rows)) + 2,
    )
    return merge(readings, drop_contradictions=drop_contradictions)


def test_rows_in_order_are_taken_as_they_are():
    minima = merged(("01", 1.0, False), ("02", NAN, False), ("04", 2.0, False))
    assert minima.dates.astype(str).tolist() == ["2026-04-01", "2026-04-02", "2026-04-04"]
    assert minima.notes == ()


@pytest.mark.parametrize(
    ("order", "note"),
    [
        (["02", "01", "03"], "1 row stood out of order"),
        (["04", "01", "02", "05"], "2 rows stood out of order"),
        (["03", "02", "01"], "2 rows stood out of order"),
    ],
)
def test_rows_below_a_later_day_are_counted(order, note):
    minima = merged(*((day, float(day), False) for day in order))
    assert minima.notes == (note,)
    assert minima.tmin_c.tolist() == sorted(float(day) for day in order)


@pytest.mark.parametrize(
    ("rows", "tmin_c", "note"),
    [
        ([("01", 1.0, False)] * 2, 1.0, "1 day stood more than once, without contradiction"),
        ([("01", 1.0, False)] * 3, 1.0, "1 day stood more than once, without contradiction"),
        ([("01", NAN, False), ("01", 1.0, False)], 1.0, "1 day stood more than once, without contradiction"),
        ([("01", 1.0, False), ("01", NAN, False)], 1.0, "1 day stood more than once, without contradiction"),
        (
            [("01", 1.01, False), ("01", 0.99, False)],
            1.0,
            "1 day stood more than once, without contradiction",
        ),
        ([("01", 5.0, True), ("01", 9.0, True)], NAN, "1 day stood more than once, without contradiction"),
    ],
    ids=["twice", "three times", "missing first", "missing last", "equal in tenths", "both flagged"],
)
def test_rows_of_one_day_that_do_not_contradict_merge(rows, tmin_c, note):
    minima = merged(*rows, ("02", 3.0, False))
    np.testing.assert_array_equal(minima.tmin_c, [tmin_c, 3.0])
    assert minima.notes[-1] == note


@pytest.mark.parametrize(
    ("rows", "said", "line"),
    [
        ([("02", 1.0, False), ("02", 1.5, False)], "1 °C on line 3 and 1.5 °C on line 4", 4),
        (
            [("02", 1.0, False), ("02", 1.0, False), ("02", 2.0, False)],
            "1 °C on line 3 and 2 °C on line 5",
            5,
        ),
        (
            [("02", NAN, False), ("02", 1.0, False), ("02", 2.0, False)],
            "1 °C on line 4 and 2 °C on line 5",
            5,
        ),
        ([("02", 1.0, True), ("02", 1.0, False)], "1 °C, flagged on line 3 and 1 °C on line 4", 4),
        ([("02", 1.0, False), ("03", 7.0, False), ("02", 2.0, False)], "line 3 and 2 °C on line 5", 5),
    ],
    ids=["two", "the third", "behind a missing one", "a flag", "apart"],
)
def test_rows_of_one_day_that_contradict_are_refused_with_both(rows, said, line):
    with pytest.raises(InputError, match="2026-04-02 has two minima that contradict") as caught:
        merged(("01", 0.0, False), *rows)
    assert said in caught.value.what
    assert caught.value.line == line


@pytest.mark.parametrize(
    ("degrees", "unit", "remedy"),
    [
        (217.0, "F", "tenths of °C"),
        (85.0, "C", "in °F or in tenths"),
        (-950.0, "tenths-C", "fetch the file again"),
        (-999.9, "F", "leave it empty or write NA"),
        (-99.0, "C", "leave it empty or write NA"),
    ],
)
def test_an_absurd_minimum_is_refused_with_what_it_may_mean(degrees, unit, remedy):
    with pytest.raises(InputError, match="no place on earth") as caught:
        merged(("01", 0.0, False), ("02", degrees, False), unit=unit)
    assert caught.value.line == 3
    assert remedy in caught.value.remedy


@pytest.mark.parametrize(("degrees", "unit"), [(-90.0, "C"), (60.0, "C"), (140.0, "F"), (-900.0, "tenths-C")])
def test_the_coldest_and_the_hottest_there_can_be_are_taken(degrees, unit):
    assert merged(("01", degrees, False), unit=unit).known == 1


def test_contradicting_days_are_missing_where_that_is_wished():
    rows = [
        ("01", 1.0, False),
        ("02", 2.0, False),
        ("02", 3.0, False),
        ("03", 1.0, False),
        ("03", 1.0, False),
    ]
    with pytest.raises(InputError, match="--drop-contradictions"):
        merged(*rows)

    minima = merged(*rows, drop_contradictions=True)

    assert [bool(missing) for missing in np.isnan(minima.tmin_c)] == [False, True, False]
    assert minima.notes == (
        "1 day stood more than once, without contradiction",
        "1 day left out for contradicting minima",
    )


def test_flagged_values_are_left_out_and_kept_in_mind():
    minima = merged(("01", 1.0, True), ("02", 1.0, True), ("03", 1.0, False))
    assert minima.notes == ()
    assert minima.flagged.astype(str).tolist() == ["2026-04-01", "2026-04-02"]


@pytest.mark.parametrize(
    ("name", "station"), [("a.csv", "a"), ("a.csv.gz", "a"), ("a", "a"), ("a.b.csv", "a.b"), (".csv", ".csv")]
)
def test_a_station_goes_by_the_name_of_its_file(name, station):
    content, path = b"date,tmin_c\n2026-04-01,-2.2\n", Path("folder") / name
    assert parse_minima(content, path).station.id == station
    with pytest.raises(InputError, match="no such station"):
        parse_minima(content, path, station="XX000000001")


def test_tenths_are_whole_and_minus_9999_is_missing_and_bears_no_flag():
    minima = merged(("01", -9999.0, True), ("02", -22.0, False), unit="tenths-C")
    np.testing.assert_array_equal(minima.tmin_c, [NAN, -2.2])
    assert minima.flagged.size == 0
    with pytest.raises(InputError, match=r"not a whole number of tenths of °C: '2\.5'") as caught:
        merged(("01", -22.0, False), ("02", 2.5, False), unit="tenths-C")
    assert caught.value.line == 3


@pytest.mark.parametrize(
    ("fahrenheit", "tenths"),  # whole °F stored as tenths of °C: 5/9 (F - 32), rounded to 0.1
    [(36.0, 22.0), (32.0, 0.0), (28.0, -22.0), (24.0, -44.0), (20.0, -67.0), (16.0, -89.0)],
)
def test_fahrenheit_and_its_stored_tenths_are_one_minimum(fahrenheit, tenths):
    one, other = merged(("01", fahrenheit, False), unit="F"), merged(("01", tenths, False), unit="tenths-C")
    assert one.tmin_c.tolist() == other.tmin_c.tolist()
