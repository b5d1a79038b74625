"""What every form of record must do; a new form in `FORMS` needs a writer here, and nothing else."""

from __future__ import annotations

import gzip
import random
import re
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest

from frostgate.errors import InputError
from frostgate.model.records import DailyMinima
from frostgate.sources.records import FORMS, parse_minima, read_minima

STATION, OTHER = "XX000000001", "XX000000002"


class Row(NamedTuple):
    day: str
    tenths: int | None
    flag: str = ""
    station: str = STATION


def write_dly(rows: list[Row]) -> list[str]:
    lines: list[tuple[tuple[str, str], dict[int, str]]] = []
    for row in rows:
        key, day = (row.station, row.day[:7].replace("-", "")), int(row.day[8:])
        same = [cells for other, cells in lines if other == key and day not in cells]
        cells = same[0] if same else {}
        if not same:
            lines.append((key, cells))
        cells[day] = "-9999   " if row.tenths is None else f"{row.tenths:5d} {row.flag:1}S"
    return [
        f"{station}{month}TMIN" + "".join(cells.get(day, "-9999   ") for day in range(1, 32))
        for (station, month), cells in lines
    ]


def write_element_rows(rows: list[Row]) -> list[str]:
    return [
        f"{row.station},{row.day.replace('-', '')},TMIN,"
        f"{-9999 if row.tenths is None else row.tenths},,{row.flag},S,"
        for row in rows
    ]


def write_access(rows: list[Row]) -> list[str]:
    header = '"STATION","DATE","LATITUDE","LONGITUDE","ELEVATION","NAME","TMIN","TMIN_ATTRIBUTES"'
    place = '"50.5","10.25","120.0","INVENTED HILL, XX"'
    return [header] + [
        f'"{row.station}","{row.day}",{place},'
        + ('"",""' if row.tenths is None else f'"{row.tenths:5d}",",{row.flag},S"')
        for row in rows
    ]


def write_table(rows: list[Row]) -> list[str]:
    return ["date;station;tmin_c;tmin_c_attributes"] + [
        f"{row.day};{row.station};{'NA' if row.tenths is None else row.tenths / 10};,{row.flag},"
        for row in rows
    ]


WRITERS: dict[str, Callable[[list[Row]], list[str]]] = {
    "GHCN-Daily .dly": write_dly,
    "GHCN-Daily element rows": write_element_rows,
    "Access table": write_access,
    "plain table": write_table,
}
ROWS = [  # two whole months and a gap of two between them
    Row(f"2024-{month:02d}-{day:02d}", month * 3 - 2 * day)
    for month, days in ((2, 29), (5, 31))
    for day in range(1, days + 1)
]

over_every_form = pytest.mark.parametrize("write", WRITERS.values(), ids=WRITERS.keys())


def to_bytes(lines: list[str], end: str = "\n") -> bytes:
    return (end.join(lines) + end).encode()


def read(lines: list[str], end: str = "\n", **options: str) -> DailyMinima:
    return parse_minima(to_bytes(lines, end), Path("record"), **options)  # type: ignore[arg-type]  # unit: a word


def assert_same(one: DailyMinima, other: DailyMinima) -> None:
    assert one.station == other.station
    np.testing.assert_array_equal(one.dates, other.dates)
    np.testing.assert_array_equal(one.tmin_c, other.tmin_c)
    np.testing.assert_array_equal(one.flagged, other.flagged)


def test_every_form_has_a_writer_here():
    assert set(WRITERS) == {form.name for form in FORMS}


@pytest.mark.parametrize("form", FORMS, ids=lambda form: form.name)
def test_a_form_recognises_its_files_before_any_other_does(form):
    head = WRITERS[form.name](ROWS)[0]
    assert next(other.name for other in FORMS if other.recognises(head)) == form.name


@over_every_form
def test_every_value_arrives_on_its_day(write):
    minima = read(write(ROWS))
    assert [str(day) for day in minima.dates] == [row.day for row in ROWS]
    assert minima.tmin_c.tolist() == [row.tenths / 10 for row in ROWS]
    assert (minima.station.id, minima.notes, minima.flagged.size) == (STATION, (), 0)


@over_every_form
def test_a_packed_file_equals_the_plain_one(write, tmp_path):
    content = to_bytes(write(ROWS))
    (tmp_path / "plain").write_bytes(content)
    (tmp_path / "packed").write_bytes(gzip.compress(content))
    assert_same(read_minima(tmp_path / "plain"), read_minima(tmp_path / "packed"))


@over_every_form
@pytest.mark.parametrize("end", ["\r\n", "\r", "\n\n", "\n \n"])
def test_other_line_ends_and_blank_lines_change_nothing(write, end):
    assert_same(read(write(ROWS), end), read(write(ROWS)))


@over_every_form
def test_a_byte_order_mark_and_a_missing_last_line_end_change_nothing(write):
    content = b"\xef\xbb\xbf" + to_bytes(write(ROWS)).rstrip(b"\n")
    assert_same(parse_minima(content, Path("record")), read(write(ROWS)))


