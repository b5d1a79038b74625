"""Records that were fetched, as text and as an answer."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from frostgate.show.stations import bullets
from frostgate.units import say_share
from frostgate.values import dataclass

Plain = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordFetched:
    """A record among what is kept.

    Parameters
    ----------
    station
        The station's id.
    file
        Where it lies.
    fetched_at
        When it was fetched, UTC.
    age
        The same in words.
    stale
        Why an older copy had to serve; None where it is as fresh as wished.
    first, last, share, springs
        What it holds.
    """

    station: str
    file: str
    fetched_at: dt.datetime
    age: str
    stale: str | None
    first: dt.date
    last: dt.date
    share: float
    springs: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordsFetched:
    """Records that were asked for: those that came, and what became of the others."""

    records: tuple[RecordFetched, ...]
    failed: tuple[Plain, ...] = ()
    failures: tuple[str, ...] = ()


def records_answer(fetched: RecordsFetched) -> Plain:
    """Give the records under the names that the JSON answer uses.

    Examples
    --------
    >>> records_answer(RecordsFetched(records=()))
    {'records': [], 'failed': []}
    """
    records = [
        asdict(one)
        | {
            "fetched_at": one.fetched_at.isoformat(timespec="seconds"),
            "first": one.first.isoformat(),
            "last": one.last.isoformat(),
            "share": round(one.share, 4),
        }
        for one in fetched.records
    ]
    return {"records": records, "failed": list(fetched.failed)}


def records_lines(fetched: RecordsFetched) -> list[str]:
    r"""Write where each record lies, how old it is, what it holds, and what to do next.

    Examples
    --------
    >>> record = RecordFetched(station="XX000000017", file="XX000000017.dly", age="3 hours old", stale=None,
    ...                        fetched_at=dt.datetime(2026, 4, 12, 3, tzinfo=dt.UTC), springs=66,
    ...                        first=dt.date(1957, 1, 1), last=dt.date(2026, 4, 10), share=0.98)
    >>> print(*records_lines(RecordsFetched(records=(record,))), sep="\n")
    XX000000017, 3 hours old
      XX000000017.dly
      Minima from 1957-01-01 to 2026-04-10, 98 % of the days known, 66 springs known
      Next: frostgate curve XX000000017.dly
    """
    return [line for one in fetched.records for line in _record(one)] + [
        f"Error: {failure}" for failure in fetched.failures
    ]


def _record(one: RecordFetched) -> Iterator[str]:
    springs = "" if one.springs is None else f", {one.springs} springs known"
    yield f"{one.station}, {one.age}"
    yield f"  {one.file}"
    yield f"  Minima from {one.first} to {one.last}, {say_share(one.share)} of the days known{springs}"
    if one.stale is not None:
        yield from bullets((f"{one.stale[:1].upper()}{one.stale[1:]}.",))
    file = f'"{one.file}"' if " " in one.file else one.file
    yield f"  Next: frostgate curve {file}"
