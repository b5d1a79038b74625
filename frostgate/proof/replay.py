"""Past springs, morning by morning: what the gate would have said, and what came.

Each spring is judged by a curve and by usual minima that have not seen it, with forecasts drawn for it
(`frostgate.proof.drawn`). The gate opens on the first morning whose risk is at most the tolerance; the spring
went wrong if a damaging frost came after that. Beside it stand the calendar date of the same tolerance, a
forecast that knows the window's nights, and the trade's habit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import special, stats

from frostgate.gate.forecast_errors import chance_of_any, error_spread
from frostgate.gate.outlook import HALF_DAY
from frostgate.proof.drawn import draw_mornings
from frostgate.proof.springs import Springs
from frostgate.seasons import SLOTS
from frostgate.terms import Floats, Ints, Policy
from frostgate.units import as_stored

Bools = npt.NDArray[np.bool_]

TOLERANCES = (0.02, 0.05, 0.10, 0.20, 0.30, 0.50)
HABIT_NIGHTS = 14  # the trade's habit looks at a two-week forecast
SURE = 0.999  # mornings before this risk are not worth asking


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
        Season day of opening, shape (springs,).
    wrong
        Whether a damaging frost came after it, shape (springs,).
    calendar_day, perfect_day
        Season day by the curve alone, and with a forecast that knows the window's nights, shape (springs,).

    Examples
    --------
    >>> made = Openings(risk=0.1, stated=np.array([0.08, 0.1]), day=np.array([270, 260]),
    ...                 wrong=np.array([False, True]), calendar_day=np.array([275, 275]),
    ...                 perfect_day=np.array([262, 255]))
    >>> made.realised, made.days_gained, made.days_gained_perfect
    (0.5, 10.0, 16.5)
    """

    risk: float
    stated: Floats
    day: Ints
    wrong: Bools
    calendar_day: Ints
    perfect_day: Ints

    @property
    def realised(self) -> float:
        """Share of springs with a damaging frost after opening."""
        return float(np.mean(self.wrong))

    @property
    def interval(self) -> tuple[float, float]:
        """The exact binomial 95 % interval of that share.

        Clopper & Pearson (1934), doi:10.1093/biomet/26.4.404.
        """
        found = stats.binomtest(int(np.sum(self.wrong)), len(self.wrong)).proportion_ci(0.95)
        return float(found.low), float(found.high)

    @property
    def days_gained(self) -> float:
        """Mean days by which it opened before the calendar date [d]."""
        return float(np.mean(self.calendar_day - self.day))

    @property
    def days_gained_perfect(self) -> float:
        """The same with a forecast that knows the window's nights: the limit [d]."""
        return float(np.mean(self.calendar_day - self.perfect_day))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Replay:
    """What the gate would have said in every past spring.

    Examples
    --------
    >>> none = np.empty(0, int)
    >>> habit = Openings(risk=np.nan, stated=np.empty(0), day=none, wrong=none > 0, calendar_day=none,
    ...                  perfect_day=none)
    >>> Replay(springs=None, openings=(), habit=habit, horizon=10).horizon
    10
    """

    springs: Springs
    openings: tuple[Openings, ...]
    habit: Openings
    horizon: int


