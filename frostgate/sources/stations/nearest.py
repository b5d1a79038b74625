"""Distances on the sphere, and the stations nearest to a place."""

from __future__ import annotations

import math

import numpy as np

from frostgate.errors import InputError
from frostgate.sources.stations.lists import StationList
from frostgate.terms import Station
from frostgate.terms.arrays import Floats
from frostgate.values import dataclass

# Mean radius of the earth, IUGG (Moritz 2000, J. Geodesy 74, 128-133). Against the ellipsoid a distance on
# this sphere is at most 0.6 % off, which is less than the list's own rounding matters to a garden.
EARTH_RADIUS_KM = 6371.0088


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a garden lies.

    Parameters
    ----------
    latitude, longitude
        Degrees north and east.
    elevation_m
        Above the sea [m]; None where unknown.

    Raises
    ------
    InputError
        Where there is no such place.

    Examples
    --------
    >>> Place(latitude=51.0, longitude=-2.5).elevation_m is None
    True
    """

    latitude: float
    longitude: float
    elevation_m: float | None = None

    def __post_init__(self) -> None:
        if not abs(self.latitude) <= 90.0:
            raise InputError("a latitude lies between 90S and 90N", value=self.latitude)
        if not abs(self.longitude) <= 180.0:
            raise InputError("a longitude lies between 180W and 180E", value=self.longitude)


@dataclass(frozen=True, slots=True, kw_only=True)
class Nearby:
    """A station near a place.

    Parameters
    ----------
    station
        The station.
    distance_km
        From the place [km].
    rise_m
        The place less the station [m]; None where either elevation is unknown.
    first_year, last_year
        Of its minima, by the inventory.

    Examples
    --------
    >>> from frostgate.sources.stations.lists import example_list
    >>> near = find_nearest(example_list(), Place(latitude=51.0, longitude=-2.4, elevation_m=140.0))
    >>> round(near[0].distance_km, 1), near[0].rise_m, near[0].years
    (7.0, 28.0, 70)
    """

    station: Station
    distance_km: float
    rise_m: float | None
    first_year: int
    last_year: int

    @property
    def years(self) -> int:
        """How many calendar years its minima span."""
        return self.last_year - self.first_year + 1


def great_circle_km(latitude: Floats, longitude: Floats, place: Place) -> Floats:
    """Give the distances from a place along the sphere [km], by the haversine formula.

    Parameters
    ----------
    latitude, longitude
        Degrees north and east, shape (n,).
    place
        From where.

    Examples
    --------
    >>> quarter = great_circle_km(np.array([90.0]), np.array([0.0]), Place(latitude=0.0, longitude=0.0))
    >>> quarter.round(1)  # from the equator to the pole
    array([10007.6])
    """
    lat, here = np.radians(latitude), math.radians(place.latitude)
    half_lat = (lat - here) / 2.0
    half_lon = np.radians(longitude - place.longitude) / 2.0
    haversine = np.sin(half_lat) ** 2 + math.cos(here) * np.cos(lat) * np.sin(half_lon) ** 2
    distance_km: Floats = 2.0 * EARTH_RADIUS_KM * np.arcsin(np.sqrt(np.clip(haversine, 0.0, 1.0)))
    return distance_km


def find_nearest(
    listed: StationList, place: Place, *, within_km: float = 100.0, most: int | None = None
) -> tuple[Nearby, ...]:
    """Find the stations nearest to a place, the nearest first.

    Parameters
    ----------
    listed
        All stations.
    place
        From where.
    within_km
        Only so near ones [km].
    most
        No more than these; None for all.

    Examples
    --------
    >>> from frostgate.sources.stations.lists import example_list
    >>> place = Place(latitude=51.19, longitude=-2.5)
    >>> [near.station.id for near in find_nearest(example_list(), place)]
    ['XX000000018', 'XX000000017']
    """
    if listed.ids.size == 0:
        return ()
    found = _indices(listed, place, within_km)
    distance_km = great_circle_km(listed.latitude[found], listed.longitude[found], place)
    order = np.argsort(distance_km, kind="stable")[:most]
    return tuple(_nearby(listed, int(found[at]), float(distance_km[at]), place) for at in order)


def _indices(
    listed: StationList, place: Place, within_km: float
) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Find those within a distance: the straight line through the earth orders as the great circle does."""
    from scipy.spatial import cKDTree  # slow to load

    angle = min(within_km / EARTH_RADIUS_KM, math.pi)
    chord = 2.0 * math.sin(angle / 2.0) * (1.0 + 1e-12)
    tree = cKDTree(_unit_vectors(listed.latitude, listed.longitude))
    centre = _unit_vectors(np.array([place.latitude]), np.array([place.longitude]))[0]
    return np.array(sorted(tree.query_ball_point(centre, chord)), dtype=np.int64)


def _unit_vectors(latitude: Floats, longitude: Floats) -> Floats:
    lat, lon = np.radians(latitude), np.radians(longitude)
    return np.stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)], axis=1)


def _nearby(listed: StationList, index: int, distance_km: float, place: Place) -> Nearby:
    station = listed.station(index)
    known = place.elevation_m is not None and station.elevation_m is not None
    return Nearby(
        station=station,
        distance_km=distance_km,
        rise_m=place.elevation_m - station.elevation_m if known else None,  # type: ignore[operator]  # both are known
        first_year=int(listed.first_year[index]),
        last_year=int(listed.last_year[index]),
    )
