"""The command that tells what a station file holds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import click

from frostgate.cli import options
from frostgate.cli.options import RecordWish, echo_json
from frostgate.units import TemperatureUnit


@click.command()
@click.argument("file", type=options.FILE)
@options.record_options
@options.show_option
@options.format_option("text", "json")
def record(**given: Any) -> None:  # noqa: ANN401  # click hands the options over by name
    """Tell what a station file holds: years, missing, flagged and suspect values, gaps."""
    from frostgate.climate.quality import summarise
    from frostgate.show.answers import record_answer
    from frostgate.show.tables import write_record

    wish = Wish(**given)
    past = wish.read()
    summary = summarise(past.minima, past.start)
    if wish.form == "json":
        answer = record_answer(past.minima, summary, past.suspects)
        echo_json(answer)
    else:
        write_record(summary, past.minima, past.suspects, options.shown_unit(wish.show, past.minima))


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish(RecordWish):
    """What summary is wanted: the options of the command, one field each."""

    show: TemperatureUnit | None
    form: str
