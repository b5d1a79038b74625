"""The command that logs what was due today, as it was planned and mixed."""

from __future__ import annotations

from pathlib import Path

import click

from frostgate.cli.garden_file import garden_option
from frostgate.cli.log_book import LogBook
from frostgate.errors import InputError
from frostgate.garden.doses import Fed, feeding_body
from frostgate.garden.rows import new_entry


@click.command("due")
@click.option("--group", metavar="NAME", help="Only this group of pots; all that are due by default.")
@garden_option
def log_due(group: str | None, garden: Path | None) -> None:
    """Log the feedings that are due today, as the plan mixes them.

    Where something else went in, log it with: frostgate log feed.
    """
    from frostgate.cli.season import know_season, planned
    from frostgate.feeding.mixed import mix_season
    from frostgate.feeding.shopping import taken_g

    book = LogBook.of(garden)
    wanted = None if group is None else book.group(group)
    programme, _ = planned(know_season(book.garden, None))
    due = [
        feeding
        for feeding in programme.feedings
        if feeding.status == "due" and wanted in {None, feeding.group}
    ]
    mixed = [(one.feeding, one.mix) for one in mix_season(book.garden, due) if one.mix is not None]
    if not mixed:
        whom = "" if wanted is None else f" for {wanted!r}"
        remedy = "See: frostgate plan, or frostgate log feed --help."
        raise InputError(f"nothing is due today{whom}", remedy=remedy)
    entries = [
        new_entry(
            "feeding",
            made_at=book.now,
            group=feeding.group,
            body=feeding_body(
                book.garden,
                book.garden.group(feeding.group),
                [Fed(product=book.garden.product(name), grams=g) for name, g in taken_g(mix).items()],
                phase=feeding.phase,
                laid=feeding.kind == "top-dressing",
            ),
        )
        for feeding, mix in mixed
    ]
    with book.open() as journal:
        journal.add(*entries)
    book.tell(entries)
