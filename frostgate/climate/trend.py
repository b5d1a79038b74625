"""Do the frosts of a record come earlier or later over the years: Mann-Kendall and Theil-Sen.

A season without a frost takes part in the Mann-Kendall test as the earliest of all in spring (the latest in
autumn): it is known that no frost came late. It has no date, so the slope in days leaves it out, and says
nothing of a place where frosts do not move but vanish. Unknown seasons take part in neither.
"""

from __future__ import annotations

import math

import numpy as np
from scipy import special

from frostgate.climate.fits import FEWEST_FROSTS
from frostgate.terms import Floats, FrostDates, Ints, Trend
from frostgate.values import dataclass

DECADE = 10.0
CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class MannKendall:
    """The outcome of a Mann-Kendall test.

    Parameters
    ----------
    s
        Pairs that rise less pairs that fall.
    variance
        Of ``s`` where there is no trend, ties counted.
    z
        Normal score of ``s``, with the correction for its whole steps.
    p
        Two-sided chance of as much without any trend.

    Examples
    --------
    >>> MannKendall(s=0, variance=0.0, z=0.0, p=1.0).p
    1.0
    """

    s: int
    variance: float
    z: float
    p: float


def mann_kendall(values: Floats) -> MannKendall:
    """Test whether values in order rise or fall; only their order counts, so they may be infinite.

    Mann (1945), doi:10.2307/1907187; variance with ties by Kendall (1975), from memory:
    [n (n - 1) (2 n + 5) - sum t (t - 1) (2 t + 5)] / 18.

    Parameters
    ----------
    values
        One for each season, in the order of the years, none of them NaN, shape (n,).

    Examples
    --------
    >>> test = mann_kendall(np.array([1.0, 2.0, 3.0, 4.0, 5.0]))
    >>> test.s, round(test.z, 5), round(test.p, 6)
    (10, 2.20454, 0.027486)
    """
    later, earlier = np.tril_indices(values.size, -1)
    s = int((values[later] > values[earlier]).sum()) - int((values[later] < values[earlier]).sum())
    return judge_s(s, _variance(values))


def judge_s(s: int, variance: float) -> MannKendall:
    """Give the normal score and the two-sided chance of a Mann-Kendall statistic.

    Examples
    --------
    >>> round(judge_s(-28, 124.0).z, 5)
    -2.42467
    """
    z = 0.0 if variance <= 0.0 else (s - np.sign(s)) / math.sqrt(variance)
    return MannKendall(s=s, variance=variance, z=float(z), p=math.erfc(abs(z) / math.sqrt(2.0)))


def theil_sen(
    years: Ints | Floats, days: Floats, confidence: float = CONFIDENCE
) -> tuple[float, float, float]:
    """Give the median of all slopes between two dates, and its confidence interval.

    Theil (1950); interval by Sen (1968), doi:10.1080/01621459.1968.10480934, equation 2.6.

    Parameters
    ----------
    years, days
        Two or more different years and a finite day for each, shape (n,).
    confidence
        Of the interval.

    Returns
    -------
    tuple of three floats
        Slope, its low end and its high end, in the unit of ``days`` a year.

    Examples
    --------
    >>> theil_sen(np.arange(5), np.array([1.0, 2.0, 3.0, 4.0, 5.0]))
    (1.0, 1.0, 1.0)
    """
    slopes = np.sort(slopes_between(years, days))
    reach = special.ndtri((1 + confidence) / 2) * math.sqrt(_variance(days))
    low = max(round((slopes.size - reach) / 2) - 1, 0)
    high = min(round((slopes.size + reach) / 2), slopes.size - 1)
    return float(np.median(slopes)), float(slopes[low]), float(slopes[high])


def slopes_between(years: Ints | Floats, days: Floats) -> Floats:
    """Give the slope between every two dates; the first n (n - 1) / 2 are those of the first n dates.

    Examples
    --------
    >>> slopes_between(np.array([2001, 2002, 2004]), np.array([1.0, 2.0, 7.0]))
    array([1. , 2. , 2.5])
    """
    later, earlier = np.tril_indices(days.size, -1)
    return np.asarray((days[later] - days[earlier]) / (years[later] - years[earlier]), dtype=np.float64)


def find_trend(frosts: FrostDates) -> Trend:
    """Test frost dates for a trend and give its slope; positive is later, in spring and in autumn.

    Examples
    --------
    >>> from frostgate.seasons import NORTH
    >>> day = [120, 118, 121, 117, 116, 116, 119, 113, 112, 114, -np.inf, np.nan]
    >>> trend = find_trend(FrostDates(side="spring", threshold_c=0.0, start=NORTH,
    ...                               years=np.arange(2001, 2013), day=day))
    >>> trend.seasons, trend.dates, trend.s, round(trend.days_per_decade, 2)
    (11, 10, -38, -8.57)
    """
    known = ~np.isnan(frosts.day)
    years, days = frosts.years[known], frosts.day[known]
    dated = np.isfinite(days)
    test = mann_kendall(days)
    slopes = tuple[float | None, float | None, float | None]((None, None, None))
    if dated.sum() >= FEWEST_FROSTS:
        slope, low, high = theil_sen(years[dated], days[dated])
        slopes = DECADE * slope, DECADE * low, DECADE * high
    return Trend(
        seasons=days.size,
        first_year=int(years[0]) if years.size else None,
        last_year=int(years[-1]) if years.size else None,
        s=test.s,
        variance=test.variance,
        z=test.z,
        p=test.p,
        dates=int(dated.sum()),
        days_per_decade=slopes[0],
        low=slopes[1],
        high=slopes[2],
    )


def _variance(values: Floats) -> float:
    """Give the variance of the Mann-Kendall statistic where there is no trend, ties counted."""
    n = values.size
    _, tied = np.unique(values, return_counts=True)
    return float(n * (n - 1) * (2 * n + 5) - (tied * (tied - 1) * (2 * tied + 5)).sum()) / 18.0
