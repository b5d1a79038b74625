"""Options, kinds of value and readings that commands share."""

from __future__ import annotations

import datetime as dt
import functools
import json
import os
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from frostgate.errors import InputError
from frostgate.feeding.labels import parse_ec_ms_cm
from frostgate.garden.written import parse_strength
from frostgate.model.records import BASES, DailyMinima
from frostgate.service.request import Degrees, RecordRequest
from frostgate.units import (
    WHOLE_F_STEP_C,
    Measured,
    TemperatureUnit,
    parse_length_m,
    parse_offset,
    parse_ratio,
    parse_share,
    parse_temperature,
    parse_volume_l,
)

if TYPE_CHECKING:
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


_PERCENT = re.compile(r"\s*(\d+(?:\.\d+)?)\s*%\s*")


def read_strength(text: str) -> float:
    """Read a share of the label's rate; more than the rate is said in %."""
    percent = _PERCENT.fullmatch(text)
    if percent is None or float(percent[1]) <= 100.0:
        return parse_strength(text)
    return float(percent[1]) / 100.0


def read_ppm(text: str) -> float:
    """Read parts per million."""
    match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(?:ppm)?\s*", text, re.IGNORECASE)
    if match is None or not 0.0 < float(match[1]) < 1e5:
        raise InputError("not parts per million", value=text, remedy="Write it as 150.")
    return float(match[1])


def _volume(text: str) -> Measured:
    return Measured(parse_volume_l(text), text)


def _length(text: str) -> Measured:
    return Measured(parse_length_m(text), text)


def _scoop(text: str) -> Measured:
    return Measured(parse_volume_l(text), re.sub(r"(?<=[\d½¼¾⅓⅔⅛])(?=[a-z])", " ", text.strip().lower()))


VOLUME = Written("volume", _volume)
LENGTH = Written("length", _length)
SCOOP = Written("volume", _scoop)
STRENGTH = Written("share", read_strength)
PPM = Written("ppm", read_ppm)
RATIO = Written("ratio", parse_ratio)
EC = Written("ms/cm", parse_ec_ms_cm)


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


KM_PER_MILE = 1.609344
FARTHEST_KM = 2000.0

_DEGREES = re.compile(r"\s*([-+−]?\d+(?:\.\d+)?)\s*°?\s*([NSEW]?)\s*", re.IGNORECASE)
_DISTANCE = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(km|mi)\s*", re.IGNORECASE)


def parse_degrees(text: str, positive: str, negative: str, most: float) -> float:
    """Read a latitude or longitude, such as ``44.9N`` or ``-93.2``."""
    name = "latitude" if positive == "N" else "longitude"
    match = _DEGREES.fullmatch(text)
    if match is None:
        raise InputError(f"not a {name}", value=text, remedy="Write degrees: 44.9N 93.2W, or 44.9 -93.2.")
    degrees, side = float(match[1].replace("−", "-")), match[2].upper()
    if side and side not in {positive, negative}:
        raise InputError(f"not a {name}", value=text, remedy="The latitude comes first: 44.9N 93.2W.")
    if side and match[1][0] in "-−+":
        raise InputError("a sign and a letter at once", value=text, remedy=f"Write 4.5{negative} or -4.5.")
    if abs(degrees) > most:
        raise InputError(f"a {name} is no more than {most:g} degrees", value=text)
    return -degrees if side == negative else degrees


def parse_distance(text: str) -> tuple[float, bool]:
    """Read a distance, such as ``100km`` or ``60mi``; return it in [km], and whether it was in miles."""
    match = _DISTANCE.fullmatch(text)
    if match is None:
        raise InputError("not a distance with its unit", value=text, remedy="Write it as 100km or 60mi.")
    miles = match[2].lower() == "mi"
    distance_km = float(match[1]) * (KM_PER_MILE if miles else 1.0)
    if not 0.0 < distance_km <= FARTHEST_KM:
        raise InputError(f"a distance lies between 0 and {FARTHEST_KM:g} km", value=text)
    return distance_km, miles


LATITUDE = Written("latitude", lambda text: parse_degrees(text, "N", "S", 90.0))
LONGITUDE = Written("longitude", lambda text: parse_degrees(text, "E", "W", 180.0))
DISTANCE = Written("distance", parse_distance)


def echo_json(answer: Mapping[str, Any]) -> None:
    """Print an answer as JSON."""
    click.echo(json.dumps(answer, ensure_ascii=False, indent=2))
