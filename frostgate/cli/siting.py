"""The command that tells how a garden differs from its station."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from frostgate.cli import options
from frostgate.cli.options import TEMPERATURE, Degrees, RecordWish, Written, echo_json
from frostgate.errors import InputError
from frostgate.service.request import read_hinted
from frostgate.units import TemperatureUnit

if TYPE_CHECKING:
    from frostgate.climate.siting import ExposureName, GardenOffset
    from frostgate.model.records import DailyMinima, Station
    from frostgate.show.siting import Siting
    from frostgate.sources.pairs import GardenMinima

M_PER_FT = 0.3048
LOWEST_M, HIGHEST_M = -450.0, 9000.0  # the lowest shore and the highest peak, rounded outward

_ELEVATION = re.compile(r"\s*([-+−]?\d+(?:\.\d+)?)\s*(m|ft)\s*", re.IGNORECASE)


def parse_elevation(text: str) -> float:
    """Read an elevation with its unit, such as ``120m`` or ``400ft``; return it in [m]."""
    match = _ELEVATION.fullmatch(text)
    if match is None:
        raise InputError("not an elevation with its unit", value=text, remedy="Write it as 120m or as 400ft.")
    number = float(match[1].replace("−", "-"))
    elevation_m = number * M_PER_FT if match[2].lower() == "ft" else number
    if not LOWEST_M <= elevation_m <= HIGHEST_M:
        raise InputError("no land lies at such an elevation", value=text, remedy="Check it and its unit.")
    return elevation_m


ELEVATION = Written("elevation", parse_elevation)


@click.command()
@click.argument("file", type=options.FILE)
@click.option("--garden", type=options.FILE, metavar="FILE",
              help="Your own minima: date, minimum and, if noted, clear_calm (yes or no).")  # fmt: skip
@click.option(
    "--station-elevation", type=ELEVATION, help="Such as 120m or 400ft.  [default: as the file says]"
)
@click.option("--garden-elevation", type=ELEVATION, help="Such as 120m or 400ft.")
@click.option("--exposure", type=click.Choice(["open", "wall", "low"]),
              help="Of the garden: open, sheltered by a wall, or low-lying.")  # fmt: skip
@click.option("--damage-temp", type=TEMPERATURE, default="32F", show_default=True,
              help="A minimum at or below this in the garden kills the flush.")  # fmt: skip
@click.option("--nearby", type=options.FILE, multiple=True, metavar="FILE",
              help="Another station near the garden, to fill missing days; may be repeated.")  # fmt: skip
@click.option("--combined", type=options.FILE, metavar="FILE",
              help="Write the record made of all stations into this table, for today --record.")  # fmt: skip
@options.show_option
@options.record_options
@options.format_option("text", "json")
def siting(**given: Any) -> None:  # noqa: ANN401  # click hands the options over by name
    """Tell how much colder your garden is than its station, for today --offset.

    Learned from mornings on which both were read; without any, a wide default from elevation and exposure.
    Several stations become one record: that of the best-known one, its missing days filled from the others.
    """
    wish = Wish(**given)
    found = wish.find()
    if wish.combined is not None and found.combined is not None:
        from frostgate.show.siting import write_minima

        write_minima(wish.combined, found.combined.minima)
        click.echo(f"Record written to {wish.combined}", err=True)
    if wish.form == "json":
        from frostgate.show.siting import siting_answer

        echo_json(siting_answer(found))
    else:
        from frostgate.show.siting import siting_lines

        click.echo("\n".join(siting_lines(found, wish.show or wish.damage_temp[1])))


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish(RecordWish):
    """What is known of the garden: the options of the command, one field each."""

    garden: Path | None
    station_elevation: float | None
    garden_elevation: float | None
    exposure: ExposureName | None
    damage_temp: Degrees
    nearby: tuple[Path, ...]
    combined: Path | None
    show: TemperatureUnit | None
    form: str

    def find(self) -> Siting:
        """Find the difference from the station, or from the best-known of several."""
        from frostgate.climate.nearby import combine_stations

        if self.combined is not None and not self.nearby:
            raise InputError(
                "nothing to combine", value=self.combined, remedy="Name another station: --nearby."
            )
        garden = self._read_garden()
        records = [self.read().minima, *(self._read_nearby(path) for path in self.nearby)]
        elevations = (self.station_elevation, *(None for _ in self.nearby))
        sitings = [
            self._site(record, garden, stated_m) for record, stated_m in zip(records, elevations, strict=True)
        ]
        if len(records) == 1:
            return sitings[0]
        combined = combine_stations(records, [one.offset for one in sitings])
        best = next(one for one in sitings if one.offset is combined.offset)
        return replace(best, combined=combined)

    def _read_garden(self) -> GardenMinima | None:
        from frostgate.sources.pairs import read_garden

        path = self.garden
        if path is None:
            return None
        return read_hinted(
            lambda unit: read_garden(path, unit=unit, drop_contradictions=self.drop_contradictions), self.unit
        )

    def _read_nearby(self, path: Path) -> DailyMinima:
        """Read another station by the same options, save the pick of one."""
        return read_hinted(
            lambda unit: replace(self, file=path, unit=unit, station=None).read().minima, self.unit
        )

    def _site(self, station: DailyMinima, garden: GardenMinima | None, stated_m: float | None) -> Siting:
        from frostgate.climate.siting import find_shift, learn_offset, pair_up
        from frostgate.show.siting import Siting

        default = self._default(station.station, stated_m)
        known = Siting(
            station=station.station, damage_temp_c=self.damage_temp[0], offset=default, default=default
        )
        if garden is None:
            return known
        pairs = pair_up(garden.minima, station, garden.clear)
        if pairs.dates.size == 0:
            raise InputError(
                f"not one morning in common with the station {station.station.id}",
                file=self.garden,
                value=f"{garden.minima.dates[0]} to {garden.minima.dates[-1]}",
                remedy=f"The station's record runs from {station.dates[0]} to {station.dates[-1]}.",
            )
        offset = learn_offset(pairs, default=default, damage_temp_c=self.damage_temp[0])
        return replace(known, offset=offset, pairs=pairs, shift_days=find_shift(garden.minima, station))

    def _default(self, station: Station, stated_m: float | None) -> GardenOffset:
        from frostgate.climate.siting import default_offset

        above_sea_m = station.elevation_m if stated_m is None else stated_m
        if above_sea_m is None or self.garden_elevation is None:
            return default_offset(None, self.exposure)
        return default_offset(self.garden_elevation - above_sea_m, self.exposure)
