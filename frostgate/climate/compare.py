"""A place's figures, to stand beside those of others."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from frostgate.climate.curves import tabulate_lengths
from frostgate.climate.fits import POOLED
from frostgate.climate.frosts import last_frosts
from frostgate.climate.quality import leave_out_suspects
from frostgate.climate.site import find_autumns
from frostgate.climate.years import find_trend, frosts_on
from frostgate.climate.zones import MeanExtreme, mean_extreme
from frostgate.errors import TooFewSeasonsError
from frostgate.model.curves import BasisOption, FrostCurve, SiteClimate, Trend
from frostgate.model.records import Completeness, DailyMinima, Station
from frostgate.seasons import SeasonStart

MEDIAN = 0.5
EARLY, LATE = 0.9, 0.1  # eight last frosts in ten lie between the dates of these risks


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
    basis: BasisOption = "best",
    completeness: Completeness = "chance",
    keep_suspects: bool = False,
) -> PlaceClimate:
    """Return the figures of one place, from its record and from what a morning knows of it."""
    record = leave_out_suspects(minima, keep_suspects=keep_suspects)
    threshold_c, start = site.curve.threshold_c, site.curve.start
    last = last_frosts(record, threshold_c, start, completeness=completeness)
    springs = frosts_on(last, "all" if site.years is None else site.years.basis)
    autumns = find_autumns(record, threshold_c, start, kind=kind, completeness=completeness, years=basis)
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
    dated = dict[SeasonStart, list[tuple[float, str, str]]]()
    for name, climate in places:
        date = climate.last_median
        if date is not None:
            place = (math.ceil(climate.last.day_at_risk(MEDIAN) - 0.5), name, date)
            dated.setdefault(climate.last.start, []).append(place)
    spreads = []
    for start in sorted(dated, key=lambda start: -start.month):
        (first_day, first_name, first), *_ = ordered = sorted(dated[start])
        last_day, last_name, last = ordered[-1]
        spreads.append(
            DateSpread(
                start=start,
                places=len(ordered),
                earliest=(first_name, first),
                latest=(last_name, last),
                days=round(_days_between(first_day, last_day, start)),
            )
        )
    return tuple(spreads)


def _days_between(early: float, late: float, start: SeasonStart) -> float:
    """Count the days between two season days of a common year, which has no 29 February."""
    return late - early - (early < start.leap_slot <= late)
