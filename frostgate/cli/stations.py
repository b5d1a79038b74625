"""The commands that find stations near a place and fetch their records."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import click

from frostgate.cli import options
from frostgate.cli.options import Written, argument, cache_folder, clock, progress_bar, shared
from frostgate.cli.siting import ELEVATION
from frostgate.errors import FrostgateError, InputError
from frostgate.model.garden import ARCHIVE, Network
from frostgate.service.request import option
from frostgate.units import MILE_KM

ERROR = 2
FARTHEST_KM = 2000.0
WAIT_S = 120.0  # the lists have some 45 MB together, and whoever waits sees how far they are


def parse_degrees(text: str, sides: str) -> float:
    """Read a latitude or longitude, such as ``44.9N`` or ``-93.2``; of two sides the first is above 0."""
    match = re.fullmatch(rf"([-+−]?)(\d+(?:\.\d+)?)\s*°?\s*([{sides}]?)", text.strip(), re.IGNORECASE)
    if match is None or (match[1] and match[3]):
        name = "latitude" if sides == "NS" else "longitude"
        remedy = "The latitude comes first; write 44.9N 93.2W, or 44.9 -93.2."
        raise InputError(f"not a {name} with its sign or its letter", value=text, remedy=remedy)
    below = match[1] in {"-", "−"} or match[3].upper() == sides[1]
    return float(match[2]) * (-1.0 if below else 1.0)


def parse_distance(text: str) -> tuple[float, bool]:
    """Read a distance, such as ``100km`` or ``60mi``; return it in [km], and whether it was in miles."""
    match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(km|mi)\s*", text, re.IGNORECASE)
    if match is None:
        raise InputError("not a distance with its unit", value=text, remedy="Write it as 100km or 60mi.")
    miles = match[2].lower() == "mi"
    distance_km = float(match[1]) * (MILE_KM if miles else 1.0)
    if not 0.0 < distance_km <= FARTHEST_KM:
        raise InputError(f"a distance lies between 0 and {FARTHEST_KM:g} km", value=text)
    return distance_km, miles


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkOptions:
    """The options that say where and how long the network is asked, and how the answer is written."""

    archive: str = option("Another copy of the GHCN-Daily archive.", default=ARCHIVE, metavar="URL")
    offline: bool = option("Use what is kept and ask nobody.")
    wait: float = option(
        "The longest that one document may take.",
        type=click.FloatRange(0.1, 3600.0),
        default=WAIT_S,
        metavar="SECONDS",
    )
    form: str = shared(options.format_option("text", "json"))

    @property
    def network(self) -> Network:
        """The settings of the network."""
        return Network(archive=self.archive, offline=self.offline, wait_s=self.wait)


@dataclass(frozen=True, slots=True, kw_only=True)
class NearOptions(NetworkOptions):
    """The options of the command that finds stations."""

    latitude: float = argument(type=Written("latitude", lambda text: parse_degrees(text, "NS")))
    longitude: float = argument(type=Written("longitude", lambda text: parse_degrees(text, "EW")))
    elevation: float | None = option("Of your garden, such as 310m or 1020ft.", type=ELEVATION)
    within: tuple[float, bool] = option(
        "How far to look, in km or mi.", type=Written("distance", parse_distance), default="100km"
    )
    most: int = option("How many to show.", type=click.IntRange(1, 1000), default=10)
    years_to: int | None = option(
        "The year that a record should reach.  [default: the list's last]",
        type=click.IntRange(*options.YEARS),
        metavar="YEAR",
    )
    check: int = option(
        "Fetch the records of the N likely best and count how complete they are.",
        type=click.IntRange(0, 50),
        default=0,
        metavar="N",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class GetOptions(NetworkOptions):
    """The options of the command that fetches records."""

    ids: tuple[str, ...] = argument(metavar="ID...", nargs=-1, required=True)


@click.group()
def stations() -> None:
    """Find the stations near a place, and fetch their records."""


@stations.command(context_settings={"ignore_unknown_options": True})  # else -93.2 would be taken for one
@options.gathered(NearOptions)
def near(given: NearOptions) -> None:
    """Find the stations near LATITUDE LONGITUDE, such as 44.9N 93.2W, the likely best first.

    A station is judged by how many days its middle date of last frost is likely off in your garden.
    """
    from frostgate.model.stations import Place
    from frostgate.service.documents import stations_near
    from frostgate.show.stations import stations_answer, stations_parts

    found = stations_near(
        Place(latitude=given.latitude, longitude=given.longitude, elevation_m=given.elevation),
        given.network,
        cache_folder(),
        progress_bar,
        now=clock(),
        within_km=given.within[0],
        most=given.most,
        to_year=given.years_to,
        check=given.check,
    )
    hints = []
    if given.elevation is None:
        hints.append("Say --elevation of your garden, so that the height counts.")
    if not given.check and any(one.share is None for one in found.stations):
        hints.append(
            "Days and springs are counted for kept records only; --check 3 fetches and counts three."
        )
    found = replace(found, notes=(*found.notes, *hints))
    options.answer(
        given.form, lambda: stations_answer(found), lambda: stations_parts(found, us=given.within[1])
    )


@stations.command()
@options.gathered(GetOptions)
def get(given: GetOptions) -> int:
    """Fetch the records of stations by their ids, or find them among what is kept."""
    from frostgate.service.documents import fetched_record
    from frostgate.show.stations import records_answer, records_lines

    cache, now = cache_folder(), clock()
    records, failures = [], []
    for station_id in given.ids:
        try:
            records.append(fetched_record(station_id, given.network, cache, progress_bar, now=now))
        except FrostgateError as error:
            failures.append(error)
    if not records:
        raise failures[0]
    options.answer(
        given.form,
        lambda: records_answer(records, failures),
        lambda: (*records_lines(records), *(f"Error: {failure}" for failure in failures)),
    )
    return ERROR if failures else 0
