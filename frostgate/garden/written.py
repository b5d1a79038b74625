"""Quantities, strengths and names as the garden file writes them."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any
from zoneinfo import ZoneInfo

from frostgate.errors import InputError
from frostgate.garden.mistakes import Mistake, Place
from frostgate.model.gate import LARGEST_TOLERANCE
from frostgate.seasons import SeasonStart
from frostgate.units import (
    parse_length_m,
    parse_mass_g,
    parse_offset,
    parse_share,
    parse_temperature,
    parse_volume_l,
)

LONGEST_NAME = 80
LONGEST_TEXT = 250  # of any value; a number of more digits is none
LONGEST_FILE_NAME = 4000
LOWEST_M, HIGHEST_M = -450.0, 9000.0  # the lowest shore and the highest peak, rounded outward
COLDEST_DAMAGE_C, WARMEST_DAMAGE_C = -40.0, 15.0  # wide bounds: frost and chilling, from memory
STRENGTHS = {"full": 1.0, "half": 0.5, "quarter": 0.25}

_DAYS = re.compile(r"\s*(\d{1,4})\s*(days?|weeks?)\s*", re.IGNORECASE)
_MONTH_DAY = re.compile(r"\s*(\d\d)-(\d\d)\s*")
_FIXED_ZONE = re.compile(r"UTC(?:[+-](?:0\d|1[0-4]):[0-5]\d)?")


def parse_name(text: str) -> str:
    """Read a name: one line of plain text, not empty, without blanks around it."""
    if not text.strip() or text != text.strip():
        raise InputError("not a name", value=text, remedy="Write it without blanks around it, and not empty.")
    if not text.isprintable() or len(text) > LONGEST_NAME:
        raise InputError(
            "not a name", value=text, remedy=f"Write one line of plain text, at most {LONGEST_NAME} letters."
        )
    return text


def parse_file_name(text: str) -> str:
    """Read the name of a file, as long as the system allows."""
    if not text.strip() or not text.isprintable():
        raise InputError("not the name of a file", value=text, remedy='Write it as "oskelmere.dly".')
    return text


def parse_elevation_m(text: str) -> float:
    """Read an elevation above the sea, such as ``1020 ft`` or ``-3 m``, in metres."""
    above = text.strip().replace("−", "-")
    if re.fullmatch(r"-?0+(?:\.0*)?\s*(?:m|ft)", above, re.IGNORECASE):
        return 0.0
    below = above.startswith("-")
    elevation_m = parse_length_m(above.removeprefix("-")) * (-1.0 if below else 1.0)
    if not LOWEST_M <= elevation_m <= HIGHEST_M:
        raise InputError("no land lies at such an elevation", value=text, remedy="Check it and its unit.")
    return elevation_m


def parse_tolerance(text: str) -> float:
    """Read a risk that one can live with, above 0 and at 50 % or less."""
    share = parse_share(text)
    if not 0.0 < share <= LARGEST_TOLERANCE:
        raise InputError(
            "a tolerance lies above 0 and at 50 % or less", value=text, remedy="Write for example 10%."
        )
    return share


def parse_damage_temp_c(text: str) -> float:
    """Read the minimum that kills a flush [°C]."""
    temp_c = parse_temperature(text)[0]
    if not COLDEST_DAMAGE_C <= temp_c <= WARMEST_DAMAGE_C:
        raise InputError(
            "no flush is killed by such a minimum", value=text, remedy="Check the number and its unit."
        )
    return temp_c


def parse_spread_c(text: str) -> float:
    """Read how sure a difference of temperatures is [°C]."""
    spread_c = parse_offset(text)[0]
    if not 0.0 <= spread_c <= 10.0:
        raise InputError(
            "a spread lies between 0 and 10 °C (18 °F)", value=text, remedy="Write it as 1.5F or 0.8C."
        )
    return spread_c


def parse_zone(text: str) -> str:
    """Read the name of a time zone."""
    try:
        if _FIXED_ZONE.fullmatch(text) is None:
            ZoneInfo(text)
    except (KeyError, ValueError, OSError):
        raise InputError(
            "no time zone has this name", value=text, remedy="Write it as America/New_York or as UTC-05:00."
        ) from None
    return text


def parse_days(text: str) -> int:
    """Read a stretch of days, such as ``10 days`` or ``4 weeks``."""
    match = _DAYS.fullmatch(text)
    days = -1 if match is None else int(match[1]) * (7 if match[2].lower().startswith("week") else 1)
    if not 0 <= days <= 366:
        raise InputError(
            "not a stretch of days within a year", value=text, remedy="Write it as 10 days or 4 weeks."
        )
    return days


def parse_interval(text: str) -> int:
    """Read the days between two feedings, at least one."""
    days = parse_days(text)
    if days < 1:
        raise InputError("feedings are at least a day apart", value=text, remedy="Write it as 10 days.")
    return days


def parse_strength(text: str) -> float:
    """Read how strong a feeding is, as a share of the label's rate."""
    remedy = "Write it as full, half, quarter or 75%."
    strength = STRENGTHS.get(text.strip().lower())
    if strength is None:
        try:
            strength = parse_share(text)
        except InputError:
            raise InputError("not a share of the label's rate", value=text, remedy=remedy) from None
    if strength == 0.0:
        raise InputError("a strength is above 0", value=text, remedy=remedy)
    return strength


