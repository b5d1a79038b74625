"""Several stations near a garden made into one record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from frostgate.climate.siting import GardenOffset, Pairs, pair_up
from frostgate.errors import InputError
from frostgate.model.records import DailyMinima, Station
from frostgate.seasons import Dates, Floats, Ints
from frostgate.units import WHOLE_F_STEP_C, celsius, fahrenheit

FEWEST_COMMON = 100  # days, to move a station onto another's scale; common practice, no source
FEWEST_OF_SEASON = 60  # of these, within a month before or after; else the whole year's difference is taken
MONTHS = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """What one of the other stations gave."""

    station: Station
    difference_c: float  # best station less this one, the median over common days [°C]; NaN with too few
    common: int  # days on which both are known
    filled: int  # days taken from it


@dataclass(frozen=True, slots=True, kw_only=True)
class CombinedStations:
    """One record made of several."""

    minima: DailyMinima  # on the scale of the best-known station, whose name it has
    offset: GardenOffset  # garden less that station
    others: tuple[Filled, ...]  # in the order in which they were asked


def combine_stations(records: Sequence[DailyMinima], offsets: Sequence[GardenOffset]) -> CombinedStations:
    """Take the station whose difference from the garden is known best, and fill its missing days."""
    if not records or len(records) != len(offsets):
        raise InputError(
            "each station needs its difference from the garden", value=(len(records), len(offsets))
        )
    order = sorted(range(len(records)), key=lambda index: (offsets[index].sd_c, -records[index].known))
    best, *others = (records[index] for index in order)
    filled, given = best, []
    for other in others:
        filled, gave = _fill(filled, best, other)
        given.append(gave)
    notes = (*best.notes, *(_say(gave, best.station) for gave in given))
    return CombinedStations(
        minima=replace(filled, notes=notes), offset=offsets[order[0]], others=tuple(given)
    )


def _fill(filled: DailyMinima, best: DailyMinima, other: DailyMinima) -> tuple[DailyMinima, Filled]:
    """Fill the days that are still missing from one station, moved onto the best one's scale."""
    common = pair_up(best, other)
    size = common.dates.size
    if size < FEWEST_COMMON:
        return filled, Filled(station=other.station, difference_c=np.nan, common=size, filled=0)
    moved_c = other.tmin_c + _by_month(common)[_month(other.dates)]
    if best.step_c == WHOLE_F_STEP_C:  # as the best station would have written it
        moved_c = celsius(np.round(fahrenheit(moved_c)))
    dates = np.union1d(filled.dates, other.dates)
    own_c, from_other_c = np.full((2, dates.size), np.nan)
    own_c[np.searchsorted(dates, filled.dates)] = filled.tmin_c
    from_other_c[np.searchsorted(dates, other.dates)] = moved_c
    taken = np.isnan(own_c) & np.isfinite(from_other_c)
    tmin_c = np.where(taken, from_other_c, own_c)
    gave = Filled(
        station=other.station,
        difference_c=float(np.median(common.differences_c)),
        common=size,
        filled=int(taken.sum()),
    )
    return replace(filled, dates=dates, tmin_c=tmin_c), gave


def _by_month(common: Pairs) -> Floats:
    """Return the medians by month of the best station less the other [°C], shape (12,): no outlier counts."""
    month = _month(common.dates)
    whole = float(np.median(common.differences_c))
    by_month = np.full(MONTHS, whole)
    for middle in range(MONTHS):
        near = (month - middle + 1) % MONTHS <= 2
        if near.sum() >= FEWEST_OF_SEASON:
            by_month[middle] = np.median(common.differences_c[near])
    return by_month


def _month(dates: Dates) -> Ints:
    month: Ints = dates.astype("datetime64[M]").astype(np.int64) % MONTHS
    return month


def _say(gave: Filled, best: Station) -> str:
    if np.isnan(gave.difference_c):
        return f"{gave.station.id} not used: only {gave.common} days in common with {best.id}"
    return (
        f"{gave.filled} missing days taken from {gave.station.id}, moved by its difference from {best.id} "
        f"({gave.difference_c:+.1f} °C, median of {gave.common} common days)"
    )
