"""Frost dates into a curve: choose a fit, put bounds on it, keep several thresholds from crossing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from frostgate.climate.fits import FEWEST_FROSTS, FITS, POOLED, SEASON_DAYS, frost_share
from frostgate.errors import InputError, TooFewSeasonsError
from frostgate.model.records import FrostCurve, FrostDates, Side
from frostgate.seasons import SLOTS, Floats

FEWEST_SEASONS = 10
FEW_SEASONS = 20  # below this a curve comes with a warning
BEST = "best"
RESAMPLES = 500
SEED = 20_260_401


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """What one kind of fit scored on seasons it had not seen.

    Parameters
    ----------
    kind
        The fit.
    crps_days
        Mean leave-one-season-out CRPS [d], smaller is better.
    """

    kind: str
    crps_days: float


def fit_curve(frosts: FrostDates, kind: str = POOLED) -> FrostCurve:
    """Fit the frost dates of a site.

    Parameters
    ----------
    frosts
        Last spring or first autumn frosts.
    kind
        A name in `FITS`, or ``best`` for the fit with the least leave-one-season-out CRPS. Where fewer than
        five seasons had a frost there is no shape to fit, and the curve is empirical.

    Raises
    ------
    TooFewSeasonsError
        With fewer than 10 known seasons.
    InputError
        Where there is no such fit.

    Examples
    --------
    >>> from frostgate.seasons import NORTH
    >>> rng = np.random.default_rng(1)
    >>> frosts = FrostDates(side="spring", threshold_c=0.0, start=NORTH, years=np.arange(1991, 2021),
    ...                     day=rng.normal(260, 12, 30).round())
    >>> curve = fit_curve(frosts, "normal")
    >>> curve.kind, round(curve.day_at_risk(0.5)) == round(frosts.day.mean())
    ('normal', True)
    """
    days = falling_days(frosts)
    if days.size < FEWEST_SEASONS:
        raise TooFewSeasonsError(
            f"only {days.size} of {frosts.day.size} seasons are known, too few to say anything",
            remedy=f"Use a station with at least {FEWEST_SEASONS} known seasons, better 30.",
        )
    name = _choose(days, kind)
    table = FITS[name](days)
    known_years = frosts.years[~np.isnan(frosts.day)]
    return FrostCurve(
        kind=name,
        side=frosts.side,
        threshold_c=frosts.threshold_c,
        start=frosts.start,
        risk=_turned(table, frosts.side),
        frost_share=float(frost_share(days)),
        seasons_used=days.size,
        seasons_unknown=int(np.isnan(frosts.day).sum()),
        first_year=int(known_years[0]),
        last_year=int(known_years[-1]),
        step_c=frosts.step_c,
    )


def put_bounds(curve: FrostCurve, frosts: FrostDates, *, confidence: float = 0.8) -> FrostCurve:
    """Put confidence bounds on a curve: refits of 500 bootstrap resamples of its seasons."""
    if not 0.0 < confidence < 1.0:
        raise InputError("a confidence lies between 0 and 1", value=confidence)
    days = falling_days(frosts)
    rng = np.random.default_rng(SEED)
    tables = FITS[curve.kind](days[rng.integers(days.size, size=(RESAMPLES, days.size))])
    low, high = np.quantile(tables, [(1 - confidence) / 2, (1 + confidence) / 2], axis=0)
    return replace(
        curve, low=_turned(low, frosts.side), high=_turned(high, frosts.side), confidence=confidence
    )


def score_fits(days: Floats) -> tuple[Score, ...]:
    """Score every fit by leave-one-season-out CRPS, best first."""
    others = np.where(np.eye(days.size, dtype=bool), np.nan, days)
    scores = [
        Score(kind=kind, crps_days=float(crps_of_tables(fit(others), days).mean()))
        for kind, fit in FITS.items()
    ]
    return tuple(sorted(scores, key=lambda score: score.crps_days))


def crps_of_tables(tables: Floats, days: Floats) -> Floats:
    """Score tables of risk against the days that came, by the continuous ranked probability score.

    The integral of (F(d) - 1[y <= d])^2 over the season, as a sum over its days; a whole observed day is a
    point on a continuous axis, half a day on each of its sides. Gneiting & Raftery (2007),
    doi:10.1198/016214506000001437.
    """
    later = np.heaviside(days[..., np.newaxis] - SEASON_DAYS, 0.5)
    on_the_day = 0.25 * np.isfinite(days)  # (t^2 + (t - 1)^2) / 2 = (t - 1/2)^2 + 1/4
    return np.asarray(((tables - later) ** 2).sum(axis=-1) + on_the_day, dtype=np.float64)


def nest(curves: Sequence[FrostCurve]) -> tuple[FrostCurve, ...]:
    """Keep curves of several thresholds from crossing: a warmer threshold is never less likely.

    Each curve is raised to the highest of those at colder thresholds. The order is kept.
    """
    nested = dict[int, FrostCurve]()
    raised: FrostCurve | None = None
    for index in sorted(range(len(curves)), key=lambda i: curves[i].threshold_c):
        raised = curves[index] if raised is None else _at_least(curves[index], raised)
        nested[index] = raised
    return tuple(nested[index] for index in range(len(curves)))


def falling_days(frosts: FrostDates) -> Floats:
    """The known days with the direction of spring: autumn runs backwards, -inf is always "no frost"."""
    return frosts.known if frosts.side == "spring" else SLOTS - 1 - frosts.known


def _choose(days: Floats, kind: str) -> str:
    if kind not in (BEST, *FITS):
        raise InputError(
            "no such kind of curve", value=kind, remedy=f"Choose one of {', '.join((BEST, *FITS))}."
        )
    if np.isfinite(days).sum() < FEWEST_FROSTS:
        return "empirical"
    return score_fits(days)[0].kind if kind == BEST else kind


def _turned(table: Floats, side: Side) -> Floats:
    return table if side == "spring" else table[::-1]


def _at_least(curve: FrostCurve, colder: FrostCurve) -> FrostCurve:
    def higher(mine: Floats | None, theirs: Floats | None) -> Floats | None:
        return mine if mine is None or theirs is None else np.maximum(mine, theirs)

    return replace(
        curve,
        risk=np.maximum(curve.risk, colder.risk),
        low=higher(curve.low, colder.low),
        high=higher(curve.high, colder.high),
    )
