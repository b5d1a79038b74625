"""What every `frostgate log` command needs: the garden, its journal, the day, the groups, the last word."""

from __future__ import annotations

import datetime as dt
import shlex
from collections.abc import Sequence
from pathlib import Path

import click

from frostgate.cli.clock import moment
from frostgate.cli.garden_file import named_garden
from frostgate.errors import FrostgateError, InputError
from frostgate.garden.journal import Journal, journal_file
from frostgate.show.journals import say_entry, short_id
from frostgate.terms.garden import Garden
from frostgate.terms.journal import Entry
from frostgate.values import dataclass

ALL = "all"


@dataclass(frozen=True, slots=True, kw_only=True)
class LogBook:
    """A garden, its journal, and the moment.

    Parameters
    ----------
    garden
        What the garden file says.
    now
        Local time of the garden.

    Examples
    --------
    >>> from frostgate.terms.garden import Site
    >>> garden = Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),))
    >>> LogBook(garden=garden, now=dt.datetime(2026, 4, 12, 7)).day(None)
    datetime.date(2026, 4, 12)
    """

    garden: Garden
    now: dt.datetime

    @classmethod
    def of(cls, garden_file: Path | None) -> LogBook:
        """Take the garden that was named, or that of the current folder."""
        garden = named_garden(garden_file)
        if garden is None:
            raise InputError(
                "no garden file here",
                remedy="Name it with --garden FILE, or write one with: frostgate init.",
            )
        return cls(garden=garden, now=moment(None, garden.home.time_zone).replace(microsecond=0))

    @property
    def path(self) -> Path:
        """Where the journal is."""
        return journal_file(self.garden.file)

    def open(self) -> Journal:
        """Open the journal and make sure that nothing in it is garbled; make it where there is none."""
        return Journal.open(self.path, thorough=True)

    def open_there(self) -> Journal:
        """Open the journal where there is one."""
        if not self.path.exists():
            raise FrostgateError("nothing is logged yet", file=self.path, remedy="See: frostgate log --help.")
        return self.open()

    def day(self, on: dt.date | None) -> dt.date:
        """Give the day that is told of, today where none is named; refuse one that is still to come."""
        today = self.now.date()
        if on is not None and on > today:
            remedy = f"Today is {today}. Log what has been done and seen; check --on."
            raise InputError("a day that is still to come", value=on, remedy=remedy)
        return today if on is None else on

    def groups(self, name: str | None) -> tuple[str, ...]:
        """Give the groups that are meant: the one that is named, ``all``, or the only one there is."""
        known = [group.name for group in self.garden.groups]
        if name == ALL and ALL not in known and known:
            return tuple(known)
        return (self.group(name),)

    def group(self, name: str | None) -> str:
        """Give the one group that is meant."""
        known = [group.name for group in self.garden.groups]
        if name is not None:
            return self.garden.group(name).name
        if not known:
            remedy = "Describe one there first."
            raise InputError("the garden file has no group of pots", file=self.garden.file, remedy=remedy)
        if len(known) > 1:
            raise InputError("which group of pots", remedy=f"Name it with --group: {', '.join(known)}.")
        return known[0]

    def tell(self, entries: Sequence[Entry], *more: str) -> None:
        """Say what was written, and how to take it back."""
        for entry in entries:
            click.echo(f"Logged for {entry.on}: {say_entry(entry, self.garden.units)}")
        for line in more:
            click.echo(line)
        for entry in entries:
            click.echo(f"To take it back: {self.command('undo', short_id(entry.id))}")

    def command(self, *words: str) -> str:
        """Write a command of this log as the grower would type it here."""
        file = self.garden.file
        elsewhere = () if file.resolve() == Path("garden.toml").resolve() else ("--garden", str(file))
        return shlex.join(("frostgate", "log", *words, *elsewhere))
