"""What an entry must hold, by its kind: checked before it is written, and before it is taken in."""

from __future__ import annotations

import datetime as dt
import json
import math
from collections.abc import Callable, Mapping
from typing import Any, cast

from frostgate.errors import InputError
from frostgate.patterns import pattern
from frostgate.terms.journal import ENTRY_KINDS, Entry, EntryKind
from frostgate.units import COLDEST_C, HOTTEST_C
from frostgate.values import dataclass

LONGEST_BODY = 32_000  # characters; spreadsheets cut a cell off at 32,767
DEEPEST_BODY = 20
LARGEST_WHOLE = 2**63
OF_A_GROUP: frozenset[EntryKind] = frozenset({"feeding", "bud break", "fruit set"})
OF_THE_GARDEN: frozenset[EntryKind] = frozenset({"minimum", "forecast", "verdict"})
STATES = ("open", "shut", "unknown")
FEEDING_KINDS = ("liquid", "top-dressing")

_ID = pattern(r"[0-9A-Za-z][0-9A-Za-z._-]{0,63}")
_HALVES = pattern(r"[\ud800-\udfff]")
_UNFIT_IN_A_NAME = pattern(r"[\x00-\x1f\x7f-\x9f\ud800-\udfff]")


def check_entry(entry: Entry) -> None:
    """Refuse an entry that no reader of the journal could use.

    Raises
    ------
    InputError
        Says which part does not fit.

    Examples
    --------
    >>> check_entry(Entry(id="1", made_at=dt.datetime(2026, 4, 12, 7), on=dt.date(2026, 4, 12),
    ...                   kind="minimum", body={"tmin_c": "cold"}))
    Traceback (most recent call last):
    ...
    frostgate.errors.InputError: the tmin_c of a minimum is not a temperature in °C: 'cold'. ...
    """
    if not _ID().fullmatch(entry.id):
        raise InputError("not an entry's id", value=entry.id, remedy="An id is a UUID, as the export has it.")
    if entry.kind not in ENTRY_KINDS:
        known = ", ".join(ENTRY_KINDS)
        raise InputError("no entry is of this kind", value=entry.kind, remedy=f"Kinds: {known}.")
    if entry.made_at.tzinfo is not None:
        raise InputError("a time with an offset from UTC", value=entry.made_at, remedy=_LOCAL)
    if (entry.kind == "undo") != (entry.undoes is not None) or entry.undoes == entry.id:
        what = "an undo names the entry that it takes back, and no other entry does"
        raise InputError(what, value=entry.undoes or "nothing", remedy=_AS_EXPORTED)
    _check_group(entry)
    _check_body(entry)


def body_text(body: Mapping[str, Any]) -> str:
    """Write a body as JSON, the same for the same content.

    Raises
    ------
    InputError
        Where it holds what JSON cannot, or is too large for a spreadsheet's cell.

    Examples
    --------
    >>> body_text({"tmin_c": -1.5, "note": "by the wall"})
    '{"note": "by the wall", "tmin_c": -1.5}'
    """
    if not _is_plain(dict(body), DEEPEST_BODY):
        raise InputError("not plain JSON values", value=body, remedy="Numbers are finite, keys are texts.")
    text = json.dumps(dict(body), ensure_ascii=False, sort_keys=True)
    if len(text) > LONGEST_BODY:
        most = f"An entry holds {LONGEST_BODY} characters at most."
        raise InputError("an entry that is too long", value=text, remedy=most)
    return text


def parse_body(text: str) -> dict[str, Any]:
    """Read a body from JSON.

    Raises
    ------
    InputError
        Where it is no JSON object, or a key stands in it twice.

    Examples
    --------
    >>> parse_body('{"note": "by the wall"}')
    {'note': 'by the wall'}
    """
    try:
        body = json.loads(text, object_pairs_hook=without_twins, parse_constant=_refuse_constant)
    except (ValueError, RecursionError) as fault:
        raise InputError(f"not JSON ({fault})", value=text, remedy=_AS_EXPORTED) from None
    if not isinstance(body, dict):
        raise InputError("not a JSON object", value=text, remedy=_AS_EXPORTED)
    return body


