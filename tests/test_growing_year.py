"""The year from midwinter to midwinter."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostgate.feeding.stop import autumn_date, growing_year
from frostgate.model.records import FrostCurve
from frostgate.seasons import NORTH, SOUTH


def autumn(middle, start=NORTH, share=1.0):
    risk = share * np.clip((np.arange(366) - middle) / 40 + 0.5, 0, 1)
    return FrostCurve(kind="given", side="autumn", threshold_c=0.0, start=start, risk=risk, frost_share=share,
                      seasons_used=30, seasons_unknown=0, first_year=1991, last_year=2020)  # fmt: skip


@given(st.dates(dt.date(1950, 1, 1), dt.date(2100, 12, 31)), st.sampled_from([NORTH, SOUTH]))
def test_it_begins_at_the_midwinter_before_a_day(today, start):
    begins = growing_year(today, start)
    assert begins <= today < begins + dt.timedelta(days=367)
    assert (begins.month, begins.day) in {(1, 1), (7, 3), (7, 4)}
    assert growing_year(begins, start) == begins


def test_without_a_record_the_past_eight_months_count():
    assert growing_year(dt.date(2026, 4, 12), None) == dt.date(2025, 8, 15)


@pytest.mark.parametrize("after", [dt.date(2026, 5, 16), dt.date(2026, 8, 1), dt.date(2026, 9, 29)])
def test_the_next_autumn_frost_is_that_of_this_year(after):
    """Season day 70 is 10 October; 10 % of frosts come 16 days earlier."""
    assert autumn_date(autumn(70), 0.5, after) == dt.date(2026, 10, 10)
    assert autumn_date(autumn(70), 0.1, dt.date(2026, 5, 16)) == dt.date(2026, 9, 24)


def test_once_it_is_past_it_is_that_of_the_next_year():
    assert autumn_date(autumn(70), 0.5, dt.date(2026, 10, 10)) == dt.date(2027, 10, 10)


def test_in_the_south_autumn_comes_half_a_year_earlier():
    """Season day 70 of a season that begins on 1 February."""
    assert autumn_date(autumn(70, SOUTH), 0.5, dt.date(2026, 1, 16)) == dt.date(2026, 4, 11)


def test_where_frosts_are_too_rare_there_is_no_date():
    assert autumn_date(autumn(70, share=0.3), 0.5, dt.date(2026, 5, 16)) is None
