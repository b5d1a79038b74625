"""The command that writes a new garden file."""

from __future__ import annotations

import functools
import os
import re
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import click

from frostgate.cli import options
from frostgate.cli.options import NAME
from frostgate.errors import InputError
from frostgate.feeding.labels import make_product, read_label
from frostgate.garden import written
from frostgate.garden.file import read_statements
from frostgate.garden.tables import check_rates, read_tables
from frostgate.garden.written import EXAMPLES, fill_template, refuse_existing, save_new
from frostgate.model.garden import STAGES, WINTERS
from frostgate.units import Units, parse_offset

Read = Callable[[str], Any]
Ask = Callable[[str, str, Read, str], Any]

A_PRODUCT = "First feed 17-5-9 soluble 2 tsp/gal"


@click.command()
@click.option("--file", type=options.FILE, default=Path(NAME), show_default=True, help="The file to write.")
@click.option(
    "--no-questions", is_flag=True, help="Ask nothing; what no option states is left at its default."
)
@click.option("--name", metavar="TEXT", help="Name of the garden.")
@click.option("--units", metavar="us|metric", help="In which units answers are written.")
@click.option("--record", metavar="FILE", help="The station's record of daily minima.")
@click.option("--forecast", metavar="FILE", help="The forecast of the coming nights.")
@click.option("--risk", metavar="SHARE", help="The risk you can live with, such as 10%.")
@click.option(
    "--damage-temp", metavar="TEMP", help="A minimum at or below this kills the flush, such as 32F."
)
@click.option("--offset", metavar="DIFF", help="Garden less station, such as -2F where the garden is colder.")
@click.option("--tree", metavar="TEXT", help="Kind of the trees of the first group.")
@click.option("--count", metavar="N", help="How many they are.")
@click.option("--stage", metavar="STAGE", help=f"One of: {', '.join(STAGES)}.")
@click.option("--pot", metavar="VOLUME", help="Volume of one pot, such as 9gal or 30l.")
@click.option("--per-pot", metavar="VOLUME", help="Feed solution for one pot, such as 3qt or 3l.")
@click.option("--winters", metavar="WHERE", help=f"One of: {', '.join(WINTERS)}.")
@click.option("--product", metavar="TEXT", help=f'As on its label, such as "{A_PRODUCT}".')
def init(file: Path, **given: Any) -> None:  # noqa: ANN401  # texts, and whether to ask
    """Write a new garden file, by a few questions.

    Each question has an option; what an option answers is not asked. A file that is there is never
    overwritten.
    """
    refuse_existing(file)
    if not file.parent.is_dir():
        raise InputError("no such folder", file=file.parent, remedy="Make it first, or name another file.")
    text = _fill(functools.partial(ask, given), file.parent)
    read_tables(read_statements(text), file)
    save_new(file, text)
    click.echo(f"Wrote {file}: it was checked, and is sound.")
    click.echo("Every key is explained in it. Edit it, then look at it with: frostgate garden")


def ask(given: Mapping[str, Any], key: str, question: str, read: Read, default: str) -> Any:  # noqa: ANN401  # as read gives it
    """Return what an option states, the grower answers, or the default, as ``read`` reads it."""
    option, stated = f"--{key.replace('_', '-')}", given[key]
    if stated is not None or given["no_questions"]:
        try:
            return read(default if stated is None else stated)
        except InputError as error:
            raise InputError(f"{option}: {error.what}", value=error.value, remedy=error.remedy) from None
    try:
        kind = options.Written(key, read)  # asks again what cannot be read
        return click.prompt(question, default=default, type=kind, show_default=bool(default))
    except click.Abort:
        if sys.stdin.isatty():
            raise
        remedy = f"State {option}, or take the defaults by --no-questions."
        raise InputError("nobody answers", value=question, remedy=remedy) from None


def _fill(ask: Ask, folder: Path) -> str:
    """Ask for what a new garden file states, and write its text."""
    site = {"name": ask("name", "Name of the garden", written.parse_name, "My garden")}
    units: Units = ask("units", "Units of the answers, us or metric", _one_of("us", "metric"), "metric")
    file, like = _file_in(folder), EXAMPLES[units]
    damage, offset = _as_is(written.parse_damage_temp_c), _as_is(parse_offset)
    site |= {
        "record": ask("record", "File of the station's daily minima (or nothing)", file, ""),
        "forecast": ask("forecast", "File of the forecast (or nothing)", file, ""),
        "risk": ask("risk", "Risk of frost that you can live with", _as_is(written.parse_tolerance), "10%"),
        "damage_temp": ask("damage_temp", "A minimum that kills the flush", damage, like["damage_temp"]),
        "offset": ask("offset", "Garden less station, below 0 where colder", offset, like["offset"]),
    }
    tree = ask("tree", "Kind of tree in the first group", _tree, "plum")
    pots = {
        "tree": tree,
        "count": ask("count", "How many of them", _count, "1"),
        "stage": ask("stage", f"Their stage: {', '.join(STAGES)}", _one_of(*STAGES), "established"),
    }
    if pots["stage"] == "in the ground":
        pots |= {"name": f"{tree} in the ground", "winters": "outdoors"}
    else:
        pot = ask("pot", "Volume of one pot", _as_is(written.parse_pot_l), like["pot"])
        winter = f"Their winter: {', '.join(WINTERS)}"
        pots |= {
            "name": f"{tree} in pots",
            "pot": pot,
            "per_pot": ask("per_pot", "Feed solution for one pot (or nothing)", _per_pot(pot), ""),
            "winters": ask("winters", winter, _one_of(*WINTERS), "outdoors"),
        }
    product = ask("product", f"A product, such as {A_PRODUCT} (or nothing)", _product, "")
    return fill_template(units, site, pots, product)


def _as_is(read: Read) -> Read:
    """Check a text and keep it as it is written."""

    def _read(text: str) -> str:
        read(text)
        return text.strip()

    return _read


def _one_of(*words: str) -> Read:
    def _read(text: str) -> str:
        word = " ".join(text.lower().split())
        if word not in words:
            raise InputError("not one of the words", value=text, remedy=f"Write one of: {', '.join(words)}.")
        return word

    return _read


def _count(text: str) -> int:
    if not re.fullmatch(r"\s*[1-9][0-9]{0,4}\s*", text):
        raise InputError("not a number of trees", value=text, remedy="Write it as 12.")
    return int(text)


def _per_pot(pot: str) -> Read:
    def _read(text: str) -> str | None:
        if not text.strip():
            return None
        if written.parse_per_pot_l(text) > written.parse_pot_l(pot):
            raise InputError("more solution than the pot holds", value=text, remedy=f"The pot holds {pot}.")
        return text.strip()

    return _read


def _product(text: str) -> dict[str, Any] | None:
    if not text.strip():
        return None
    label = read_label(text)
    written.parse_name(label["name"])
    check_rates(make_product(**label))
    return label


def _tree(text: str) -> str:
    written.parse_name(f"{text} in the ground")
    return written.parse_name(text)


def _file_in(folder: Path) -> Read:
    """Check that a file is there, and name it from the garden file's folder."""

    def _read(text: str) -> str | None:
        if not text.strip():
            return None
        file = Path(written.parse_file_name(text))
        if not file.is_file():
            raise InputError("no such file", value=text, remedy="Check the name, or leave it out for now.")
        try:
            return Path(os.path.relpath(file, folder)).as_posix()
        except ValueError:  # on another drive
            return file.absolute().as_posix()

    return _read
