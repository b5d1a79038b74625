"""Documents: a site's made fresh, stations near a place, records fetched, a garden's own files checked."""

from __future__ import annotations

import contextlib
import functools
import re
from collections.abc import Callable
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING

from frostgate.errors import FrostgateError, InputError
from frostgate.service.request import read_hinted

if TYPE_CHECKING:
    import datetime as dt
    from contextlib import AbstractContextManager

    from frostgate.model.garden import Garden, Network, Site
    from frostgate.model.stations import NearStation, Place, RecordFetched, StationsFound
    from frostgate.sources.fetched import Fetched
    from frostgate.sources.http import Advance

    Bar = Callable[[str], AbstractContextManager[Advance | None]]  # shows under a label how far something is

FOLDER = "network"  # of the documents, in that of all that is kept


def freshen(site: Site, network: Network, cache: Path, *, now: dt.datetime) -> tuple[Site, tuple[str, ...]]:
    """Return a site whose record and forecast are files, and what an old copy had to serve for.

    A file that the grower names is never replaced. What is fetched serves until it is older than the settings
    allow; then it is fetched anew, and where nothing newer comes the kept copy serves, its age told. A
    forecast that cannot be had at all leaves the morning without one, which is unknown and never open.
    """
    notes: list[str] = []
    if site.record is None and site.station is not None:
        from frostgate.sources.fetched import fetch_record  # most gardens name their files

        record = fetch_record(site.station, network, cache / FOLDER, now=now)
        site = replace(site, record=record.path)
        notes += [f"The record is {record.stale}."] if record.stale else []
    if site.forecast is None and site.forecast_url is not None:
        from frostgate.sources.fetched import fetch_forecast

        try:
            forecast = fetch_forecast(site.forecast_url, network, cache / FOLDER, now=now)
        except FrostgateError as fault:
            notes.append(f"There is no forecast: {fault}")
        else:
            site = replace(site, forecast=forecast.path)
            notes += [f"The forecast was fetched {forecast.stale}."] if forecast.stale else []
    return site, tuple(notes)


def stations_near(
    place: Place,
    network: Network,
    cache: Path,
    bar: Bar,
    *,
    now: dt.datetime,
    within_km: float,
    most: int,
    to_year: int | None = None,
    check: int = 0,
) -> StationsFound:
    """Find the stations near a place, the likely best first.

    Records that are kept are counted; of the others those of the ``check`` likely best are fetched. ``most``
    are shown; ``to_year`` is the year that a record should reach, the list's last where it is not stated.
    """
    from frostgate.model.stations import Counted, StationsFound
    from frostgate.sources.fetched import fetch_list, fetch_record, find_kept, record_file
    from frostgate.sources.stations import HOW, count_record, find_nearest, rank, read_stations

    folder = cache / FOLDER
    with bar("Stations") as advance:
        stations = fetch_list("ghcnd-stations.txt", network, folder, now=now, advance=advance)
    with bar("Their years") as advance:
        inventory = fetch_list("ghcnd-inventory.txt", network, folder, now=now, advance=advance)
    notes = [f"A list of the archive is {one.stale}." for one in (stations, inventory) if one.stale]
    listed = read_stations(stations.path, inventory.path)
    nearby = find_nearest(listed, place, within_km=within_km)
    if not nearby:
        raise FrostgateError(
            f"no station with minima within {within_km:g} km",
            value=f"{place.latitude} {place.longitude}",
            remedy="Look farther with --within, and check which is the latitude and which the longitude.",
        )
    until, counted = to_year or max(one.last_year for one in listed), dict[str, Counted]()

    def count(near: NearStation, find: Callable[[], Fetched | None]) -> None:
        try:
            record = find()
            if record is not None:
                counted[near.id] = count_record(record.path, near.latitude)
                notes.extend([f"{near.id} is {record.stale}."] if record.stale else [])
        except FrostgateError as error:
            notes.append(f"{near.id} was not counted: {error}")

    for near in nearby:
        count(near, functools.partial(find_kept, record_file(near.id, folder)))
    best = rank(nearby, until, counted)[:check]
    with bar("Counting records") if best else contextlib.nullcontext() as advance:
        for number, near in enumerate(best, start=1):
            count(near, functools.partial(fetch_record, near.id, network, folder, now=now))
            if advance is not None:
                advance(number, len(best))
    ranked = rank(nearby, until, counted)
    return StationsFound(
        **asdict(place),
        within_km=within_km,
        to_year=until,
        found=len(ranked),
        stations=ranked[:most],
        how=tuple(HOW),
        notes=tuple(dict.fromkeys(notes)),
    )


def fetched_record(
    station_id: str, network: Network, cache: Path, bar: Bar, *, now: dt.datetime
) -> RecordFetched:
    """Fetch a station's record, or find it among what is kept, and count what it holds."""
    from frostgate.model.stations import RecordFetched
    from frostgate.sources.fetched import check_id, fetch_record
    from frostgate.sources.stations import count_record

    name = check_id(station_id)
    with bar(name) as advance:
        fetched = fetch_record(name, network, cache / FOLDER, now=now, advance=advance)
    return RecordFetched(
        station=name,
        file=str(fetched.path),
        fetched_at=fetched.fetched_at.replace(microsecond=0),
        age=fetched.age(now),
        stale=fetched.stale,
        **asdict(count_record(fetched.path)),
    )


def check_files(garden: Garden) -> None:
    """Refuse a garden whose record or forecast no command could read, each on the line that names it."""
    from frostgate.garden.file import on_their_lines
    from frostgate.sources.forecasts import read_forecast
    from frostgate.sources.records import read_minima

    faults: dict[tuple[str | int, ...], FrostgateError] = {}
    for at, site in enumerate(garden.sites):
        read_coming = functools.partial(read_forecast, time_zone=site.time_zone)
        for key, path, unit, read in (
            ("record", site.record, site.unit, functools.partial(read_minima, station=site.station)),
            ("forecast", site.forecast, site.forecast_unit, read_coming),
        ):
            if path is None or not path.is_file():
                continue
            try:
                read_hinted(functools.partial(read, path), unit)
            except InputError as fault:
                faults["site", at, key] = _on_a_key(fault, key, path)
    if faults:
        raise on_their_lines(garden.file, faults)


def _on_a_key(fault: InputError, key: str, path: Path) -> InputError:
    """Return the fault of a file as one of the key that names it: what an option would tell, a key tells."""
    where = path.name if fault.line is None else f"{path.name}, line {fault.line}"
    key_of_option = r"--(unit|forecast-unit|station|time-zone) ([\w/-]+)"
    remedy = re.sub(
        key_of_option, lambda found: f'{found[1].replace("-", "_")} = "{found[2]}"', fault.remedy or ""
    )
    what = f"{key}: {where}: {fault.what}"
    return InputError(what, value=fault.value, remedy=remedy or "Name another file.")
