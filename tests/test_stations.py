"""The archive's stations: its lists, the nearest to a place, how each would serve, what a record holds."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostgate.cli.stations import parse_degrees, parse_distance
from frostgate.climate.siting import UNKNOWN_ELEVATION_SD_M
from frostgate.errors import InputError
from frostgate.model.stations import Counted, NearStation, Place
from frostgate.sources.stations import (
    EARTH_RADIUS_KM,
    count_record,
    find_nearest,
    great_circle_km,
    likely_off_days,
    parse_inventory,
    parse_stations,
    rank,
    read_stations,
)
from tests.network.invented import STATIONS, dly, inventory_txt, stations_txt


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
        (one.id, one.latitude, one.longitude, one.elevation_m, one.name, one.first_year, one.last_year)
        for one in listed
    ]
    assert read == [(*row[:3], None if row[3] < -900 else row[3], *row[4:]) for row in STATIONS]


def test_stations_without_minima_are_left_out(files):
    """XX000000099 stands in the inventory, but only with precipitation."""
    others = b"XX000000099  51.0000   -2.5000   10.0    RAIN ONLY\nXX000000100  51.0000   -2.5000   10.0\n"

    listed = read_stations(*files(stations_txt() + others, inventory_txt()))

    assert [one.id for one in listed] == [row[0] for row in STATIONS]


def test_the_inventory_may_stand_in_another_order(files):
    """And may name stations that the list does not have."""
    shuffled = b"\n".join(sorted(inventory_txt().splitlines(), reverse=True))
    extra = b"\nZZ000000001  51.0000   -2.5000 TMIN 1990 2026"

    listed = read_stations(*files(stations_txt(), shuffled + extra))

    assert {one.id: one.last_year for one in listed} == {row[0]: row[6] for row in STATIONS}


def test_a_station_without_a_name_has_none():
    line = b"XX000000017  51.0000   -2.5000  112.0"

    assert parse_stations(line, "list")[0].name is None


@pytest.mark.parametrize(
    ("line", "what", "at"),
    [
        (b"XX000000017  51.0000   -2.5000", "elevation", 2),
        (b"XX000000017  9x.0000   -2.5000  112.0", "latitude", 2),
        (b"XX000000017  95.0000   -2.5000  112.0", "latitude", 2),
        (b"XX000000017  51.0000 -182.5000  112.0", "longitude", 2),
        (b"XX000000017  51.0000   -2.5000 99999.", "elevation", 2),
        (b"XX000000017  51.0000   -2.5000       ", "elevation", 2),
        (b"XX000000017  51.0000   -2.5000  11", "elevation", 2),
        (b"XX000000017      nan   -2.5000  112.0", "latitude", 2),
        (b"", "latitude", 2),
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
        (b"XX000000017  51.0000   -2.5000 TMIN 1990 20", "year"),
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

    assert parse_stations(line, "list")[0].name == "ÖSKELMERE"
    assert parse_stations(line.replace(b" 112.0", b"-999.9"), "list")[0].elevation_m is None


latitudes = st.floats(-90.0, 90.0)
longitudes = st.floats(-180.0, 180.0)


def distance_km(a: tuple[float, float], b: tuple[float, float]) -> float:
    place = Place(latitude=b[0], longitude=b[1])
    return float(great_circle_km(np.array([a[0]]), np.array([a[1]]), place)[0])


def test_the_published_worked_example_comes_out():
    """Nashville to Los Angeles airports: 2886.444443 km at R = 6371.0 km.

    A widely published worked example of the haversine formula (the task of that name at Rosetta Code).
    """
    nashville, los_angeles = (36.12, -86.67), (33.94, -118.40)

    found = distance_km(nashville, los_angeles) / EARTH_RADIUS_KM * 6371.0

    assert found == pytest.approx(2886.44444283798, abs=1e-8)


@given(latitudes, longitudes, latitudes, longitudes)
def test_a_distance_is_the_same_both_ways_and_no_longer_than_half_round(lat1, lon1, lat2, lon2):
    there, back = distance_km((lat1, lon1), (lat2, lon2)), distance_km((lat2, lon2), (lat1, lon1))

    assert there == pytest.approx(back, abs=1e-6)
    assert 0.0 <= there <= math.pi * EARTH_RADIUS_KM + 1e-9


@given(latitudes, longitudes)
def test_the_other_side_of_the_earth_is_half_round_and_here_is_nowhere(lat, lon):
    other = (-lat, lon - 180.0 if lon > 0.0 else lon + 180.0)

    assert distance_km((lat, lon), other) == pytest.approx(math.pi * EARTH_RADIUS_KM, rel=1e-7)
    assert distance_km((lat, lon), (lat, lon)) == 0.0


def test_stations_across_the_date_line_are_near():
    near = find_nearest(listed([(0.0, 179.9), (0.0, 170.0)]), Place(latitude=0.0, longitude=-179.9))

    assert [one.id for one in near] == ["XX000000000"]
    assert near[0].distance_km == pytest.approx(0.2 / 360 * 2 * math.pi * EARTH_RADIUS_KM)


def test_the_nearest_come_first_and_none_from_too_far():
    spread = listed([(51.0 + step / 10, -2.5) for step in (3, 1, 2, 0, 9)])
    here = Place(latitude=51.0, longitude=-2.5)

    near = find_nearest(spread, here, within_km=40.0)
    assert [one.latitude for one in near] == [51.0, 51.1, 51.2, 51.3]
    assert len(find_nearest(spread, here, within_km=1e6)) == 5
    assert find_nearest(spread, Place(latitude=-51.0, longitude=-2.5)) == ()
    assert find_nearest(listed([]), here) == ()


def test_a_station_at_the_very_distance_is_within_it():
    here = Place(latitude=51.0, longitude=-2.5)
    farthest_km = distance_km((51.0 + 0.5, -2.5), (51.0, -2.5))

    assert len(find_nearest(listed([(51.5, -2.5)]), here, within_km=farthest_km)) == 1
    assert find_nearest(listed([(51.5, -2.5)]), here, within_km=farthest_km * 0.9999) == ()


def test_a_station_is_told_to_be_higher_or_lower_than_the_place_unless_an_elevation_is_unknown():
    low, high = listed([(51.0, -2.5), (51.2, -2.5)])
    two = [replace(low, elevation_m=112.0), replace(high, elevation_m=430.0)]
    known = find_nearest(two, Place(latitude=51.0, longitude=-2.5, elevation_m=200.0))
    unknown = find_nearest(two, Place(latitude=51.0, longitude=-2.5))

    assert [one.station_less_place_m for one in known] == [-88.0, 230.0]
    assert [one.station_less_place_m for one in unknown] == [None, None]


@pytest.mark.parametrize("place", [(91.0, 0.0), (0.0, 181.0), (math.nan, 0.0), (0.0, math.inf)])
def test_a_place_off_the_earth_is_refused(place):
    with pytest.raises(InputError):
        Place(latitude=place[0], longitude=place[1])


def test_the_likely_error_is_the_stated_formula():
    """√(8.8² + 30/3 + (4.5 · 2)² + (1.2533 · 12)²/16 + (0.2 · 5)²), by hand."""
    assert likely_off_days(30.0, -200.0, 16, 5) == pytest.approx(
        math.sqrt(77.44 + 10.0 + 81.0 + 15.0396**2 / 16 + 1.0), abs=1e-4
    )
    assert likely_off_days(10.0, 0.0, 30, 0) == likely_off_days(10.0, 0.0, 90, 0)
    assert likely_off_days(10.0, None, 30, 0) == likely_off_days(10.0, UNKNOWN_ELEVATION_SD_M, 30, 0)


@given(st.floats(0.0, 2000.0), st.floats(-2000.0, 2000.0), st.integers(1, 200), st.integers(0, 150))
def test_no_station_serves_better_for_being_farther_higher_shorter_or_older(km, rise_m, springs, ended):
    here = likely_off_days(km, rise_m, springs, ended)

    assert here <= likely_off_days(km + 10.0, rise_m, springs, ended)
    assert here <= likely_off_days(km, rise_m + math.copysign(10.0, rise_m), springs, ended)
    assert here <= likely_off_days(km, rise_m, max(springs - 1, 1), ended)
    assert here <= likely_off_days(km, rise_m, springs, ended + 1)
    assert here == likely_off_days(km, -rise_m, springs, ended)


def test_a_near_and_long_record_comes_first_and_those_with_a_reason_last():
    where = [(51.0, -2.5)] * 4 + [(51.1, -2.5)]
    years = [(2016, 2026), (1930, 1980), (2020, 2026), (1990, 2026), (1990, 2026)]
    near = find_nearest(listed(where, years), Place(latitude=51.0, longitude=-2.5))

    ranked = rank(near, 2026)

    assert [(one.id[-1], one.reason) for one in ranked] == [
        ("3", None),
        ("4", None),
        ("0", None),
        ("2", "only 7 years of minima"),
        ("1", "its minima end in 1980"),
    ]


def test_what_was_counted_counts_more_than_the_inventory():
    near = find_nearest(listed([(51.0, -2.5)]), Place(latitude=51.0, longitude=-2.5))
    thin = Counted(first=dt.date(1990, 1, 1), last=dt.date(2010, 5, 1), share=0.4, springs=6)

    (one,) = rank(near, 2026, {"XX000000000": thin})
    (unknown,) = rank(near, 2026, {"XX000000000": replace(thin, springs=None)})

    assert one.reason == "its minima end in 2010; only 6 springs known"
    assert one.off_days > rank(near, 2026)[0].off_days
    assert (one.share, one.springs) == (0.4, 6)
    assert unknown.reason == "its minima end in 2010"


def test_years_of_the_inventory_are_not_said_to_be_springs_counted():
    near = find_nearest(listed([(51.0, -2.5)], [(2020, 2026)]), Place(latitude=51.0, longitude=-2.5))
    no_hemisphere = Counted(first=dt.date(2020, 1, 1), last=dt.date(2026, 5, 1), share=0.9, springs=None)

    assert rank(near, 2026, {"XX000000000": no_hemisphere})[0].reason == "only 7 years of minima"


def test_a_record_may_be_asked_to_reach_an_earlier_year():
    near = find_nearest(listed([(51.0, -2.5)], [(1950, 1995)]), Place(latitude=51.0, longitude=-2.5))

    assert rank(near, 1990)[0].reason is None
    assert rank(near, 2026)[0].reason == "its minima end in 1995"


def listed(
    places: list[tuple[float, float]], years: list[tuple[int, int]] | None = None
) -> list[NearStation]:
    spans = years or [(1990, 2026)] * len(places)
    return [
        NearStation(
            id=f"XX{number:09d}",
            latitude=latitude,
            longitude=longitude,
            elevation_m=100.0,
            first_year=first,
            last_year=last,
        )
        for number, ((latitude, longitude), (first, last)) in enumerate(zip(places, spans, strict=True))
    ]


@pytest.fixture
def file(tmp_path):
    def write(content: bytes):
        path = tmp_path / "record.dly"
        path.write_bytes(content)
        return path

    return write


def test_a_whole_record_counts_as_whole(file):
    """36 calendar years hold 36 springs; that of 1990 is known though its winter began before the record."""
    counted = count_record(file(dly(years=range(1990, 2026))), latitude=51.0)

    assert (counted.first, counted.last) == (dt.date(1990, 1, 1), dt.date(2025, 12, 31))
    assert counted.share == 1.0
    assert counted.springs == 36


def test_missing_and_flagged_days_do_not_count(file):
    lines = dly(years=range(1990, 2000)).splitlines(keepends=True)
    march = b"1995" + b"03TMIN"
    content = b"".join(line for line in lines if march not in line)
    at = content.index(b"199601TMIN") + len(b"199601TMIN") + 6
    flagged = content[:at] + b"I" + content[at + 1 :]

    counted = count_record(file(flagged), latitude=51.0)

    assert counted.share == pytest.approx((3652 - 31 - 1) / 3652)


def test_a_plain_error_does_not_count(file):
    content = dly(years=range(1990, 2000))
    at = content.index(b"199507TMIN") + len(b"199507TMIN") + 14 * 8
    content = content[:at] + b" -350" + content[at + 5 :]

    counted = count_record(file(content), latitude=51.0)

    assert counted.share == pytest.approx((3652 - 1) / 3652)


@pytest.mark.parametrize(("latitude", "coldest"), [(None, 1), (51.0, 1), (-33.9, 7), (None, 7), (0.0, 7)])
def test_springs_are_those_of_the_hemisphere(file, latitude, coldest):
    counted = count_record(file(dly(years=range(1990, 2000), coldest_month=coldest)), latitude)

    assert 9 <= counted.springs <= 11


def test_without_a_hemisphere_springs_are_not_counted(file):
    line = dly(years=range(1990, 1991)).splitlines(keepends=True)[3]

    assert count_record(file(line)).springs is None


def test_a_record_that_cannot_be_read_is_an_error(file):
    with pytest.raises(InputError):
        count_record(file(b"<html>"))


@pytest.mark.parametrize(("text", "degrees"), [("0", 0.0), ("90S", -90.0), ("−33.9", -33.9), ("4.5 °N", 4.5)])
def test_latitudes_are_read(text, degrees):
    assert parse_degrees(text, "NS") == degrees


@pytest.mark.parametrize("text", ["", "N", "4,5", "1e1", "nan", "-45N", "45W", "45 30N"])
def test_other_latitudes_are_refused(text):
    with pytest.raises(InputError):
        parse_degrees(text, "NS")


@pytest.mark.parametrize("text", ["", "km", "5", "-5km", "5000km", "5 leagues"])
def test_other_distances_are_refused(text):
    with pytest.raises(InputError):
        parse_distance(text)
