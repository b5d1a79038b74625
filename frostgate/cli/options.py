"""Options, kinds of value and readings that commands share."""

from __future__ import annotations

import datetime as dt
import functools
import json
import os
import re
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, fields
from pathlib import Path
from types import UnionType
from typing import TYPE_CHECKING, Any, Literal, NewType, TypeVar, Union, get_args, get_origin, get_type_hints

import click

from frostgate.cli import WRITTEN, echo
from frostgate.errors import FrostgateError, InputError
from frostgate.files import save
from frostgate.model.curves import BasisOption
from frostgate.model.gate import Doubt
from frostgate.service.request import Degrees, Request, UnitHint, option
from frostgate.show.say import Part, write_parts
from frostgate.units import (
    Measured,
    TemperatureUnit,
    parse_offset,
    parse_share,
    parse_temperature,
    parse_volume_l,
)

if TYPE_CHECKING:
    import altair as alt
    from _typeshed import DataclassInstance

    from frostgate.model.garden import Garden


YEARS = (1800, 2200)  # of any day that is asked about: as far as records reach, and more than anyone plans


class Written(click.ParamType[object]):
    """A value written as text, read by a function that raises `InputError`."""

    def __init__(self, name: str, read: Callable[[str], object]) -> None:
        self.name = name
        self._read = read

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> object:
        """Read the text, or fail as a usage error with the reader's own words."""
        if not isinstance(value, str):
            return value
        try:
            return self._read(value)
        except InputError as error:
            self.fail(str(error), param, ctx)


def _date(text: str) -> dt.date:
    try:
        date = dt.date.fromisoformat(text)
    except ValueError:
        raise InputError("not a date", value=text, remedy="Write it as YYYY-MM-DD.") from None
    if not YEARS[0] <= date.year <= YEARS[1]:
        raise InputError(f"a day between {YEARS[0]} and {YEARS[1]} is asked about", value=text)
    return date


def _spread(text: str) -> Degrees:
    degrees, unit = parse_offset(text)
    if degrees < 0:
        raise InputError("a spread is not below 0", value=text, remedy="Write it as 1.5F or 0.8C.")
    return degrees, unit


def _years(text: str) -> tuple[int, int]:
    match = re.fullmatch(r"(\d{4})\s*[-–]\s*(\d{4})", text)
    if match is None or int(match[1]) > int(match[2]):
        raise InputError("not a range of years", value=text, remedy="Write it as 1991-2020.")
    return int(match[1]), int(match[2])


SHARE = Written("share", parse_share)
TEMPERATURE = Written("temperature", parse_temperature)
OFFSET = Written("difference", parse_offset)
SPREAD = Written("spread", _spread)
DATE = Written("date", _date)
FILE, NEW_FILE = Written("file", Path), Written("file", Path)
NewFile = NewType("NewFile", Path)  # that a command writes
READ: dict[object, Written] = {
    Path: FILE,
    NewFile: NEW_FILE,
    dt.date: DATE,
    Degrees: TEMPERATURE,
    tuple[int, int]: Written("from-to", _years),
    Measured: Written("volume", lambda text: Measured(parse_volume_l(text), text)),
}
NAME = "garden.toml"

Command = TypeVar("Command", bound=Callable[..., Any])
Options = TypeVar("Options", bound="DataclassInstance")
Status = TypeVar("Status", int, None)


def argument(**settings: Any) -> Any:  # noqa: ANN401  # stands for a field of any type
    """Make a field an argument, with click's settings."""
    return field(metadata={"settings": settings})


def shared(offer: Callable[[Command], Command]) -> Any:  # noqa: ANN401  # stands for a field of any type
    """Make a field an option that several commands have."""
    return field(metadata={"offer": offer})


def _settings(hint: Any) -> dict[str, Any]:  # noqa: ANN401  # any type of a field
    """Return how click reads a field: a bool is a flag, a Literal a choice, a tuple may be repeated."""
    if get_origin(hint) in {Union, UnionType}:  # with None, where nothing is stated
        hint = get_args(hint)[0]
    if get_origin(hint) is Literal:
        return {"type": click.Choice(get_args(hint), case_sensitive=False)}
    if Ellipsis in get_args(hint):
        return _settings(get_args(hint)[0]) | {"multiple": True}
    return {"is_flag": True} if hint is bool else {"type": READ.get(hint, hint)}