@over_every_form
def test_shuffled_rows_equal_sorted_ones_and_are_noted(write):
    rows = ROWS.copy()
    random.Random(1).shuffle(rows)
    rows.sort(key=lambda row: row.day[:7], reverse=True)  # in .dly only the order of the months shows
    shuffled = read(write(rows))
    assert_same(shuffled, read(write(ROWS)))
    assert re.fullmatch(r"\d+ rows? stood out of order", shuffled.notes[0])


@over_every_form
def test_equal_rows_of_one_day_merge_with_a_note(write):
    minima = read(write([*ROWS, ROWS[-1]]))
    assert minima.tmin_c.tolist() == [row.tenths / 10 for row in ROWS]
    assert minima.notes[-1].endswith("stood more than once, without contradiction")


@over_every_form
def test_a_missing_value_gives_way_to_a_known_one_of_the_same_day(write):
    minima = read(write([*ROWS[:-1], ROWS[-1]._replace(tenths=None), ROWS[-1]]))
    assert minima.tmin_c.tolist() == [row.tenths / 10 for row in ROWS]


@over_every_form
@pytest.mark.parametrize("end", ["\n", "\r\n", "\n\n"])
def test_contradicting_rows_of_one_day_are_refused_with_both_lines_and_values(write, end):
    lines = write([*ROWS, Row("2024-05-31", 123)])
    with pytest.raises(InputError, match="2024-05-31 has two minima that contradict each other") as caught:
        read(lines, end)
    places = re.findall(r"(-?[\d.]+) (?:tenths of )?°C on line (\d+)", caught.value.what)
    spaced = end.join(lines).replace("\r\n", "\n").split("\n")
    assert [abs(float(value)) in (47, 4.7, 123, 12.3) for value, _ in places] == [True, True]
    assert all(value in spaced[int(line) - 1] for value, line in places)
    assert caught.value.line == int(places[1][1]) > int(places[0][1])


@over_every_form
def test_a_flagged_value_contradicts_the_same_value_unflagged(write):
    with pytest.raises(InputError, match="°C, flagged on line"):
        read(write([*ROWS, ROWS[-1]._replace(flag="I")]))


@over_every_form
def test_flagged_values_are_left_out_and_counted(write):
    flagged = {"2024-02-29", "2024-05-06"}
    minima = read(write([row._replace(flag="X" if row.day in flagged else "") for row in ROWS]))
    assert {str(day) for day in minima.flagged} == flagged
    assert {str(day) for day in minima.dates[np.isnan(minima.tmin_c)]} == flagged
    assert minima.notes == ()


@over_every_form
def test_an_absurd_value_with_a_flag_is_left_out_and_one_without_is_refused(write):
    flagged = read(write([*ROWS[:-1], Row("2024-05-31", 999, "X")]))
    assert flagged.flagged.astype(str).tolist() == ["2024-05-31"]
    with pytest.raises(InputError, match="no place on earth has such a minimum") as caught:
        read(write([*ROWS[:-1], Row("2024-05-31", 999)]))
    assert (
        "99"
        in to_bytes(write([*ROWS[:-1], Row("2024-05-31", 999)])).decode().split("\n")[caught.value.line - 1]
    )


@over_every_form
def test_missing_values_are_nan_and_absent_months_are_absent(write):
    minima = read(write([ROWS[0]._replace(tenths=None), *ROWS[1:]]))
    assert np.isnan(minima.tmin_c).tolist() == [True] + [False] * (len(ROWS) - 1)
    assert not np.isin(np.arange("2024-03", "2024-05", dtype="datetime64[D]"), minima.dates).any()


@over_every_form
def test_a_record_without_a_single_minimum_is_refused(write):
    with pytest.raises(InputError, match="not one minimum"):
        read(write([row._replace(tenths=None) for row in ROWS]))


@over_every_form
def test_a_unit_that_contradicts_the_form_is_refused(write):
    with pytest.raises(InputError, match="as the file itself says, not in °F"):
        read(write(ROWS), unit="F")


@over_every_form
def test_degrees_celsius_agree_with_every_form_that_states_its_unit(write):
    assert_same(read(write(ROWS), unit="C"), read(write(ROWS)))


@over_every_form
def test_one_of_several_stations_is_picked(write):
    lines = write(ROWS + [row._replace(station=OTHER, tenths=7) for row in ROWS])
    with pytest.raises(InputError, match=rf"holds 2 stations: {STATION}, {OTHER}.*--station ID"):
        read(lines)
    assert_same(read(lines, station=STATION), read(write(ROWS)))
    assert set(read(lines, station=OTHER).tmin_c) == {0.7}


@over_every_form
def test_a_station_that_is_not_there_is_refused_with_those_that_are(write):
    with pytest.raises(InputError, match=f"'{OTHER}'. It holds {STATION}"):
        read(write(ROWS), station=OTHER)


@over_every_form
@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("packed", [False, True])
def test_a_value_that_is_no_number_is_refused_with_its_line(write, end, packed, tmp_path):
    lines = write([*ROWS[:-1], Row("2024-05-31", -876)])
    content = to_bytes(lines, end).replace(b"-876", b"-8x6").replace(b"-87.6", b"-8x.6")
    (tmp_path / "record").write_bytes(gzip.compress(content) if packed else content)
    with pytest.raises(InputError) as caught:
        read_minima(tmp_path / "record")
    assert caught.value.line == len(lines)
    assert "-8x" in caught.value.value
