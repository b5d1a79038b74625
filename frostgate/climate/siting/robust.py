"""A level and a slope that gross errors cannot move.

Pairs further than 3.5 robust standard deviations from the line are left out (Iglewicz & Hoaglin 1993, How to
Detect and Handle Outliers: the modified z-score); the others are weighed by Huber's weights (Huber 1964, Ann.
Math. Stat. 35; 1.345 keeps 95 % efficiency for Gaussian errors). Huber's weights alone would not do: a fifth
of gross errors on one side still moves them by half a standard deviation.

Slope and scatter have priors, so that a handful of pairs does not claim to know them: the slope a Gaussian
one about 0 (ridge regression), the scatter one worth some pairs (scaled inverse chi-square).
"""

from __future__ import annotations

import numpy as np

from frostgate.climate.siting.pairs import Mask, Pairs
from frostgate.terms import Dates, Floats
from frostgate.values import dataclass

TO_SD = 1.4826  # of a Gaussian, from the median absolute deviation
FAR = 3.5
HUBER = 1.345
SCATTER_WORTH = 5.0  # pairs; common practice, no source
ALIKE, ALIKE_WORTH = 0.2, 10.0  # correlation of neighbouring mornings, and pairs; common practice, no source
MOST_ROUNDS = 50
STEEPEST = 0.8  # °C per °C; steeper than any garden


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RobustLine:
    """Differences as a line of the station's minima.

    Parameters
    ----------
    middle_c
        Where the line is best known [°C].
    level_c, slope
        Its value there [°C], and its slope [°C per °C].
    level_sd_c, slope_sd
        Their standard errors, independent of each other.
    scatter_c
        Standard deviation of single pairs about it [°C].
    kept
        Which pairs were used, shape (n,).

    Examples
    --------
    >>> line = RobustLine(middle_c=5, level_c=-1, slope=0.1, level_sd_c=0.3, slope_sd=0.1, scatter_c=1.5,
    ...                   kept=np.ones(9, bool))
    >>> line.at(0.0)
    (-1.5, 0.583...)
    """

    middle_c: float
    level_c: float
    slope: float
    level_sd_c: float
    slope_sd: float
    scatter_c: float
    kept: Mask

    def at(self, station_c: float) -> tuple[float, float]:
        """Read the line at a station's minimum: the difference and its standard error [°C]."""
        away_c = station_c - self.middle_c
        error_c = float(np.hypot(self.level_sd_c, self.slope_sd * away_c))
        return self.level_c + self.slope * away_c, error_c


def fit_robust_line(pairs: Pairs, *, slope_sd: float, usual_scatter_c: float) -> RobustLine:
    """Fit a line through the differences of pairs, leaving gross errors out.

    Parameters
    ----------
    pairs
        At least one; consecutive mornings count for less, as their errors are alike.
    slope_sd
        Prior spread of the slope about 0 [°C per °C]; 0 fits a level alone.
    usual_scatter_c
        Prior scatter of single pairs [°C].

    Examples
    --------
    >>> days = np.arange("2026-03-01", "2026-05-01", dtype="datetime64[D]")
    >>> garden_c = np.random.default_rng(4).normal(-2, 1, days.size)
    >>> garden_c[::5] = 15.0
    >>> pairs = Pairs(dates=days, garden_c=garden_c, station_c=np.zeros(days.size))
    >>> line = fit_robust_line(pairs, slope_sd=0.0, usual_scatter_c=1.5)
    >>> round(line.level_c), int(line.kept.sum())
    (-2, 48)
    """
    differences_c = pairs.differences_c
    kept = np.ones(differences_c.size, dtype=np.bool_)
    residual_c = differences_c - np.median(differences_c)
    for _ in range(MOST_ROUNDS):
        before_c = residual_c
        scale_c = _scale(residual_c[kept], usual_scatter_c)
        kept = np.abs(residual_c) <= FAR * scale_c
        weights = np.minimum(1.0, HUBER * scale_c / np.maximum(np.abs(residual_c), 1e-9)) * kept
        line = _weigh(pairs, residual_c, weights, slope_sd, usual_scatter_c)
        residual_c = differences_c - line.level_c - line.slope * (pairs.station_c - line.middle_c)
        if np.abs(residual_c - before_c).max() < 1e-6:
            break
    return line


def autocorrelation(dates: Dates, residual_c: Floats) -> float:
    """Give the correlation of residuals of consecutive mornings, at least 0, near the usual one where few.

    Examples
    --------
    >>> days = np.arange("2026-03-01", "2026-05-01", dtype="datetime64[D]")
    >>> autocorrelation(days, np.repeat([1.0, -1.0], days.size)[: days.size]) > 0.5
    True
    """
    follows = np.diff(dates).astype(np.int64) == 1
    count = int(follows.sum())
    square = float((residual_c**2).mean())
    if count == 0 or square == 0.0:
        return 0.0
    own = float((residual_c[:-1] * residual_c[1:])[follows].mean()) / square
    return min(max((count * own + ALIKE_WORTH * ALIKE) / (count + ALIKE_WORTH), 0.0), 0.9)


def _scale(residual_c: Floats, usual_c: float) -> float:
    """Give the robust standard deviation, held to the usual one where pairs are few [°C]."""
    own = TO_SD * float(np.median(np.abs(residual_c)))
    return float(np.sqrt(_pool(residual_c.size * own**2, residual_c.size, usual_c)))


def _pool(squares: float, count: float, usual_c: float) -> float:
    return (SCATTER_WORTH * usual_c**2 + squares) / (SCATTER_WORTH + count)


def _weigh(
    pairs: Pairs, residual_c: Floats, weights: Floats, slope_sd: float, usual_scatter_c: float
) -> RobustLine:
    """Take one weighted step of the fit."""
    kept, total = weights > 0.0, float(weights.sum())
    freedom = max(int(kept.sum()) - (1 if slope_sd == 0.0 else 2), 0)
    variance = _pool(float((residual_c[kept] ** 2).sum()), freedom, usual_scatter_c)
    alike = autocorrelation(pairs.dates[kept], residual_c[kept])
    worth = (1.0 - alike) / (1.0 + alike) / variance  # of one pair
    middle_c, level_c = (float(weights @ values) / total for values in (pairs.station_c, pairs.differences_c))
    away_c = pairs.station_c - middle_c
    slope_var = 0.0 if slope_sd == 0.0 else 1.0 / (worth * float(weights @ away_c**2) + slope_sd**-2)
    slope = slope_var * worth * float(weights @ (away_c * (pairs.differences_c - level_c)))
    return RobustLine(
        middle_c=middle_c,
        level_c=level_c,
        slope=min(max(slope, -STEEPEST), STEEPEST),
        level_sd_c=(total * worth) ** -0.5,
        slope_sd=slope_var**0.5,
        scatter_c=variance**0.5,
        kept=kept,
    )
