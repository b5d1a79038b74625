"""Places looked at one by one: a fault in one does not keep the others back."""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from frostgate.climate.normals import compare_record
from frostgate.climate.quality import leave_out_suspects
from frostgate.climate.zones import Zone, mean_extreme
from frostgate.errors import FrostgateError, InputError
from frostgate.files import read_bytes
from frostgate.gate.verdict import Morning
from frostgate.model.garden import Garden, Site
from frostgate.model.records import DailyMinima
from frostgate.service.documents import freshen
from frostgate.service.morning import ask_site, know_climate
from frostgate.service.request import Request
from frostgate.service.season import know_season
from frostgate.show.comparisons import Comparison, Place

Advance = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lookout:
    """All that is needed to look at one place after another."""

    request: Request  # its forecast is for the places that name none
    now: dt.datetime
    cache: Path
    garden: Garden | None = None
    zones: tuple[Zone, ...] = ()  # only records of these are wanted; empty for all

    def look(self, site: Site) -> Place | Zone:
        """Return a place with its figures, or with why it has none; only its zone where another is wanted."""
        try:
            request, record = self._request_about(site)
            minima = request.parse(read_bytes(record), record)
            if self.zones and (zone := self._zone(minima)) not in self.zones:
                return zone
            climate = compare_record(
                minima,
                know_climate(request, self.cache, autumn=True),
                request.policy.risk_tolerance,
                kind=request.kind,
                basis=request.basis,
                completeness=request.completeness,
                keep_suspects=request.keep_suspects,
            )
        except FrostgateError as error:
            return Place(name=site.name, record=site.record, problem=error)
        name = site.name if self._is_of_garden(site) else climate.station.name or climate.station.id
        place = Place(name=name, record=site.record, climate=climate)
        if request.forecast is None:
            return place
        try:
            return replace(place, morning=self._morning(site, request))
        except FrostgateError as error:
            return replace(place, doubt=str(error))

    def shares_forecast(self, site: Site) -> bool:
        """Return whether the forecast that was named is taken for a place."""
        own = site.forecast or site.forecast_url
        return self.request.forecast is not None and own is None and not self.zones

    def _is_of_garden(self, site: Site) -> bool:
        return self.garden is not None and site in self.garden.sites

    def _request_for(self, site: Site) -> Request:
        return self.request if self.shares_forecast(site) else replace(self.request, forecast=None)

    def _request_about(self, site: Site) -> tuple[Request, Path]:
        """Return the morning's request for a place, and its record."""
        unit = None
        if self.garden is not None and self._is_of_garden(site):
            site, _ = freshen(site, self.garden.network, self.cache / "network", now=self.now)
            unit = self.garden.temperature_unit
        if site.record is None:
            remedy = "Name one with --record, or in a garden file (frostgate init writes one)."
            raise InputError(f"the site {site.name!r} names no record", remedy=remedy)
        return self._request_for(site).about(site, unit), site.record

    def _zone(self, minima: DailyMinima) -> Zone:
        start, keep = self.request.season_start(minima), self.request.keep_suspects
        return mean_extreme(leave_out_suspects(minima, keep_suspects=keep), start).zone

    def _morning(self, site: Site, request: Request) -> Morning | None:
        """Ask the gate as `today` does: at home it has learned from the garden's journal."""
        if self.garden is not None and site == self.garden.home:
            return know_season(self.garden, self._request_for(site), self.now, self.cache).morning
        return ask_site(request, self.now, self.cache, autumn=True)[0]


def compare_places(
    lookout: Lookout, files: Sequence[Path] = (), *, sort: str | None = None, advance: Advance | None = None
) -> Comparison:
    """Look at the garden's sites and at the files, and set them side by side."""
    own = () if lookout.garden is None else lookout.garden.sites
    sites = (*own, *(Site(name=file.name, record=file) for file in files))
    if not sites:
        remedy = "Name station files, a folder with --records, or a garden with --garden."
        if lookout.zones:
            remedy = "Name station files, or a folder with --records, to search for the zone."
        raise InputError("no place to compare", remedy=remedy)
    looked = []
    for done, site in enumerate(sites, 1):
        looked.append(lookout.look(site))
        if advance is not None:
            advance(done, len(sites))
    places = name_apart([one for one in looked if isinstance(one, Place)])
    zones = Counter(one for one in looked if isinstance(one, Zone))
    risks = {place.climate.risk for place in places if place.climate}
    return Comparison(
        places=tuple(sorted(places, key=ORDERS[sort])) if sort else places,
        risk=risks.pop() if len(risks) == 1 else None,
        zones=lookout.zones,
        elsewhere=tuple((zone.name, zones[zone]) for zone in sorted(zones, key=lambda zone: zone.low_f)),
        notes=tuple(_shared_forecast(lookout, sites)),
    )


def _shared_forecast(lookout: Lookout, sites: Iterable[Site]) -> Iterator[str]:
    names = [site.name for site in sites if lookout.shares_forecast(site)]
    if len(names) > 1 and lookout.request.forecast is not None:
        yield f"The forecast {lookout.request.forecast.name} is taken for each of: {', '.join(names)}."


def _by_last_frost(place: Place) -> tuple[bool, float]:
    """Order by the median last frost; a place without one, for its mild springs, is the earliest."""
    day = math.nan if place.climate is None else place.climate.last.day_at_risk(0.5)
    return place.climate is None, -math.inf if math.isnan(day) else day


def _by_zone(place: Place) -> tuple[bool, float]:
    coldest = place.climate.coldest if place.climate else None
    return coldest is None, math.inf if coldest is None else coldest.mean_c


ORDERS: dict[str, Callable[[Place], Any]] = {
    "last": _by_last_frost,
    "zone": _by_zone,
    "name": lambda place: place.name.casefold(),
}


def files_of(folder: Path) -> tuple[Path, ...]:
    """List the files of a folder by name, hidden ones and folders within left out."""
    remedy = "Name the folder that holds the records."
    if not folder.is_dir():
        what = "a file, not a folder" if folder.exists() else "no such folder"
        raise InputError(what, file=folder, remedy=remedy)
    try:
        found = sorted(file for file in folder.iterdir() if file.is_file() and not file.name.startswith("."))
    except OSError as fault:
        remedy = "Name a folder that can be read."
        raise InputError("cannot be read", file=folder, value=fault.strerror, remedy=remedy) from None
    if not found:
        raise InputError("an empty folder", file=folder, remedy=remedy)
    return tuple(found)


def name_apart(places: Sequence[Place]) -> tuple[Place, ...]:
    """Add to names that several places share their station, or else their file and a number."""
    names = [place.name for place in places]
    for tell in (_station, _file):
        often = Counter(names)
        names = [
            f"{place.name} ({tell(place)})" if often[name] > 1 and tell(place) else name
            for place, name in zip(places, names, strict=True)
        ]
    taken = set[str]()
    for index, name in enumerate(names):
        number, free = 2, name
        while free in taken:
            number, free = number + 1, f"{name}, {number}"
        names[index] = free
        taken.add(free)
    return tuple(replace(place, name=name) for place, name in zip(places, names, strict=True))


def _station(place: Place) -> str | None:
    station = None if place.climate is None else place.climate.station.id
    return None if station == place.name else station


def _file(place: Place) -> str | None:
    file = None if place.record is None else place.record.name
    return None if file == place.name else file
