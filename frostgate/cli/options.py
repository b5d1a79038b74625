"""Options, kinds of value and readings that commands share."""

from __future__ import annotations

import datetime as dt
import json
import os
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar
from zoneinfo import ZoneInfo

import click

from frostgate.errors import InputError
from frostgate.feeding.labels import parse_ec_ms_cm
from frostgate.garden.written import parse_strength
from frostgate.gate.outlook import MORNING
from frostgate.model.records import BASES, DailyMinima
from frostgate.seasons import NORTH, SOUTH, SeasonStart
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
    from frostgate.climate.quality import Suspects
    from frostgate.model.garden import Garden
    from frostgate.sources.records.rows import UnitHint

Degrees = tuple[float, TemperatureUnit]


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

HEMISPHERES = {"north": NORTH, "south": SOUTH}
FILE = click.Path(path_type=Path)

unit_option = click.option(
    "--unit",
    type=click.Choice(["F", "C", "tenths-C"], case_sensitive=False),
    help="Unit of a file that does not state its own; a file that states it is read by its own word.",
)
station_option = click.option("--station", metavar="ID", help="Which station, where the file holds several.")
hemisphere_option = click.option(
    "--hemisphere",
    type=click.Choice(list(HEMISPHERES)),
    help="Where the station lies; by default its latitude or its colder months tell.",
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
suspects_option = click.option(
    "--keep-suspects", is_flag=True, help="Use minima that look like plain errors all the same."
)
contradictions_option = click.option(
    "--drop-contradictions",
    is_flag=True,
    help="Leave out days that stand twice with different minima, instead of stopping.",
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


def record_options(command: Command) -> Command:
    """Offer the options that say how a record is read."""
    for option in (
        contradictions_option,
        suspects_option,
        hemisphere_option,
        station_option,
        unit_option,
    ):
        command = option(command)
    return command


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


def season_start(hemisphere: str | None) -> SeasonStart | None:
    """Return the season of a stated hemisphere, or None where none is stated."""
    return None if hemisphere is None else HEMISPHERES[hemisphere]


def shown_unit(
    show: TemperatureUnit | None, minima: DailyMinima, written: tuple[tuple[float, TemperatureUnit], ...] = ()
) -> TemperatureUnit:
    """Choose the unit of an answer: as asked, as the grower wrote, else as the station observes."""
    if show is not None:
        return show
    if written:
        return written[0][1]
    return "F" if minima.step_c == WHOLE_F_STEP_C else "C"


def cache_folder() -> Path:
    """Return the folder for what is kept: FROSTGATE_CACHE, or one among the user's own files."""
    stated = os.environ.get("FROSTGATE_CACHE")
    return Path(stated) if stated else Path(click.get_app_dir("frostgate")) / "kept"


_FIXED = re.compile(r"UTC(?:([+-])(\d\d):(\d\d))?")


def moment(on: dt.date | None, time_zone: str | None) -> dt.datetime:
    """Return the moment to answer for, local time of the garden without zone."""
    zone = None if time_zone is None else _zone(time_zone)
    if on is not None:
        return dt.datetime.combine(on, MORNING)
    return dt.datetime.now(zone).replace(tzinfo=None)


def _zone(name: str) -> dt.tzinfo:
    fixed = _FIXED.fullmatch(name)
    sign = -1 if fixed and fixed[1] == "-" else 1
    try:
        if fixed is None:
            return ZoneInfo(name)
        return dt.timezone(sign * dt.timedelta(hours=int(fixed[2] or 0), minutes=int(fixed[3] or 0)))
    except (KeyError, ValueError, OSError):
        raise InputError(
            "no time zone has this name", value=name, remedy="Write it as America/New_York or as UTC-05:00."
        ) from None


NAME = "garden.toml"


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Past:
    """A station's record as a command uses it: suspects named and, unless kept, left out."""

    minima: DailyMinima
    suspects: Suspects
    start: SeasonStart


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordWish:
    """Which record is wanted: the options of `options.record_options`, one field each."""

    file: Path
    unit: UnitHint | None
    station: str | None
    hemisphere: str | None
    keep_suspects: bool
    drop_contradictions: bool

    def read(self) -> Past:
        """Read the record, name its suspects and leave them out unless they are kept."""
        from frostgate.climate.quality import find_hemisphere, find_suspects
        from frostgate.sources.records import read_minima

        minima = read_minima(
            self.file, unit=self.unit, station=self.station, drop_contradictions=self.drop_contradictions
        )
        suspects = find_suspects(minima)
        return Past(
            minima=minima if self.keep_suspects else minima.leave_out(suspects.dates),
            suspects=suspects,
            start=season_start(self.hemisphere) or find_hemisphere(minima),
        )


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
