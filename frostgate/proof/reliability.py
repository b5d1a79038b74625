"""Did stated risks come true? The Brier score in its parts, and bands of chance.

Brier (1950): the mean of (stated - happened)^2. Grouped by what was stated, with n_k cases, mean stated f_k
and share happened o_k in group k, and o over all (Murphy 1973; the last two by Stephenson, Coelho & Jolliffe
2008, doi:10.1175/2007WAF2006116.1, for statements that differ within a group)

    Brier = REL - RES + UNC + WBV - WBC
    REL = sum n_k (f_k - o_k)^2 / n        how far the stated lies from what happened: less is better
    RES = sum n_k (o_k - o)^2 / n          how well the groups are told apart: more is better
    UNC = o (1 - o)                        what the share alone leaves open
    WBV, WBC                               variance of the stated within groups, and twice its covariance
                                           with what happened
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import stats

from frostgate.seasons import Floats, Ints

SURE = 0.95  # of the intervals and bands
ROUNDING = 1e-9  # a stated 0.3 belongs to the group that begins at 0.3, whatever 3 * 0.1 is
BLOCK_DAYS = 5  # errors of a day are shared by neighbouring places, and fade from day to day within a week
DRAWS, SEED = 10_000, 1
GROUPS = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Reliability:
    """Stated risks held against what happened; the parts of the Brier score are named as in the module."""

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


def reliability(stated: npt.ArrayLike, happened: npt.ArrayLike, bins: int = GROUPS) -> Reliability:
    """Group risks by what was stated and hold them against what happened."""
    risks, came = np.asarray(stated, np.float64), np.asarray(happened, np.float64)
    group = _group(risks, bins)
    count = np.bincount(group, minlength=bins)
    some = np.maximum(count, 1)
    mean_stated = np.bincount(group, risks, minlength=bins) / some
    share = np.bincount(group, came, minlength=bins) / some
    weight, base = count / risks.size, came.mean()
    within = risks - mean_stated[group]
    return Reliability(
        brier=float(np.mean((risks - came) ** 2)),
        rel=float(weight @ (mean_stated - share) ** 2),
        res=float(weight @ (share - base) ** 2),
        unc=float(base * (1 - base)),
        wbv=float(np.mean(within**2)),
        wbc=float(2 * np.mean(within * (came - share[group]))),
    )


def _group(risks: Floats, bins: int) -> Ints:
    group: Ints = np.minimum((risks * bins + ROUNDING).astype(np.int64), bins - 1)
    return group


def exact_interval(happened: int, count: int) -> tuple[float, float]:
    """Return the exact binomial 95 % interval of a share (Clopper & Pearson, doi:10.1093/biomet/26.4.404)."""
    found = stats.binomtest(happened, count).proportion_ci(SURE)
    return float(found.low), float(found.high)


def consistency_band(risk: float, count: int) -> tuple[float, float]:
    """Return the shares between which 95 % of samples lie where a risk is right, from binomial quantiles."""
    low, high = (float(stats.binom.ppf(level, count, risk)) for level in ((1 - SURE) / 2, (1 + SURE) / 2))
    return low / count, high / count


def day_block_bands(stated: npt.ArrayLike, happened: npt.ArrayLike, days: npt.ArrayLike) -> Floats:
    """Return count, mean stated, share, and the band of a right risk for each of ten groups, shape (10, 5).

    A binomial band takes every case to be independent; forecasts of neighbouring places on one day are not.
    So whole days are drawn, five consecutive ones together, and the band is as wide as the mean of happened
    less stated scatters over 10 000 such draws.
    """
    risks, came, day = np.asarray(stated, np.float64), np.asarray(happened, np.float64), np.asarray(days)
    block = (day - day.min()).astype(np.int64) // BLOCK_DAYS
    blocks, cell = int(block.max()) + 1, block * GROUPS + _group(risks, GROUPS)
    count, mean_stated, share, off = (
        np.bincount(cell, values, minlength=blocks * GROUPS).reshape(blocks, GROUPS)
        for values in (np.ones(risks.size), risks, came, came - risks)
    )
    drawn = np.random.default_rng(SEED).multinomial(blocks, np.full(blocks, 1 / blocks), DRAWS)
    with np.errstate(invalid="ignore", divide="ignore"):
        total = count.sum(axis=0)
        mean_stated, share = mean_stated.sum(axis=0) / total, share.sum(axis=0) / total
        scatter = (drawn @ off) / (drawn @ count) - (share - mean_stated)
    known, ends = np.isfinite(scatter).any(axis=0), np.full((2, GROUPS), np.nan)
    ends[:, known] = np.nanquantile(scatter[:, known], [(1 - SURE) / 2, (1 + SURE) / 2], axis=0)
    return np.column_stack([total, mean_stated, share, *np.clip(mean_stated + ends, 0.0, 1.0)])
