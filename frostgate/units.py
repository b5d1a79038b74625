"""Temperatures, shares, volumes, masses and lengths as growers write and read them."""

from __future__ import annotations

import contextlib
import math
import re
from dataclasses import dataclass
from typing import Literal, NamedTuple, TypeVar

import numpy as np
import numpy.typing as npt

from frostgate.errors import InputError

TemperatureUnit = Literal["F", "C"]
Number = TypeVar("Number", float, npt.NDArray[np.float64])

STORED_STEP_C = 0.1  # GHCN-Daily stores tenths of a degree Celsius
WHOLE_F_STEP_C = 5.0 / 9.0
WHOLE_F_SHARE = 0.9  # by chance 9 of 50 tenths can be a whole °F, below 0 °C 18 of 50
COLDEST_C, HOTTEST_C = -90.0, 60.0  # just outside the world's records: -89.2 and 56.7 °C (WMO)

_TEMPERATURE = re.compile(r"\s*([-+−]?\d+(?:\.\d+)?)\s*°?\s*([FC])\s*", re.IGNORECASE)
_SHARE = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(%?)\s*")


def celsius(temp_f: Number) -> Number:
    """Turn °F into °C, a number or an array."""
    return (temp_f - 32.0) * WHOLE_F_STEP_C


def fahrenheit(temp_c: Number) -> Number:
    """Turn °C into °F, a number or an array."""
    return temp_c * 1.8 + 32.0


def as_stored(temp_c: Number) -> Number:
    """Round to the tenths of a degree Celsius in which records are stored and compared.

    A whole °F observation is stored as tenths of °C: 28 °F as -2.2 °C, which is 28.04 °F. Compared with
    -2.222... °C it would miss every real 28 °F freeze, so threshold and minimum are both brought to tenths
    first. No whole °F falls on a tie between two tenths, so nothing is lost.
    """
    rounded: Number = np.round(temp_c, 1)
    if isinstance(rounded, float):
        return float(rounded)  # numpy's own float is one too
    return rounded


def whole_f(stored_c: npt.NDArray[np.float64]) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.bool_]]:
    """Find the whole °F behind each stored minimum, and whether it can have been one.

    The archive holds two roundings of a whole °F to tenths of °C: to the nearest, and, at US airports since
    2006 to 2013, ``int(10 c + 0.5)``, which leaves minima below 0 °C a tenth too warm: 28 °F as -2.1, and
    24 °F as -4.3 °C. (Seen by comparing Central Park's copies in °F and in °C: 388 of 394 negative minima
    from 2013-11-12.)
    """
    degrees = np.round(fahrenheit(stored_c))
    tenths = celsius(degrees) * 10.0
    stored = np.round(stored_c * 10.0)
    return degrees, (stored == np.round(tenths)) | (stored == np.trunc(tenths + 0.5))


def observed_step_c(minima_c: npt.NDArray[np.float64]) -> float:
    """Tell in which step minima were observed [°C]: a whole °F, or a tenth of a °C."""
    _, fits = whole_f(as_stored(minima_c[np.isfinite(minima_c)]))
    return WHOLE_F_STEP_C if fits.size and fits.mean() >= WHOLE_F_SHARE else STORED_STEP_C


def parse_temperature(text: str) -> tuple[float, TemperatureUnit]:
    """Read a temperature with its unit, such as ``32F`` or ``-1.5 °C``; return it in [°C], and the unit."""
    degrees, unit = _degrees(text, "a temperature")
    temp_c = celsius(degrees) if unit == "F" else degrees
    if not COLDEST_C <= temp_c <= HOTTEST_C:
        raise InputError("no place on earth has such a temperature", value=text)
    return temp_c, unit


def parse_offset(text: str) -> tuple[float, TemperatureUnit]:
    """Read a difference of temperatures, such as ``-2F``; return it in [°C], and the unit."""
    degrees, unit = _degrees(text, "a difference", "-2F or as -1C")
    offset_c = degrees / 1.8 if unit == "F" else degrees
    if abs(offset_c) > 20.0:
        raise InputError("a garden does not differ that much from its station", value=text)
    return offset_c, unit


def parse_share(text: str) -> float:
    """Read a share such as ``10%`` or ``0.1``.

    A bare number above 1 is refused: ``10`` could be meant either way.
    """
    match = _SHARE.fullmatch(text)
    share = math.nan if match is None else float(match[1]) / (100.0 if match[2] else 1.0)
    if not 0.0 <= share <= 1.0:
        raise InputError("not a share between 0 and 100 %", value=text, remedy="Write it as 10% or as 0.1.")
    return share


