"""A bar of progress for a long command, only where someone watches."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import click

Advance = Callable[[int, int], None]


@contextmanager
def progress_bar(label: str) -> Iterator[Advance | None]:
    """Show a bar on the error stream while it is a terminal.

    Yields
    ------
    function or None
        To be called with what is done and of how much; None where no terminal watches, so that nothing but
        errors is written there.

    Examples
    --------
    >>> with progress_bar("Replaying") as advance:
    ...     advance is None or advance(1, 2) is None
    True
    """
    if sys.stderr is None or not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=1, label=label, file=sys.stderr) as bar:

        def advance(done: int, of: int) -> None:
            bar.length = of
            bar.update(done - bar.pos)

        yield advance
