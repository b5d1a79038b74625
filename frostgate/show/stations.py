"""Stations near a garden and what was fetched, as text and JSON."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

from frostgate.show.say import bullets
from frostgate.units import say_share

Plain = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordFetched:
    """A record among what is kept.

    Parameters
    ----------
    station
        The station's id.
    file
        Where it lies.
    fetched_at
        When it was fetched, UTC.
    age
        The same in words.
    stale
        Why an older copy had to serve; None where it is as fresh as wished.
    first, last, share, springs
        What it holds.
    """

    station: str
    file: str
    fetched_at: dt.datetime
    age: str
    stale: str | None
    first: dt.date
    last: dt.date
    share: float
    springs: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordsFetched:
    """Records that were asked for: those that came, and what became of the others."""

    records: tuple[RecordFetched, ...]
    failed: tuple[Plain, ...] = ()
    failures: tuple[str, ...] = ()


def records_answer(fetched: RecordsFetched) -> Plain:
    """Return the records under the names that the JSON answer uses."""
    records = [
        asdict(one)
        | {
            "fetched_at": one.fetched_at.isoformat(timespec="seconds"),
            "first": one.first.isoformat(),
            "last": one.last.isoformat(),
            "share": round(one.share, 4),
        }
        for one in fetched.records
    ]
    return {"records": records, "failed": list(fetched.failed)}


def records_lines(fetched: RecordsFetched) -> list[str]:
    r"""Write where each record lies, how old it is, what it holds, and what to do next."""
    return [line for one in fetched.records for line in _record(one)] + [
        f"Error: {failure}" for failure in fetched.failures
    ]


def _record(one: RecordFetched) -> Iterator[str]:
    springs = "" if one.springs is None else f", {one.springs} springs known"
    yield f"{one.station}, {one.age}"
    yield f"  {one.file}"
    yield f"  Minima from {one.first} to {one.last}, {say_share(one.share)} of the days known{springs}"
    if one.stale is not None:
        yield from bullets((f"{one.stale[:1].upper()}{one.stale[1:]}.",))
    file = f'"{one.file}"' if " " in one.file else one.file
    yield f"  Next: frostgate curve {file}"


WIDTH = 88
NAME_WIDTH = 26
KM_PER_MILE = 1.609344
M_PER_FT = 0.3048


@dataclass(frozen=True, slots=True, kw_only=True)
class StationRow:
    """A station near a place.

    Parameters
    ----------
    id, name
        Of the station.
    latitude, longitude, elevation_m
        Where it lies; elevation [m] None where unknown.
    distance_km
        From the place [km].
    station_less_place_m
        Difference of elevation [m]; None where either is unknown.
    first_year, last_year
        Of its minima.
    share, springs
        Of its days those with a good minimum, and springs known; None where its record was not counted.
    off_days
        By how many days its dates are likely off [d].
    reason
        Why it is listed last; None where it is not.
    """

    id: str
    name: str | None
    latitude: float
    longitude: float
    elevation_m: float | None
    distance_km: float
    station_less_place_m: float | None
    first_year: int
    last_year: int
    off_days: float
    share: float | None = None
    springs: int | None = None
    reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StationsFound:
    """Stations near a place, the likely best first.

    Parameters
    ----------
    latitude, longitude, elevation_m
        The place.
    within_km
        How far was looked [km].
    to_year
        The year that a record should reach.
    rows
        The stations shown.
    found
        How many there are.
    how
        How they are put in order, one sentence each.
    notes
        What else is to be known.
    """

    latitude: float
    longitude: float
    elevation_m: float | None
    within_km: float
    to_year: int
    rows: tuple[StationRow, ...]
    found: int
    how: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def stations_answer(found: StationsFound) -> Plain:
    """Return the stations under the names that the JSON answer uses."""
    return {
        "latitude": found.latitude,
        "longitude": found.longitude,
        "elevation_m": found.elevation_m,
        "within_km": round(found.within_km, 3),
        "to_year": found.to_year,
        "found": found.found,
        "stations": [_row_answer(row) for row in found.rows],
        "how": list(found.how),
        "notes": list(found.notes),
    }


def stations_lines(found: StationsFound, *, us: bool = False) -> list[str]:
    r"""Write the stations as a table, the reasons against some, how they are judged, and what to do next."""
    good = [row for row in found.rows if row.reason is None]
    late = [row for row in found.rows if row.reason is not None]
    return [
        _title(found, us=us),
        "",
        _HEAD.format(
            "", "station", "name", "mi" if us else "km", "height", "minima", "days known", "springs"
        ),
        *(_line(number, row, us=us) for number, row in enumerate(good, start=1)),
        *_late(late, us=us),
        "",
        *([] if not found.rows else [f"Next: frostgate stations get {found.rows[0].id}", ""]),
        *bullets((*found.notes, *found.how)),
    ]


def example_stations() -> StationsFound:
    """Make a few for examples."""
    near = StationRow(
        id="XX000000017",
        name="OSKELMERE",
        latitude=51.0,
        longitude=-2.5,
        elevation_m=112.0,
        distance_km=7.0,
        station_less_place_m=-28.0,
        first_year=1957,
        last_year=2026,
        off_days=9.21,
        share=0.98,
        springs=66,
    )
    late = StationRow(
        id="XX000000018",
        name=None,
        latitude=51.2,
        longitude=-2.5,
        elevation_m=None,
        distance_km=23.3,
        station_less_place_m=None,
        first_year=1990,
        last_year=2001,
        off_days=12.7,
        reason="its minima end in 2001",
    )
    return StationsFound(
        latitude=51.0,
        longitude=-2.4,
        elevation_m=140.0,
        within_km=100.0,
        to_year=2026,
        rows=(near, late),
        found=3,
    )


_HEAD = "{:>2}  {:<11} {:<26} {:>6} {:>8}  {:<9} {:>11} {:>7}  off by"
_ROW = "{:>2}  {:<11} {:<26} {:>6} {:>8}  {:<9} {:>11} {:>7} {:>5.1f} d"


def _title(found: StationsFound, *, us: bool) -> str:
    north = f"{abs(found.latitude):.4f} {'N' if found.latitude >= 0 else 'S'}"
    east = f"{abs(found.longitude):.4f} {'E' if found.longitude >= 0 else 'W'}"
    far = f"{found.within_km / KM_PER_MILE:.0f} mi" if us else f"{found.within_km:.0f} km"
    shown = f"{len(found.rows)} of {found.found} within {far}"
    return f"Stations near {north}, {east}, the likely best first: {shown}"


def _line(number: int, row: StationRow, *, us: bool) -> str:
    return _ROW.format(
        number,
        row.id,
        _short(row.name or "-"),
        _distance(row, us=us),
        _height(row.station_less_place_m, us=us),
        f"{row.first_year}-{row.last_year}",
        "-" if row.share is None else say_share(row.share),
        "-" if row.springs is None else row.springs,
        row.off_days,
    )


def _late(rows: list[StationRow], *, us: bool) -> Iterator[str]:
    """Write those listed last, each with its reason."""
    if rows:
        yield ""
        yield "Listed last"
    for row in rows:
        yield (
            f"    {row.id} {_short(row.name or '-'):<{NAME_WIDTH}} {_distance(row, us=us):>6} "
            f"{_height(row.station_less_place_m, us=us):>8}  {row.reason}"
        )


def _distance(row: StationRow, *, us: bool) -> str:
    return f"{row.distance_km / KM_PER_MILE if us else row.distance_km:.1f}"


def _height(difference_m: float | None, *, us: bool) -> str:
    if difference_m is None:
        return "?"
    return f"{difference_m / M_PER_FT:+z.0f} ft" if us else f"{difference_m:+z.0f} m"


def _short(name: str) -> str:
    return name if len(name) <= NAME_WIDTH else f"{name[: NAME_WIDTH - 1]}…"


def _row_answer(row: StationRow) -> Plain:
    numbers = {"distance_km": 2, "off_days": 1, "share": 4, "station_less_place_m": 1}
    answer = asdict(row)
    for name, digits in numbers.items():
        answer[name] = None if answer[name] is None else round(answer[name], digits)
    return answer