def say_temperature(temp_c: float, unit: TemperatureUnit) -> str:
    """Write a temperature for the grower, rounded to what can be read off a thermometer."""
    degrees = fahrenheit(temp_c) if unit == "F" else temp_c
    return f"{_tidy(degrees)} °{unit}"


def say_offset(offset_c: float, unit: TemperatureUnit) -> str:
    """Write a difference of temperatures for the grower."""
    degrees = offset_c * 1.8 if unit == "F" else offset_c
    return f"{_tidy(degrees)} °{unit}"


def say_share(share: float) -> str:
    """Write a share as a percentage, without claiming certainty at the ends."""
    if share <= 0.0:
        return "0 %"
    if share < 0.01:
        return "under 1 %"
    if share > 0.99:
        return "100 %" if share >= 1.0 else "over 99 %"
    return f"{share * 100:.0f} %"


def _degrees(text: str, what: str, example: str = "32F or as 0C") -> tuple[float, TemperatureUnit]:
    match = _TEMPERATURE.fullmatch(text)
    if match is None:
        raise InputError(f"not {what} with its unit", value=text, remedy=f"Write it as {example}.")
    unit: TemperatureUnit = "F" if match[2].upper() == "F" else "C"
    return float(match[1].replace("−", "-")), unit


Measure = Literal["volume", "mass", "length"]
Per = Literal["litre", "pot", "metre"]
Units = Literal["us", "metric"]

GALLON_ML = 3785.411784
TABLESPOON_ML = GALLON_ML / 256
TEASPOON_ML = GALLON_ML / 768
OUNCE_G = 28.349523125
POUND_G = 16 * OUNCE_G
FOOT_M = 0.3048
MILE_KM = 1.609344

_WRITTEN: tuple[tuple[Measure, float, str], ...] = (  # how large in the unit of a `Quantity`, and its names
    ("volume", 1.0, "ml, millilitre, millilitres, milliliter, milliliters"),
    ("volume", 1000.0, "l, litre, litres, liter, liters"),
    ("volume", TEASPOON_ML, "tsp, teaspoon, teaspoons"),
    ("volume", TABLESPOON_ML, "tbsp, tablespoon, tablespoons"),
    ("volume", GALLON_ML / 128, "fl oz, fluid ounce, fluid ounces"),
    ("volume", GALLON_ML / 16, "cup, cups"),
    ("volume", GALLON_ML / 8, "pt, pint, pints"),
    ("volume", GALLON_ML / 4, "qt, quart, quarts"),
    ("volume", GALLON_ML, "gal, gallon, gallons"),
    ("volume", 4546.09, "imp gal, imperial gallon, imperial gallons"),
    ("mass", 0.001, "mg"),
    ("mass", 1.0, "g, gram, grams"),
    ("mass", 1000.0, "kg"),
    ("mass", OUNCE_G, "oz, ounce, ounces"),
    ("mass", POUND_G, "lb, lbs, pound, pounds"),
    ("length", 0.01, "cm"),
    ("length", 1.0, "m, metre, metres, meter, meters"),
    ("length", FOOT_M / 12, "in, inch, inches"),
    ("length", FOOT_M, "ft, foot, feet"),
)
_UNITS = {name: (measure, size) for measure, size, names in _WRITTEN for name in names.split(", ")}
_HOW: dict[Measure, str] = {"volume": "3.5 gal or 13 l", "mass": "30 g or 2 oz", "length": "6 ft or 1.8 m"}
_POTS = {"pot", "tree", "plant", "container"}
_VULGAR = str.maketrans({"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅓": " 1/3", "⅔": " 2/3", "⅛": " 1/8"})
_NUMBER = r"(?:\d{1,9} )?\d{1,9} ?/ ?\d{1,9}|\d{1,9}(?:\.\d{0,12})?|\.\d{1,12}"  # with or without a fraction
_QUANTITY = rf"(?P<number>{_NUMBER})? ?-? ?(?P<unit>[a-z]+(?: [a-z]+)?)\.?"  # compiled once it is needed
_METRIC = r"\d\s*(?:m?l|litres?|liters?|millilit(?:re|er)s?|k?g|grams?|c?m|met(?:re|er)s?)\b"
_HIGHEST_RATIO = 2000


class Measured(NamedTuple):
    """An amount in [L] or [m], and the text it was written as."""

    amount: float
    text: str


