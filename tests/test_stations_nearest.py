"""Distances, the nearest stations, and how well each would serve."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostgate.climate.siting import UNKNOWN_ELEVATION_SD_M
from frostgate.errors import InputError
from frostgate.sources.stations import (
    EARTH_RADIUS_KM,
    Counted,
    Place,
    StationList,
    example_list,
    find_nearest,
    great_circle_km,
    likely_off_days,
    rank,
)

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

    assert [one.station.id for one in near] == ["XX000000000"]
    assert near[0].distance_km == pytest.approx(0.2 / 360 * 2 * math.pi * EARTH_RADIUS_KM)


def test_the_nearest_come_first_and_no_more_than_asked():
    spread = listed([(51.0 + step / 10, -2.5) for step in (3, 1, 2, 0, 9)])
    here = Place(latitude=51.0, longitude=-2.5)

    assert [one.station.latitude for one in find_nearest(spread, here, within_km=40.0)] == [
        51.0,
        51.1,
        51.2,
        51.3,
    ]
    assert len(find_nearest(spread, here, within_km=40.0, most=2)) == 2
    assert len(find_nearest(spread, here, within_km=1e6)) == 5
    assert find_nearest(spread, Place(latitude=-51.0, longitude=-2.5)) == ()
    assert find_nearest(listed([]), here) == ()


def test_a_station_at_the_very_distance_is_within_it():
    here = Place(latitude=51.0, longitude=-2.5)
    farthest_km = distance_km((51.0 + 0.5, -2.5), (51.0, -2.5))

    assert len(find_nearest(listed([(51.5, -2.5)]), here, within_km=farthest_km)) == 1
    assert find_nearest(listed([(51.5, -2.5)]), here, within_km=farthest_km * 0.9999) == ()


def test_the_place_less_the_station_is_the_rise_and_an_unknown_elevation_gives_none():
    known = find_nearest(example_list(), Place(latitude=51.0, longitude=-2.5, elevation_m=200.0))
    unknown = find_nearest(example_list(), Place(latitude=51.0, longitude=-2.5))

    assert [one.rise_m for one in known] == [88.0, -230.0]
    assert [one.rise_m for one in unknown] == [None, None]


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

    assert [(one.near.station.id[-1], one.reason) for one in ranked] == [
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
    (unknown,) = rank(near, 2026, {"XX000000000": Counted(**{**thin_facts(thin), "springs": None})})

    assert one.reason == "its minima end in 2010; only 6 springs known"
    assert one.off_days > rank(near, 2026)[0].off_days
    assert one.counted is thin
    assert unknown.reason == "its minima end in 2010"


def test_a_record_may_be_asked_to_reach_an_earlier_year():
    near = find_nearest(listed([(51.0, -2.5)], [(1950, 1995)]), Place(latitude=51.0, longitude=-2.5))

    assert rank(near, 1990)[0].reason is None
    assert rank(near, 2026)[0].reason == "its minima end in 1995"


def thin_facts(counted: Counted) -> dict[str, object]:
    return {"first": counted.first, "last": counted.last, "share": counted.share}


def listed(places: list[tuple[float, float]], years: list[tuple[int, int]] | None = None) -> StationList:
    spans = np.array(years or [(1990, 2026)] * len(places)).reshape(-1, 2)
    return StationList(
        ids=np.array([f"XX{number:09d}".encode() for number in range(len(places))], dtype="S11"),
        names=np.array([b"INVENTED"] * len(places)),
        latitude=np.array([place[0] for place in places]),
        longitude=np.array([place[1] for place in places]),
        elevation_m=np.full(len(places), 100.0),
        first_year=spans[:, 0],
        last_year=spans[:, 1],
    )
