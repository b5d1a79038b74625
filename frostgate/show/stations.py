"""Stations near a garden and what was fetched, as text and JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from frostgate.errors import FrostgateError
from frostgate.model.stations import NearStation, RecordFetched, StationsFound
from frostgate.show.answers import Plain, plain
from frostgate.show.say import bullets, wrapped
from frostgate.units import FOOT_M, MILE_KM, say_share

SCREEN = 100  # columns
NAME_WIDTH = 26
PLACE = f"{{:>2}}  {{:<11}}  {{:<{NAME_WIDTH}}}  {{:>5}}  {{:>7}}  "
RECORD = "{:<9}  {:>10}  {:>7}  {:>6}"
DIGITS = {"within_km": 3, "distance_km": 2, "station_less_place_m": 1, "off_days": 1, "share": 4}


def stations_answer(found: StationsFound) -> Plain:
    """Return the stations under the names that the JSON answer uses."""
    answer: Plain = plain(found, DIGITS, None)
    return answer


def stations_lines(found: StationsFound, *, us: bool = False) -> Iterator[str]:
    """Write the stations as a table, the reasons against some, how they are judged, and what to do next."""
    north = f"{abs(found.latitude):.4f} {'N' if found.latitude >= 0 else 'S'}"
    east = f"{abs(found.longitude):.4f} {'E' if found.longitude >= 0 else 'W'}"
    far = f"{found.within_km / MILE_KM:.0f} mi" if us else f"{found.within_km:.0f} km"
    shown = f"{len(found.stations)} of {found.found} within {far}"
    yield f"Stations near {north}, {east}, the likely best first: {shown}"
    yield ""
    heads = RECORD.format("minima", "days known", "springs", "off by")
    yield PLACE.format("", "station", "name", "mi" if us else "km", "height") + heads
    late = [one for one in found.stations if one.reason is not None]
    for number, one in enumerate((one for one in found.stations if one.reason is None), start=1):
        share = "-" if one.share is None else say_share(one.share)
        springs = "-" if one.springs is None else f"{one.springs}"
        years, off = f"{one.first_year}-{one.last_year}", f"{one.off_days:.1f} d"
        yield _place(one, f"{number}", us=us) + RECORD.format(years, share, springs, off)
    yield from ("", "Listed last") if late else ()
    for one in late:
        place = _place(one, us=us)
        yield from wrapped(one.reason or "", place, " " * len(place), SCREEN)
    yield ""
    if found.stations:
        yield from (f"Next: frostgate stations get {found.stations[0].id}", "")
    yield from bullets((*found.notes, *found.how))


def _place(one: NearStation, number: str = "", *, us: bool) -> str:
    """Write what a station is and where it lies."""
    distance = one.distance_km / MILE_KM if us else one.distance_km
    height_m = one.station_less_place_m
    height = "?" if height_m is None else f"{height_m / FOOT_M:+z.0f} ft" if us else f"{height_m:+z.0f} m"
    name = one.name or "-"
    name = name if len(name) <= NAME_WIDTH else f"{name[: NAME_WIDTH - 1]}…"
    return PLACE.format(number, one.id, name, f"{distance:.1f}", height)


def records_answer(records: Sequence[RecordFetched], failures: Sequence[FrostgateError] = ()) -> Plain:
    """Return the records, and what became of the others, under the names that the JSON answer uses."""
    return {"records": plain(records, DIGITS), "failed": [failure.as_dict() for failure in failures]}


def records_lines(records: Sequence[RecordFetched]) -> Iterator[str]:
    """Write where each record lies, how old it is, what it holds, and what to do next."""
    for one in records:
        springs = "" if one.springs is None else f", {one.springs} springs known"
        yield f"{one.station}, {one.age}"
        yield f"  {one.file}"
        yield f"  Minima from {one.first} to {one.last}, {say_share(one.share)} of the days known{springs}"
        if one.stale is not None:
            yield from bullets((f"{one.stale[:1].upper()}{one.stale[1:]}.",))
        file = f'"{one.file}"' if " " in one.file else one.file
        yield f"  Next: frostgate curve {file}"
