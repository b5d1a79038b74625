"""What of a season stands in a calendar: the gate, the feedings, the stop, and days without feeding."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from typing import Literal

from frostgate.seasons import NORTH, SOUTH, season_day_of
from frostgate.terms.feedings import Feeding, Programme
from frostgate.terms.garden import Garden
from frostgate.terms.phases import NoFeeding
from frostgate.values import dataclass

HALF_A_YEAR = dt.timedelta(days=182)
DAY = dt.timedelta(days=1)

Say = Callable[[Feeding], str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Occasion:
    """What takes one or more whole days.

    Parameters
    ----------
    key
        Names it whatever its date, and however its date moves.
    first, last
        Its days, both included.
    summary, description
        In words.
    status
        ``TENTATIVE`` while its date may move.
    reminded
        Whether it is recalled beforehand.

    Examples
    --------
    >>> day = dt.date(2026, 5, 16)
    >>> Occasion(key=("gate",), first=day, last=day, summary="Feeding may begin", description="").status
    'CONFIRMED'
    """

    key: tuple[str, ...]
    first: dt.date
    last: dt.date
    summary: str
    description: str
    status: Literal["CONFIRMED", "TENTATIVE"] = "CONFIRMED"
    reminded: bool = False


def season_year(programme: Programme, garden: Garden, today: dt.date) -> dt.date:
    """Give the first day of the year that holds a season: 1 January in the north, 1 July in the south.

    It is part of each UID, so it must not change while dates move. Where the garden states no hemisphere, a
    season that begins after July is a southern one.

    Parameters
    ----------
    programme, garden
        The season and whose it is.
    today
        Tells the year where nothing is dated yet.

    Examples
    --------
    >>> from pathlib import Path
    >>> from frostgate.terms.garden import Site
    >>> garden = Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank", hemisphere="south"),))
    >>> plan = Programme(feedings=(), gate=dt.date(2026, 9, 16), stop=None, n_per_pot_g=(), notes=())
    >>> season_year(plan, garden, dt.date(2026, 8, 1))
    datetime.date(2026, 7, 1)
    """
    dated = [feeding.date for feeding in programme.feedings if feeding.date is not None]
    if programme.gate is not None:
        dated.append(programme.gate)
    if not dated:
        dated.append(today if programme.stop is None else programme.stop - HALF_A_YEAR)
    first, stated = min(dated), garden.home.hemisphere
    is_south = stated == "south" or (stated is None and first.month > 7)
    start = SOUTH if is_south else NORTH
    return dt.date(season_day_of(first, start)[0] + start.spring_lag, 7 if is_south else 1, 1)


def season_occasions(
    programme: Programme, garden: Garden, season: dt.date, doses: Say | None
) -> Iterator[Occasion]:
    """Give the gate, the dated feedings that are not left out, the stop, and the days without feeding.

    Parameters
    ----------
    programme, garden
        The season and whose it is.
    season
        First day of the year that holds it.
    doses
        Says what is mixed for a feeding; nothing by default.

    Examples
    --------
    >>> from pathlib import Path
    >>> from frostgate.terms.garden import Site
    >>> winter = NoFeeding(name="local ordinance", first=(11, 15), last=(3, 1))
    >>> garden = Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),), no_feeding=(winter,))
    >>> plan = Programme(feedings=(), gate=None, stop=None, n_per_pot_g=(), notes=())
    >>> for occasion in season_occasions(plan, garden, dt.date(2026, 1, 1), None):
    ...     print(occasion.summary, occasion.first, occasion.last)
    No feeding: local ordinance 2026-01-01 2026-03-01
    No feeding: local ordinance 2026-11-15 2026-12-31
    """
    place = garden.home.name
    if programme.gate is not None:
        yield _gate(programme.gate, place, opened=any(f.status == "done" for f in programme.feedings))
    for feeding in programme.feedings:
        if feeding.date is not None and feeding.status != "left out":
            yield _feeding(feeding, feeding.date, "" if doses is None else doses(feeding))
    if programme.stop is not None:
        day, what = programme.stop, "No nitrogen after this day, so that new wood hardens before the frost."
        summary = f"Last day for nitrogen at {place}"
        yield Occasion(key=("stop",), first=day, last=day, summary=summary, description=what)
    for rule in garden.no_feeding:
        yield from _windows(rule, season)


def _gate(day: dt.date, place: str, *, opened: bool) -> Occasion:
    if opened:
        summary, what = f"Feeding began at {place}", "The gate has opened."
    else:
        summary = f"Feeding may begin at {place} (forecast)"
        what = "A forecast, not a promise: this day moves with the weather. Ask again before feeding."
    status: Literal["CONFIRMED", "TENTATIVE"] = "CONFIRMED" if opened else "TENTATIVE"
    return Occasion(key=("gate",), first=day, last=day, summary=summary, description=what, status=status)


def _feeding(feeding: Feeding, day: dt.date, doses: str) -> Occasion:
    done = feeding.status == "done"
    moves = "" if done or feeding.status == "due" else "This day moves with the gate and with what is done."
    return Occasion(
        key=("feeding", feeding.group, feeding.phase, feeding.kind, str(feeding.number)),
        first=day,
        last=day,
        summary=f"{'Fed' if done else 'Feed'} {feeding.group}: {feeding.phase} {feeding.number}",
        description="\n".join(part for part in (doses, feeding.reason, moves) if part),
        status="TENTATIVE" if moves else "CONFIRMED",
        reminded=not done,
    )


def _windows(rule: NoFeeding, season: dt.date) -> Iterator[Occasion]:
    """Give the stretches of the season's year on which a rule forbids feeding; two where it wraps its end."""
    year = (season + number * DAY for number in range(366))
    days = {day for day in year if rule.forbids(day) and day < season.replace(year=season.year + 1)}
    firsts = sorted(day for day in days if day - DAY not in days)
    lasts = sorted(day for day in days if day + DAY not in days)
    first, last = (dt.date(2000, *day) for day in (rule.first, rule.last))
    what = f"A local rule, every year from {first.day} {first:%b} to {last.day} {last:%b}."
    for number, (first, last) in enumerate(zip(firsts, lasts, strict=True), start=1):
        key, summary = ("no feeding", rule.name, str(number)), f"No feeding: {rule.name}"
        yield Occasion(key=key, first=first, last=last, summary=summary, description=what)
