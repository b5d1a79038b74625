"""What a face asks about a place on a morning, and how its record is read."""

from __future__ import annotations

import datetime as dt
import functools
from collections.abc import Callable
from dataclasses import MISSING, dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, TypeVar

from frostgate.errors import InputError, UnstatedUnitError, about
from frostgate.files import read_bytes
from frostgate.model.curves import BasisOption
from frostgate.model.gate import MORNING, Doubt, Policy
from frostgate.model.records import Completeness
from frostgate.seasons import SeasonStart, find_zone
from frostgate.units import WHOLE_F_STEP_C, TemperatureUnit

if TYPE_CHECKING:
    from frostgate.climate.quality import Suspects
    from frostgate.model.garden import Site
    from frostgate.model.records import DailyMinima

Read = TypeVar("Read")
UnitHint = Literal["F", "C", "tenths-C"]
Degrees = tuple[float, TemperatureUnit]  # in [°C], and the unit they were written in


def option(told: str, *flags: str, **settings: Any) -> Any:  # noqa: ANN401  # stands for a field of any type
    """Make a field an option of a face: what it means, its flag where that is not its name, how it is read.

    A ``default`` that is a text is read like any other, so that the field itself has none.
    """
    default = settings.get("default")
    return field(
        default=MISSING if isinstance(default, str) else default,
        metadata={"flags": flags, "settings": {"help": told, **settings}},
    )


def read_hinted(read: Callable[..., Read], unit: UnitHint | None) -> Read:
    """Read a file by its own word, and by the stated unit only where it has none."""
    try:
        return read(unit=None)
    except UnstatedUnitError:
        if unit is None:
            raise
        return read(unit=unit)


def local_time(now: dt.datetime, time_zone: str | None, on: dt.date | None = None) -> dt.datetime:
    """Return a moment, or the morning of a day, as the garden's clock shows it, or without zone ``now``'s."""
    zone = now.tzinfo if time_zone is None else find_zone(time_zone)
    return now.astimezone(zone).replace(tzinfo=None) if on is None else dt.datetime.combine(on, MORNING)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Past:
    """A station's record as a command uses it."""

    minima: DailyMinima  # without the suspects, unless they are kept
    suspects: Suspects
    start: SeasonStart


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """What is asked about a place on a morning; None where the garden's own, or the default, holds."""

    unit: UnitHint | None = None  # of a record that does not state its own
    forecast_unit: TemperatureUnit | None = None  # of a forecast that does not
    station: str | None = None  # which one, where the file holds several
    hemisphere: Literal["north", "south"] | None = None
    keep_suspects: bool = False
    drop_contradictions: bool = False
    record: Path | None = None
    forecast: Path | None = None
    on: dt.date | None = None  # answer as on the morning of this day; None asks for now
    risk: float | None = None
    damage_temp: Degrees | None = None
    offset: Degrees | None = None
    offset_spread: Degrees | None = None
    forecast_offset: Degrees | None = None
    exposed_from: int | None = None  # [d]
    max_age: float | None = None  # of a forecast [h]
    time_zone: str | None = None
    show: TemperatureUnit | None = None
    offline: bool = False
    climate_only: bool = False
    kind: str = "pooled"
    basis: BasisOption = "best"
    completeness: Completeness = "chance"
    believe: tuple[Doubt, ...] = ()  # names of doubts that the grower overrules
    # the garden's own numbers, for those that are not requested
    own_policy: Policy = field(default_factory=Policy)

    def __post_init__(self) -> None:
        _ = self.policy  # raises where a number cannot be meant

    def read(self, file: Path) -> Past:
        """Read a record, name its suspects and leave them out unless they are kept."""
        from frostgate.climate.quality import find_suspects

        minima = self.parse(read_bytes(file), file)
        suspects = find_suspects(minima)
        kept = minima if self.keep_suspects else minima.leave_out(suspects.dates)
        return Past(minima=kept, suspects=suspects, start=self.season_start(minima, file))

    def read_record(self) -> tuple[bytes, Path]:
        """Return the content of the record that is named, and its file."""
        if self.record is None:
            remedy = "Name one with --record, or in a garden file (frostgate init writes one)."
            raise InputError("no station's record is named", remedy=remedy)
        return read_bytes(self.record), self.record

    def parse(self, content: bytes, file: Path) -> DailyMinima:
        """Read all minima from a file's content, by the stated unit only where the file states none."""
        from frostgate.sources.records import parse_minima

        read = functools.partial(parse_minima, content, file, drop_contradictions=self.drop_contradictions)
        return read_hinted(functools.partial(read, station=self.station), self.unit)

    def season_start(self, minima: DailyMinima, file: Path) -> SeasonStart:
        """Return where seasons begin: in the stated hemisphere, or in that of the record."""
        from frostgate.climate.quality import find_hemisphere

        with about(file):
            return find_hemisphere(minima, self.hemisphere)

    def about(self, site: Site, unit: TemperatureUnit | None = None) -> Request:
        """Return the request for a garden's site: what is left open is as the garden file says."""
        names = ("record", "forecast", "time_zone", "unit", "forecast_unit", "station", "hemisphere")
        stated = {name: getattr(self, name) or getattr(site, name) for name in names}
        return replace(self, **stated, show=self.show or self.written_unit or unit, own_policy=site.policy)

    @property
    def policy(self) -> Policy:
        """The grower's numbers."""
        stated: dict[str, Any] = {
            "risk_tolerance": self.risk,
            "damage_temp_c": self.damage_temp and self.damage_temp[0],
            "offset_c": self.offset and self.offset[0],
            "offset_sd_c": self.offset_spread and self.offset_spread[0],
            "forecast_offset_c": self.forecast_offset and self.forecast_offset[0],
            "first_exposed_days": self.exposed_from,
            "max_age_hours": self.max_age,
            "believed": (*self.own_policy.believed, *self.believe),
        }
        return replace(
            self.own_policy, **{name: value for name, value in stated.items() if value is not None}
        )

    @property
    def written_unit(self) -> TemperatureUnit | None:
        """The unit in which the grower wrote the first temperature of the request."""
        written = (self.damage_temp, self.offset, self.forecast_offset)
        return next((degrees[1] for degrees in written if degrees), None)

    def unit_shown(self, step_c: float | None, *written: Degrees) -> TemperatureUnit:
        """Return the unit of the answer: as asked, as the grower wrote, else as the station observes."""
        stated = self.show or self.written_unit or next((unit for _, unit in written), None)
        return stated or ("F" if step_c == WHOLE_F_STEP_C else "C")
