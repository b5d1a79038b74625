"""The archive's stations: its lists, the nearest to a place and how each would serve, what a record holds."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from frostgate.climate.frosts import last_frosts
from frostgate.climate.quality import find_hemisphere, find_suspects, summarise
from frostgate.climate.siting import UNKNOWN_ELEVATION_SD_M
from frostgate.errors import InputError
from frostgate.files import read_bytes, refuse_what_is_not_text
from frostgate.model.stations import Counted, NearStation, Place
from frostgate.seasons import NORTH, SOUTH, Floats, Ints
from frostgate.sources.records import read_minima
from frostgate.sources.records.dly import Bytes, fields_of

Words = npt.NDArray[np.bytes_]

LARGEST = 256 * 2**20  # bytes; the inventory has about 35 million
UNKNOWN_BELOW_M = -900.0  # the list writes -999.9, and -999 in older copies


class Column(NamedTuple):
    """A column of numbers: where it stands (from 0, the end not counted), and what they may be."""

    name: str
    start: int
    end: int
    lowest: float
    highest: float


LATITUDE = Column("latitude", 12, 20, -90.0, 90.0)
LONGITUDE = Column("longitude", 21, 30, -180.0, 180.0)
ELEVATION = Column("elevation", 31, 37, -1000.0, 9000.0)
FIRST_YEAR, LAST_YEAR = (Column("year", start, start + 4, 1700, 2200) for start in (36, 41))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StationList:
    """Stations that measure minima; all arrays of shape (n,)."""

    ids: Words
    names: Words
    latitude: Floats  # degrees north
    longitude: Floats  # degrees east
    elevation_m: Floats  # above the sea; NaN where unknown
    first_year: Ints  # of the minima
    last_year: Ints

    def at(self, index: Ints) -> StationList:
        """Return some of them."""
        return StationList(**{field.name: getattr(self, field.name)[index] for field in fields(self)})


def read_stations(stations: Path, inventory: Path) -> StationList:
    """Read both files, and keep the stations that measure minima."""
    listed = parse_stations(read_bytes(stations, largest=LARGEST), stations)
    ids, first_year, last_year = parse_inventory(read_bytes(inventory, largest=LARGEST), inventory)
    _, here, there = np.intersect1d(listed.ids, ids, return_indices=True)
    return replace(listed.at(here), first_year=first_year[there], last_year=last_year[there])


def parse_stations(content: bytes, path: Path) -> StationList:
    """Read the list of all stations; the years of their minima are not in it, and are 0."""
    lines = _lay_out(content, path, 71, shortest=37)
    elevation_m = _numbers(lines, ELEVATION, path)
    none = np.zeros(len(lines), dtype=np.int64)
    return StationList(
        ids=fields_of(lines, 0, 11),
        names=fields_of(lines, 41, 71),
        latitude=_numbers(lines, LATITUDE, path),
        longitude=_numbers(lines, LONGITUDE, path),
        elevation_m=np.where(elevation_m < UNKNOWN_BELOW_M, np.nan, elevation_m),
        first_year=none,
        last_year=none,
    )


def parse_inventory(content: bytes, path: Path) -> tuple[Words, Ints, Ints]:
    """Read which stations measure minima, and their first and last years."""
    lines = _lay_out(content, path, 45, shortest=45)
    minima = np.flatnonzero(fields_of(lines, 31, 35) == b"TMIN")
    if minima.size == 0:
        raise InputError("no station of it measures minima (TMIN)", file=path, remedy="Fetch it again.")
    first, last = (
        _numbers(lines, column, path, minima).astype(np.int64) for column in (FIRST_YEAR, LAST_YEAR)
    )
    return fields_of(lines[minima], 0, 11), first, last


def _lay_out(content: bytes, path: Path, width: int, *, shortest: int) -> Bytes:
    """Lay the lines under each other, cut or filled to one width, shape (lines, width)."""
    refuse_what_is_not_text(content, path)
    rows = content.splitlines()
    lines = np.array(rows, dtype=f"S{width}")
    lengths = np.char.str_len(lines)
    if lengths.min() < shortest:
        row = int(np.argmax(lengths < shortest))
        what = f"a line cut short after {lengths[row]} of {shortest} characters"
        raise _fault(what, path, row, rows[row])
    return lines.view(np.uint8).reshape(-1, width)


def _numbers(lines: Bytes, column: Column, path: Path, at: Ints | None = None) -> Floats:
    """Read a column of numbers; ``at`` names the lines to read it from."""
    words = fields_of(lines if at is None else lines[at], column.start, column.end)
    try:
        numbers = words.astype(np.float64)
    except ValueError:
        numbers = np.array([_number(word) for word in words])
    sound = (numbers >= column.lowest) & (numbers <= column.highest)
    if not sound.all():
        row = int(np.argmin(sound))
        raise _fault(f"not a station's {column.name}", path, row if at is None else int(at[row]), words[row])
    return numbers


def _fault(what: str, path: Path, row: int, shown: bytes) -> InputError:
    value = shown.decode("utf-8", "replace")
    return InputError(what, file=path, line=row + 1, value=value, remedy="Fetch it again.")


def _number(word: bytes) -> float:
    try:
        return float(word)
    except ValueError:
        return np.nan


# Mean radius of the earth, IUGG (Moritz 2000, J. Geodesy 74, 128-133). Against the ellipsoid a distance on
# this sphere is at most 0.6 % off, which is less than the list's own rounding matters to a garden.
EARTH_RADIUS_KM = 6371.0088


def great_circle_km(latitude: Floats, longitude: Floats, place: Place) -> Floats:
    """Return the distances from a place along the sphere [km], by the haversine formula."""
    lat, here = np.radians(latitude), math.radians(place.latitude)
    half_lat = (lat - here) / 2.0
    half_lon = np.radians(longitude - place.longitude) / 2.0
    haversine = np.sin(half_lat) ** 2 + math.cos(here) * np.cos(lat) * np.sin(half_lon) ** 2
    distance_km: Floats = 2.0 * EARTH_RADIUS_KM * np.arcsin(np.sqrt(np.clip(haversine, 0.0, 1.0)))
    return distance_km


def find_nearest(listed: StationList, place: Place, *, within_km: float = 100.0) -> tuple[NearStation, ...]:
    """Find the stations near a place, the nearest first."""
    distance_km = great_circle_km(listed.latitude, listed.longitude, place)
    order = np.argsort(distance_km, kind="stable")
    near = order[distance_km[order] <= within_km]
    return tuple(_near(listed, int(at), float(distance_km[at]), place) for at in near)


def _near(listed: StationList, at: int, distance_km: float, place: Place) -> NearStation:
    elevation_m = float(listed.elevation_m[at])
    height_m = elevation_m - (np.nan if place.elevation_m is None else place.elevation_m)
    return NearStation(
        id=listed.ids[at].decode("ascii", "replace"),
        name=listed.names[at].decode("utf-8", "replace").strip() or None,
        latitude=float(listed.latitude[at]),
        longitude=float(listed.longitude[at]),
        elevation_m=None if np.isnan(elevation_m) else elevation_m,
        distance_km=distance_km,
        station_less_place_m=None if np.isnan(height_m) else height_m,
        first_year=int(listed.first_year[at]),
        last_year=int(listed.last_year[at]),
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


def rank(
    nearby: Iterable[NearStation], to_year: int, counted: Mapping[str, Counted] | None = None
) -> tuple[NearStation, ...]:
    """Put stations in the order in which they would serve, those with a reason against them last."""
    judged = [_judge(near, to_year, (counted or {}).get(near.id)) for near in nearby]
    return tuple(sorted(judged, key=lambda one: (one.reason is not None, one.off_days)))


def _judge(near: NearStation, to_year: int, counted: Counted | None) -> NearStation:
    """Judge a station by what was counted of its record, else by the inventory."""
    known = None if counted is None else counted.springs
    springs = near.last_year - near.first_year + 1 if known is None else known
    last_year = near.last_year if counted is None else counted.last.year
    ended_years = max(to_year - last_year, 0)
    reasons = []
    if ended_years > ENDED_LONG_AGO_YEARS:
        reasons.append(f"its minima end in {last_year}")
    if springs < FEWEST_YEARS:
        reasons.append(f"only {springs} {'years of minima' if counted is None else 'springs known'}")
    return replace(
        near,
        off_days=likely_off_days(near.distance_km, near.station_less_place_m, springs, ended_years),
        share=None if counted is None else counted.share,
        springs=known,
        reason="; ".join(reasons) or None,
    )


def likely_off_days(distance_km: float, height_m: float | None, springs: int, ended_years: int) -> float:
    """Return by how many days a station's middle date of last frost is likely off [d]."""
    climb_m = UNKNOWN_ELEVATION_SD_M if height_m is None else height_m
    sampling = MEDIAN_OVER_MEAN * SPRING_SD_DAYS / math.sqrt(min(max(springs, 1), ENOUGH_SPRINGS))
    return math.sqrt(
        NEXT_DOOR_DAYS**2
        + distance_km / KM_PER_SQUARE_DAY
        + (DAYS_PER_100_M * climb_m / 100.0) ** 2
        + sampling**2
        + (DAYS_PER_YEAR_ENDED * ended_years) ** 2
    )


FROST_C = 0.0  # the frosts whose springs are counted


def count_record(path: Path, latitude: float | None = None) -> Counted:
    """Count the days and springs of a record; plain errors and flagged minima are no good ones."""
    minima = read_minima(path, drop_contradictions=True)
    good = minima.leave_out(find_suspects(minima).dates)
    summary = summarise(good, NORTH)
    try:
        start = (NORTH if latitude > 0.0 else SOUTH) if latitude else find_hemisphere(good)
    except InputError:
        springs = None
    else:
        springs = int(np.count_nonzero(~np.isnan(last_frosts(good, FROST_C, start).day)))
    return Counted(
        first=summary.first,
        last=summary.last,
        share=summary.known / (summary.known + summary.missing),
        springs=springs,
    )
