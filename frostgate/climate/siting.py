"""Garden less station on frost nights, by default and learned from pairs; several stations as one."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from frostgate.errors import InputError
from frostgate.model.records import DailyMinima, Station
from frostgate.seasons import Dates, Floats, Ints, freeze
from frostgate.units import WHOLE_F_STEP_C, celsius, fahrenheit

Mask = npt.NDArray[np.bool_]
ExposureName = Literal["open", "wall", "low"]
Estimate = tuple[float, float]  # a value and its standard error

NO_SOURCE = "common practice, no source"
LARGEST_C = 20.0
HIGHEST_DIFFERENCE_M = 3000.0
UNKNOWN_ELEVATION_SD_M = 150.0  # of garden less station; common practice, no source
NIGHT_SCATTER_C = 1.5  # of single nights about the offset; common practice, no source
FEWEST_FOR_SHIFT = 10  # mornings
CLEARLY_CLOSER = 0.7  # spread of the differences with the dates moved, against that as they stand
TO_SD = 1.4826  # of a Gaussian, from the median absolute deviation
FAR = 3.5
HUBER = 1.345
SCATTER_WORTH = 5.0  # pairs; common practice, no source
ALIKE, ALIKE_WORTH = 0.2, 10.0  # correlation of neighbouring mornings, and pairs; common practice, no source
MOST_ROUNDS = 50
STEEPEST = 0.8  # °C per °C; steeper than any garden
SLOPE_SD = 0.1  # °C per °C; common practice, no source
CONTRAST_C, CONTRAST_SD_C = -1.5, 1.5  # clear calm nights less others; common practice, no source
THERMOMETER_SD_C = 0.5  # a household thermometer is good to about 1 °C: common practice, no source
MANY_LEFT_OUT = 0.05  # of the pairs
FAR_FROM_PAIRS_C = 3.0
MOST_ROUNDS_LEARNING = 100
FEWEST_COMMON = 100  # days, to move a station onto another's scale; common practice, no source
FEWEST_OF_SEASON = 60  # of these, within a month before or after; else the whole year's difference is taken
MONTHS = 12
METHODS = (
    "outliers: Iglewicz & Hoaglin 1993 (modified z-score above 3.5)",
    "level and slope: Huber 1964 (M-estimate, constant 1.345)",
    "neighbouring mornings counted as n (1 - r) / (1 + r), r their correlation: common practice",
    f"spread of the slope, contrast of clear calm nights, thermometer's error: {NO_SOURCE}",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class GardenOffset:
    """Garden minimum less station minimum on the nights that matter for frost."""

    offset_c: float  # negative where the garden is colder [°C]
    sure_c: float  # standard error of that difference: it stays the same from night to night [°C]
    night_sd_c: float  # how far single nights scatter about it [°C]
    pairs: int = 0  # mornings it was learned from, without those left out
    clear_pairs: int | None = None  # those of them marked clear and calm; None where nights are not marked
    left_out: tuple[dt.date, ...] = ()  # as outliers, rising
    default_share: float = 1.0  # weight of the default: 1 without pairs, falling towards 0 with their number
    basis: str = "stated"  # what it rests on, in words
    sources: tuple[str, ...] = ()  # of its methods and numbers
    notes: tuple[str, ...] = ()  # what the grower should know of it

    def __post_init__(self) -> None:
        if not abs(self.offset_c) <= LARGEST_C:
            raise InputError(
                "a garden does not differ that much from its station", value=f"{self.offset_c:g}"
            )

    @property
    def sd_c(self) -> float:
        """Standard deviation of a single frost night's difference about ``offset_c`` [°C]."""
        return math.hypot(self.sure_c, self.night_sd_c)


class Assumed(NamedTuple):
    """A number that is assumed, not measured."""

    value: float
    sd: float  # of what it may be instead
    words: str  # what it stands for
    source: str  # where both come from


# °C per km of height. In inversions the garden above the station is the warmer one, so the spread reaches 0.
LAPSE = Assumed(
    value=-3.0,
    sd=3.0,
    words="minima fall by about 3 °C per km of height, not by 6.5 °C, and rise with height in inversions",
    source="Minder, Mote & Lundquist 2010, J. Geophys. Res.: late-summer minima 2.5 to 3.5, annual mean 3.9 "
    "to 5.2 °C/km; the spread: common practice, no source",
)
# °C, garden less an open station at the same height, on clear calm nights.
EXPOSURES: dict[ExposureName, Assumed] = {
    "open": Assumed(value=0.0, sd=1.5, words="open, as the station", source=NO_SOURCE),
    "wall": Assumed(value=1.0, sd=1.5, words="sheltered by a wall, so warmer", source=NO_SOURCE),
    "low": Assumed(
        value=-6.0 / 1.8,
        sd=8.0 / 1.8 / (2 * 1.645),  # the range taken for the middle 90 %
        words="low-lying, where cold air gathers, so colder",
        source="2 to 10 °F colder: from memory",
    ),
}


