"""Past springs replayed: the gate asked every morning, when it would have opened, and what came then."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from frostgate.climate.frosts import Bools
from frostgate.errors import InputError
from frostgate.gate.forecast_errors import SMALLEST_SD_C, error_spread
from frostgate.gate.outlook import curve_hazards, hazard_adjustment, weigh
from frostgate.model.curves import RECENT_DAYS, risk_if_fed
from frostgate.model.gate import Policy, Seen, is_within
from frostgate.proof.reliability import exact_interval
from frostgate.proof.springs import Springs, draw_mornings
from frostgate.seasons import SLOTS, Floats, Ints, date_of
from frostgate.units import as_stored

if TYPE_CHECKING:
    import pandas as pd

Advance = Callable[[int, int], None]  # is told how many mornings are done, and of how many

TOLERANCES = (0.02, 0.05, 0.10, 0.20, 0.30, 0.50)
MIDWINTER = 153  # nobody feeds before the turn of the year (1 January, in the south 4 July)
HABIT_NIGHTS = 14  # the trade's habit looks at a two-week forecast
SURE = 0.999  # mornings before this risk are not worth asking
SAFE = 0.001  # nor those after this one
NEGLIGIBLE = 1e-5  # what is left of the curve's hazard once this spring's weather need not change it


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mornings:
    """The risk on each morning by several ways of knowing, each of shape (springs, mornings)."""

    day: Ints  # season days asked on, shape (mornings,)
    risk: Floats  # by the gate
    foreseen: Floats  # by a gate whose forecast makes no error
    alone: Floats  # by the curve alone
    mild: Bools  # the two-week forecast has no damaging frost

    def __repr__(self) -> str:
        return f"<Mornings: {self.day.size} in each of {len(self.risk)} springs>"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Openings:
    """When a way of deciding opened the gate, and what came of it; arrays of shape (springs,)."""

    risk: float  # the tolerance; NaN for the trade's habit, which has none
    stated: Floats  # the risk stated at opening; NaN where none was
    day: Floats  # season day of opening; NaN where it stayed shut
    wrong: Bools  # a damaging frost came on an exposed morning
    calendar_day: Floats  # season day by the curve alone
    perfect_day: Floats  # season day by a forecast that makes no error
    first_exposed_days: int = 1  # from opening to the first exposed morning

    def __repr__(self) -> str:
        springs = f"in {self.springs} of {self.day.size} springs"
        return f"<Openings at {self.risk:.0%}: {springs}, a frost after it in {self.wrong.sum()}>"

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
        return _mean(self.stated)

    @property
    def median_day(self) -> float:
        """Middle season day of opening; NaN where it never opened."""
        return float(np.median(self.day[self.opened])) if self.opened.any() else np.nan

    @property
    def realised(self) -> float:
        """Share of the springs in which it opened that had a damaging frost after that."""
        return _mean(self.wrong[self.opened])

    @property
    def interval(self) -> tuple[float, float]:
        """The exact binomial 95 % interval of that share."""
        return exact_interval(int(self.wrong.sum()), self.springs) if self.opened.any() else (0.0, 1.0)

    @property
    def days_gained(self) -> float:
        """Mean days by which it opened before the calendar date [d]; NaN where they are never both dated."""
        return _mean(self.calendar_day - self.day)

    @property
    def days_gained_perfect(self) -> float:
        """The same with a forecast that makes no error: the limit [d]."""
        return _mean(self.calendar_day - self.perfect_day)


def _mean(values: Floats | Bools) -> float:
    """Return the mean of what is known, NaN where nothing is."""
    known = values[np.isfinite(values)]
    return float(known.mean()) if known.size else np.nan


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Replay:
    """What the gate would have said in every past spring; `frostgate.replay` makes it.

    Parameters
    ----------
    springs : the springs, each with what the others tell of it
    openings : when the gate opened and what came, one for each limit of risk
    habit : the same for the trade's habit: past the 50 % date, no frost in the two-week forecast, so feed
    horizon : how many nights ahead the forecasts were weighed
    mornings : the risk on every morning asked
    kept : which springs were replayed by forecasts that were kept, not drawn, shape (springs,)

    Examples
    --------
    >>> import frostgate as fg
    >>> past = fg.replay(fg.read_minima("data_samples/oskelmere.dly"), years=(1996, 2025), tolerances=[0.1])
    >>> past
    <Replay of 28 springs, 1996 to 2025, at 1 limits>
    >>> past.to_dataframe().round(2).loc[0.1].to_dict()
    {'springs': 28.0, 'stated_mean': 0.08, 'realised': 0.07, 'days_gained': 5.89}
    """

    springs: Springs
    openings: tuple[Openings, ...]
    habit: Openings
    horizon: int
    mornings: Mornings
    kept: Bools

    def __repr__(self) -> str:
        years = self.springs.years
        return f"<Replay of {years.size} springs, {years[0]} to {years[-1]}, at {len(self.openings)} limits>"

    def to_dataframe(self) -> pd.DataFrame:
        """Return, by limit, the springs in which the gate opened, the risk it stated, and what came."""
        import pandas as pd

        names = ["springs", "stated_mean", "realised", "days_gained"]
        rows = [[getattr(one, name) for name in names] for one in self.openings]
        limits = pd.Index([one.risk for one in self.openings], name="limit")
        return pd.DataFrame(rows, index=limits, columns=names)


@dataclass(frozen=True, slots=True, kw_only=True)
class WrongSpring:
    """A spring in which a damaging frost came after the gate had opened."""

    year: int
    opened: dt.date
    stated: float  # the risk on that morning; NaN where none was stated
    frost: dt.date  # the morning of the coldest exposed night, of equals the first
    tmin_c: float  # the station's minimum of that night [°C]
    first_frost: dt.date  # the first damaging frost that met exposed pots
    frosts_after: int  # how many such frosts came


def replay_springs(
    springs: Springs,
    policy: Policy,
    *,
    seed: int,
    horizon: int | None = None,
    tolerances: Sequence[float] = TOLERANCES,
    forecasts_c: Floats | None = None,
    advance: Advance | None = None,
) -> Replay:
    """Replay every spring, laid out at the policy's threshold, by drawn or by kept forecasts."""
    nights = policy.window_days if horizon is None else horizon
    if nights < policy.first_exposed_days:
        raise InputError(
            "the forecasts end before the pots are exposed",
            value=f"{nights} nights, exposed {policy.first_exposed_days} days after feeding",
            remedy="Replay forecasts of more nights.",
        )
    if seed < 0:
        raise InputError("a seed is not below 0", value=seed, remedy="Write it as 1.")
    day = worth_asking(springs, policy)
    told: Iterable[Floats] = draw_mornings(
        springs, policy, day, max(nights, HABIT_NIGHTS), np.random.default_rng(seed)
    )
    kept: Bools = np.zeros(len(springs.years), dtype=np.bool_)
    if forecasts_c is not None:
        kept_c = forecasts_c[:, day]
        nights = min(nights, kept_c.shape[2] + policy.first_exposed_days - 1)
        kept |= np.isfinite(kept_c).any(axis=(1, 2))
        told = _joined(kept, kept_c, told)
    mornings = ask_each_morning(springs, policy, day=day, told_c=told, nights=nights, advance=advance)

    def opened(risk: float, within: Bools, alone: Bools, foreseen: Bools) -> Openings:
        day, exposed = _first_day(mornings, within), policy.first_exposed_days
        at = np.where(np.isfinite(day), day - mornings.day[0], 0).astype(np.int64)
        stated = np.where(np.isfinite(day), mornings.risk[np.arange(at.size), at], np.nan)
        return Openings(
            risk=risk,
            stated=np.full(at.size, np.nan) if np.isnan(risk) else stated,
            day=day,
            wrong=springs.last_frost >= day + exposed,
            calendar_day=_first_day(mornings, alone),
            perfect_day=_first_day(mornings, foreseen),
            first_exposed_days=exposed,
        )

    # the habit: past the 50 % date, no frost in the two-week forecast, so feed (common practice, no source)
    past_half, by_each = mornings.alone <= 0.5, (mornings.risk, mornings.alone, mornings.foreseen)
    return Replay(
        springs=springs,
        openings=tuple(opened(limit, *(is_within(risk, limit) for risk in by_each)) for limit in tolerances),
        habit=opened(np.nan, mornings.mild & past_half, past_half, past_half),
        horizon=nights,
        mornings=mornings,
        kept=kept,
    )


