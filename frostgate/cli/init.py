"""The command that writes a new garden file."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, NamedTuple

import click

from frostgate.cli import options
from frostgate.errors import InputError
from frostgate.feeding.labels import make_product, read_label
from frostgate.garden import written
from frostgate.garden.statements import read_statements
from frostgate.garden.tables import check_rates, read_tables
from frostgate.garden.written import EXAMPLES, fill_template, refuse_existing, save_new
from frostgate.model.garden import STAGES, WINTERS
from frostgate.units import parse_offset

Known = Mapping[str, Any]  # what is known so far: the answers, and the folder of the new file
Read = Callable[[str, Known], Any]


class Question(NamedTuple):
    """What a new garden file states: by an option, or else by the answer to a question."""

    text: str
    metavar: str
    read: Read
    default: str = ""  # by the examples of the garden's units; where there is none, nothing may be answered


def _as_is(read: Callable[[str], object]) -> Read:
    """Check a text and keep it as it is written."""
    return lambda text, _: (read(text), text.strip())[1]


def _one_of(*words: str) -> Read:
    def _read(text: str, _: Known) -> str:
        word = " ".join(text.lower().split())
        if word not in words:
            raise InputError("not one of the words", value=text, remedy=f"Write one of: {', '.join(words)}.")
        return word

    return _read


def _file(text: str, known: Known) -> str:
    """Check that a file is there, and name it from the garden file's folder."""
    file = Path(written.parse_file_name(text))
    if not file.is_file():
        raise InputError("no such file", value=text, remedy="Check the name, or leave it out for now.")
    try:
        return Path(os.path.relpath(file, known["folder"])).as_posix()
    except ValueError:  # on another drive
        return file.absolute().as_posix()


def _tree(text: str, _: Known) -> str:
    written.parse_name(f"{text} in the ground")
    return written.parse_name(text)


def _count(text: str, _: Known) -> int:
    if not re.fullmatch(r"\s*[1-9][0-9]{0,4}\s*", text):
        raise InputError("not a number of trees", value=text, remedy="Write it as 12.")
    return int(text)


def _per_pot(text: str, known: Known) -> str:
    pot = known["pot"]
    if written.parse_per_pot_l(text) > written.parse_pot_l(pot):
        raise InputError("more solution than the pot holds", value=text, remedy=f"The pot holds {pot}.")
    return text.strip()


def _product(text: str, _: Known) -> dict[str, Any]:
    label = read_label(text)
    written.parse_name(label["name"])
    check_rates(make_product(**label))
    return label


QUESTIONS = {
    "name": Question("Name of the garden", "TEXT", lambda text, _: written.parse_name(text), "My garden"),
    "units": Question("Units of the answers, us or metric", "UNITS", _one_of("us", "metric"), "metric"),
    "record": Question("File of the station's daily minima", "FILE", _file),
    "forecast": Question("File of the forecast of the coming nights", "FILE", _file),
    "risk": Question("Risk of frost you can live with", "SHARE", _as_is(written.parse_tolerance), "10%"),
    "damage_temp": Question(
        "A minimum that kills the flush", "TEMP", _as_is(written.parse_damage_temp_c), "{damage_temp}"
    ),
    "offset": Question(
        "Garden less station, such as -2F where colder", "DIFF", _as_is(parse_offset), "{offset}"
    ),
    "tree": Question("Kind of tree in the first group", "TEXT", _tree, "plum"),
    "count": Question("How many of them", "N", _count, "1"),
    "stage": Question(f"Their stage: {', '.join(STAGES)}", "STAGE", _one_of(*STAGES), "established"),
    "pot": Question("Volume of one pot", "VOLUME", _as_is(written.parse_pot_l), "{pot}"),
    "per_pot": Question("Feed solution for one pot, such as 3qt or 3l", "VOLUME", _per_pot),
    "winters": Question(f"Their winter: {', '.join(WINTERS)}", "WHERE", _one_of(*WINTERS), "outdoors"),
    "product": Question("A product, such as First feed 17-5-9 soluble 2 tsp/gal", "TEXT", _product),
}
OF_POTS = {"pot", "per_pot", "winters"}  # not asked of trees in the ground


def question_options(command: Callable[..., None]) -> Callable[..., None]:
    """Offer an option for each question."""
    for key, question in reversed(QUESTIONS.items()):
        offer = click.option(_flag(key), key, metavar=question.metavar, help=f"{question.text}.")
        command = offer(command)
    return command


def _flag(key: str) -> str:
    return f"--{key.replace('_', '-')}"


@click.command()
@click.option("--file", type=options.NEW_FILE, default=Path(options.NAME), help="The file to write.")
@click.option("--no-questions", is_flag=True, help="Ask nothing; what no option states is at its default.")
@question_options
def init(file: Path, no_questions: bool, **stated: str | None) -> None:
    """Write a new garden file, by a few questions.

    Each question has an option; what an option answers is not asked. A file that is there is never
    overwritten.
    """
    refuse_existing(file)
    if not file.parent.is_dir():
        raise InputError("no such folder", file=file.parent, remedy="Make it first, or name another file.")
    known: dict[str, Any] = {"folder": file.parent, "units": "metric"}
    for key in QUESTIONS:
        if key not in OF_POTS or known["stage"] != "in the ground":
            known[key] = ask(key, stated[key], known, is_asked=not no_questions)
    where = {"name": f"{known['tree']} in pots"}
    if known["stage"] == "in the ground":
        where = {"name": f"{known['tree']} in the ground", "winters": "outdoors"}
    text = fill_template(known["units"], known, known | where, known["product"])
    read_tables(read_statements(text), file)
    save_new(file, text)
    options.say_written(f"Wrote {file}: it was checked, and is sound.")
    click.echo("Every key is explained in it. Edit it, then look at it with: frostgate garden")


def ask(key: str, stated: str | None, known: Known, *, is_asked: bool) -> Any:  # noqa: ANN401  # as its reader has it
    """Return what an option states, the grower answers, or the default, as the question reads it."""
    text, _, read, default = QUESTIONS[key]
    default = default.format_map(EXAMPLES[known["units"]])

    def _read(answer: str) -> object:
        return None if not (default or answer.strip()) else read(answer, known)

    if stated is not None or not is_asked:
        try:
            return _read(default if stated is None else stated)
        except InputError as error:
            raise InputError(f"{_flag(key)}: {error.what}", value=error.value, remedy=error.remedy) from None
    try:
        kind = options.Written(key, _read)  # asks again what cannot be read
        asked = text if default else f"{text} (or nothing)"
        return click.prompt(asked, default=default, type=kind, show_default=bool(default))
    except (click.Abort, RuntimeError):  # the latter where there is no standard input at all
        if sys.stdin is not None and sys.stdin.isatty():
            raise
        remedy = f"State {_flag(key)}, or take the defaults by --no-questions."
        raise InputError("nobody answers", value=text, remedy=remedy) from None
