"""A place's figures, to stand beside those of others."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from frostgate.climate.fits import POOLED
from frostgate.climate.frosts import first_frosts, last_frosts
from frostgate.climate.levels import SideTable, tabulate_lengths
from frostgate.climate.quality import find_suspects
from frostgate.climate.years import CHOSEN_AT_C, choose_years, find_trend
from frostgate.climate.zones import MeanExtreme, mean_extreme
from frostgate.errors import TooFewSeasonsError
from frostgate.model.records import (
    BasisOption,
    Completeness,
    DailyMinima,
    FrostCurve,
    SiteClimate,
    Station,
    Trend,
)
from frostgate.seasons import SeasonStart

MEDIAN = 0.5
EARLY, LATE = 0.9, 0.1  # eight last frosts in ten lie between the dates of these risks


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlaceClimate:
    """What a place's record tells, in the figures by which places are compared.

    Parameters
    ----------
    station
        Where the minima were measured.
    risk
        The grower's limit, at which the second of each two dates stands.
    last, first
        Curves of last spring and first autumn frosts, at the station's minimum that damages the garden;
        ``first`` is None where too few autumns are known.
    median_length_days, length_at_risk_days
        Days between the two frosts: reached in half of the years, and in all but a share ``risk`` of them;
        None where there is no such length.
    trend
        How the last frosts move over all known years.
    coldest
        The mean coldest night with its zone; None where ``unzoned`` says why not.
    notes
        What the grower should know of the record, in words.
    """

    station: Station
    risk: float
    last: FrostCurve
    first: FrostCurve | None
    median_length_days: float | None
    length_at_risk_days: float | None
    trend: Trend
    coldest: MeanExtreme | None
    unzoned: str | None = None
    notes: tuple[str, ...] = ()

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
    """How far the median last frosts of several places lie apart, on one side of the equator.

    Parameters
    ----------
    start
        Where a season begins; it tells the side.
    places
        How many have such a date.
    earliest, latest
        The name of the first and of the last of them, and their dates (MM-DD).
    days
        Between the two [d].
    """

    start: SeasonStart
    places: int
    earliest: tuple[str, str]
    latest: tuple[str, str]
    days: int


def compare_record(
    minima: DailyMinima,
    site: SiteClimate,
    risk: float,
    *,
    kind: str = POOLED,
    basis: BasisOption = "best",
    completeness: Completeness = "chance",
    keep_suspects: bool = False,
) -> PlaceClimate:
    """Return the figures of one place, from its record and from what a morning knows of it."""
    record = leave_out_suspects(minima, keep_suspects=keep_suspects)
    threshold_c, start = site.curve.threshold_c, site.curve.start
    last, first, freezes = (
        last_frosts(record, threshold_c, start, completeness=completeness),
        first_frosts(record, threshold_c, start, completeness=completeness),
        first_frosts(record, CHOSEN_AT_C, start, completeness=completeness),
    )
    spring = SideTable(side="spring", frosts=(last,), curves=(), choice=site.years)
    autumn = SideTable(side="autumn", frosts=(first,), curves=(), choice=choose_years(freezes, kind, basis))
    lengths = [level.days for level in tabulate_lengths(spring, autumn, kind, (MEDIAN, 1.0 - risk))]
    coldest, unzoned = _coldest(record, start)
    return PlaceClimate(
        station=minima.station,
        risk=risk,
        last=site.curve,
        first=site.autumn,
        median_length_days=lengths[0] if lengths else None,
        length_at_risk_days=lengths[1] if lengths else None,
        trend=find_trend(last),
        coldest=coldest,
        unzoned=unzoned,
        notes=(*site.notes, *(coldest.notes if coldest else ())),
    )


def leave_out_suspects(minima: DailyMinima, *, keep_suspects: bool = False) -> DailyMinima:
    """Return a record without its plain errors, or as it is where they are kept."""
    return minima if keep_suspects else minima.leave_out(find_suspects(minima).dates)


def spread_of_dates(places: Iterable[tuple[str, PlaceClimate]]) -> tuple[DateSpread, ...]:
    """Tell how far the median last frosts of named places lie apart; the north before the south.

    A place without such a date, where a frost comes in fewer than half of the springs, has no part in it.
    """
    dated = dict[SeasonStart, list[tuple[float, str, str]]]()
    for name, climate in places:
        date = climate.last_median
        if date is not None:
            place = (math.ceil(climate.last.day_at_risk(MEDIAN) - 0.5), name, date)
            dated.setdefault(climate.last.start, []).append(place)
    return tuple(_spreads(dated))


def _spreads(dated: dict[SeasonStart, list[tuple[float, str, str]]]) -> Iterator[DateSpread]:
    for start in sorted(dated, key=lambda start: -start.month):
        (first_day, first_name, first), *_ = ordered = sorted(dated[start])
        last_day, last_name, last = ordered[-1]
        yield DateSpread(
            start=start,
            places=len(ordered),
            earliest=(first_name, first),
            latest=(last_name, last),
            days=round(_days_between(first_day, last_day, start)),
        )


def _coldest(record: DailyMinima, start: SeasonStart) -> tuple[MeanExtreme | None, str | None]:
    try:
        return mean_extreme(record, start), None
    except TooFewSeasonsError as error:
        return None, str(error)


def _days_between(early: float, late: float, start: SeasonStart) -> float:
    """Count the days between two season days of a common year, which has no 29 February."""
    return late - early - (early < start.leap_slot <= late)
