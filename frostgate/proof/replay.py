"""Past springs, morning by morning: what the gate would have said, and what came.

Each spring is judged by a curve, usual minima and a persistence that have not seen it, with forecasts drawn
for it (`frostgate.proof.drawn`) or kept of it. The gate opens on the first morning whose risk is at most the
tolerance; the spring went wrong if a damaging frost came after that. Beside it stand the calendar date of the
same tolerance, a forecast without error, and the trade's habit.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
import numpy.typing as npt

from frostgate.climate.completeness import find_hemisphere
from frostgate.errors import InputError
from frostgate.proof.drawn import draw_mornings
from frostgate.proof.mornings import HABIT_NIGHTS, Advance, Bools, Mornings, ask_each_morning, worth_asking
from frostgate.proof.openings import Openings, Replay
from frostgate.proof.springs import Springs, lay_out_springs
from frostgate.seasons import SLOTS, SeasonStart
from frostgate.terms import DailyMinima, Floats, Policy, Station, is_within

TOLERANCES = (0.02, 0.05, 0.10, 0.20, 0.30, 0.50)


def replay_springs(
    springs: Springs,
    policy: Policy,
    *,
    seed: int,
    horizon: int | None = None,
    tolerances: Sequence[float] = TOLERANCES,
    forecasts_c: npt.ArrayLike | None = None,
    advance: Advance | None = None,
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
    forecasts_c
        Forecasts kept of those springs [°C], shape (springs, 366, nights): of the station's minima after each
        season day, NaN where there is none (see `lay_out_kept`). A spring that has one is replayed by what
        was kept of it alone; the others are drawn.
    advance
        Called with how many mornings are done, and of how many.

    Raises
    ------
    InputError
        Where the springs were laid out at another threshold, or the forecasts have another shape.

    Examples
    --------
    >>> from frostgate.seasons import NORTH
    >>> days = np.arange("1990-08-01", "2020-08-01", dtype="datetime64[D]")
    >>> yearly = np.cos((days - days[0]).astype(int) / 365.25 * 2 * np.pi)
    >>> tmin_c = 6 + 9 * yearly + np.random.default_rng(4).normal(0, 3, days.size)
    >>> springs = lay_out_springs(DailyMinima(station=Station(id="X"), dates=days, tmin_c=tmin_c), 0.0, NORTH)
    >>> replay = replay_springs(springs, Policy(), seed=1)
    >>> all(opened.stated.mean() <= opened.risk for opened in replay.openings)
    True
    """
    if springs.threshold_c != policy.station_threshold_c:
        raise InputError(
            "the springs were laid out at another threshold than the policy's",
            value=f"{springs.threshold_c:g} and {policy.station_threshold_c:g} °C",
        )
    nights = policy.window_days if horizon is None else horizon
    day = worth_asking(springs)
    told: Iterable[Floats] = draw_mornings(
        springs, policy, day, max(nights, HABIT_NIGHTS), np.random.default_rng(seed)
    )
    kept: Bools = np.zeros(len(springs.years), dtype=np.bool_)
    if forecasts_c is not None:
        kept_c = _checked(forecasts_c, springs)[:, day]
        nights = min(nights, kept_c.shape[2])
        kept |= np.isfinite(kept_c).any(axis=(1, 2))
        told = _joined(kept, kept_c, told)
    mornings = ask_each_morning(springs, policy, day=day, told_c=told, nights=nights, advance=advance)
    return Replay(
        springs=springs,
        openings=tuple(_openings(springs, mornings, tolerance) for tolerance in tolerances),
        habit=_habit(springs, mornings),
        horizon=nights,
        mornings=mornings,
        kept=kept,
    )


