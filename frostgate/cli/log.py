"""Write down what was done, list it, undo it, carry it elsewhere."""

from __future__ import annotations

import datetime as dt
import shlex
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from frostgate.cli import echo, options
from frostgate.errors import FrostgateError, InputError
from frostgate.files import decode, read_bytes
from frostgate.garden.entries import Fed, feeding_body, parse_fed
from frostgate.garden.exchange import WRITERS, Placed, first_lost, form_of, import_entries, read_export
from frostgate.garden.journal import Journal, journal_file, new_entry, rescue
from frostgate.garden.store import RESCUE, copies_of
from frostgate.model.garden import ENTRY_KINDS, Damaged, Entry, EntryKind, Garden, PotGroup
from frostgate.service.request import Degrees, Request, local_time
from frostgate.show.gardens import (
    checked_lines,
    damaged_lines,
    entries_answer,
    entry_lines,
    say_entry,
    short_id,
)

ALL = "all"
LISTED = 20
KINDS: dict[str, EntryKind] = {kind.replace(" ", "-"): kind for kind in ENTRY_KINDS}
OWN_KINDS: tuple[EntryKind, ...] = tuple(kind for kind in ENTRY_KINDS if kind not in {"forecast", "verdict"})


@dataclass(frozen=True, slots=True, kw_only=True)
class LogBook:
    """A garden, its journal, and the moment."""

    garden: Garden
    now: dt.datetime  # local time of the garden

    @property
    def journal(self) -> Path:
        """The journal's file, which is there."""
        path = journal_file(self.garden.file)
        if not path.exists():
            raise FrostgateError("nothing is logged yet", file=path, remedy="See: frostgate log --help.")
        return path

    def open(self) -> Journal:
        """Open the journal to write into it; make it where there is none."""
        return Journal.open(journal_file(self.garden.file))

    def group(self, name: str | None) -> PotGroup:
        """Return the one group that is meant: the one that is named, or the only one there is."""
        known = self.garden.groups
        if name is not None:
            return self.garden.group(name)
        if not known:
            what, remedy = "the garden file has no group of pots", "Describe one there first."
            raise InputError(what, file=self.garden.file, remedy=remedy)
        if len(known) > 1:
            names = ", ".join(group.name for group in known)
            raise InputError("which group of pots", remedy=f"Name it with --group: {names}.")
        return known[0]

    def entry(self, kind: EntryKind, on: dt.date | None, **told: Any) -> Entry:  # noqa: ANN401  # as new_entry takes it
        """Make an entry of a day, today where none is named; refuse one that is still to come."""
        today = self.now.date()
        if on is not None and on > today:
            remedy = f"Today is {today}. Log what has been done and seen; check --on."
            raise InputError("a day that is still to come", value=on, remedy=remedy)
        return new_entry(kind, made_at=self.now, on=on or today, **told)

    def write(self, *entries: Entry) -> None:
        """Write entries down, all or none, and say so."""
        with self.open() as journal:
            journal.add(*entries)
        self.tell(*entries, more=journal.notes())

    def tell(self, *entries: Entry, more: Iterable[str] = ()) -> None:
        """Say what was written, and how to take it back."""
        logged = [f"Logged for {entry.on}: {say_entry(entry, self.garden.units)}" for entry in entries]
        back = [f"To take it back: {self.command('undo', short_id(entry.id))}" for entry in entries]
        options.say_written(*logged, *more, *back)

    def command(self, *words: str) -> str:
        """Write a command of this log as the grower would type it here."""
        file = self.garden.file
        elsewhere = () if file.resolve() == Path(options.NAME).resolve() else ("--garden", str(file))
        return shlex.join(("frostgate", "log", *words, *elsewhere))


def _book(_: click.Context, __: click.Parameter, path: Path | None) -> LogBook:
    garden = options.garden_here(path)
    now = local_time(options.clock(), garden.home.time_zone).replace(microsecond=0)
    return LogBook(garden=garden, now=now)


