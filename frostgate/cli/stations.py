"""The commands that find stations near a place and fetch their records."""

from __future__ import annotations

import functools
import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import click

from frostgate.cli import options
from frostgate.cli.options import Status, Written, cache_folder, clock, progress_bar
from frostgate.cli.siting import ELEVATION
from frostgate.errors import FrostgateError, InputError
from frostgate.model.garden import ARCHIVE, Network
from frostgate.units import MILE_KM

ERROR = 2
FARTHEST_KM = 2000.0
WAIT_S = 120.0  # the lists have some 45 MB together, and whoever waits sees how far they are

_DEGREES = re.compile(r"\s*([-+−]?\d+(?:\.\d+)?)\s*°?\s*([NSEW]?)\s*", re.IGNORECASE)
_DISTANCE = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(km|mi)\s*", re.IGNORECASE)


def parse_degrees(text: str, positive: str, negative: str, most: float) -> float:
    """Read a latitude or longitude, such as ``44.9N`` or ``-93.2``."""
    name = "latitude" if positive == "N" else "longitude"
    match = _DEGREES.fullmatch(text)
    if match is None:
        raise InputError(f"not a {name}", value=text, remedy="Write degrees: 44.9N 93.2W, or 44.9 -93.2.")
    degrees, side = float(match[1].replace("−", "-")), match[2].upper()
    if side and side not in {positive, negative}:
        raise InputError(f"not a {name}", value=text, remedy="The latitude comes first: 44.9N 93.2W.")
    if side and match[1][0] in "-−+":
        raise InputError("a sign and a letter at once", value=text, remedy=f"Write 4.5{negative} or -4.5.")
    if abs(degrees) > most:
        raise InputError(f"a {name} is no more than {most:g} degrees", value=text)
    return -degrees if side == negative else degrees


def parse_distance(text: str) -> tuple[float, bool]:
    """Read a distance, such as ``100km`` or ``60mi``; return it in [km], and whether it was in miles."""
    match = _DISTANCE.fullmatch(text)
    if match is None:
        raise InputError("not a distance with its unit", value=text, remedy="Write it as 100km or 60mi.")
    miles = match[2].lower() == "mi"
    distance_km = float(match[1]) * (MILE_KM if miles else 1.0)
    if not 0.0 < distance_km <= FARTHEST_KM:
        raise InputError(f"a distance lies between 0 and {FARTHEST_KM:g} km", value=text)
    return distance_km, miles


LATITUDE = Written("latitude", lambda text: parse_degrees(text, "N", "S", 90.0))
LONGITUDE = Written("longitude", lambda text: parse_degrees(text, "E", "W", 180.0))
DISTANCE = Written("distance", parse_distance)


def network_options(command: Callable[..., Status]) -> Callable[..., Status]:
    """Offer the options that say where and how long the network is asked, and hand them over as one."""

    @click.option("--archive", default=ARCHIVE, metavar="URL", help="Another copy of the GHCN-Daily archive.")
    @click.option("--offline", is_flag=True, help="Use what is kept and ask nobody.")
    @click.option("--wait", type=click.FloatRange(0.1, 3600.0), default=WAIT_S, show_default=True,
                  metavar="SECONDS", help="The longest that one document may take.")  # fmt: skip
    @functools.wraps(command)
    def run(*, archive: str, offline: bool, wait: float, **given: Any) -> Status:  # noqa: ANN401  # by click
        return command(network=Network(archive=archive, offline=offline, wait_s=wait), **given)

    return run


@click.group()
def stations() -> None:
    """Find the stations near a place, and fetch their records."""


@stations.command(context_settings={"ignore_unknown_options": True})  # else -93.2 would be taken for one
@click.argument("latitude", type=LATITUDE)
@click.argument("longitude", type=LONGITUDE)
@click.option("--elevation", type=ELEVATION, help="Of your garden, such as 310m or 1020ft.")
@click.option(
    "--within", type=DISTANCE, default="100km", show_default=True, help="How far to look, in km or mi."
)
@click.option("--most", type=click.IntRange(1, 1000), default=10, show_default=True, help="How many to show.")
@click.option(
    "--years-to",
    type=click.IntRange(1800, 2200),
    metavar="YEAR",
    help="The year that a record should reach.  [default: the list's last]",
)
@click.option(
    "--check",
    type=click.IntRange(0, 50),
    default=0,
    metavar="N",
    help="Fetch the records of the N likely best and count how complete they are.",
)
@network_options
@options.format_option("text", "json")
def near(
    *,
    latitude: float,
    longitude: float,
    elevation: float | None,
    within: tuple[float, bool],
    most: int,
    years_to: int | None,
    check: int,
    network: Network,
    form: str,
) -> None:
    """Find the stations near LATITUDE LONGITUDE, such as 44.9N 93.2W, the likely best first.

    A station is judged by how many days its middle date of last frost is likely off in your garden.
    """
    from frostgate.model.stations import Place
    from frostgate.service.documents import stations_near
    from frostgate.show.stations import stations_answer, stations_lines

    found = stations_near(
        Place(latitude=latitude, longitude=longitude, elevation_m=elevation),
        network,
        cache_folder() / "network",
        progress_bar,
        now=clock(),
        within_km=within[0],
        most=most,
        to_year=years_to,
        check=check,
    )
    hints = []
    if elevation is None:
        hints.append("Say --elevation of your garden, so that the height counts.")
    if not check and any(one.share is None for one in found.stations):
        hints.append(
            "Days and springs are counted for kept records only; --check 3 fetches and counts three."
        )
    found = replace(found, notes=(*found.notes, *hints))
    options.answer(form, lambda: stations_answer(found), lambda: stations_lines(found, us=within[1]))


@stations.command()
@click.argument("ids", metavar="ID...", nargs=-1, required=True)
@network_options
@options.format_option("text", "json")
def get(ids: tuple[str, ...], network: Network, form: str) -> int:
    """Fetch the records of stations by their ids, or find them among what is kept."""
    from frostgate.service.documents import fetched_record
    from frostgate.show.stations import records_answer, records_lines

    folder, now = cache_folder() / "network", clock()
    records, failures = [], []
    for station_id in ids:
        try:
            records.append(fetched_record(station_id, network, folder, progress_bar, now=now))
        except FrostgateError as error:
            failures.append(error)
    if not records:
        raise failures[0]
    options.answer(
        form,
        lambda: records_answer(records, failures),
        lambda: (*records_lines(records), *(f"Error: {failure}" for failure in failures)),
    )
    return ERROR if failures else 0
