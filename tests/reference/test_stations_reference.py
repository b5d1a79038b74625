"""Real positions: the nearest by another formula, the sphere against the ellipsoid, ranks against normals."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path

import numpy as np
import pytest
from pyproj import Geod
from scipy.spatial import cKDTree

from frostgate.model.stations import NearStation, Place
from frostgate.sources.stations import (
    DAYS_PER_100_M,
    EARTH_RADIUS_KM,
    KM_PER_SQUARE_DAY,
    NEXT_DOOR_DAYS,
    SPRING_SD_DAYS,
    find_nearest,
    great_circle_km,
    parse_stations,
)

LIST, LAST_FREEZES = "allstations_1981-2010.txt", "ann-tmin-prblst-t32Fp{}_1981-2010.txt"
NEAR_KM = 150.0


@pytest.fixture(scope="module")
def every(reference: Path) -> list[NearStation]:
    """Read all stations of the normals, whose list has the archive's own layout."""
    path = reference / "normals" / LIST
    return parse_stations(path.read_bytes(), path)


@pytest.fixture(scope="module")
def freezing(reference: Path, every: list[NearStation]) -> list[NearStation]:
    """Return the 5,808 stations that have freeze dates."""
    ids = ids_of(reference)
    return [one for one in every if one.id in ids]


@pytest.fixture(scope="module")
def median_days(reference: Path) -> dict[str, int]:
    """Return middle dates of the last 32 °F freeze as days of a common year, from February on."""
    return days_of(reference, 50)


def test_the_list_is_read_as_a_plain_reading_of_its_columns_has_it(reference, every):
    lines = (reference / "normals" / LIST).read_text(encoding="ascii").splitlines()

    assert [one.id for one in every] == [line[:11] for line in lines]
    for column, start, end in (("latitude", 12, 20), ("longitude", 21, 30), ("elevation_m", 31, 37)):
        plain = [float(line[start:end]) for line in lines]
        assert [getattr(one, column) for one in every] == [None if x < -900 else x for x in plain]
    assert [one.name for one in every] == [line[41:71].strip() or None for line in lines]


def test_nearest_equals_another_formula_over_5808_stations(freezing):
    assert len(freezing) == 5808
    draw = np.random.default_rng(20260412)
    towards = np.radians(positions(freezing))
    for _ in range(60):
        place = Place(latitude=float(draw.uniform(15, 70)), longitude=float(draw.uniform(-180, 180)))
        brute = brute_force_km(place, *towards)
        order = np.argsort(brute, kind="stable")

        near = find_nearest(freezing, place, within_km=20_100.0)[:25]
        within = find_nearest(freezing, place, within_km=300.0)

        found = [one.distance_km for one in near]
        np.testing.assert_allclose(found, brute[order[:25]], rtol=1e-9, atol=1e-6)
        assert {one.id for one in within} == {freezing[at].id for at in np.flatnonzero(brute <= 300.0)}


def test_distances_are_those_of_pyproj_on_the_same_sphere(freezing):
    place = Place(latitude=44.9, longitude=-93.2)
    sphere = Geod(a=EARTH_RADIUS_KM * 1000, b=EARTH_RADIUS_KM * 1000)

    np.testing.assert_allclose(
        great_circle_km(*positions(freezing), place),
        by_pyproj_km(sphere, freezing, place),
        rtol=1e-9,
        atol=1e-6,
    )


def test_the_sphere_is_within_0_6_percent_of_the_ellipsoid(freezing):
    ellipsoid = Geod(ellps="WGS84")
    for latitude, longitude in ((44.9, -93.2), (19.6, -155.5), (64.8, -147.7), (25.8, -80.3)):
        place = Place(latitude=latitude, longitude=longitude)
        exact = by_pyproj_km(ellipsoid, freezing, place)
        apart = exact > 1e-3

        off = great_circle_km(*positions(freezing), place)[apart] / exact[apart] - 1.0

        assert np.abs(off).max() < 0.006


