"""Laws of trends and of the years that a curve rests on, over dates that nobody chose."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from frostgate.climate.years import choose_years, find_trend, frosts_on
from frostgate.model.curves import BASES
from frostgate.seasons import SLOTS
from tests.strategies import frost_dates, frost_days

law = settings(derandomize=True, deadline=None, max_examples=40)
DAYS = frost_days(10, 60)


@law
@given(DAYS, st.integers(-40, 40))
def test_frosts_that_all_come_later_have_the_same_trend(days, shift):
    assert find_trend(frost_dates(days + shift)) == find_trend(frost_dates(days))


@law
@given(DAYS)
def test_time_turned_round_turns_the_trend_round(days):
    on, back = find_trend(frost_dates(days)), find_trend(frost_dates(days[::-1]))

    assert (back.s, back.z, back.p, back.variance) == (-on.s, -on.z, on.p, on.variance)
    if on.days_per_decade is not None:
        assert back.days_per_decade == pytest.approx(-on.days_per_decade)
        assert on.low <= on.days_per_decade <= on.high


@law
@given(st.lists(st.integers(150, 300), min_size=40, max_size=60), st.integers(-40, 40))
def test_dates_that_all_come_later_score_alike(days, shift):
    """A season without a frost moves nowhere, so there are none here."""
    choice, moved = (choose_years(frost_dates(np.array(days, float) + by)) for by in (0, shift))

    assert [s.crps_days for s in moved.scores] == pytest.approx(
        [s.crps_days for s in choice.scores], abs=0.05
    )


@law
@given(DAYS)
def test_autumn_is_spring_run_backwards(days):
    spring = frost_dates(days)
    autumn = replace(spring, side="autumn", day=SLOTS - 1 - days)
    choice, mirrored = choose_years(spring), choose_years(autumn)

    assert mirrored.basis == choice.basis
    assert [s.crps_days for s in mirrored.scores] == pytest.approx([s.crps_days for s in choice.scores])
    assert (mirrored.trend.s, mirrored.trend.p) == (-choice.trend.s, choice.trend.p)
    for basis in BASES:
        np.testing.assert_allclose(frosts_on(autumn, basis).day, SLOTS - 1 - frosts_on(spring, basis).day)


@law
@given(DAYS, st.sampled_from(BASES))
def test_no_basis_makes_or_loses_a_frost(days, basis):
    frosts = frost_dates(days)
    used = frosts_on(frosts, basis)
    kept = frosts.day[-used.day.size :]

    np.testing.assert_array_equal(np.isnan(used.day), np.isnan(kept))
    np.testing.assert_array_equal(np.isinf(used.day), np.isinf(kept))
    np.testing.assert_array_equal(used.years, frosts.years[-used.day.size :])
