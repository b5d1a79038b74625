"""Mistakes of a garden file in the grower's words."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from frostgate.garden.mistakes import Mistake, Place

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
    """Turn pydantic's errors into the grower's words.

    Parameters
    ----------
    errors
        As ``ValidationError.errors()`` gives them.
    keys
        The keys of each table, with examples; those of the top stand under the empty name.
    lost
        Keys that stand in the file, on lines that cannot be read: they are not missing.

    Examples
    --------
    >>> error = {"type": "int_type", "loc": ("pots", 0, "count"), "msg": "", "input": "12"}
    >>> [(mistake.what, mistake.remedy) for mistake in explain([error], {"pots": {"count": "12"}})]
    [('count: a whole number is wanted', 'Write it as count = 12.')]
    """
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
    """Say which word may have been meant, and which there are.

    Examples
    --------
    >>> suggest("establishd", ["established", "cutting"])
    'Did you mean "established"? Possible: established, cutting.'
    """
    words = list(known)
    nearest = _nearest(wrong, words)
    question = f'Did you mean "{nearest}"? ' if nearest else ""
    return f"{question}Possible: {', '.join(words) or 'none'}."


def say_value(value: object) -> str | None:
    """Write a value of the file as it may be shown; tables and lists only by their kind.

    Examples
    --------
    >>> say_value(True), say_value({"a": 1}), say_value(1.5)
    ('true', 'a table', '1.5')
    """
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
    """Give the keys of the table that a value stands in."""
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
