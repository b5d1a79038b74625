"""A limit over the years: from two plain numbers, and limits side by side by what each costs."""

from __future__ import annotations

import datetime as dt
import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ndtr

from frostgate.errors import InputError
from frostgate.gate.outlook import look_ahead
from frostgate.model.curves import FrostCurve, risk_by_day
from frostgate.model.gate import LARGEST_TOLERANCE, Policy
from frostgate.model.records import Station
from frostgate.proof.limits import (
    CostLoss,
    Stakes,
    advise,
    chance_in_years,
    cheapest,
    feed_or_wait,
    lay_out_limits,
    weigh_limits,
)
from frostgate.proof.replay import Openings, Replay
from frostgate.seasons import NORTH, date_of
from frostgate.show.proofs import Choice, choice_parts, risk_answer, say_costs, say_ratio, say_reading
from frostgate.show.say import write_parts
from tests.replay_cases import never_opened, opened, replay_with

RISKS = (0.02, 0.05, 0.1, 0.2, 0.3, 0.5)
BELL = FrostCurve(
    kind="normal", side="spring", threshold_c=0.0, start=NORTH, risk=1 - ndtr((np.arange(366) - 270) / 10),
    frost_share=1.0, seasons_used=30, seasons_unknown=0, first_year=1991, last_year=2020,
)  # fmt: skip
MILD = replace(BELL, risk=0.15 * BELL.risk, frost_share=0.15)
ALL_YEAR = replace(BELL, risk=np.append(np.full(365, 0.9), 0.0))
STAKES = Stakes(cost_per_day=10, loss=600)


def bad_in(risk: float, day: float, bad: int, springs: int) -> Openings:
    wrong = np.arange(springs) < bad
    return opened(risk, np.full(springs, float(day)), wrong, 0.85 * risk, gained=3.0)


def replay_of(bad: tuple[int, ...], springs: int = 20) -> Replay:
    found = zip(RISKS, (290, 284, 279, 273, 269, 263), bad, strict=True)
    rows = tuple(bad_in(risk, day, wrong, springs) for risk, day, wrong in found)
    return replay_with(rows, rows[-1])


def choice_of(curve: FrostCurve, replay: Replay | None, stakes: Stakes | None = STAKES) -> Choice:
    limits = lay_out_limits(curve, RISKS, replay)
    return Choice(
        station=Station(id="X"), policy=Policy(), curve=curve, limits=limits, replay=replay,
        replay_missing=None if replay else "only 10 springs are known", years_ahead=10, seed=1, unit="C",
        stakes=stakes, advice=None if stakes is None else advise(curve, limits, stakes),
    )  # fmt: skip


@pytest.mark.parametrize("exposed", [0, 1, 7])
def test_the_curves_dates_are_those_the_gate_gives_without_a_forecast(exposed):
    policy = Policy(first_exposed_days=exposed)
    outlook = look_ahead(BELL, None, policy, dt.datetime(2026, 3, 1, 6), climate_only=True)

    limits = lay_out_limits(BELL, RISKS, None, exposed)
    dates = [date_of(2025, limit.curve_day, NORTH) for limit in limits]

    assert dates == [outlook.date_at(risk) for risk in RISKS]


def test_a_limit_above_the_share_of_frosty_springs_holds_on_any_day():
    days = [limit.curve_day for limit in lay_out_limits(MILD, RISKS, None)]

    assert days[3:] == [-math.inf] * 3
    assert all(math.isfinite(day) for day in days[:3])


def test_where_frosts_come_all_year_no_day_is_within_a_limit():
    limits = lay_out_limits(ALL_YEAR, RISKS, None)

    assert all(math.isnan(limit.curve_day) for limit in limits)
    assert advise(ALL_YEAR, limits, STAKES) is None


def test_each_limit_has_its_own_openings():
    replay = replay_of((0, 1, 2, 3, 5, 9))

    assert [limit.opened for limit in lay_out_limits(BELL, RISKS, replay)] == list(replay.openings)


def test_without_a_replay_the_curve_is_weighed():
    """By hand: cost = 10 x (day - day at 50 %) + 600 x risk."""
    limits = lay_out_limits(BELL, RISKS, None)

    advice = advise(BELL, limits, STAKES)

    first = limits[-1].curve_day
    costs = [10 * (limit.curve_day - first) + 600 * limit.risk for limit in limits]
    assert [row.cost for row in advice.weighed] == pytest.approx(costs)
    assert advice.recommended == RISKS[int(np.argmin(costs))]
    assert advice.stated == advice.weighed


