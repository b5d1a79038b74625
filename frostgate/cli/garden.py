"""The command that checks a garden file and shows what it says."""

from __future__ import annotations

from pathlib import Path

import click

from frostgate.cli import options
from frostgate.cli.options import NAME, echo_json, garden_option, named_garden
from frostgate.errors import InputError


@click.command()
@garden_option
@options.format_option("text", "json")
def garden(garden: Path | None, form: str) -> None:
    """Check the garden file and show what it says, what is missing and what is only a default.

    Every mistake is named at once, with its line and what to write instead; so is a record or a forecast that
    no command could read.
    """
    from frostgate.service.garden import check_files
    from frostgate.show.gardens import garden_answer, garden_lines

    read = named_garden(garden)
    if read is None:
        raise InputError(
            f"no {NAME} in this folder",
            remedy="Name one with --garden FILE, or write a new one with: frostgate init",
        )
    check_files(read)
    if form == "json":
        echo_json(garden_answer(read))
    else:
        click.echo("\n".join(garden_lines(read)))
