"""Laws of reading records, for whatever a station may have measured and whatever may befall a file."""

from __future__ import annotations

import contextlib
import datetime as dt
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from frostgate.errors import InputError
from frostgate.model.records import DailyMinima
from frostgate.sources.records import parse_minima
from frostgate.sources.records.dly import parse_five_characters

FILE = Path("invented")
TENTHS = st.integers(-899, 599)  # within nature: -89.9 to 59.9 °C
DAYS = st.dates(dt.date(1763, 1, 1), dt.date(2150, 12, 31))
RECORDS = st.dictionaries(DAYS, TENTHS, min_size=1, max_size=40)
unhurried = settings(max_examples=50, deadline=None)
UNORDERED = RECORDS.flatmap(lambda record: st.permutations(list(record.items())))


def write(header: str, rows: list[str]) -> bytes:
    return "\n".join([header, *rows]).encode()


def write_months(rows: list[tuple[dt.date, int]]) -> bytes:
    months: dict[str, dict[int, str]] = {}
    for day, tenths in rows:
        months.setdefault(f"{day:%Y%m}".zfill(6), {})[day.day] = f"{tenths:5d}  S"
    return "\n".join(
        f"XX000000001{month}TMIN" + "".join(cells.get(day, "-9999   ") for day in range(1, 32))
        for month, cells in months.items()
    ).encode()


def known(minima: DailyMinima) -> dict[dt.date, float]:
    finite = np.isfinite(minima.tmin_c)
    return dict(zip(minima.dates[finite].astype(object), minima.tmin_c[finite].tolist(), strict=True))


@unhurried
@given(rows=UNORDERED)
def test_every_form_gives_back_what_was_written_into_it(rows):
    tenths = {day: value / 10 for day, value in rows}
    written = [
        write_months(rows),
        write("id,date,element,value", [f"X,{day:%Y%m%d},TMIN,{value}" for day, value in rows]),
        write("date;tmin_c", [f"{day};{value / 10}" for day, value in rows]),
        write("year,month,day,tmin_c", [f"{d.year},{d.month},{d.day},{v / 10}" for d, v in rows]),
    ]
    for content in written:
        assert known(parse_minima(content, FILE)) == tenths


@unhurried
@given(rows=UNORDERED, decimals=st.sampled_from([2, 3, 17]))
def test_a_table_in_fahrenheit_equals_the_same_table_in_celsius(rows, decimals):
    in_celsius = write("date,tmin_c", [f"{day},{value / 10}" for day, value in rows])
    in_fahrenheit = write(
        "date,tmin_f", [f"{day},{round(value * 0.18 + 32, decimals)}" for day, value in rows]
    )
    one, other = parse_minima(in_celsius, FILE), parse_minima(in_fahrenheit, FILE)
    np.testing.assert_array_equal(one.dates, other.dates)
    np.testing.assert_array_equal(one.tmin_c, other.tmin_c)


@unhurried
@given(record=RECORDS, repeated=st.randoms(use_true_random=False))
def test_rows_said_twice_change_nothing(record, repeated):
    rows = list(record.items())
    twice = rows + repeated.choices(rows, k=len(rows))
    repeated.shuffle(twice)
    once, again = (
        parse_minima(write("date,tmin_c", [f"{day},{value / 10}" for day, value in some]), FILE)
        for some in (rows, twice)
    )
    assert known(once) == known(again)


@unhurried
@given(record=RECORDS, other=TENTHS, data=st.data())
def test_a_day_never_keeps_one_of_two_values_in_silence(record, other, data):
    day = data.draw(st.sampled_from(sorted(record)))
    rows = [*record.items(), (day, other)]
    content = write("date,tmin_c", [f"{day},{value / 10}" for day, value in rows])
    if other == record[day]:
        assert known(parse_minima(content, FILE))[day] == other / 10
        return
    with pytest.raises(InputError, match="contradict") as caught:
        parse_minima(content, FILE)
    assert caught.value.line == len(rows) + 1


@given(cells=st.binary(min_size=8, max_size=8).map(lambda cell: cell[:8]))
def test_five_characters_are_a_number_exactly_where_the_pattern_says_so(cells):
    numbers, valid = parse_five_characters(np.frombuffer(cells, np.uint8)[None, :5])
    text = cells[:5].decode("latin-1")
    digits = text.lstrip(" ").removeprefix("-")
    assert valid[0] == (digits.isdigit() and digits.isascii())
    assert not valid[0] or numbers[0] == int(text)


@given(cells=st.lists(st.tuples(TENTHS | st.just(-9999), st.sampled_from(" IX")), min_size=31, max_size=31))
def test_a_month_reads_as_its_cells_say(cells):
    if all(value == -9999 or flag != " " for value, flag in cells):
        cells[0] = (0, " ")
    line = "XX000000001202605TMIN" + "".join(f"{value:5d} {flag}S" for value, flag in cells)
    minima = parse_minima(line.encode(), FILE)
    expected = [np.nan if value == -9999 or flag != " " else value / 10 for value, flag in cells]
    np.testing.assert_array_equal(minima.tmin_c, expected)
    assert minima.flagged.size == sum(value != -9999 and flag != " " for value, flag in cells)


SOUND = [
    write_months([(dt.date(2026, 4, day), day) for day in range(1, 31)]),
    write(
        '"STATION","NAME","DATE","TMIN"', [f'"X","A, B","2026-04-{day:02d}","{day}"' for day in range(1, 31)]
    ),
    write("date;tmin_c;note", [f"2026-04-{day:02d};{day},5;x" for day in range(1, 31)]),
    write("date,attr,value,a,b,c,d", [f"202604{day:02d},TMIN,{day},,,W,2400" for day in range(1, 31)]),
]
SCRAPS = st.binary(max_size=6) | st.sampled_from(
    [b'"', b"\n", b",", b"\r\n", b";", b"\t", b"-9999", b"\xff", b" "]
)


@settings(max_examples=200, deadline=None)
@given(
    sound=st.sampled_from(SOUND),
    scraps=st.lists(st.tuples(st.integers(0, 8000), st.integers(0, 40), SCRAPS), max_size=4),
)
def test_a_damaged_file_is_read_or_refused_and_never_ends_otherwise(sound, scraps):
    content = sound
    for place, lost, scrap in scraps:
        start = place % (len(content) + 1)
        content = content[:start] + scrap + content[start + lost :]
    with contextlib.suppress(InputError):
        assert parse_minima(content, FILE, unit="C").known > 0


@settings(max_examples=200, deadline=None)
@given(
    content=st.text(alphabet='datemin_c,;"\n\r\t -0123456789XNA', max_size=120).map(str.encode)
    | st.binary(max_size=120)
)
def test_any_bytes_at_all_are_read_or_refused(content):
    with contextlib.suppress(InputError):
        assert parse_minima(content, FILE, unit="F").known > 0
