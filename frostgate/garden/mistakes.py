"""Every mistake of a garden file, with its line and what to do."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, NamedTuple

from frostgate.errors import InputError

Place = tuple[str | int, ...]


class GardenFileError(InputError):
    """A garden file that cannot be used as it stands.

    Parameters
    ----------
    mistakes
        Every one that was found, in order of lines.
    """

    def __init__(self, file: Path, mistakes: Iterable[InputError]) -> None:
        ordered = sorted(mistakes, key=lambda mistake: mistake.line or 0)
        self.mistakes = tuple(_placed(mistake, file) for mistake in ordered)
        first = self.mistakes[0]
        if len(self.mistakes) == 1:
            super().__init__(first.what, file=file, line=first.line, value=first.value, remedy=first.remedy)
        else:
            super().__init__(
                f"{len(self.mistakes)} mistakes in the garden file",
                file=file,
                line=first.line,
                remedy="Mend each of the mistakes listed.",
            )

    def __str__(self) -> str:
        """List every mistake; one alone is written as any other error."""
        if len(self.mistakes) == 1:
            return super().__str__()
        lines = (str(_placed(mistake, None)) for mistake in self.mistakes)
        return "\n  ".join((f"{self.file}: {self.what}.", *lines))

    def as_dict(self) -> dict[str, Any]:
        """Return the parts, and each mistake's own under ``mistakes``."""
        return super().as_dict() | {"mistakes": [mistake.as_dict() for mistake in self.mistakes]}


@dataclass(frozen=True, slots=True)
class Mistake:
    """What is wrong, and where among the values."""

    place: Place
    what: str
    value: object = None
    remedy: str | None = None


def _placed(mistake: InputError, file: Path | None) -> InputError:
    return InputError(mistake.what, file=file, line=mistake.line, value=mistake.value, remedy=mistake.remedy)


LONGEST = 100  # lines of one statement; no list of a garden is as long
DEEPEST = 4  # tables within tables of one statement that are told apart
MOST_FAULTS = 20
TOO_DEEP = "brackets within brackets, too deep to read"
_AT_LINE = re.compile(r"\s*\(at (?:line (\d+), column \d+|end of document)\)$")
_ASSIGNMENT = re.compile(r"\s*(?:\"([^\"]*)\"|'([^']*)'|([A-Za-z0-9_-]+))\s*=")
_ONE_A_LINE = 'Write one statement on a line, such as risk = "10%"; texts stand between straight quotes.'
_TWO_BRACKETS = "Write [[...]] with two brackets for each one of several; every other table stands once."
_IN_WORDS = {
    "Illegal character '\\n'": ("a text without its closing quote", _ONE_A_LINE),
    "Unterminated string": ("a text without its closing quotes", _ONE_A_LINE),
    "Invalid value": ("neither a number, a text in quotes, true or false, nor a list", _ONE_A_LINE),
    "Expected newline": ("more on the line than one value", _ONE_A_LINE),
    "Unclosed array": ("a list without its closing bracket, or a comma between two values", _ONE_A_LINE),
    "Unclosed inline table": ("a table in braces without its closing brace on the same line", _ONE_A_LINE),
    "Expected '='": ("neither a table in brackets nor a key with a value", _ONE_A_LINE),
    "Cannot overwrite": ("a key that stands twice in its table", "Leave one of the two."),
    "Cannot declare": ("a table that stands twice", _TWO_BRACKETS),
    "Exceeds the limit": ("a number of thousands of digits", "Write the number that is meant."),
}


class _Run(NamedTuple):
    """Lines that are TOML alone: the first and the last, counted from 1, and what they say."""

    line: int
    last: int
    said: dict[str, Any]
    opens_table: bool


@dataclass(frozen=True, eq=False)
class Statements:
    r"""What a TOML text says, and where.

    Parameters
    ----------
    text
        The text; lines that are not TOML are blank in it.
    values
        As the TOML reader gives them; None where it could make nothing of the text.
    faults
        What is not TOML, each with its line.
    lost
        Keys whose lines are not TOML.
    """

    text: str
    values: dict[str, Any] | None
    faults: tuple[InputError, ...]
    lost: frozenset[str]

    @cached_property
    def _lines(self) -> dict[Place, int]:
        return dict(reversed(list(_find_places(self.text))))

    def line_of(self, place: Place) -> int | None:
        """Find the line of a value, or of the nearest statement that holds it; lines count from 1.

        A table that stands alone is also found as the first of a list.
        """
        while place:
            alone = (*place[:1], *place[2:]) if place[1:2] == (0,) else place
            line = self._lines.get(place, self._lines.get(alone))
            if line is not None:
                return line
            place = place[:-1]
        return None


