"""The grower's own minima and their marks, and the mornings that both thermometers know."""

from __future__ import annotations

import numpy as np
import pytest

from frostgate.climate.siting import find_shift, pair_up
from frostgate.errors import InputError, UnstatedUnitError
from frostgate.model.records import DailyMinima, Station
from frostgate.sources.records import read_garden, read_minima
from tests.siting_cases import days_from


@pytest.fixture
def write(tmp_path):
    def _write(text: str):
        path = tmp_path / "garden.csv"
        path.write_bytes(text.encode())
        return path

    return _write


def record(dates, tmin_c) -> DailyMinima:
    return DailyMinima(station=Station(id="X"), dates=dates, tmin_c=tmin_c)


@pytest.mark.parametrize("name", ["clear_calm", "Clear calm", "clear", "clear-and-calm"])
def test_marks_are_read_beside_the_minima(write, name):
    garden = read_garden(write(f"date,tmin_f,{name}\n2026-04-01,28,yes\n2026-04-02,32,no\n2026-04-03,31,\n"))

    assert garden.minima.tmin_c.tolist() == [-2.2, 0.0, -0.6]
    assert garden.clear.tolist() == [True, False, False]


@pytest.mark.parametrize(
    ("mark", "clear"),
    [("Y", True), ("true", True), ("1", True), ("x", True), ("N", False), ("FALSE", False), ("0", False)],
)
def test_a_mark_may_be_written_in_several_ways(write, mark, clear):
    assert read_garden(write(f"date;tmin_c;clear_calm\n2026-04-01;-2,2;{mark}\n")).clear.tolist() == [clear]


def test_a_table_without_marks_is_read_as_any_record(write):
    garden = read_garden(write("date,tmin_c\n2026-04-01,-2.2\n"))

    assert garden.clear is None
    assert garden.minima.station.id == "garden"


def test_marks_follow_their_dates_when_rows_stand_out_of_order_or_twice(write):
    rows = (
        "date,tmin_c,clear",
        "2026-04-03,1,no",
        "2026-04-01,-2,yes",
        "2026-04-01,-2,yes",
        "2026-04-02,,yes",
    )

    garden = read_garden(write("\ufeff" + "\r\n".join(rows)))

    assert garden.minima.dates.astype(str).tolist() == ["2026-04-01", "2026-04-02", "2026-04-03"]
    assert garden.clear.tolist() == [True, True, False]


def test_a_mark_that_is_neither_is_named_with_its_line(write):
    path = write("date,tmin_c,clear_calm\n2026-04-01,-2,yes\n\n2026-04-02,1,perhaps\n")

    with pytest.raises(InputError, match=r"line 4: a mark that is neither yes nor no: 'perhaps'\. Write yes"):
        read_garden(path)


@pytest.mark.parametrize("marks", [("yes", "no"), ("no", "yes")])
def test_one_morning_marked_both_ways_is_an_error(write, marks):
    path = write("date,tmin_c,clear\n" + "".join(f"2026-04-01,-2,{mark}\n" for mark in marks))

    with pytest.raises(InputError, match="a morning marked clear and calm on one line"):
        read_garden(path)


def test_marks_are_read_beside_dates_of_any_kind(write):
    garden = read_garden(write("year,month,day,tmin_c,clear\n2026,4,2,-2,yes\n2026,4,1,3,no\n"))

    assert garden.clear.tolist() == [False, True]


def test_two_columns_of_marks_are_refused(write):
    with pytest.raises(InputError, match="two columns of one meaning"):
        read_garden(write("date,tmin_c,clear,clear_calm\n2026-04-01,-2,yes,no\n"))


def test_the_unit_is_never_guessed(write):
    path = write("date,tmin,clear_calm\n2026-04-01,28,yes\n")

    with pytest.raises(UnstatedUnitError):
        read_garden(path)
    assert read_garden(path, unit="F").minima.tmin_c.tolist() == [-2.2]


def test_the_sample_garden_is_read(samples):
    garden = read_garden(samples / "hollin_bank.csv")

    assert garden.minima.dates.size == garden.clear.size == 177
    assert 60 < garden.clear.sum() < 110


def test_the_sample_garden_is_coldest_on_clear_calm_nights_and_misread_on_three_mornings(samples):
    """data_samples/make_samples.py draws -3.2 °F on clear calm nights and -0.8 °F on others."""
    garden, station = read_garden(samples / "hollin_bank.csv"), read_minima(samples / "oskelmere.dly")
    pairs = pair_up(garden.minima, station, garden.clear)
    misread = np.abs(pairs.differences_c * 1.8) > 10.0
    clear_f, other_f = (pairs.differences_c[mask & ~misread] * 1.8 for mask in (pairs.clear, ~pairs.clear))

    assert pairs.dates[misread].astype(str).tolist() == ["2025-03-22", "2025-04-28", "2026-03-08"]
    assert all(
        day in (samples / "README.md").read_text(encoding="utf-8") for day in pairs.dates[misread].astype(str)
    )
    assert clear_f.mean() == pytest.approx(-3.2, abs=0.5)
    assert other_f.mean() == pytest.approx(-0.8, abs=0.3)


def test_pairs_are_the_mornings_both_know():
    days = days_from("2026-04-01", 4)
    pairs = pair_up(
        record(days, [1.0, np.nan, 3.0, 4.0]),
        record(days[1:], [0.0, 1.0, np.nan]),
        np.array([True, True, True, False]),
    )

    assert pairs.dates.astype(str).tolist() == ["2026-04-03"]
    assert (pairs.garden_c[0], pairs.station_c[0], pairs.clear[0]) == (3.0, 1.0, True)


def test_records_without_a_common_morning_give_no_pairs():
    assert pair_up(record(["2026-04-01"], [1.0]), record(["2026-04-02"], [1.0])).dates.size == 0


@pytest.mark.parametrize("shift", [-1, 0, 1])
def test_dates_a_day_off_are_found(shift):
    days = days_from("2026-03-01", 60)
    rng = np.random.default_rng(5)
    station_c = rng.normal(3, 4, 60)
    garden = record(days - shift, station_c - 2 + rng.normal(0, 1, 60))

    assert find_shift(garden, record(days, station_c)) == shift


def test_a_few_mornings_tell_of_no_shift():
    days = days_from("2026-03-01", 9)
    tmin_c = np.arange(9.0) ** 2

    assert find_shift(record(days - 1, tmin_c), record(days, tmin_c)) == 0
