"""The door: find the command, run it, and turn every error into words."""

from __future__ import annotations

import codecs
import importlib
import io
import itertools
import json
import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any, TextIO

import click

from frostgate import __version__
from frostgate.cli import WRITTEN, echo
from frostgate.errors import FrostgateError, InputError, without_secrets

COMMANDS = (
    *("today", "init", "garden", "mix", "plan", "log"),
    *("curve", "record", "replay", "risk", "siting", "errors", "stations", "compare"),
)
ERROR = 2
SETTINGS = {"help_option_names": ["-h", "--help"], "max_content_width": 100, "show_default": True}
PLAINLY = "plainly"  # name of the way to write a letter that the screen's encoding lacks
BARE = "bare_ascii"
PLAIN = {
    **dict.fromkeys("–—−‐‑", "-"), **dict.fromkeys("‘’“”", "'"),
    "≤": "<=", "≥": ">=", "±": "+/-", "×": "x", "·": "*", "…": "...", "°": "", "█": "#", "µ": "u",
    "½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅓": " 1/3", "⅔": " 2/3", "⅛": " 1/8",
}  # fmt: skip


def write_plainly(error: UnicodeError) -> tuple[str, int]:
    """Return letters that an encoding lacks in letters that every encoding has, as `codecs` asks for it."""
    import unicodedata

    if not isinstance(error, UnicodeEncodeError):
        raise error

    def plain(letter: str) -> str:
        bare = unicodedata.normalize("NFKD", letter).encode("ascii", "ignore").decode()
        return PLAIN.get(letter, bare or "?")

    return "".join(plain(letter) for letter in error.object[error.start : error.end]), error.end


codecs.register_error(PLAINLY, write_plainly)


class OutputClosedError(Exception):
    """What is written to standard output or the error stream arrives nowhere; why, if not by a pipe."""


class Output(io.TextIOWrapper):
    """A stream of the answer: that it cannot be written to is told from every fault of a file."""

    def write(self, text: str) -> int:
        """Write as its parent does."""
        with _arriving():
            return super().write(text)

    def flush(self) -> None:
        """Flush as its parent does."""
        with _arriving():
            super().flush()


@contextmanager
def _arriving() -> Iterator[None]:
    try:
        yield
    except BrokenPipeError:
        raise OutputClosedError from None
    except OSError as fault:
        why = f"the answer cannot be written: {fault.strerror!r}. Give it another place."
        raise OutputClosedError(why) from None


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

    def invoke(self, ctx: click.Context) -> Any:  # noqa: ANN401  # as its parent has it
        """Run a command; where it fails, say what it has written by then."""
        try:
            return super().invoke(ctx)
        except BaseException:
            for line in ctx.meta.get(WRITTEN, ()):
                echo(line, err=True)
            raise


@click.group(cls=Commands, context_settings=SETTINGS)
@click.version_option(__version__, prog_name="frostgate")
def frostgate() -> None:
    """Is it safe to feed yet? The frost risk of a garden, from its station's past and a forecast."""


def main(arguments: Sequence[str]) -> int:
    """Run a command and return its exit status; no error leaves as a traceback.

    0 open (or done), 1 shut, 2 an error, 3 unknown.
    """
    try:
        status = frostgate.main(args=list(arguments), prog_name="frostgate", standalone_mode=False)
    except click.exceptions.Abort:
        click.echo("Stopped.", err=True)
        return ERROR
    except OutputClosedError:
        raise
    except click.ClickException as error:
        error.show(shown := io.StringIO())
        return _refuse(arguments, InputError(error.format_message()), shown.getvalue())
    except FrostgateError as error:
        return _refuse(arguments, error)
    except OSError as fault:  # of a place that the command was not told of, such as the current folder
        what, remedy = "the system refuses it", "Check that the current folder may be entered, and has room."
        refused = InputError(what, file=fault.filename, value=fault.strerror or fault, remedy=remedy)
        return _refuse(arguments, refused)
    except Exception as fault:  # a fault of the program is neither an answer nor a traceback
        own = FrostgateError(
            "a fault of frostgate itself, not of your files",
            value=f"{type(fault).__name__}: {fault}",
            remedy="Please report it with the command you gave.",
        )
        return _refuse(arguments, own)
    return status if isinstance(status, int) else 0


def run() -> None:
    """Run what the command line asks for, and leave with its exit status."""
    ascii_codec = importlib.import_module("encodings.ascii").getregentry()
    ascii_codec.name = BARE  # by its own name click takes it for a mistake and writes UTF-8
    codecs.register({BARE: ascii_codec}.get)
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if type(stream) is io.TextIOWrapper:
            is_ascii, by_line = codecs.lookup(stream.encoding).name == "ascii", stream.line_buffering
            encoding = BARE if is_ascii else stream.encoding
            setattr(sys, name, Output(stream.detach(), encoding, PLAINLY, line_buffering=by_line))
    try:
        status = _answer()
    except OutputClosedError as lost:
        status = ERROR
        _give_up(sys.stdout)
        try:
            click.echo("".join(f"Error: {why}\n" for why in lost.args), err=True, nl=False)
        except OutputClosedError:
            _give_up(sys.stderr)
    sys.exit(status)


def _answer() -> int:
    """Run what is asked for, if there is a place for its answer, and bring all of that there."""
    if sys.stdout is None:
        raise OutputClosedError("standard output is closed. Give it a place; nothing was done.")
    status = main(sys.argv[1:])
    sys.stdout.flush()
    return status


def _give_up(stream: TextIO | None) -> None:
    """Let what a stream still holds go nowhere, or leaving would fail with it."""
    if stream is not None:
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _refuse(arguments: Sequence[str], error: FrostgateError, shown: str | None = None) -> int:
    """Write an error as JSON where the bare arguments ask for it: it may come before they are parsed."""
    if "--format=json" in arguments or ("--format", "json") in itertools.pairwise(arguments):
        echo(json.dumps({"error": error.as_dict()}, ensure_ascii=False))
    else:
        said = without_secrets(shown.rstrip()) if shown else f"Error: {error}"
        echo(*said.split("\n"), err=True)
    return ERROR
