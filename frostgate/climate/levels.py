"""The table of the published freeze normals: dates by risk, at several thresholds, and the season between.

A level of 10 % in spring is the date after which a frost still comes in one spring of ten, in autumn the date
before which one has come in one autumn of ten. The length of the season between is a distribution of its own,
not a difference of two dates; its level of 10 % is the length that one season in ten reaches.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from frostgate.climate.curves import BEST, fit_curve, nest, put_bounds
from frostgate.climate.frosts import first_frosts, last_frosts, season_lengths
from frostgate.errors import TooFewSeasonsError
from frostgate.seasons import SeasonStart
from frostgate.terms import Completeness, DailyMinima, FrostCurve, FrostDates, Side, day_at_risk
from frostgate.units import celsius

LEVELS = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9)
THRESHOLDS_C = tuple(celsius(float(temp_f)) for temp_f in (36, 32, 28, 24, 20, 16))
FROSTS = {"spring": last_frosts, "autumn": first_frosts}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SideTable:
    """Frost dates and curves of one side of the year.

    Parameters
    ----------
    side
        ``spring`` or ``autumn``.
    frosts
        Frost dates, one for each threshold.
    curves
        One for each threshold with enough known seasons.
    refused
        The other thresholds [°C], each with the reason in words.

    Examples
    --------
    >>> SideTable(side="spring", frosts=(), curves=()).side
    'spring'
    """

    side: Side
    frosts: tuple[FrostDates, ...]
    curves: tuple[FrostCurve, ...]
    refused: tuple[tuple[float, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LengthLevel:
    """How long the season between two frosts is, in a share of the years.

    Parameters
    ----------
    threshold_c
        A frost is a minimum at or below this [°C].
    chance
        Share of the years whose season is at least this long.
    days
        Its length [d], None where no length has that chance.

    Examples
    --------
    >>> LengthLevel(threshold_c=0.0, chance=0.5, days=169.0).days
    169.0
    """

    threshold_c: float
    chance: float
    days: float | None


def tabulate_side(
    minima: DailyMinima,
    side: Side,
    thresholds_c: Sequence[float],
    start: SeasonStart,
    *,
    kind: str = BEST,
    years: tuple[int, int] | None = None,
    completeness: Completeness = "chance",
    inclusive: bool = True,
) -> SideTable:
    """Fit one side of the year at several thresholds; the curves never cross.

    Parameters
    ----------
    minima
        A station's record.
    side
        ``spring`` or ``autumn``.
    thresholds_c
        Thresholds [°C].
    start
        Where a season begins.
    kind
        A name in `FITS`, or ``best``.
    years
        First and last year to use, both included; None uses all.
    completeness, inclusive
        As in `last_frosts`.

    Raises
    ------
    TooFewSeasonsError
        Where fewer than 10 seasons are known, whatever the threshold.

    Examples
    --------
    >>> import numpy as np
    >>> from frostgate.seasons import NORTH
    >>> from frostgate.terms import Station
    >>> days = np.arange("1990-08-01", "2020-08-01", dtype="datetime64[D]")
    >>> yearly = np.cos((days - days[0]).astype(int) / 365.25 * 2 * np.pi)
    >>> tmin_c = 6 + 9 * yearly + np.random.default_rng(4).normal(0, 3, days.size)
    >>> record = DailyMinima(station=Station(id="X"), dates=days, tmin_c=tmin_c)
    >>> table = tabulate_side(record, "spring", [0.0, -2.2], NORTH, kind="normal")
    >>> [curve.date_at(0.5) > curve.date_at(0.9) for curve in table.curves]
    [True, True]
    """
    found = [
        FROSTS[side](minima, threshold_c, start, inclusive=inclusive, completeness=completeness)
        for threshold_c in thresholds_c
    ]
    if years is not None:
        found = [frosts.of_years(*years) for frosts in found]
    curves: list[FrostCurve] = []
    refused: list[TooFewSeasonsError] = []
    for frosts in found:
        try:
            curves.append(put_bounds(fit_curve(frosts, kind), frosts))
        except TooFewSeasonsError as error:
            refused.append(error)
    if not curves:
        raise refused[0]
    fitted = {curve.threshold_c for curve in curves}
    left = [threshold_c for threshold_c in thresholds_c if threshold_c not in fitted]
    reasons = tuple((threshold_c, str(error)) for threshold_c, error in zip(left, refused, strict=True))
    return SideTable(side=side, frosts=tuple(found), curves=nest(curves), refused=reasons)


def tabulate_lengths(
    spring: SideTable, autumn: SideTable, kind: str = BEST, levels: Iterable[float] = LEVELS
) -> tuple[LengthLevel, ...]:
    """Fit the length of the season between the two frosts of each year, at every threshold.

    A threshold with fewer than 10 known lengths is left out.

    Examples
    --------
    >>> import numpy as np
    >>> from frostgate.seasons import NORTH
    >>> years = np.arange(1991, 2021)
    >>> days = np.random.default_rng(5).integers(0, 20, (2, 30))
    >>> last = FrostDates(side="spring", threshold_c=0.0, start=NORTH, years=years, day=255 + days[0])
    >>> first = FrostDates(side="autumn", threshold_c=0.0, start=NORTH, years=years, day=65 + days[1])
    >>> table = tabulate_lengths(SideTable(side="spring", frosts=(last,), curves=()),
    ...                          SideTable(side="autumn", frosts=(first,), curves=()))
    >>> table[0].days > table[-1].days  # one season in ten is long, nine in ten reach a shorter length
    True
    """
    levels = tuple(levels)
    found: list[LengthLevel] = []
    for last, first in zip(spring.frosts, autumn.frosts, strict=True):
        years, lengths = season_lengths(last, first)
        # fitted as an autumn day is: the chance of a length below x, with +inf for a season without end
        try:
            shorter = fit_curve(replace(first, years=years, day=lengths), kind).risk
        except TooFewSeasonsError:
            continue
        for level in levels:
            days = day_at_risk(shorter, 1 - level, "autumn")
            reached = None if math.isnan(days) else round(days, 1)
            found.append(LengthLevel(threshold_c=last.threshold_c, chance=level, days=reached))
    return tuple(found)
