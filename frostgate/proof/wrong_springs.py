"""The springs in which an opened gate went wrong, and the frosts that came."""

from __future__ import annotations

import datetime as dt

import numpy as np

from frostgate.proof.openings import Openings
from frostgate.proof.springs import Springs
from frostgate.seasons import date_of
from frostgate.terms import Floats, Ints
from frostgate.units import as_stored
from frostgate.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class WrongSpring:
    """A spring in which a damaging frost came after the gate had opened.

    Parameters
    ----------
    year
        The spring's calendar year.
    opened
        The day the gate opened.
    stated
        The risk stated on that morning; NaN where none was.
    frost
        The coldest night after it: the morning it ended on, of equals the first.
    tmin_c
        The station's minimum of that night [°C].
    first_frost
        The first damaging frost after opening.
    frosts_after
        How many nights of damaging frost came after opening.

    Examples
    --------
    >>> day = dt.date(1996, 5, 12)
    >>> WrongSpring(year=1996, opened=dt.date(1996, 5, 6), stated=0.08, frost=day, tmin_c=-2.2,
    ...             first_frost=day, frosts_after=1).days_after
    6
    """

    year: int
    opened: dt.date
    stated: float
    frost: dt.date
    tmin_c: float
    first_frost: dt.date
    frosts_after: int

    @property
    def days_after(self) -> int:
        """Days from opening to the first damaging frost [d]."""
        return (self.first_frost - self.opened).days


def wrong_springs(springs: Springs, opened: Openings) -> tuple[WrongSpring, ...]:
    """Tell of each spring that went wrong when the gate opened and what came after.

    Parameters
    ----------
    springs
        The springs that were replayed.
    opened
        When one way of deciding opened the gate in each of them.

    Examples
    --------
    >>> from frostgate.seasons import NORTH
    >>> observed_c = np.full((1, 366), 5.0)
    >>> observed_c[0, [255, 260]] = -1.0, -3.0
    >>> springs = Springs(years=np.array([2023]), last_frost=np.array([260.0]), tmin_c=observed_c,
    ...                   usual_c=np.full((1, 366), 4.0), spread_c=np.ones((1, 366)), step_c=0.1,
    ...                   risk=np.zeros((1, 366)), persistence=np.zeros(1),
    ...                   explained=np.zeros(1), threshold_c=0.0, start=NORTH)
    >>> day = np.array([250.0])
    >>> opened = Openings(risk=0.1, stated=np.array([0.1]), day=day, wrong=day > 0, calendar_day=day,
    ...                   perfect_day=day)
    >>> (spring,) = wrong_springs(springs, opened)
    >>> str(spring.opened), str(spring.frost), spring.tmin_c, spring.frosts_after
    ('2023-04-07', '2023-04-17', -3.0, 2)
    """
    frost, observed_c = springs.frost, as_stored(springs.tmin_c)
    return tuple(
        _tell(springs, opened, int(at), np.flatnonzero(frost[at]), observed_c[at])
        for at in np.flatnonzero(opened.wrong)
    )


def _tell(springs: Springs, opened: Openings, at: int, frosts: Ints, observed_c: Floats) -> WrongSpring:
    year, start = int(springs.years[at]), springs.start
    season = year - start.spring_lag
    later = frosts[frosts > opened.day[at]]
    coldest = int(later[np.argmin(observed_c[later])])
    return WrongSpring(
        year=year,
        opened=date_of(season, int(opened.day[at]), start),
        stated=float(opened.stated[at]),
        frost=date_of(season, coldest, start),
        tmin_c=float(observed_c[coldest]),
        first_frost=date_of(season, int(later[0]), start),
        frosts_after=later.size,
    )
