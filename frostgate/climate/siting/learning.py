"""The garden's difference from its station, learned from mornings on which both were read.

The difference is that of a frost night, not the mean of all nights: gardens are colder than their station
above all on clear calm nights.

* Where nights are marked clear and calm, their level is taken. The level of the other nights helps only as
  far as it must: moved by the usual contrast between the two, with that contrast's wide spread, it weighs no
  more than one clear night.
* Where nights are not marked, the difference may depend on how cold the station's night was: a slope, held
  to 0 where the pairs do not show one, and read where the garden reaches the damage temperature. Far from
  the pairs the slope's spread widens the error.

What the pairs say and the default (`default_offset`) are then joined by their precisions, as in Bayesian
shrinkage (a Gaussian prior): one pair moves the default, ten nearly replace it, and no number of pairs is a
threshold. The error of the thermometer itself, which no number of pairs lessens, is added last.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from frostgate.climate.siting.defaults import NIGHT_SCATTER_C, NO_SOURCE
from frostgate.climate.siting.offsets import GardenOffset
from frostgate.climate.siting.pairs import Mask, Pairs
from frostgate.climate.siting.robust import RobustLine, fit_robust_line
from frostgate.errors import InputError
from frostgate.terms import Dates

SLOPE_SD = 0.1  # °C per °C; common practice, no source
CONTRAST_C, CONTRAST_SD_C = -1.5, 1.5  # clear calm nights less others; common practice, no source
THERMOMETER_SD_C = 0.5  # a household thermometer is good to about 1 °C: common practice, no source
MANY_LEFT_OUT = 0.05  # of the pairs
FAR_FROM_PAIRS_C = 3.0

MOST_ROUNDS = 100

Estimate = tuple[float, float]  # a value and its standard error

METHODS = (
    "outliers: Iglewicz & Hoaglin 1993 (modified z-score above 3.5)",
    "level and slope: Huber 1964 (M-estimate, constant 1.345)",
    "neighbouring mornings counted as n (1 - r) / (1 + r), r their correlation: common practice",
    f"spread of the slope, contrast of clear calm nights, thermometer's error: {NO_SOURCE}",
)


def learn_offset(
    pairs: Pairs,
    *,
    default: GardenOffset | None = None,
    damage_temp_c: float = 0.0,
    thermometer_sd_c: float = THERMOMETER_SD_C,
) -> GardenOffset:
    """Learn the garden's difference from its station from paired minima.

    Parameters
    ----------
    pairs
        Mornings on which both were read.
    default
        What to take without pairs; None lets the pairs stand alone.
    damage_temp_c
        The garden's minimum at which the difference is wanted [°C]; it matters where nights are not marked.
    thermometer_sd_c
        Spread of the garden thermometer's own constant error [°C]; 0 where it was checked in ice water.

    Raises
    ------
    InputError
        Where there is neither a pair nor a default, or the pairs give a difference that no garden has.

    Examples
    --------
    >>> days = np.arange("2026-03-01", "2026-05-01", dtype="datetime64[D]")
    >>> rng = np.random.default_rng(3)
    >>> station_c = rng.normal(4, 4, days.size)
    >>> garden_c = station_c - 2 + rng.normal(0, 1, days.size)
    >>> offset = learn_offset(Pairs(dates=days, garden_c=garden_c, station_c=station_c))
    >>> round(offset.offset_c), offset.pairs
    (-2, 61)
    """
    if pairs.dates.size == 0:
        if default is None:
            raise InputError("not one pair to learn from", remedy="Take the default of the garden's place.")
        return default
    if pairs.clear is None:
        return _learn_by_cold(pairs, default, damage_temp_c, thermometer_sd_c)
    return _learn_by_clearness(pairs, pairs.clear, default, thermometer_sd_c)


def _learn_by_cold(
    pairs: Pairs, default: GardenOffset | None, damage_temp_c: float, thermometer_sd_c: float
) -> GardenOffset:
    """Read the line where station plus difference reaches the damage temperature."""
    line = _fit(pairs, SLOPE_SD, default)
    offset_c = line.level_c
    for _ in range(MOST_ROUNDS):
        before_c = offset_c
        learned = line.at(damage_temp_c - offset_c)
        offset_c, sure_c = _join([learned], default)
        if abs(offset_c - before_c) < 1e-9:
            break
    beyond_c = float(pairs.station_c[line.kept].min()) - (damage_temp_c - offset_c)
    unmarked = "Clear calm nights are not marked: mark them, and the difference is theirs alone."
    far = (
        f"The coldest pair lies {beyond_c:.1f} °C above the station's minimum that matters: read beyond the "
        "pairs, so with a wider spread."
    )
    return _describe(
        pairs,
        [(line, pairs.dates)],
        (offset_c, math.hypot(sure_c, thermometer_sd_c)),
        line.scatter_c,
        _default_share(sure_c, default),
        notes=(unmarked, *((far,) if beyond_c > FAR_FROM_PAIRS_C else ())),
    )


def _learn_by_clearness(
    pairs: Pairs, clear: Mask, default: GardenOffset | None, thermometer_sd_c: float
) -> GardenOffset:
    """Take the level of the clear calm nights, and that of the others moved by the usual contrast."""
    lines, estimates = [], []
    for mask, contrast_c, contrast_sd_c in ((clear, 0.0, 0.0), (~clear, CONTRAST_C, CONTRAST_SD_C)):
        if mask.any():
            group = pairs.where(mask)
            line = _fit(group, 0.0, default)
            lines.append((line, group.dates))
            estimates.append((line.level_c + contrast_c, math.hypot(line.level_sd_c, contrast_sd_c)))
    offset_c, sure_c = _join(estimates, default)
    first, some = lines[0][0], bool(clear.any())
    none = "No pair is of a clear calm night: taken from the others by the usual contrast."
    return _describe(
        pairs,
        lines,
        (offset_c, math.hypot(sure_c, thermometer_sd_c)),
        first.scatter_c if some else max(first.scatter_c, _usual_scatter(default)),
        _default_share(sure_c, default),
        clear_pairs=int(first.kept.sum()) if some else 0,
        notes=() if some else (none,),
    )


def _fit(pairs: Pairs, slope_sd: float, default: GardenOffset | None) -> RobustLine:
    return fit_robust_line(pairs, slope_sd=slope_sd, usual_scatter_c=_usual_scatter(default))


def _usual_scatter(default: GardenOffset | None) -> float:
    return NIGHT_SCATTER_C if default is None else default.scatter_c


def _join(estimates: Sequence[Estimate], default: GardenOffset | None) -> Estimate:
    """Weigh independent estimates of one value by their precisions."""
    every = [*estimates] if default is None else [*estimates, (default.offset_c, default.sure_c)]
    weights = [error_c**-2 for _, error_c in every]
    value_c = sum(weight * value for weight, (value, _) in zip(weights, every, strict=True)) / sum(weights)
    return value_c, sum(weights) ** -0.5


def _default_share(sure_c: float, default: GardenOffset | None) -> float:
    return 0.0 if default is None else (sure_c / default.sure_c) ** 2


def _describe(
    pairs: Pairs,
    lines: Sequence[tuple[RobustLine, Dates]],
    estimate: Estimate,
    scatter_c: float,
    default_share: float,
    *,
    clear_pairs: int | None = None,
    notes: tuple[str, ...] = (),
) -> GardenOffset:
    left_out = np.sort(np.concatenate([dates[~line.kept] for line, dates in lines]))
    used = pairs.dates.size - left_out.size
    clear = "" if clear_pairs is None else f", {clear_pairs} of them clear and calm"
    mornings = "1 paired morning" if used == 1 else f"{used} paired mornings"
    return GardenOffset(
        offset_c=estimate[0],
        sure_c=estimate[1],
        scatter_c=scatter_c,
        pairs=used,
        clear_pairs=clear_pairs,
        left_out=tuple(left_out.tolist()),
        default_share=default_share,
        basis=f"{mornings}, {pairs.dates[0]} to {pairs.dates[-1]}{clear}",
        sources=METHODS,
        notes=(*notes, *_say_left_out(pairs, left_out, estimate[0])),
    )


def _say_left_out(pairs: Pairs, left_out: Dates, offset_c: float) -> Iterator[str]:
    """Warn where what was left out may be the very nights that matter."""
    colder = int((pairs.differences_c[np.isin(pairs.dates, left_out)] < offset_c).sum())
    if colder > left_out.size / 2 and left_out.size > MANY_LEFT_OUT * pairs.dates.size:
        yield (
            f"{colder} of {left_out.size} mornings left out were colder in the garden than the rest: if they "
            "were read rightly, they are frost nights, and the garden is colder than stated. Mark clear calm "
            "nights."
        )
