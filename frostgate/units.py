"""Temperatures and shares as growers write them, and as the archive stores them.

Inside the package every temperature is in degrees Celsius; °F exists only at the edges.
"""

from __future__ import annotations

import re
from typing import Literal, TypeVar, overload

import numpy as np
import numpy.typing as npt

from frostgate.errors import InputError
from frostgate.patterns import pattern

TemperatureUnit = Literal["F", "C"]
Number = TypeVar("Number", float, npt.NDArray[np.float64])

STORED_STEP_C = 0.1  # GHCN-Daily stores tenths of a degree Celsius
WHOLE_F_STEP_C = 5.0 / 9.0
COLDEST_C, HOTTEST_C = -90.0, 60.0  # just outside the world's records: -89.2 and 56.7 °C (WMO)

_TEMPERATURE = pattern(r"\s*([-+−]?\d+(?:\.\d+)?)\s*°?\s*([FC])\s*", re.IGNORECASE)
_SHARE = pattern(r"\s*(\d+(?:\.\d+)?)\s*(%?)\s*")


def celsius(temp_f: Number) -> Number:
    """Turn °F into °C.

    Examples
    --------
    >>> celsius(14.0)
    -10.0
    """
    return (temp_f - 32.0) * WHOLE_F_STEP_C


def fahrenheit(temp_c: Number) -> Number:
    """Turn °C into °F.

    Examples
    --------
    >>> fahrenheit(25.0)
    77.0
    """
    return temp_c * 1.8 + 32.0


@overload
def as_stored(temp_c: float) -> float: ...
@overload
def as_stored(temp_c: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]: ...
def as_stored(temp_c: float | npt.NDArray[np.float64]) -> float | npt.NDArray[np.float64]:
    """Round to the tenths of a degree Celsius in which records are stored and compared.

    A whole °F observation is stored as tenths of °C: 28 °F as -2.2 °C, which is 28.04 °F. Compared with
    -2.222... °C it would miss every real 28 °F freeze, so threshold and minimum are both brought to tenths
    first. No whole °F falls on a tie between two tenths, so nothing is lost.

    Examples
    --------
    >>> as_stored(celsius(28.0))
    -2.2
    """
    if isinstance(temp_c, float):
        return float(np.round(temp_c, 1))
    return np.round(temp_c, 1)


def whole_f(stored_c: npt.NDArray[np.float64]) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.bool_]]:
    """Find the whole °F behind each stored minimum, and whether it can have been one.

    The archive holds two roundings of a whole °F to tenths of °C: to the nearest, and, at US airports since
    2006 to 2013, ``int(10 c + 0.5)``, which leaves minima below 0 °C a tenth too warm: 28 °F as -2.1, and
    24 °F as -4.3 °C. (Seen by comparing Central Park's copies in °F and in °C: 388 of 394 negative minima
    from 2013-11-12.)

    Parameters
    ----------
    stored_c
        Minima in tenths of °C [°C], any shape.

    Returns
    -------
    degrees, fits
        Whole degrees [°F] and truth, each of the same shape.

    Examples
    --------
    >>> whole_f(np.array([-2.2, -2.1, -2.0]))
    (array([28., 28., 28.]), array([ True,  True, False]))
    """
    degrees = np.round(fahrenheit(stored_c))
    tenths = celsius(degrees) * 10.0
    stored = np.round(stored_c * 10.0)
    return degrees, (stored == np.round(tenths)) | (stored == np.trunc(tenths + 0.5))


def parse_temperature(text: str) -> tuple[float, TemperatureUnit]:
    """Read a temperature with its unit, such as ``32F`` or ``-1.5 °C``; return it in [°C], and the unit.

    Raises
    ------
    InputError
        Where the unit is missing, the text is no number, or the value lies outside nature.

    Examples
    --------
    >>> parse_temperature("32F")
    (0.0, 'F')
    """
    degrees, unit = _degrees(text, "a temperature")
    temp_c = celsius(degrees) if unit == "F" else degrees
    if not COLDEST_C <= temp_c <= HOTTEST_C:
        raise InputError("no place on earth has such a temperature", value=text)
    return temp_c, unit


def parse_offset(text: str) -> tuple[float, TemperatureUnit]:
    """Read a difference of temperatures, such as ``-2F``; return it in [°C], and the unit.

    Raises
    ------
    InputError
        Where the unit is missing, the text is no number, or the difference is above 20 °C.

    Examples
    --------
    >>> parse_offset("-1.8F")
    (-1.0, 'F')
    """
    degrees, unit = _degrees(text, "a difference")
    offset_c = degrees / 1.8 if unit == "F" else degrees
    if abs(offset_c) > 20.0:
        raise InputError("a garden does not differ that much from its station", value=text)
    return offset_c, unit


def parse_share(text: str) -> float:
    """Read a share such as ``10%`` or ``0.1``.

    A bare number above 1 is refused: ``10`` could be meant either way.

    Raises
    ------
    InputError
        Where the text is no share between 0 and 100 %.

    Examples
    --------
    >>> parse_share("10%"), parse_share("0.1")
    (0.1, 0.1)
    """
    match = _SHARE().fullmatch(text)
    if match is None:
        raise InputError("not a share", value=text, remedy="Write it as 10% or as 0.1.")
    number = float(match[1])
    share = number / 100.0 if match[2] else number
    if not 0.0 <= share <= 1.0:
        raise InputError("not a share between 0 and 100 %", value=text, remedy="Write it as 10% or as 0.1.")
    return share


def say_temperature(temp_c: float, unit: TemperatureUnit) -> str:
    """Write a temperature for the grower, rounded to what can be read off a thermometer.

    Examples
    --------
    >>> say_temperature(0.0, "F"), say_temperature(-1.23, "C")
    ('32 °F', '-1.2 °C')
    """
    degrees = fahrenheit(temp_c) if unit == "F" else temp_c
    return f"{_tidy(degrees)} °{unit}"


def say_offset(offset_c: float, unit: TemperatureUnit) -> str:
    """Write a difference of temperatures for the grower.

    Examples
    --------
    >>> say_offset(-1.0, "F")
    '-1.8 °F'
    """
    degrees = offset_c * 1.8 if unit == "F" else offset_c
    return f"{_tidy(degrees)} °{unit}"


def say_share(share: float) -> str:
    """Write a share as a percentage, without claiming certainty at the ends.

    Examples
    --------
    >>> say_share(0.104), say_share(0.004), say_share(0.9996)
    ('10 %', 'under 1 %', 'over 99 %')
    """
    if share <= 0.0:
        return "0 %"
    if share < 0.01:
        return "under 1 %"
    if share > 0.99:
        return "100 %" if share >= 1.0 else "over 99 %"
    return f"{share * 100:.0f} %"


def _degrees(text: str, what: str) -> tuple[float, TemperatureUnit]:
    match = _TEMPERATURE().fullmatch(text)
    if match is None:
        raise InputError(f"not {what} with its unit", value=text, remedy="Write it as 32F or as 0C.")
    unit: TemperatureUnit = "F" if match[2].upper() == "F" else "C"
    return float(match[1].replace("−", "-")), unit


def _tidy(degrees: float) -> str:
    rounded = round(degrees, 1) + 0.0  # + 0.0 turns -0.0 into 0.0
    return f"{rounded:.0f}" if abs(rounded - round(rounded)) < 0.05 else f"{rounded:.1f}"