@dataclass(frozen=True, slots=True)
class Quantity:
    """A volume [mL], a mass [g] or a length [m]."""

    amount: float
    measure: Measure


def parse_quantity(text: str, *wanted: Measure) -> Quantity:
    """Read a quantity with its unit, such as ``1 1/2 tbsp``, ``3.5gal`` or ``30 g``; a unit alone is one."""
    from fractions import Fraction  # which a morning need not load

    measures = wanted or ("volume", "mass", "length")
    match = re.fullmatch(_QUANTITY, " ".join(text.translate(_VULGAR).split()), re.IGNORECASE)
    measure, size = (None, 0.0) if match is None else _UNITS.get(match["unit"].lower(), (None, 0.0))
    if match is None or measure not in measures:
        remedy = "Write it as " + ", or as ".join(_HOW[measure] for measure in measures) + "."
        raise InputError(f"not a {' or '.join(measures)} with its unit", value=text, remedy=remedy)
    number = re.sub(" ?/ ?", "/", match["number"] or "1")
    with contextlib.suppress(ZeroDivisionError):
        if 0 < (count := sum(map(Fraction, number.split()))) < 10**6:
            return Quantity(float(count) * size, measure)
    raise InputError("a quantity is above 0 and below a million", value=text)


def parse_volume_l(text: str) -> float:
    """Read a volume in litres."""
    return parse_quantity(text, "volume").amount / 1000.0


def parse_mass_g(text: str) -> float:
    """Read a mass in grams."""
    return parse_quantity(text, "mass").amount


def parse_length_m(text: str) -> float:
    """Read a length in metres."""
    return parse_quantity(text, "length").amount


def parse_rate(text: str) -> tuple[Quantity, Per]:
    """Read a label's rate, such as ``2 tsp/gal`` or ``0.3 lb/ft``: how much for a litre, pot or metre."""
    plain = " ".join(text.split())
    sides = re.split(r" per |(?<=[a-z])\.? ?/", plain, maxsplit=1, flags=re.IGNORECASE)
    if len(sides) != 2:
        raise InputError("not a rate", value=text, remedy="Write it as 2 tsp/gal, 2.3 g/l or 5 tsp/pot.")
    quantity = parse_quantity(sides[0], "volume", "mass")
    if sides[1].strip().lower() in _POTS:
        return quantity, "pot"
    base = parse_quantity(sides[1], "volume", "length")
    per: Per = "litre" if base.measure == "volume" else "metre"
    size = base.amount / 1000.0 if per == "litre" else base.amount
    return Quantity(quantity.amount / size, quantity.measure), per


def parse_ratio(text: str) -> float:
    """Read an injector's ratio, such as ``1:100``."""
    match = re.fullmatch(r"\s*1\s*[:/]\s*(\d+(?:\.\d+)?)\s*", text)
    ratio = 0.0 if match is None else float(match[1])
    if not 1.0 < ratio <= _HIGHEST_RATIO:
        raise InputError("not a ratio of an injector", value=text, remedy="Write it as 1:100.")
    return ratio


def written_units(text: str) -> Units:
    """Tell in which units a quantity is written."""
    return "metric" if re.search(_METRIC, text, re.IGNORECASE) else "us"


def say_volume(litres: float, units: Units) -> str:
    """Write a volume of water for the grower, a small one in small measures: a cup is not 0.1 gal."""
    if units == "metric":
        return f"{_tidy(litres)} L" if litres >= 1.0 else f"{litres * 1000.0:.3g} mL"
    quarts = litres * 4000.0 / GALLON_ML
    if quarts >= 3.95:
        return f"{_tidy(quarts / 4.0)} gal"
    return f"{quarts:.2g} qt" if quarts >= 0.995 else f"{quarts * 4.0:.2g} cup"


def say_mass(grams: float, units: Units) -> str:
    """Write a mass of product for the grower; a US grower reads ounces beside grams."""
    written = f"{grams / 1000.0:.3g} kg" if grams >= 1000.0 else f"{_tidy(grams)} g"
    if units == "metric":
        return written
    us = f"{grams / POUND_G:.3g} lb" if grams >= POUND_G else f"{grams / OUNCE_G:.2g} oz"
    return f"{written} ({us})"


def _tidy(number: float) -> str:
    return f"{round(number, 1) + 0.0:g}" if number < 1e5 else f"{number:.0f}"  # + 0.0 turns -0.0 into 0.0
