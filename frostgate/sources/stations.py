"""The archive's stations: its lists, the nearest to a garden, their records fetched."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from frostgate.climate.frosts import last_frosts
from frostgate.climate.quality import find_hemisphere, find_suspects, summarise
from frostgate.climate.siting import UNKNOWN_ELEVATION_SD_M
from frostgate.errors import InputError
from frostgate.files import read_bytes, refuse_what_is_not_text
from frostgate.model.records import DailyMinima, Station
from frostgate.seasons import NORTH, SOUTH, Floats, Ints
from frostgate.sources.records import read_minima

FROST_C = 0.0  # the frosts whose springs are counted


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """What a record holds, counted.

    Parameters
    ----------
    first, last
        The first and last day with a good minimum.
    share
        Of the days between them, those with a good minimum.
    springs
        Springs whose last frost is known, or known not to have come; None where no hemisphere shows.
    """

    first: dt.date
    last: dt.date
    share: float
    springs: int | None


def count_record(path: Path, latitude: float | None = None) -> Counted:
    """Count the days and springs of a record; plain errors and flagged minima are no good ones."""
    minima = read_minima(path, drop_contradictions=True)
    good = minima.leave_out(find_suspects(minima).dates)
    summary = summarise(good, NORTH)
    return Counted(
        first=summary.first,
        last=summary.last,
        share=summary.known / (summary.known + summary.missing),
        springs=_springs(good, latitude),
    )


def _springs(minima: DailyMinima, latitude: float | None) -> int | None:
    if latitude:
        start = NORTH if latitude > 0.0 else SOUTH
    else:
        try:
            start = find_hemisphere(minima)
        except InputError:
            return None
    return int(np.count_nonzero(~np.isnan(last_frosts(minima, FROST_C, start).day)))


Lines = npt.NDArray[np.uint8]  # shape (lines, width)
Words = npt.NDArray[np.bytes_]

STATION_WIDTH, INVENTORY_WIDTH = 71, 45
LARGEST = 256 * 2**20  # bytes; the inventory has about 35 million
UNKNOWN_BELOW_M = -900.0  # the list writes -999.9, and -999 in older copies


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column of numbers: where it stands (from 0, the end not counted), and what they may be."""

    start: int
    end: int
    name: str
    lowest: float
    highest: float


