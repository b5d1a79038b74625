"""What each entry of the journal must hold, and entries into the facts of a season."""

from __future__ import annotations

import datetime as dt
import json
import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, cast

import numpy as np

from frostgate.errors import InputError
from frostgate.feeding.phases import default_phases
from frostgate.model.feedings import Done, Phase
from frostgate.model.garden import ENTRY_KINDS, Entry, EntryKind, Garden, PotGroup
from frostgate.model.gate import MORNING_HOUR, ForecastLog
from frostgate.model.products import Product
from frostgate.seasons import Dates, Floats
from frostgate.units import COLDEST_C, HOTTEST_C, parse_quantity

LONGEST_BODY = 32_000  # characters; spreadsheets cut a cell off at 32,767
DEEPEST_BODY = 20
LARGEST_WHOLE = 2**63
OF_A_GROUP: frozenset[EntryKind] = frozenset({"feeding", "bud break", "fruit set"})
OF_THE_GARDEN: frozenset[EntryKind] = frozenset({"minimum", "forecast", "verdict"})
STATES = ("open", "shut", "unknown")
FEEDING_KINDS = ("liquid", "top-dressing")

_ID = re.compile(r"[0-9A-Za-z][0-9A-Za-z._-]{0,63}")
_HALVES = re.compile(r"[\ud800-\udfff]")
_UNFIT_IN_A_NAME = re.compile(r"[\x00-\x1f\x7f-\x9f\ud800-\udfff]")


def check_entry(entry: Entry) -> None:
    """Refuse an entry that no reader of the journal could use."""
    if not _ID.fullmatch(entry.id):
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
    """Write a body as JSON, the same for the same content."""
    if not _is_plain(dict(body), DEEPEST_BODY):
        raise InputError("not plain JSON values", value=body, remedy="Numbers are finite, keys are texts.")
    text = json.dumps(dict(body), ensure_ascii=False, sort_keys=True)
    if len(text) > LONGEST_BODY:
        most = f"An entry holds {LONGEST_BODY} characters at most."
        raise InputError("an entry that is too long", value=text, remedy=most)
    return text


def parse_body(text: str) -> dict[str, Any]:
    """Read a body from JSON."""
    try:
        body = json.loads(text, object_pairs_hook=without_twins, parse_constant=_refuse_constant)
    except (ValueError, RecursionError) as fault:
        raise InputError(f"not JSON ({fault})", value=text, remedy=_AS_EXPORTED) from None
    if not isinstance(body, dict):
        raise InputError("not a JSON object", value=text, remedy=_AS_EXPORTED)
    return body


