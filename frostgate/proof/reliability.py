"""Stated risk against what came true."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import stats

from frostgate.errors import InputError
from frostgate.seasons import Floats

SURE = 0.95  # of the intervals and bands
ROUNDING = 1e-9  # a stated 0.3 belongs to the group that begins at 0.3, whatever 3 * 0.1 is


@dataclass(frozen=True, slots=True, kw_only=True)
class Bin:
    """Cases in which about the same risk was stated.

    Parameters
    ----------
    stated
        Mean risk stated.
    happened
        Share in which it happened.
    count
        How many cases.
    low, high
        The exact binomial 95 % interval of that share (Clopper & Pearson 1934, doi:10.1093/biomet/26.4.404).
    band_low, band_high
        Between these lie 95 % of such shares where the stated risk is right.
    """

    stated: float
    happened: float
    count: int
    low: float
    high: float
    band_low: float
    band_high: float

    @property
    def is_consistent(self) -> bool:
        """Whether the share lies within the band of a stated risk that is right."""
        return self.band_low <= self.happened <= self.band_high


@dataclass(frozen=True, slots=True, kw_only=True)
class Reliability:
    """Stated risks held against what happened; the parts of the Brier score are named as in the module."""

    bins: tuple[Bin, ...]
    brier: float
    rel: float
    res: float
    unc: float
    wbv: float
    wbc: float

    @property
    def skill(self) -> float:
        """Share of the Brier score of always stating the share that happened, by which this one is less.

        NaN where everything or nothing happened: no statement can then beat that share.
        """
        return float("nan") if self.unc == 0.0 else (self.unc - self.brier) / self.unc


def reliability(stated: npt.ArrayLike, happened: npt.ArrayLike, bins: int = 10) -> Reliability:
    """Group risks by what was stated and hold them against what happened."""
    risks, came = _checked(stated, happened)
    if bins < 1:
        raise InputError("a diagram needs at least one group", value=bins)
    group = np.minimum((risks * bins + ROUNDING).astype(np.int64), bins - 1)
    count = np.bincount(group, minlength=bins)
    some = np.maximum(count, 1)
    mean_stated = np.bincount(group, risks, minlength=bins) / some
    share = np.bincount(group, came, minlength=bins) / some
    weight, base = count / risks.size, came.mean()
    within = risks - mean_stated[group]
    return Reliability(
        bins=tuple(_bin(mean_stated[k], share[k], int(count[k])) for k in np.flatnonzero(count)),
        brier=float(np.mean((risks - came) ** 2)),
        rel=float(weight @ (mean_stated - share) ** 2),
        res=float(weight @ (share - base) ** 2),
        unc=float(base * (1 - base)),
        wbv=float(np.mean(within**2)),
        wbc=float(2 * np.mean(within * (came - share[group]))),
    )


def exact_interval(happened: int, count: int) -> tuple[float, float]:
    """Return the exact binomial 95 % interval of a share."""
    found = stats.binomtest(happened, count).proportion_ci(SURE)
    return float(found.low), float(found.high)


def consistency_band(risk: float, count: int) -> tuple[float, float]:
    """Return the shares between which 95 % of samples lie where a risk is right, from binomial quantiles."""
    low, high = (float(stats.binom.ppf(level, count, risk)) for level in ((1 - SURE) / 2, (1 + SURE) / 2))
    return low / count, high / count


def _bin(stated: float, share: float, count: int) -> Bin:
    low, high = exact_interval(round(share * count), count)
    band_low, band_high = consistency_band(stated, count)
    return Bin(
        stated=float(stated),
        happened=float(share),
        count=count,
        low=low,
        high=high,
        band_low=band_low,
        band_high=band_high,
    )


def _checked(stated: npt.ArrayLike, happened: npt.ArrayLike) -> tuple[Floats, Floats]:
    risks, came = np.asarray(stated, np.float64), np.asarray(happened, np.float64)
    if risks.shape != came.shape or risks.size == 0:
        raise InputError("each stated risk needs one outcome", value=(risks.shape, came.shape))
    if not bool(np.all((risks >= 0.0) & (risks <= 1.0))):
        raise InputError("a risk lies between 0 and 1")
    if not bool(np.all((came == 0.0) | (came == 1.0))):
        raise InputError("an outcome is true or false")
    return risks.ravel(), came.ravel()
