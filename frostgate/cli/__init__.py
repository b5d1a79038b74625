"""The commands: the only place that reads the clock, the environment and the command line."""

import click

from frostgate.errors import visible

WRITTEN = "frostgate.written"  # in a command's context: lines that tell what it has written by now


def echo(*lines: str, err: bool = False) -> None:
    """Write lines, whoever wrote what stands in them."""
    click.echo("\n".join(map(visible, lines)), err=err)
