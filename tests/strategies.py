"""Frost days, grids and records for laws that must hold for all of them, and the nouns they make."""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import strategies as st
from numpy.typing import ArrayLike

from frostgate.model.curves import FrostCurve
from frostgate.model.records import DailyMinima, FrostDates, Side, Station
from frostgate.seasons import NORTH, SLOTS, Floats, SeasonStart, date_of

LEAP_SLOTS = (28, 212)  # of a southern and a northern season
THRESHOLDS_C = st.integers(-60, 40).map(lambda tenths: tenths / 10)

_FROSTS = st.integers(150, 300).map(float)
_NONE, _UNKNOWN = st.just(-np.inf), st.just(np.nan)


def frost_days(
    fewest: int = 10, most: int = 40, *, fewest_frosts: int = 0, unknown: bool = True
) -> st.SearchStrategy[Floats]:
    """Last frosts of a site, most seasons with one, some without, some unknown."""
    outcome = st.one_of(_FROSTS, _FROSTS, _NONE, _UNKNOWN) if unknown else st.one_of(_FROSTS, _FROSTS, _NONE)
    listed = st.lists(outcome, min_size=fewest, max_size=most).map(np.array)
    return listed.filter(
        lambda day: (~np.isnan(day)).sum() >= fewest and np.isfinite(day).sum() >= fewest_frosts
    )


@st.composite
def season_grids(draw: st.DrawFn, *, sites: int | None = None, most_missing: float = 0.02) -> Floats:
    """Minima by season day, in tenths of a °C: a cold season each, with noise and with days missing.

    The slots of 29 February are warm, and never missing, so that a grid serves both hemispheres.
    """
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    seasons = draw(st.integers(1, 12))
    mean_c, swing_c = draw(st.floats(2.0, 12.0)), draw(st.floats(6.0, 14.0))
    shape = (SLOTS, seasons) if sites is None else (SLOTS, sites, seasons)
    yearly = np.cos((np.arange(SLOTS) + 11) / SLOTS * 2 * np.pi)  # warmest on slot 355, 21 July
    yearly = yearly.reshape(-1, *(1,) * (len(shape) - 1))
    grid = np.round(mean_c + swing_c * yearly + rng.normal(0.0, 3.0, shape), 1)
    grid[rng.random(shape) < draw(st.floats(0.0, most_missing))] = np.nan
    grid[list(LEAP_SLOTS)] = 20.0
    return grid


def lay_out(grid: Floats, start: SeasonStart = NORTH, first_year: int = 1991) -> DailyMinima:
    """Turn a grid of one site into its record; a 29 February that does not exist is left out."""
    minima = {}
    for season in range(grid.shape[1]):
        for slot in range(SLOTS):
            date = date_of(first_year + season, slot, start)
            if slot != start.leap_slot or date.day == 29:
                minima[date] = grid[slot, season]
    return DailyMinima(station=Station(id="X"), dates=list(minima), tmin_c=list(minima.values()))


def frost_dates(day: Floats, side: Side = "spring", first_year: int = 1991) -> FrostDates:
    """Give frost days their years."""
    years = np.arange(first_year, first_year + day.size)
    return FrostDates(side=side, threshold_c=0.0, start=NORTH, years=years, day=day)


def risk_at(curve: FrostCurve, point: ArrayLike) -> Floats:
    """Read a curve between its points by straight lines."""
    return np.interp(point, np.arange(SLOTS), curve.risk)


def given_curve(risk: ArrayLike, side: Side = "spring", threshold_c: float = 0.0, **rest: Any) -> FrostCurve:
    """Make a curve of a risk that no fit made; one number is the risk of every day."""
    table = np.broadcast_to(np.asarray(risk, float), SLOTS) if np.ndim(risk) == 0 else risk
    usual = {
        "frost_share": 1.0,
        "seasons_used": 30,
        "seasons_unknown": 0,
        "first_year": 1991,
        "last_year": 2020,
        "start": NORTH,
    }
    return FrostCurve(kind="given", side=side, threshold_c=threshold_c, risk=table, **(usual | rest))
