"""The command that sets places side by side: a garden's sites, stations, and the records of a zone."""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from frostgate.cli import options
from frostgate.cli.fetching import progress_bar
from frostgate.cli.options import (
    DATE,
    OFFSET,
    SHARE,
    TEMPERATURE,
    Written,
    echo_json,
    garden_option,
    named_garden,
)
from frostgate.errors import InputError
from frostgate.model.records import BasisOption
from frostgate.service.request import Stated
from frostgate.units import WHOLE_F_STEP_C, TemperatureUnit

if TYPE_CHECKING:
    from frostgate.climate.zones import Zone
    from frostgate.model.garden import Garden
    from frostgate.service.compare import Asked, Lookout
    from frostgate.show.comparisons import Comparison, Place

NOTHING = 2  # exit status where no place could be compared


def _zones(text: str) -> tuple[Zone, ...]:
    from frostgate.climate.zones import zones_named

    return zones_named(text)


@click.command(epilog="Exit status: 0 where at least one place could be compared, 2 where none could.")
@click.argument("files", nargs=-1, type=options.FILE)
@garden_option
@click.option(
    "--records", type=options.FILE, metavar="FOLDER", help="Compare every record of this folder too."
)
@click.option(
    "--zone",
    "zones",
    type=Written("zone", _zones),
    default=(),
    metavar="8a",
    help="Only the records among FILES and --records whose hardiness zone this is; 8 takes both its halves.",
)
@click.option("--risk", type=SHARE, help="The risk you can live with.  [default: the garden's, or 10%]")
@click.option(
    "--damage-temp",
    type=TEMPERATURE,
    help="A minimum at or below this in the garden kills the flush.  [default: the garden's, or 32F]",
)
@click.option("--offset", type=OFFSET, help="Garden less station, such as -2F where the garden is colder.")
@click.option(
    "--forecast", type=options.FILE, help="The forecast, for every place that names none of its own."
)
@click.option("--on", type=DATE, metavar="DATE", help="Answer as on the morning of this day, YYYY-MM-DD.")
@click.option("--chart", type=options.FILE, metavar="FILE", help="Draw all curves into a .png or .svg file.")
@click.option(
    "--sort",
    type=click.Choice(["last", "zone", "name"]),
    help="By the median last frost, by the coldest night, or by name.  [default: as they are named]",
)
@options.record_options
@options.kind_option
@options.basis_option
@options.show_option
@options.format_option("text", "csv", "json")
def compare(**given: Any) -> int:  # noqa: ANN401  # click hands the options over by name
    """Set places side by side: the sites of a garden, station FILES, or a folder of records.

    Dates of last and first frost, the season between, how far last frosts spread and how they move, the
    hardiness zone, and today's verdict where a forecast is named.
    """
    return Wish(**given).answer()


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish(Stated):
    """What comparison is wanted: the options of the command, one field each."""

    files: tuple[Path, ...]
    garden: Path | None
    records: Path | None
    zones: tuple[Zone, ...]
    on: dt.date | None
    chart: Path | None
    sort: str | None
    kind: str
    basis: BasisOption
    keep_suspects: bool
    drop_contradictions: bool
    form: str

    def answer(self) -> int:
        """Compare, draw, write, and return the exit status."""
        garden = None if self.zones else named_garden(self.garden)
        comparison = self._compare(garden)
        unit = self._unit_shown(comparison, garden)
        if self.chart is not None:
            _draw(self.chart, comparison, unit)
        _write(comparison, self.form, unit)
        return 0 if comparison.compared or comparison.elsewhere else NOTHING

    def asked(self, garden: Garden | None) -> tuple[Asked, ...]:
        """List the places: the garden's sites, the files, the files of the folder."""
        from frostgate.service.compare import Asked, files_of

        sites = () if garden is None else garden.sites
        files = (*self.files, *(() if self.records is None else files_of(self.records)))
        if not sites and not files:
            remedy = "Name station files, a folder with --records, or a garden with --garden."
            if self.zones:
                remedy = "Name station files, or a folder with --records, to search for the zone."
            raise InputError("no place to compare", remedy=remedy)
        return (*(Asked(site=site) for site in sites), *(Asked(file=file) for file in files))

    def _compare(self, garden: Garden | None) -> Comparison:
        from frostgate.service.compare import Lookout, name_apart
        from frostgate.show.comparisons import Comparison, Place

        asked = self.asked(garden)
        names = "on kind basis keep_suspects drop_contradictions"
        lookout = Lookout(
            stated=Stated(**{one.name: getattr(self, one.name) for one in fields(Stated)}),
            garden=garden,
            zones=self.zones,
            asked={name: getattr(self, name) for name in names.split()},
        )
        looked = list(_one_by_one(asked, lookout))
        places = name_apart([one for one in looked if isinstance(one, Place)])
        zones = Counter(one for one in looked if not isinstance(one, Place))
        risks = {place.climate.risk for place in places if place.climate}
        return Comparison(
            places=tuple(sorted(places, key=ORDERS[self.sort])) if self.sort else places,
            risk=risks.pop() if len(risks) == 1 else None,
            zones=self.zones,
            elsewhere=tuple((zone.name, zones[zone]) for zone in sorted(zones, key=lambda zone: zone.low_f)),
            notes=tuple(self._notes([one for one in asked if lookout.shares_forecast(one)])),
        )

    def _notes(self, sharing: Sequence[Asked]) -> Iterator[str]:
        if len(sharing) > 1 and self.forecast is not None:
            names = ", ".join(one.name for one in sharing)
            yield f"The forecast {self.forecast.name} is taken for each of: {names}."

    def _unit_shown(self, comparison: Comparison, garden: Garden | None) -> TemperatureUnit:
        """Choose the unit: as asked, as the grower wrote, as in the garden, else as most stations observe."""
        written = [given[1] for given in (self.damage_temp, self.offset) if given]
        if self.show or written:
            return self.show or written[0]
        if garden is not None:
            from frostgate.service.season import garden_unit

            return garden_unit(garden)
        steps = [climate.last.step_c == WHOLE_F_STEP_C for _, climate in comparison.compared]
        return "F" if 2 * sum(steps) > len(steps) else "C"