def _offer(name: str, hint: object, how: Mapping[str, Any]) -> Callable[[Command], Command]:
    """Return what makes a field an option or an argument of a command, by its `option` or `argument`."""
    if "offer" in how:
        offer: Callable[[Command], Command] = how["offer"]
        return offer
    settings: dict[str, Any] = _settings(hint) | how["settings"]
    if "flags" not in how:
        return click.argument(name, **{key: settings[key] for key in settings.keys() - {"multiple"}})
    if "read" in settings:
        settings["type"] = Written(settings["metavar"], settings.pop("read"))
    return click.option(*(how["flags"] or [f"--{name.replace('_', '-')}"]), name, **settings)


def gathered(options: type[Options]) -> Callable[[Callable[[Options], Status]], Callable[..., Status]]:
    """Offer a class's fields as options, its own before its parents', and hand a command one value of it."""
    names = dict.fromkeys(name for one in options.__mro__ for name in getattr(one, "__annotations__", ()))
    known, hints = {one.name: one.metadata for one in fields(options)}, get_type_hints(options)
    offers = [_offer(name, hints[name], known[name]) for name in names if known.get(name)]

    def decorate(command: Callable[[Options], Status]) -> Callable[..., Status]:
        @functools.wraps(command)
        def run(**given: Any) -> Status:  # noqa: ANN401  # click hands the options over by name
            return command(options(**given))

        return functools.reduce(lambda done, offer: offer(done), reversed(offers), run)

    return decorate


kind_option = click.option(
    "--kind",
    default="pooled",
    metavar="NAME",
    help="Curve: empirical, normal, student, skewed, smooth, pooled (the last three) or best by score.",
)
completeness_option = click.option(
    "--completeness",
    type=click.Choice(["chance", "strict"]),
    default="chance",
    help="When missing days make a season unknown: by the chance that they hide a frost, or always.",
)
offset_option = click.option(
    "--offset", type=OFFSET, help="Garden less station, such as -2F where the garden is colder."
)
damage_temp_option = click.option(
    "--damage-temp",
    type=TEMPERATURE,
    default="32F",
    help="A minimum at or below this in the garden kills the flush.",
)


def format_option(*formats: str) -> Callable[[Command], Command]:
    """Offer some forms of output, the first by default."""
    kind = click.Choice(formats)
    return click.option("--format", "form", type=kind, default=formats[0], help="Form of the answer.")


replace_option = click.option(
    "--replace", is_flag=True, help="Write over a file that is there, although frostgate did not make it."
)


def here() -> Path | None:
    """Name the garden file of the current folder, where there is one."""
    return Path(NAME) if Path(NAME).is_file() else None


GARDEN: dict[str, Any] = {
    "type": FILE,
    "default": here,
    "show_default": f"{NAME} in this folder, where there is one",
    "help": "The garden file.",
}
garden_option = click.option("--garden", **GARDEN)


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordOptions(Request):
    """The options of every command that reads records: how they are read, and how the answer is written."""

    unit: UnitHint | None = option(
        "Unit of a record that does not state its own; one that states it is read by its own word."
    )
    station: str | None = option("Which station, where the file holds several.", metavar="ID")
    hemisphere: Literal["north", "south"] | None = option(
        "Where the station lies; by default its latitude or its colder months tell."
    )
    keep_suspects: bool = option("Use minima that look like plain errors all the same.")
    drop_contradictions: bool = option(
        "Leave out days that stand twice with different minima, instead of stopping."
    )
    show: TemperatureUnit | None = option("Unit of the temperatures shown.")
    form: str = shared(format_option("text", "json"))