def without_twins(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Make a JSON object, but of no key twice: one of the two would be lost.

    Examples
    --------
    >>> without_twins([("a", 1), ("a", 2)])
    Traceback (most recent call last):
    ...
    ValueError: 'a' stands there twice
    """
    made = dict(pairs)
    if len(made) < len(pairs):
        twin = next(key for key in made if sum(other == key for other, _ in pairs) > 1)
        raise ValueError(f"{twin!r} stands there twice")
    return made


_LOCAL = "Write the garden's local time, such as 2026-04-12T07:00."
_AS_EXPORTED = "Leave it as the export has it."


def _refuse_constant(name: str) -> None:
    raise ValueError(f"{name} is no number")


def _check_group(entry: Entry) -> None:
    group, kind = entry.group, entry.kind
    if group is None and kind in OF_A_GROUP:
        raise InputError(f"a {kind} of no group", remedy="Name the group of pots.")
    if group is not None and kind in OF_THE_GARDEN:
        raise InputError(f"a {kind} is of the whole garden", value=group, remedy="Leave the group empty.")
    if group is not None and (not group or group != group.strip() or _UNFIT_IN_A_NAME().search(group)):
        raise InputError("not the name of a group", value=group, remedy="Write it as in the garden file.")


def _check_body(entry: Entry) -> None:
    body_text(entry.body)
    for fact in _FACTS[entry.kind]:
        value = entry.body.get(fact.name)
        if value is None and not fact.needed:
            continue
        if not fact.fits(value):
            what = f"the {fact.name} of a {entry.kind} is not {fact.holds}"
            raise InputError(what, value="nothing" if value is None else value, remedy=_AS_EXPORTED)


def _is_text(value: object) -> bool:
    """Tell whether it is text that every file can hold: no halves of characters."""
    return isinstance(value, str) and not _HALVES().search(value)


def _is_plain(value: object, depth: int) -> bool:
    if isinstance(value, dict | list | tuple):
        parts = [*value, *value.values()] if isinstance(value, dict) else value
        keys_fit = not isinstance(value, dict) or all(isinstance(key, str) for key in value)
        return keys_fit and depth > 0 and all(_is_plain(part, depth - 1) for part in parts)
    if isinstance(value, int):
        return abs(value) < LARGEST_WHOLE
    if isinstance(value, float):
        return math.isfinite(value)
    return value is None or _is_text(value)


def _is_number(value: object, least: float = -math.inf, most: float = math.inf) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and least <= value <= most


def _is_temperature(value: object) -> bool:
    return _is_number(value, COLDEST_C, HOTTEST_C)


def _is_date(value: object) -> bool:
    try:
        return isinstance(value, str) and dt.date.fromisoformat(value).isoformat() == value
    except ValueError:
        return False


def _is_local_time(value: object) -> bool:
    try:
        return isinstance(value, str) and dt.datetime.fromisoformat(value).tzinfo is None
    except ValueError:
        return False


def _is_dose(value: object) -> bool:
    if not isinstance(value, Mapping):
        return False
    named, grams = _is_text(value.get("product")), value.get("grams")
    return named and _is_number(grams, 0.0) and cast(float, grams) > 0.0


def _is_night(value: object) -> bool:
    if not isinstance(value, Mapping) or not _is_date(value.get("morning")):
        return False
    tmin_c, sd_c = value.get("tmin_c"), value.get("sd_c")
    return (tmin_c is None or _is_temperature(tmin_c)) and (sd_c is None or _is_number(sd_c, 0.0))


def _each(fits: Callable[[object], bool]) -> Callable[[object], bool]:
    return lambda value: isinstance(value, list | tuple) and all(fits(each) for each in value)


@dataclass(frozen=True, slots=True)
class _Fact:
    """One fact of a body: its name, what it holds, whether a value fits, and whether it must be there."""

    name: str
    holds: str
    fits: Callable[[object], bool]
    needed: bool = False


_NOTE = (_Fact("note", "a text", _is_text),)
_FACTS: dict[EntryKind, tuple[_Fact, ...]] = {
    "feeding": (
        _Fact("phase", "a text", _is_text),
        _Fact("feeding_kind", "liquid or top-dressing", lambda value: value in FEEDING_KINDS, needed=True),
        _Fact("doses", "a list of product and grams", _each(_is_dose), needed=True),
        _Fact(
            "pots",
            "a whole number above 0",
            lambda value: _is_number(value, 1) and value == int(value),  # type: ignore[call-overload]  # a number
        ),
        _Fact("n_per_pot_mg", "a number, 0 or above", lambda value: _is_number(value, 0.0)),
    ),
    "bud break": _NOTE,
    "fruit set": _NOTE,
    "growth": _NOTE,
    "damage": _NOTE,
    "minimum": (_Fact("tmin_c", "a temperature in °C", _is_temperature, needed=True),),
    "forecast": (
        _Fact("source", "a text", _is_text),
        _Fact("issued_at", "a local time", _is_local_time, needed=True),
        _Fact("nights", "a list of morning, tmin_c and sd_c", _each(_is_night), needed=True),
    ),
    "verdict": (
        _Fact("state", "open, shut or unknown", lambda value: value in STATES, needed=True),
        _Fact("risk_today", "a share", lambda value: _is_number(value, 0.0, 1.0)),
        _Fact("risk_tolerance", "a share", lambda value: _is_number(value, 0.0, 1.0)),
        _Fact("earliest_date", "a date", _is_date),
        _Fact("reasons", "a list of texts", _each(_is_text)),
        _Fact("inputs", "a JSON object", lambda value: isinstance(value, Mapping)),
    ),
    "undo": _NOTE,
}
