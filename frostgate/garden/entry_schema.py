"""What each entry of the journal must hold, and its facts as JSON."""

from __future__ import annotations

import datetime as dt
import json
import math
import re
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from frostgate.errors import InputError
from frostgate.model.garden import ENTRY_KINDS, Entry, EntryKind
from frostgate.units import COLDEST_C, HOTTEST_C

LONGEST_BODY = 32_000  # characters; spreadsheets cut a cell off at 32,767
DEEPEST_BODY = 20
LARGEST_WHOLE = 2**63
AS_EXPORTED = "Leave it as the export has it."
OF_A_GROUP: frozenset[EntryKind] = frozenset({"feeding", "bud break", "fruit set"})
OF_THE_GARDEN: frozenset[EntryKind] = frozenset({"minimum", "forecast", "verdict"})

_ID = re.compile(r"[0-9A-Za-z][0-9A-Za-z._-]{0,63}")
_HALVES = re.compile(r"[\ud800-\udfff]")  # of characters, which no file can hold
_UNFIT_IN_A_NAME = re.compile(r"[\x00-\x1f\x7f-\x9f\ud800-\udfff]")

Fits = Callable[[Any], bool]


def _text(value: Any) -> bool:  # noqa: ANN401  # any value of a body
    return isinstance(value, str) and not _HALVES.search(value)


def _number(least: float = -math.inf, most: float = math.inf, *, whole: bool = False) -> Fits:
    return lambda value: (
        isinstance(value, int | float)
        and not isinstance(value, bool)
        and least <= value <= most
        and (not whole or value == int(value))
    )


def _moment(read: Callable[[str], Any], is_fit: Callable[[Any, str], bool]) -> Fits:
    def _fits(value: Any) -> bool:  # noqa: ANN401  # any value of a body
        try:
            return isinstance(value, str) and is_fit(read(value), value)
        except ValueError:
            return False

    return _fits


def _list_of(fits: Fits) -> Fits:
    return lambda value: isinstance(value, list | tuple) and all(fits(each) for each in value)


class Fact(NamedTuple):
    """One fact of an entry: in words what it is, whether a value fits, and whether it must be there."""

    holds: str
    fits: Fits
    needed: bool = False


Facts = Mapping[str, Fact]


def _wrong_fact(facts: Facts, told: Mapping[str, Any]) -> str | None:
    """Return the name of the first fact that does not fit, or None."""
    for name, fact in facts.items():
        value = told.get(name)
        if (fact.needed or value is not None) and not fact.fits(value):
            return name
    return None


def _table(**facts: Fact) -> Fits:
    return lambda value: isinstance(value, Mapping) and _wrong_fact(facts, value) is None


_DATE = Fact("a date", _moment(dt.date.fromisoformat, lambda day, text: day.isoformat() == text))
_TEMPERATURE = Fact("a temperature in °C", _number(COLDEST_C, HOTTEST_C))
_TEXT = Fact("a text", _text)
_SHARE = Fact("a share", _number(0.0, 1.0))
_DOSE = _table(product=_TEXT._replace(needed=True), grams=Fact("grams", _number(math.ulp(0.0)), needed=True))
_NIGHT = _table(morning=_DATE._replace(needed=True), tmin_c=_TEMPERATURE, sd_c=Fact("a spread", _number(0.0)))

_NOTE: Facts = {"note": _TEXT}
ENTRY_SCHEMA: Mapping[EntryKind, Facts] = {
    "feeding": {
        "phase": _TEXT,
        "feeding_kind": Fact("liquid or top-dressing", ("liquid", "top-dressing").__contains__, needed=True),
        "doses": Fact("a list of product and grams", _list_of(_DOSE), needed=True),
        "pots": Fact("a whole number above 0", _number(1, whole=True)),
        "n_per_pot_mg": Fact("a number, 0 or above", _number(0.0)),
    },
    "bud break": _NOTE,
    "fruit set": _NOTE,
    "growth": _NOTE,
    "damage": _NOTE,
    "minimum": {"tmin_c": _TEMPERATURE._replace(needed=True)},
    "forecast": {
        "source": _TEXT,
        "issued_at": Fact(
            "a local time", _moment(dt.datetime.fromisoformat, lambda at, _: at.tzinfo is None), needed=True
        ),
        "nights": Fact("a list of morning, tmin_c and sd_c", _list_of(_NIGHT), needed=True),
    },
    "verdict": {
        "state": Fact("open, shut or unknown", ("open", "shut", "unknown").__contains__, needed=True),
        "risk_today": _SHARE,
        "risk_tolerance": _SHARE,
        "earliest_date": _DATE,
        "reasons": Fact("a list of texts", _list_of(_text)),
        "inputs": Fact("a JSON object", lambda value: isinstance(value, Mapping)),
    },
    "undo": _NOTE,
}  # the facts of each kind; an entry may tell more


