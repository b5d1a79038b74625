"""The journal's entries: what each must hold, a feeding made into one, and what they tell the season."""

from __future__ import annotations

import datetime as dt
import json
import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from frostgate.errors import InputError
from frostgate.feeding.phases import phase_named
from frostgate.model.feedings import Done, FeedingKind, Product
from frostgate.model.garden import ENTRY_KINDS, Entry, EntryKind, Garden, PotGroup
from frostgate.model.gate import MORNING, ForecastLog
from frostgate.units import COLDEST_C, HOTTEST_C, parse_quantity

LONGEST_BODY = 32_000  # characters; spreadsheets cut a cell off at 32,767
DEEPEST_BODY = 20
LARGEST_WHOLE = 2**63
AS_EXPORTED = "Leave it as the export has it."

_ID = re.compile(r"[0-9A-Za-z][0-9A-Za-z._-]{0,63}")
_HALVES = re.compile(r"[\ud800-\udfff]")  # of characters, which no file can hold
_UNFIT_IN_A_NAME = re.compile(r"[\x00-\x1f\x7f-\x9f\ud800-\udfff]")

Fits = Callable[[Any], bool]


class Fact(NamedTuple):
    """One fact of an entry: in words what it is, whether a value fits, and whether it must be there."""

    holds: str
    fits: Fits
    needed: bool = False


def _wrong_fact(facts: Mapping[str, Fact], told: Mapping[str, Any]) -> str | None:
    """Return the name of the first fact that does not fit, or None."""
    values = ((name, fact, told.get(name)) for name, fact in facts.items())
    return next(
        (name for name, fact, value in values if (fact.needed or value is not None) and not fact.fits(value)),
        None,
    )


def _text(value: Any) -> bool:  # noqa: ANN401  # any value of a body
    return isinstance(value, str) and not _HALVES.search(value)


