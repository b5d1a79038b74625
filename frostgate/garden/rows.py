"""Entries as rows of the journal, and what is asked of them."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping, Sequence
from typing import Any

from frostgate.garden.bodies import body_text
from frostgate.terms.journal import Entry, EntryKind

BY_KIND = """
SELECT id, made_at, on_day, kind, pot_group, body, undoes FROM entries
WHERE kind IN (SELECT value FROM json_each(:kinds)) AND on_day >= :since
      AND (:group IS NULL OR pot_group IS NULL OR pot_group = :group)
      AND (:verdicts IS NULL OR kind <> 'verdict' OR json_extract(body, '$.state') = :verdicts)
ORDER BY on_day, made_at, number
"""
AS_ADDED = "SELECT id, made_at, on_day, kind, pot_group, body, undoes FROM entries ORDER BY number"
BY_ID = """
SELECT id, made_at, on_day, kind, pot_group, body, undoes FROM entries
WHERE substr(id, 1, length(?1)) = ?1 ORDER BY id
"""
UNDOS = "SELECT id, undoes FROM entries WHERE kind = 'undo' ORDER BY number DESC"
ADD = """
INSERT INTO entries (id, made_at, on_day, kind, pot_group, body, undoes) VALUES (?, ?, ?, ?, ?, ?, ?)
"""


def new_entry(
    kind: EntryKind,
    *,
    made_at: dt.datetime,
    on: dt.date | None = None,
    group: str | None = None,
    body: Mapping[str, Any] | None = None,
    undoes: str | None = None,
) -> Entry:
    """Make an entry with an id of its own; its day is that of its making where none is given.

    Examples
    --------
    >>> new_entry("minimum", made_at=dt.datetime(2026, 4, 12, 7), body={"tmin_c": -1.1}).on
    datetime.date(2026, 4, 12)
    """
    import uuid  # a morning that writes nothing down need not load it

    return Entry(
        id=str(uuid.uuid4()),
        made_at=made_at,
        on=made_at.date() if on is None else on,
        kind=kind,
        group=group,
        body={} if body is None else body,
        undoes=undoes,
    )


def row_of(entry: Entry) -> tuple[str | None, ...]:
    """Lay an entry out as a row of the journal.

    Examples
    --------
    >>> row_of(Entry(id="1", made_at=dt.datetime(2026, 4, 12, 7), on=dt.date(2026, 4, 11), kind="growth"))
    ('1', '2026-04-12T07:00:00', '2026-04-11', 'growth', None, '{}', None)
    """
    told = (entry.made_at.isoformat(), entry.on.isoformat(), entry.kind, entry.group)
    return entry.id, *told, body_text(entry.body), entry.undoes


def entry_of(row: Sequence[Any]) -> Entry:
    """Read an entry from a row of the journal.

    Raises
    ------
    ValueError
        Where a date, a time or the body is garbled.

    Examples
    --------
    >>> entry_of(("1", "2026-04-12T07:00:00", "2026-04-11", "growth", None, "{}", None)).on
    datetime.date(2026, 4, 11)
    """
    entry_id, made_at, on, kind, group, body, undoes = row
    return Entry(
        id=entry_id,
        made_at=dt.datetime.fromisoformat(made_at),
        on=dt.date.fromisoformat(on),
        kind=kind,
        group=group,
        body=json.loads(body),
        undoes=undoes,
    )
