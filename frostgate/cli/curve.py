"""The command that turns a station file into frost probabilities."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from frostgate.cli import options
from frostgate.cli.options import TEMPERATURE, YEARS, Degrees, Past, RecordWish, echo_json
from frostgate.model.records import BASES, BasisOption, Completeness, DailyMinima, Side
from frostgate.units import TemperatureUnit

if TYPE_CHECKING:
    from frostgate.climate.levels import SideTable


@click.command()
@click.argument("file", type=options.FILE)
@click.option(
    "--years", type=YEARS, metavar="FROM-TO", help="Only the seasons of these years, such as 1991-2020."
)
@click.option(
    "--threshold",
    "thresholds",
    type=TEMPERATURE,
    multiple=True,
    metavar="TEMP",
    help="A frost is a minimum at or below this; may be repeated. [default: 36, 32, 28, 24, 20 and 16F]",
)
@click.option("--season", type=click.Choice(["spring", "autumn"]), help="Only this side of the year.")
@click.option("--below", is_flag=True, help="Count only minima strictly below the threshold.")
@click.option("--chart", type=options.FILE, metavar="FILE", help="Draw the curves into a .png or .svg file.")
@options.kind_option
@click.option(
    "--basis",
    type=click.Choice(["best", *BASES]),
    help="Years of the curves: all, the recent 30, all with their trend, or the best by out-of-sample score."
    "  [default: best; all where --years is given]",
)
@options.completeness_option
@options.show_option
@options.record_options
@options.format_option("text", "json", "csv")
def curve(**given: Any) -> None:  # noqa: ANN401  # click hands the options over by name
    """Fit frost probabilities to a station file: dates by risk, spring and autumn.

    The levels are those of the published freeze normals: 10 % in spring is the date after which a frost still
    comes in one spring of ten, in autumn the date before which one has come.
    """
    wish = Wish(**given)
    past = wish.read()
    tables = wish.tabulate(past)
    unit = options.shown_unit(wish.show, past.minima, wish.thresholds)
    if wish.chart is not None:
        _draw(wish.chart, tables, past.minima, unit)
    _write(wish, past, tables, unit)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish(RecordWish):
    """What curves are wanted: the options of the command, one field each."""

    years: tuple[int, int] | None
    thresholds: tuple[Degrees, ...]
    season: Side | None
    below: bool
    chart: Path | None
    kind: str
    basis: BasisOption | None
    completeness: Completeness
    show: TemperatureUnit | None
    form: str

    def tabulate(self, past: Past) -> tuple[SideTable, ...]:
        """Fit each season at each threshold."""
        from frostgate.climate.levels import THRESHOLDS_C, tabulate_side

        thresholds_c = tuple(dict.fromkeys(degrees for degrees, _ in self.thresholds)) or THRESHOLDS_C
        sides: tuple[Side, ...] = (self.season,) if self.season else ("spring", "autumn")
        return tuple(
            tabulate_side(
                past.minima,
                side,
                thresholds_c,
                past.start,
                kind=self.kind,
                years=self.years,
                basis=self.basis,
                completeness=self.completeness,
                inclusive=not self.below,
            )
            for side in sides
        )


def _write(wish: Wish, past: Past, tables: tuple[SideTable, ...], unit: TemperatureUnit) -> None:
    from frostgate.climate.levels import tabulate_lengths
    from frostgate.show import answers
    from frostgate.show import tables as screens

    lengths = () if wish.season else tabulate_lengths(tables[0], tables[1], wish.kind)
    if wish.form == "json":
        answer = answers.curve_answer(past.minima, tables, lengths)
        echo_json(answer)
    elif wish.form == "csv":
        click.echo("\n".join(answers.level_rows(tables)))
    else:
        screens.write_curves(past.minima, tables, lengths, unit)


def _draw(path: Path, tables: tuple[SideTable, ...], minima: DailyMinima, unit: TemperatureUnit) -> None:
    from frostgate.show.charts.curves import draw_curves, draw_year
    from frostgate.show.charts.paper import save_chart

    first, *second = [table.curves for table in tables]
    if second:
        save_chart(draw_year(first, second[0], unit, "Frost dates", station=minima.station), path)
    else:
        title = "Last frost of spring" if tables[0].side == "spring" else "First frost of autumn"
        save_chart(draw_curves(first, unit, title, station=minima.station), path)
    click.echo(f"Chart written to {path}", err=True)
