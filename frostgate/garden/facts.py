"""What the journal's entries tell the season and the morning.

Every function here takes entries as `Journal.entries` gives them, undone ones already left out.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import numpy as np

from frostgate.terms.arrays import Dates, Floats
from frostgate.terms.feedings import Done
from frostgate.terms.forecast_log import MORNING_HOUR, ForecastLog
from frostgate.terms.journal import Entry, EntryKind

_Night = tuple[str, str]  # issue and morning as ISO 8601 writes them: quicker to sort and to lay out


def done_feedings(entries: Iterable[Entry]) -> tuple[Done, ...]:
    """Give the feedings that were done, in order.

    Examples
    --------
    >>> fed = Entry(id="1", made_at=dt.datetime(2026, 5, 16, 18), on=dt.date(2026, 5, 16), kind="feeding",
    ...             group="old figs", body={"phase": "wake-up", "feeding_kind": "liquid", "doses": [],
    ...                                     "n_per_pot_mg": 300.0})
    >>> [(done.group, done.n_per_pot_g) for done in done_feedings([fed])]
    [('old figs', 0.3)]
    """
    fed = [entry for entry in entries if entry.kind == "feeding"]
    return tuple(_done(entry) for entry in sorted(fed, key=lambda entry: (entry.on, entry.made_at)))


def latest(entries: Iterable[Entry], kind: EntryKind, since: dt.date) -> tuple[tuple[str, dt.date], ...]:
    """Give the day of one kind of event for each group, as it was last written.

    Parameters
    ----------
    entries
        Of any kind.
    kind
        ``bud break`` or ``fruit set``.
    since
        The first day that counts: the season's start.

    Examples
    --------
    >>> written = [Entry(id=str(day), made_at=dt.datetime(2026, 4, 20, hour), on=dt.date(2026, 4, day),
    ...                  kind="bud break", group="old figs") for day, hour in ((18, 7), (16, 8))]
    >>> latest(written, "bud break", dt.date(2026, 2, 1))
    (('old figs', datetime.date(2026, 4, 16)),)
    """
    told = [entry for entry in entries if entry.kind == kind and entry.on >= since]
    by_group = {entry.group: entry.on for entry in sorted(told, key=lambda entry: entry.made_at)}
    return tuple(sorted((group, on) for group, on in by_group.items() if group is not None))


def observed_minima(entries: Iterable[Entry]) -> tuple[Dates, Floats]:
    """Give the minima observed in the garden; of several on one morning the one written last.

    Returns
    -------
    dates, tmin_c
        Mornings, rising, and their minima [°C], each of shape (n,).

    Examples
    --------
    >>> seen = [Entry(id=str(hour), made_at=dt.datetime(2026, 4, 12, hour), on=dt.date(2026, 4, 12),
    ...               kind="minimum", body={"tmin_c": -hour / 10}) for hour in (7, 8)]
    >>> observed_minima(seen)
    (array(['2026-04-12'], dtype='datetime64[D]'), array([-0.8]))
    """
    by_morning = _minima_c(entries)
    mornings = sorted(by_morning)
    minima_c = np.array([by_morning[morning] for morning in mornings], dtype=np.float64)
    return np.array(mornings, dtype="datetime64[D]"), minima_c


def forecast_log(entries: Iterable[Entry]) -> ForecastLog | None:
    """Give the forecast nights that were kept, closed by the observed minima; None where there is no night.

    A night has one row for each issue; of an issue that was kept twice the first counts.

    Examples
    --------
    >>> told = Entry(id="1", made_at=dt.datetime(2026, 4, 11, 7), on=dt.date(2026, 4, 11), kind="forecast",
    ...              body={"issued_at": "2026-04-11T06:00",
    ...                    "nights": [{"morning": "2026-04-12", "tmin_c": 1.0}]})
    >>> seen = Entry(id="2", made_at=dt.datetime(2026, 4, 12, 7), on=dt.date(2026, 4, 12), kind="minimum",
    ...              body={"tmin_c": -1.1})
    >>> log = forecast_log([told, seen])
    >>> log.forecast_c - log.observed_c
    array([2.1])
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
    """Give the nights of one forecast that were still ahead when it was made."""
    issued = dt.datetime.fromisoformat(body["issued_at"]).replace(second=0, microsecond=0)
    is_before_its_morning = issued.time() <= dt.time(MORNING_HOUR)
    first = (issued.date() if is_before_its_morning else issued.date() + dt.timedelta(days=1)).isoformat()
    written = issued.isoformat(timespec="minutes")
    for night in body["nights"]:
        morning, tmin_c = night["morning"], night.get("tmin_c")
        if tmin_c is not None and morning >= first:
            yield (written, morning), float(tmin_c)