def _number(least: float, most: float = math.inf) -> Fits:
    return lambda value: (
        isinstance(value, int | float) and not isinstance(value, bool) and least <= value <= most
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


def _table(**facts: Fact) -> Fits:
    return lambda value: isinstance(value, Mapping) and _wrong_fact(facts, value) is None


_DATE = Fact("a date", _moment(dt.date.fromisoformat, lambda day, text: day.isoformat() == text))
_LOCAL = _moment(dt.datetime.fromisoformat, lambda at, _: at.tzinfo is None)
_TEMPERATURE = Fact("a temperature in °C", _number(COLDEST_C, HOTTEST_C))
_TEXT = Fact("a text", _text)
_SHARE = Fact("a share", _number(0.0, 1.0))
_DOSE = _table(product=_TEXT._replace(needed=True), grams=Fact("grams", _number(math.ulp(0.0)), needed=True))
_NIGHT = _table(morning=_DATE._replace(needed=True), tmin_c=_TEMPERATURE, sd_c=Fact("a spread", _number(0.0)))

ENTRY_SCHEMA: Mapping[EntryKind, Mapping[str, Fact]] = {
    "feeding": {
        "phase": _TEXT,
        "feeding_kind": Fact("liquid or top-dressing", ("liquid", "top-dressing").__contains__, needed=True),
        "doses": Fact("a list of product and grams", _list_of(_DOSE), needed=True),
        "pots": Fact("a whole number above 0", lambda value: _number(1)(value) and value % 1 == 0),
        "n_per_pot_mg": Fact("a number, 0 or above", _number(0.0)),
    },
    "minimum": {"tmin_c": _TEMPERATURE._replace(needed=True)},
    "forecast": {
        "source": _TEXT,
        "issued_at": Fact("a local time", _LOCAL, needed=True),
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
}  # the facts of each kind, which may tell more; every other kind has a note
OF_A_GROUP: frozenset[EntryKind] = frozenset({"feeding", "bud break", "fruit set"})
OF_THE_GARDEN: frozenset[EntryKind] = frozenset({"minimum", "forecast", "verdict"})


def check_entry(entry: Entry) -> None:
    """Refuse an entry that no reader of the journal could use."""
    group, kind, undoes = entry.group, entry.kind, entry.undoes
    is_named = group and group == group.strip() and not _UNFIT_IN_A_NAME.search(group)
    for is_wrong, what, value, remedy in (
        (not _ID.fullmatch(entry.id), "not an entry's id", entry.id, "A UUID is one, as the export has it."),
        (kind not in ENTRY_KINDS, "no entry is of this kind", kind, f"Kinds: {', '.join(ENTRY_KINDS)}."),
        (entry.made_at.tzinfo is not None, "a time with an offset from UTC", entry.made_at,
         "Write the garden's local time, such as 2026-04-12T07:00."),
        ((kind == "undo") != (undoes is not None) or undoes == entry.id,
         "an undo names the entry that it takes back, and no other entry does", undoes or "nothing",
         AS_EXPORTED),
        (group is None and kind in OF_A_GROUP, f"a {kind} of no group", None, "Name the group of pots."),
        (group is not None and kind in OF_THE_GARDEN, f"a {kind} is of the whole garden", group,
         "Leave the group empty."),
        (group is not None and not is_named, "not the name of a group", group,
         "Write it as in the garden file."),
    ):  # fmt: skip
        if is_wrong:
            raise InputError(what, value=value, remedy=remedy)
    body_text(entry.body)
    facts = ENTRY_SCHEMA.get(kind, {"note": _TEXT})
    name = _wrong_fact(facts, entry.body)
    if name is not None:
        what, value = f"the {name} of a {kind} is not {facts[name].holds}", entry.body.get(name)
        raise InputError(what, value="nothing" if value is None else value, remedy=AS_EXPORTED)


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


class Fed(NamedTuple):
    """So much of a product, in all buckets together."""

    product: Product
    grams: float


def parse_fed(text: str, garden: Garden) -> Fed:
    """Read a product and its amount, such as ``First feed=30 g`` or ``First feed=2 tbsp``."""
    from frostgate.feeding.labels import weigh  # a morning reads no label

    name, equals, amount = text.rpartition("=")
    if not equals:
        raise InputError("not a product and its amount", value=text, remedy='Write it as "NAME=30 g".')
    product = garden.product(name.strip())
    grams = weigh(parse_quantity(amount, "mass", "volume"), product.density_g_ml)
    return Fed(product=product, grams=grams)


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
    known = None if phase is None else phase_named(garden, phase)
    names = [each.product.name for each in fed]
    for name in names:
        if names.count(name) > 1:
            raise InputError("a product named twice", value=name, remedy="Name it once, with all of it.")
    pots = group.count if pots is None else pots
    if not 1 <= pots <= group.count:
        remedy = f"It has {group.count}; if there are more now, change the garden file."
        raise InputError(f"{group.name!r} has no such number of pots", value=pots, remedy=remedy)
    granular = [each.product.name for each in fed if each.product.form == "granular"]
    kind: FeedingKind = "liquid" if known is None else known.kind
    if laid or (granular and len(granular) == len(fed)):
        kind = "top-dressing"
    if known is not None and known.kind != kind:
        what = f"a {kind} in a {known.kind} phase"
        raise InputError(what, value=known.name, remedy="Name another phase, or none.")
    if kind == "liquid" and granular:
        what = "a granular product is laid on the soil, not poured"
        raise InputError(what, value=granular[0], remedy="Log it apart: it is a top-dressing.")
    n_g = sum(each.grams * each.product.analysis.shares["N"] for each in fed)
    return {
        "phase": phase,
        "feeding_kind": kind,
        "doses": [{"product": each.product.name, "grams": float(f"{each.grams:.6g}")} for each in fed],
        "pots": pots,
        "n_per_pot_mg": round(n_g * 1000.0 / pots, 3) if fed else None,
    }


def done_feedings(entries: Iterable[Entry]) -> tuple[Done, ...]:
    """Return the feedings that were done, by their days."""
    fed = [entry for entry in entries if entry.kind == "feeding"]
    return tuple(
        Done(
            on=entry.on,
            group=entry.group or "",
            phase=entry.body.get("phase"),
            kind=entry.body["feeding_kind"],
            n_per_pot_g=None if n_mg is None else n_mg / 1000.0,
        )
        for entry in sorted(fed, key=lambda entry: entry.on)
        for n_mg in [entry.body.get("n_per_pot_mg")]
    )


def latest(entries: Iterable[Entry], kind: EntryKind, since: dt.date) -> tuple[tuple[str, dt.date], ...]:
    """Return the day of one kind of event for each group, as it was last written.

    Here and below entries come in the order of the journal: a clock may be set back, the journal is not.
    """
    told = [entry for entry in entries if entry.kind == kind and entry.on >= since]
    by_group = {entry.group: entry.on for entry in told}
    return tuple(sorted((group, on) for group, on in by_group.items() if group is not None))


def forecast_log(entries: Iterable[Entry]) -> ForecastLog | None:
    """Return the forecast nights that were kept, closed by the observed minima; None where there is no night.

    A night has one row for each issue. Of an issue that was kept twice the first counts, of several minima
    observed on one morning the last.
    """
    told: dict[tuple[str, str], float] = {}
    came: dict[str, float] = {}
    for entry in entries:
        if entry.kind == "minimum":
            came[entry.on.isoformat()] = float(entry.body["tmin_c"])
        elif entry.kind == "forecast":
            for night, tmin_c in _nights(entry.body):
                told.setdefault(night, tmin_c)
    if not told:
        return None
    rows = sorted(told)
    return ForecastLog(
        issued=np.array([issued for issued, _ in rows], dtype="datetime64[m]"),
        mornings=np.array([morning for _, morning in rows], dtype="datetime64[D]"),
        forecast_c=np.array([told[row] for row in rows], dtype=np.float64),
        observed_c=np.array([came.get(morning, np.nan) for _, morning in rows], dtype=np.float64),
    )


def _nights(body: Mapping[str, Any]) -> Iterator[tuple[tuple[str, str], float]]:
    """Return the nights of one forecast that were still ahead when it was made."""
    issued = dt.datetime.fromisoformat(body["issued_at"]).replace(second=0, microsecond=0)
    is_before_its_morning = issued.time() <= MORNING
    first = (issued.date() if is_before_its_morning else issued.date() + dt.timedelta(days=1)).isoformat()
    written = issued.isoformat(timespec="minutes")
    for night in body["nights"]:
        morning, tmin_c = night["morning"], night.get("tmin_c")
        if tmin_c is not None and morning >= first:
            yield (written, morning), float(tmin_c)
