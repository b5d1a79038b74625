"""How far minima scatter around each day of the year."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from frostgate.climate.usual import SMALLEST_SPREAD_C, spread_of_minima
from frostgate.seasons import NORTH, SLOTS
from frostgate.terms import DailyMinima, Station

DAYS = np.arange("1991-08-01", "2001-08-01", dtype="datetime64[D]")
DRAWN = np.random.default_rng(3).normal(5.0, 4.0, DAYS.size).round(1)
APRIL_15 = 258  # season day


def spread(tmin_c: np.ndarray) -> np.ndarray:
    return spread_of_minima(DailyMinima(station=Station(id="X"), dates=DAYS, tmin_c=tmin_c), NORTH)


def test_it_is_the_spread_of_all_days_within_15_days():
    table = pd.Series(DRAWN, index=pd.DatetimeIndex(DAYS))
    day = table.index.strftime("%m-%d")

    near = table[(day >= "03-31") & (day <= "04-30")]

    assert spread(DRAWN)[APRIL_15] == pytest.approx(near.std(ddof=0), rel=1e-9)


def test_it_runs_round_the_year():
    table = pd.Series(DRAWN, index=pd.DatetimeIndex(DAYS))
    day = table.index.strftime("%m-%d")

    near = table[(day >= "07-17") & (day <= "08-16")]

    assert spread(DRAWN)[0] == pytest.approx(near.std(ddof=0), rel=1e-9)


def test_missing_days_count_for_nothing():
    holes = np.where(np.arange(DAYS.size) % 5 == 0, np.nan, DRAWN)
    there = np.isfinite(holes)
    kept = DailyMinima(station=Station(id="X"), dates=DAYS[there], tmin_c=DRAWN[there])

    assert spread(holes) == pytest.approx(spread_of_minima(kept, NORTH))


def test_it_never_is_nothing():
    assert spread(np.full(DAYS.size, 5.0)) == pytest.approx(np.full(SLOTS, SMALLEST_SPREAD_C))


def test_a_time_of_the_year_without_minima_takes_the_widest_there_is():
    month = DAYS.astype("datetime64[M]").astype(int) % 12 + 1
    summer_only = np.where(np.isin(month, (6, 7, 8)), DRAWN, np.nan)

    assert spread(summer_only)[APRIL_15 - 60] == spread(summer_only).max()
