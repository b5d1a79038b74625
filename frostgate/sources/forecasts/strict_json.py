"""JSON to the letter, read into values that know where they stand, so that an error can name the place."""

from __future__ import annotations

import itertools
import json
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from frostgate.errors import InputError
from frostgate.sources.text import Spot

Kind = TypeVar("Kind")

_LONGEST_NUMBER = 40  # characters; no temperature, time or longitude needs more
_MOST_VALUES = 200_000  # a gridpoint document has some 20,000 (from memory)
_TEXT = r'"(?:[^"\\]++|\\.)*+"'  # possessive: what is long costs no memory of how it was read
FETCH_AGAIN = "Fetch the file again."
_DUE: dict[type, str] = {
    dict: "an object {...}",
    list: "an array [...]",
    int: "a whole number",
    float: "a number or null",
    str: "a text",
    bool: "true or false",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class JsonValue:
    """A value of a JSON document, read only as the type that is due."""

    value: object  # None for null and for a name that is not there
    spot: Spot

    def fault(self, what: str, remedy: str = FETCH_AGAIN) -> InputError:
        """Return the error that names this value, to be raised."""
        return self.spot.fault(what, self.value, remedy)

    def names(self) -> list[str]:
        """Return the names in an object, in the file's order; none where it is no object."""
        return list(self.value) if isinstance(self.value, dict) else []

    def has(self, *path: str) -> bool:
        """Return whether names lead from object to object to something that is there."""
        found = self.value
        for name in path:
            if not isinstance(found, dict) or name not in found:
                return False
            found = found[name]
        return True

    def at(self, name: str) -> JsonValue:
        """Return what an object holds under a name."""
        held = self.read(dict).get(name)
        joint = "" if not self.spot.name else ", " if re.search(r"entry \d+$", self.spot.name) else "."
        return JsonValue(value=held, spot=Spot(file=self.spot.file, name=f"{self.spot.name}{joint}{name}"))

    def required(self, name: str) -> JsonValue:
        """Return what an object holds under a name that may hold null, but not be left out."""
        found = self.at(name)
        if not self.has(name):
            raise found.fault("missing")
        return found

    def elements(self) -> list[JsonValue]:
        """Return the entries of an array."""
        spots = (Spot(file=self.spot.file, name=f"{self.spot.name}, entry {n}") for n in itertools.count(1))
        return [JsonValue(value=one, spot=next(spots)) for one in self.read(list)]

    def number(self) -> float:
        """Return a number; NaN for null."""
        if self.value is None:
            return math.nan
        return float(self.value if type(self.value) is int else self.read(float))

    def read(self, kind: type[Kind]) -> Kind:
        """Return a value that must be there and of this very type: true is no number."""
        if type(self.value) is kind:
            return self.value
        if self.value is None:
            raise self.fault(f"missing or null where {_DUE[kind]} is due")
        raise self.spot.fault(f"not {_DUE[kind]}", json.dumps(self.value, ensure_ascii=False), FETCH_AGAIN)


def parse_json(text: str, file: Path) -> JsonValue:
    """Read JSON to the letter: no name twice in an object, no NaN, no number too large to hold."""

    def unfit(what: str, shown: str, line: int | None) -> InputError:
        remedy = "Fetch it again, or write null where a value is missing."
        return InputError(what, file=file, line=line, value=shown, remedy=remedy)

    def number(token: str) -> float:
        found = float(token) if len(token) <= _LONGEST_NUMBER else math.inf
        if not math.isfinite(found):
            words = re.finditer(rf"{_TEXT}|[-+.\w]+", text)
            line = next((_line_at(text, word) for word in words if word[0] == token), None)
            raise unfit("a number that is none, or too large", token, line)
        return found

    def whole(token: str) -> int:
        number(token)
        return int(token)

    def single(pairs: list[tuple[str, object]]) -> dict[str, object]:
        if len(found := dict(pairs)) < len(pairs):
            raise unfit("a name that stands twice in one object", *next(_repeats(text)))
        return found

    if (values := text.count(",") + 1) > _MOST_VALUES:
        what, remedy = f"{values} values, more than any forecast has", "Ask the service for minima alone."
        raise InputError(what, file=file, remedy=remedy)
    try:
        value = json.loads(
            text, parse_float=number, parse_int=whole, parse_constant=number, object_pairs_hook=single
        )
    except json.JSONDecodeError as fault:
        rest = text[fault.pos : fault.pos + 30].strip() or "the end of the file"
        what, remedy = f"not complete JSON: {fault.msg}", "Fetch it again; it may have been cut short."
        raise InputError(what, file=file, line=fault.lineno, value=rest, remedy=remedy) from None
    except RecursionError:
        raise InputError("JSON nested too deeply for a forecast", file=file, remedy=FETCH_AGAIN) from None
    return JsonValue(value=value, spot=Spot(file=file))


def _repeats(text: str) -> Iterator[tuple[str, int]]:
    """Yield the names that stand once more in one object, each with its line."""
    seen: list[set[str]] = []
    for match in re.finditer(rf"({_TEXT})(\s*:)?|[{{}}\[\]]", text):
        if match[0] in "{[":
            seen.append(set())
        elif match[0] in "}]":
            seen.pop()
        elif match[2]:
            name = json.loads(match[1])
            if name in seen[-1]:
                yield name, _line_at(text, match)
            seen[-1].add(name)


def _line_at(text: str, match: re.Match[str]) -> int:
    return text.count("\n", 0, match.start()) + 1
