"""The statements of a garden file, each with its line, and what in them is not TOML, in words."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from frostgate.errors import InputError

Place = tuple[str | int, ...]  # of a value, such as ("site", 0, "record")

MOST_FAULTS = 20
TOO_DEEP = "brackets within brackets, too deep to read"
_DEEPEST = 5  # keys of one statement; no garden has a table that lies deeper
_PART = re.compile(
    r'"""(?:\\.|[^\\])*?(?:"{3,5}|\Z)'  # a text of several lines, to the end where nothing closes it
    r"|'''.*?(?:'{3,5}|\Z)"
    r'|"(?:\\[^\n]|[^"\\\n])*"?'
    r"|'[^'\n]*'?"
    r"|#[^\n]*|[\[\]{}\n]",
    re.DOTALL,
)
_KEY = r"""(?:"[^"\n]*"|'[^'\n]*'|[\w-]+)"""
_HEAD = re.compile(rf"\s*(\[\[?)?\s*({_KEY}(?:\s*\.\s*{_KEY})*)\s*(?(1)\]|=)")
_AT_LINE = re.compile(r"\s*\(at (?:line (\d+), column \d+|end of document)\)$")
_ONE_A_LINE = 'Write one statement on a line, such as risk = "10%"; texts stand between straight quotes.'
_TWO_BRACKETS = "Write [[...]] with two brackets for each one of several; every other table stands once."
_NOT_TOML = {
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


@dataclass(frozen=True, eq=False)
class Statements:
    """What a TOML text says, and where."""

    text: str  # lines that are not TOML are blank in it
    values: dict[str, Any] | None  # None where the reader could make nothing of the text
    faults: tuple[InputError, ...]  # what is not TOML, each with its line
    lost: frozenset[str]  # keys whose lines are not TOML

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

    @cached_property
    def _lines(self) -> dict[Place, int]:
        lines: dict[Place, int] = {}
        table: Place = ()
        counts: dict[Place, int] = {}  # of the tables in each list, from 0
        for line, (brackets, keys) in _heads(self.text).items():
            if brackets == "[[":
                listed = (*_inner(keys[:-1], counts), keys[-1])
                counts[listed] = counts.get(listed, -1) + 1
            if brackets:
                table = _inner(keys, counts)
                places = [table[:1], table]
            else:
                places = [(*table, *keys[:depth]) for depth in range(1, len(keys) + 1)]
            for place in places:
                lines.setdefault(place, line)
        return lines


def _inner(keys: Place, counts: Mapping[Place, int]) -> Place:
    """Follow a header's keys to its place, which may be the last table of a list."""
    place: Place = ()
    for key in keys:
        place = (*place, key)
        if place in counts:
            place = (*place, counts[place])
    return place


def _heads(text: str) -> dict[int, tuple[str, tuple[str, ...]]]:
    """Return what each statement begins with, by its line: the brackets of a header, and the keys."""
    heads = ((line, _HEAD.match(statement)) for line, statement in _cut(text))
    return {
        line: (head[1] or "", tuple(key.strip("\"'") for key in re.findall(_KEY, head[2])[:_DEEPEST]))
        for line, head in heads
        if head
    }


def read_statements(text: str) -> Statements:
    """Read a TOML text; go on past a line that is not TOML where the line can be told from its neighbours."""
    import tomllib  # which a kept garden does not need

    text = text.replace("\r\n", "\n")
    faults: list[InputError] = []
    lost: set[str] = set()
    values = None
    while values is None and len(faults) < MOST_FAULTS:
        try:
            values = tomllib.loads(text)
        except RecursionError:
            faults.append(InputError(TOO_DEEP, line=_first_unread(text)))
            break
        except ValueError as fault:  # numbers of thousands of digits raise no TOML error
            faults.append(_blame(str(fault), text))
            line = faults[-1].line or 0
            brackets, keys = _heads(text).get(line, ("", ()))
            if brackets or not keys:
                break
            lost |= {*keys}
            lines = text.split("\n")
            text = "\n".join([*lines[: line - 1], "", *lines[line:]])
    return Statements(text=text, values=values, faults=tuple(faults), lost=frozenset(lost))


def _cut(text: str) -> Iterator[tuple[int, str]]:
    """Cut a text into its statements, each with its line: brackets and quotes hold one open over several."""
    begun, line, depth = 0, 1, 0
    for part in _PART.finditer(text):
        depth += (part[0] in "[{") - (part[0] in "]}")
        if part[0] == "\n" and depth <= 0:
            yield line, text[begun : part.end()]
            line += text.count("\n", begun, part.end())
            begun, depth = part.end(), 0
    yield line, text[begun:]


def _is_toml(text: str) -> bool:
    import tomllib

    try:
        tomllib.loads(text)
    except (ValueError, RecursionError):
        return False
    return True


def _first_unread(text: str) -> int:
    """Find the line of the first statement that cannot be read alone; 0 where all can."""
    return next((line for line, statement in _cut(text) if not _is_toml(statement)), 0)


def _blame(fault: str, text: str) -> InputError:
    """Say what is not TOML, on the reader's own line or on that where the unfinished statement began."""
    found, lines = _AT_LINE.search(fault), text.split("\n")
    told = int(found[1]) if found and found[1] else 0
    is_whole = told and (fault.startswith("Cannot") or not _is_toml(lines[told - 1]))
    line = told if is_whole else _first_unread(text) or told or len(lines)
    words = "Unclosed array" if told > line else _AT_LINE.sub("", fault)
    what, remedy = next(
        (said for begins, said in _NOT_TOML.items() if words.startswith(begins)),
        (f"not TOML: {words[:1].lower()}{words[1:]}", _ONE_A_LINE),
    )
    return InputError(what, line=line, value=lines[line - 1].strip() or None, remedy=remedy)
