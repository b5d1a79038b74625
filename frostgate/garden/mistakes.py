"""The statements of a garden file with their lines, and what is wrong with them in the grower's words."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from frostgate.errors import InputError

Place = tuple[str | int, ...]


LONGEST = 100  # lines of one statement; no list of a garden is as long
DEEPEST = 5  # keys of one statement; no garden has a table that lies deeper
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


@dataclass(frozen=True, eq=False)
class Statements:
    """What a TOML text says, and where."""

    text: str  # lines that are not TOML are blank in it
    values: dict[str, Any] | None  # None where the reader could make nothing of the text
    faults: tuple[InputError, ...]  # what is not TOML, each with its line
    lost: frozenset[str]  # keys whose lines are not TOML

    @cached_property
    def _lines(self) -> dict[Place, int]:
        return dict(reversed(list(_find_places(self.text.split("\n")))))

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
            faults.append(_blame(str(fault), lines))
            line = faults[-1].line or 0
            key = _key_alone(line, lines)
            if key is None:
                break
            lost.add(key)
            lines[line - 1] = ""
    return Statements(text="\n".join(lines), values=values, faults=tuple(faults), lost=frozenset(lost))


def _find_places(lines: list[str]) -> Iterator[tuple[Place, int]]:
    table: Place = ()
    counts: dict[Place, int] = {}  # of the tables in each list, from 0
    for first, _, said in _runs(lines):
        keys, line, header = _own_keys(said), first + 1, lines[first].lstrip()
        if header.startswith("["):
            table = _enter(keys, counts, another=header.startswith("[["))
            yield from ((table, line), (table[:1], line))
        else:
            yield from (((*table, *keys[:depth]), line) for depth in range(1, len(keys) + 1))


def _runs(lines: list[str]) -> Iterator[tuple[int, int, dict[str, Any]]]:
    """Cut into the shortest runs of lines that are TOML alone, up to the first that is not."""
    first = 0
    while first < len(lines):
        for after in range(first + 1, min(first + LONGEST, len(lines)) + 1):
            said = _alone("\n".join(lines[first:after]))
            if said is not None:
                break
        else:
            return
        yield first, after, said
        first = after


def _alone(text: str) -> dict[str, Any] | None:
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError):
        return None


def _enter(keys: Place, counts: dict[Place, int], *, another: bool) -> Place:
    """Follow a header to its place, which may be that of another table of its list."""
    place: Place = ()
    for depth, key in enumerate(keys, 1):
        place = (*place, key)
        if another and depth == len(keys):
            counts[place] = counts.get(place, -1) + 1
        if place in counts:
            place = (*place, counts[place])
    return place


def _own_keys(said: dict[str, Any]) -> Place:
    """Return the keys of one statement from the outermost in: all that it holds stands on the line of one."""
    keys: Place = ()
    inner: Any = said
    while isinstance(inner, dict) and inner and len(keys) < DEEPEST:
        key, inner = next(iter(inner.items()))
        keys = (*keys, key)
    return keys


def _first_unread(lines: list[str]) -> int:
    """Find the line of the first statement that cannot be read alone; 0 where all can."""
    *_, last = (0, *(after for _, after, _ in _runs(lines)))
    return last + 1 if last < len(lines) else 0


def _blame(fault: str, lines: list[str]) -> InputError:
    """Say what is not TOML, on the reader's own line or on that where the unfinished statement began."""
    found = _AT_LINE.search(fault)
    told = int(found[1]) if found and found[1] else 0
    is_whole = told and (fault.startswith("Cannot") or _alone(lines[told - 1]) is None)
    line = told if is_whole else _first_unread(lines) or told or len(lines)
    words = "Unclosed array" if told > line else _AT_LINE.sub("", fault)
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


Keys = Mapping[str, Mapping[str, str | None]]  # of each table, with an example of the value

LISTS = ("site", "pots", "product", "no_feeding", "phase")
TABLE = "a table"
IN_WORDS = "in words"  # type of the errors that carry their own words
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