def check_entry(entry: Entry) -> None:
    """Refuse an entry that no reader of the journal could use."""
    if not _ID.fullmatch(entry.id):
        raise InputError("not an entry's id", value=entry.id, remedy="An id is a UUID, as the export has it.")
    if entry.kind not in ENTRY_KINDS:
        known = ", ".join(ENTRY_KINDS)
        raise InputError("no entry is of this kind", value=entry.kind, remedy=f"Kinds: {known}.")
    if entry.made_at.tzinfo is not None:
        remedy = "Write the garden's local time, such as 2026-04-12T07:00."
        raise InputError("a time with an offset from UTC", value=entry.made_at, remedy=remedy)
    if (entry.kind == "undo") != (entry.undoes is not None) or entry.undoes == entry.id:
        what = "an undo names the entry that it takes back, and no other entry does"
        raise InputError(what, value=entry.undoes or "nothing", remedy=AS_EXPORTED)
    _check_group(entry)
    body_text(entry.body)
    facts = ENTRY_SCHEMA[entry.kind]
    name = _wrong_fact(facts, entry.body)
    if name is not None:
        what, value = f"the {name} of a {entry.kind} is not {facts[name].holds}", entry.body.get(name)
        raise InputError(what, value="nothing" if value is None else value, remedy=AS_EXPORTED)


def _check_group(entry: Entry) -> None:
    group, kind = entry.group, entry.kind
    if group is None and kind in OF_A_GROUP:
        raise InputError(f"a {kind} of no group", remedy="Name the group of pots.")
    if group is not None and kind in OF_THE_GARDEN:
        raise InputError(f"a {kind} is of the whole garden", value=group, remedy="Leave the group empty.")
    if group is not None and (not group or group != group.strip() or _UNFIT_IN_A_NAME.search(group)):
        raise InputError("not the name of a group", value=group, remedy="Write it as in the garden file.")


def body_text(body: Mapping[str, Any]) -> str:
    """Write a body as JSON, the same for the same content."""
    if not _is_plain(dict(body), DEEPEST_BODY):
        raise InputError("not plain JSON values", value=body, remedy="Numbers are finite, keys are texts.")
    text = json.dumps(dict(body), ensure_ascii=False, sort_keys=True)
    if len(text) > LONGEST_BODY:
        most = f"An entry holds {LONGEST_BODY} characters at most."
        raise InputError("an entry that is too long", value=text, remedy=most)
    return text


def _is_plain(value: Any, depth: int) -> bool:  # noqa: ANN401  # any value of a body
    if isinstance(value, dict | list | tuple):
        parts = [*value, *value.values()] if isinstance(value, dict) else value
        keys_fit = not isinstance(value, dict) or all(isinstance(key, str) for key in value)
        return keys_fit and depth > 0 and all(_is_plain(part, depth - 1) for part in parts)
    if isinstance(value, int):
        return abs(value) < LARGEST_WHOLE
    return value is None or _text(value) or (isinstance(value, float) and math.isfinite(value))


def parse_body(text: str) -> dict[str, Any]:
    """Read a body from JSON."""
    try:
        body = json.loads(text, object_pairs_hook=without_twins, parse_constant=_refuse_constant)
    except (ValueError, RecursionError) as fault:
        raise InputError(f"not JSON ({fault})", value=text, remedy=AS_EXPORTED) from None
    if not isinstance(body, dict):
        raise InputError("not a JSON object", value=text, remedy=AS_EXPORTED)
    return body


def without_twins(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Make a JSON object, but of no key twice: one of the two would be lost."""
    made = dict(pairs)
    if len(made) < len(pairs):
        twin = next(key for key in made if sum(other == key for other, _ in pairs) > 1)
        raise ValueError(f"{twin!r} stands there twice")
    return made


def _refuse_constant(name: str) -> None:
    raise ValueError(f"{name} is no number")