LATITUDE = Column(start=12, end=20, name="latitude", lowest=-90.0, highest=90.0)
LONGITUDE = Column(start=21, end=30, name="longitude", lowest=-180.0, highest=180.0)
ELEVATION = Column(start=31, end=37, name="elevation", lowest=-1000.0, highest=9000.0)
YEARS = tuple(
    Column(start=start, end=start + 4, name="year", lowest=1700, highest=2200) for start in (36, 41)
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StationList:
    """Stations that measure minima.

    Parameters
    ----------
    ids, names
        Shape (n,).
    latitude, longitude
        Degrees north and east, shape (n,).
    elevation_m
        Above the sea [m], shape (n,); NaN where unknown.
    first_year, last_year
        Of the minima, shape (n,).
    """

    ids: Words
    names: Words
    latitude: Floats
    longitude: Floats
    elevation_m: Floats
    first_year: Ints
    last_year: Ints

    def station(self, index: int) -> Station:
        """Return one of them."""
        elevation_m = float(self.elevation_m[index])
        return Station(
            id=self.ids[index].decode("ascii", "replace"),
            name=self.names[index].decode("utf-8", "replace").strip() or None,
            latitude=float(self.latitude[index]),
            longitude=float(self.longitude[index]),
            elevation_m=None if np.isnan(elevation_m) else elevation_m,
        )


def read_stations(stations: Path, inventory: Path) -> StationList:
    """Read both files, and keep the stations that measure minima."""
    listed = parse_stations(read_bytes(stations, largest=LARGEST), stations)
    ids, years = parse_inventory(read_bytes(inventory, largest=LARGEST), inventory)
    order = np.argsort(ids)
    place = np.searchsorted(ids, listed.ids, sorter=order)
    match = order[np.minimum(place, ids.size - 1)]
    found = np.flatnonzero(ids[match] == listed.ids)
    return StationList(
        ids=listed.ids[found],
        names=listed.names[found],
        latitude=listed.latitude[found],
        longitude=listed.longitude[found],
        elevation_m=listed.elevation_m[found],
        first_year=years[match[found], 0],
        last_year=years[match[found], 1],
    )


def parse_stations(content: bytes, path: Path) -> StationList:
    """Read the list of all stations; the years of their minima are not in it, and are 0."""
    lines = _lay_out(content, path, STATION_WIDTH, shortest=37)
    elevation_m = _numbers(lines, ELEVATION, path)
    none = np.zeros(len(lines), dtype=np.int64)
    return StationList(
        ids=_words(lines, 0, 11),
        names=_words(lines, 41, STATION_WIDTH),
        latitude=_numbers(lines, LATITUDE, path),
        longitude=_numbers(lines, LONGITUDE, path),
        elevation_m=np.where(elevation_m < UNKNOWN_BELOW_M, np.nan, elevation_m),
        first_year=none,
        last_year=none,
    )


def parse_inventory(content: bytes, path: Path) -> tuple[Words, Ints]:
    """Read which stations measure minima, and in which years."""
    lines = _lay_out(content, path, INVENTORY_WIDTH, shortest=INVENTORY_WIDTH)
    minima = np.flatnonzero(_words(lines, 31, 35) == b"TMIN")
    if minima.size == 0:
        raise InputError("no station of it measures minima (TMIN)", file=path, remedy="Fetch it again.")
    years = [_numbers(lines, column, path, at=minima).astype(np.int64) for column in YEARS]
    return _words(lines[minima], 0, 11), np.stack(years, axis=1)


def _lay_out(content: bytes, path: Path, width: int, *, shortest: int) -> Lines:
    """Lay the lines under each other, cut or filled to one width."""
    refuse_what_is_not_text(content, path)
    raw = np.frombuffer(content, np.uint8)
    whole = content.find(b"\n") + 1
    if whole > width and raw.size % whole == 0:
        table = raw.reshape(-1, whole)
        if bool((table[:, -1] == 10).all()) and content.count(b"\n") == len(table):
            return table[:, :width]
    return _lay_out_line_by_line(content, path, width, shortest)


def _lay_out_line_by_line(content: bytes, path: Path, width: int, shortest: int) -> Lines:
    lines = content.replace(b"\r\n", b"\n").removesuffix(b"\n").split(b"\n")
    lengths = np.array([len(line) for line in lines])
    if lengths.min() < shortest:
        row = int(np.argmax(lengths < shortest))
        raise InputError(
            f"a line cut short after {lengths[row]} of {shortest} characters",
            file=path,
            line=row + 1,
            value=lines[row].decode("utf-8", "replace"),
            remedy="Fetch it again.",
        )
    table = np.array([line.ljust(width) for line in lines], dtype=f"S{width}")
    return table.view(np.uint8).reshape(len(lines), width)


def _words(lines: Lines, start: int, end: int) -> Words:
    return np.ascontiguousarray(lines[:, start:end]).view(f"S{end - start}").ravel()


def _numbers(lines: Lines, column: Column, path: Path, at: Ints | None = None) -> Floats:
    """Read a column of numbers; ``at`` names the lines to read it from."""
    words = _words(lines if at is None else lines[at], column.start, column.end)
    try:
        numbers = words.astype(np.float64)
    except ValueError:
        numbers = np.array([_number(word) for word in words])
    sound = (numbers >= column.lowest) & (numbers <= column.highest)
    if not sound.all():
        row = int(np.argmin(sound))
        raise InputError(
            f"not a station's {column.name}",
            file=path,
            line=(row if at is None else int(at[row])) + 1,
            value=words[row].decode("utf-8", "replace"),
            remedy="Fetch it again.",
        )
    return numbers


def _number(word: bytes) -> float:
    try:
        return float(word)
    except ValueError:
        return np.nan


def example_list() -> StationList:
    """Make a small one for examples: two invented stations."""
    return StationList(
        ids=np.array([b"XX000000017", b"XX000000018"]),
        names=np.array([b"OSKELMERE", b"HOLLIN TOP"]),
        latitude=np.array([51.0, 51.2]),
        longitude=np.array([-2.5, -2.5]),
        elevation_m=np.array([112.0, 430.0]),
        first_year=np.array([1957, 2012]),
        last_year=np.array([2026, 2026]),
    )


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
    """Return the distances from a place along the sphere [km], by the haversine formula."""
    lat, here = np.radians(latitude), math.radians(place.latitude)
    half_lat = (lat - here) / 2.0
    half_lon = np.radians(longitude - place.longitude) / 2.0
    haversine = np.sin(half_lat) ** 2 + math.cos(here) * np.cos(lat) * np.sin(half_lon) ** 2
    distance_km: Floats = 2.0 * EARTH_RADIUS_KM * np.arcsin(np.sqrt(np.clip(haversine, 0.0, 1.0)))
    return distance_km


def find_nearest(
    listed: StationList, place: Place, *, within_km: float = 100.0, most: int | None = None
) -> tuple[Nearby, ...]:
    """Find the stations nearest to a place, the nearest first."""
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


NEXT_DOOR_DAYS = 8.8  # root mean square between neighbours of one height; learned
KM_PER_SQUARE_DAY = 3.0  # each of these kilometres adds one squared day; learned
DAYS_PER_100_M = 4.5  # learned
SPRING_SD_DAYS = 12.0  # of one spring's date about the middle one; median of 4,940 stations of those normals
MEDIAN_OVER_MEAN = 1.2533  # standard error of a median to that of a mean, in a Gaussian
ENOUGH_SPRINGS = 30  # the length of a climate normal (WMO); more are not counted as better
DAYS_PER_YEAR_ENDED = 0.2  # how dates move in a changing climate; from memory
FEWEST_YEARS = 10  # common practice, no source
ENDED_LONG_AGO_YEARS = 10  # common practice, no source

HOW = (
    "By how many days a station's middle date of last frost is likely off in your garden, the least first: "
    "distance, elevation, springs and years since its end, added as squares.\n"
    f"Distance: √({NEXT_DOOR_DAYS:g}² + km/{KM_PER_SQUARE_DAY:g}) days; elevation: {DAYS_PER_100_M:g} days "
    "for each 100 m (learned from the US freeze normals of 1981-2010, dates of 32 °F).\n"
    f"Springs: {SPRING_SD_DAYS:g} days (the same normals) × {MEDIAN_OVER_MEAN:g} / √springs, no more than "
    f"{ENOUGH_SPRINGS} counted; where a record was not counted, its years stand for springs.\n"
    f"A record that has ended: {DAYS_PER_YEAR_ENDED:g} days for each year (from memory).\n"
    f"Listed last: fewer than {FEWEST_YEARS} years, or ended more than {ENDED_LONG_AGO_YEARS} years before "
    "(common practice, no source).\n"
    f"An unknown elevation counts as a difference of {UNKNOWN_ELEVATION_SD_M:g} m (common practice, no "
    "source)."
).splitlines()


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A station as it would serve.

    Parameters
    ----------
    near
        The station and where it lies.
    off_days
        By how many days its dates are likely off [d].
    reason
        Why it is listed below the others; None where it is not.
    counted
        What its record holds; None where no record is kept.
    """

    near: Nearby
    off_days: float
    reason: str | None = None
    counted: Counted | None = None


def rank(
    nearby: Iterable[Nearby], to_year: int, counted: Mapping[str, Counted] | None = None
) -> tuple[Candidate, ...]:
    """Put stations in the order in which they would serve, those with a reason against them last."""
    known = counted or {}
    candidates = [_judge(near, to_year, known.get(near.station.id)) for near in nearby]
    return tuple(sorted(candidates, key=lambda one: (one.reason is not None, one.off_days)))


def _judge(near: Nearby, to_year: int, counted: Counted | None) -> Candidate:
    last_year = near.last_year if counted is None else counted.last.year
    springs = near.years
    if counted is not None and counted.springs is not None:
        springs = counted.springs
    ended_years = max(to_year - last_year, 0)
    return Candidate(
        near=near,
        off_days=likely_off_days(near.distance_km, near.rise_m, springs, ended_years),
        reason=_against(springs, last_year, ended_years, known=counted is not None),
        counted=counted,
    )


def likely_off_days(distance_km: float, rise_m: float | None, springs: int, ended_years: int) -> float:
    """Return by how many days a station's middle date of last frost is likely off [d]."""
    height_m = UNKNOWN_ELEVATION_SD_M if rise_m is None else abs(rise_m)
    sampling = MEDIAN_OVER_MEAN * SPRING_SD_DAYS / math.sqrt(min(max(springs, 1), ENOUGH_SPRINGS))
    return math.sqrt(
        NEXT_DOOR_DAYS**2
        + distance_km / KM_PER_SQUARE_DAY
        + (DAYS_PER_100_M * height_m / 100.0) ** 2
        + sampling**2
        + (DAYS_PER_YEAR_ENDED * ended_years) ** 2
    )


def _against(springs: int, last_year: int, ended_years: int, *, known: bool) -> str | None:
    reasons = []
    if ended_years > ENDED_LONG_AGO_YEARS:
        reasons.append(f"its minima end in {last_year}")
    if springs < FEWEST_YEARS:
        reasons.append(f"only {springs} {'springs known' if known else 'years of minima'}")
    return "; ".join(reasons) or None