with_book = click.option("--garden", "book", callback=_book, **options.GARDEN)
on_option = click.option("--on", type=options.DATE, help="The day, YYYY-MM-DD; today by default.")


@click.group()
def log() -> None:
    """Write down what was done and seen: feedings, bud break, minima, damage.

    The journal stands beside the garden file. Nothing in it is ever erased: an entry that is wrong is undone.
    """


@log.command()
@click.option("--group", metavar="NAME", help="Which group of pots; the only one by default.")
@on_option
@click.option("--phase", metavar="NAME", help="Which phase of the season it belongs to.")
@click.option("--product", "products", multiple=True, metavar='"NAME=30 g"',
              help="What went in, all buckets together, as a mass or a volume; once for each.")  # fmt: skip
@click.option("--pots", type=int, metavar="N", help="How many pots were fed; all of the group by default.")
@click.option("--top-dressing", "laid", is_flag=True, help="It was laid on the soil, not poured.")
@click.option("--again", is_flag=True, help="Log it although one like it is logged for that day.")
@with_book
def feed(
    book: LogBook,
    group: str | None,
    products: tuple[str, ...],
    on: dt.date | None,
    again: bool,
    **told: Any,  # noqa: ANN401  # the rest of the options, as feeding_body takes it
) -> None:
    """Log a feeding of one group of pots."""
    fed, fed_group = [parse_fed(text, book.garden) for text in products], book.group(group)
    body = feeding_body(book.garden, fed_group, fed, **told)
    entry = book.entry("feeding", on, group=fed_group.name, body=body)
    with book.open() as journal, journal.together():
        for before in journal.entries(kinds=("feeding",), since=entry.on, group=entry.group):
            if not again and (before.on, before.body["feeding_kind"]) == (entry.on, body["feeding_kind"]):
                raise InputError(
                    f"a {body['feeding_kind']} feeding of {entry.group!r} on {entry.on} is logged already",
                    value=short_id(before.id),
                    remedy="If there were two, add --again; if it was wrong, undo it first.",
                )
        journal.add(entry)
    book.tell(entry, more=journal.notes())


@log.command()
@click.option("--group", "name", metavar="NAME", help="Only this group of pots; all that are due by default.")
@with_book
def due(book: LogBook, name: str | None) -> None:
    """Log the feedings that are due today, as the plan mixes them.

    Where something else went in, log it with: frostgate log feed.
    """
    from frostgate.feeding.mix import mix_season, taken_g  # with the gate, which no other entry asks
    from frostgate.service.season import know_season, planned

    wanted = None if name is None else book.group(name).name
    programme, _ = planned(know_season(book.garden, Request(), options.clock(), options.cache_folder()))
    feedings = (one for one in programme.feedings if one.status == "due" and wanted in {None, one.group})
    entries = []
    for one in mix_season(book.garden, feedings):
        if one.mix is not None:
            taken, feeding = taken_g(one.mix).items(), one.feeding
            fed = [Fed(product=book.garden.product(name), grams=grams) for name, grams in taken]
            group, laid = book.group(feeding.group), feeding.kind == "top-dressing"
            body = feeding_body(book.garden, group, fed, phase=feeding.phase, laid=laid)
            entries.append(book.entry("feeding", None, group=group.name, body=body))
    if not entries:
        whom = "" if wanted is None else f" for {wanted!r}"
        remedy = "See: frostgate plan, or frostgate log feed --help."
        raise InputError(f"nothing is due today{whom}", remedy=remedy)
    book.write(*entries)


