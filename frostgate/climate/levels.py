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
    BasisOption,
    Completeness,
    DailyMinima,
    FrostCurve,
    FrostDates,
    Side,
    Trend,
    YearsChoice,
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
    basis: BasisOption | None = None,
    completeness: Completeness = "chance",
    inclusive: bool = True,
) -> SideTable:
    """Fit one side of the year at several thresholds; the curves never cross."""

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
    """Return frost dates as the curves of their side use them, moved by whole days."""
    if table.choice is None:
        return frosts
    used = frosts_on(frosts, table.choice.basis)
    return replace(used, day=used.day.round())
