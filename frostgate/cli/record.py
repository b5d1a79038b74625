"""The command that tells what a station file holds."""

from __future__ import annotations

import click

from frostgate.cli import options


@click.command()
@click.argument("file", type=options.FILE)
@options.record_options
@options.show_option
@options.format_option("text", "json")
@options.gathered(options.RecordOptions)
def record(given: options.RecordOptions) -> None:
    """Tell what a station file holds: years, missing, flagged and suspect values, gaps."""
    from frostgate.climate.quality import summarise

    past = given.read(given.file)
    summary = summarise(past.minima, past.start)
    if given.form == "json":
        from frostgate.show.answers import record_answer

        options.echo_json(record_answer(past.minima, summary, past.suspects))
    else:
        from frostgate.show.tables import record_parts, write_parts

        write_parts(record_parts(summary, past.minima, past.suspects, given.unit_shown(past.minima)))