def test_the_replay_is_weighed_by_what_came_true():
    """By hand: 27 days x 10 at 2 %, and 6 x 10 + 600 x 5 / 20 = 210 at 30 %."""
    advice = advise(BELL, lay_out_limits(BELL, RISKS, replay_of((0, 1, 2, 3, 5, 9))), STAKES)

    assert [row.cost for row in advice.weighed] == pytest.approx([270, 240, 220, 190, 210, 270])


def test_springs_in_which_the_gate_stayed_shut_are_left_out_of_the_costs():
    """One of twenty stays shut at 2 %: costs are those of the other nineteen, at every limit."""
    replay = replay_of((0, 1, 2, 3, 5, 9))
    replay.openings[0].day[0] = np.nan

    advice = advise(BELL, lay_out_limits(BELL, RISKS, replay), STAKES)

    shares = [bad / 19 for bad in (0, 0, 1, 2, 4, 8)]
    days = (27, 21, 16, 10, 6, 0)
    assert [row.cost for row in advice.weighed] == pytest.approx(
        [10 * day + 600 * share for day, share in zip(days, shares, strict=True)]
    )


def test_a_gate_that_never_opened_leaves_the_curve_to_be_weighed(capsys):
    replay = replay_with(tuple(never_opened(risk, 20) for risk in RISKS), never_opened(np.nan, 20))
    choice = choice_of(BELL, replay)
    write_parts(choice_parts(choice))

    row = risk_answer(choice)["limits"][0]["replay"]

    assert choice.advice.weighed == advise(BELL, lay_out_limits(BELL, RISKS, None), STAKES).weighed
    assert {name: row[name] for name in ("opening_median", "days_gained", "stated_mean", "realised")} == {
        "opening_median": None, "days_gained": None, "stated_mean": None, "realised": None,
    }  # fmt: skip
    assert "never" in capsys.readouterr().out


def test_the_safer_of_what_came_true_and_what_was_stated_is_recommended():
    """With no bad spring at all, what came true favours the earliest date; the risk stated does not."""
    lucky = advise(BELL, lay_out_limits(BELL, RISKS, replay_of((0,) * 6)), STAKES)
    unlucky = advise(BELL, lay_out_limits(BELL, RISKS, replay_of((0, 5, 9, 12, 15, 18))), STAKES)
    by_stated = [
        10 * (day - 263) + 600 * 0.85 * risk
        for day, risk in zip((290, 284, 279, 273, 269, 263), RISKS, strict=True)
    ]

    assert min(lucky.weighed, key=lambda row: row.cost).limit == 0.5
    assert lucky.recommended == RISKS[int(np.argmin(by_stated))]
    assert unlucky.recommended == 0.02


def test_limits_without_a_date_have_no_cost():
    advice = advise(MILD, lay_out_limits(MILD, RISKS, None), STAKES)

    assert [row.limit for row in advice.weighed] == [0.02, 0.05, 0.1]


def test_feeding_at_once_or_waiting_for_the_last_date_is_weighed_day_by_day():
    """By hand: the first day whose risk is at most 10 x (days to the 2 % date) / 600."""
    limits = lay_out_limits(BELL, RISKS, None)
    table, safe = risk_by_day(BELL.risk), int(limits[0].curve_day)

    found = advise(BELL, limits, STAKES).feed_or_wait

    day = next(day for day in range(int(limits[-1].curve_day), safe) if table[day] <= 10 * (safe - day) / 600)
    assert found.days_gained == safe - day
    assert table[day] <= found.ratio < table[day - 1] + 10 / 600


def test_the_answer_gives_every_limit_with_its_years_and_costs():
    answer = risk_answer(choice_of(BELL, replay_of((0, 1, 2, 3, 5, 9))))

    ten = answer["limits"][2]
    assert (ten["bad_in_ten"], ten["chance_in_years"]) == (1.0, 0.6513)  # 1 - 0.9^10
    assert (ten["replay"]["realised"], ten["replay"]["days_gained"], ten["cost"]) == (0.1, 3.0, 220.0)
    assert ten["cost_by_stated"] == 160.0 + 600 * 0.085
    assert answer["costs"]["days_worth"] == 60.0
    assert answer["costs"]["recommended"] in RISKS
    assert answer["costs"]["recommended"] in answer["costs"]["as_good"]


@pytest.mark.parametrize(
    ("curve", "within", "said"),
    [
        (MILD, "all season", "any day: so few springs"),
        (ALL_YEAR, "never", "never: such frosts come all year"),
    ],
)
def test_a_limit_without_a_date_says_why(curve, within, said, capsys):
    choice = choice_of(curve, None)
    row = risk_answer(choice)["limits"][-1]
    write_parts(choice_parts(choice))

    assert (row["curve_date"], row["within"], row["cost"]) == (None, within, None)
    assert said in capsys.readouterr().out
    assert list(say_reading(choice))[-1] == "No replay: only 10 springs are known"


