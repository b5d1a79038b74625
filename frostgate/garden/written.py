"""What stands in a garden file as text: its values read, and a new file written from template.txt."""

from __future__ import annotations

import json
import math
import os
import re
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TypeVar

from frostgate.errors import InputError
from frostgate.files import save
from frostgate.model.gate import LARGEST_TOLERANCE
from frostgate.seasons import find_zone
from frostgate.units import (
    Units,
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

_CHECK = "Check the number and its unit."
_DAYS = re.compile(r"\s*(\d{1,4})\s*(days?|weeks?)\s*", re.IGNORECASE)

Amount = TypeVar("Amount", int, float)


def parse_name(text: str) -> str:
    """Read a name: one line of plain text, not empty, without blanks around it."""
    if not text.isprintable() or text != text.strip() or not 1 <= len(text) <= LONGEST_NAME:
        remedy = f"Write one line of at most {LONGEST_NAME} letters, not empty, without blanks around it."
        raise InputError("not a name", value=text, remedy=remedy)
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


def parse_offset_c(text: str) -> float:
    """Read a difference of temperatures [°C]."""
    return parse_offset(text)[0]


def parse_zone(text: str) -> str:
    """Read the name of a time zone."""
    find_zone(text)
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


def parse_strength(text: str) -> float:
    """Read how strong a feeding is, as a share of the label's rate."""
    remedy = "Write it as full, half, quarter or 75%."
    try:
        strength = STRENGTHS.get(text.strip().lower()) or parse_share(text)
    except InputError:
        raise InputError("not a share of the label's rate", value=text, remedy=remedy) from None
    if strength == 0.0:
        raise InputError("a strength is above 0", value=text, remedy=remedy)
    return strength


def _within(
    read: Callable[[str], Amount], low: float, high: float, what: str, remedy: str = _CHECK
) -> Callable[[str], Amount]:
    """Let a reader refuse what lies outside of bounds."""

    def _read(text: str) -> Amount:
        amount = read(text)
        if not low <= amount <= high:
            raise InputError(what, value=text, remedy=remedy)
        return amount

    return _read


parse_tolerance = _within(
    parse_share, math.ulp(0.0), LARGEST_TOLERANCE,
    "a tolerance lies above 0 and at 50 % or less", "Write for example 10%.",
)  # fmt: skip
parse_spread_c = _within(
    parse_offset_c, 0.0, 10.0, "a spread lies between 0 and 10 °C (18 °F)", "Write it as 1.5F or 0.8C."
)
parse_damage_temp_c = _within(
    lambda text: parse_temperature(text)[0], COLDEST_DAMAGE_C, WARMEST_DAMAGE_C,
    "no flush is killed by such a minimum",
)  # fmt: skip
parse_interval = _within(parse_days, 1, 366, "feedings are at least a day apart", "Write it as 10 days.")
parse_pot_l = _within(parse_volume_l, 0.05, 5000.0, "no pot has such a volume")
parse_per_pot_l = _within(parse_volume_l, 0.01, 500.0, "no pot is given so much or so little")
parse_vessel_l = _within(parse_volume_l, 0.1, 20_000.0, "no bucket or tank has such a volume")
parse_scoop_l = _within(parse_volume_l, 0.0002, 2.0, "no scoop has such a volume")
parse_height_m = _within(parse_length_m, 0.05, 50.0, "no fruit tree has such a height")
parse_nitrogen_g = _within(parse_mass_g, 0.01, 2000.0, "no pot takes so much or so little nitrogen in a year")


def is_address(text: str) -> bool:
    """Tell an address on the network from the name of a file."""
    return text.lower().startswith(("http://", "https://"))


def parse_address(text: str) -> str:
    """Read an address on the network."""
    is_whole = is_address(text) and text.partition("://")[2] and text.isprintable()
    if not is_whole or any(sign.isspace() for sign in text):
        raise InputError("not an address", value=text, remedy='Write it as "https://example.org/name".')
    return text


EXAMPLES: dict[Units, dict[str, str]] = {
    "us": {
        "elevation": "720 ft", "spread": "1.5F", "pot": "9 gal", "per_pot": "3 qt", "height": "6 ft",
        "rate": "2 tsp/gal", "density": "5.1 g/tsp", "pack": "4 lb", "bucket": "3.5 gal",
        "scoops": '"2.5 tsp", "1/2 tsp"', "damage_temp": "32F", "offset": "0F",
    },
    "metric": {
        "elevation": "220 m", "spread": "0.8C", "pot": "30 l", "per_pot": "3 l", "height": "2.1 m",
        "rate": "2.3 g/l", "density": "1.1 g/ml", "pack": "1.7 kg", "bucket": "13 l",
        "scoops": '"12 ml", "5 ml"', "damage_temp": "0C", "offset": "0C",
    },
}  # fmt: skip
_COLUMN = 28  # where comments begin
_INNER = re.compile(r"(\w+) = (\"[^\"]*\"|[0-9.]+)")
_STATEMENT = re.compile(r"(\w+) = (.+?)(?: +# (.+))?")

Stated = Mapping[str, object]  # by the keys of a table; None where nothing is stated


def _sample(units: Units) -> Iterator[tuple[str, str, re.Match[str] | None]]:
    """Return the sample's lines, each with its table, the top's name being empty, and its statement."""
    sample, table = Path(__file__).with_name("template.txt").read_text(encoding="utf-8"), ""
    for line in sample.format_map(EXAMPLES[units]).split("\n"):
        table = line.strip("[]") if line.startswith("[") else table
        yield line, table, _STATEMENT.fullmatch(line)


def examples() -> dict[str, dict[str, str | None]]:
    """Return each table's keys with an example of the value, or the words it may be; None for a table."""
    found: dict[str, dict[str, str | None]] = {"": {}}
    for line, table, statement in _sample("us"):
        if line.startswith("["):
            found[""][table], found[table] = None, {}
        elif statement:
            key, example, comment = statement.groups()
            found[table][key] = comment if comment and comment.startswith('"') else example
            if example.startswith("[{"):  # a list of tables, whose keys stand in braces and behind them
                found[key] = dict(_INNER.findall(line, len(key) + 3))
    return found


def fill_template(units: Units, site: Stated, pots: Stated, product: Stated | None) -> str:
    """Write the text of a new garden file; a key that is not stated stands as a comment, with an example."""
    stated: dict[str, Stated | None] = {"": {"units": units}, "site": site, "pots": pots, "product": product}
    lines = []
    for line, table, statement in _sample(units):
        told, new = stated.get(table), line
        if line.startswith("[["):
            new = f"# {line}" if told is None else line
        elif statement:
            key, example, comment = statement.groups()
            value = (told or {}).get(key)
            new = f"# {key} = {example}" if value is None else f"{key} = {_toml(value)}"
            new = f"{new:<{_COLUMN}}  # {comment}" if comment else new
        lines.append(new)
    return "\n".join(lines)


def _toml(value: object) -> str:
    """Write a value as TOML does; JSON's escapes are among TOML's."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {number:.10g}" for key, number in value.items()) + " }"
    return json.dumps(value, ensure_ascii=False)


def save_new(path: Path, text: str) -> None:
    """Save a new file, whole or not at all; one that is there is left as it is."""
    refuse_existing(path)
    save(path, text)


def refuse_existing(path: Path) -> None:
    """Refuse to write where anything stands, be it a link to nothing."""
    if os.path.lexists(path):
        what = "there is a file of this name already, and it is left as it is"
        raise InputError(what, file=path, remedy="Edit it, rename it first, or name another with --file.")
