"""The door: find the command, run it, and turn every error into words."""

from __future__ import annotations

import functools
import gc
import importlib
import itertools
import json
import os
import sys
from collections.abc import Callable, Sequence
from typing import Any

import click

from frostgate import __version__
from frostgate.errors import FrostgateError, InputError

COMMANDS = (
    *("today", "init", "garden", "mix", "plan", "log"),
    *("curve", "record", "replay", "risk", "siting", "errors", "stations", "compare"),
)
ERROR = 2
SELDOM = 50_000  # a morning is over before there is garbage worth collecting: 4 % of its time


class Commands(click.Group):
    """Commands that are loaded when they are asked for, so that each loads only what it needs."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002  # click passes it
        """Name the commands."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002  # click passes it
        """Load one command."""
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = getattr(importlib.import_module(f"frostgate.cli.{cmd_name}"), cmd_name)
        return command


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="frostgate")
def frostgate() -> None:
    """Is it safe to feed yet? The frost risk of a garden, from its station's past and a forecast."""


def main(arguments: Sequence[str]) -> int:
    """Run a command and return its exit status; no error leaves as a traceback.

    0 open (or done), 1 shut, 2 an error, 3 unknown.
    """
    try:
        status = frostgate.main(args=list(arguments), prog_name="frostgate", standalone_mode=False)
    except click.ClickException as error:
        return _refuse(arguments, InputError(error.format_message()).as_dict(), error.show)
    except FrostgateError as error:
        return _refuse(arguments, error.as_dict(), functools.partial(click.echo, f"Error: {error}", err=True))
    except click.exceptions.Abort:
        click.echo("Stopped.", err=True)
        return ERROR
    except BrokenPipeError:
        raise
    except Exception as fault:  # a fault of the program is neither an answer nor a traceback
        own = FrostgateError(
            "a fault of frostgate itself, not of your files",
            value=f"{type(fault).__name__}: {fault}",
            remedy="Please report it with the command you gave.",
        )
        return _refuse(arguments, own.as_dict(), functools.partial(click.echo, f"Error: {own}", err=True))
    return status if isinstance(status, int) else 0


def run() -> None:
    """Run what the command line asks for, and leave with its exit status."""
    gc.set_threshold(SELDOM)
    try:
        status = main(sys.argv[1:])
        sys.stdout.flush()
    except BrokenPipeError:  # the reader of a pipe went away
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        status = ERROR
    sys.exit(status)


def _refuse(arguments: Sequence[str], error: dict[str, Any], say: Callable[[], None]) -> int:
    if _wants_json(arguments):
        click.echo(json.dumps({"error": error}, ensure_ascii=False))
    else:
        say()
    return ERROR


def _wants_json(arguments: Sequence[str]) -> bool:
    """Tell from the bare arguments, since an error may come before they are parsed."""
    return "--format=json" in arguments or any(
        pair == ("--format", "json") for pair in itertools.pairwise(arguments)
    )
