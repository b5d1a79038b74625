"""The table of the published freeze normals, and the figures of a place beside those of others.

In that table a level of 10 % in spring is the date after which a frost still comes in one spring of ten, in
autumn the date before which one has come in one autumn of ten. The length of the season between is a
distribution of its own, not a difference of two dates; its level of 10 % is the length that one season in ten
reaches.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Unpack

import numpy as np

from frostgate.climate.fits import BEST, POOLED, fit_curve, put_bounds
from frostgate.climate.frosts import FrostRules, find_frosts, first_frosts, last_frosts, season_lengths
from frostgate.climate.quality import leave_out_suspects
from frostgate.climate.years import CHOSEN_AT_C, choose_years, find_trend, frosts_on
from frostgate.climate.zones import MeanExtreme, mean_extreme
from frostgate.errors import TooFewSeasonsError
from frostgate.model.curves import BasisOption, FrostCurve, SiteClimate, Trend, YearsChoice, day_at_risk
from frostgate.model.records import Completeness, DailyMinima, FrostDates, Side, Station
from frostgate.seasons import SeasonStart
from frostgate.units import celsius

LEVELS = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9)
THRESHOLDS_C = tuple(celsius(float(temp_f)) for temp_f in (36, 32, 28, 24, 20, 16))
MEDIAN = 0.5
EARLY, LATE = 0.9, 0.1  # eight last frosts in ten lie between the dates of these risks


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlaceClimate:
    """What a place's record tells, in the figures by which places are compared."""

    station: Station
    risk: float  # the grower's limit, at which the second of each two dates stands
    last: FrostCurve  # of last spring frosts, at the station's minimum that damages the garden
    first: FrostCurve | None  # of first autumn frosts; None where too few autumns are known
    median_length_days: float | None  # between the two frosts, reached in half of the years
    length_at_risk_days: float | None  # reached in all years but a share `risk`; None where no length is
    trend: Trend  # of the last frosts over all known years
    coldest: MeanExtreme | None  # the mean coldest night with its zone; None where `unzoned` says why not
    unzoned: str | None = None
    notes: tuple[str, ...] = ()  # what the grower should know of the record, in words

    @property
    def last_median(self) -> str | None:
        """The date (MM-DD) after which a frost comes in one spring of two."""
        return self.last.date_at(MEDIAN)

    @property
    def last_at_risk(self) -> str | None:
        """The date (MM-DD) after which a frost comes in a share ``risk`` of the springs."""
        return self.last.date_at(self.risk)

    @property
    def first_median(self) -> str | None:
        """The date (MM-DD) before which a frost has come in one autumn of two."""
        return None if self.first is None else self.first.date_at(MEDIAN)

    @property
    def first_at_risk(self) -> str | None:
        """The date (MM-DD) before which a frost has come in a share ``risk`` of the autumns."""
        return None if self.first is None else self.first.date_at(self.risk)

    @property
    def spread_days(self) -> float | None:
        """Days from the date that nine last frosts in ten pass to the one that one in ten passes [d]."""
        early, late = self.last.day_at_risk(EARLY), self.last.day_at_risk(LATE)
        if math.isnan(early) or math.isnan(late):
            return None
        return round(_days_between(early, late, self.last.start), 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class DateSpread:
    """How far the median last frosts of several places lie apart, on one side of the equator."""

    start: SeasonStart  # where a season begins; it tells the side
    places: int  # how many have such a date
    earliest: tuple[str, str]  # name and date (MM-DD)
    latest: tuple[str, str]
    days: int  # between the two


def compare_record(
    minima: DailyMinima,
    site: SiteClimate,
    risk: float,
    *,
    kind: str = POOLED,
    completeness: Completeness = "chance",
    keep_suspects: bool = False,
) -> PlaceClimate:
    """Return the figures of one place, from its record and from what is known of it, its autumns too."""
    record = leave_out_suspects(minima, keep_suspects=keep_suspects)
    threshold_c, start = site.curve.threshold_c, site.curve.start
    last = last_frosts(record, threshold_c, start, completeness=completeness)
    first = first_frosts(record, threshold_c, start, completeness=completeness)
    springs = frosts_on(last, "all" if site.years is None else site.years.basis)
    autumns = frosts_on(first, site.autumn_basis or "all")
    levels = tabulate_lengths([springs], [autumns], kind, (MEDIAN, 1.0 - risk))
    half, at_risk = (level.days for level in levels) if levels else (None, None)
    coldest, unzoned = None, None
    try:
        coldest = mean_extreme(record, start)
    except TooFewSeasonsError as error:
        unzoned = str(error)
    return PlaceClimate(
        station=minima.station,
        risk=risk,
        last=site.curve,
        first=site.autumn,
        median_length_days=half,
        length_at_risk_days=at_risk,
        trend=find_trend(last),
        coldest=coldest,
        unzoned=unzoned,
        notes=(*site.notes, *(coldest.notes if coldest else ())),
    )


def spread_of_dates(places: Iterable[tuple[str, PlaceClimate]]) -> tuple[DateSpread, ...]:
    """Tell how far the median last frosts of named places lie apart; the north before the south.

    A place without such a date, where a frost comes in fewer than half of the springs, has no part in it.
    """
    dated = [
        (climate.last.start, math.ceil(climate.last.day_at_risk(MEDIAN) - 0.5), name, climate.last_median)
        for name, climate in places
        if climate.last_median is not None
    ]
    spreads = []
    for start in sorted({place[0] for place in dated}, key=lambda start: -start.month):
        ordered = sorted(place[1:] for place in dated if place[0] == start)
        first, last = ordered[0], ordered[-1]
        days = round(_days_between(first[0], last[0], start))
        spreads.append(
            DateSpread(start=start, places=len(ordered), earliest=first[1:], latest=last[1:], days=days)
        )
    return tuple(spreads)


def _days_between(early: float, late: float, start: SeasonStart) -> float:
    """Count the days between two season days of a common year, which has no 29 February."""
    return late - early - (early < start.leap_slot <= late)
