"""Past springs replayed, morning by morning."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest

from frostgate.gate.outlook import look_ahead
from frostgate.proof import replay as proof
from frostgate.proof.drawn import draw_mornings
from frostgate.proof.replay import HABIT_NIGHTS, Openings, replay_springs
from frostgate.proof.springs import lay_out_springs
from frostgate.seasons import NORTH, date_of
from frostgate.terms import DailyMinima, Forecast, FrostCurve, Policy, Station

DAYS = np.arange("1970-08-01", "2010-08-01", dtype="datetime64[D]")
YEARLY = np.cos((DAYS - DAYS[0] - 165).astype(int) / 365.25 * 2 * np.pi)
TMIN_C = 6 - 9 * YEARLY + np.random.default_rng(4).normal(0, 3, DAYS.size)
RECORD = DailyMinima(station=Station(id="X"), dates=DAYS, tmin_c=TMIN_C)
SPRINGS = lay_out_springs(RECORD, 0.0, NORTH)
REPLAY = replay_springs(SPRINGS, Policy(), seed=1)


@pytest.mark.parametrize("at", [0, 12, 31])
@pytest.mark.parametrize("morning", [240, 262, 275])
def test_a_morning_is_judged_as_the_gate_itself_judges_it(at, morning):
    policy = Policy()
    told = draw_mornings(SPRINGS, policy, np.array([morning]), 7, np.random.default_rng(2))[0, at]
    curve = FrostCurve(
        kind="student", side="spring", threshold_c=0.0, start=NORTH, risk=SPRINGS.risk[at], frost_share=1.0,
        seasons_used=39, seasons_unknown=0, first_year=1971, last_year=2010, step_c=SPRINGS.step_c,
        spread_c=SPRINGS.spread_c[at],
    )  # fmt: skip
    today = date_of(2002, morning, NORTH)  # a common year
    nights = np.datetime64(today, "D") + 1 + np.arange(7)
    now = dt.datetime.combine(today, dt.time(6))
    forecast = Forecast(
        source="drawn", form="table", issued_at=now, dates=nights, tmin_c=told, sd_c=np.full(7, math.nan)
    )

    outlook = look_ahead(curve, forecast, policy, now)
    mornings = np.array([morning])
    told_all = np.broadcast_to(told, (1, len(SPRINGS.years), 7))
    window = proof._window_risk(SPRINGS, told_all, mornings, policy)[at, 0]
    beyond = proof._risk_at(SPRINGS, mornings + 7)[at, 0]

    assert window == pytest.approx(outlook.window_risk[0], abs=1e-9)
    assert beyond == pytest.approx(outlook.climate_risk[0], abs=1e-9)


def test_more_tolerance_never_opens_later():
    opened = np.stack([opening.day for opening in REPLAY.openings])

    assert (np.diff(opened, axis=0) <= 0).all()


@pytest.mark.parametrize("opening", REPLAY.openings, ids=lambda opening: f"{opening.risk:.0%}")
def test_what_is_stated_at_opening_is_within_the_tolerance(opening):
    assert (opening.stated <= opening.risk).all()
    assert np.array_equal(opening.wrong, SPRINGS.last_frost > opening.day)
    low, high = opening.interval
    assert low <= opening.realised <= high


def test_a_forecast_without_errors_gains_more_than_one_with_errors():
    for opening in REPLAY.openings:
        assert opening.days_gained_perfect > opening.days_gained


@pytest.mark.parametrize("opening", REPLAY.openings, ids=lambda opening: f"{opening.risk:.0%}")
def test_the_calendar_date_is_the_first_at_which_the_curve_alone_is_within_the_tolerance(opening):
    for at in (0, 20):
        table = SPRINGS.risk[at]
        expected = next(day for day in range(365) if (table[day] + table[day + 1]) / 2 <= opening.risk)
        assert opening.calendar_day[at] == expected


def test_the_stated_risk_is_not_below_what_came_true():
    """The safe side, within chance: one-sided, at each tolerance."""
    for opening in REPLAY.openings:
        assert opening.interval[0] <= opening.stated.mean()


def test_the_habit_opens_only_past_the_middle_date_and_goes_wrong_more_often_than_a_limit_of_ten_percent():
    at_ten = next(opening for opening in REPLAY.openings if opening.risk == 0.10)

    assert (REPLAY.habit.day >= REPLAY.habit.calendar_day).all()
    assert REPLAY.habit.realised > at_ten.realised
    assert HABIT_NIGHTS == 14


def test_the_seed_decides_and_the_horizon_is_told():
    again, other = (replay_springs(SPRINGS, Policy(), seed=seed, horizon=5) for seed in (1, 2))

    assert other.horizon == again.horizon == 5
    assert np.array_equal(
        again.openings[2].day, replay_springs(SPRINGS, Policy(), seed=1, horizon=5).openings[2].day
    )
    assert not np.array_equal(again.openings[2].day, other.openings[2].day)


def test_the_interval_is_the_exact_binomial_one():
    """0 of 30: 0 to 1 - (0.025)^(1/30); Clopper & Pearson (1934)."""
    none = np.zeros(30, dtype=int)
    opened = Openings(
        risk=0.1, stated=none * 0.1, day=none, wrong=none > 0, calendar_day=none, perfect_day=none
    )

    assert opened.interval == pytest.approx((0.0, 1 - 0.025 ** (1 / 30)))