@dataclass(frozen=True, slots=True, kw_only=True)
class FileOptions(RecordOptions):
    """The options of a command on one record."""

    file: Path = argument()


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplayedOptions(FileOptions):
    """The options of a command that asks the gate about a record's past springs."""

    damage_temp: Degrees = shared(damage_temp_option)
    offset: Degrees | None = shared(offset_option)
    seed: int = option("Of the replay's drawn forecasts.", default=1)
    kind: str = shared(kind_option)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceOptions(RecordOptions):
    """The options of a command that asks about a place on a morning."""

    on: dt.date | None = option("Answer as on the morning of this day, YYYY-MM-DD.")
    risk: float | None = option("The risk you can live with.  [default: the garden's, or 10%]", type=SHARE)
    damage_temp: Degrees | None = option(
        "A minimum at or below this in the garden kills the flush.  [default: the garden's, or 32F]"
    )
    offset: Degrees | None = shared(offset_option)
    forecast_unit: TemperatureUnit | None = option("Unit of a forecast that does not state its own.")
    believe: tuple[Doubt, ...] = option(
        "Take for true what an answer doubts, by its name; may be repeated.", metavar="NAME"
    )
    kind: str = shared(kind_option)
    basis: BasisOption = option(
        "Years of the curve: all, the recent 30, all with their trend, or the best by out-of-sample score.",
        default="best",
    )


def named_garden(path: Path | None) -> Garden | None:
    """Read the garden file that was named or stands in this folder; None where there is none."""
    if path is None:
        return None
    from frostgate.garden.file import read_garden

    return read_garden(path, cache_folder())


def garden_here(path: Path | None) -> Garden:
    """Read the garden file that was named or stands in this folder; refuse where there is none."""
    garden = named_garden(path)
    if garden is None:
        remedy = "Name one with --garden FILE, or write a new one with: frostgate init"
        raise InputError(f"no {NAME} in this folder", remedy=remedy)
    return garden


def cache_folder() -> Path:
    """Return the folder for what is kept: FROSTGATE_CACHE, or one among the user's own files."""
    stated = os.environ.get("FROSTGATE_CACHE")
    return Path(stated) if stated else Path(click.get_app_dir("frostgate")) / "kept"


def clock() -> dt.datetime:
    """Return this moment in the zone of this machine: the one place that asks a clock."""
    return dt.datetime.now().astimezone()


def remember(*lines: str) -> None:
    """Keep the lines that tell what was written, to be said even where the command fails after it."""
    click.get_current_context().meta.setdefault(WRITTEN, []).extend(lines)


def say_written(*lines: str) -> None:
    """Say what was written; where the answer cannot be, it is said beside the error."""
    remember(*lines)
    echo(*lines)


def echo_json(answer: Mapping[str, Any]) -> None:
    """Print an answer as JSON."""
    echo(*json.dumps(answer, ensure_ascii=False, indent=2).split("\n"))


def answer(
    form: str,
    as_json: Callable[[], Mapping[str, Any]],
    as_text: Callable[[], Iterable[Part]],
    as_csv: Callable[[], str] = str,
) -> None:
    """Print an answer in the form asked for: JSON, CSV, or lines and tables."""
    if form == "json":
        echo_json(as_json())
    elif form == "csv":
        click.echo(as_csv(), nl=False)
    else:
        parts = list(as_text())
        lines = [part for part in parts if isinstance(part, str)]
        if len(lines) == len(parts):
            echo(*lines)
        else:
            write_parts(parts)


def save_file(
    path: NewFile, content: str | bytes, *, garden: Path | None = None, checked: bool = False
) -> None:
    """Write a file that the grower named, by the rule of `files.save`, and remember it.

    What is there is replaced where that is told, or where the command has checked that nothing of it is lost.
    """
    replace = checked or click.get_current_context().params["replace"]
    save(path, content, replace=replace, in_use=_in_use(garden, here()))
    remember(f"Written: {path}")


def _in_use(*garden_files: Path | None) -> Iterator[Path]:
    """Return the files that a command is told to read, and all that gardens rest on."""
    context = click.get_current_context()
    for offered in context.command.params:
        given = context.params.get(offered.name or "") if offered.type is FILE else None
        yield from (one for one in (given if isinstance(given, tuple) else (given,)) if isinstance(one, Path))
    for file in filter(None, garden_files):
        from frostgate.garden.journal import journal_file

        yield from (file, journal_file(file))
        with suppress(FrostgateError):  # what is wrong with it is told by what reads it
            for site in garden_here(file).sites:
                yield from filter(None, (site.record, site.forecast))


def echo_chart(chart: alt.TopLevelMixin, path: NewFile) -> None:
    """Write a chart into a .png or .svg file, and say so beside the answer."""
    from frostgate.show.charts.paper import chart_bytes

    save_file(path, chart_bytes(chart, path))
    echo(f"Chart written to {path}", err=True)


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