def _joined(kept: Bools, kept_c: Floats, drawn: Iterable[Floats]) -> Iterator[Floats]:
    """Return each morning's forecasts: those kept of a spring, where any was, else the drawn ones."""
    for at, told_c in enumerate(drawn):
        width = min(kept_c.shape[2], told_c.shape[1])
        yield np.where(kept[:, np.newaxis], kept_c[:, at, :width], told_c[:, :width])


def _first_day(mornings: Mornings, true: Bools) -> Floats:
    """Return the first season day on which it is true in each spring; NaN where it never is."""
    return np.where(true.any(axis=1), mornings.day[np.argmax(true, axis=1)], np.nan)


def worth_asking(springs: Springs, policy: Policy) -> Ints:
    """List the season days worth asking on: from a frost all but sure to one all but past."""
    least, most = springs.risk.min(axis=0), springs.risk.max(axis=0)
    sooner = policy.first_exposed_days - 1
    first = int(np.argmax(least < SURE)) - HABIT_NIGHTS - sooner
    past = most < SAFE
    last = int(np.argmax(past)) + HABIT_NIGHTS - sooner if past.any() else SLOTS
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
    """Ask the gate on each morning of each spring, with that morning's forecast of the exposed nights.

    The first column of a forecast is the first exposed night; those up to ``nights`` ahead are weighed.
    """
    shape, exposed = (len(springs.years), day.size), policy.first_exposed_days
    risk, foreseen, mild = np.full(shape, np.nan), np.empty(shape), np.empty(shape, dtype=bool)
    ground, every = _Ground(springs, policy), np.arange(shape[0])
    habit_c = policy.station_threshold_c + springs.step_c / 2
    for at, (morning, told) in enumerate(zip(day.tolist(), told_c, strict=True)):
        within = told[:, : max(SLOTS - exposed - morning, 0)]
        weighed = min(nights + 1 - exposed, within.shape[1])
        known = np.logical_and.accumulate(np.isfinite(within[:, :weighed]), axis=1).sum(axis=1)
        for count in np.unique(known[known > 0] if within.size else known).tolist():
            rows = np.flatnonzero(known == count)
            seen = ground.see(rows, morning, within[rows, :count])
            risk[rows, at] = _risk(*weigh(seen, policy, special.ndtr), seen.end)
        foreseen[:, at] = ground.foreseen(every, morning, weighed)
        mild[:, at] = (within[:, : HABIT_NIGHTS + 1 - exposed] > habit_c).all(axis=1)
        if advance is not None:
            advance(at + 1, day.size)
    alone = risk_if_fed(springs.risk, exposed)[:, day]
    return Mornings(day=day, risk=risk, foreseen=foreseen, alone=alone, mild=mild)


