"""Which years a curve rests on, and the evidence by which they were chosen."""

from __future__ import annotations

from typing import Literal

from frostgate.errors import InputError
from frostgate.values import dataclass

Basis = Literal["all", "recent", "trend"]
YearsWish = Literal["best", "all", "recent", "trend"]
BASES: tuple[Basis, ...] = ("all", "recent", "trend")


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """How the frost dates of a record move over its years, with what chance would do.

    Parameters
    ----------
    seasons
        Known seasons; a season without a frost counts as the earliest of all in spring, the latest in autumn.
    first_year, last_year
        Of the known seasons; None where there is none.
    s, variance, z, p
        Mann-Kendall: the statistic (positive where frosts come later), its variance with ties, its normal
        score, and the two-sided chance of as much without any trend.
    dates
        Seasons with a frost; the slope is theirs alone.
    days_per_decade, low, high
        Theil-Sen slope and its 95 % interval [d per decade], positive where frosts come later; None with
        fewer than 5 dates.

    Examples
    --------
    >>> none = Trend(seasons=0, first_year=None, last_year=None, s=0, variance=0.0, z=0.0, p=1.0, dates=0)
    >>> none.low is None
    True
    """

    seasons: int
    first_year: int | None
    last_year: int | None
    s: int
    variance: float
    z: float
    p: float
    dates: int
    days_per_decade: float | None = None
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BasisScore:
    """How well the curve of some years foretold the seasons that followed them.

    Parameters
    ----------
    basis
        ``all``, ``recent`` or ``trend``.
    crps_days
        Mean CRPS of the seasons judged [d], smaller is better.
    gain_days, error_days
        By how much that is less than by all years, and the standard error of it over the seasons [d].

    Examples
    --------
    >>> BasisScore(basis="all", crps_days=6.2).gain_days
    0.0
    """

    basis: Basis
    crps_days: float
    gain_days: float = 0.0
    error_days: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class YearsChoice:
    """Which years a curve rests on, and why.

    Parameters
    ----------
    basis
        The years used: ``all``; ``recent``, the last 30 known seasons; or ``trend``, all of them, each date
        moved along the trend to the last season.
    best
        The years that the scores would choose; another basis was asked for by name.
    threshold_c
        Of the frosts that were judged [°C].
    judged
        Seasons with 30 known ones before them, each foretold from those alone.
    scores
        One for each basis; none where too few seasons could be judged.
    trend
        The trend of those frosts.
    reason
        The years and the evidence in plain words, to stand behind a colon.

    Raises
    ------
    InputError
        Where there is no such basis.

    Examples
    --------
    >>> trend = Trend(seasons=0, first_year=None, last_year=None, s=0, variance=0.0, z=0.0, p=1.0, dates=0)
    >>> YearsChoice(basis="all", best="all", threshold_c=0.0, judged=0, scores=(), trend=trend,
    ...             reason="All.").basis
    'all'
    """

    basis: Basis
    best: Basis
    threshold_c: float
    judged: int
    scores: tuple[BasisScore, ...]
    trend: Trend
    reason: str

    def __post_init__(self) -> None:
        for basis in (self.basis, self.best):
            if basis not in BASES:
                raise InputError("no such choice of years", value=basis)
