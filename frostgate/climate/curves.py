"""Frost dates into curves: choose a fit, put bounds on it, keep several thresholds from crossing, tabulate.

The table is that of the published freeze normals. A level of 10 % in spring is the date after which a frost
still comes in one spring of ten, in autumn the date before which one has come in one autumn of ten. The
length of the season between is a distribution of its own, not a difference of two dates; its level of 10 % is
the length that one season in ten reaches.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Unpack

import numpy as np

from frostgate.climate.fits import (
    BEST,
    FEWEST_FROSTS,
    FITS,
    POOLED,
    check_kind,
    crps_of_tables,
    falling_days,
    frost_share,
)
from frostgate.climate.frosts import FrostRules, find_frosts, season_lengths
from frostgate.climate.years import CHOSEN_AT_C, choose_years, find_trend, frosts_on
from frostgate.errors import InputError, TooFewSeasonsError
from frostgate.model.curves import BasisOption, FrostCurve, Trend, YearsChoice, day_at_risk
from frostgate.model.records import DailyMinima, FrostDates, Side
from frostgate.seasons import Floats, SeasonStart
from frostgate.units import celsius

FEWEST_SEASONS = 10
FEW_SEASONS = 20  # below this a curve comes with a warning
RESAMPLES = 500
SEED = 20_260_401
LEVELS = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9)
THRESHOLDS_C = tuple(celsius(float(temp_f)) for temp_f in (36, 32, 28, 24, 20, 16))


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
    if np.isfinite(days).sum() < FEWEST_FROSTS:
        kind = "empirical"
    elif kind == BEST:
        kind = next(iter(score_fits(days)))
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


def nest(curves: Sequence[FrostCurve]) -> tuple[FrostCurve, ...]:
    """Keep curves of several thresholds from crossing: a warmer threshold is never less likely.

    Each curve, and each of its bounds, is raised to the highest of those at colder thresholds.
    """
    nested = sorted(curves, key=lambda curve: curve.threshold_c)
    for name in ("risk", "low", "high"):
        tables = [getattr(curve, name) for curve in nested]
        if all(table is not None for table in tables):
            raised = np.maximum.accumulate(tables)
            nested = [replace(curve, **{name: table}) for curve, table in zip(nested, raised, strict=True)]
    by_threshold = {curve.threshold_c: curve for curve in nested}
    return tuple(by_threshold[curve.threshold_c] for curve in curves)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SideTable:
    """Frost dates and curves of one side of the year."""

    side: Side
    frosts: tuple[FrostDates, ...]  # as they were, one for each threshold
    used: tuple[FrostDates, ...]  # on the years that the curves rest on
    curves: tuple[FrostCurve, ...]  # one for each threshold with enough known seasons
    trends: tuple[Trend, ...]  # one for each curve, of all its years
    refused: tuple[tuple[float, str], ...]  # the other thresholds [°C], each with the reason in words
    choice: YearsChoice  # the years that the curves rest on, and why

    @property
    def main(self) -> int:
        """The place of the curve at 0 °C, or of the first where there is none."""
        return next((at for at, curve in enumerate(self.curves) if abs(curve.threshold_c) < 0.05), 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class LengthLevel:
    """How long the season between two frosts is, in a share of the years."""

    threshold_c: float  # a frost is a minimum at or below this [°C]
    chance: float  # share of the years whose season is at least this long
    days: float | None  # its length [d], None where no length has that chance


def tabulate_side(
    minima: DailyMinima,
    side: Side,
    thresholds_c: Sequence[float],
    start: SeasonStart,
    *,
    kind: str = POOLED,
    years: tuple[int, int] | None = None,
    basis: BasisOption | None = None,
    **rules: Unpack[FrostRules],
) -> SideTable:
    """Fit one side of the year at several thresholds; the curves never cross."""

    def find(threshold_c: float) -> FrostDates:
        (frosts,) = find_frosts(minima, side, [threshold_c], start, **rules)
        return frosts if years is None else frosts.of_years(*years)

    choice = choose_years(find(CHOSEN_AT_C), kind, basis or (BEST if years is None else "all"))
    found = tuple(find(threshold_c) for threshold_c in thresholds_c)
    used = tuple(frosts_on(frosts, choice.basis) for frosts in found)
    fitted: list[tuple[FrostCurve, Trend]] = []
    refused: list[tuple[float, TooFewSeasonsError]] = []
    for frosts, on_basis in zip(found, used, strict=True):
        try:
            fitted.append((put_bounds(fit_curve(on_basis, kind), on_basis), find_trend(frosts)))
        except TooFewSeasonsError as error:
            refused.append((frosts.threshold_c, error))
    if not fitted:
        raise refused[0][1]
    return SideTable(
        side=side,
        frosts=found,
        used=used,
        curves=nest([curve for curve, _ in fitted]),
        trends=tuple(trend for _, trend in fitted),
        refused=tuple((threshold_c, str(error)) for threshold_c, error in refused),
        choice=choice,
    )


def tabulate_lengths(
    springs: Sequence[FrostDates],
    autumns: Sequence[FrostDates],
    kind: str = POOLED,
    levels: Iterable[float] = LEVELS,
) -> tuple[LengthLevel, ...]:
    """Fit the length of the season between the two frosts of each year, at every threshold.

    The two dates of a year are those that each side's curves rest on, moved by whole days where they follow
    a trend. A threshold with fewer than 10 known lengths is left out.
    """
    levels = tuple(levels)
    found: list[LengthLevel] = []
    for spring, autumn in zip(springs, autumns, strict=True):
        last, first = (replace(frosts, day=frosts.day.round()) for frosts in (spring, autumn))
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