def default_offset(
    elevation_difference_m: float | None = None, exposure: ExposureName | None = None
) -> GardenOffset:
    """Return the difference to take where no minima were measured in the garden."""
    site = _any_exposure() if exposure is None else EXPOSURES[exposure]
    rise_m = elevation_difference_m
    if rise_m is not None and not abs(rise_m) <= HIGHEST_DIFFERENCE_M:
        raise InputError(
            "a garden and its station do not differ that much in height",
            value=f"{rise_m:g} m",
            remedy="Check both elevations and their units, or take a nearer station.",
        )
    if rise_m is None:
        height = "difference in elevation not known, so none is applied and the spread is wider"
    elif abs(rise_m) < 0.5:
        height = "garden as high as the station"
    else:
        height = f"garden {abs(rise_m):.0f} m {'above' if rise_m > 0 else 'below'} the station"
    rise_km, unknown_km = (0.0, UNKNOWN_ELEVATION_SD_M / 1000.0) if rise_m is None else (rise_m / 1000.0, 0.0)
    lapse_var = (LAPSE.sd * rise_km) ** 2 + (LAPSE.value**2 + LAPSE.sd**2) * unknown_km**2
    return GardenOffset(
        offset_c=LAPSE.value * rise_km + site.value,
        sure_c=math.sqrt(lapse_var + site.sd**2),
        night_sd_c=NIGHT_SCATTER_C,
        basis=f"{height}; exposure {site.words}",
        sources=(
            f"lapse rate of minima: {LAPSE.source}",
            f"exposure: {site.source}",
            f"scatter of single nights: {NO_SOURCE}",
        ),
    )


