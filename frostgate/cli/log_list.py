"""The command that lists the journal's entries."""

from __future__ import annotations

import json
from pathlib import Path

import click

from frostgate.cli import options
from frostgate.cli.garden_file import garden_option
from frostgate.cli.log_book import LogBook
from frostgate.show.journals import entries_answer, entry_lines
from frostgate.terms.journal import ENTRY_KINDS, Entry, EntryKind

LISTED = 20
KINDS: dict[str, EntryKind] = {kind.replace(" ", "-"): kind for kind in ENTRY_KINDS}
OWN_KINDS: tuple[EntryKind, ...] = tuple(kind for kind in ENTRY_KINDS if kind not in {"forecast", "verdict"})


@click.command("list")
@click.option(
    "--last", type=click.IntRange(min=1), metavar="N", help=f"So many, the latest.  [default: {LISTED}]"
)
@click.option("--kind", "kinds", type=click.Choice(list(KINDS)), multiple=True,
              help="Only this kind; may be given several times.")  # fmt: skip
@click.option("--all", "everything", is_flag=True,
              help="Every entry: forecasts, verdicts, what was undone and the undos too.")  # fmt: skip
@options.format_option("text", "json")
@garden_option
def list_entries(
    last: int | None, kinds: tuple[str, ...], everything: bool, form: str, garden: Path | None
) -> None:
    """List what is logged, the latest at the end.

    By default the last 20 entries that stand, without the forecasts and verdicts of each morning.
    """
    book = LogBook.of(garden)
    wanted = tuple(KINDS[kind] for kind in kinds) or (ENTRY_KINDS if everything else OWN_KINDS)
    found, gone = _read(book, wanted, everything=everything)
    most = last or (len(found) if everything else LISTED)
    shown = found[max(len(found) - most, 0) :]
    if form == "json":
        click.echo(json.dumps(entries_answer(shown, gone), ensure_ascii=False, indent=2))
        return
    for line in entry_lines(shown, gone, book.garden.units):
        click.echo(line)
    if not shown:
        click.echo("Nothing of the kind is logged." if kinds else "Nothing is logged yet.")
    elif len(shown) < len(found):
        click.echo(f"{len(found) - len(shown)} earlier: --last N shows more, --all everything.")


def _read(
    book: LogBook, kinds: tuple[EntryKind, ...], *, everything: bool
) -> tuple[tuple[Entry, ...], frozenset[str]]:
    """Give the entries, and the ids of those that were undone."""
    if not book.path.exists():
        return (), frozenset()
    with book.open_there() as journal:
        return journal.entries(kinds=kinds, undone=everything), journal.undone()
