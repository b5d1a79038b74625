"""The archive's list of stations and its inventory, both of fixed width, read as raw bytes.

The layouts are those of the archive's readme, sections IV and VII. ``ghcnd-stations.txt``: id 1-11, latitude
13-20, longitude 22-30, elevation 32-37 (-999.9 is unknown), state 39-40, name 42-71. ``ghcnd-inventory.txt``:
id 1-11, latitude, longitude, element 32-35, first year 37-40, last year 42-45.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt

from frostgate.errors import InputError
from frostgate.sources.files import read_bytes, refuse_what_is_not_text
from frostgate.terms import Station
from frostgate.terms.arrays import Floats, Ints
from frostgate.values import dataclass

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

    Examples
    --------
    >>> example_list().station(0).name
    'OSKELMERE'
    """

    ids: Words
    names: Words
    latitude: Floats
    longitude: Floats
    elevation_m: Floats
    first_year: Ints
    last_year: Ints

    def station(self, index: int) -> Station:
        """Give one of them."""
        elevation_m = float(self.elevation_m[index])
        return Station(
            id=self.ids[index].decode("ascii", "replace"),
            name=self.names[index].decode("utf-8", "replace").strip() or None,
            latitude=float(self.latitude[index]),
            longitude=float(self.longitude[index]),
            elevation_m=None if np.isnan(elevation_m) else elevation_m,
        )


def read_stations(stations: Path, inventory: Path) -> StationList:
    """Read both files, and keep the stations that measure minima.

    Raises
    ------
    InputError
        Where a file cannot be read or is no such list; names the line.

    Examples
    --------
    >>> read_stations(Path("no such file"), Path("no such file"))
    Traceback (most recent call last):
    frostgate.errors.InputError: no such file: no such file. Check the name and the folder.
    """
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
    """Read the list of all stations; the years of their minima are not in it, and are 0.

    Raises
    ------
    InputError
        Where a line is cut short, or a position is none; names the line.

    Examples
    --------
    >>> line = b"XX000000017  51.0000   -2.5000  112.0    OSKELMERE                                 "
    >>> parse_stations(line, Path("ghcnd-stations.txt")).elevation_m
    array([112.])
    """
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
    """Read which stations measure minima, and in which years.

    Returns
    -------
    ids, years
        Shapes (n,) and (n, 2): the first and the last year.

    Raises
    ------
    InputError
        Where a line is cut short, a year is none, or nothing measures minima; names the line.

    Examples
    --------
    >>> line = b"XX000000017  51.0000   -2.5000 TMIN 1957 2026"
    >>> parse_inventory(line, Path("ghcnd-inventory.txt"))
    (array([b'XX000000017'], dtype='|S11'), array([[1957, 2026]]))
    """
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
    """Make a small one for examples: two invented stations.

    Examples
    --------
    >>> example_list().ids.tolist()
    [b'XX000000017', b'XX000000018']
    """
    return StationList(
        ids=np.array([b"XX000000017", b"XX000000018"]),
        names=np.array([b"OSKELMERE", b"HOLLIN TOP"]),
        latitude=np.array([51.0, 51.2]),
        longitude=np.array([-2.5, -2.5]),
        elevation_m=np.array([112.0, 430.0]),
        first_year=np.array([1957, 2012]),
        last_year=np.array([2026, 2026]),
    )