def test_where_nothing_can_be_weighed_the_words_say_so():
    assert list(say_costs(choice_of(ALL_YEAR, None), STAKES))[-1].startswith("No limit has a date")


@pytest.mark.parametrize(
    ("cost", "loss", "said"),
    [
        (10, 600, "feed once the risk is below"),
        (1, 1e6, "waiting would always be cheaper"),
        (100, 50, "by these numbers never wait"),
    ],
)
def test_the_simple_ratio_is_told_in_words(cost, loss, said):
    stakes = Stakes(cost_per_day=cost, loss=loss)

    assert said in " ".join(say_costs(choice_of(BELL, None, stakes), stakes))


def test_the_reason_names_both_where_they_differ_and_what_cannot_be_told_apart():
    words = " ".join(say_costs(choice_of(BELL, replay_of((0,) * 6)), STAKES))

    assert "By what came true 50 % costs least, by the risk stated" in words
    certain = " ".join(say_costs(choice_of(BELL, replay_of((0, 1, 2, 3, 5, 9))), STAKES))
    assert "So few springs cannot tell its cost from that at" in certain


@pytest.mark.parametrize("width", [80, 102])
def test_the_table_fits_its_screen_and_marks_one_limit(width, capsys):
    from rich.console import Console

    choice = choice_of(BELL, replay_of((0, 1, 2, 3, 5, 9)))
    write_parts(choice_parts(choice), Console(width=width, soft_wrap=True))

    rows = [
        line for line in capsys.readouterr().out.splitlines() if " to " in line and line.lstrip()[0].isdigit()
    ]
    assert len(rows) == 6
    assert "…" not in "".join(rows)
    assert max(map(len, rows)) <= width
    assert sum(row.rstrip().endswith("*") for row in rows) == 1


MONEY = st.floats(1e-3, 1e6)


@pytest.mark.parametrize(
    ("risk", "years", "chance"),
    [(0.1, 10, 0.651322), (0.1, 5, 0.409510), (0.2, 3, 0.488), (0.0, 30, 0.0), (1.0, 1, 1.0)],
)
def test_the_chance_of_a_bad_spring_in_some_years(risk, years, chance):
    """1 - (1 - P)^n: FAO, Frost Protection vol. 2 (2005) describes it; computed to the digits shown."""
    assert chance_in_years(risk, years) == pytest.approx(chance, abs=1e-6)


@pytest.mark.parametrize(("risk", "feed", "wait"), [(0.05, 0.5, 1.0), (0.10, 1.0, 1.0), (0.20, 2.0, 1.0)])
def test_murphys_case_feeds_below_the_ratio_ties_at_it_and_waits_above(risk, feed, wait):
    """C = 1, L = 10: p .05 costs .5 unprotected, p .10 ties, p .20 costs 1 protected (Murphy 1977)."""
    stakes = Stakes(cost_per_day=1, loss=10)
    waiting, at_once = weigh_limits((0.0, risk), ((1.0,), (0.0,)), ((0.0,), (risk,)), stakes)

    assert (at_once.cost, waiting.cost) == (pytest.approx(feed), pytest.approx(wait))
    found = feed_or_wait((risk, 0.0), stakes)
    assert found == (None if feed > wait else CostLoss(days_gained=1.0, ratio=0.1))


@pytest.mark.parametrize(
    ("cost", "loss", "days", "tolerance", "said"),
    [
        (10, 600, 12, 0.2, "feed once the risk is below 20 %"),
        (0.4, 600, 3, 0.002, "feed once the risk is below 0.2 %"),
        (50, 1000, 12, LARGEST_TOLERANCE, "a ratio of 60 %; no limit lies above 50 %"),
        (100, 1000, 12, LARGEST_TOLERANCE, "by these numbers never wait; still no limit lies above 50 %"),
    ],
)
def test_two_numbers_and_the_days_gained_give_a_tolerance_and_say_why(cost, loss, days, tolerance, said):
    stakes = Stakes(cost_per_day=cost, loss=loss)
    found = feed_or_wait([0.0] * (days + 1), stakes)

    assert found.tolerance == pytest.approx(tolerance)
    assert said in say_ratio(found, stakes)
    assert Policy(risk_tolerance=found.tolerance).risk_tolerance == found.tolerance


