"""When the gate opened in past springs, and what came of it."""

from __future__ import annotations

import numpy as np

from frostgate.proof.mornings import Bools, Mornings
from frostgate.proof.reliability import exact_interval
from frostgate.proof.springs import Springs
from frostgate.terms import Floats
from frostgate.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Openings:
    """When a way of deciding opened the gate, and what came of it.

    Parameters
    ----------
    risk
        The tolerance; NaN for the trade's habit, which has none.
    stated
        The risk stated at opening, shape (springs,); NaN where none was.
    day
        Season day of opening, shape (springs,); NaN where it stayed shut.
    wrong
        Whether a damaging frost came after it, shape (springs,).
    calendar_day, perfect_day
        Season day by the curve alone, and with a forecast that makes no error, shape (springs,).

    Examples
    --------
    >>> made = Openings(risk=0.1, stated=np.array([0.08, 0.1]), day=np.array([270.0, 260.0]),
    ...                 wrong=np.array([False, True]), calendar_day=np.array([275.0, 275.0]),
    ...                 perfect_day=np.array([262.0, 255.0]))
    >>> made.realised, made.days_gained, made.days_gained_perfect
    (0.5, 10.0, 16.5)
    """

    risk: float
    stated: Floats
    day: Floats
    wrong: Bools
    calendar_day: Floats
    perfect_day: Floats

    @property
    def opened(self) -> Bools:
        """In which springs it opened at all, shape (springs,)."""
        return np.isfinite(self.day)

    @property
    def springs(self) -> int:
        """In how many springs it opened."""
        return int(self.opened.sum())

    @property
    def stated_mean(self) -> float:
        """Mean risk stated at opening; NaN where none was."""
        return float(np.mean(self.stated[self.opened])) if self.opened.any() else np.nan

    @property
    def median_day(self) -> float:
        """Middle season day of opening; NaN where it never opened."""
        return float(np.median(self.day[self.opened])) if self.opened.any() else np.nan

    @property
    def realised(self) -> float:
        """Share of the springs in which it opened that had a damaging frost after that."""
        return float(np.mean(self.wrong[self.opened])) if self.opened.any() else np.nan

    @property
    def interval(self) -> tuple[float, float]:
        """The exact binomial 95 % interval of that share.

        Clopper & Pearson (1934), doi:10.1093/biomet/26.4.404.
        """
        if not self.opened.any():
            return (0.0, 1.0)
        return exact_interval(int(self.wrong.sum()), self.springs)

    @property
    def days_gained(self) -> float:
        """Mean days by which it opened before the calendar date [d]; NaN where they are never both dated."""
        return _mean_gain(self.calendar_day, self.day)

    @property
    def days_gained_perfect(self) -> float:
        """The same with a forecast that makes no error: the limit [d]."""
        return _mean_gain(self.calendar_day, self.perfect_day)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Replay:
    """What the gate would have said in every past spring.

    Parameters
    ----------
    springs
        The springs replayed.
    openings
        Of the gate, one for each tolerance.
    habit
        Of the trade's habit.
    horizon
        Nights that each morning's forecast told of.
    mornings
        Every morning asked.
    kept
        Which springs were replayed by forecasts that were kept of them, shape (springs,); the others by drawn
        ones.

    Examples
    --------
    >>> none = np.empty(0)
    >>> habit = Openings(risk=np.nan, stated=none, day=none, wrong=none > 0, calendar_day=none,
    ...                  perfect_day=none)
    >>> habit.interval
    (0.0, 1.0)
    """

    springs: Springs
    openings: tuple[Openings, ...]
    habit: Openings
    horizon: int
    mornings: Mornings
    kept: Bools


def _mean_gain(calendar_day: Floats, day: Floats) -> float:
    gained = calendar_day - day
    return float(np.nanmean(gained)) if np.isfinite(gained).any() else np.nan