def parse_month_day(text: str) -> tuple[int, int]:
    """Read a day of every year, such as ``11-15``, as (month, day)."""
    match = _MONTH_DAY.fullmatch(text)
    try:
        start = None if match is None else SeasonStart(month=int(match[1]), day=int(match[2]))
    except InputError:
        start = None
    if start is None:
        raise InputError("no such day of the year", value=text, remedy="Write month and day as 11-15.")
    return start.month, start.day


def _within(read: Callable[[str], float], low: float, high: float, what: str) -> Callable[[str], float]:
    def _read(text: str) -> float:
        amount = read(text)
        if not low <= amount <= high:
            raise InputError(what, value=text, remedy="Check the number and its unit.")
        return amount

    return _read


parse_pot_l = _within(parse_volume_l, 0.05, 5000.0, "no pot has such a volume")
parse_per_pot_l = _within(parse_volume_l, 0.01, 500.0, "no pot is given so much or so little")
parse_vessel_l = _within(parse_volume_l, 0.1, 20_000.0, "no bucket or tank has such a volume")
parse_scoop_l = _within(parse_volume_l, 0.0002, 2.0, "no scoop has such a volume")
parse_height_m = _within(parse_length_m, 0.05, 50.0, "no fruit tree has such a height")
parse_nitrogen_g = _within(parse_mass_g, 0.01, 2000.0, "no pot takes so much or so little nitrogen in a year")


Keys = Mapping[str, Mapping[str, str | None]]

LISTS = ("site", "pots", "product", "no_feeding", "phase")
TABLES = (*LISTS, "tools", "rules")
TABLE = "a table"
_KINDS = {
    "string_type": "a text in quotes",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "finite_number": "a number",
    "bool_type": "true or false",
    "string_too_long": "a shorter text",
    "list_type": "a list in brackets",
    "dict_type": "a table in braces",
    "model_type": "a table",
    "model_attributes_type": "a table",
}


def explain(
    errors: Iterable[Mapping[str, Any]],
    keys: Keys,
    lost: frozenset[str] = frozenset(),
) -> Iterator[Mistake]:
    """Turn pydantic's errors into the grower's words."""
    errors = list(errors)
    meant = {
        (*error["loc"][:-1], _nearest(str(error["loc"][-1]), _keys_at(error["loc"], keys)))
        for error in errors
        if error["type"] == "extra_forbidden"
    }
    for error in errors:
        place = error["loc"]
        if error["type"] != "missing" or (place not in meant and place[-1] not in lost):
            yield _explain_one(error, keys)


def suggest(wrong: str, known: Iterable[str]) -> str:
    """Say which word may have been meant, and which there are."""
    words = list(known)
    nearest = _nearest(wrong, words)
    question = f'Did you mean "{nearest}"? ' if nearest else ""
    return f"{question}Possible: {', '.join(words) or 'none'}."


