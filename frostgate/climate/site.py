"""All that a morning needs of a station's past: cleaned, years chosen, a curve fitted, its weather."""

from __future__ import annotations

import contextlib
import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from frostgate.climate.fits import FEW_SEASONS, POOLED, fit_curve, fit_tables, put_bounds
from frostgate.climate.frosts import find_frosts, first_frosts, last_frosts, sum_nearby
from frostgate.climate.quality import find_record_doubts, find_suspects
from frostgate.climate.years import CHOSEN_AT_C, choose_years, frosts_on
from frostgate.errors import TooFewSeasonsError
from frostgate.model.curves import RECENT_DAYS, Basis, BasisOption, FrostCurve, SiteClimate, Weather
from frostgate.model.records import Completeness, DailyMinima, FrostDates
from frostgate.seasons import SLOTS, Floats, SeasonStart, date_of, season_grid
from frostgate.units import WHOLE_F_STEP_C

LOWEST_RUNG_C = -20.0 / 3.0  # 20 °F; the curves of the thresholds from here up hold each other up
RUNG_C = 0.5  # between them, where minima are observed in tenths of a °C
NODES = 5  # of the Gauss-Hermite rule: exact for a curve that is a polynomial of degree 9 in the threshold
SMALLEST_SPREAD_C = 0.5
FIRST, LAST, STEP = 180, 300, 5  # season days on which one looks back and ahead: late January to late May
AHEAD = (20, 60)  # the days ahead that are compared, beyond what one spell of weather reaches
USUAL_PERSISTENCE = 0.37  # the mean of 19 records, see tests/reference/learn_gate_defaults.py
MOST_EXPLAINED = 0.5
SEASONS_WORTH = 10.0  # how many seasons of a station's own that is worth


def know_site(
    minima: DailyMinima,
    threshold_c: float,
    start: SeasonStart,
    *,
    threshold_sd_c: float = 0.0,
    kind: str = POOLED,
    completeness: Completeness = "chance",
    keep_suspects: bool = False,
    years: BasisOption = "best",
    bounds: bool = True,
    autumn: bool = False,
) -> SiteClimate:
    """Fit the curve of last spring frosts at one threshold, and on request that of first autumn frosts.

    Plain errors are left out first. The risk is read between the curves of the nearest whole °F (or half °C),
    and each of these is never below those of the colder ones down to 20 °F: a warmer garden never waits
    longer. For the same reason the frosts of 0 °C choose the years for the whole record. Where the threshold
    is uncertain the curve is averaged over what it may be.
    """
    suspects = find_suspects(minima)
    record = minima if keep_suspects else minima.leave_out(suspects.dates)
    freezes = last_frosts(record, CHOSEN_AT_C, start, completeness=completeness)
    choice = choose_years(freezes, kind, years)

    def curve_of(record: DailyMinima, *, bounds: bool) -> FrostCurve:
        def fit(threshold_c: float) -> FrostCurve:
            return fit_held_curve(
                record, threshold_c, start, choice.basis, kind=kind, completeness=completeness, bounds=bounds
            )

        return blur_curve(fit, threshold_c, threshold_sd_c)

    curve, with_suspects = curve_of(record, bounds=bounds), None
    cold_c = suspects.tmin_c[suspects.tmin_c < suspects.climatology_c]
    if not keep_suspects and bool(np.any(cold_c <= _warmest_fitted(threshold_c, threshold_sd_c))):
        with_suspects = curve_of(minima, bounds=False)
    weather, climate_sd_c = know_weather(_of_its_years(record, freezes, choice.basis), start)
    autumn_basis, autumn_curve = None, None
    if autumn:  # which the end of feeding wants, and which may be unknown; its own frosts of 0 °C choose
        first, freezing = (
            first_frosts(record, degrees, start, completeness=completeness)
            for degrees in (threshold_c, CHOSEN_AT_C)
        )
        autumn_basis = choose_years(freezing, kind, years).basis
        with contextlib.suppress(TooFewSeasonsError):
            autumn_curve = fit_curve(frosts_on(first, autumn_basis), kind)
    few = f"Only {curve.seasons_used} seasons are known: the curve is rough. Look for a longer record nearby."
    return SiteClimate(
        station=minima.station,
        curve=replace(curve, spread_c=climate_sd_c),
        suspects=suspects.dates.size,
        suspects_kept=keep_suspects,
        flagged=minima.flagged.size,
        last_day=minima.dates[-1].astype(object),
        notes=(*minima.notes, few) if curve.seasons_used < FEW_SEASONS else minima.notes,
        years=choice,
        weather=weather,
        autumn=autumn_curve,
        autumn_basis=autumn_basis,
        doubts=tuple(find_record_doubts(record)),
        with_suspects=None if with_suspects is None else replace(with_suspects, spread_c=climate_sd_c),
    )


