"""How complete a kept record is, by counting its days."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import numpy as np

from frostgate.climate.completeness import find_hemisphere, summarise
from frostgate.climate.frosts import last_frosts
from frostgate.climate.suspects import find_suspects
from frostgate.errors import InputError
from frostgate.seasons import NORTH, SOUTH
from frostgate.sources.records import read_minima
from frostgate.terms import DailyMinima
from frostgate.values import dataclass

FROST_C = 0.0  # the frosts whose springs are counted


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """What a record holds, counted.

    Parameters
    ----------
    first, last
        The first and last day with a good minimum.
    share
        Of the days between them, those with a good minimum.
    springs
        Springs whose last frost is known, or known not to have come; None where no hemisphere shows.

    Examples
    --------
    >>> Counted(first=dt.date(1991, 1, 1), last=dt.date(2020, 12, 31), share=0.98, springs=29).springs
    29
    """

    first: dt.date
    last: dt.date
    share: float
    springs: int | None


def count_record(path: Path, latitude: float | None = None) -> Counted:
    """Count the days and springs of a record; plain errors and flagged minima are no good ones.

    Parameters
    ----------
    path
        Its file.
    latitude
        Of the station [degrees north]; None lets the minima tell where its seasons begin.

    Raises
    ------
    InputError
        Where it cannot be read, or holds no minimum.

    Examples
    --------
    >>> count_record(Path("no such file"))
    Traceback (most recent call last):
    frostgate.errors.InputError: no such file: no such file. Check the name and the folder.
    """
    minima = read_minima(path, drop_contradictions=True)
    good = minima.leave_out(find_suspects(minima).dates)
    summary = summarise(good, NORTH)
    return Counted(
        first=summary.first,
        last=summary.last,
        share=summary.known / (summary.known + summary.missing),
        springs=_springs(good, latitude),
    )


def _springs(minima: DailyMinima, latitude: float | None) -> int | None:
    if latitude:
        start = NORTH if latitude > 0.0 else SOUTH
    else:
        try:
            start = find_hemisphere(minima)
        except InputError:
            return None
    return int(np.count_nonzero(~np.isnan(last_frosts(minima, FROST_C, start).day)))
