"""The reader of fixed-width files, against a naive parser and against real stations."""

from __future__ import annotations

import datetime as dt
import itertools
import re
from pathlib import Path

import numpy as np
import pytest

from frostgate.errors import InputError
from frostgate.sources.records import parse_minima
from frostgate.sources.records.dly import looks_like_dly, parse_five_characters
from frostgate.units import as_stored, celsius

REAL = [
    "full/USW00014819",
    *(
        f"tmin/{station}"
        for station in (
            "ASN00064008",
            "USC00042319",
            "USW00012960",
            "USW00013904",
            "USW00014819",
            "USW00023174",
            "USW00023183",
            "USW00094728",
        )
    ),
]
FILE = Path("a.dly")


def month(values: dict[int, str] | None = None, head: str = "XX000000001202604TMIN") -> str:
    """Write a month: -1.0 °C on each of its first 30 days unless another cell is given."""
    return head + "".join(
        (values or {}).get(day, "-9999   " if day > 30 else "  -10  S") for day in range(1, 32)
    )


def read(*lines: str):
    return parse_minima("\n".join(lines).encode(), FILE)


def read_naively(path: Path) -> dict[dt.date, tuple[float, str]]:
    """Read a file as its readme says, one cell after the other."""
    days = {}
    for line in path.read_text().splitlines():
        if line[17:21] != "TMIN":
            continue
        for day in range(31):
            value, quality = int(line[21 + 8 * day : 26 + 8 * day]), line[27 + 8 * day]
            try:
                date = dt.date(int(line[11:15]), int(line[15:17]), day + 1)
            except ValueError:
                assert value == -9999
                continue
            days[date] = (np.nan if value == -9999 else value / 10, quality.strip())
    return days


@pytest.mark.parametrize("name", REAL)
def test_real_stations_read_as_a_naive_parser_reads_them(name, reference):
    path = reference / "ghcnd" / f"{name}.dly"
    naive, minima = read_naively(path), parse_minima(path.read_bytes(), path)
    assert minima.dates.astype(object).tolist() == sorted(naive)
    expected = [np.nan if naive[day][1] else naive[day][0] for day in sorted(naive)]
    np.testing.assert_array_equal(minima.tmin_c, expected)
    flagged = [day for day in sorted(naive) if naive[day][1] and not np.isnan(naive[day][0])]
    assert minima.flagged.astype(object).tolist() == flagged


@pytest.mark.parametrize(
    ("name", "days", "known", "flagged"),  # counted by read_naively in these files
    [
        ("full/USW00014819", 10_288, 10_270, 8),
        ("tmin/USW00023183", 31_771, 31_719, 23),
        ("tmin/USW00094728", 55_182, 55_147, 0),
    ],
)
def test_real_stations_have_as_many_days_as_counted(name, days, known, flagged, reference):
    path = reference / "ghcnd" / f"{name}.dly"
    minima = parse_minima(path.read_bytes(), path)
    assert (minima.dates.size, minima.known, minima.flagged.size) == (days, known, flagged)


@pytest.mark.parametrize(
    ("station", "day"),  # lows that failed a check and would move the last frost: README of the data
    [("USW00014819", "1998-05-06"), ("USC00042319", "2001-04-21")],
)
def test_a_flagged_low_of_a_real_spring_is_left_out(station, day, reference):
    path = reference / "ghcnd" / "tmin" / f"{station}.dly"
    minima = parse_minima(path.read_bytes(), path)
    assert np.datetime64(day) in minima.flagged
    assert np.isnan(minima.tmin_c[minima.dates == np.datetime64(day)]).all()


def test_the_other_elements_of_a_whole_file_change_nothing(reference):
    whole, only = (reference / "ghcnd" / part / "USW00014819.dly" for part in ("full", "tmin"))
    one, other = parse_minima(whole.read_bytes(), whole), parse_minima(only.read_bytes(), only)
    np.testing.assert_array_equal(one.tmin_c, other.tmin_c)
    np.testing.assert_array_equal(one.dates, other.dates)