def explain(errors: Iterable[Mapping[str, Any]], keys: Keys, statements: Statements) -> Iterator[InputError]:
    """Say pydantic's errors in the grower's words, each with its line; what is misspelt is not missing."""
    errors = [{**error, "loc": _place_of(error)} for error in errors]
    meant = {
        (*error["loc"][:-1], _nearest(str(error["loc"][-1]), keys[_table_and_key(error["loc"], keys)[0]]))
        for error in errors
        if error["type"] == "extra_forbidden"
    }
    for error in errors:
        place = error["loc"]
        lacks = place[-1] if error["type"] == "missing" else error.get("ctx", {}).get("lacks")
        if lacks is None or ((*place[:-1], lacks) not in meant and lacks not in statements.lost):
            what, value, remedy = _explain_one(error, keys)
            yield InputError(what, line=statements.line_of(place), value=value, remedy=remedy)


def _place_of(error: Mapping[str, Any]) -> Place:
    """Return where a value stands, or should: pydantic names a default by its field, not by its key."""
    place: Place = error["loc"]
    return (*place[:-1], error["ctx"]["key"]) if error["type"] == "missing" and "ctx" in error else place


def _table_and_key(place: Place, keys: Keys) -> tuple[str, str]:
    """Return the table that a value stands in, the top's name being empty, and the value's key."""
    *outer, key = (part for part in place if isinstance(part, str))
    return next((part for part in reversed(outer) if part in keys), ""), key


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


def _explain_one(error: Mapping[str, Any], keys: Keys) -> tuple[str, object, str | None]:
    """Return what is wrong, the value, and what to do."""
    value = say_value(error["input"])
    table, key = _table_and_key(error["loc"], keys)
    example, is_table = keys[table].get(key), not table and key in keys
    remedy = f"Write it as {key} = {example}." if example else None
    if is_table:
        remedy = f"Write {_named(key)} on a line of its own, and its keys below."
    details: dict[str, Any] = error.get("ctx") or {}
    match error["type"]:
        case "in words":  # IN_WORDS
            what = f"{details.get('key', key)}: {details['what']}"
            value = None if value == TABLE else value
            return what, value if details["value"] is None else details["value"], details["remedy"] or remedy
        case "extra_forbidden":
            what = "no such table" if value == TABLE and not table else f"no such key {_inside(table)}"
            return what, key, _where_else(key, table, keys)
        case "missing":
            what = f"no {_named(key)} in the file" if is_table else f"{_named(table)} lacks {key!r}"
            return what, None, remedy if is_table else f"Add {key} = {example}{details.get('hint', '')}."
        case "literal_error":
            what = f"{key}: not one of the words that can stand here"
            return what, value, suggest(str(value), _choices(details["expected"]))
        case "too_short":
            return f"{key}: an empty list", None, remedy
    wanted = "a table" if is_table else _wanted(error["type"], details)
    return f"{key}: {wanted} is wanted", value, remedy


def _wanted(kind: str, details: Mapping[str, Any]) -> str:
    if kind == "greater_than_equal":
        return f"{details['ge']:g} or more"
    if kind == "less_than_equal":
        return f"{details['le']:g} or less"
    return _KINDS.get(kind, "another value")


def _choices(expected: str) -> list[str]:
    """Take apart pydantic's list of words: ``'us' or 'metric'``."""
    return [word.strip(" '") for word in expected.replace(" or ", ",").split(",")]


def _where_else(key: str, table: str, keys: Keys) -> str:
    nearest = _nearest(key, keys[table])
    if nearest:
        return f'Did you mean "{nearest}"?'
    others = [_inside(name) for name, named in keys.items() if key in named]
    return f"It belongs {' or '.join(others)}." if others else suggest(key, keys[table])


def _inside(table: str) -> str:
    return f"in {_named(table)}" if table else "at the top of the file, above the first table"


def _named(table: str) -> str:
    if table == "feed":
        return "a product of feed"
    return f"[[{table}]]" if table in LISTS else f"[{table}]"


def _nearest(wrong: str, known: Iterable[str]) -> str | None:
    alike = {word.lower().replace("-", "_"): word for word in known}
    close = difflib.get_close_matches(wrong.lower().replace("-", "_"), alike, n=1)
    return alike[close[0]] if close else None