def fit_held_curve(
    record: DailyMinima,
    threshold_c: float,
    start: SeasonStart,
    basis: Basis,
    *,
    kind: str = POOLED,
    completeness: Completeness = "chance",
    bounds: bool = True,
) -> FrostCurve:
    """Fit last frosts at a threshold, never below the curves of the colder whole steps."""
    threshold_c, below_c, above_c, rungs_c = _rungs(record, threshold_c)
    own_frosts, *colder = (
        frosts_on(frosts, basis)
        for frosts in find_frosts(record, "spring", [threshold_c, *rungs_c], start, completeness=completeness)
    )
    curve = fit_curve(own_frosts, kind)
    by_rung = fit_tables(colder, kind) | ({below_c: curve.risk} if below_c == above_c else {})
    known_c = sorted(by_rung)
    held = dict(zip(known_c, np.maximum.accumulate([by_rung[rung_c] for rung_c in known_c]), strict=True))
    risk = curve.risk
    if below_c in held and above_c in held:
        share = 0.0 if above_c == below_c else (threshold_c - below_c) / (above_c - below_c)
        risk = (1 - share) * held[below_c] + share * held[above_c]
    if not bounds:
        return replace(curve, risk=risk)
    bounded = put_bounds(curve, own_frosts)
    low, high = (bounded.risk if bound is None else bound for bound in (bounded.low, bounded.high))
    return replace(bounded, risk=risk, low=np.minimum(low, risk), high=np.maximum(high, risk))


def _rungs(minima: DailyMinima, threshold_c: float) -> tuple[float, float, float, list[float]]:
    """Return the threshold to fit at, the rungs below and above it, and all that hold it up, from 20 °F [°C].

    Where whole °F were observed, a threshold between two of them is the lower one.
    """
    in_f = minima.step_c == WHOLE_F_STEP_C
    scale_c = WHOLE_F_STEP_C if in_f else RUNG_C
    below = math.floor(threshold_c / scale_c + 1e-6)
    above = below if in_f else math.ceil(threshold_c / scale_c - 1e-6)
    lowest = min(math.ceil(LOWEST_RUNG_C / scale_c - 1e-6), above - 1)
    fitted_c = below * scale_c if below == above else threshold_c
    rungs_c = [step * scale_c for step in range(lowest, above + 1) if step * scale_c != fitted_c]
    return fitted_c, below * scale_c, above * scale_c, rungs_c


def _of_its_years(minima: DailyMinima, freezes: FrostDates, basis: Basis) -> DailyMinima:
    """Return the minima that tell what is usual: those of the last 30 known seasons where the climate moves.

    A mild spring is then mild beside recent ones, and a warmer climate is not counted twice, in the curve and
    in the weather of late.
    """
    if basis == "all":
        return minima
    first_year = int(frosts_on(freezes, "recent").years[0])
    begins = np.datetime64(date_of(first_year - freezes.start.spring_lag, 0, freezes.start), "D")
    return minima.leave_out(minima.dates[minima.dates < begins])


def _warmest_fitted(threshold_c: float, sd_c: float) -> float:
    """Return a minimum that is a frost at no threshold which `blur_curve` and `_rungs` fit [°C]."""
    points, _ = np.polynomial.hermite_e.hermegauss(NODES)
    return threshold_c + sd_c * float(points.max()) + max(WHOLE_F_STEP_C, RUNG_C)


