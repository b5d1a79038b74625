"""The command that sets places side by side: a garden's sites, stations, and the records of a zone."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import click

from frostgate.cli import options
from frostgate.cli.options import argument, progress_bar, shared
from frostgate.service.request import option
from frostgate.units import WHOLE_F_STEP_C

NOTHING = 2  # exit status where no place could be compared


@dataclass(frozen=True, slots=True, kw_only=True)
class CompareOptions(options.PlaceOptions):
    """The options of the command: a request to each place, which places, and how they are shown."""

    files: tuple[Path, ...] = argument(nargs=-1)
    garden: Path | None = shared(options.garden_option)
    records: Path | None = option("Compare every record of this folder too.", metavar="FOLDER")
    zone: str | None = option(
        "Only the records among FILES and --records whose hardiness zone this is; 8 takes both its halves.",
        metavar="8a",
    )
    forecast: Path | None = option("The forecast, for every place that names none of its own.")
    chart: options.NewFile | None = option("Draw all curves into a .png or .svg file.")
    replace: bool = shared(options.replace_option)
    sort: Literal["last", "zone", "name"] | None = option(
        "By the median last frost, by the coldest night, or by name.  [default: as they are named]"
    )
    form: str = shared(options.format_option("text", "csv", "json"))


@click.command(epilog="Exit status: 0 where at least one place could be compared, 2 where none could.")
@options.gathered(CompareOptions)
def compare(given: CompareOptions) -> int:
    """Set places side by side: the sites of a garden, station FILES, or a folder of records.

    Dates of last and first frost, the season between, how far last frosts spread and how they move, the
    hardiness zone, and today's verdict where a forecast is named.
    """
    from frostgate.climate.zones import zones_named
    from frostgate.service.compare import Lookout, compare_places, files_of
    from frostgate.show.comparisons import comparison_answer, comparison_parts, place_rows

    zones = () if given.zone is None else zones_named(given.zone)
    garden = None if zones else options.named_garden(given.garden)
    lookout = Lookout(
        request=given, now=options.clock(), cache=options.cache_folder(), garden=garden, zones=zones
    )
    files = (*given.files, *(files_of(given.records) if given.records else ()))
    with progress_bar("Comparing places") as advance:
        comparison = compare_places(lookout, files, sort=given.sort, advance=advance)
    whole_f = [climate.last.step_c == WHOLE_F_STEP_C for _, climate in comparison.compared]
    unit = given.unit_shown(WHOLE_F_STEP_C if 2 * sum(whole_f) > len(whole_f) else None)
    if garden is not None and not (given.show or given.written_unit):
        unit = garden.temperature_unit
    if given.chart is not None and not comparison.compared:
        click.echo("No chart: there is no place to draw.", err=True)
    elif given.chart is not None:
        from frostgate.show.charts.curves import draw_comparison

        curves = [(place.name, climate.last) for place, climate in comparison.compared]
        options.echo_chart(draw_comparison(curves, unit, risk=comparison.risk), given.chart)
    options.answer(
        given.form,
        lambda: comparison_answer(comparison),
        lambda: comparison_parts(comparison, unit),
        lambda: place_rows(comparison),
    )
    return 0 if comparison.compared or comparison.elsewhere else NOTHING
