"""The commands that move a journal out to a file and in again."""

from __future__ import annotations

from pathlib import Path

import click

from frostgate.cli import options
from frostgate.cli.garden_file import garden_option
from frostgate.cli.log_book import LogBook
from frostgate.errors import InputError
from frostgate.garden.exchange import form_of, import_entries, is_kept, read_export, write_export
from frostgate.garden.journal import Journal
from frostgate.sources.files import decode, read_bytes


@click.command("export")
@click.argument("file", type=options.FILE)
@garden_option
def export_journal(file: Path, garden: Path | None) -> None:
    """Export the journal to a .csv or .json FILE.

    Nothing is left out: undone entries and undos too, and the forecasts and verdicts of every morning. An
    export that is there already is replaced only where the journal holds all of it.
    """
    form_of(file)
    book = LogBook.of(garden)
    with book.open_there() as journal:
        _refuse_to_lose(journal, file)
        entries = journal.history()
        write_export(file, entries)
    click.echo(f"Exported {_entries(len(entries))} to {file}.")


@click.command("import")
@click.argument("file", type=options.FILE)
@garden_option
def import_journal(file: Path, garden: Path | None) -> None:
    """Add what FILE, an export, holds beyond the journal.

    Everything is checked before anything is written, and a file that was imported before adds nothing.
    """
    form_of(file)
    book = LogBook.of(garden)
    placed = read_export(decode(read_bytes(file), file), file)
    with book.open() as journal:
        done = import_entries(journal, placed, file)
    there = f"; {done.there} {'was' if done.there == 1 else 'were'} there already" if done.there else ""
    click.echo(f"Imported {_entries(done.added)} from {file}{there}.")


def _refuse_to_lose(journal: Journal, file: Path) -> None:
    """Refuse to write over a file that may hold what the journal has not."""
    if not file.exists():
        return
    try:
        kept = is_kept(journal, read_export(decode(read_bytes(file), file), file))
    except InputError:
        kept = False
    if not kept:
        raise InputError(
            "the file is there, and holds what the journal does not",
            file=file,
            remedy="Name another file; or, if it is an export, read it in first with: frostgate log import.",
        )


def _entries(number: int) -> str:
    return f"{number} {'entry' if number == 1 else 'entries'}"
