"""Options, kinds of value and readings that commands share."""

from __future__ import annotations

import datetime as dt
import functools
import json
import os
import re
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from frostgate.errors import InputError
from frostgate.model.gate import Policy
from frostgate.model.records import BASES, DailyMinima
from frostgate.service.request import Degrees, RecordRequest
from frostgate.units import WHOLE_F_STEP_C, TemperatureUnit, parse_offset, parse_share, parse_temperature

if TYPE_CHECKING:
    import altair as alt

    from frostgate.model.garden import Garden


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
        return dt.date.fromisoformat(text)
    except ValueError:
        raise InputError("not a date", value=text, remedy="Write it as YYYY-MM-DD.") from None


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
YEARS = Written("years", _years)


Command = TypeVar("Command", bound=Callable[..., Any])
Options = TypeVar("Options")
Status = TypeVar("Status", int, None)

FILE = click.Path(path_type=Path)
NAME = "garden.toml"


def gathered(
    options: Callable[..., Options],
) -> Callable[[Callable[[Options], Status]], Callable[..., Status]]:
    """Hand a command its options as one value: a class with a field of the same name for each."""

    def decorate(command: Callable[[Options], Status]) -> Callable[..., Status]:
        @functools.wraps(command)
        def run(**given: Any) -> Status:  # noqa: ANN401  # click hands the options over by name
            return command(options(**given))

        return run

    return decorate


def together(*options: Callable[[Command], Command]) -> Callable[[Command], Command]:
    """Make several options one, to be listed in this order."""
    return lambda command: functools.reduce(lambda done, option: option(done), reversed(options), command)


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordOptions(RecordRequest):
    """The options of a command on one record: ``record_options``, its file, and how the answer is written."""

    file: Path
    form: str
    show: TemperatureUnit | None = None

    def unit_shown(self, minima: DailyMinima, *written: Degrees | None) -> TemperatureUnit:
        """Return the unit of the answer: as asked, as the grower wrote, else as the station observes."""
        stated = next((degrees[1] for degrees in written if degrees), None)
        return self.show or stated or ("F" if minima.step_c == WHOLE_F_STEP_C else "C")


@dataclass(frozen=True, slots=True, kw_only=True)
class GateOptions(RecordOptions):
    """The options of a command that asks the gate about a record's past springs."""

    damage_temp: Degrees
    offset: Degrees | None
    seed: int
    kind: str

    @property
    def policy(self) -> Policy:
        """The grower's numbers."""
        return Policy(damage_temp_c=self.damage_temp[0], offset_c=self.offset[0] if self.offset else 0.0)


record_options = together(
    click.option(
        "--unit",
        type=click.Choice(["F", "C", "tenths-C"], case_sensitive=False),
        help="Unit of a file that does not state its own; a file that states it is read by its own word.",
    ),
    click.option("--station", metavar="ID", help="Which station, where the file holds several."),
    click.option(
        "--hemisphere",
        type=click.Choice(["north", "south"]),
        help="Where the station lies; by default its latitude or its colder months tell.",
    ),
    click.option(
        "--keep-suspects", is_flag=True, help="Use minima that look like plain errors all the same."
    ),
    click.option(
        "--drop-contradictions",
        is_flag=True,
        help="Leave out days that stand twice with different minima, instead of stopping.",
    ),
)
kind_option = click.option(
    "--kind",
    default="pooled",
    show_default=True,
    metavar="NAME",
    help="Curve: empirical, normal, student, skewed, smooth, pooled (the last three) or best by score.",
)
basis_option = click.option(
    "--basis",
    type=click.Choice(["best", *BASES]),
    default="best",
    show_default=True,
    help="Years of the curve: all, the recent 30, all with their trend, or the best by out-of-sample score.",
)
completeness_option = click.option(
    "--completeness",
    type=click.Choice(["chance", "strict"]),
    default="chance",
    show_default=True,
    help="When missing days make a season unknown: by the chance that they hide a frost, or always.",
)
show_option = click.option(
    "--show", type=click.Choice(["F", "C"], case_sensitive=False), help="Unit of the temperatures shown."
)
offset_option = click.option(
    "--offset", type=OFFSET, help="Garden less station, such as -2F where the garden is colder."
)
on_option = click.option(
    "--on", type=DATE, metavar="DATE", help="Answer as on the morning of this day, YYYY-MM-DD."
)
damage_temp_option = click.option(
    "--damage-temp",
    type=TEMPERATURE,
    default="32F",
    show_default=True,
    help="A minimum at or below this in the garden kills the flush.",
)
place_options = together(
    click.option("--risk", type=SHARE, help="The risk you can live with.  [default: the garden's, or 10%]"),
    click.option(
        "--damage-temp",
        type=TEMPERATURE,
        help="A minimum at or below this in the garden kills the flush.  [default: the garden's, or 32F]",
    ),
    offset_option,
)


def format_option(*formats: str) -> Callable[[Command], Command]:
    """Offer some forms of output, the first by default."""
    return click.option(
        "--format",
        "form",
        type=click.Choice(formats),
        default=formats[0],
        show_default=True,
        help="Form of the answer.",
    )


def here() -> Path | None:
    """Name the garden file of the current folder, where there is one."""
    return Path(NAME) if Path(NAME).is_file() else None


garden_option = click.option(
    "--garden",
    type=FILE,
    default=here,
    show_default=f"{NAME} in this folder, where there is one",
    metavar="FILE",
    help="The garden file.",
)


def named_garden(path: Path | None) -> Garden | None:
    """Read the garden file that was named or stands in this folder; None where there is none."""
    if path is None:
        return None
    from frostgate.garden.file import read_garden

    return read_garden(path, cache_folder())


def cache_folder() -> Path:
    """Return the folder for what is kept: FROSTGATE_CACHE, or one among the user's own files."""
    stated = os.environ.get("FROSTGATE_CACHE")
    return Path(stated) if stated else Path(click.get_app_dir("frostgate")) / "kept"


def clock() -> dt.datetime:
    """Return this moment in the zone of this machine: the one place that asks a clock."""
    return dt.datetime.now().astimezone()


def echo_json(answer: Mapping[str, Any]) -> None:
    """Print an answer as JSON."""
    click.echo(json.dumps(answer, ensure_ascii=False, indent=2))


def echo_chart(chart: alt.TopLevelMixin, path: Path) -> None:
    """Write a chart into a .png or .svg file, and say so beside the answer."""
    from frostgate.show.paper import save_chart

    save_chart(chart, path)
    click.echo(f"Chart written to {path}", err=True)


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