def replay_springs(
    springs: Springs,
    policy: Policy,
    *,
    seed: int,
    horizon: int | None = None,
    tolerances: Sequence[float] = TOLERANCES,
) -> Replay:
    """Replay every spring, morning by morning.

    Parameters
    ----------
    springs
        As `lay_out_springs` lays them out, at ``policy.station_threshold_c``.
    policy
        The grower's numbers; its tolerance is not used.
    seed
        Of the drawn forecasts.
    horizon
        Nights that each morning's forecast tells of; None takes the policy's window.
    tolerances
        The risks to open at.

    Examples
    --------
    >>> from frostgate.proof.springs import lay_out_springs
    >>> from frostgate.seasons import NORTH
    >>> from frostgate.terms import DailyMinima, Station
    >>> days = np.arange("1990-08-01", "2020-08-01", dtype="datetime64[D]")
    >>> yearly = np.cos((days - days[0]).astype(int) / 365.25 * 2 * np.pi)
    >>> tmin_c = 6 + 9 * yearly + np.random.default_rng(4).normal(0, 3, days.size)
    >>> springs = lay_out_springs(DailyMinima(station=Station(id="X"), dates=days, tmin_c=tmin_c), 0.0, NORTH)
    >>> replay = replay_springs(springs, Policy(), seed=1)
    >>> all(opened.stated.mean() <= opened.risk for opened in replay.openings)
    True
    """
    nights = policy.window_days if horizon is None else horizon
    mornings = _mornings(springs)
    told = draw_mornings(springs, policy, mornings, max(nights, HABIT_NIGHTS), np.random.default_rng(seed))
    beyond = _risk_at(springs, mornings + nights)
    window = _window_risk(springs, told[..., :nights], mornings, policy)
    foreseen = np.where(_any_within(_frosts(springs, policy), mornings, nights), 1.0, beyond)
    ways = Ways(risk=window + (1 - window) * beyond, foreseen=foreseen, alone=_risk_at(springs, mornings))
    return Replay(
        springs=springs,
        openings=tuple(_openings(springs, mornings, tolerance, ways) for tolerance in tolerances),
        habit=_habit(springs, mornings, told[..., :HABIT_NIGHTS], ways, policy),
        horizon=nights,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ways:
    """The risk each morning by three ways of knowing, each of shape (springs, mornings).

    Parameters
    ----------
    risk
        By the gate.
    foreseen
        By a forecast that knows the window's nights, and the curve beyond it.
    alone
        By the curve alone.

    Examples
    --------
    >>> one = np.zeros((1, 1))
    >>> Ways(risk=one, foreseen=one, alone=one).risk.shape
    (1, 1)
    """

    risk: Floats
    foreseen: Floats
    alone: Floats


def _mornings(springs: Springs) -> Ints:
    """List the season days worth asking on: from where a frost is all but sure to the season's end."""
    first = int(np.argmax(springs.risk.min(axis=0) < SURE))
    return np.arange(max(first - HABIT_NIGHTS, 0), SLOTS, dtype=np.int64)


def _risk_at(springs: Springs, days: Ints) -> Floats:
    """Give each spring's chance of a frost later than those whole days, shape (springs, mornings)."""
    season_days = np.arange(SLOTS)
    risk = np.stack([np.interp(days + HALF_DAY, season_days, table) for table in springs.risk])
    return np.where(days >= SLOTS - 1, 0.0, risk)


def _window_risk(springs: Springs, told: Floats, mornings: Ints, policy: Policy) -> Floats:
    """Give each morning's chance of a frost in its forecast's nights, shape (springs, mornings)."""
    window = np.empty((len(springs.years), mornings.size))
    for at, morning in enumerate(mornings):
        days = np.minimum(morning + 1 + np.arange(told.shape[2]), SLOTS - 1)
        within = morning + 1 + np.arange(told.shape[2]) < SLOTS
        chances = _night_chances(told[at], springs.spread_c[:, days], springs.step_c, policy) * within
        window[:, at] = chance_of_any(chances, policy.error_correlation)[:, 0]
    return window


def _night_chances(told_c: Floats, spread_c: Floats, step_c: float, policy: Policy) -> Floats:
    """Give the chance of a damaging frost on each forecast night, as the gate does it, (springs, nights)."""
    share, factor = policy.wide_share, policy.wide_factor
    policy_sd_c = [error_spread(lead + 1.0, np.nan, policy) for lead in range(told_c.shape[1])]
    narrow_c = np.minimum(policy_sd_c, spread_c) / np.sqrt(1 - share + share * factor**2)
    margin_c = told_c - policy.error_bias_c - policy.station_threshold_c - step_c / 2
    wide = special.ndtr(-margin_c / (factor * narrow_c))
    chance: Floats = (1 - share) * special.ndtr(-margin_c / narrow_c) + share * wide
    return chance


def _frosts(springs: Springs, policy: Policy) -> Bools:
    """Tell which days of each spring had a damaging frost, shape (springs, 366)."""
    observed_c = as_stored(springs.usual_c + springs.anomaly_c)
    frost: Bools = observed_c <= as_stored(policy.station_threshold_c)
    return frost


def _any_within(frost: Bools, mornings: Ints, nights: int) -> Bools:
    """Tell whether any of the nights after each morning had a frost, shape (springs, mornings)."""
    so_far = np.concatenate([np.zeros((len(frost), 1)), np.cumsum(frost, axis=1)], axis=1)
    end = np.minimum(mornings + nights + 1, SLOTS)
    within: Bools = so_far[:, end] > so_far[:, np.minimum(mornings + 1, SLOTS)]
    return within


def _openings(springs: Springs, mornings: Ints, tolerance: float, ways: Ways) -> Openings:
    at = _first(ways.risk <= tolerance)
    return Openings(
        risk=tolerance,
        stated=ways.risk[np.arange(at.size), at],
        day=mornings[at],
        wrong=springs.last_frost > mornings[at],
        calendar_day=mornings[_first(ways.alone <= tolerance)],
        perfect_day=mornings[_first(ways.foreseen <= tolerance)],
    )


def _habit(springs: Springs, mornings: Ints, told: Floats, ways: Ways, policy: Policy) -> Openings:
    """Open by the trade's habit: past the 50 % date, and no frost in the two-week forecast.

    Common practice, no source.
    """
    mild = (told > policy.station_threshold_c + springs.step_c / 2).all(axis=2).T
    at = _first(mild & (ways.alone <= 0.5))
    median = mornings[_first(ways.alone <= 0.5)]
    return Openings(
        risk=np.nan,
        stated=np.full(at.size, np.nan),
        day=mornings[at],
        wrong=springs.last_frost > mornings[at],
        calendar_day=median,
        perfect_day=median,
    )


def _first(true: Bools) -> Ints:
    """Give the first true morning of each spring; the last morning where there is none."""
    at = np.argmax(true, axis=1)
    return np.asarray(np.where(true.any(axis=1), at, true.shape[1] - 1), dtype=np.int64)
