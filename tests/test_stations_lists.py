"""The archive's list of stations and its inventory."""

from __future__ import annotations

import numpy as np
import pytest

from frostgate.errors import InputError
from frostgate.sources.stations import parse_inventory, parse_stations, read_stations
from tests.network.invented import STATIONS, inventory_txt, stations_txt


@pytest.fixture
def files(tmp_path):
    """Both files, from their content."""

    def write(stations: bytes, inventory: bytes):
        paths = tmp_path / "ghcnd-stations.txt", tmp_path / "ghcnd-inventory.txt"
        for path, content in zip(paths, (stations, inventory), strict=True):
            path.write_bytes(content)
        return paths

    return write


def stripped(content: bytes) -> bytes:
    return b"\n".join(line.rstrip() for line in content.splitlines())


@pytest.mark.parametrize(
    "form",
    [bytes, stripped, lambda content: content.replace(b"\n", b"\r\n"), lambda content: content.rstrip(b"\n")],
    ids=["as written", "no trailing blanks", "carriage returns", "no last line feed"],
)
def test_every_station_is_read_as_it_was_written(files, form):
    listed = read_stations(*files(form(stations_txt()), form(inventory_txt())))

    read = [
        (one.id, one.latitude, one.longitude, one.elevation_m, one.name, first, last)
        for one, first, last in zip(
            map(listed.station, range(listed.ids.size)),
            listed.first_year.tolist(),
            listed.last_year.tolist(),
            strict=True,
        )
    ]
    assert read == [(*row[:3], None if row[3] < -900 else row[3], *row[4:]) for row in STATIONS]


def test_stations_without_minima_are_left_out(files):
    """XX000000099 stands in the inventory, but only with precipitation."""
    others = b"XX000000099  51.0000   -2.5000   10.0    RAIN ONLY\nXX000000100  51.0000   -2.5000   10.0\n"

    listed = read_stations(*files(stations_txt() + others, inventory_txt()))

    assert listed.ids.tolist() == [row[0].encode() for row in STATIONS]


def test_the_inventory_may_stand_in_another_order(files):
    """And may name stations that the list does not have."""
    shuffled = b"\n".join(sorted(inventory_txt().splitlines(), reverse=True))
    extra = b"\nZZ000000001  51.0000   -2.5000 TMIN 1990 2026"

    listed = read_stations(*files(stations_txt(), shuffled + extra))

    assert dict(zip(listed.ids.tolist(), listed.last_year.tolist(), strict=True)) == {
        row[0].encode(): row[6] for row in STATIONS
    }


def test_a_station_without_a_name_has_none():
    line = b"XX000000017  51.0000   -2.5000  112.0"

    assert parse_stations(line, "list").station(0).name is None


@pytest.mark.parametrize(
    ("line", "what", "at"),
    [
        (b"XX000000017  51.0000   -2.5000", "cut short after 30 of 37", 2),
        (b"XX000000017  9x.0000   -2.5000  112.0", "latitude", 2),
        (b"XX000000017  95.0000   -2.5000  112.0", "latitude", 2),
        (b"XX000000017  51.0000 -182.5000  112.0", "longitude", 2),
        (b"XX000000017  51.0000   -2.5000 99999.", "elevation", 2),
        (b"XX000000017  51.0000   -2.5000       ", "elevation", 2),
        (b"XX000000017      nan   -2.5000  112.0", "latitude", 2),
        (b"", "cut short after 0", 2),
    ],
)
def test_a_line_of_stations_that_is_wrong_is_named(line, what, at):
    content = stripped(stations_txt()).splitlines()
    content.insert(at - 1, line)

    with pytest.raises(InputError, match=what) as caught:
        parse_stations(b"\n".join(content), "list")

    assert caught.value.line == at
    assert caught.value.file == "list"


@pytest.mark.parametrize(
    ("line", "what"),
    [
        (b"XX000000017  51.0000   -2.5000 TMIN 1990 20", "cut short"),
        (b"XX000000017  51.0000   -2.5000 TMIN 1990 abcd", "year"),
        (b"XX000000017  51.0000   -2.5000 TMIN 0000 2026", "year"),
    ],
)
def test_a_line_of_the_inventory_that_is_wrong_is_named(line, what):
    with pytest.raises(InputError, match=what) as caught:
        parse_inventory(inventory_txt() + line + b"\n", "inventory")

    assert caught.value.line == len(inventory_txt().splitlines()) + 1


def test_an_inventory_without_minima_is_none():
    with pytest.raises(InputError, match="no station of it measures minima"):
        parse_inventory(b"XX000000017  51.0000   -2.5000 PRCP 1990 2026\n", "inventory")


@pytest.mark.parametrize("content", [b"", b"\n\n", b"\0" * 86])
@pytest.mark.parametrize("parse", [parse_stations, parse_inventory])
def test_what_is_no_text_is_refused(parse, content):
    with pytest.raises(InputError):
        parse(content, "list")


def test_names_in_other_letters_are_read():
    line = "XX000000017  51.0000   -2.5000  112.0    ÖSKELMERE".encode()

    assert parse_stations(line, "list").station(0).name == "ÖSKELMERE"
    assert np.isnan(parse_stations(line.replace(b" 112.0", b"-999.9"), "list").elevation_m[0])
