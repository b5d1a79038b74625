"""The command that tells what a station file holds."""

from __future__ import annotations

import json
from pathlib import Path

import click

from frostgate.cli import options
from frostgate.sources.records.readings import UnitHint
from frostgate.units import TemperatureUnit


@click.command()
@click.argument("file", type=options.FILE)
@options.unit_option
@options.station_option
@options.hemisphere_option
@options.suspects_option
@options.contradictions_option
@options.show_option
@options.format_option("text", "json")
def record(  # noqa: PLR0917  # one argument for each option
    file: Path,
    unit: UnitHint | None,
    station: str | None,
    hemisphere: str | None,
    keep_suspects: bool,
    drop_contradictions: bool,
    show: TemperatureUnit | None,
    form: str,
) -> None:
    """Tell what a station file holds: years, missing, flagged and suspect values, gaps."""
    from frostgate.cli.reading import read_record
    from frostgate.climate.completeness import summarise
    from frostgate.show.record_answers import record_answer
    from frostgate.show.tables import write_record

    past = read_record(
        file,
        unit,
        station,
        hemisphere,
        keep_suspects=keep_suspects,
        drop_contradictions=drop_contradictions,
    )
    summary = summarise(past.minima, past.start)
    if form == "json":
        answer = record_answer(past.minima, summary, past.suspects)
        click.echo(json.dumps(answer, ensure_ascii=False, indent=2))
    else:
        write_record(summary, past.minima, past.suspects, options.shown_unit(show, past.minima))
