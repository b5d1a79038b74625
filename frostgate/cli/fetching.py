"""Documents fetched while the grower watches."""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from frostgate.cli.options import Command, cache_folder, clock
from frostgate.model.garden import ARCHIVE

Advance = Callable[[int, int], None]


@contextmanager
def progress_bar(label: str) -> Iterator[Advance | None]:
    """Show a bar on the error stream while it is a terminal."""
    if sys.stderr is None or not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=1, label=label, file=sys.stderr) as bar:

        def advance(done: int, of: int) -> None:
            bar.length = of
            bar.update(done - bar.pos)

        yield advance


WAIT_S = 120.0  # the lists have some 45 MB together, and whoever waits sees how far they are


def network_options(command: Command) -> Command:
    """Offer the options that say where and how long the network is asked: archive, offline and wait."""
    for option in (
        click.option(
            "--wait",
            type=click.FloatRange(0.1, 3600.0),
            default=WAIT_S,
            show_default=True,
            metavar="SECONDS",
            help="The longest that one document may take.",
        ),
        click.option("--offline", is_flag=True, help="Use what is kept and ask nobody."),
        click.option(
            "--archive", default=ARCHIVE, metavar="URL", help="Another copy of the GHCN-Daily archive."
        ),
    ):
        command = option(command)
    return command


def network_folder() -> Path:
    """Return the folder for documents of the network."""
    return cache_folder() / "network"


def utc_now() -> dt.datetime:
    """Return this moment, UTC."""
    return clock().astimezone(dt.UTC)


@contextmanager
def bytes_bar(label: str) -> Iterator[Callable[[int, int | None], None] | None]:
    """Show how much of a document has come, where its size is known and a terminal watches."""
    with progress_bar(label) as bar:
        if bar is None:
            yield None
            return

        def advance(done: int, of: int | None) -> None:
            if of:
                bar(done, of)

        yield advance
