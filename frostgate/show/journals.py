"""The journal's entries in words, in rows and as plain values."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from typing import Any

from frostgate.model.garden import Entry, EntryKind
from frostgate.show.answers import Plain, plain
from frostgate.units import TemperatureUnit, Units, say_mass, say_share, say_temperature

Body = Mapping[str, Any]

SHOWN_ID = 8


def short_id(entry_id: str) -> str:
    """Shorten an id to what a grower types."""
    return entry_id[:SHOWN_ID]


def say_entry(entry: Entry, units: Units) -> str:
    """Say what an entry tells, without its day."""
    of = f" of {entry.group}" if entry.group else ""
    if entry.kind == "undo":
        return f"undo of {short_id(entry.undoes or '')}"
    told = _SAID.get(entry.kind, _note)(entry.body, units)
    colon = ":" if of or entry.kind not in _SAID else ""
    return f"{entry.kind}{of}{colon if told else ''} {told}".rstrip()


def entry_lines(entries: Iterable[Entry], gone: Collection[str], units: Units) -> Iterator[str]:
    """Write entries in rows: the day, the short id, what it tells, and whether it was undone."""
    for entry in entries:
        undone = "  [undone]" if entry.id in gone else ""
        yield f"{entry.on}  {short_id(entry.id):<{SHOWN_ID}}  {say_entry(entry, units)}{undone}"


def entries_answer(entries: Iterable[Entry], gone: Collection[str]) -> Plain:
    """Return entries with all their fields, and whether they were undone."""
    return {"entries": [plain(entry, {}, None) | {"undone": entry.id in gone} for entry in entries]}


def _unit(units: Units) -> TemperatureUnit:
    return "F" if units == "us" else "C"


def _note(body: Body, units: Units) -> str:  # noqa: ARG001  # one signature for every kind
    note: str = body.get("note") or ""
    return " ".join(note.split())


def _minimum(body: Body, units: Units) -> str:
    return say_temperature(float(body["tmin_c"]), _unit(units))


def _feeding(body: Body, units: Units) -> str:
    doses = " + ".join(f"{say_mass(dose['grams'], units)} {dose['product']}" for dose in body["doses"])
    pots, n_mg = body.get("pots"), body.get("n_per_pot_mg")
    parts = (
        body.get("phase"),
        None if body.get("phase") == body["feeding_kind"] else body["feeding_kind"],
        doses or "mix not stated",
        None if pots is None else f"{pots} {'pot' if pots == 1 else 'pots'}",
        None if n_mg is None else f"{n_mg:.0f} mg N a pot",
    )
    return ", ".join(part for part in parts if part)


def _forecast(body: Body, units: Units) -> str:
    nights = [night for night in body["nights"] if night.get("tmin_c") is not None]
    if not nights:
        return "no night"
    coldest = min(nights, key=lambda night: float(night["tmin_c"]))
    told = f"{len(nights)} {'night' if len(nights) == 1 else 'nights'}"
    cold = f"coldest {say_temperature(float(coldest['tmin_c']), _unit(units))} on {coldest['morning']}"
    made = dt.datetime.fromisoformat(body["issued_at"]).isoformat(sep=" ", timespec="minutes")
    return f"made {made}, {told}, {cold}"


def _verdict(body: Body, units: Units) -> str:  # noqa: ARG001  # one signature for every kind
    risk, earliest = body.get("risk_today"), body.get("earliest_date")
    parts = (
        body["state"],
        None if risk is None else f"risk {say_share(risk)}",
        None if earliest is None else f"earliest {earliest}",
    )
    return ", ".join(part for part in parts if part)


_SAID: dict[EntryKind, Callable[[Body, Units], str]] = {
    "minimum": _minimum,
    "feeding": _feeding,
    "forecast": _forecast,
    "verdict": _verdict,
}
