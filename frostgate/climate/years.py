"""Which years a curve rests on: the trend of the dates, and what foretold the past best."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from scipy import special

from frostgate.climate.fits import BEST, FEWEST_FROSTS, FITS, POOLED, check_kind, crps_of_tables, falling_days
from frostgate.errors import InputError
from frostgate.model.curves import BASES, Basis, BasisScore, Trend, YearsChoice
from frostgate.model.records import FrostDates, Side
from frostgate.seasons import Floats, Ints

CONFIDENCE = 0.95
RECENT = 30  # known seasons; the length of a climate normal
FEWEST_EARLIER = 30  # known seasons before one that is judged
FEWEST_JUDGED = 10
CHOSEN_AT_C = 0.0  # one choice for a record, whatever the garden: else a warmer one might wait longer
SEASONS: dict[Side, str] = {"spring": "springs", "autumn": "autumns"}


def mann_kendall(values: Floats) -> tuple[int, float]:
    """Return S, the pairs of values that rise less those that fall, and its variance where there is no trend.

    Only the order of the values counts, so they may be infinite. Mann (1945), doi:10.2307/1907187; variance
    with ties by Kendall (1975), from memory: [n (n - 1) (2 n + 5) - sum t (t - 1) (2 t + 5)] / 18.
    """
    later, earlier = np.tril_indices(values.size, -1)
    s = int((values[later] > values[earlier]).sum()) - int((values[later] < values[earlier]).sum())
    n, (_, tied) = values.size, np.unique(values, return_counts=True)
    variance = (n * (n - 1) * (2 * n + 5) - (tied * (tied - 1) * (2 * tied + 5)).sum()) / 18.0
    return s, float(variance)


def theil_sen(years: Ints | Floats, days: Floats) -> tuple[float, float, float]:
    """Return the median of all slopes between two dates, and its 95 % confidence interval.

    Theil (1950); interval by Sen (1968), doi:10.1080/01621459.1968.10480934, equation 2.6.
    """
    slopes = np.sort(slopes_between(years, days))
    reach = special.ndtri((1 + CONFIDENCE) / 2) * math.sqrt(mann_kendall(days)[1])
    low = max(round((slopes.size - reach) / 2) - 1, 0)
    high = min(round((slopes.size + reach) / 2), slopes.size - 1)
    return float(np.median(slopes)), float(slopes[low]), float(slopes[high])


def slopes_between(years: Ints | Floats, days: Floats) -> Floats:
    """Return the slope between every two dates; the first n (n - 1) / 2 are those of the first n dates."""
    later, earlier = np.tril_indices(days.size, -1)
    return np.asarray((days[later] - days[earlier]) / (years[later] - years[earlier]), dtype=np.float64)


def find_trend(frosts: FrostDates) -> Trend:
    """Test frost dates for a trend and find its slope; positive is later, in spring and in autumn."""
    known = ~np.isnan(frosts.day)
    years, days = frosts.years[known], frosts.day[known]
    dated = np.isfinite(days)
    pace: tuple[float | None, ...] = (None, None, None)
    if dated.sum() >= FEWEST_FROSTS:
        pace = tuple(10.0 * slope for slope in theil_sen(years[dated], days[dated]))  # of a decade
    (s, variance), (days_per_decade, low, high) = mann_kendall(days), pace
    return Trend(
        seasons=days.size,
        first_year=int(years[0]) if years.size else None,
        last_year=int(years[-1]) if years.size else None,
        s=s,
        variance=variance,
        dates=int(dated.sum()),
        days_per_decade=days_per_decade,
        low=low,
        high=high,
    )


def choose_years(frosts: FrostDates, kind: str = POOLED, years: str = BEST) -> YearsChoice:
    """Choose the years that a curve of these frosts rests on, by score or as asked, with the evidence.

    ``best`` lets the scores choose; ``all``, ``recent`` or ``trend`` is taken as asked. The kind ``best`` is
    scored by ``pooled``.
    """
    if years not in (BEST, *BASES):
        raise InputError(
            "no such choice of years", value=years, remedy=f"Choose one of {', '.join((BEST, *BASES))}."
        )
    judged, scores = score_years(frosts, kind)
    least = min(scores, key=lambda score: score.crps_days, default=None)
    best: Basis = "all"  # unless another is better by one standard error
    if least is not None and least.gain_days > least.error_days:
        best = least.basis
    trend = find_trend(frosts)
    basis = next((one for one in BASES if one == years), best)
    reason = _say_best(frosts.side, best, judged, scores, trend)
    if years != BEST:
        reason = f"{_name(frosts.side, basis, trend)}, as you asked; by the scores {reason}"
    return YearsChoice(
        basis=basis,
        best=best,
        threshold_c=frosts.threshold_c,
        judged=judged,
        scores=scores,
        trend=trend,
        reason=reason,
    )


def frosts_on(frosts: FrostDates, basis: Basis) -> FrostDates:
    """Return the frost dates on a basis."""
    known = ~np.isnan(frosts.day)
    if basis == "all" or not known.any():
        return frosts
    known_years = frosts.years[known]
    if basis == "recent":
        return frosts.of_years(int(known_years[-RECENT:][0]), int(frosts.years[-1]))
    slope = _slopes_so_far(known_years, frosts.day[known], np.array([known_years.size]))[0]
    return replace(frosts, day=frosts.day + slope * (known_years[-1] - frosts.years))


def score_years(frosts: FrostDates, kind: str = POOLED) -> tuple[int, tuple[BasisScore, ...]]:
    """Count the seasons that can be judged, and score each basis on them; no scores with fewer than 10.

    Each basis is judged as it is used: the slope is learned from the earlier seasons only, and takes their
    dates no further than to the last of them.
    """
    check_kind(kind, BEST)
    days, years = falling_days(frosts), frosts.years[~np.isnan(frosts.day)]
    at = np.arange(FEWEST_EARLIER, days.size)
    if at.size < FEWEST_JUDGED:
        return at.size, ()
    place, judged = np.arange(days.size), at[:, np.newaxis]
    recent = (place >= judged - RECENT) & (place < judged)
    moved = days + _slopes_so_far(years, days, at)[:, np.newaxis] * (years[judged - 1] - years)
    earlier: dict[Basis, Floats] = {  # what is known before each judged season, NaN elsewhere
        "all": np.where(place < judged, days, np.nan),
        "recent": np.where(recent, days, np.nan),
        "trend": np.where(place < judged, moved, np.nan),
    }
    fit = FITS[POOLED if kind == BEST else kind]
    missed = {basis: crps_of_tables(fit(known), days[at]) for basis, known in earlier.items()}
    gains = {basis: missed["all"] - crps for basis, crps in missed.items()}
    return at.size, tuple(
        BasisScore(
            basis=basis,
            crps_days=float(missed[basis].mean()),
            gain_days=float(gain.mean()),
            error_days=float(gain.std(ddof=1)) / math.sqrt(gain.size),
        )
        for basis, gain in gains.items()
    )


def _slopes_so_far(years: Ints, days: Floats, at: Ints) -> Floats:
    """Return the Theil-Sen slope of the dates among the first seasons, for each of several counts of them.

    It is 0 with fewer than 5 dates.
    """
    dated = np.isfinite(days)
    slopes = slopes_between(years[dated], days[dated])
    counts = np.concatenate([[0], np.cumsum(dated)])[at].tolist()
    return np.array([np.median(slopes[: n * (n - 1) // 2]) if n >= FEWEST_FROSTS else 0.0 for n in counts])


def say_pace(days_per_decade: float | None) -> str:
    """Write how fast dates move, as growers say it."""
    if days_per_decade is None:
        return "too few dates to tell"
    if round(abs(days_per_decade), 1) == 0.0:
        return "not moving"
    return f"{abs(days_per_decade):.1f} days {'later' if days_per_decade > 0.0 else 'earlier'} a decade"


def _name(side: Side, basis: Basis, trend: Trend) -> str:
    if basis == "recent":
        return f"the last {min(RECENT, trend.seasons)} known {SEASONS[side]}"
    if basis == "trend":
        pace = say_pace(trend.days_per_decade)
        return f"all known {SEASONS[side]}, moved along their trend ({pace}) to the last of them"
    return f"all known {SEASONS[side]}"


def _say_best(side: Side, best: Basis, judged: int, scores: tuple[BasisScore, ...], trend: Trend) -> str:
    """Say which years the scores choose, and why, as a grower would."""
    name, seasons = _name(side, best, trend), SEASONS[side]
    if not scores:
        return (
            f"{name}; only {judged} of them have {FEWEST_EARLIER} or more before them, too few to tell"
            " whether recent years or a trend would foretell better."
        )
    by = {score.basis: score for score in scores}
    if best != "all":
        gain = f"{by[best].gain_days:.2f} days (± {by[best].error_days:.2f}) better"
        return f"{name}: this foretold {judged} past {seasons} {gain} than all years before them did."
    return (
        f"{name}; {judged} past {seasons} were foretold clearly better neither by the last {RECENT}"
        f" ({_compared(by['recent'])}) nor by a trend ({_compared(by['trend'])})."
    )


def _compared(score: BasisScore) -> str:
    better = "better" if score.gain_days > 0.0 else "worse"
    return f"{abs(score.gain_days):.2f} days {better}, ± {score.error_days:.2f}"
