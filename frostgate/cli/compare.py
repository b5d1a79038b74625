"""The command that sets places side by side: a garden's sites, stations, and the records of a zone."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from frostgate.cli import options
from frostgate.cli.options import argument, option, progress_bar, shared
from frostgate.units import WHOLE_F_STEP_C, TemperatureUnit

if TYPE_CHECKING:
    from frostgate.climate.zones import Zone
    from frostgate.model.garden import Garden
    from frostgate.show.comparisons import Comparison

NOTHING = 2  # exit status where no place could be compared


def _zones(text: str) -> tuple[Zone, ...]:
    from frostgate.climate.zones import zones_named

    return zones_named(text)


@dataclass(frozen=True, slots=True, kw_only=True)
class CompareOptions(options.PlaceOptions):
    """The options of the command: a request to each place, which places, and how they are shown."""

    files: tuple[Path, ...] = argument(nargs=-1, type=options.FILE)
    garden: Path | None = shared(options.garden_option)
    records: Path | None = option(
        type=options.FILE, metavar="FOLDER", help="Compare every record of this folder too."
    )
    zones: tuple[Zone, ...] = option(
        "--zone",
        type=options.Written("zone", _zones),
        default=(),
        metavar="8a",
        help="Only the records among FILES and --records whose hardiness zone this is; 8 takes both its "
        "halves.",
    )
    forecast: Path | None = option(
        type=options.FILE, help="The forecast, for every place that names none of its own."
    )
    chart: Path | None = option(
        type=options.FILE, metavar="FILE", help="Draw all curves into a .png or .svg file."
    )
    sort: str | None = option(
        type=click.Choice(["last", "zone", "name"]),
        help="By the median last frost, by the coldest night, or by name.  [default: as they are named]",
    )
    form: str = shared(options.format_option("text", "csv", "json"))


@click.command(epilog="Exit status: 0 where at least one place could be compared, 2 where none could.")
@options.gathered(CompareOptions)
def compare(given: CompareOptions) -> int:
    """Set places side by side: the sites of a garden, station FILES, or a folder of records.

    Dates of last and first frost, the season between, how far last frosts spread and how they move, the
    hardiness zone, and today's verdict where a forecast is named.
    """
    from frostgate.service.compare import Lookout, compare_places, files_of
    from frostgate.show.comparisons import comparison_answer, comparison_parts, place_rows
    from frostgate.show.tables import write_parts

    garden = None if given.zones else options.named_garden(given.garden)
    lookout = Lookout(
        request=given, now=options.clock(), cache=options.cache_folder(), garden=garden, zones=given.zones
    )
    files = (*given.files, *(files_of(given.records) if given.records else ()))
    with progress_bar("Comparing places") as advance:
        comparison = compare_places(lookout, files, sort=given.sort, advance=advance)
    unit = _unit_shown(given, comparison, garden)
    if given.chart is not None and not comparison.compared:
        click.echo("No chart: there is no place to draw.", err=True)
    elif given.chart is not None:
        from frostgate.show.charts.curves import draw_comparison

        curves = [(place.name, climate.last) for place, climate in comparison.compared]
        options.echo_chart(draw_comparison(curves, unit, risk=comparison.risk), given.chart)
    if given.form == "csv":
        click.echo(place_rows(comparison), nl=False)
    else:
        options.answer(
            given.form,
            lambda: comparison_answer(comparison),
            lambda: write_parts(comparison_parts(comparison, unit)),
        )
    return 0 if comparison.compared or comparison.elsewhere else NOTHING


def _unit_shown(given: CompareOptions, comparison: Comparison, garden: Garden | None) -> TemperatureUnit:
    """Choose the unit: as asked, as the grower wrote, as in the garden, else as most stations observe."""
    stated = given.show or given.written_unit or (garden and garden.temperature_unit)
    if stated:
        return stated
    steps = [climate.last.step_c == WHOLE_F_STEP_C for _, climate in comparison.compared]
    return "F" if 2 * sum(steps) > len(steps) else "C"