def test_the_ranking_by_distance_is_what_the_normals_show(freezing, median_days):
    """Root mean square difference of middle dates, between stations less than 50 m apart in height."""
    distance_km, rise_m, apart_days = pairs(freezing, median_days)
    level = np.abs(rise_m) < 50.0
    bands = ((0, 10), (10, 20), (20, 40), (40, 60), (60, 80), (80, 100), (100, 150))
    for low, high in bands:
        here = level & (distance_km >= low) & (distance_km < high)

        measured = math.sqrt(np.mean(apart_days[here] ** 2))
        stated = math.sqrt(NEXT_DOOR_DAYS**2 + np.mean(distance_km[here]) / KM_PER_SQUARE_DAY)

        assert here.sum() > 400
        assert stated == pytest.approx(measured, rel=0.1), (low, high)


def test_the_ranking_by_elevation_is_what_the_normals_show(freezing, median_days):
    distance_km, rise_m, apart_days = pairs(freezing, median_days)
    for low, high in ((100, 200), (200, 400), (400, 800)):
        here = (distance_km >= 20.0) & (np.abs(rise_m) >= low) & (np.abs(rise_m) < high)

        measured = math.sqrt(np.mean(apart_days[here] ** 2))
        stated = math.sqrt(
            NEXT_DOOR_DAYS**2
            + np.mean(distance_km[here]) / KM_PER_SQUARE_DAY
            + DAYS_PER_100_M**2 * np.mean((rise_m[here] / 100.0) ** 2)
        )

        assert here.sum() > 5000
        assert stated == pytest.approx(measured, rel=0.1), (low, high)


def test_one_spring_scatters_about_the_middle_date_as_stated(reference, median_days):
    """Half of springs against nine of ten: the distance is 1.2816 standard deviations of a Gaussian."""
    early = days_of(reference, 90)

    spread = [(median_days[name] - early[name]) / 1.2816 for name in median_days if name in early]

    assert len(spread) > 4900
    assert np.median(spread) == pytest.approx(SPRING_SD_DAYS, abs=0.5)


def brute_force_km(place: Place, lat: np.ndarray, lon: np.ndarray) -> np.ndarray:
    """Return great-circle distances by another formula: the angle between two lines from the centre."""
    here, there = vectors(np.radians(place.latitude), np.radians(place.longitude)), vectors(lat, lon)
    across = np.linalg.norm(np.cross(there, here), axis=1)
    return EARTH_RADIUS_KM * np.arctan2(across, there @ here)


def vectors(lat: np.ndarray, lon: np.ndarray) -> np.ndarray:
    return np.stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)], axis=-1)


def by_pyproj_km(earth: Geod, listed: list[NearStation], place: Place) -> np.ndarray:
    lon, lat = np.full(len(listed), place.longitude), np.full(len(listed), place.latitude)
    return earth.inv(lon, lat, *positions(listed)[::-1])[2] / 1000.0


def pairs(listed: list[NearStation], days: dict[str, int]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return distance [km], difference of elevation [m] and of dates [d] of all pairs within 150 km."""
    dated = [one for one in listed if one.id in days and one.elevation_m is not None]
    date, height_m = np.array([(days[one.id], one.elevation_m) for one in dated]).T
    at = vectors(*np.radians(positions(dated)))
    one, other = cKDTree(at).query_pairs(NEAR_KM / EARTH_RADIUS_KM, output_type="ndarray").T
    chord = np.linalg.norm(at[one] - at[other], axis=1)
    distance_km = 2 * EARTH_RADIUS_KM * np.arcsin(chord / 2)
    return distance_km, height_m[one] - height_m[other], date[one] - date[other]


def positions(listed: list[NearStation]) -> np.ndarray:
    """Return latitudes and longitudes, shape (2, n)."""
    return np.array([(one.latitude, one.longitude) for one in listed]).T


def ids_of(reference: Path) -> set[str]:
    text = (reference / "normals" / LAST_FREEZES.format(50)).read_text(encoding="ascii")
    return {line.split()[0] for line in text.splitlines()}


def days_of(reference: Path, chance: int) -> dict[str, int]:
    rows = (reference / "normals" / LAST_FREEZES.format(chance)).read_text(encoding="ascii").splitlines()
    days = {}
    for name, date, *_ in map(str.split, rows):
        month, _, day = date[:5].partition("/")
        if day and 2 <= int(month) <= 7:  # special values have no stroke; winter dates wrap at New Year
            days[name] = (dt.date(2001, int(month), int(day)) - dt.date(2001, 1, 1)).days
    return days
