"""The gate asked on every morning of a past spring: when it would have opened, and what came."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy import special

from frostgate.gate.forecast_errors import SMALLEST_SD_C, error_spread
from frostgate.gate.outlook import curve_hazards, risk_after, tilt, weigh
from frostgate.model.gate import Policy, Seen
from frostgate.model.records import RECENT_DAYS
from frostgate.proof.reliability import exact_interval
from frostgate.proof.springs import Springs
from frostgate.seasons import SLOTS, Floats, Ints

Bools = npt.NDArray[np.bool_]
Advance = Callable[[int, int], None]

MIDWINTER = 153  # nobody feeds before the turn of the year (1 January, in the south 4 July)
HABIT_NIGHTS = 14  # the trade's habit looks at a two-week forecast
SURE = 0.999  # mornings before this risk are not worth asking
SAFE = 0.001  # nor those after this one
NEGLIGIBLE = 1e-5  # what is left of the curve's hazard once this spring's weather need not change it


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mornings:
    """The risk on each morning by several ways of knowing, each of shape (springs, mornings).

    Parameters
    ----------
    day
        Season days asked on, shape (mornings,).
    risk
        By the gate.
    foreseen
        By a gate whose forecast makes no error.
    alone
        By the curve alone.
    mild
        Whether the two-week forecast has no damaging frost.
    """

    day: Ints
    risk: Floats
    foreseen: Floats
    alone: Floats
    mild: Bools


def worth_asking(springs: Springs) -> Ints:
    """List the season days worth asking on: from a frost all but sure to one all but past."""
    least, most = springs.risk.min(axis=0), springs.risk.max(axis=0)
    first = int(np.argmax(least < SURE)) - HABIT_NIGHTS
    past = most < SAFE
    last = int(np.argmax(past)) + HABIT_NIGHTS if past.any() else SLOTS
    return np.arange(max(first, MIDWINTER), max(min(last, SLOTS), MIDWINTER + 1), dtype=np.int64)


def ask_each_morning(
    springs: Springs,
    policy: Policy,
    *,
    day: Ints,
    told_c: Iterable[Floats],
    nights: int,
    advance: Advance | None = None,
) -> Mornings:
    """Ask the gate on each morning of each spring, with that morning's forecast."""
    shape = (len(springs.years), day.size)
    risk, foreseen, mild = np.full(shape, np.nan), np.empty(shape), np.empty(shape, dtype=bool)
    ground, all_springs = _Ground(springs), np.arange(shape[0])
    habit_c = policy.station_threshold_c + springs.step_c / 2
    for at, (morning, told) in enumerate(zip(day.tolist(), told_c, strict=True)):
        within = told[:, : SLOTS - 1 - morning]
        known = np.logical_and.accumulate(np.isfinite(within[:, :nights]), axis=1).sum(axis=1)
        for count in np.unique(known[known > 0] if within.size else known).tolist():
            rows = np.flatnonzero(known == count)
            seen = ground.see(rows, morning, within[rows, :count], policy)
            risk[rows, at] = _risk(*weigh(seen, policy, special.ndtr), seen.end)
        foreseen[:, at] = _foreseen(ground, all_springs, morning, min(nights, within.shape[1]), policy)
        mild[:, at] = (within[:, :HABIT_NIGHTS] > habit_c).all(axis=1)
        if advance is not None:
            advance(at + 1, day.size)
    return Mornings(day=day, risk=risk, foreseen=foreseen, alone=risk_after(springs.risk)[:, day], mild=mild)


class _Ground:
    """What does not change from morning to morning."""

    def __init__(self, springs: Springs) -> None:
        self.springs = springs
        self.hazards, self.end = curve_hazards(springs.risk)
        self.frost = (springs.threshold_c + springs.step_c / 2 - springs.climatology_c) / springs.climate_sd_c
        later = np.cumsum(self.hazards[:, ::-1], axis=1)[:, ::-1].max(axis=0)
        self.last = int(np.argmax(later < NEGLIGIBLE)) if (later < NEGLIGIBLE).any() else SLOTS
        anomaly = springs.anomaly_c / springs.climate_sd_c
        total = np.concatenate([np.zeros((len(anomaly), 1)), np.cumsum(anomaly, axis=1)], axis=1)
        days = np.arange(SLOTS)
        self.recent = (total[:, days + 1] - total[:, np.maximum(days + 1 - RECENT_DAYS, 0)]) / RECENT_DAYS

    def see(self, rows: Ints, morning: int, told_c: Floats, policy: Policy) -> Seen:
        """Lay out what is seen in some springs on a morning with a forecast of the coming minima [°C]."""
        springs, nights = self.springs, told_c.shape[1]
        first = morning + 1
        window, coming = slice(first, first + nights), slice(first, max(self.last, first + nights))
        climate_sd_c = springs.climate_sd_c[rows, window]
        return Seen(
            curve=self.hazards[rows, coming],
            end=self.end[rows] + self.hazards[rows, coming.stop :].sum(axis=1),
            margin_c=told_c - policy.error_bias_c - springs.threshold_c - springs.step_c / 2,
            sd_c=error_spread(np.arange(nights) + 1.0, np.nan, policy, climate_sd_c),
            climate_sd_c=climate_sd_c,
            frost=self.frost[rows, coming],
            recent=self.recent[rows, morning],
            persistence=springs.persistence[rows],
            explained=springs.explained[rows],
        )


def _foreseen(ground: _Ground, rows: Ints, morning: int, nights: int, policy: Policy) -> Floats:
    """Return the risk by a forecast without error: sure of its nights, and of what they tell of the rest."""
    springs, window = ground.springs, slice(morning + 1, morning + 1 + nights)
    came_c = np.where(
        np.isfinite(springs.tmin_c[:, window]), springs.tmin_c[:, window], springs.climatology_c[:, window]
    )
    seen = ground.see(rows, morning, came_c + policy.error_bias_c, policy)
    sure = replace(seen, sd_c=np.full_like(seen.sd_c, SMALLEST_SD_C))
    beyond = (seen.curve * np.exp(tilt(sure, special.ndtr)))[:, nights:]
    return np.where(springs.frost[:, window].any(axis=1), 1.0, _risk(np.zeros((1, 0)), beyond, seen.end))


def _risk(window: Floats, beyond: Floats, end: Floats | float) -> Floats:
    risk: Floats = 1 - np.exp(-(window.sum(axis=1) + beyond.sum(axis=1) + end))
    return risk


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
