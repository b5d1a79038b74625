"""Limits over the years, and a limit from two plain numbers."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostgate.errors import InputError
from frostgate.gate.tolerance import (
    Stakes,
    chance_in_years,
    cheapest,
    feed_or_wait,
    tolerance_from,
    weigh_limits,
)
from frostgate.model.gate import LARGEST_TOLERANCE, Policy
from frostgate.show.tolerances import say_ratio

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
    ratio = tolerance_from(Stakes(cost_per_day=1, loss=10), 1).ratio

    assert stakes.expected_cost(risk, 0) == pytest.approx(feed)
    assert stakes.expected_cost(0.0, 1) == pytest.approx(wait)
    assert ratio == pytest.approx(0.1)
    assert (feed < wait, feed > wait) == (risk < ratio, risk > ratio)


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
    found = tolerance_from(stakes, days)

    assert found.tolerance == pytest.approx(tolerance)
    assert said in say_ratio(found, stakes)
    assert Policy(risk_tolerance=found.tolerance).risk_tolerance == found.tolerance


@given(MONEY, MONEY, st.floats(1e-3, 200))
def test_a_tolerance_can_always_be_used_as_one(cost, loss, days):
    stakes = Stakes(cost_per_day=cost, loss=loss)
    found = tolerance_from(stakes, days)

    assert 0.0 < found.tolerance <= LARGEST_TOLERANCE
    sevenfold = Stakes(cost_per_day=7 * cost, loss=7 * loss)
    assert tolerance_from(sevenfold, days).tolerance == pytest.approx(found.tolerance)


@pytest.mark.parametrize("bad", [0.0, -5.0, math.nan, math.inf])
def test_numbers_that_cannot_be_meant_are_refused(bad):
    with pytest.raises(InputError, match="cost of a day's delay is a number above 0"):
        Stakes(cost_per_day=bad, loss=600)
    with pytest.raises(InputError, match="loss of a flush is a number above 0"):
        Stakes(cost_per_day=10, loss=bad)
    with pytest.raises(InputError, match="days gained are a number above 0"):
        tolerance_from(Stakes(cost_per_day=10, loss=600), bad)


@pytest.mark.parametrize(("risk", "years"), [(1.5, 10), (-0.1, 10), (math.nan, 10), (0.1, 0)])
def test_no_chance_over_no_years(risk, years):
    with pytest.raises(InputError):
        chance_in_years(risk, years)


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


def test_no_limits_have_no_costs():
    assert weigh_limits((), (), (), Stakes(cost_per_day=10, loss=600)) == ()
