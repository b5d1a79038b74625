"""Places looked at one by one: a fault in one does not keep the others back."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from frostgate.cli import options
from frostgate.cli.options import moment
from frostgate.climate.compare import PlaceClimate, compare_record, leave_out_suspects
from frostgate.climate.quality import find_hemisphere
from frostgate.climate.zones import Zone, mean_extreme
from frostgate.errors import FrostgateError, InputError
from frostgate.gate.verdict import Morning
from frostgate.model.garden import Garden, Site
from frostgate.model.records import DailyMinima
from frostgate.service.freshness import freshen
from frostgate.service.request import Question, Stated, ask_site, read_hinted
from frostgate.service.season import garden_unit, know_season
from frostgate.show.comparisons import Place
from frostgate.sources.records import read_minima


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A place that is asked about: a garden's site, or a station's file."""

    site: Site | None = None
    file: Path | None = None

    @property
    def record(self) -> Path | None:
        """The station's file, where one is named."""
        return self.file or (self.site.record if self.site else None)

    @property
    def name(self) -> str:
        """The site's name, or the file's."""
        return self.site.name if self.site else self.file.name if self.file else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lookout:
    """All that is needed to look at a place.

    Parameters
    ----------
    stated
        What the command's options state before the garden's own; its forecast is for places that name none.
    garden
        Whose sites are asked about; None without one.
    zones
        Only records of these zones are wanted; empty for all.
    asked
        Further fields of `Question`.
    """

    stated: Stated
    garden: Garden | None = None
    zones: tuple[Zone, ...] = ()
    asked: Mapping[str, Any] = field(default_factory=dict)

    def look(self, one: Asked) -> Place | Zone:
        """A place with its figures, or with why it has none; its zone alone where another is wanted."""
        try:
            question = self.question(one)
            minima = self._read(question)
            zone = self._zone(minima) if self.zones else None
            if zone is not None and zone not in self.zones:
                return zone
            climate = self._figures(question, minima)
        except FrostgateError as error:
            return Place(name=one.name, record=one.record, problem=error)
        name = one.name if one.site else climate.station.name or climate.station.id
        place = Place(name=name, record=one.record, climate=climate)
        if question.forecast is None:
            return place
        try:
            return replace(place, morning=self._morning(one, question))
        except FrostgateError as error:
            return replace(place, doubt=str(error))

    def question(self, one: Asked) -> Question:
        """Make the question that the morning's command asks of a place."""
        if self.garden is None or one.site is None:
            return self._stated_for(one).ask(one.site, autumn=True, **self.asked)
        site, _ = freshen(one.site, self.garden.network)
        return self._stated_for(one).ask(site, garden_unit(self.garden), autumn=True, **self.asked)

    def shares_forecast(self, one: Asked) -> bool:
        """Return whether the forecast that the options name is taken for a place."""
        own = one.site is not None and (one.site.forecast or one.site.forecast_url) is not None
        return self.stated.forecast is not None and not own and not self.zones

    def _stated_for(self, one: Asked) -> Stated:
        forecast = self.stated.forecast if self.shares_forecast(one) else None
        return replace(self.stated, record=one.file, forecast=forecast)

    def _read(self, question: Question) -> DailyMinima:
        def read(unit: Any) -> DailyMinima:  # noqa: ANN401  # a hint that the reader checks
            return read_minima(
                question.record,
                unit=unit,
                station=question.station,
                drop_contradictions=question.drop_contradictions,
            )

        return read_hinted(read, question.unit)

    def _zone(self, minima: DailyMinima) -> Zone:
        start = options.season_start(self.stated.hemisphere) or find_hemisphere(minima)
        keep = bool(self.asked.get("keep_suspects"))
        return mean_extreme(leave_out_suspects(minima, keep_suspects=keep), start).zone

    def _figures(self, question: Question, minima: DailyMinima) -> PlaceClimate:
        return compare_record(
            minima,
            question.past(),
            question.policy.risk_tolerance,
            kind=question.kind,
            basis=question.basis,
            completeness=question.completeness,
            keep_suspects=question.keep_suspects,
        )

    def _morning(self, one: Asked, question: Question) -> Morning | None:
        """Ask the gate as `today` does: at home it has learned from the garden's journal."""
        if self.garden is not None and one.site == self.garden.home:
            asked = {name: value for name, value in self.asked.items() if name != "on"}
            return know_season(self.garden, question.on, self._stated_for(one), **asked).morning
        coming = question.coming()
        now = moment(question.on, question.time_zone or (coming.time_zone if coming else None))
        return ask_site(question, coming, now)[0]


def files_of(folder: Path) -> tuple[Path, ...]:
    """List the files of a folder by name, hidden ones and folders within left out."""
    if not folder.is_dir():
        what = "a file, not a folder" if folder.exists() else "no such folder"
        raise InputError(what, file=folder, remedy="Name the folder that holds the records.")
    try:
        found = sorted(file for file in folder.iterdir() if file.is_file() and not file.name.startswith("."))
    except OSError as fault:
        remedy = "Name a folder that can be read."
        raise InputError("cannot be read", file=folder, value=fault.strerror, remedy=remedy) from None
    if not found:
        raise InputError("an empty folder", file=folder, remedy="Name the folder that holds the records.")
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
        names[index] = _free(name, taken)
        taken.add(names[index])
    return tuple(replace(place, name=name) for place, name in zip(places, names, strict=True))


def _station(place: Place) -> str | None:
    station = None if place.climate is None else place.climate.station.id
    return None if station == place.name else station


def _file(place: Place) -> str | None:
    file = None if place.record is None else place.record.name
    return None if file == place.name else file


def _free(name: str, taken: set[str]) -> str:
    number, free = 2, name
    while free in taken:
        number, free = number + 1, f"{name}, {number}"
    return free
