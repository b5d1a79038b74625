"""A bar that shows how far something is, and the options and the folder of the network."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from frostgate.cli.options import Command, cache_folder
from frostgate.model.garden import ARCHIVE

WAIT_S = 120.0  # the lists have some 45 MB together, and whoever waits sees how far they are


@contextmanager
def progress_bar(label: str) -> Iterator[Callable[[int, int | None], None] | None]:
    """Show a bar on the error stream while a terminal watches: it is told how much is done, of how much."""
    if sys.stderr is None or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(file=sys.stderr)) as progress:
        task = progress.add_task(label, total=None)
        yield lambda done, of: progress.update(task, completed=done, total=of)


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
