"""Kept forecasts are laid out as the mornings had them; everything here is invented."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostgate.errors import InputError
from frostgate.model.gate import ForecastLog, Policy
from frostgate.proof.forecasts import lay_out_kept
from frostgate.seasons import NORTH, SOUTH, season_day_of
from tests.replay_cases import springs_of

SPRINGS = springs_of([{}, {}, {}, {}])  # 2023 to 2026
TEN = dt.datetime(2026, 4, 10, 6)


def issue(made: dt.datetime, *lows: float, place: str = "") -> ForecastLog:
    """Make a forecast of the nights after its day."""
    mornings = [made.date() + dt.timedelta(days=k + 1) for k in range(len(lows))]
    return ForecastLog(issued=[made] * len(lows), mornings=mornings, forecast_c=lows,
                       observed_c=[np.nan] * len(lows), place=[place] * len(lows))  # fmt: skip


def logged(*issues: ForecastLog) -> ForecastLog:
    names = ("issued", "mornings", "forecast_c", "observed_c", "place")
    return ForecastLog(**{name: np.concatenate([getattr(one, name) for one in issues]) for name in names})


def told_on(log: ForecastLog, day: dt.date, *, springs=SPRINGS) -> list[float | None]:
    season, slot = season_day_of(day, springs.start)
    spring = int(np.flatnonzero(springs.years == season + springs.start.spring_lag)[0])
    told = lay_out_kept(log, springs, Policy(), 4)[spring, slot]
    return [None if np.isnan(low) else float(low) for low in told]


def test_a_morning_has_its_own_forecast_alone():
    """The replay weighs it as fresh; an older one would be taken for surer than it is."""
    log = issue(TEN, 1.0, 2.0, 3.0)
    assert told_on(log, dt.date(2026, 4, 10)) == [1.0, 2.0, 3.0, None]
    assert told_on(log, dt.date(2026, 4, 11)) == [None] * 4
    assert told_on(log, dt.date(2026, 4, 9)) == [None] * 4


def test_the_newest_forecast_counts_and_one_made_after_noon_is_the_next_mornings():
    evening, early = dt.datetime(2026, 4, 9, 18), dt.datetime(2026, 4, 10, 5)
    log = logged(issue(evening, 0.0, 5.0, 6.0), issue(early, 1.0, 2.0))
    assert told_on(log, dt.date(2026, 4, 9)) == [None] * 4
    assert told_on(log, dt.date(2026, 4, 10)) == [1.0, 2.0, None, None]
    assert told_on(issue(evening, 0.0, 5.0, 6.0), dt.date(2026, 4, 10)) == [5.0, 6.0, None, None]


def test_a_29_february_that_does_not_exist_takes_the_night_after_it():
    common, leap = dt.datetime(2026, 2, 27, 6), dt.datetime(2024, 2, 27, 6)
    assert told_on(issue(common, 1.0, 2.0, 3.0), common.date()) == [1.0, 2.0, 2.0, 3.0]
    assert told_on(issue(leap, 1.0, 2.0, 3.0), leap.date()) == [1.0, 2.0, 3.0, None]


def test_the_south_has_its_own_seasons():
    south = replace(springs_of([{}, {}], SOUTH))
    assert told_on(issue(dt.datetime(2023, 9, 10, 6), 1.0), dt.date(2023, 9, 10), springs=south)[0] == 1.0


def test_springs_that_are_not_replayed_and_nights_beyond_the_wanted_are_left_out():
    log = logged(issue(dt.datetime(2019, 4, 10, 6), 9.0), issue(TEN, 1.0, 2.0, 3.0))
    assert np.isfinite(lay_out_kept(log, SPRINGS, Policy(), 2)).sum() == 2


@given(st.integers(0, 5), st.integers(1, 20), st.integers(0, 23))
def test_no_morning_knows_a_forecast_made_later(ago, nights, hour):
    made = TEN.replace(hour=hour) - dt.timedelta(days=ago)
    told = lay_out_kept(issue(made, *np.arange(1.0, nights + 1)), SPRINGS, Policy(), 14)
    _, slots, _ = np.nonzero(np.isfinite(told))
    asked_by_noon = made.date() + dt.timedelta(days=hour >= 12)
    assert set(slots.tolist()) <= {season_day_of(asked_by_noon, NORTH)[1]}


def test_the_first_night_laid_out_is_the_first_exposed_one():
    log = issue(TEN - dt.timedelta(hours=12), 1.0, 2.0, 3.0)  # the evening before: this morning's comes first

    for exposed, told in ((0, [1.0, 2.0, 3.0, np.nan]), (1, [2.0, 3.0, np.nan]), (2, [3.0, np.nan])):
        slot = season_day_of(TEN.date(), NORTH)[1]
        laid = lay_out_kept(log, SPRINGS, Policy(first_exposed_days=exposed), 3)
        assert laid[3, slot] == pytest.approx(told, nan_ok=True)


def test_a_log_of_several_places_is_refused():
    log = logged(issue(TEN, 1.0, place="hill"), issue(TEN, 1.0, place="vale"))
    with pytest.raises(InputError, match="several places: 'hill, vale'"):
        lay_out_kept(log, SPRINGS, Policy(), 4)
