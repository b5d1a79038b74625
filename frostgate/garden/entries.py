"""What the grower says was fed, as an entry; and entries as the facts of a season and a log of forecasts."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from frostgate.errors import InputError
from frostgate.feeding.phases import phase_named
from frostgate.model.feedings import Done, FeedingKind, Phase
from frostgate.model.garden import Entry, EntryKind, Garden, PotGroup
from frostgate.model.gate import MORNING_HOUR, ForecastLog
from frostgate.model.products import Product
from frostgate.units import parse_quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Fed:
    """So much of a product, in all buckets together."""

    product: Product
    grams: float

    @property
    def n_g(self) -> float:
        """The nitrogen in it [g]."""
        return self.grams * self.product.analysis.shares["N"]


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


def _kind(fed: Sequence[Fed], phase: Phase | None, *, laid: bool) -> FeedingKind:
    granular = [each.product.name for each in fed if each.product.form == "granular"]
    all_granular = bool(granular) and len(granular) == len(fed)
    otherwise = "liquid" if phase is None else phase.kind
    kind: FeedingKind = "top-dressing" if laid or all_granular else otherwise
    if phase is not None and phase.kind != kind:
        what = f"a {kind} in a {phase.kind} phase"
        raise InputError(what, value=phase.name, remedy="Name another phase, or none.")
    if kind == "liquid" and granular:
        what, remedy = (
            "a granular product is laid on the soil, not poured",
            "Log it apart: it is a top-dressing.",
        )
        raise InputError(what, value=granular[0], remedy=remedy)
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


def forecast_log(entries: Iterable[Entry]) -> ForecastLog | None:
    """Return the forecast nights that were kept, closed by the observed minima; None where there is no night.

    A night has one row for each issue. Of an issue that was kept twice the first counts, of several minima
    observed on one morning the last.
    """
    told: dict[_Night, float] = {}
    came: dict[str, float] = {}
    for entry in sorted(entries, key=lambda entry: entry.made_at):
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


def _done(entry: Entry) -> Done:
    n_mg = entry.body.get("n_per_pot_mg")
    return Done(
        on=entry.on,
        group=entry.group or "",
        phase=entry.body.get("phase"),
        kind=entry.body["feeding_kind"],
        n_per_pot_g=None if n_mg is None else n_mg / 1000.0,
    )


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