def test_28_fahrenheit_stored_as_tenths_is_not_above_28_fahrenheit():
    minima = read(month({1: "  -22  S"}))  # GHCN stores 28 °F (-2.222 °C) as -22
    assert minima.tmin_c[0] == -2.2 <= as_stored(celsius(28.0))


def test_the_last_day_ends_at_the_last_but_third_character():
    minima = read(month({31: "  -17  0"}, "XX000000001202605TMIN"))  # layout of the readme, section III
    assert (str(minima.dates[-1]), minima.tmin_c[-1]) == ("2026-05-31", -1.7)


@pytest.mark.parametrize("flag", "DGIKLMNORSTWXZ")  # every quality flag of the readme, section III
def test_every_quality_flag_drops_its_value(flag):
    minima = read(month({5: f"  -50 {flag}S"}))
    assert np.isnan(minima.tmin_c[4])
    assert minima.flagged.astype(str).tolist() == ["2026-04-05"]


@pytest.mark.parametrize("cell", ["  -50H S", "  -50L 7"])
def test_a_measurement_flag_drops_nothing(cell):
    assert read(month({5: cell})).tmin_c[4] == -5.0


def test_a_missing_value_with_a_flag_is_missing_and_not_flagged():
    minima = read(month({5: "-9999 X "}))
    assert np.isnan(minima.tmin_c[4])
    assert minima.flagged.size == 0


@pytest.mark.parametrize(("year", "days"), [(1900, 28), (2000, 29), (2023, 28), (2024, 29)])
def test_february_has_the_days_of_its_year(year, days):
    short = dict.fromkeys(range(days + 1, 31), "-9999   ")
    assert read(month(short, f"XX000000001{year}02TMIN")).dates.size == days


def test_trailing_blanks_that_an_editor_took_away_are_given_back():
    lines = [month(), month({}, "XX000000001202606TMIN")]
    stripped = read(*(line.rstrip() for line in lines))
    assert stripped.tmin_c.tolist() == read(*lines).tmin_c.tolist()


def test_blank_flags_that_an_editor_took_away_are_given_back():
    line = month(dict.fromkeys(range(1, 32), "  -10   "), "XX000000001202605TMIN")
    assert read(line.rstrip()).known == 31


MAY = month({31: "  -17  S"}, "XX000000001202605TMIN")
FAULTS = {
    "a value cut short": (MAY[:265], "cut short after 265 of 269", MAY[:21]),
    "flags cut off": (MAY[:266], "cut short after 266 of 269", MAY[:21]),
    "a source flag cut off": (MAY[:268], "cut short after 268 of 269", MAY[:21]),
    "half a month": (MAY[:120], "cut short after 120 of 269", MAY[:21]),
    "two months on a line": (MAY + MAY, "a line of 538 characters, where a month has 269", MAY[:21]),
    "letters": (month({3: "  x10  S"}), "the minimum of day 3 is no whole number", "  x10"),
    "a decimal": (month({3: " -1.0  S"}), "the minimum of day 3 is no whole number", " -1.0"),
    "a shifted value": (month({3: "-10    S"}), "the minimum of day 3 is no whole number", "-10  "),
    "a blank value": (month({3: "        "}), "the minimum of day 3 is no whole number", "     "),
    "an impossible day": (
        month({31: "  -10  S"}),
        "a minimum on day 31 of 2026-04, which does not exist",
        "-10",
    ),
    "a flagged impossible day": (month({31: "  -10 XS"}), "day 31 of 2026-04, which does not exist", "-10"),
    "a month 13": (month({}, "XX000000001202613TMIN"), "does not begin with", "XX000000001202613TMIN"),
    "a garbled year": (month({}, "XX0000000012O2604TMIN"), "does not begin with", "XX0000000012O2604TMIN"),
    "a garbled element": (month({}, "XX000000001202604tmin"), "does not begin with", "XX000000001202604tmin"),
    "an absurd value": (month({3: "  999  S"}), "no place on earth has such a minimum", "999 tenths of °C"),
    "an absurd year": (month({}, "XX000000001002604TMIN"), "no station measured on such a day", "0026-04-01"),
}


