"""The commands that write down what was done and seen."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import click

from frostgate.cli.garden_file import garden_option
from frostgate.cli.log_book import LogBook
from frostgate.cli.log_due import log_due
from frostgate.cli.log_files import export_journal, import_journal
from frostgate.cli.log_list import list_entries
from frostgate.cli.values import DATE, TEMPERATURE, Degrees
from frostgate.errors import InputError
from frostgate.garden.doses import feeding_body, parse_fed
from frostgate.garden.journal import Journal
from frostgate.garden.rows import new_entry
from frostgate.show.journals import say_entry, short_id
from frostgate.terms.journal import Entry, EntryKind

on_option = click.option("--on", type=DATE, metavar="DATE", help="The day, YYYY-MM-DD; today by default.")


@click.group()
def log() -> None:
    """Write down what was done and seen: feedings, bud break, minima, damage.

    The journal stands beside the garden file. Nothing in it is ever erased: an entry that is wrong is undone.
    """


log.add_command(list_entries)
log.add_command(log_due)
log.add_command(export_journal)
log.add_command(import_journal)


@log.command()
@click.option("--group", metavar="NAME", help="Which group of pots; the only one by default.")
@on_option
@click.option("--phase", metavar="NAME", help="Which phase of the season it belongs to.")
@click.option("--product", "products", multiple=True, metavar='"NAME=30 g"',
              help="What went in, all buckets together, as a mass or a volume; once for each.")  # fmt: skip
@click.option("--pots", type=int, metavar="N", help="How many pots were fed; all of the group by default.")
@click.option("--top-dressing", is_flag=True, help="It was laid on the soil, not poured.")
@click.option("--again", is_flag=True, help="Log it although one like it is logged for that day.")
@garden_option
def feed(
    *,
    group: str | None,
    on: dt.date | None,
    phase: str | None,
    products: tuple[str, ...],
    pots: int | None,
    top_dressing: bool,
    again: bool,
    garden: Path | None,
) -> None:
    """Log a feeding of one group of pots."""
    book = LogBook.of(garden)
    name, day = book.group(group), book.day(on)
    fed = [parse_fed(text, book.garden) for text in products]
    body = feeding_body(book.garden, book.garden.group(name), fed, phase=phase, pots=pots, laid=top_dressing)
    entry = new_entry("feeding", made_at=book.now, on=day, group=name, body=body)
    with book.open() as journal, journal.together():
        if not again:
            _refuse_twice(journal, entry)
        journal.add(entry)
    book.tell([entry])


@log.command("bud-break")
@click.option("--group", metavar="NAME", help="Which group of pots, or all; the only one by default.")
@on_option
@click.option("--note", default="", metavar="TEXT", help="Anything worth remembering.")
@garden_option
def bud_break(group: str | None, on: dt.date | None, note: str, garden: Path | None) -> None:
    """Log that buds break; the last entry of a season counts."""
    _log_event("bud break", garden, group, on, note)


@log.command("fruit-set")
@click.option("--group", metavar="NAME", help="Which group of pots, or all; the only one by default.")
@on_option
@click.option("--note", default="", metavar="TEXT", help="Anything worth remembering.")
@garden_option
def fruit_set(group: str | None, on: dt.date | None, note: str, garden: Path | None) -> None:
    """Log that fruit is set; the last entry of a season counts."""
    _log_event("fruit set", garden, group, on, note)


@log.command()
@click.argument("note")
@click.option("--group", metavar="NAME", help="Which group of pots, or all; the only one by default.")
@on_option
@garden_option
def growth(note: str, group: str | None, on: dt.date | None, garden: Path | None) -> None:
    """Log how the trees grow, in words."""
    _log_event("growth", garden, group, on, note)


@log.command()
@click.argument("note")
@click.option("--group", metavar="NAME", help="Which group of pots, or all; the only one by default.")
@on_option
@garden_option
def damage(note: str, group: str | None, on: dt.date | None, garden: Path | None) -> None:
    """Log damage, by frost or otherwise, in words."""
    _log_event("damage", garden, group, on, note)


@log.command(context_settings={"ignore_unknown_options": True})  # so that -2C is a temperature
@click.argument("temperature", type=TEMPERATURE)
@on_option
@garden_option
def minimum(temperature: Degrees, on: dt.date | None, garden: Path | None) -> None:
    """Log the night's minimum, such as 29F or -1.5C.

    It is that of the garden, and belongs to the day of its morning. It closes the forecasts that were kept
    for that morning; of several for one morning the last counts.
    """
    book = LogBook.of(garden)
    entry = new_entry("minimum", made_at=book.now, on=book.day(on), body={"tmin_c": temperature[0]})
    with book.open() as journal, journal.together():
        before = [seen for seen in journal.entries(kinds=("minimum",), since=entry.on) if seen.on == entry.on]
        journal.add(entry)
    instead = [
        f"It counts instead of the {say_entry(seen, book.garden.units)} logged before." for seen in before
    ]
    book.tell([entry], *instead[-1:])


@log.command()
@click.argument("entry", metavar="ID")
@garden_option
def undo(entry: str, garden: Path | None) -> None:
    """Take back an entry, or an undo.

    ID is its id, or enough of its beginning.
    """
    book = LogBook.of(garden)
    with book.open_there() as journal:
        target = journal.find(entry)
        done = journal.undo(target.id, book.now)
    again = book.command("undo", short_id(done.id))
    click.echo(f"Undone: {say_entry(target, book.garden.units)}, logged for {target.on}.")
    click.echo(f"Nothing is erased. To bring it back: {again}")


def _log_event(
    kind: EntryKind, garden: Path | None, group: str | None, on: dt.date | None, note: str
) -> None:
    book = LogBook.of(garden)
    day = book.day(on)
    if kind in {"growth", "damage"} and not note.strip():
        raise InputError(f"a {kind} of which nothing is told", remedy="Say in words what you saw.")
    told = {"note": note.strip()} if note.strip() else {}
    entries = [
        new_entry(kind, made_at=book.now, on=day, group=name, body=told) for name in book.groups(group)
    ]
    with book.open() as journal:
        journal.add(*entries)
    book.tell(entries)


def _refuse_twice(journal: Journal, entry: Entry) -> None:
    for before in journal.entries(kinds=("feeding",), since=entry.on, group=entry.group):
        if before.on == entry.on and before.body["feeding_kind"] == entry.body["feeding_kind"]:
            raise InputError(
                f"a {entry.body['feeding_kind']} feeding of {entry.group!r} on {entry.on} is logged already",
                value=short_id(before.id),
                remedy="If there were two, add --again; if it was wrong, undo it first.",
            )
