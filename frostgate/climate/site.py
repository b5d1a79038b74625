"""All that a morning needs of a station's past, made once and kept."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from frostgate.climate.curves import BEST, FEW_SEASONS, fit_curve, nest, put_bounds
from frostgate.climate.frosts import last_frosts
from frostgate.climate.suspects import find_suspects
from frostgate.seasons import SeasonStart
from frostgate.terms import Completeness, DailyMinima, SiteClimate
from frostgate.units import WHOLE_F_STEP_C

RUNGS = 4  # colder thresholds that hold the curve up
RUNG_C = 0.5  # between them, where minima are observed in tenths of a °C


def know_site(
    minima: DailyMinima,
    threshold_c: float,
    start: SeasonStart,
    *,
    kind: str = BEST,
    completeness: Completeness = "chance",
    keep_suspects: bool = False,
) -> SiteClimate:
    """Fit the curve of last spring frosts at one threshold, from a record as it was read.

    Plain errors are left out first. The curve is never below those of the colder thresholds, down to 4 whole
    °F (or half °C) under its own, so that a warmer garden never waits longer.

    Parameters
    ----------
    minima
        A station's record.
    threshold_c
        The station's minimum at which the garden is damaged [°C].
    start
        Where a season begins.
    kind
        A name in `FITS`, or ``best``.
    completeness
        As in `last_frosts`.
    keep_suspects
        Use the minima that look like plain errors.

    Raises
    ------
    TooFewSeasonsError
        With fewer than 10 known seasons.

    Examples
    --------
    >>> from frostgate.seasons import NORTH
    >>> from frostgate.terms import Station
    >>> days = np.arange("1990-08-01", "2020-08-01", dtype="datetime64[D]")
    >>> yearly = np.cos((days - days[0]).astype(int) / 365.25 * 2 * np.pi)
    >>> tmin_c = 6 + 9 * yearly + np.random.default_rng(4).normal(0, 3, days.size)
    >>> site = know_site(DailyMinima(station=Station(id="X"), dates=days, tmin_c=tmin_c), 0.0, NORTH)
    >>> site.curve.seasons_used, site.notes
    (30, ())
    """
    suspects = find_suspects(minima)
    record = minima if keep_suspects else minima.leave_out(suspects.dates)
    frosts = last_frosts(record, threshold_c, start, completeness=completeness)
    curve = put_bounds(fit_curve(frosts, kind), frosts)
    colder = [
        fit_curve(last_frosts(record, rung_c, start, completeness=completeness), kind)
        for rung_c in _rungs(record, threshold_c)
    ]
    held = nest([*colder, curve])[-1]
    return SiteClimate(
        station=minima.station,
        curve=replace(held, high=None if held.high is None else np.maximum(held.high, held.risk)),
        suspects=suspects.dates.size,
        suspects_kept=keep_suspects,
        flagged=minima.flagged.size,
        last_day=minima.dates[-1].astype(object),
        notes=(*minima.notes, *_warnings(held.seasons_used)),
    )


def _rungs(minima: DailyMinima, threshold_c: float) -> Iterator[float]:
    """Give the colder thresholds: whole steps from 0 °C, so that any two curves share them."""
    rung_c = WHOLE_F_STEP_C if minima.step_c == WHOLE_F_STEP_C else RUNG_C
    below = int(np.ceil(threshold_c / rung_c - 1e-6)) - 1
    return (step * rung_c for step in range(below, below - RUNGS, -1))


def _warnings(seasons: int) -> Iterator[str]:
    if seasons < FEW_SEASONS:
        yield f"Only {seasons} seasons are known: the curve is rough. Look for a longer record nearby."
