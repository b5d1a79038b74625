"""How good a forecast with a stated error is: CRPS in closed form, and bands for shares that came true.

The continuous ranked probability score is a distance between a forecast's distribution and what came, in the
unit of the forecast; of a forecast without a spread it is the absolute error.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from scipy import special

from frostgate.errors import InputError
from frostgate.terms import Floats

SURE = 0.95
BLOCK_DAYS = 5  # errors of a day are shared by neighbouring places, and fade from day to day within a week
DRAWS = 10_000


def crps_normal(observed: npt.ArrayLike, mean: npt.ArrayLike, sd: npt.ArrayLike) -> Floats:
    """Give the CRPS of a Gaussian forecast, s [z (2 Phi(z) - 1) + 2 phi(z) - 1 / sqrt(pi)].

    The form by Gneiting et al. 2005, doi:10.1175/MWR2904.1.

    Examples
    --------
    >>> round(float(crps_normal(-3.0, 0.0, 1.0)), 8)  # from the tests of R's scoringRules
    2.43657473
    """
    spread = np.asarray(sd, dtype=np.float64)
    off = np.asarray(observed, dtype=np.float64) - np.asarray(mean, dtype=np.float64)
    return np.asarray(_distance(off, spread) - spread / math.sqrt(math.pi))


def crps_mixture(
    observed: npt.ArrayLike, mean: npt.ArrayLike, sd: npt.ArrayLike, share: float, factor: float
) -> Floats:
    """Give the CRPS of a mixture of two Gaussians of one mean, the gate's model of an error.

    With A(m, s) = 2 s phi(m / s) + m (2 Phi(m / s) - 1), the mean of abs(m + s Z), it is
    sum_i w_i A(y - m, s_i) - 1/2 sum_ij w_i w_j A(0, sqrt(s_i^2 + s_j^2)); Grimit et al. 2006,
    doi:10.1256/qj.05.235.

    Parameters
    ----------
    observed, mean
        What came and what was forecast [°C].
    sd
        Spread over all [°C].
    share, factor
        As `Policy.wide_share` and `Policy.wide_factor`.

    Examples
    --------
    >>> round(float(crps_mixture(1.0, 0.0, 1.0, 0.0, 1.0)), 8)  # computed: 0.60244136
    0.60244136
    """
    off = np.asarray(observed, dtype=np.float64) - np.asarray(mean, dtype=np.float64)
    narrow = np.asarray(sd, dtype=np.float64) / math.sqrt(1 - share + share * factor**2)
    wide, mixed = factor * narrow, math.sqrt(1 + factor**2) * narrow
    near = (1 - share) * _distance(off, narrow) + share * _distance(off, wide)
    within = (1 - share) ** 2 * narrow + share**2 * wide + math.sqrt(2) * share * (1 - share) * mixed
    return np.asarray(near - within / math.sqrt(math.pi))


def day_block_bands(
    stated: npt.ArrayLike, happened: npt.ArrayLike, days: npt.ArrayLike, bins: int = 10, seed: int = 1
) -> Floats:
    """Give each group of stated risks the shares between which 95 % lie where the risk is right.

    A binomial band takes every case to be independent; forecasts of neighbouring places on one day are not.
    So whole days are drawn, five consecutive ones together, and the band is as wide as the mean of happened
    less stated scatters over 10 000 such draws.

    Parameters
    ----------
    stated, happened
        Risks and whether each came true, shape (n,).
    days
        The day of each, whole numbers or dates, shape (n,).
    bins
        Groups of equal width between 0 and 1.
    seed
        Of the draws.

    Returns
    -------
    array of shape (bins, 5)
        Cases, mean stated, share happened, and the band's low and high end; NaN where nothing was stated.

    Examples
    --------
    >>> found = day_block_bands([0.1, 0.1, 0.1, 0.9], [0, 0, 1, 1], [0, 5, 10, 15], bins=2)
    >>> found[:, :3].round(2).tolist()
    [[3.0, 0.1, 0.33], [1.0, 0.9, 1.0]]
    """
    risks, came = np.asarray(stated, np.float64), np.asarray(happened, np.float64)
    day = np.asarray(days).astype("datetime64[D]" if np.asarray(days).dtype.kind == "M" else np.int64)
    if not risks.shape == came.shape == day.shape or risks.size == 0:
        raise InputError("each stated risk needs one outcome and one day", value=(risks.size, came.size))
    group = np.minimum((risks * bins + 1e-9).astype(np.int64), bins - 1)
    block = (day - day.min()).astype(np.int64) // BLOCK_DAYS
    blocks = int(block.max()) + 1

    def by_block(values: Floats) -> Floats:
        sums = np.bincount(block * bins + group, values, minlength=blocks * bins)
        return np.asarray(sums.reshape(blocks, bins), dtype=np.float64)

    count, off = by_block(np.ones(risks.size)), by_block(came - risks)
    drawn = np.random.default_rng(seed).multinomial(blocks, np.full(blocks, 1 / blocks), DRAWS)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean_stated = by_block(risks).sum(axis=0) / count.sum(axis=0)
        share = by_block(came).sum(axis=0) / count.sum(axis=0)
        scatter = (drawn @ off) / (drawn @ count) - (share - mean_stated)
    ends = [_quantile(scatter, level) for level in ((1 - SURE) / 2, (1 + SURE) / 2)]
    low, high = (np.clip(mean_stated + end, 0.0, 1.0) for end in ends)
    return np.column_stack([count.sum(axis=0), mean_stated, share, low, high])


def _distance(off: Floats, spread: Floats) -> Floats:
    """Give the mean of abs(off + spread * Z)."""
    z = off / spread
    density = np.exp(-0.5 * z**2) / math.sqrt(2 * math.pi)
    return np.asarray(2 * spread * density + off * (2 * special.ndtr(z) - 1))


def _quantile(scatter: Floats, level: float) -> Floats:
    known = np.isfinite(scatter).any(axis=0)
    ends = np.full(scatter.shape[1], np.nan)
    ends[known] = np.nanquantile(scatter[:, known], level, axis=0)
    return ends
