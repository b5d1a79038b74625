"""Limits of risk side by side, and what the grower's two numbers make of them."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtr

from frostgate.gate.outlook import look_ahead
from frostgate.gate.tolerance import Stakes
from frostgate.model.curves import FrostCurve, risk_by_day
from frostgate.model.gate import Policy
from frostgate.model.records import Station
from frostgate.proof.limits import advise, lay_out_limits
from frostgate.proof.replay import Openings, Replay
from frostgate.seasons import NORTH, date_of
from frostgate.show.tables import write_parts
from frostgate.show.tolerances import Choice, choice_parts, risk_answer, say_costs, say_reading
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
    write_parts(choice_parts(choice, 102))

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
    write_parts(choice_parts(choice, 102))

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
    write_parts(choice_parts(choice, width), Console(width=width, soft_wrap=True))

    rows = [
        line for line in capsys.readouterr().out.splitlines() if " to " in line and line.lstrip()[0].isdigit()
    ]
    assert len(rows) == 6
    assert "…" not in "".join(rows)
    assert max(map(len, rows)) <= width
    assert sum(row.rstrip().endswith("*") for row in rows) == 1
