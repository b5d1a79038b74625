"""Springs that went wrong, and what came."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from frostgate.proof.replay import Openings, wrong_springs
from frostgate.proof.springs import Springs
from frostgate.seasons import NORTH, SOUTH, season_day_of
from tests.replay_cases import never_opened, opened, springs_of


def opened_on(springs: Springs, day: int) -> Openings:
    return opened(0.1, np.full(springs.years.size, float(day)), springs.last_frost > day, 0.08)


def test_a_wrong_spring_tells_opening_coldest_night_and_frosts_after():
    springs = springs_of([{240: -6.0, 255: -1.0, 260: -3.0, 263: -0.5}, {249: -2.0}])

    (wrong,) = wrong_springs(springs, opened_on(springs, 250))

    assert (wrong.year, wrong.opened, wrong.stated) == (2023, dt.date(2023, 4, 7), 0.08)
    assert (wrong.frost, wrong.tmin_c) == (dt.date(2023, 4, 17), -3.0)
    assert (wrong.first_frost, wrong.days_after) == (dt.date(2023, 4, 12), 5)
    assert wrong.frosts_after == 3


def test_a_frost_on_the_morning_of_opening_is_not_after_it():
    springs = springs_of([{250: -3.0, 252: -1.0}])

    (wrong,) = wrong_springs(springs, opened_on(springs, 250))

    assert (wrong.frosts_after, wrong.tmin_c) == (1, -1.0)


def test_a_missing_day_is_no_frost_that_came():
    springs = springs_of([{255: np.nan, 260: -1.0}])

    (wrong,) = wrong_springs(springs, opened_on(springs, 250))

    assert (wrong.frosts_after, wrong.tmin_c) == (1, -1.0)


@pytest.mark.parametrize(("exposed", "frosts"), [(0, 3), (1, 2), (5, 2), (6, 1)])
def test_frosts_before_pots_are_exposed_do_not_count(exposed, frosts):
    springs = springs_of([{250: -3.0, 255: -2.0, 260: -1.0}])
    opening = replace(opened_on(springs, 250), first_exposed_days=exposed)

    (wrong,) = wrong_springs(springs, opening)

    assert wrong.frosts_after == frosts


@pytest.mark.parametrize(("start", "day"), [(NORTH, dt.date(2023, 4, 17)), (SOUTH, dt.date(2023, 9, 30))])
def test_dates_fall_in_the_springs_own_year_on_both_sides_of_the_equator(start, day):
    frost = season_day_of(day, start)[1]
    springs = springs_of([{frost: -1.5}], start)

    (wrong,) = wrong_springs(springs, opened_on(springs, frost - 10))

    assert (wrong.year, wrong.frost) == (2023, day)
    assert wrong.opened == day - dt.timedelta(days=10)


def test_whole_fahrenheit_frosts_are_compared_as_stored():
    """28 °F is stored as -2.2 °C and is a frost of 28 °F or less, which is -2.222... °C."""
    springs = replace(springs_of([{257: -2.1, 260: -2.2}]), threshold_c=-20 / 9)

    (wrong,) = wrong_springs(springs, opened_on(springs, 250))

    assert (wrong.tmin_c, wrong.frosts_after) == (-2.2, 1)


def test_no_wrong_spring_is_no_row():
    springs = springs_of([{240: -1.0}, {}])

    assert wrong_springs(springs, opened_on(springs, 250)) == ()


def test_a_gate_that_never_opened_went_wrong_in_no_spring():
    assert wrong_springs(springs_of([{240: -1.0}]), never_opened(0.1, 1)) == ()