def without_twins(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Make a JSON object, but of no key twice: one of the two would be lost."""
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
    if group is not None and (not group or group != group.strip() or _UNFIT_IN_A_NAME.search(group)):
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
    """Return whether it is text that every file can hold: no halves of characters."""
    return isinstance(value, str) and not _HALVES.search(value)


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


FeedingKind = Literal["liquid", "top-dressing"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fed:
    """So much of a product, in all buckets together.

    Parameters
    ----------
    product
        Which.
    grams
        How much [g].
    """

    product: Product
    grams: float

    @property
    def n_g(self) -> float:
        """The nitrogen in it [g]."""
        return self.grams * self.product.analysis.shares["N"]


def parse_fed(text: str, garden: Garden) -> Fed:
    """Read a product and its amount, such as ``Spring feed=30 g`` or ``Spring feed=2 tbsp``."""
    name, equals, amount = text.rpartition("=")
    if not equals:
        raise InputError("not a product and its amount", value=text, remedy='Write it as "NAME=30 g".')
    product = garden.product(name.strip())
    quantity = parse_quantity(amount, "mass", "volume")
    is_mass = quantity.measure == "mass"
    return Fed(product=product, grams=quantity.amount * (1.0 if is_mass else product.density_g_ml))


def feeding_body(
    garden: Garden,
    group: PotGroup,
    fed: Sequence[Fed],
    *,
    phase: str | None = None,
    pots: int | None = None,
    laid: bool = False,
) -> dict[str, Any]:
    """Make the body of a feeding."""
    known = None if phase is None else _phase(garden, phase)
    names = [each.product.name for each in fed]
    for name in names:
        if names.count(name) > 1:
            raise InputError("a product named twice", value=name, remedy="Name it once, with all of it.")
    fed_pots = group.count if pots is None else pots
    if not 1 <= fed_pots <= group.count:
        remedy = f"It has {group.count}; if there are more now, change the garden file."
        raise InputError(f"{group.name!r} has no such number of pots", value=fed_pots, remedy=remedy)
    return {
        "phase": phase,
        "feeding_kind": _kind(fed, known, laid=laid),
        "doses": [{"product": each.product.name, "grams": float(f"{each.grams:.6g}")} for each in fed],
        "pots": fed_pots,
        "n_per_pot_mg": round(sum(each.n_g for each in fed) * 1000.0 / fed_pots, 3) if fed else None,
    }


def _phase(garden: Garden, name: str) -> Phase:
    phases = garden.phases or default_phases(garden.products)
    for phase in phases:
        if phase.name == name:
            return phase
    known = ", ".join(phase.name for phase in phases) or "none"
    raise InputError("no phase of this name in the season", value=name, remedy=f"Phases: {known}.")


def _kind(fed: Sequence[Fed], phase: Phase | None, *, laid: bool) -> FeedingKind:
    granular = [each.product.name for each in fed if each.product.form == "granular"]
    all_granular = bool(granular) and len(granular) == len(fed)
    otherwise = "liquid" if phase is None else phase.kind
    kind: FeedingKind = "top-dressing" if laid or all_granular else otherwise
    if phase is not None and phase.kind != kind:
        remedy = "Name another phase, or none."
        raise InputError(f"a {kind} in a {phase.kind} phase", value=phase.name, remedy=remedy)
    if kind == "liquid" and granular:
        remedy = "Log it on its own: it is a top-dressing."
        raise InputError(
            "a granular product is laid on the soil, not poured", value=granular[0], remedy=remedy
        )
    return kind


_Night = tuple[str, str]  # issue and morning as ISO 8601 writes them: quicker to sort and to lay out


def done_feedings(entries: Iterable[Entry]) -> tuple[Done, ...]:
    """Return the feedings that were done, in order."""
    fed = [entry for entry in entries if entry.kind == "feeding"]
    return tuple(_done(entry) for entry in sorted(fed, key=lambda entry: (entry.on, entry.made_at)))


def latest(entries: Iterable[Entry], kind: EntryKind, since: dt.date) -> tuple[tuple[str, dt.date], ...]:
    """Return the day of one kind of event for each group, as it was last written."""
    told = [entry for entry in entries if entry.kind == kind and entry.on >= since]
    by_group = {entry.group: entry.on for entry in sorted(told, key=lambda entry: entry.made_at)}
    return tuple(sorted((group, on) for group, on in by_group.items() if group is not None))


def observed_minima(entries: Iterable[Entry]) -> tuple[Dates, Floats]:
    """Return the minima observed in the garden; of several on one morning the one written last."""
    by_morning = _minima_c(entries)
    mornings = sorted(by_morning)
    minima_c = np.array([by_morning[morning] for morning in mornings], dtype=np.float64)
    return np.array(mornings, dtype="datetime64[D]"), minima_c


def forecast_log(entries: Iterable[Entry]) -> ForecastLog | None:
    """Return the forecast nights that were kept, closed by the observed minima; None where there is no night.

    A night has one row for each issue; of an issue that was kept twice the first counts.
    """
    kept = list(entries)
    told: dict[_Night, float] = {}
    for entry in sorted(
        (entry for entry in kept if entry.kind == "forecast"), key=lambda entry: entry.made_at
    ):
        for night, tmin_c in _nights(entry.body):
            told.setdefault(night, tmin_c)
    if not told:
        return None
    came = {morning.isoformat(): tmin_c for morning, tmin_c in _minima_c(kept).items()}
    rows = sorted(told)
    return ForecastLog(
        issued=np.array([issued for issued, _ in rows], dtype="datetime64[m]"),
        mornings=np.array([morning for _, morning in rows], dtype="datetime64[D]"),
        forecast_c=np.array([told[row] for row in rows], dtype=np.float64),
        observed_c=np.array([came.get(morning, np.nan) for _, morning in rows], dtype=np.float64),
    )


def _done(entry: Entry) -> Done:
    n_mg = entry.body.get("n_per_pot_mg")
    return Done(
        on=entry.on,
        group=entry.group or "",
        phase=entry.body.get("phase"),
        kind=entry.body["feeding_kind"],
        n_per_pot_g=None if n_mg is None else n_mg / 1000.0,
    )


def _minima_c(entries: Iterable[Entry]) -> dict[dt.date, float]:
    seen = sorted((entry for entry in entries if entry.kind == "minimum"), key=lambda entry: entry.made_at)
    return {entry.on: float(entry.body["tmin_c"]) for entry in seen}


def _nights(body: Mapping[str, Any]) -> Iterator[tuple[_Night, float]]:
    """Return the nights of one forecast that were still ahead when it was made."""
    issued = dt.datetime.fromisoformat(body["issued_at"]).replace(second=0, microsecond=0)
    is_before_its_morning = issued.time() <= dt.time(MORNING_HOUR)
    first = (issued.date() if is_before_its_morning else issued.date() + dt.timedelta(days=1)).isoformat()
    written = issued.isoformat(timespec="minutes")
    for night in body["nights"]:
        morning, tmin_c = night["morning"], night.get("tmin_c")
        if tmin_c is not None and morning >= first:
            yield (written, morning), float(tmin_c)