def blur_curve(fit: Callable[[float], FrostCurve], threshold_c: float, sd_c: float) -> FrostCurve:
    """Average a station's curve over the thresholds that may be the garden's.

    Where the offset is uncertain by ``sd_c``, so is the station's minimum that damages the garden, and the
    risk is the mean of the risks at those thresholds.
    """
    curve = fit(threshold_c)
    if sd_c <= 0.0:
        return curve
    points, weights = np.polynomial.hermite_e.hermegauss(NODES)
    curves = [fit(threshold_c + sd_c * float(point)) if point else curve for point in points]
    tables: dict[str, Any] = {
        name: np.average([getattr(one, name) for one in curves], axis=0, weights=weights)
        for name in ("risk", "low", "high")
        if getattr(curve, name) is not None
    }
    tables["risk"] = np.minimum.accumulate(np.clip(tables["risk"], 0.0, 1.0))
    return replace(curve, **tables)


def know_weather(minima: DailyMinima, start: SeasonStart) -> tuple[Weather, Floats]:
    """Return what a station's minima tell beside their last frosts, and their spread by season day [°C]."""
    _, grid = season_grid(minima.dates, minima.tmin_c, start)
    climatology_c, climate_sd_c, kept, explained = usual_weather(grid)
    last = minima.dates[-1]
    recent_c = np.full(RECENT_DAYS, np.nan)
    near = minima.dates > last - RECENT_DAYS
    recent_c[(minima.dates[near] - last).astype(np.int64) - 1] = minima.tmin_c[near]
    weather = Weather(
        climatology_c=climatology_c[:, 0],
        persistence=float(kept),
        explained=float(explained),
        recent_c=recent_c,
        last_day=last.astype(object),
    )
    return weather, climate_sd_c[:, 0]


def usual_weather(grid: Floats, *, each_left_out: bool = False) -> tuple[Floats, Floats, Floats, Floats]:
    """Return the minima's mean and spread by season day [°C], and their `persistence`.

    All seasons tell of it together, shape (366, 1), or of each season all the others, shape (366, seasons).
    Without minima near a day its spread is the widest there is.
    """
    known = np.isfinite(grid)
    values = np.where(known, grid, 0.0)
    sums = [sum_nearby(part) for part in (known, values, values**2)]
    count, total, square = (one.sum(axis=-1, keepdims=True) - each_left_out * one for one in sums)
    mean = total / np.maximum(count, 1)
    spread = np.sqrt(np.maximum(square / np.maximum(count, 1) - mean**2, SMALLEST_SPREAD_C**2))
    spread = np.where(count > 0, spread, spread.max(axis=0))
    anomaly = np.where(known, (values - mean) / spread, 0.0)
    return mean, spread, *persistence(anomaly.T, each_left_out=each_left_out)


def persistence(anomaly: Floats, *, each_left_out: bool = False) -> tuple[Floats, Floats]:
    """Return how much of the mean anomaly of the past 60 days is kept over days 20 to 60 ahead.

    The slope of a line through the origin, over all seasons and every fifth day from late winter to late
    spring, drawn towards what is usual among stations. A station that warms, or was moved, keeps more.
    """
    total = np.concatenate([np.zeros((len(anomaly), 1)), np.cumsum(anomaly, axis=1)], axis=1)
    days = np.arange(FIRST, LAST, STEP)
    first, last = days + AHEAD[0], np.minimum(days + AHEAD[1], SLOTS - 1)
    past = (total[:, days + 1] - total[:, days + 1 - RECENT_DAYS]) / RECENT_DAYS
    ahead = (total[:, last] - total[:, first]) / (last - first)
    joint, own = (past * ahead).mean(axis=1), (past**2).mean(axis=1)
    joint_sum, own_sum = joint.sum(), own.sum()
    if each_left_out:
        joint_sum, own_sum = joint_sum - joint, own_sum - own
    worth = SEASONS_WORTH * max(float(own.mean()), np.finfo(float).tiny)
    kept: Floats = np.clip((joint_sum + USUAL_PERSISTENCE * worth) / (own_sum + worth), 0.0, 1.0)
    seasons = len(anomaly) - each_left_out
    return kept, np.minimum(kept**2 * own_sum / max(seasons, 1), MOST_EXPLAINED)
