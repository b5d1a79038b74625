"""Hardiness zones: the mean of each year's coldest night, and the zone in which it lies.

A zone is 10 °F wide and a half zone 5 °F, a the colder: the lower bound of zone z is 10 z - 70 °F, 5 more for
its warmer half, and belongs to it. The public map of the US Department of Agriculture averages "the lowest
daily minimum temperature recorded for each of the years", 1991 to 2020 in its issue of 2023; its text does
not say where a year begins (a Forest Service data set of such zones counts from July to June). Here a year is
a cold season, from August in the north and from February in the south, so that one winter is one value.

A year is known when its coldest night can hardly have been missed. Each missing day is given the share of the
record's coldest nights that fall on such a day of the year, within 15 days of it; where these add up to more
than 10 % the year is unknown: some nine missing nights of midwinter, or any number of summer. What the other
nights of that year were plays no part: dropping the winters whose coldest known night is a mild one would
leave the cold ones. (Ten nights taken at random from each winter of six long records: such a rule at 10 %
came out 1.5 to 4.7 °F too cold, this one 0.0 to 0.2 °F too warm; tests/reference/test_zones_reference.py.)
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy import special

from frostgate.climate.frosts import NEARBY_DAYS, sum_nearby
from frostgate.errors import InputError, TooFewSeasonsError
from frostgate.model.records import DailyMinima
from frostgate.seasons import Floats, Ints, SeasonStart, freeze, season_grid
from frostgate.units import fahrenheit

WINTERS = 30  # known ones, as the public map averages
FEWEST_WINTERS = 10
CONFIDENCE = 0.9
HIDDEN_LIMIT = 0.1  # chance that a year's coldest night is among its missing ones
MANY_UNKNOWN = 10  # winters; with so many the others reach further back than a grower may think
HALF_F = 5.0
COLDEST_F = -60.0  # lower bound of 1a
HALVES = tuple(f"{number}{half}" for number in range(1, 14) for half in "ab")


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """A half zone."""

    name: str  # such as 7b; "colder than 1a" and "warmer than 13b" beyond the public ones
    low_f: float  # mean of the yearly coldest nights [°F], this bound included
    high_f: float  # infinite beyond the public ones


_BOUNDS_F = (-math.inf, *(COLDEST_F + HALF_F * step for step in range(len(HALVES) + 1)), math.inf)
ZONES = tuple(
    Zone(name=name, low_f=low_f, high_f=high_f)
    for name, (low_f, high_f) in zip(
        (f"colder than {HALVES[0]}", *HALVES, f"warmer than {HALVES[-1]}"), pairwise(_BOUNDS_F), strict=True
    )
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeanExtreme:
    """The mean of a station's yearly coldest nights, and how sure it is.

    The interval knows nothing of winters growing milder.
    """

    years: Ints  # the winters used, each named by the year of its spring, shape (n,)
    extremes_c: Floats  # the coldest night of each [°C], shape (n,)
    unknown: int  # winters since the first of them that are not known
    mean_c: float
    error_c: float  # its standard error [°C]
    low_c: float  # with 90 % confidence, by Student's t
    high_c: float

    def __post_init__(self) -> None:
        freeze(self, years=np.int64, extremes_c=float)

    @property
    def zone(self) -> Zone:
        """The zone of the mean."""
        return zone_of(self.mean_c)

    @property
    def zones(self) -> tuple[Zone, ...]:
        """The zones that the interval touches, coldest first."""
        return ZONES[ZONES.index(zone_of(self.low_c)) : ZONES.index(zone_of(self.high_c)) + 1]

    @property
    def notes(self) -> tuple[str, ...]:
        """What to know of it, in words."""
        count, notes = self.years.size, []
        if count < WINTERS:
            notes.append(f"The zone rests on {count} known winters only; the public map averages {WINTERS}.")
        if self.unknown >= MANY_UNKNOWN:
            first = int(self.years[0])
            notes.append(
                f"The zone's winters reach back to {first}: {self.unknown} since then are not known."
            )
        return tuple(notes)


def zone_of(extreme_c: float) -> Zone:
    """Return the half zone of a mean yearly coldest night [°C].

    Beyond the 26 public ones it says so instead of naming the last of them.
    """
    if not math.isfinite(extreme_c):
        raise InputError("no temperature has no zone", value=extreme_c)
    degrees = round(fahrenheit(extreme_c), 6)  # a bound in °F comes back from °C with all but its last digits
    step = math.floor((degrees - COLDEST_F) / HALF_F) + 1
    return ZONES[min(max(step, 0), len(ZONES) - 1)]


def zones_named(text: str) -> tuple[Zone, ...]:
    """Return the half zone of a name such as ``8a``, or both halves of a zone such as ``8``."""
    wanted = text.strip().lower()
    found = tuple(zone for zone in ZONES if zone.name in HALVES and wanted in {zone.name, zone.name[:-1]})
    if not found:
        remedy = f"Name one from {HALVES[0]} to {HALVES[-1]}, such as 8a, or 8 for both its halves."
        raise InputError("no hardiness zone has this name", value=text, remedy=remedy)
    return found


def yearly_extremes(minima: DailyMinima, start: SeasonStart) -> tuple[Ints, Floats]:
    """Return the coldest night of each cold season."""
    start_years, grid = season_grid(minima.dates, minima.observed_c, start)
    coldest_c = np.fmin.reduce(grid, axis=0, initial=np.inf)
    known = np.isfinite(coldest_c)
    for _ in range(2):  # the winters known at first tell again, better, when the coldest nights come
        on_coldest = grid[:, known] == coldest_c[known]
        of_winters = (on_coldest / on_coldest.sum(axis=0)).sum(axis=1) / max(int(known.sum()), 1)
        hidden = np.isnan(grid).T @ (sum_nearby(of_winters) / (2 * NEARBY_DAYS + 1))  # chance by season
        known = known.any() & np.isfinite(coldest_c) & (hidden <= HIDDEN_LIMIT)
    return start_years + start.spring_lag, np.where(known, coldest_c, np.nan)


def mean_extreme(
    minima: DailyMinima, start: SeasonStart, years: tuple[int, int] | None = None
) -> MeanExtreme:
    """Average the coldest nights of a station's last 30 known winters, or of all known ones of some years."""
    all_years, all_c = yearly_extremes(minima, start)
    if years is not None:
        asked = (all_years >= years[0]) & (all_years <= years[1])
        all_years, all_c = all_years[asked], all_c[asked]
    known = ~np.isnan(all_c)
    used = np.flatnonzero(known) if years is not None else np.flatnonzero(known)[-WINTERS:]
    if used.size < FEWEST_WINTERS:
        raise TooFewSeasonsError(
            f"only {used.size} of {all_c.size} winters are known, too few for a zone",
            remedy=f"Use a station with at least {FEWEST_WINTERS} known winters, better {WINTERS}.",
        )
    return average_extremes(all_years[used], all_c[used], int((~known[used[0] :]).sum()))


def average_extremes(years: Ints, extremes_c: Floats, unknown: int) -> MeanExtreme:
    """Return the mean of some winters' coldest nights and the interval that Student's t puts on it."""
    count = extremes_c.size
    mean_c, error_c = float(extremes_c.mean()), float(extremes_c.std(ddof=1)) / math.sqrt(count)
    reach_c = float(special.stdtrit(count - 1, (1.0 + CONFIDENCE) / 2.0)) * error_c
    return MeanExtreme(
        years=years,
        extremes_c=extremes_c,
        unknown=unknown,
        mean_c=mean_c,
        error_c=error_c,
        low_c=mean_c - reach_c,
        high_c=mean_c + reach_c,
    )
