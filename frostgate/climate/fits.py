"""Frost dates into curves: one fit per distribution and one of several, behind one signature; scores, bounds.

Each fit takes frost days of shape (..., seasons), finite, -inf for a season without a frost or NaN for one
that cannot be known, and returns the chance of a frost after each season day, shape (..., 366). All follow
the mixed form of the published freeze normals: the share of seasons with a frost at all, times a distribution
of dates in those seasons,

    P(last frost after d) = p_f * (1 - F(d)).

Fits reduce the last axis and broadcast over the rest, so that one garden, a thousand resamples of it and
forty thousand stations run the same lines; every fit is in closed form.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np
from scipy import special

from frostgate.errors import InputError, TooFewSeasonsError
from frostgate.model.curves import FrostCurve
from frostgate.model.records import FrostDates, Side
from frostgate.seasons import SLOTS, Floats

SEASON_DAYS = np.arange(SLOTS, dtype=np.float64)
REACH = np.arange(
    1 - 2 * SLOTS, 2 * SLOTS
)  # [d] from a date, in the season before or after too, to a season day
LENGTH = 1536  # not below that, so that the days kept meet no other way round; quick to transform
CUNNANE = 0.4  # plotting position (i - a) / (n + 1 - 2 a); Cunnane (1978), doi:10.1016/0022-1694(78)90017-3
FEWEST_FROSTS = 5  # fewer dates than this have a share, but no shape
FEWEST_SEASONS = 10
FEW_SEASONS = 20  # below this a curve comes with a warning
RESAMPLES = 500
SEED = 20_260_401
BEST = "best"  # by score, instead of a name


def fit_empirical(days: Floats) -> Floats:
    """Join the plotting positions (Cunnane) of the ordered dates by straight lines.

    Beyond the earliest and the latest date seen the line runs on by the mean gap of the outer quarter of the
    dates, so that the risk does not end with the latest frost on record.
    """
    rows = days.reshape(-1, days.shape[-1])
    tables = [_empirical_row(row[np.isfinite(row)]) for row in rows]
    return _mixed(np.reshape(tables, (*days.shape[:-1], SLOTS)), days)


def fit_normal(days: Floats) -> Floats:
    """Fit a normal distribution by mean and standard deviation."""
    mean, sd, _ = _moments(days)
    return _mixed(special.ndtr((mean - SEASON_DAYS) / sd), days)


def fit_student(days: Floats) -> Floats:
    """Predict the next season's date from a normal sample: Student's t with n - 1 degrees of freedom.

    The scale s * sqrt(1 + 1/n) carries the uncertainty of mean and spread.
    """
    mean, sd, count = _moments(days)
    z = (mean - SEASON_DAYS) / (sd * np.sqrt(1 + 1 / count))
    return _mixed(special.stdtr(np.maximum(count - 1, 1), z), days)


def fit_skewed(days: Floats) -> Floats:
    """Fit a generalised logistic distribution by L-moments; it may lean to either side.

    Hosking & Wallis (1997), Regional Frequency Analysis, appendix A.7, doi:10.1017/CBO9780511529443.
    """
    mean, scale, skew = (value[..., np.newaxis] for value in l_moments(days))
    k = -np.clip(skew, -0.95, 0.95)
    k = np.where(np.abs(k) < 1e-6, 1e-6, k)
    alpha = np.maximum(scale, 0.1) * np.sin(k * np.pi) / (k * np.pi)
    xi = mean - alpha * (1 / k - np.pi / np.sin(k * np.pi))
    inside = 1 - k * (SEASON_DAYS - xi) / alpha
    y = -np.log(np.maximum(inside, 1e-300)) / k
    return _mixed(special.expit(-y), days)


def fit_smooth(days: Floats) -> Floats:
    """Lay a normal kernel over each date; the width is Silverman's rule (1986), doi:10.1201/9781315140919.

    The dates are counted by day and the kernels summed as a convolution, so that a thousand resamples of a
    century cost no more than a few. A date between two days is shared out to both (linear binning).
    """
    _, sd, count = _moments(days)
    low, high = _quartiles(days)
    spread = np.minimum(sd, np.where(high > low, (high - low) / 1.349, sd))
    width = np.maximum(0.9 * spread * count**-0.2, 1.0)
    counts = _counts_by_day(days)
    kernel = special.ndtr(-REACH / width)
    summed = np.fft.irfft(np.fft.rfft(counts, LENGTH) * np.fft.rfft(kernel, LENGTH), LENGTH)
    after = summed[..., counts.shape[-1] - 1 :][..., :SLOTS] / count
    return _mixed(np.minimum.accumulate(after, axis=-1), days)


def fit_pooled(days: Floats) -> Floats:
    """Average the Student, the skewed and the smooth fit: no choice to make, and none to get wrong.

    A linear opinion pool; Stone (1961), doi:10.1214/aoms/1177704873. With thirty seasons the scores hardly
    tell which single fit serves a station best, and choosing by them costs more than it gains.
    """
    pooled: Floats = (fit_student(days) + fit_skewed(days) + fit_smooth(days)) / 3
    return pooled


# by the names that the command line takes
FITS: dict[str, Callable[[Floats], Floats]] = {
    "empirical": fit_empirical,
    "normal": fit_normal,
    "student": fit_student,
    "skewed": fit_skewed,
    "smooth": fit_smooth,
    "pooled": fit_pooled,
}
POOLED = "pooled"


def check_kind(kind: str, *others: str) -> None:
    """Refuse a kind of curve that is neither a fit nor one of the other words."""
    if kind not in (*others, *FITS):
        raise InputError(
            "no such kind of curve", value=kind, remedy=f"Choose one of {', '.join((*others, *FITS))}."
        )


def fit_curve(frosts: FrostDates, kind: str = POOLED) -> FrostCurve:
    """Fit the frost dates of a site by a fit's name, or by ``best``, that of least leave-one-out CRPS.

    Where fewer than five seasons had a frost there is no shape to fit, and the curve is empirical.
    """
    check_kind(kind, BEST)
    days = falling_days(frosts)
    if days.size < FEWEST_SEASONS:
        raise TooFewSeasonsError(
            f"only {days.size} of {frosts.day.size} seasons are known, too few to say anything",
            remedy=f"Use a station with at least {FEWEST_SEASONS} known seasons, better 30.",
        )
    kind = _fitting(days, kind)
    known_years = frosts.years[~np.isnan(frosts.day)]
    return FrostCurve(
        kind=kind,
        side=frosts.side,
        threshold_c=frosts.threshold_c,
        start=frosts.start,
        risk=_turned(FITS[kind](days), frosts.side),
        frost_share=float(frost_share(days)),
        seasons_used=days.size,
        seasons_unknown=int(np.isnan(frosts.day).sum()),
        first_year=int(known_years[0]),
        last_year=int(known_years[-1]),
        step_c=frosts.step_c,
    )


def fit_tables(found: Iterable[FrostDates], kind: str = POOLED) -> dict[float, Floats]:
    """Fit the frosts of several thresholds as `fit_curve` does, together: each one's risks by its threshold.

    A threshold with too few known seasons is left out.
    """
    alike: dict[tuple[str, int], list[FrostDates]] = {}
    for frosts in found:
        days = falling_days(frosts)
        if days.size >= FEWEST_SEASONS:
            alike.setdefault((_fitting(days, kind), days.size), []).append(frosts)
    return {
        frosts.threshold_c: _turned(table, frosts.side)
        for (fit, _), several in alike.items()
        for frosts, table in zip(several, FITS[fit](np.array([*map(falling_days, several)])), strict=True)
    }


def _fitting(days: Floats, kind: str) -> str:
    """Return the kind of fit for these days: empirical where few had a frost, the best where it is asked."""
    if np.isfinite(days).sum() < FEWEST_FROSTS:
        return "empirical"
    return next(iter(score_fits(days))) if kind == BEST else kind


def put_bounds(curve: FrostCurve, frosts: FrostDates, *, confidence: float = 0.8) -> FrostCurve:
    """Put confidence bounds on a curve: refits of 500 bootstrap resamples of its seasons."""
    if not 0.0 < confidence < 1.0:
        raise InputError("a confidence lies between 0 and 1", value=confidence)
    days = falling_days(frosts)
    rng = np.random.default_rng(SEED)
    tables = FITS[curve.kind](days[rng.integers(days.size, size=(RESAMPLES, days.size))])
    low, high = (
        _turned(bound, frosts.side)
        for bound in np.quantile(tables, [(1 - confidence) / 2, (1 + confidence) / 2], axis=0)
    )
    return replace(curve, low=low, high=high, confidence=confidence)


def _turned(table: Floats, side: Side) -> Floats:
    return table if side == "spring" else table[::-1]


def score_fits(days: Floats) -> dict[str, float]:
    """Score every fit by leave-one-season-out CRPS [d], best first, which is the smallest."""
    others = np.where(np.eye(days.size, dtype=bool), np.nan, days)
    scores = {kind: float(crps_of_tables(fit(others), days).mean()) for kind, fit in FITS.items()}
    return dict(sorted(scores.items(), key=lambda scored: scored[1]))


def falling_days(frosts: FrostDates) -> Floats:
    """Return the known days as in spring: autumn runs backwards, and -inf is always "no frost"."""
    return frosts.known if frosts.side == "spring" else SLOTS - 1 - frosts.known


def crps_of_tables(tables: Floats, days: Floats) -> Floats:
    """Score tables of risk against the days that came, by the continuous ranked probability score.

    The integral of (F(d) - 1[y <= d])^2 over the season, as a sum over its days; a whole observed day is a
    point on a continuous axis, half a day on each of its sides. Gneiting & Raftery (2007),
    doi:10.1198/016214506000001437.
    """
    later = np.heaviside(days[..., np.newaxis] - SEASON_DAYS, 0.5)
    on_the_day = 0.25 * np.isfinite(days)  # (t^2 + (t - 1)^2) / 2 = (t - 1/2)^2 + 1/4
    return np.asarray(((tables - later) ** 2).sum(axis=-1) + on_the_day, dtype=np.float64)


def plotting_positions(count: int, a: float = CUNNANE) -> Floats:
    """Return the non-exceedance probability of each of ``count`` ordered values."""
    rank = np.arange(1, count + 1)
    return np.asarray((rank - a) / (count + 1 - 2 * a), dtype=np.float64)


def frost_share(days: Floats) -> Floats:
    """Return the share of known seasons with a frost, shape (...)."""
    known = (~np.isnan(days)).sum(axis=-1)
    return np.asarray(np.isfinite(days).sum(axis=-1) / np.maximum(known, 1), dtype=np.float64)


def l_moments(days: Floats) -> tuple[Floats, Floats, Floats]:
    """Return mean, L-scale and L-skewness of the finite values of each row, each of shape (...).

    Unbiased sample L-moments, Hosking (1990), doi:10.1111/j.2517-6161.1990.tb01775.x.
    """
    ordered, count = _ordered(days)
    rank = np.arange(days.shape[-1])
    n = count[..., np.newaxis]
    b0 = ordered.sum(axis=-1) / count
    w1 = rank / np.maximum(n - 1, 1)
    b1 = (w1 * ordered).sum(axis=-1) / count
    b2 = (w1 * (rank - 1) / np.maximum(n - 2, 1) * ordered).sum(axis=-1) / count
    scale = np.where(count > 1, 2 * b1 - b0, 0.0)
    third = np.where(count > 2, 6 * b2 - 6 * b1 + b0, 0.0)
    spread = scale > 1e-9  # equal dates leave a rounding error, which has no skew
    return b0, scale, np.where(spread, third / np.where(spread, scale, 1.0), 0.0)


def _ordered(days: Floats) -> tuple[Floats, Floats]:
    """Sort the finite values of each row to its front, zeros behind; and count them (at least 1)."""
    finite = np.isfinite(days)
    ordered = np.sort(np.where(finite, days, np.inf), axis=-1)
    count = np.maximum(finite.sum(axis=-1), 1).astype(np.float64)
    return np.where(np.isfinite(ordered), ordered, 0.0), count


def _moments(days: Floats) -> tuple[Floats, Floats, Floats]:
    """Return mean, standard deviation (at least a tenth of a day) and count of the dates, shape (..., 1)."""
    finite = np.isfinite(days)
    count = np.maximum(finite.sum(axis=-1, keepdims=True), 1).astype(np.float64)
    mean = np.where(finite, days, 0.0).sum(axis=-1, keepdims=True) / count
    deviation = np.where(finite, days - np.where(finite, mean, 0.0), 0.0)
    variance = (deviation**2).sum(axis=-1, keepdims=True) / np.maximum(count - 1, 1)
    return mean, np.maximum(np.sqrt(variance), 0.1), count


def _quartiles(days: Floats) -> tuple[Floats, Floats]:
    """Return the quartiles of the finite values of each row, shape (..., 1), between two by their share."""
    ordered, count = _ordered(days)
    place = (count[..., np.newaxis] - 1) * np.array([0.25, 0.75])
    below = place.astype(np.int64)
    above = np.minimum(below + 1, count[..., np.newaxis].astype(np.int64) - 1)
    low, high = np.take_along_axis(ordered, below, -1), np.take_along_axis(ordered, above, -1)
    quartiles = low + (place - below) * (high - low)
    return quartiles[..., :1], quartiles[..., 1:]


def _counts_by_day(days: Floats) -> Floats:
    """Count the dates of each row by day, from one season before the season to one behind, (..., 3 * 366)."""
    rows = np.where(np.isfinite(days), days, np.nan).reshape(-1, days.shape[-1])
    place = np.clip(rows + SLOTS, 0.0, 3 * SLOTS - 2.0)
    row, column = np.nonzero(np.isfinite(place))
    whole, part = np.floor(place[row, column]).astype(np.int64), np.mod(place[row, column], 1.0)
    counts = np.zeros((len(rows), 3 * SLOTS))
    np.add.at(counts, (row, whole), 1.0 - part)
    np.add.at(counts, (row, whole + 1), part)
    return counts.reshape(*days.shape[:-1], 3 * SLOTS)


def _mixed(after: Floats, days: Floats) -> Floats:
    """Multiply the chance of a later date by the share of seasons with a frost."""
    chance: Floats = np.clip(frost_share(days)[..., np.newaxis] * after, 0.0, 1.0)
    return chance


def _empirical_row(dates: Floats) -> Floats:
    """Return the chance of a date after each season day, from one row of dates."""
    if dates.size == 0:
        return np.zeros(SLOTS)
    ordered = np.sort(dates)
    outer = max(dates.size // 4, 1)
    early, late = (
        max(float(np.ptp(dates)) / max(dates.size - 1, 1), 1.0)
        for dates in (ordered[: outer + 1], ordered[-outer - 1 :])
    )
    knots = np.concatenate([[ordered[0] - early], ordered, [ordered[-1] + late]])
    chance = np.concatenate([[0.0], plotting_positions(dates.size), [1.0]])
    unique = np.unique(knots)
    first, last = np.searchsorted(knots, unique), np.searchsorted(knots, unique, side="right") - 1
    middle = (chance[first] + chance[last]) / 2  # equal dates share the middle of their step
    earlier: Floats = np.interp(SEASON_DAYS, unique, middle, left=0.0, right=1.0)
    return 1.0 - earlier