def replay_minima(
    dates: npt.ArrayLike,
    tmin_c: npt.ArrayLike,
    policy: Policy | None = None,
    *,
    seed: int = 1,
    start: SeasonStart | None = None,
    years: tuple[int, int] | None = None,
    horizon: int | None = None,
    tolerances: Sequence[float] = TOLERANCES,
) -> Replay:
    """Replay every spring of a record given as arrays.

    Parameters
    ----------
    dates
        Days, strictly rising, shape (n,).
    tmin_c
        Their minima [°C], NaN where missing, shape (n,).
    policy
        The grower's numbers; None takes the defaults.
    seed, horizon, tolerances
        As in `replay_springs`.
    start
        Where a season begins; None lets the colder months tell.
    years
        First and last spring to replay; None replays all.

    Raises
    ------
    InputError
        Where the arrays are no record.
    TooFewSeasonsError
        With fewer than 11 known springs.

    Examples
    --------
    >>> days = np.arange("1990-08-01", "2020-08-01", dtype="datetime64[D]")
    >>> yearly = np.cos((days - days[0]).astype(int) / 365.25 * 2 * np.pi)
    >>> replay = replay_minima(days, 6 + 9 * yearly + np.random.default_rng(4).normal(0, 3, days.size))
    >>> [opened.risk for opened in replay.openings], len(replay.springs.years)
    ([0.02, 0.05, 0.1, 0.2, 0.3, 0.5], 30)
    """
    policy = policy or Policy()
    record = DailyMinima(
        station=Station(id="record"),
        dates=np.asarray(dates, dtype="datetime64[D]"),
        tmin_c=np.asarray(tmin_c, dtype=np.float64),
    )
    springs = lay_out_springs(
        record, policy.station_threshold_c, start or find_hemisphere(record), years=years
    )
    return replay_springs(springs, policy, seed=seed, horizon=horizon, tolerances=tolerances)


def _checked(forecasts_c: npt.ArrayLike, springs: Springs) -> Floats:
    kept_c = np.asarray(forecasts_c)
    wanted = f"({len(springs.years)}, {SLOTS}, nights)"
    if kept_c.dtype.kind not in "fiu" or kept_c.ndim != 3 or kept_c.shape[:2] != (len(springs.years), SLOTS):
        raise InputError(f"forecasts are numbers of the shape {wanted}", value=kept_c.shape)
    if kept_c.shape[2] == 0:
        raise InputError("forecasts tell of at least one night", value=kept_c.shape)
    return kept_c.astype(np.float64)


def _joined(kept: Bools, kept_c: Floats, drawn: Iterable[Floats]) -> Iterator[Floats]:
    """Give each morning's forecasts: those kept of a spring, where any was, else the drawn ones."""
    for at, told_c in enumerate(drawn):
        width = min(kept_c.shape[2], told_c.shape[1])
        yield np.where(kept[:, np.newaxis], kept_c[:, at, :width], told_c[:, :width])


def _openings(springs: Springs, mornings: Mornings, tolerance: float) -> Openings:
    day = _first_day(mornings, is_within(mornings.risk, tolerance))
    at = np.where(np.isfinite(day), day - mornings.day[0], 0).astype(np.int64)
    return Openings(
        risk=tolerance,
        stated=np.where(np.isfinite(day), mornings.risk[np.arange(at.size), at], np.nan),
        day=day,
        wrong=springs.last_frost > day,
        calendar_day=_first_day(mornings, is_within(mornings.alone, tolerance)),
        perfect_day=_first_day(mornings, is_within(mornings.foreseen, tolerance)),
    )


def _habit(springs: Springs, mornings: Mornings) -> Openings:
    """Open by the trade's habit: past the 50 % date, and no frost in the two-week forecast.

    Common practice, no source.
    """
    past_half = mornings.alone <= 0.5
    day, half = _first_day(mornings, mornings.mild & past_half), _first_day(mornings, past_half)
    return Openings(
        risk=np.nan,
        stated=np.full(day.size, np.nan),
        day=day,
        wrong=springs.last_frost > day,
        calendar_day=half,
        perfect_day=half,
    )


def _first_day(mornings: Mornings, true: Bools) -> Floats:
    """Give the first season day on which it is true in each spring; NaN where it never is."""
    return np.where(true.any(axis=1), mornings.day[np.argmax(true, axis=1)], np.nan)
