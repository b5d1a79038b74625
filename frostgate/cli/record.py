"""The command that tells what a station file holds."""

from __future__ import annotations

import click

from frostgate.cli import options
from frostgate.errors import about


@click.command()
@options.gathered(options.FileOptions)
def record(given: options.FileOptions) -> None:
    """Tell what a station file holds: years, missing, flagged and suspect values, gaps."""
    from frostgate.climate.quality import summarise
    from frostgate.show.curves import record_answer, record_parts

    past = given.read(given.file)
    minima = past.minima
    with about(given.file):
        summary = summarise(minima, past.start)
    options.answer(
        given.form,
        lambda: record_answer(minima, summary, past.suspects),
        lambda: record_parts(summary, minima, past.suspects, given.unit_shown(minima.step_c)),
    )
