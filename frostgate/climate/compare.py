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
    Completeness,
    DailyMinima,
    FrostCurve,
    SiteClimate,
    Station,
    Trend,
    YearsWish,
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

    Examples
    --------
    >>> import numpy as np
    >>> from frostgate.seasons import NORTH
    >>> curve = FrostCurve(kind="given", side="spring", threshold_c=0.0, start=NORTH,
    ...                    risk=np.linspace(1, 0, 366), frost_share=1.0, seasons_used=30, seasons_unknown=0,
    ...                    first_year=1991, last_year=2020)
    >>> place = PlaceClimate(station=Station(id="X"), risk=0.1, last=curve, first=None,
    ...                      median_length_days=None, length_at_risk_days=None, coldest=None,
    ...                      trend=Trend(seasons=0, first_year=None, last_year=None, s=0, variance=0.0, z=0.0,
    ...                                  p=1.0, dates=0))
    >>> place.last_median, place.last_at_risk, place.spread_days
    ('01-30', '06-24', 291.0)
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

    Examples
    --------
    >>> from frostgate.seasons import NORTH
    >>> DateSpread(start=NORTH, places=2, earliest=("A", "03-08"), latest=("B", "04-23"), days=46).days
    46
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
    basis: YearsWish = "best",
    completeness: Completeness = "chance",
    keep_suspects: bool = False,
) -> PlaceClimate:
    """Give the figures of one place, from its record and from what a morning knows of it.

    Parameters
    ----------
    minima
        The station's record, as it was read.
    site
        What `know_site` made of it, with the autumn of `know_autumn`, both by the same further arguments.
    risk
        The grower's limit.
    kind, basis, completeness, keep_suspects
        As ``kind``, ``years``, ``completeness`` and ``keep_suspects`` of `know_site`.

    Examples
    --------
    >>> import numpy as np
    >>> from dataclasses import replace
    >>> from frostgate.climate.site import know_autumn, know_site
    >>> from frostgate.seasons import NORTH
    >>> days = np.arange("1990-08-01", "2020-08-01", dtype="datetime64[D]")
    >>> yearly = np.cos((days - days[0]).astype(int) / 365.25 * 2 * np.pi)
    >>> tmin_c = 6 + 9 * yearly + np.random.default_rng(4).normal(0, 3, days.size)
    >>> record = DailyMinima(station=Station(id="X"), dates=days, tmin_c=tmin_c)
    >>> site = replace(know_site(record, 0.0, NORTH), autumn=know_autumn(record, 0.0, NORTH))
    >>> place = compare_record(record, site, 0.1)
    >>> place.last_median, place.last_at_risk, place.first_median, place.coldest.zone.name
    ('04-24', '05-11', '11-12', '8a')
    """
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
    """Give a record without its plain errors, or as it is where they are kept.

    Examples
    --------
    >>> record = DailyMinima(station=Station(id="X"), dates=["2026-04-01"], tmin_c=[1.0])
    >>> leave_out_suspects(record).known
    1
    """
    return minima if keep_suspects else minima.leave_out(find_suspects(minima).dates)


def spread_of_dates(places: Iterable[tuple[str, PlaceClimate]]) -> tuple[DateSpread, ...]:
    """Tell how far the median last frosts of named places lie apart; the north before the south.

    A place without such a date, where a frost comes in fewer than half of the springs, has no part in it.

    Examples
    --------
    >>> spread_of_dates([])
    ()
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