def say_value(value: object) -> str | None:
    """Write a value of the file as it may be shown; tables and lists only by their kind."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict) or (isinstance(value, list) and value and isinstance(value[0], dict)):
        return TABLE
    if isinstance(value, list):
        return "a list"
    try:
        return None if value is None else str(value)
    except ValueError:  # a number of more digits than Python writes
        return "a number of thousands of digits"


def _explain_one(error: Mapping[str, Any], keys: Keys) -> Mistake:
    place, value = error["loc"], say_value(error["input"])
    key = next(str(part) for part in reversed(place) if isinstance(part, str))
    example = _keys_at(place, keys).get(key)
    remedy = f"Write it as {key} = {example}." if example else None
    details: dict[str, Any] = error.get("ctx") or {}
    match error["type"]:
        case "in words":
            return Mistake(place, f"{key}: {details['what']}", details["value"], details["remedy"] or remedy)
        case "extra_forbidden":
            what = "no such table" if value == TABLE and len(place) == 1 else f"no such key {_inside(place)}"
            return Mistake(place, what, key, _where_else(key, place, keys))
        case "missing":
            return _explain_missing(place, example)
        case "literal_error":
            what = f"{key}: not one of the words that can stand here"
            return Mistake(place, what, value, suggest(str(value), _choices(details["expected"])))
    what = f"{key}: {_wanted(error['type'], details, place)}"
    return Mistake(place, what, None if error["input"] == [] else value, _write_table(place) or remedy)


def _explain_missing(place: Place, example: str | None) -> Mistake:
    if len(place) == 1:
        return Mistake(place, f"no {_header(place)} in the file", None, _write_table(place))
    add = f"Add {place[-1]} = {example}."
    return Mistake(place, f"{_whose(place)} lacks {place[-1]!r}", None, add)


def _wanted(kind: str, details: Mapping[str, Any], place: Place) -> str:
    if kind == "greater_than_equal":
        return f"{details['ge']:g} or more is wanted"
    if kind == "less_than_equal":
        return f"{details['le']:g} or less is wanted"
    if kind == "too_short":
        return "an empty list"
    return f"{'a table' if _write_table(place) else _KINDS.get(kind, 'another value')} is wanted"


def _choices(expected: str) -> list[str]:
    """Take apart pydantic's list of words: ``'us' or 'metric'``."""
    return [word.strip(" '") for word in expected.replace(" or ", ",").split(",")]


def _keys_at(place: Place, keys: Keys) -> Mapping[str, str | None]:
    """Return the keys of the table that a value stands in."""
    if len(place) == 1:
        return keys.get("", {})
    inner = (str(part) for part in reversed(place[:-1]) if part in keys)
    return keys.get(next(inner, ""), {})


def _where_else(key: str, place: Place, keys: Keys) -> str:
    known = list(_keys_at(place, keys))
    nearest = _nearest(key, known)
    if nearest:
        return f'Did you mean "{nearest}"?'
    others = [_inside((name, 0) if name else ("",)) for name, named in keys.items() if key in named]
    return f"It belongs {' or '.join(others)}." if others else suggest(key, known)


def _inside(place: Place) -> str:
    if len(place) == 1:
        return "at the top of the file, above the first table"
    return f"in {_whose(place)}"


def _whose(place: Place) -> str:
    return "a product of feed" if "feed" in (place[0], *place[2:-1]) else _header(place)


def _header(place: Place) -> str:
    return f"[[{place[0]}]]" if place[0] in LISTS else f"[{place[0]}]"


def _write_table(place: Place) -> str | None:
    """Say how a table of the file is written, where it is the table itself that is wrong."""
    if place[0] in TABLES and all(isinstance(part, int) for part in place[1:]):
        return f"Write {_header(place)} on a line of its own, and its keys below."
    return None


def _nearest(wrong: str, known: Iterable[str]) -> str | None:
    lower = {word.lower(): word for word in known}
    close = difflib.get_close_matches(wrong.lower().replace("-", "_"), lower, n=1, cutoff=0.6)
    close = close or difflib.get_close_matches(wrong.lower(), lower, n=1, cutoff=0.6)
    return lower[close[0]] if close else None


def parse_forecast(text: str) -> str:
    """Read the name of a forecast's file, or its address on the network."""
    if not is_address(text):
        return parse_file_name(text)
    if any(sign.isspace() or not sign.isprintable() for sign in text) or not text.partition("://")[2]:
        raise InputError("not an address", value=text, remedy='Write it as "https://example.org/a.json".')
    return text


def is_address(text: str) -> bool:
    """Tell an address on the network from the name of a file."""
    return text.lower().startswith(("http://", "https://"))


def parse_archive(text: str) -> str:
    """Read the base address of an archive of station records."""
    if not is_address(text):
        raise InputError("not an address", value=text, remedy='Write it as "https://example.org/ghcn".')
    return parse_forecast(text)
