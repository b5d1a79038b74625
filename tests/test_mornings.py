"""Every morning of past springs is judged as the gate itself judges it."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pytest

from frostgate.gate.outlook import look_ahead
from frostgate.model.curves import RECENT_DAYS, FrostCurve, Weather, risk_by_day
from frostgate.model.gate import Forecast, Policy
from frostgate.proof.replay import HABIT_NIGHTS, MIDWINTER, Mornings, ask_each_morning, worth_asking
from frostgate.proof.springs import Springs, draw_mornings, lay_out_springs
from frostgate.seasons import NORTH, SLOTS, date_of
from tests.replay_cases import made_record, made_springs

SPRINGS = lay_out_springs(made_record(), 0.0, NORTH)
ASKED = np.array([225, 240, 255, 262, 275, 290])
LEAP_YEARS = (1, 9, 33)  # in them no day of the season is missing, as 29 February is in others
POLICY, NIGHTS = Policy(), 14


def ask(springs: Springs, told_c: list[np.ndarray], policy: Policy = POLICY, **more: object) -> Mornings:
    return ask_each_morning(springs, policy, day=ASKED, told_c=told_c, nights=NIGHTS, **more)


def nights_through(told_c: np.ndarray, nights: int, policy: Policy) -> np.ndarray:
    """Take the exposed nights of a forecast that reaches so many nights ahead."""
    return told_c[: nights + 1 - policy.first_exposed_days]


def draw(springs: Springs, policy: Policy = POLICY) -> list[np.ndarray]:
    return [*draw_mornings(springs, policy, ASKED, NIGHTS, np.random.default_rng(2))]


def risk_by_the_gate(springs: Springs, at: int, morning: int, told_c: np.ndarray, policy: Policy) -> float:
    """Ask the gate itself, with all that the replay knows of that spring on that morning."""
    today = date_of(int(springs.years[at]) - 1, morning, NORTH)
    now = dt.datetime.combine(today, dt.time(6))
    known = morning + min(policy.first_exposed_days, 1)  # this morning's minimum is not, where it counts
    curve = FrostCurve(
        kind="student", side="spring", threshold_c=springs.threshold_c, start=NORTH, risk=springs.risk[at],
        frost_share=1.0, seasons_used=39, seasons_unknown=0, first_year=1971, last_year=2010,
        step_c=springs.step_c, spread_c=springs.climate_sd_c[at],
    )  # fmt: skip
    weather = Weather(
        climatology_c=springs.climatology_c[at], persistence=springs.persistence[at],
        explained=springs.explained[at],
        recent_c=springs.tmin_c[at, morning + 1 - RECENT_DAYS : known],
        last_day=today - dt.timedelta(days=morning + 1 - known),
    )  # fmt: skip
    forecast = Forecast(
        source="drawn", form="table", issued_at=now, tmin_c=told_c, sd_c=np.full(told_c.size, math.nan),
        dates=np.datetime64(today, "D") + policy.first_exposed_days + np.arange(told_c.size),
    )  # fmt: skip
    return float(look_ahead(curve, forecast, policy, now, weather=weather).risk[0])


@pytest.mark.parametrize("at", LEAP_YEARS)
@pytest.mark.parametrize(
    "policy",
    [
        POLICY,
        replace(POLICY, error_bias_c=0.7, error_correlation=0.5, wide_share=0.0),
        replace(POLICY, window_days=5),
        replace(POLICY, first_exposed_days=0),
        replace(POLICY, first_exposed_days=7),
    ],
    ids=["as shipped", "other errors", "five nights", "exposed this morning", "exposed in a week"],
)
def test_a_morning_is_judged_as_the_gate_itself_judges_it(at, policy):
    """To 1.5 parts in 1000: links between nights are rounded to hundredths, here the mean over springs."""
    nights, told = policy.window_days, draw(SPRINGS, policy)
    found = ask_each_morning(SPRINGS, policy, day=ASKED, told_c=told, nights=nights).risk[at]
    wanted = [
        risk_by_the_gate(SPRINGS, at, int(day), nights_through(told[k][at], nights, policy), policy)
        for k, day in enumerate(ASKED)
    ]

    assert found == pytest.approx(wanted, rel=1.5e-3, abs=2e-6)
    assert wanted[0] > 0.5
    assert wanted[-1] < 0.05


def test_of_a_single_night_the_gate_is_met_exactly():
    """One night is looked at, so there is nothing to link; the tail of the curve left alone is below 1e-5."""
    told = draw(SPRINGS)
    found = ask_each_morning(SPRINGS, POLICY, day=ASKED, told_c=told, nights=1).risk

    for at in LEAP_YEARS:
        wanted = [
            risk_by_the_gate(SPRINGS, at, int(day), told[k][at, :1], POLICY) for k, day in enumerate(ASKED)
        ]
        assert found[at] == pytest.approx(wanted, abs=1e-5)


def test_each_spring_is_judged_by_its_own_weather():
    """A spring changed alone changes nothing in the others, save the links' mean."""
    told = draw(SPRINGS)
    mild = SPRINGS.tmin_c.copy()
    mild[5, 150:240] += 4.0

    plain, changed = (ask(springs, told).risk for springs in (SPRINGS, replace(SPRINGS, tmin_c=mild)))

    assert (changed[5, :3] < plain[5, :3]).all()
    assert np.array_equal(np.delete(changed, 5, axis=0), np.delete(plain, 5, axis=0))