def _event(kind: EntryKind, told: str, *, in_words: bool = False) -> None:
    """Offer a command for what was seen, which may, or must, be told in words."""
    note_option = click.option("--note", default="", metavar="TEXT", help="Anything worth remembering.")

    @log.command(kind.replace(" ", "-"), help=told)
    @click.option("--group", metavar="NAME", help="Which group of pots, or all; the only one by default.")
    @on_option
    @(click.argument("note") if in_words else note_option)
    @with_book
    def _log_event(book: LogBook, note: str, group: str | None, on: dt.date | None) -> None:
        note = note.strip()
        if in_words and not note:
            raise InputError(f"a {kind} of which nothing is told", remedy="Say in words what you saw.")
        body = {"note": note} if note else {}
        known = [one.name for one in book.garden.groups]
        groups = known if group == ALL and known and ALL not in known else [book.group(group).name]
        book.write(*(book.entry(kind, on, group=name, body=body) for name in groups))


_event("bud break", "Log that buds break; the last entry of a season counts.")
_event("fruit set", "Log that fruit is set; the last entry of a season counts.")
_event("growth", "Log how the trees grow, in words.", in_words=True)
_event("damage", "Log damage, by frost or otherwise, in words.", in_words=True)


@log.command(context_settings={"ignore_unknown_options": True})  # so that -2C is a temperature
@click.argument("temperature", type=options.TEMPERATURE)
@on_option
@with_book
def minimum(book: LogBook, temperature: Degrees, on: dt.date | None) -> None:
    """Log the night's minimum, such as 29F or -1.5C.

    It is that of the garden, and belongs to the day of its morning. It closes the forecasts that were kept
    for that morning; of several for one morning the last counts.
    """
    entry = book.entry("minimum", on, body={"tmin_c": temperature[0]})
    with book.open() as journal, journal.together():
        before = [seen for seen in journal.entries(kinds=("minimum",), since=entry.on) if seen.on == entry.on]
        journal.add(entry)
    said = [say_entry(seen, book.garden.units) for seen in before]
    instead = (f"It counts instead of the {seen} logged before." for seen in said[-1:])
    book.tell(entry, more=(*instead, *journal.notes()))


@log.command("list")
@click.option(
    "--last", type=click.IntRange(min=1), metavar="N", help=f"So many, the latest.  [default: {LISTED}]"
)
@click.option("--kind", "kinds", type=click.Choice(list(KINDS)), multiple=True,
              help="Only this kind; may be given several times.")  # fmt: skip
@click.option("--all", "everything", is_flag=True,
              help="Every entry: forecasts, verdicts, what was undone and the undos too.")  # fmt: skip
@options.format_option("text", "json")
@with_book
def list_entries(
    book: LogBook, last: int | None, kinds: tuple[str, ...], everything: bool, form: str
) -> None:
    """List what is logged, the latest at the end.

    By default the last 20 entries that stand, without the forecasts and verdicts of each morning.
    """
    wanted = tuple(KINDS[kind] for kind in kinds) or (ENTRY_KINDS if everything else OWN_KINDS)
    found: list[Entry] = []
    gone: frozenset[str] = frozenset()
    damaged: tuple[Damaged, ...] = ()
    notes: tuple[str, ...] = ()
    if journal_file(book.garden.file).exists():
        with Journal.open(book.journal, to_read=True) as journal:
            found = sorted(journal.entries(kinds=wanted, undone=everything), key=lambda entry: entry.on)
            gone, damaged, notes = journal.undone(), journal.damaged, journal.notes()
    shown = found if everything and last is None else found[-(last or LISTED) :]
    if form == "json":
        options.echo_json(entries_answer(shown, gone, damaged))
        return
    for line in entry_lines(shown, gone, book.garden.units):
        echo(line)
    if not shown:
        click.echo("Nothing of the kind is logged." if kinds else "Nothing is logged yet.")
    elif len(shown) < len(found):
        click.echo(f"{len(found) - len(shown)} earlier: --last N shows more, --all everything.")
    for note in notes:
        echo(note)


