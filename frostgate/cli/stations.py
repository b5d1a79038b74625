"""The commands that find stations near a place and fetch their records."""

from __future__ import annotations

import datetime as dt
import functools
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from frostgate.cli import options
from frostgate.cli.fetching import bytes_bar, network_folder, network_options, progress_bar, utc_now
from frostgate.cli.options import DISTANCE, LATITUDE, LONGITUDE, echo_json
from frostgate.cli.siting import ELEVATION
from frostgate.errors import FrostgateError
from frostgate.model.garden import Network

if TYPE_CHECKING:
    from frostgate.model.records import Station
    from frostgate.show.stations import RecordFetched, StationRow, StationsFound
    from frostgate.sources.fetched import ListName
    from frostgate.sources.stations import Candidate, Counted, Nearby, Place

ERROR = 2

_LISTS: tuple[tuple[ListName, str], ...] = (
    ("ghcnd-stations.txt", "Stations"),
    ("ghcnd-inventory.txt", "Their years"),
)


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
def near(**given: Any) -> None:  # noqa: ANN401  # click hands the options over by name
    """Find the stations near LATITUDE LONGITUDE, such as 44.9N 93.2W, the likely best first.

    A station is judged by how many days its middle date of last frost is likely off in your garden.
    """
    from frostgate.show.stations import stations_answer, stations_lines

    wish = Wish(**given)
    found = wish.find()
    if wish.form == "json":
        echo_json(stations_answer(found))
    else:
        click.echo("\n".join(stations_lines(found, us=wish.within[1])))


@stations.command()
@click.argument("ids", metavar="ID...", nargs=-1, required=True)
@network_options
@options.format_option("text", "json")
def get(ids: tuple[str, ...], archive: str, offline: bool, wait: float, form: str) -> int:
    """Fetch the records of stations by their ids, or find them among what is kept."""
    from frostgate.show.stations import RecordsFetched, records_answer, records_lines

    network, now = Network(archive=archive, offline=offline, wait_s=wait), utc_now()
    records, errors = [], []
    for station_id in ids:
        try:
            records.append(_get(station_id, network, now))
        except FrostgateError as error:
            errors.append(error)
    if not records:
        raise errors[0]
    fetched = RecordsFetched(
        records=tuple(records),
        failed=tuple(error.as_dict() for error in errors),
        failures=tuple(str(error) for error in errors),
    )
    if form == "json":
        echo_json(records_answer(fetched))
    else:
        click.echo("\n".join(records_lines(fetched)))
    return ERROR if errors else 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """Which stations are wanted: the options of the command, one field each."""

    latitude: float
    longitude: float
    elevation: float | None
    within: tuple[float, bool]
    most: int
    years_to: int | None
    check: int
    archive: str
    offline: bool
    wait: float
    form: str

    def find(self) -> StationsFound:
        """Find the stations, and judge them."""
        from frostgate.show.stations import StationsFound
        from frostgate.sources.stations import HOW, Place, find_nearest, rank, read_stations

        place = Place(latitude=self.latitude, longitude=self.longitude, elevation_m=self.elevation)
        lists, notes = self._lists()
        listed = read_stations(*lists)
        nearby = find_nearest(listed, place, within_km=self.within[0])
        if not nearby:
            raise self._nothing_near(place)
        to_year = self.years_to or int(listed.last_year.max())
        counts = self._count_kept(nearby)
        if self.check:
            self._count_fetched(rank(nearby, to_year, counts.counted)[: self.check], counts)
        ranked = rank(nearby, to_year, counts.counted)
        return StationsFound(
            latitude=self.latitude,
            longitude=self.longitude,
            elevation_m=self.elevation,
            within_km=self.within[0],
            to_year=to_year,
            rows=tuple(_row(one) for one in ranked[: self.most]),
            found=len(ranked),
            how=tuple(HOW),
            notes=(*notes, *dict.fromkeys(counts.notes), *self._hints(ranked)),
        )

    def _network(self) -> Network:
        return Network(archive=self.archive, offline=self.offline, wait_s=self.wait)

    def _lists(self) -> tuple[tuple[Path, Path], list[str]]:
        from frostgate.sources.fetched import fetch_list

        fetched = []
        for name, label in _LISTS:
            with bytes_bar(label) as advance:
                fetched.append(
                    fetch_list(name, self._network(), network_folder(), now=utc_now(), advance=advance)
                )
        notes = [f"A list of the archive is {one.stale}." for one in fetched if one.stale]
        return (fetched[0].path, fetched[1].path), notes

    def _nothing_near(self, place: Place) -> FrostgateError:
        return FrostgateError(
            f"no station with minima within {self.within[0]:g} km",
            value=f"{place.latitude} {place.longitude}",
            remedy="Look farther with --within, and check which is the latitude and which the longitude.",
        )

    def _count_kept(self, nearby: tuple[Nearby, ...]) -> Counts:
        """Count the records that are kept already."""
        from frostgate.sources.fetched import kept_record

        counts = Counts()
        for near in nearby:
            path = kept_record(near.station.id, network_folder())
            if path is not None:
                counts.add(near.station, functools.partial(Path, path))
        return counts

    def _count_fetched(self, best: tuple[Candidate, ...], counts: Counts) -> None:
        """Fetch the records of some stations, and count them too."""
        with progress_bar("Counting records") as advance:
            for number, one in enumerate(best, start=1):
                counts.add(one.near.station, functools.partial(self._fetch, one.near.station.id, counts))
                if advance is not None:
                    advance(number, len(best))

    def _fetch(self, station_id: str, counts: Counts) -> Path:
        from frostgate.sources.fetched import fetch_record

        fetched = fetch_record(station_id, self._network(), network_folder(), now=utc_now())
        if fetched.stale:
            counts.notes.append(f"{station_id} is {fetched.stale}.")
        return fetched.path

    def _hints(self, ranked: tuple[Candidate, ...]) -> Iterator[str]:
        if self.elevation is None:
            yield "Say --elevation of your garden, so that the height counts."
        if not self.check and any(one.counted is None for one in ranked[: self.most]):
            yield "Days and springs are counted for kept records only; --check 3 fetches and counts three."


