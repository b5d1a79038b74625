"""The command that tells how a garden differs from its station."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from frostgate.cli import options
from frostgate.cli.options import option, shared
from frostgate.errors import InputError
from frostgate.service.request import Degrees, read_hinted
from frostgate.units import FOOT_M

if TYPE_CHECKING:
    from frostgate.climate.siting import ExposureName
    from frostgate.model.records import DailyMinima
    from frostgate.show.siting import Siting
    from frostgate.sources.records import GardenMinima

LOWEST_M, HIGHEST_M = -450.0, 9000.0  # the lowest shore and the highest peak, rounded outward

_ELEVATION = re.compile(r"\s*([-+−]?\d+(?:\.\d+)?)\s*(m|ft)\s*", re.IGNORECASE)


def parse_elevation(text: str) -> float:
    """Read an elevation with its unit, such as ``120m`` or ``400ft``; return it in [m]."""
    match = _ELEVATION.fullmatch(text)
    if match is None:
        raise InputError("not an elevation with its unit", value=text, remedy="Write it as 120m or as 400ft.")
    number = float(match[1].replace("−", "-"))
    elevation_m = number * FOOT_M if match[2].lower() == "ft" else number
    if not LOWEST_M <= elevation_m <= HIGHEST_M:
        raise InputError("no land lies at such an elevation", value=text, remedy="Check it and its unit.")
    return elevation_m


ELEVATION = options.Written("elevation", parse_elevation)


@dataclass(frozen=True, slots=True, kw_only=True)
class SitingOptions(options.FileOptions):
    """The options of the command."""

    garden: Path | None = option(
        type=options.FILE,
        metavar="FILE",
        help="Your own minima: date, minimum and, if noted, clear_calm (yes or no).",
    )
    station_elevation: float | None = option(
        type=ELEVATION, help="Such as 120m or 400ft.  [default: as the file says]"
    )
    garden_elevation: float | None = option(type=ELEVATION, help="Such as 120m or 400ft.")
    exposure: ExposureName | None = option(
        type=click.Choice(["open", "wall", "low"]),
        help="Of the garden: open, sheltered by a wall, or low-lying.",
    )
    damage_temp: Degrees = shared(options.damage_temp_option)
    nearby: tuple[Path, ...] = option(
        type=options.FILE,
        multiple=True,
        metavar="FILE",
        help="Another station near the garden, to fill missing days; may be repeated.",
    )
    combined: Path | None = option(
        type=options.FILE,
        metavar="FILE",
        help="Write the record made of all stations into this table, for today --record.",
    )


@click.command()
@options.gathered(SitingOptions)
def siting(given: SitingOptions) -> None:
    """Tell how much colder your garden is than its station, for today --offset.

    Learned from mornings on which both were read; without any, a wide default from elevation and exposure.
    Several stations become one record: that of the best-known one, its missing days filled from the others.
    """
    from frostgate.show.siting import siting_answer, siting_lines, write_minima

    found = _find(given)
    if given.combined is not None and found.combined is not None:
        write_minima(given.combined, found.combined.minima)
        click.echo(f"Record written to {given.combined}", err=True)
    unit = given.unit_shown(None)
    options.answer(given.form, lambda: siting_answer(found), lambda: siting_lines(found, unit))


def _find(given: SitingOptions) -> Siting:
    """Find the difference from the station, or from the best-known of several."""
    from frostgate.climate.siting import combine_stations

    if given.combined is not None and not given.nearby:
        raise InputError("nothing to combine", value=given.combined, remedy="Name another station: --nearby.")
    garden = _read_garden(given)
    records = [given.read(given.file).minima, *(_read_nearby(given, path) for path in given.nearby)]
    elevations = (given.station_elevation, *(None for _ in given.nearby))
    sitings = [_site(given, *one, garden) for one in zip(records, elevations, strict=True)]
    if len(records) == 1:
        return sitings[0]
    combined = combine_stations(records, [one.offset for one in sitings])
    best = next(one for one in sitings if one.offset is combined.offset)
    return replace(best, combined=combined)


def _read_garden(given: SitingOptions) -> GardenMinima | None:
    from frostgate.sources.records import read_garden

    path, drop = given.garden, given.drop_contradictions
    if path is None:
        return None
    return read_hinted(lambda unit: read_garden(path, unit=unit, drop_contradictions=drop), given.unit)


def _read_nearby(given: SitingOptions, path: Path) -> DailyMinima:
    """Read another station by the same options, save the pick of one."""
    return read_hinted(lambda unit: replace(given, unit=unit, station=None).read(path).minima, given.unit)


def _site(
    given: SitingOptions, station: DailyMinima, elevation_m: float | None, garden: GardenMinima | None
) -> Siting:
    """Learn the difference from one station, or take the default where the garden has no minima."""
    from frostgate.climate.siting import default_offset, find_shift, learn_offset, pair_up
    from frostgate.show.siting import Siting

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
    offset = learn_offset(pairs, default=default, damage_temp_c=damage_temp_c)
    return replace(known, offset=offset, pairs=pairs, shift_days=find_shift(garden.minima, station))