def read_statements(text: str) -> Statements:
    """Read a TOML text; go on past a line that is not TOML where the line can be told from its neighbours."""
    lines = text.replace("\r\n", "\n").split("\n")
    faults: list[InputError] = []
    lost: set[str] = set()
    values = None
    while values is None and len(faults) < MOST_FAULTS:
        try:
            values = tomllib.loads("\n".join(lines))
        except RecursionError:
            faults.append(InputError(TOO_DEEP, line=_first_unread(lines)))
            break
        except ValueError as fault:  # numbers of thousands of digits raise no TOML error
            line = _line_of_fault(str(fault), lines)
            faults.append(_explain(str(fault), line, lines))
            key = _key_alone(line, lines)
            if key is None:
                break
            lost.add(key)
            lines[line - 1] = ""
    return Statements(text="\n".join(lines), values=values, faults=tuple(faults), lost=frozenset(lost))


def _find_places(text: str) -> Iterator[tuple[Place, int]]:
    table: Place = ()
    counts: dict[Place, int] = {}
    for run in _runs(text.split("\n")):
        if run.opens_table:
            table = _enter(run.said, counts)
            yield table, run.line
            yield table[:1], run.line
        else:
            for place in _keys(run.said):
                yield (*table, *place), run.line


def _runs(lines: list[str]) -> Iterator[_Run]:
    """Cut into the shortest runs that are TOML alone, up to the first that is not."""
    first = 0
    while first < len(lines):
        for after in range(first + 1, min(first + LONGEST, len(lines)) + 1):
            said = _alone("\n".join(lines[first:after]))
            if said is not None:
                break
        else:
            return
        yield _Run(first + 1, after, said, lines[first].lstrip().startswith("["))
        first = after


def _alone(text: str) -> dict[str, Any] | None:
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError):
        return None


def _enter(said: dict[str, Any], counts: dict[Place, int]) -> Place:
    """Follow a header such as ``[[site]]`` to its place, counting the tables of each list."""
    place: Place = ()
    inner: Any = said
    while isinstance(inner, dict) and inner:
        key, inner = next(iter(inner.items()))
        place = (*place, key)
        if isinstance(inner, list):
            counts[place] = counts.get(place, -1) + 1
            return (*place, counts[place])
        if place in counts:
            place = (*place, counts[place])
    return place


def _keys(said: dict[str, Any], deepest: int = DEEPEST) -> Iterator[Place]:
    for key, value in said.items():
        yield (key,)
        if isinstance(value, dict) and deepest > 0:
            yield from ((key, *inner) for inner in _keys(value, deepest - 1))


def _first_unread(lines: list[str]) -> int:
    """Find the line of the first statement that cannot be read alone; 0 where all can."""
    last = 0
    for run in _runs(lines):
        last = run.last
    return last + 1 if last < len(lines) else 0


def _line_of_fault(fault: str, lines: list[str]) -> int:
    """Find the line to blame: the reader's own, or that where the unfinished statement began."""
    found = _AT_LINE.search(fault)
    told = int(found[1]) if found and found[1] else 0
    if told and (fault.startswith("Cannot") or _alone(lines[told - 1]) is None):
        return told
    return _first_unread(lines) or told or len(lines)


def _explain(fault: str, line: int, lines: list[str]) -> InputError:
    words, told = _AT_LINE.sub("", fault), _AT_LINE.search(fault)
    if told and told[1] and int(told[1]) > line:
        words = "Unclosed array"
    what, remedy = next(
        (said for begins, said in _IN_WORDS.items() if words.startswith(begins)),
        (f"not TOML: {words[:1].lower()}{words[1:]}", _ONE_A_LINE),
    )
    return InputError(what, line=line, value=lines[line - 1].strip() or None, remedy=remedy)


def _key_alone(line: int, lines: list[str]) -> str | None:
    """Return the key of a line that is certainly the whole faulty statement, or None."""
    match = _ASSIGNMENT.match(lines[line - 1])
    if match is None or _first_unread(lines[: line - 1]):
        return None
    return match[1] or match[2] or match[3] or None
