"""Places looked at one by one: a fault in one does not keep the others back."""

from __future__ import annotations

import datetime as dt
import itertools
import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from frostgate.climate.normals import compare_record
from frostgate.climate.quality import leave_out_suspects
from frostgate.climate.zones import Zone, mean_extreme
from frostgate.errors import FrostgateError, InputError
from frostgate.model.garden import Garden, Site
from frostgate.service.documents import freshen
from frostgate.service.morning import ask_site, know_climate
from frostgate.service.request import Request
from frostgate.service.season import know_season, planned
from frostgate.show.comparisons import Comparison, Place

FEW = 20  # places; more are looked at in a process for each core, which takes a second to begin
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
        own = self.garden if self.garden is not None and site in self.garden.sites else None
        asked = self.request if self.shares_forecast(site) else replace(self.request, forecast=None)
        try:
            here, unit = site, None
            if own is not None:
                here, _ = freshen(site, own.network, self.cache, now=self.now)
                unit = own.temperature_unit
            request = asked.about(here, unit)
            content, file = request.read_record()
            minima = request.parse(content, file)
            if self.zones:
                sound = leave_out_suspects(minima, keep_suspects=request.keep_suspects)
                zone = mean_extreme(sound, request.season_start(minima, file)).zone
                if zone not in self.zones:
                    return zone
            bounds = request.forecast is not None  # which the verdict tells, and nothing else here
            known = know_climate(
                request, content, file, self.cache, autumn=True, bounds=bounds, minima=minima
            )
            climate = compare_record(
                minima,
                known,
                request.policy.risk_tolerance,
                kind=request.kind,
                completeness=request.completeness,
                keep_suspects=request.keep_suspects,
            )
        except FrostgateError as error:
            return Place(name=site.name, record=site.record, problem=error)
        name = site.name if own else climate.station.name or climate.station.id
        place = Place(name=name, record=site.record, climate=climate)
        if request.forecast is None:
            return place
        try:
            if own is not None and site == own.home:  # as `today` answers: it has learned from the journal
                season = know_season(own, asked, self.now, self.cache)
                return replace(place, morning=planned(season)[1])
            return replace(place, morning=ask_site(request, self.now, self.cache, autumn=True)[0])
        except FrostgateError as error:
            return replace(place, doubt=str(error))

    def shares_forecast(self, site: Site) -> bool:
        """Return whether the forecast that was named is taken for a place."""
        own = site.forecast or site.forecast_url
        return self.request.forecast is not None and own is None and not self.zones


def compare_places(
    lookout: Lookout, files: Sequence[Path] = (), *, sort: str | None = None, advance: Advance | None = None
) -> Comparison:
    """Look at the garden's sites and at the files, and set them side by side."""
    own = () if lookout.garden is None else lookout.garden.sites
    named = tuple(Site(name=file.name, record=file) for file in files)
    sites = (*own, *named)
    if not sites:
        remedy = "Name station files, a folder with --records, or a garden with --garden."
        if lookout.zones:
            remedy = "Name station files, or a folder with --records, to search for the zone."
        raise InputError("no place to compare", remedy=remedy)
    looked = []
    for done, one in enumerate(itertools.chain(map(lookout.look, own), _look_at_many(lookout, named)), 1):
        looked.append(one)
        if advance is not None:
            advance(done, len(sites))
    places = name_apart([one for one in looked if isinstance(one, Place)])
    zones = Counter(one for one in looked if isinstance(one, Zone))
    forecast, sharing = lookout.request.forecast, [one.name for one in sites if lookout.shares_forecast(one)]
    notes: tuple[str, ...] = ()
    if forecast is not None and len(sharing) > 1:
        notes = (f"The forecast {forecast.name} is taken for each of: {', '.join(sharing)}.",)
    risks = {place.climate.risk for place in places if place.climate}
    return Comparison(
        places=tuple(sorted(places, key=ORDERS[sort])) if sort else places,
        risk=risks.pop() if len(risks) == 1 else None,
        zones=lookout.zones,
        elsewhere=tuple((zone.name, zones[zone]) for zone in sorted(zones, key=lambda zone: zone.low_f)),
        notes=notes,
    )


def _look_at_many(lookout: Lookout, sites: Sequence[Site]) -> Iterator[Place | Zone]:
    """Look at places in their order; each process holds one record at a time and returns its figures."""
    if len(sites) <= FEW:
        yield from map(lookout.look, sites)
        return
    import multiprocessing
    import signal
    from concurrent.futures import ProcessPoolExecutor
    from concurrent.futures.process import BrokenProcessPool

    context = multiprocessing.get_context("spawn")  # a fork would copy what the progress bar's thread holds
    deaf = (signal.SIGINT, signal.SIG_IGN)  # an interrupt ends this process, and so the others
    try:
        with ProcessPoolExecutor(mp_context=context, initializer=signal.signal, initargs=deaf) as pool:
            yield from pool.map(lookout.look, sites)
    except BrokenProcessPool:
        what, remedy = "a process that looks at places was ended", "Compare fewer places at once."
        raise FrostgateError(what, remedy=remedy) from None


def _last_frost(place: Place) -> float:
    """Return the median last frost; a place without one, for its mild springs, is the earliest."""
    day = math.inf if place.climate is None else place.climate.last.day_at_risk(0.5)
    return -math.inf if math.isnan(day) else day


def _coldest_c(place: Place) -> float:
    coldest = place.climate.coldest if place.climate else None
    return math.inf if coldest is None else coldest.mean_c


ORDERS: dict[str, Callable[[Place], Any]] = {
    "last": _last_frost,
    "zone": _coldest_c,
    "name": lambda place: place.name.casefold(),
}


def files_of(folder: Path) -> tuple[Path, ...]:
    """List the files of a folder by name, hidden ones and folders within left out."""
    remedy = "Name the folder that holds the records."
    try:
        found = sorted(file for file in folder.iterdir() if file.is_file() and not file.name.startswith("."))
    except OSError as fault:
        what = "a folder that cannot be read" if folder.is_dir() else "no such folder"
        raise InputError(what, file=folder, value=fault.strerror, remedy=remedy) from None
    if not found:
        raise InputError("an empty folder", file=folder, remedy=remedy)
    return tuple(found)


_TOLD_APART: tuple[Callable[[Place], str | None], ...] = (
    lambda place: place.climate.station.id if place.climate else None,
    lambda place: place.record.name if place.record else None,
)


def name_apart(places: Sequence[Place]) -> tuple[Place, ...]:
    """Add to names that several places share their station, or else their file, or else a number."""
    names = [place.name for place in places]
    for tell in _TOLD_APART:
        often = Counter(names)
        told = [None if often[name] == 1 else tell(place) for place, name in zip(places, names, strict=True)]
        names = [
            f"{place.name} ({one})" if one not in {None, place.name} else name
            for place, name, one in zip(places, names, told, strict=True)
        ]
    apart: dict[str, Place] = {}
    for place, name in zip(places, names, strict=True):
        numbered = (f"{name}, {number}" if number > 1 else name for number in itertools.count(1))
        apart[next(free for free in numbered if free not in apart)] = place
    return tuple(replace(place, name=name) for name, place in apart.items())
