"""Past springs of a record replayed, by drawn forecasts or by those that were kept."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from frostgate.climate.quality import find_hemisphere
from frostgate.errors import InputError
from frostgate.model.gate import ForecastLog, Policy, is_within
from frostgate.model.records import DailyMinima, Station
from frostgate.proof.drawn import draw_mornings
from frostgate.proof.openings import (
    HABIT_NIGHTS,
    Advance,
    Bools,
    Mornings,
    Openings,
    Replay,
    ask_each_morning,
    worth_asking,
)
from frostgate.proof.springs import Springs, lay_out_springs
from frostgate.seasons import SLOTS, Dates, Floats, Ints, SeasonStart, date_of, split_dates
from frostgate.units import as_stored


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
    """Tell of each spring that went wrong when the gate opened and what came after."""
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


_TO_NOON = np.timedelta64(12, "h")  # a forecast made after noon is the next morning's


def lay_out_kept(log: ForecastLog, springs: Springs, nights: int) -> Floats:
    """Return each morning the newest forecast made for it, from noon the day before to noon of its day.

    The replay weighs every forecast as fresh, so an older one is not taken: it would be thought surer than it
    is. A morning without one is unknown.
    """
    places = np.unique(log.place)
    if places.size > 1:
        raise InputError(
            "the log of forecasts holds several places",
            value=", ".join(places[:3].tolist()),
            remedy="Leave the lines of one place in it.",
        )
    told_c = np.full((springs.years.size, SLOTS, nights), np.nan)
    days = (log.issued + _TO_NOON).astype("datetime64[D]")
    for day in np.unique(days):
        newest = log.only(log.issued == log.issued[days == day].max())
        _fill(told_c, springs, day, newest.mornings, newest.forecast_c)
    return told_c


def _fill(told_c: Floats, springs: Springs, day: np.datetime64, mornings: Dates, forecast_c: Floats) -> None:
    """Write one morning's forecast; a 29 February that does not exist takes the night after it."""
    season, slot = split_dates(np.append(day, mornings), springs.start)
    ahead: Ints = slot[1:] - slot[0] - 1
    within = (season[1:] == season[0]) & (ahead >= 0) & (ahead < told_c.shape[2])
    leap = springs.start.leap_slot - slot[0] - 1
    for spring in np.flatnonzero(springs.years == season[0] + springs.start.spring_lag):
        told = told_c[spring, slot[0]]
        told[ahead[within]] = forecast_c[within]
        if 0 <= leap < told.size - 1 and np.isnan(told[leap]):
            told[leap] = told[leap + 1]


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
    """Replay every spring, morning by morning."""
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
    """Replay every spring of a record given as arrays."""
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
    """Return each morning's forecasts: those kept of a spring, where any was, else the drawn ones."""
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
    """Return the first season day on which it is true in each spring; NaN where it never is."""
    return np.where(true.any(axis=1), mornings.day[np.argmax(true, axis=1)], np.nan)
