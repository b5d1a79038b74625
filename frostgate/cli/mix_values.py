"""The kinds of value that options about mixing take: volumes, strengths, ratios, conductivities."""

from __future__ import annotations

import re
from typing import NamedTuple

from frostgate.cli.values import Written
from frostgate.errors import InputError
from frostgate.feeding.injector import parse_ratio
from frostgate.feeding.labels import parse_ec_ms_cm
from frostgate.garden.written import parse_strength
from frostgate.quantities import Units, parse_length_m, parse_volume_l

_METRIC = re.compile(
    r"\d\s*(?:m?l|litres?|liters?|millilit(?:re|er)s?|k?g|grams?|c?m|met(?:re|er)s?)\b", re.IGNORECASE
)
_PERCENT = re.compile(r"\s*(\d+(?:\.\d+)?)\s*%\s*")


class Measured(NamedTuple):
    """An amount in [L] or [m], and the text it was written as.

    Examples
    --------
    >>> Measured(0.005, "5 ml").text
    '5 ml'
    """

    amount: float
    text: str


def written_units(text: str) -> Units:
    """Tell in which units a quantity is written.

    Examples
    --------
    >>> written_units("5gal"), written_units("20 l"), written_units("2 g/l")
    ('us', 'metric', 'metric')
    """
    return "metric" if _METRIC.search(text) else "us"


def read_strength(text: str) -> float:
    """Read a share of the label's rate; more than the rate is said in %.

    Raises
    ------
    InputError
        Where it is none.

    Examples
    --------
    >>> read_strength("half"), read_strength("150%")
    (0.5, 1.5)
    """
    percent = _PERCENT.fullmatch(text)
    if percent is None or float(percent[1]) <= 100.0:
        return parse_strength(text)
    return float(percent[1]) / 100.0


def read_ppm(text: str) -> float:
    """Read parts per million.

    Raises
    ------
    InputError
        Where it is no number above 0 and below 100 000.

    Examples
    --------
    >>> read_ppm("150"), read_ppm("150 ppm")
    (150.0, 150.0)
    """
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
