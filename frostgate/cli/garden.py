"""The command that checks a garden file and shows what it says."""

from __future__ import annotations

from pathlib import Path

import click

from frostgate.cli import options


@click.command()
@options.garden_option
@options.format_option("text", "json")
def garden(garden: Path | None, form: str) -> None:
    """Check the garden file and show what it says, what is missing and what is only a default.

    Every mistake is named at once, with its line and what to write instead; so is a record or a forecast that
    no command could read.
    """
    from frostgate.service.documents import check_files
    from frostgate.show.gardens import garden_answer, garden_lines

    read = options.garden_here(garden)
    check_files(read)
    options.answer(form, lambda: garden_answer(read), lambda: garden_lines(read))