def _any_exposure() -> Assumed:
    """Return what an exposure that is not stated makes of the minima: an even mixture of all."""
    kinds = tuple(EXPOSURES.values())
    mean = sum(kind.value for kind in kinds) / len(kinds)
    square = sum(kind.sd**2 + kind.value**2 for kind in kinds) / len(kinds)
    return Assumed(
        value=mean,
        sd=math.sqrt(square - mean**2),
        words="not stated: open, sheltered and low-lying taken as equally likely, hence a wider spread",
        source=f"{NO_SOURCE}; of the low-lying one from memory",
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pairs:
    """Minima of one morning each, in the garden and at the station, none missing."""

    dates: Dates  # mornings, strictly rising, shape (n,)
    garden_c: Floats  # [°C], shape (n,)
    station_c: Floats
    clear: Mask | None = None  # whether the night was clear and calm; None where nights are not marked

    def __post_init__(self) -> None:
        freeze(self, dates="M8[D]", garden_c=float, station_c=float, clear=bool)

    @property
    def differences_c(self) -> Floats:
        """Garden less station [°C], shape (n,)."""
        return self.garden_c - self.station_c

    def where(self, keep: Mask) -> Pairs:
        """Return some of the pairs, without the marks of their nights."""
        return Pairs(dates=self.dates[keep], garden_c=self.garden_c[keep], station_c=self.station_c[keep])


def pair_up(garden: DailyMinima, station: DailyMinima, clear: Mask | None = None) -> Pairs:
    """Take the mornings on which both minima are known; there may be none."""
    in_garden, at_station = np.isfinite(garden.tmin_c), np.isfinite(station.tmin_c)
    dates, mine, theirs = np.intersect1d(
        garden.dates[in_garden], station.dates[at_station], assume_unique=True, return_indices=True
    )
    return Pairs(
        dates=dates,
        garden_c=garden.tmin_c[in_garden][mine],
        station_c=station.tmin_c[at_station][theirs],
        clear=None if clear is None else clear[in_garden][mine],
    )


def find_shift(garden: DailyMinima, station: DailyMinima) -> int:
    """Find by how many days the garden's dates fit the station's better than as they stand: -1, 0 or 1.

    A minimum belongs to the morning on which the night ends; some thermometers, and some stations read in the
    afternoon, are dated a day earlier or later. A shift is named only where the differences then scatter
    clearly less (median absolute deviation below 0.7 of that as they stand; common practice, no source).
    """
    spreads = {}
    for days in (0, -1, 1):
        moved = DailyMinima(station=garden.station, dates=garden.dates + days, tmin_c=garden.tmin_c)
        differences_c = pair_up(moved, station).differences_c
        spreads[days] = math.inf
        if differences_c.size >= FEWEST_FOR_SHIFT:
            spreads[days] = float(np.median(np.abs(differences_c - np.median(differences_c))))
    best = min(spreads, key=lambda days: spreads[days])
    return best if spreads[best] < CLEARLY_CLOSER * spreads[0] else 0


def learn_offset(pairs: Pairs, default: GardenOffset, *, damage_temp_c: float = 0.0) -> GardenOffset:
    """Learn the garden's difference from its station from paired minima; without any the default holds.

    It is read where station plus difference reaches the damage temperature.
    """
    if pairs.dates.size == 0:
        return default
    lines = _fit_lines(pairs, default.night_sd_c)
    offset_c, sure_c = lines[0].level_c, math.inf
    for _ in range(MOST_ROUNDS_LEARNING):
        before_c = offset_c
        offset_c, sure_c = _join([line.at(damage_temp_c - offset_c) for line in lines], default)
        if abs(offset_c - before_c) < 1e-9:
            break
    left_out = np.sort(np.concatenate([line.left_out for line in lines]))
    kept = ~np.isin(pairs.dates, left_out)
    clear_pairs = None if pairs.clear is None else int((pairs.clear & kept).sum())
    clear = "" if clear_pairs is None else f", {clear_pairs} of them clear and calm"
    mornings = "1 paired morning" if kept.sum() == 1 else f"{kept.sum()} paired mornings"
    return GardenOffset(
        offset_c=offset_c,
        sure_c=math.hypot(sure_c, THERMOMETER_SD_C),
        night_sd_c=lines[0].night_sd_c,
        pairs=int(kept.sum()),
        clear_pairs=clear_pairs,
        left_out=tuple(left_out.tolist()),
        default_share=(sure_c / default.sure_c) ** 2,
        basis=f"{mornings}, {pairs.dates[0]} to {pairs.dates[-1]}{clear}",
        sources=METHODS,
        notes=tuple(_say_doubts(pairs, kept, offset_c, damage_temp_c)),
    )


def _fit_lines(pairs: Pairs, usual_scatter_c: float) -> list[RobustLine]:
    """Fit a line to all nights; or the level of clear calm ones, and of the others by the usual contrast."""
    if pairs.clear is None:
        return [fit_robust_line(pairs, slope_sd=SLOPE_SD, usual_scatter_c=usual_scatter_c)]
    lines = []
    moves = ((pairs.clear, 0.0, 0.0, 0.0), (~pairs.clear, CONTRAST_C, CONTRAST_SD_C, usual_scatter_c))
    for mask, contrast_c, contrast_sd_c, least_sd_c in moves:
        if mask.any():
            line = fit_robust_line(pairs.where(mask), slope_sd=0.0, usual_scatter_c=usual_scatter_c)
            level_c, level_sd_c = line.level_c + contrast_c, math.hypot(line.level_sd_c, contrast_sd_c)
            night_sd_c = max(line.night_sd_c, least_sd_c)
            lines.append(line._replace(level_c=level_c, level_sd_c=level_sd_c, night_sd_c=night_sd_c))
    return lines


def _say_doubts(pairs: Pairs, kept: Mask, offset_c: float, damage_temp_c: float) -> Iterator[str]:
    """Tell what the grower should know of what was learned, above all where frost nights may be missing."""
    if pairs.clear is None:
        yield "Clear calm nights are not marked: mark them, and the difference is theirs alone."
        beyond_c = float(pairs.station_c[kept].min()) - (damage_temp_c - offset_c)
        if beyond_c > FAR_FROM_PAIRS_C:
            yield (
                f"The coldest pair lies {beyond_c:.1f} °C above the station's minimum that matters: read "
                "beyond the pairs, so with a wider spread."
            )
    elif not pairs.clear.any():
        yield "No pair is of a clear calm night: taken from the others by the usual contrast."
    colder, gone = int((pairs.differences_c[~kept] < offset_c).sum()), int((~kept).sum())
    if colder > gone / 2 and gone > MANY_LEFT_OUT * kept.size:
        yield (
            f"{colder} of {gone} mornings left out were colder in the garden than the rest: if they were "
            "read rightly, they are frost nights, and the garden is colder than stated. Mark clear calm "
            "nights."
        )


def _join(estimates: Sequence[Estimate], default: GardenOffset) -> Estimate:
    """Weigh independent estimates of one value, and the default, by their precisions."""
    values, errors = np.array([*estimates, (default.offset_c, default.sure_c)]).T
    return float(np.average(values, weights=errors**-2)), float((errors**-2).sum() ** -0.5)


class RobustLine(NamedTuple):
    """Differences of garden and station as a line of the station's minima."""

    middle_c: float  # where the line is best known [°C]
    level_c: float  # its value there [°C]
    slope: float  # [°C per °C]
    level_sd_c: float  # standard errors of both, independent of each other
    slope_sd: float
    night_sd_c: float  # of single pairs about the line [°C]
    left_out: Dates  # mornings of gross errors

    def at(self, station_c: float) -> tuple[float, float]:
        """Read the line at a station's minimum: the difference and its standard error [°C]."""
        away_c = station_c - self.middle_c
        return self.level_c + self.slope * away_c, math.hypot(self.level_sd_c, self.slope_sd * away_c)


def fit_robust_line(pairs: Pairs, *, slope_sd: float, usual_scatter_c: float) -> RobustLine:
    """Fit a line through the differences of pairs, or a level without slope, leaving gross errors out."""
    differences_c, kept = pairs.differences_c, np.ones(pairs.dates.size, dtype=np.bool_)
    residual_c = differences_c - np.median(differences_c)
    for _ in range(MOST_ROUNDS):
        before_c = residual_c
        own_c, count = TO_SD * float(np.median(np.abs(residual_c[kept]))), int(kept.sum())
        scale_c = math.sqrt(_pool(count * own_c**2, count, usual_scatter_c))
        kept = np.abs(residual_c) <= FAR * scale_c
        weights = np.minimum(1.0, HUBER * scale_c / np.maximum(np.abs(residual_c), 1e-9)) * kept
        freedom = max(int(kept.sum()) - (1 if slope_sd == 0.0 else 2), 0)
        variance = _pool(float((residual_c[kept] ** 2).sum()), freedom, usual_scatter_c)
        alike = autocorrelation(pairs.dates[kept], residual_c[kept])
        worth = (1.0 - alike) / (1.0 + alike) / variance  # of one pair
        middle_c, level_c = (
            float(np.average(values, weights=weights)) for values in (pairs.station_c, differences_c)
        )
        away_c = pairs.station_c - middle_c
        slope_var = 0.0 if slope_sd == 0.0 else 1.0 / (worth * float(weights @ away_c**2) + slope_sd**-2)
        slope = slope_var * worth * float(weights @ (away_c * (differences_c - level_c)))
        slope = min(max(slope, -STEEPEST), STEEPEST)
        residual_c = differences_c - level_c - slope * away_c
        if np.abs(residual_c - before_c).max() < 1e-6:
            break
    return RobustLine(
        middle_c=middle_c,
        level_c=level_c,
        slope=slope,
        level_sd_c=(float(weights.sum()) * worth) ** -0.5,
        slope_sd=slope_var**0.5,
        night_sd_c=variance**0.5,
        left_out=pairs.dates[~kept],
    )


def autocorrelation(dates: Dates, residual_c: Floats) -> float:
    """Correlate residuals of consecutive mornings: at least 0, and near the usual one where they are few."""
    follows = np.diff(dates).astype(np.int64) == 1
    count = int(follows.sum())
    square = float((residual_c**2).mean())
    if count == 0 or square == 0.0:
        return 0.0
    own = float((residual_c[:-1] * residual_c[1:])[follows].mean()) / square
    return min(max((count * own + ALIKE_WORTH * ALIKE) / (count + ALIKE_WORTH), 0.0), 0.9)


def _pool(squares: float, count: float, usual_scatter_c: float) -> float:
    """Return the variance of some pairs, held to the usual one where they are few [°C^2]."""
    return (SCATTER_WORTH * usual_scatter_c**2 + squares) / (SCATTER_WORTH + count)


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
    import pandas as pd  # slow to load, and most gardens have one station

    common = pair_up(best, other)
    size = common.dates.size
    if size < FEWEST_COMMON:
        return filled, Filled(station=other.station, difference_c=np.nan, common=size, filled=0)
    moved_c = other.tmin_c + _by_month(common)[_month(other.dates)]
    if best.step_c == WHOLE_F_STEP_C:  # as the best station would have written it
        moved_c = celsius(np.round(fahrenheit(moved_c)))
    own_c = filled.to_series()
    whole_c = own_c.combine_first(pd.Series(moved_c, index=pd.DatetimeIndex(other.dates)))
    gave = Filled(
        station=other.station,
        difference_c=float(np.median(common.differences_c)),
        common=size,
        filled=int(whole_c.count() - own_c.count()),
    )
    return replace(filled, dates=whole_c.index.to_numpy(), tmin_c=np.asarray(whole_c, np.float64)), gave


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