@given(MONEY, MONEY, st.integers(1, 200))
def test_a_tolerance_can_always_be_used_as_one(cost, loss, days):
    safe_by_then = [0.0] * (days + 1)
    found = feed_or_wait(safe_by_then, Stakes(cost_per_day=cost, loss=loss))

    assert 0.0 < found.tolerance <= LARGEST_TOLERANCE
    sevenfold = Stakes(cost_per_day=7 * cost, loss=7 * loss)
    assert feed_or_wait(safe_by_then, sevenfold).tolerance == pytest.approx(found.tolerance)


@pytest.mark.parametrize("bad", [0.0, -5.0, math.nan, math.inf])
def test_numbers_that_cannot_be_meant_are_refused(bad):
    with pytest.raises(InputError, match="cost of a day's delay is a number above 0"):
        Stakes(cost_per_day=bad, loss=600)
    with pytest.raises(InputError, match="loss of a flush is a number above 0"):
        Stakes(cost_per_day=10, loss=bad)


def test_feeding_at_once_ties_with_waiting_at_the_risk_it_gives():
    """By hand: at 15 % three days before safe, 3 * 10 / 200 = 15 %; a day earlier 30 % > 20 %."""
    found = feed_or_wait([0.5, 0.3, 0.15, 0.08, 0.04, 0.02], Stakes(cost_per_day=10, loss=200))

    assert found is not None
    assert (found.days_gained, found.tolerance) == (3.0, pytest.approx(0.15))


def test_where_a_flush_is_worth_all_waiting_no_day_is_cheaper():
    assert feed_or_wait([0.5, 0.3, 0.1], Stakes(cost_per_day=1, loss=1e6)) is None


def test_costs_are_days_waited_and_flushes_lost():
    """By hand: 10 days x 10 + 0 lost = 100; 2 x 10 + half of 600 = 320; 0 + 600 = 600."""
    opened = ((270.0, 260.0), (262.0, 252.0), (260.0, 250.0))
    bad = ((0.0, 0.0), (0.0, 1.0), (1.0, 1.0))

    weighed = weigh_limits((0.05, 0.2, 0.5), opened, bad, Stakes(cost_per_day=10, loss=600))

    assert [(one.days_waited, one.bad_share, one.cost) for one in weighed] == [
        (10.0, 0.0, 100.0), (2.0, 0.5, 320.0), (0.0, 1.0, 600.0),
    ]  # fmt: skip
    assert cheapest(weighed).limit == 0.05


def test_a_dearer_day_never_leads_to_a_safer_limit():
    """Monotone comparative statics: the days waited fall with what a day costs."""
    opened, bad = ((30.0,), (21.0,), (13.0,), (6.0,), (0.0,)), ((0.02,), (0.05,), (0.1,), (0.2,), (0.5,))
    limits = (0.02, 0.05, 0.1, 0.2, 0.5)
    chosen = [
        cheapest(weigh_limits(limits, opened, bad, Stakes(cost_per_day=cost, loss=600))).limit
        for cost in (0.5, 2, 4, 8, 20, 60)
    ]

    assert chosen == sorted(chosen)
    assert (chosen[0], chosen[-1]) == (0.02, 0.5)


def test_the_least_cost_is_where_a_day_saves_as_much_as_it_costs():
    """Between neighbours: wait d more days as long as loss x (risk saved) exceeds cost x d."""
    limits, days = (0.02, 0.05, 0.1, 0.2, 0.5), (30.0, 21.0, 13.0, 6.0, 0.0)
    stakes = Stakes(cost_per_day=5, loss=500)
    best = cheapest(
        weigh_limits(limits, [(day,) for day in days], [(risk,) for risk in limits], stakes)
    ).limit
    pairs = itertools.pairwise(zip(limits, days, strict=True))
    pays = {high: 500 * (high - low) > 5 * (later - sooner) for (low, later), (high, sooner) in pairs}

    assert best == 0.1
    assert pays == {0.05: False, 0.1: False, 0.2: True, 0.5: True}


def test_of_limits_that_cost_the_same_the_safest_is_taken():
    weighed = weigh_limits(
        (0.1, 0.3), ((262.0,), (250.0,)), ((0.1,), (0.3,)), Stakes(cost_per_day=10, loss=600)
    )

    assert cheapest(weighed).limit == 0.1


def test_few_springs_cannot_tell_costs_apart_and_many_can():
    """One flush lost in four springs or none, a mean difference of 90 with a standard error of 150."""
    stakes = Stakes(cost_per_day=10, loss=600)

    def as_good(times: int) -> list[bool]:
        opened = ((6.0,) * 4 * times, (0.0,) * 4 * times)
        bad = ((0.0,) * 4 * times, (1.0, 0.0, 0.0, 0.0) * times)
        return [one.as_good for one in weigh_limits((0.05, 0.3), opened, bad, stakes)]

    assert as_good(1) == [True, True]
    assert as_good(25) == [True, False]
