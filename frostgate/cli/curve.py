"""The command that turns a station file into frost probabilities."""

from __future__ import annotations

from dataclasses import dataclass

import click

from frostgate.cli import options
from frostgate.cli.options import shared
from frostgate.errors import TooFewSeasonsError, about
from frostgate.model.curves import BasisOption
from frostgate.model.records import Completeness, Side
from frostgate.service.request import Degrees, option


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveOptions(options.FileOptions):
    """The options of the command."""

    years: tuple[int, int] | None = option("Only the seasons of these years, such as 1991-2020.")
    thresholds: tuple[Degrees, ...] = option(
        "A frost is a minimum at or below this; may be repeated. [default: 36, 32, 28, 24, 20 and 16F]",
        "--threshold",
        metavar="TEMP",
    )
    season: Side | None = option("Only this side of the year.")
    below: bool = option("Count only minima strictly below the threshold.")
    chart: options.NewFile | None = option("Draw the curves into a .png or .svg file.")
    replace: bool = shared(options.replace_option)
    kind: str = shared(options.kind_option)
    chosen_basis: BasisOption | None = option(
        "Years of the curves: all, the recent 30, all with their trend, or the best by out-of-sample score.  "
        "[default: best; all where --years is given]",
        "--basis",
    )
    completeness: Completeness = shared(options.completeness_option)
    form: str = shared(options.format_option("text", "json", "csv"))


@click.command()
@options.gathered(CurveOptions)
def curve(given: CurveOptions) -> None:
    """Fit frost probabilities to a station file: dates by risk, spring and autumn.

    The levels are those of the published freeze normals: 10 % in spring is the date after which a frost still
    comes in one spring of ten, in autumn the date before which one has come.
    """
    from frostgate.climate.normals import THRESHOLDS_C, tabulate_lengths, tabulate_side
    from frostgate.show.curves import curve_answer, curve_parts, level_rows

    past = given.read(given.file)
    sides: tuple[Side, ...] = (given.season,) if given.season else ("spring", "autumn")
    with about(given.file, TooFewSeasonsError):
        tables = tuple(
            tabulate_side(
                past.minima,
                side,
                tuple(dict.fromkeys(degrees for degrees, _ in given.thresholds)) or THRESHOLDS_C,
                past.start,
                kind=given.kind,
                years=given.years,
                basis=given.chosen_basis,
                completeness=given.completeness,
                inclusive=not given.below,
            )
            for side in sides
        )
    unit = given.unit_shown(past.minima.step_c, *given.thresholds)
    if given.chart is not None:
        from frostgate.show.charts.curves import draw_curves, draw_year

        first, *second = [table.curves for table in tables]
        station = past.minima.station
        options.echo_chart(
            draw_year(first, second[0], unit, "Frost dates", station=station)
            if second
            else draw_curves(first, unit, station=station),
            given.chart,
        )
    lengths = () if given.season else tabulate_lengths(tables[0].used, tables[1].used, given.kind)
    options.answer(
        given.form,
        lambda: curve_answer(past.minima, tables, lengths),
        lambda: curve_parts(past.minima, tables, lengths, unit),
        lambda: level_rows(tables),
    )
