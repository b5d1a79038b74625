"""The archive's stations: its lists, the nearest to a place and how each would serve, what a record holds."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from frostgate.climate.frosts import last_frosts
from frostgate.climate.quality import find_hemisphere, find_suspects, summarise
from frostgate.climate.siting import UNKNOWN_ELEVATION_SD_M
from frostgate.errors import InputError
from frostgate.files import read_bytes, refuse_what_is_not_text
from frostgate.model.stations import Counted, NearStation, Place
from frostgate.seasons import NORTH, SOUTH, Floats
from frostgate.sources.records import read_minima

LARGEST = 256 * 2**20  # bytes; the inventory has about 35 million
UNKNOWN_BELOW_M = -900.0  # the list writes -999.9, and -999 in older copies

# Columns of numbers: what they hold, where they stand (from 0, the end not counted), and what they may be.
Column = tuple[str, int, int, float, float]
PLACE: tuple[Column, ...] = (
    ("latitude", 12, 20, -90.0, 90.0),
    ("longitude", 21, 30, -180.0, 180.0),
    ("elevation", 31, 37, -1000.0, 9000.0),
)
YEARS: tuple[Column, ...] = (("year", 36, 40, 1700.0, 2200.0), ("year", 41, 45, 1700.0, 2200.0))


def read_stations(stations: Path, inventory: Path) -> list[NearStation]:
    """Read both files, and keep the stations that measure minima."""
    years = parse_inventory(read_bytes(inventory, largest=LARGEST), inventory)
    listed = parse_stations(read_bytes(stations, largest=LARGEST), stations)
    known = ((one, *years[one.id]) for one in listed if one.id in years)
    return [replace(one, first_year=first, last_year=last) for one, first, last in known]


def parse_stations(content: bytes, path: Path) -> list[NearStation]:
    """Read the list of all stations; the years of their minima are not in it, and are 0."""
    return [
        NearStation(
            id=_text(line[:11]),
            name=_text(line[41:71]).strip() or None,
            latitude=latitude,
            longitude=longitude,
            elevation_m=None if elevation_m < UNKNOWN_BELOW_M else elevation_m,
            first_year=0,
            last_year=0,
        )
        for line, (latitude, longitude, elevation_m) in _read_lines(content, path, PLACE)
    ]


def parse_inventory(content: bytes, path: Path) -> dict[str, tuple[int, int]]:
    """Read which stations measure minima, by their ids, and the first and last years of these."""
    rows = _read_lines(content, path, YEARS, element=b"TMIN")
    years = {_text(line[:11]): (int(first), int(last)) for line, (first, last) in rows}
    if not years:
        what = "no station of it measures minima (TMIN)"
        raise InputError(what, file=path, remedy="Fetch it again.")
    return years


def _read_lines(
    content: bytes, path: Path, columns: Sequence[Column], element: bytes | None = None
) -> Iterator[tuple[bytes, list[float]]]:
    """Yield each line, or those of an element, with its numbers; refuse a line cut short or garbled."""
    refuse_what_is_not_text(content, path)
    for line_number, line in enumerate(content.splitlines(), start=1):
        if element is not None and line[31:35] != element:
            continue
        numbers = []
        for name, start, end, lowest, highest in columns:
            try:
                numbers.append(float(line[start:end]))
            except ValueError:
                numbers.append(math.nan)
            if len(line) < end or not lowest <= numbers[-1] <= highest:
                what, remedy = f"a line without a station's {name}", "Fetch it again."
                raise InputError(what, file=path, line=line_number, value=_text(line), remedy=remedy)
        yield line, numbers


def _text(content: bytes) -> str:
    return content.decode("utf-8", "replace")


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


def find_nearest(
    listed: Sequence[NearStation], place: Place, *, within_km: float = 100.0
) -> tuple[NearStation, ...]:
    """Find the stations near a place, the nearest first."""
    latitude, longitude = np.array([(one.latitude, one.longitude) for one in listed], float).reshape(-1, 2).T
    distance_km = great_circle_km(latitude, longitude, place)
    near = []
    for at in np.argsort(distance_km, kind="stable"):
        if distance_km[at] > within_km:
            break
        one, here_m = listed[at], place.elevation_m
        height_m = None if here_m is None or one.elevation_m is None else one.elevation_m - here_m
        near.append(replace(one, distance_km=float(distance_km[at]), station_less_place_m=height_m))
    return tuple(near)


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
        reasons.append(f"only {springs} {'years of minima' if known is None else 'springs known'}")
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