class _Ground:
    """What does not change from morning to morning."""

    def __init__(self, springs: Springs, policy: Policy) -> None:
        self.springs, self.policy = springs, policy
        self.hazards, self.end = curve_hazards(springs.risk)
        self.frost = (springs.threshold_c + springs.step_c / 2 - springs.climatology_c) / springs.climate_sd_c
        later = np.cumsum(self.hazards[:, ::-1], axis=1)[:, ::-1].max(axis=0)
        self.last = int(np.argmax(later < NEGLIGIBLE)) if (later < NEGLIGIBLE).any() else SLOTS
        self.anomalies = np.pad(np.cumsum(springs.anomaly, axis=1), ((0, 0), (1, 0)))  # before each day

    def see(self, rows: Ints, morning: int, told_c: Floats) -> Seen:
        """Lay out what is seen in some springs on a morning with a forecast of the exposed minima [°C]."""
        springs, policy, nights = self.springs, self.policy, told_c.shape[1]
        first = min(morning + policy.first_exposed_days, SLOTS)
        window, coming = slice(first, first + nights), slice(first, max(self.last, first + nights))
        since, until = morning + 1 - RECENT_DAYS, min(morning + 1, first)  # not what is asked about
        climate_sd_c = springs.climate_sd_c[rows, window]
        return Seen(
            hazard=self.hazards[rows, coming],
            end=self.end[rows] + self.hazards[rows, coming.stop :].sum(axis=1),
            margin_c=told_c - policy.error_bias_c - springs.threshold_c - springs.step_c / 2,
            sd_c=error_spread(first - morning + np.arange(float(nights)), np.nan, policy, climate_sd_c),
            climate_sd_c=climate_sd_c,
            frost=self.frost[rows, coming],
            recent=(self.anomalies[rows, until] - self.anomalies[rows, since]) / (until - since),
            persistence=springs.persistence[rows],
            explained=springs.explained[rows],
        )

    def foreseen(self, rows: Ints, morning: int, nights: int) -> Floats:
        """Return the risk by a forecast without error: sure of its nights, and of what they tell of later."""
        springs, first = self.springs, morning + self.policy.first_exposed_days
        window = slice(first, first + nights)
        came_c = np.where(
            np.isfinite(springs.tmin_c[:, window]),
            springs.tmin_c[:, window],
            springs.climatology_c[:, window],
        )
        seen = self.see(rows, morning, came_c + self.policy.error_bias_c)
        sure = replace(seen, sd_c=np.full_like(seen.sd_c, SMALLEST_SD_C))
        beyond = (seen.hazard * np.exp(hazard_adjustment(sure, special.ndtr)))[:, nights:]
        return np.where(springs.frost[:, window].any(axis=1), 1.0, _risk(np.zeros((1, 0)), beyond, seen.end))


def _risk(window: Floats, beyond: Floats, end: Floats | float) -> Floats:
    risk: Floats = 1 - np.exp(-(window.sum(axis=1) + beyond.sum(axis=1) + end))
    return risk


def wrong_springs(springs: Springs, opened: Openings) -> list[WrongSpring]:
    """Tell of each spring that went wrong when the gate opened and what came after."""
    wrong = []
    for at in np.flatnonzero(opened.wrong).tolist():
        year, start, observed_c = int(springs.years[at]), springs.start, as_stored(springs.tmin_c[at])
        season, frosts = year - start.spring_lag, np.flatnonzero(springs.frost[at])
        later = frosts[frosts >= opened.day[at] + opened.first_exposed_days]
        coldest = int(later[np.argmin(observed_c[later])])
        spring = WrongSpring(
            year=year,
            opened=date_of(season, int(opened.day[at]), start),
            stated=float(opened.stated[at]),
            frost=date_of(season, coldest, start),
            tmin_c=float(observed_c[coldest]),
            first_frost=date_of(season, int(later[0]), start),
            frosts_after=later.size,
        )
        wrong.append(spring)
    return wrong