def _one_by_one(asked: Sequence[Asked], lookout: Lookout) -> Iterator[Place | Zone]:
    with progress_bar("Comparing places") as advance:
        for done, one in enumerate(asked, 1):
            yield lookout.look(one)
            if advance is not None:
                advance(done, len(asked))


def _by_last_frost(place: Place) -> tuple[bool, float]:
    """Order by the median last frost; a place without one, for its mild springs, is the earliest."""
    day = math.nan if place.climate is None else place.climate.last.day_at_risk(0.5)
    return place.climate is None, -math.inf if math.isnan(day) else day


def _by_zone(place: Place) -> tuple[bool, float]:
    coldest = place.climate.coldest if place.climate else None
    return coldest is None, math.inf if coldest is None else coldest.mean_c


def _by_name(place: Place) -> str:
    return place.name.casefold()


ORDERS: dict[str, Callable[[Place], Any]] = {"last": _by_last_frost, "zone": _by_zone, "name": _by_name}


def _write(comparison: Comparison, form: str, unit: TemperatureUnit) -> None:
    from frostgate.show.comparisons import comparison_answer, place_rows, write_comparison

    if form == "json":
        echo_json(comparison_answer(comparison))
    elif form == "csv":
        click.echo(place_rows(comparison))
    else:
        write_comparison(comparison, unit)


def _draw(path: Path, comparison: Comparison, unit: TemperatureUnit) -> None:
    from frostgate.show.charts.comparison import draw_comparison
    from frostgate.show.charts.paper import save_chart

    if not comparison.compared:
        click.echo("No chart: there is no place to draw.", err=True)
        return
    curves = [(place.name, climate.last) for place, climate in comparison.compared]
    save_chart(draw_comparison(curves, unit, risk=comparison.risk), path)
    click.echo(f"Chart written to {path}", err=True)
