"""Values that know where in their file they stand, so that an error can name the place; strict JSON."""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass
from pathlib import Path

from frostgate.errors import InputError

_LONGEST_NUMBER = 40  # characters; no temperature, time or longitude needs more
_ENTRY = re.compile(r"entry \d+$")
_KEY_OR_BRACKET = re.compile(r'("(?:[^"\\]|\\.)*")(\s*:)?|[{}\[\]]')
_STRING_OR_WORD = re.compile(r'"(?:[^"\\]|\\.)*"|[-+.\w]+')


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A spot in a file: a line of a table, or a position in a document.

    Parameters
    ----------
    file
        The file, or None where the value was said by the grower.
    line
        Its line, from 1.
    name
        A column, or a position in words; entries count from 1.
    """

    file: Path | None
    line: int | None = None
    name: str = ""

    @property
    def words(self) -> str:
        """The spot without its file, for an error about two spots."""
        return self.name if self.line is None else f"line {self.line}"

    def fault(
        self,
        what: str,
        value: object = None,
        remedy: str | None = None,
        *,
        kind: type[InputError] = InputError,
    ) -> InputError:
        """Return the error that names this spot, to be raised."""
        said = f"{what} ({self.name})" if self.name else what
        return kind(said, file=self.file, line=self.line, value=value, remedy=remedy)


@dataclass(frozen=True, slots=True, kw_only=True)
class JsonValue:
    """A value of a JSON document, read only as the type that is due.

    Parameters
    ----------
    value
        What stands there; None for null and for a name that is not there.
    spot
        Where it stands.
    """

    value: object
    spot: Spot

    @property
    def given(self) -> bool:
        """Whether anything but null stands there."""
        return self.value is not None

    def names(self) -> list[str]:
        """Return the names in an object, in the file's order; none where it is no object."""
        return list(self.value) if isinstance(self.value, dict) else []

    def at(self, name: str) -> JsonValue:
        """Return what an object holds under a name."""
        if not isinstance(self.value, dict):
            raise self._refusal("an object {...}")
        joint = "" if not self.spot.name else ", " if _ENTRY.search(self.spot.name) else "."
        return self._beneath(self.value.get(name), f"{self.spot.name}{joint}{name}")

    def required(self, name: str) -> JsonValue:
        """Return what an object holds under a name that may hold null, but not be left out."""
        found = self.at(name)
        if not self.has(name):
            raise found.spot.fault("missing", remedy="Fetch the file again.")
        return found

    def has(self, *path: str) -> bool:
        """Return whether names lead from object to object to something that is there."""
        found = self.value
        for name in path:
            if not isinstance(found, dict) or name not in found:
                return False
            found = found[name]
        return True

    def elements(self) -> list[JsonValue]:
        """Return the entries of an array."""
        if not isinstance(self.value, list):
            raise self._refusal("an array [...]")
        return [self._beneath(v, f"{self.spot.name}, entry {i}") for i, v in enumerate(self.value, start=1)]

    def number(self) -> float:
        """Return a number; NaN for null."""
        if self.value is None:
            return math.nan
        if isinstance(self.value, bool) or not isinstance(self.value, int | float):
            raise self._refusal("a number or null")
        return float(self.value)

    def whole(self) -> int:
        """Return a whole number."""
        if isinstance(self.value, bool) or not isinstance(self.value, int):
            raise self._refusal("a whole number")
        return self.value

    def text(self) -> str:
        """Return a text."""
        if not isinstance(self.value, str):
            raise self._refusal("a text")
        return self.value

    def truth(self) -> bool:
        """Return true or false."""
        if not isinstance(self.value, bool):
            raise self._refusal("true or false")
        return self.value

    def _beneath(self, value: object, name: str) -> JsonValue:
        return JsonValue(value=value, spot=Spot(file=self.spot.file, name=name))

    def _refusal(self, due: str) -> InputError:
        if self.value is None:
            return self.spot.fault(f"missing or null where {due} is due", remedy="Fetch the file again.")
        shown = json.dumps(self.value, ensure_ascii=False)
        return self.spot.fault(f"not {due}", value=shown, remedy="Fetch the file again.")


class _UnfitError(ValueError):
    """Something that Python's reader would let pass and JSON does not allow."""

    def __init__(self, what: str, token: str, line: int | None) -> None:
        super().__init__(what)
        self.what, self.token, self.line = what, token, line


def parse_json(text: str, file: Path) -> JsonValue:
    """Read JSON to the letter: no name twice in an object, no NaN, no number too large to hold."""

    def number(token: str) -> float:
        found = float(token) if len(token) <= _LONGEST_NUMBER else math.inf
        if not math.isfinite(found):
            raise _UnfitError("a number that is none, or too large", token, _line_of_word(text, token))
        return found

    def whole(token: str) -> int:
        number(token)
        return int(token)

    def single(pairs: list[tuple[str, object]]) -> dict[str, object]:
        names = [name for name, _ in pairs]
        if len(set(names)) < len(names):
            twice = next(name for name in names if names.count(name) > 1)
            raise _UnfitError("a name that stands twice in one object", twice, _line_of_repeat(text))
        return dict(pairs)

    try:
        value = json.loads(
            text, parse_float=number, parse_int=whole, parse_constant=number, object_pairs_hook=single
        )
    except json.JSONDecodeError as fault:
        raise _not_json(fault, file) from None
    except _UnfitError as fault:
        remedy = "Fetch it again, or write null where a value is missing."
        raise InputError(fault.what, file=file, line=fault.line, value=fault.token, remedy=remedy) from None
    except RecursionError:
        raise InputError(
            "JSON nested too deeply for a forecast", file=file, remedy="Fetch it again."
        ) from None
    return JsonValue(value=value, spot=Spot(file=file))


def _not_json(fault: json.JSONDecodeError, file: Path) -> InputError:
    rest = fault.doc[fault.pos : fault.pos + 30].strip()
    return InputError(
        f"not complete JSON: {fault.msg}",
        file=file,
        line=fault.lineno,
        value=rest or "the end of the file",
        remedy="Fetch it again; it may have been cut short.",
    )


def _line_of_word(text: str, word: str) -> int | None:
    for match in _STRING_OR_WORD.finditer(text):
        if match[0] == word:
            return _line_at(text, match.start())
    return None


def _line_of_repeat(text: str) -> int | None:
    seen: list[set[str]] = []
    for match in _KEY_OR_BRACKET.finditer(text):
        if match[0] in "{[":
            seen.append(set())
        elif match[0] in "}]":
            seen.pop()
        elif match[2]:
            name = json.loads(match[1])
            if name in seen[-1]:
                return _line_at(text, match.start())
            seen[-1].add(name)
    return None


def _line_at(text: str, position: int) -> int:
    return text.count("\n", 0, position) + 1