@pytest.mark.parametrize(("line", "what", "value"), FAULTS.values(), ids=FAULTS.keys())
def test_a_line_that_cannot_be_right_is_refused_with_its_number_and_value(line, what, value):
    with pytest.raises(InputError, match=what) as caught:
        read(month({}, "XX000000001202603PRCP"), month({}, "XX000000001202606TMIN"), line)
    assert (caught.value.line, caught.value.value) == (3, value)
    assert (caught.value.file, bool(caught.value.remedy)) == ("a.dly", True)


def test_a_line_cut_in_two_is_refused_though_the_lengths_add_up():
    line = month({}, "XX000000001202603PRCP")
    with pytest.raises(InputError, match="cut short after 100 of 269") as caught:
        read(month(), line[:100], line[101:], month({}, "XX000000001202606TMIN"))
    assert caught.value.line == 2


def test_a_garbled_station_is_told_among_the_others():
    garbled = month({}, "XX000000001202606TMIN").encode().replace(b"XX00", b"XX\xff0")
    with pytest.raises(InputError, match="holds 2 stations: XX000000001, XX\ufffd00000001"):
        parse_minima(month().encode() + b"\n" + garbled, FILE)


def test_a_file_without_minima_names_the_elements_it_has():
    with pytest.raises(InputError, match="holds no TMIN of XX000000001, only PRCP, TMAX"):
        read(month({}, "XX000000001202604TMAX"), month({}, "XX000000001202604PRCP"))


def test_months_out_of_order_are_counted_as_lines():
    lines = [month({}, f"XX0000000012026{number}TMIN") for number in ("09", "04", "06", "11")]
    assert read(*lines).notes == ("2 rows stood out of order",)


@pytest.mark.parametrize("head", ["", "date,tmin_c", "USW00014819,19970501,TMIN,22", "USW00014819199705"])
def test_other_files_are_not_taken_for_a_fixed_width_file(head):
    assert not looks_like_dly(head)


def numbers_of(texts: list[bytes]):
    return parse_five_characters(np.frombuffer(b"".join(texts), np.uint8).reshape(-1, 5))


def test_every_number_that_fits_is_read():
    expected = np.arange(-9_999, 100_000)
    numbers, valid = numbers_of([b"%5d" % number for number in expected])
    assert valid.all()
    np.testing.assert_array_equal(numbers, expected)


def test_every_sequence_of_the_telling_characters_is_judged_as_a_pattern_judges_it():
    texts = [bytes(characters) for characters in itertools.product(b" -059", repeat=5)]
    numbers, valid = numbers_of(texts)
    assert valid.tolist() == [re.fullmatch(rb" *-?[0-9]+", text) is not None for text in texts]
    assert numbers[valid].tolist() == [int(text) for text, ok in zip(texts, valid, strict=True) if ok]


def test_no_other_byte_passes_for_a_digit_a_minus_or_a_blank():
    others = [byte for byte in range(256) if byte not in b" -0123456789"]
    texts = [
        bytes([*b"  -12"[:place], byte, *b"  -12"[place + 1 :]]) for byte in others for place in range(5)
    ]
    assert not numbers_of(texts)[1].any()


def test_the_shape_of_the_cells_is_kept():
    cells = np.frombuffer(b"   17" * 6, np.uint8).reshape(2, 3, 5)
    numbers, valid = parse_five_characters(cells)
    assert numbers.tolist() == [[17] * 3] * 2
    assert valid.shape == (2, 3)