@dataclass(frozen=True, slots=True)
class Counts:
    """What records hold, by station id, and what could not be counted."""

    counted: dict[str, Counted] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)

    def add(self, station: Station, find: Callable[[], Path]) -> None:
        """Count one more record, or note why not."""
        try:
            self.counted[station.id] = _count(find(), station.latitude)
        except FrostgateError as error:
            self.notes.append(f"{station.id} was not counted: {error}")


def _row(one: Candidate) -> StationRow:
    from frostgate.show.stations import StationRow

    near, counted = one.near, one.counted
    station = near.station
    row = StationRow(
        id=station.id,
        name=station.name,
        latitude=station.latitude or 0.0,
        longitude=station.longitude or 0.0,
        elevation_m=station.elevation_m,
        distance_km=near.distance_km,
        station_less_place_m=None if near.rise_m is None else -near.rise_m,
        first_year=near.first_year,
        last_year=near.last_year,
        off_days=one.off_days,
        reason=one.reason,
    )
    return row if counted is None else replace(row, share=counted.share, springs=counted.springs)


def _get(station_id: str, network: Network, now: dt.datetime) -> RecordFetched:
    from frostgate.show.stations import RecordFetched
    from frostgate.sources.fetched import check_id, fetch_record

    name = check_id(station_id)
    with bytes_bar(name) as advance:
        fetched = fetch_record(name, network, network_folder(), now=now, advance=advance)
    counted = _count(fetched.path, None)
    return RecordFetched(
        station=name,
        file=str(fetched.path),
        fetched_at=fetched.fetched_at,
        age=fetched.age(now),
        stale=fetched.stale,
        first=counted.first,
        last=counted.last,
        share=counted.share,
        springs=counted.springs,
    )


def _count(path: Path, latitude: float | None) -> Counted:
    from frostgate.sources.stations import count_record

    return count_record(path, latitude)
