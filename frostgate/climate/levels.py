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
from frostgate.climate.fits import POOLED
from frostgate.climate.frosts import first_frosts, last_frosts, season_lengths
from frostgate.climate.years import CHOSEN_AT_C, choose_years, find_trend, frosts_on
from frostgate.errors import TooFewSeasonsError
from frostgate.model.records import (
    Completeness,
    DailyMinima,
    FrostCurve,
    FrostDates,
    Side,
    Trend,
    YearsChoice,
    YearsWish,
    day_at_risk,
)
from frostgate.seasons import SeasonStart
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
        Frost dates as they were, one for each threshold.
    curves
        One for each threshold with enough known seasons.
    trends
        One for each curve, of all its years.
    refused
        The other thresholds [°C], each with the reason in words.
    choice
        The years that the curves rest on, and why; None where that was never asked.

    Examples
    --------
    >>> SideTable(side="spring", frosts=(), curves=()).side
    'spring'
    """

    side: Side
    frosts: tuple[FrostDates, ...]
    curves: tuple[FrostCurve, ...]
    trends: tuple[Trend, ...] = ()
    refused: tuple[tuple[float, str], ...] = ()
    choice: YearsChoice | None = None


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
    kind: str = POOLED,
    years: tuple[int, int] | None = None,
    basis: YearsWish | None = None,
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
    basis
        ``all``, ``recent`` or ``trend`` of those years, or ``best`` by out-of-sample score, see
        `choose_years`; None is ``best``, but ``all`` where years are given. The frosts of 0 °C choose for all
        thresholds.
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
    >>> from frostgate.model.records import Station
    >>> days = np.arange("1990-08-01", "2020-08-01", dtype="datetime64[D]")
    >>> yearly = np.cos((days - days[0]).astype(int) / 365.25 * 2 * np.pi)
    >>> tmin_c = 6 + 9 * yearly + np.random.default_rng(4).normal(0, 3, days.size)
    >>> record = DailyMinima(station=Station(id="X"), dates=days, tmin_c=tmin_c)
    >>> table = tabulate_side(record, "spring", [0.0, -2.2], NORTH, kind="normal")
    >>> [curve.date_at(0.5) > curve.date_at(0.9) for curve in table.curves]
    [True, True]
    """

    def find(threshold_c: float) -> FrostDates:
        frosts = FROSTS[side](minima, threshold_c, start, inclusive=inclusive, completeness=completeness)
        return frosts if years is None else frosts.of_years(*years)

    choice = choose_years(find(CHOSEN_AT_C), kind, basis or (BEST if years is None else "all"))
    found = tuple(find(threshold_c) for threshold_c in thresholds_c)
    fitted: list[tuple[FrostCurve, Trend]] = []
    refused: list[tuple[float, TooFewSeasonsError]] = []
    for frosts in found:
        used = frosts_on(frosts, choice.basis)
        try:
            fitted.append((put_bounds(fit_curve(used, kind), used), find_trend(frosts)))
        except TooFewSeasonsError as error:
            refused.append((frosts.threshold_c, error))
    if not fitted:
        raise refused[0][1]
    return SideTable(
        side=side,
        frosts=found,
        curves=nest([curve for curve, _ in fitted]),
        trends=tuple(trend for _, trend in fitted),
        refused=tuple((threshold_c, str(error)) for threshold_c, error in refused),
        choice=choice,
    )


def tabulate_lengths(
    spring: SideTable, autumn: SideTable, kind: str = POOLED, levels: Iterable[float] = LEVELS
) -> tuple[LengthLevel, ...]:
    """Fit the length of the season between the two frosts of each year, at every threshold.

    The two dates of a year are those that each side's curves rest on, moved by whole days where they follow
    a trend. A threshold with fewer than 10 known lengths is left out.

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
        years, lengths = season_lengths(_whole_days(last, spring), _whole_days(first, autumn))
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


def _whole_days(frosts: FrostDates, table: SideTable) -> FrostDates:
    """Give frost dates as the curves of their side use them, moved by whole days."""
    if table.choice is None:
        return frosts
    used = frosts_on(frosts, table.choice.basis)
    return replace(used, day=used.day.round())
