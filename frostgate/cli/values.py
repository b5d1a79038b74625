"""The kinds of value that options take: temperatures with their unit, shares, dates, years."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable

import click

from frostgate.errors import InputError
from frostgate.units import TemperatureUnit, parse_offset, parse_share, parse_temperature

Degrees = tuple[float, TemperatureUnit]


class Written(click.ParamType[object]):
    """A value written as text, read by a function that raises `InputError`.

    Examples
    --------
    >>> SHARE.convert("10%", None, None)
    0.1
    """

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
