"""Places as growers write them: latitude, longitude, and how far around them to look."""

from __future__ import annotations

import re

from frostgate.cli.values import Written
from frostgate.errors import InputError

KM_PER_MILE = 1.609344
FARTHEST_KM = 2000.0

_DEGREES = re.compile(r"\s*([-+−]?\d+(?:\.\d+)?)\s*°?\s*([NSEW]?)\s*", re.IGNORECASE)
_DISTANCE = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(km|mi)\s*", re.IGNORECASE)


def parse_degrees(text: str, positive: str, negative: str, most: float) -> float:
    """Read a latitude or longitude, such as ``44.9N`` or ``-93.2``.

    Parameters
    ----------
    text
        As written.
    positive, negative
        The letters of its sides: N and S, or E and W.
    most
        The largest there is [degrees].

    Raises
    ------
    InputError
        Where it is none.

    Examples
    --------
    >>> parse_degrees("93.2W", "E", "W", 180.0), parse_degrees("-33.9", "N", "S", 90.0)
    (-93.2, -33.9)
    """
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
    """Read a distance, such as ``100km`` or ``60mi``; return it in [km], and whether it was in miles.

    Raises
    ------
    InputError
        Where the unit is missing, or it is no distance of a neighbourhood.

    Examples
    --------
    >>> parse_distance("100km"), parse_distance("10 mi")
    ((100.0, False), (16.09344, True))
    """
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