@log.command()
@click.argument("entry", metavar="ID")
@with_book
def undo(book: LogBook, entry: str) -> None:
    """Take back an entry, or an undo.

    ID is its id, or enough of its beginning.
    """
    with Journal.open(book.journal) as journal:
        target = journal.find(entry)
        done = journal.undo(target.id, book.now)
    undone = f"Undone: {say_entry(target, book.garden.units)}, logged for {target.on}."
    back = f"Nothing is erased. To bring it back: {book.command('undo', short_id(done.id))}"
    options.say_written(undone, back, *journal.notes())


@log.command("export")
@click.argument("file", type=options.NEW_FILE)
@options.replace_option
@with_book
def export_journal(book: LogBook, file: options.NewFile, replace: bool) -> None:
    """Export the journal to a .csv or .json FILE.

    Nothing is left out: undone entries and undos too, and the forecasts and verdicts of every morning. An
    export that is there already is replaced only where the journal holds all of it, or where that is told.
    """
    write = WRITERS[form_of(file)]
    with Journal.open(book.journal, to_read=True) as journal:
        if file.exists() and not replace:
            _refuse_to_lose(journal, file)
        entries = journal.history()
    options.save_file(file, write(entries), garden=book.garden.file, checked=True)
    options.say_written(f"Exported {_entries(len(entries))} to {file}.", *journal.notes())


def _refuse_to_lose(journal: Journal, file: Path) -> None:
    """Refuse to replace a file that holds what the journal does not: an entry, or anything but an export."""
    try:
        lost: Placed | InputError | None = first_lost(
            journal, read_export(decode(read_bytes(file), file), file)
        )
    except InputError as fault:
        lost = fault
    if lost is None:
        return
    what = "the file is there, and holds what the journal does not"
    remedy = "Name another file; or, if it is an export, read it in first: frostgate log import."
    raise InputError(what, file=file, line=lost.line, remedy=remedy)


@log.command("import")
@click.argument("file", type=options.FILE)
@with_book
def import_journal(book: LogBook, file: Path) -> None:
    """Add what FILE, an export, holds beyond the journal.

    Everything is checked before anything is written, and a file that was imported before adds nothing.
    """
    form_of(file)
    placed = read_export(decode(read_bytes(file), file), file)
    with book.open() as journal:
        done = import_entries(journal, placed, file)
    there = f"; {done.there} {'was' if done.there == 1 else 'were'} there already" if done.there else ""
    options.say_written(f"Imported {_entries(done.added)} from {file}{there}.", *journal.notes())


@log.command()
@with_book
def check(book: LogBook) -> None:
    """Look through the whole journal, and tell what is damaged and which copies are kept.

    The journal is copied once a week, before something is written down, and the last four copies stay; one
    made before a newer frostgate changes the journal's form stays for good. They are in the folder beside
    the journal whose name ends in .copies.
    """
    with Journal.open(book.journal, to_read=True) as journal:
        sound, damaged, faults = len(journal.history()), journal.damaged, journal.faults()
    for line in checked_lines(sound, damaged, faults, copies_of(book.journal)):
        echo(line)
    if damaged or faults:
        raise FrostgateError("the journal is damaged", file=book.journal, remedy=RESCUE)


@log.command("rescue")
@click.argument("file", type=options.FILE)
@with_book
def rescue_journal(book: LogBook, file: Path) -> None:
    """Write all that can be read of the journal into a new journal FILE.

    What the journal has lost is taken from the copies kept of it. Nothing there is changed, and no file is
    written over.
    """
    done = rescue(book.journal, file)
    by_copies = f", {done.by_copies} of them from the copies kept" if done.by_copies else ""
    options.say_written(
        f"Rescued {_entries(done.saved)} into {file}{by_copies}.",
        *damaged_lines(done.lost),
        f"To go on with it, move {book.journal}, and what is beside it with its name and -wal or -shm",
        f"at the end, to another folder, and give {file} the name {book.journal.name}.",
    )


def _entries(number: int) -> str:
    return f"{number} {'entry' if number == 1 else 'entries'}"
