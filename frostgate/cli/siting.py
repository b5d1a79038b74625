"""The command that tells how a garden differs from its station."""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from frostgate.cli import echo, options
from frostgate.cli.options import shared
from frostgate.errors import InputError
from frostgate.garden.written import parse_elevation_m
from frostgate.service.request import Degrees, option, read_hinted

if TYPE_CHECKING:
    from frostgate.model.records import DailyMinima
    from frostgate.show.stations import Siting
    from frostgate.sources.records import GardenMinima

ELEVATION = options.Written("elevation", parse_elevation_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class SitingOptions(options.FileOptions):
    """The options of the command."""

    garden: Path | None = option("Your own minima: date, minimum and, if noted, clear_calm (yes or no).")
    station_elevation: float | None = option(
        "Such as 120m or 400ft.  [default: as the file says]", type=ELEVATION
    )
    garden_elevation: float | None = option("Such as 120m or 400ft.", type=ELEVATION)
    exposure: Literal["open", "wall", "low"] | None = option(
        "Of the garden: open, sheltered by a wall, or low-lying."
    )
    damage_temp: Degrees = shared(options.damage_temp_option)
    nearby: tuple[Path, ...] = option(
        "Another station near the garden, to fill missing days; may be repeated."
    )
    combined: options.NewFile | None = option(
        "Write the record made of all stations into this table, for today --record."
    )
    replace: bool = shared(options.replace_option)


@click.command()
@options.gathered(SitingOptions)
def siting(given: SitingOptions) -> None:
    """Tell how much colder your garden is than its station, for today --offset.

    Learned from mornings on which both were read; without any, a wide default from elevation and exposure.
    Several stations become one record: that of the best-known one, its missing days filled from the others.
    """
    from frostgate.show.stations import minima_table, siting_answer, siting_lines

    found = _find(given)
    if given.combined is not None and found.combined is not None:
        options.save_file(given.combined, minima_table(found.combined.minima))
        echo(f"Record written to {given.combined}", err=True)
    unit = given.unit_shown(None)
    options.answer(given.form, lambda: siting_answer(found), lambda: siting_lines(found, unit))


def _find(given: SitingOptions) -> Siting:
    """Find the difference from the station, or from the best-known of several."""
    from frostgate.climate.siting import combine_stations
    from frostgate.sources.records import read_garden

    if given.combined is not None and not given.nearby:
        raise InputError("nothing to combine", value=given.combined, remedy="Name another station: --nearby.")
    garden = None
    if given.garden is not None:
        read = functools.partial(read_garden, given.garden, drop_contradictions=given.drop_contradictions)
        garden = read_hinted(read, given.unit)
    another = replace(given, station=None)
    records = [given.read(given.file).minima, *(another.read(path).minima for path in given.nearby)]
    elevations = (given.station_elevation, *(None for _ in given.nearby))
    sitings = [_site(given, *one, garden) for one in zip(records, elevations, strict=True)]
    if len(records) == 1:
        return sitings[0]
    combined = combine_stations(records, [one.offset for one in sitings])
    best = next(one for one in sitings if one.offset is combined.offset)
    return replace(best, combined=combined)


def _site(
    given: SitingOptions, station: DailyMinima, elevation_m: float | None, garden: GardenMinima | None
) -> Siting:
    """Learn the difference from one station, or take the default where the garden has no minima."""
    from frostgate.climate.siting import default_offset, find_shift, learn_offset, pair_up
    from frostgate.show.stations import Siting

    above_sea_m = station.station.elevation_m if elevation_m is None else elevation_m
    garden_m = given.garden_elevation
    above_station_m = None if above_sea_m is None or garden_m is None else garden_m - above_sea_m
    default = default_offset(above_station_m, given.exposure)
    damage_temp_c = given.damage_temp[0]
    known = Siting(station=station.station, damage_temp_c=damage_temp_c, offset=default, default=default)
    if garden is None:
        return known
    pairs = pair_up(garden.minima, station, garden.clear)
    if pairs.dates.size == 0:
        raise InputError(
            f"not one morning in common with the station {station.station.id}",
            file=given.garden,
            value=f"{garden.minima.dates[0]} to {garden.minima.dates[-1]}",
            remedy=f"The station's record runs from {station.dates[0]} to {station.dates[-1]}.",
        )
    offset = learn_offset(pairs, default, damage_temp_c=damage_temp_c)
    return replace(known, offset=offset, pairs=pairs, shift_days=find_shift(garden.minima, station))