def test_a_colder_forecast_is_never_less_risk():
    told = draw(SPRINGS)

    risks = [ask(SPRINGS, [one - colder_c for one in told]).risk for colder_c in (0.0, 1.0, 3.0)]

    assert (np.diff(risks, axis=0) >= -1e-9).all()


@pytest.mark.parametrize("exposed", [0, 1, 7])
def test_a_forecast_without_errors_is_sure_of_its_frosts(exposed):
    policy = replace(POLICY, first_exposed_days=exposed)
    mornings = ask(SPRINGS, draw(SPRINGS, policy), policy)

    for k, day in enumerate(ASKED):
        frost = SPRINGS.frost[:, day + exposed : day + 1 + NIGHTS].any(axis=1)
        assert np.array_equal(mornings.foreseen[:, k] == 1.0, frost)


@pytest.mark.parametrize("at", LEAP_YEARS)
def test_beyond_its_nights_a_forecast_without_errors_is_judged_as_the_gate_judges_one(at):
    """The gate is given what came, and errors of 0.1 °C; nights that came within 0.6 °C of frost are left."""
    sure = replace(POLICY, error_sd_c=((1.0, 0.1),))
    came = {int(day): SPRINGS.tmin_c[at, day + 1 : day + 1 + NIGHTS] for day in range(250, 300)}
    days = [day for day, tmin_c in came.items() if tmin_c.min() > 0.6]
    told = [np.zeros((len(SPRINGS.years), NIGHTS))] * len(days)

    found = ask_each_morning(SPRINGS, POLICY, day=np.array(days), told_c=told, nights=NIGHTS).foreseen[at]

    assert len(days) > 10
    assert found == pytest.approx(
        [risk_by_the_gate(SPRINGS, at, day, came[day], sure) for day in days], abs=1e-4
    )


def test_the_curve_alone_is_read_after_each_day():
    assert np.array_equal(ask(SPRINGS, draw(SPRINGS)).alone, risk_by_day(SPRINGS.risk)[:, ASKED])


@pytest.mark.parametrize(("frost_c", "mild"), [(0.0, False), (0.05, False), (0.06, True)])
@pytest.mark.parametrize("night", [0, 13, 14])
def test_the_habit_looks_for_a_frost_in_two_weeks(frost_c, mild, night):
    """0.05 °C: a forecast that would be observed as 0.0 °C, in steps of a tenth."""
    told = np.full((3, 20), 8.0)
    told[1, night] = frost_c

    found = ask(made_springs(3), [told] * ASKED.size).mild

    assert found[1].tolist() == [mild or night >= HABIT_NIGHTS] * ASKED.size
    assert found[[0, 2]].all()


def test_a_forecast_tells_of_the_nights_before_its_first_gap():
    told = draw(SPRINGS)
    gap = [one.copy() for one in told]
    for one in gap:
        one[7, 4] = np.nan
    short = ask_each_morning(SPRINGS, POLICY, day=ASKED, told_c=told, nights=4)

    found, whole = ask(SPRINGS, gap), ask(SPRINGS, told)

    assert found.risk[7] == pytest.approx(short.risk[7], rel=1.5e-3, abs=1e-6)
    assert np.delete(found.risk, 7, axis=0) == pytest.approx(
        np.delete(whole.risk, 7, axis=0), rel=1.5e-3, abs=1e-6
    )
    assert not found.mild[7].any()


def test_without_a_forecast_the_gate_cannot_know():
    told = [one.copy() for one in draw(SPRINGS)]
    told[1][3] = np.nan

    found = ask(SPRINGS, told).risk

    assert np.argwhere(np.isnan(found)).tolist() == [[3, 1]]


def test_the_seasons_last_mornings_have_fewer_nights_or_none():
    last = np.array([SLOTS - 3, SLOTS - 1])
    told = [*draw_mornings(SPRINGS, POLICY, last, NIGHTS, np.random.default_rng(2))]

    found = ask_each_morning(SPRINGS, POLICY, day=last, told_c=told, nights=NIGHTS)

    assert np.isfinite(found.risk).all()
    assert (found.risk < 1e-3).all()
    assert found.mild[:, 1].all()


def test_progress_is_told_of_every_morning():
    calls: list[tuple[int, int]] = []

    ask(SPRINGS, draw(SPRINGS), advance=lambda done, of: calls.append((done, of)))

    assert calls == [(k + 1, ASKED.size) for k in range(ASKED.size)]


def test_mornings_are_asked_from_certain_frost_to_none_but_not_before_midwinter():
    days = worth_asking(SPRINGS, POLICY)
    early = replace(SPRINGS, risk=np.roll(SPRINGS.risk, -120, axis=1))
    all_year = replace(SPRINGS, risk=np.ones_like(SPRINGS.risk))

    assert (np.diff(days) == 1).all()
    assert (SPRINGS.risk[:, days[0]] > 0.99).all()
    assert (SPRINGS.risk[:, days[-1]] < 1e-3).all()
    assert worth_asking(early, POLICY)[0] == MIDWINTER
    assert worth_asking(all_year, POLICY)[[0, -1]].tolist() == [MIDWINTER, SLOTS - 1]


@pytest.mark.parametrize("exposed", [0, 1, 7])
def test_mornings_worth_asking_move_with_the_first_exposed_one(exposed):
    policy = replace(POLICY, first_exposed_days=exposed)

    assert (worth_asking(SPRINGS, policy) - worth_asking(SPRINGS, POLICY) == 1 - exposed).all()
