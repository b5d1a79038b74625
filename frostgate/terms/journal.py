"""What was done and seen, as the journal keeps it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import field
from typing import Any, Literal, get_args

from frostgate.values import dataclass

EntryKind = Literal[
    "feeding", "bud break", "fruit set", "growth", "damage", "minimum", "forecast", "verdict", "undo"
]
ENTRY_KINDS: tuple[EntryKind, ...] = get_args(EntryKind)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One entry of the journal.

    Parameters
    ----------
    id
        A name that no other entry has, in any journal (a UUID as text).
    made_at
        When it was written, local time of the garden without zone.
    on
        The day it tells of.
    kind
        What it tells.
    group
        Of which group of pots; None for the whole garden.
    body
        Its facts as plain JSON values; which, by kind: *feeding*: ``phase``, ``feeding_kind``, ``doses`` (a
        list of ``product``, ``grams``), ``n_per_pot_mg``, ``pots``; *minimum*: ``tmin_c``; *forecast*:
        ``source``, ``issued_at``, ``nights`` (a list of ``morning``, ``tmin_c``, ``sd_c``); *verdict*:
        ``state``, ``risk_today``, ``earliest_date``, ``risk_tolerance``, ``reasons``, ``inputs``; *bud
        break*, *fruit set*, *growth*, *damage*: ``note``.
    undoes
        The entry that an *undo* takes back; None for every other kind.

    Examples
    --------
    >>> Entry(id="1", made_at=dt.datetime(2026, 4, 12, 7), on=dt.date(2026, 4, 12), kind="minimum",
    ...       body={"tmin_c": -1.1}).group is None
    True
    """

    id: str
    made_at: dt.datetime
    on: dt.date
    kind: EntryKind
    group: str | None = None
    body: Mapping[str, Any] = field(default_factory=dict)
    undoes: str | None = None
