"""Stated risks held against what happened."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
import scoringrules
from hypothesis import given
from hypothesis import strategies as st

from frostgate.proof.reliability import consistency_band, day_block_bands, exact_interval, reliability

CASES = st.lists(st.tuples(st.floats(0, 1), st.booleans()), min_size=1, max_size=60)
TEN = ([0.1] * 5 + [0.5] * 4 + [0.9], [0, 0, 0, 0, 1, 1, 0, 1, 0, 1])


def by_hand(stated: list[float], happened: list[int], edges: list[float]) -> dict[str, float]:
    """Work the parts out with loops, from their definitions (Murphy 1973; Stephenson et al. 2008)."""
    groups = [
        [(f, o) for f, o in zip(stated, happened, strict=True) if low <= f < high]
        for low, high in itertools.pairwise(edges)
    ]
    n, base = len(stated), sum(happened) / len(stated)
    parts = dict.fromkeys(("rel", "res", "wbv", "wbc"), 0.0)
    for group in groups:
        if not group:
            continue
        f_mean, o_mean = (sum(column) / len(group) for column in zip(*group, strict=True))
        parts["rel"] += len(group) * (f_mean - o_mean) ** 2 / n
        parts["res"] += len(group) * (o_mean - base) ** 2 / n
        parts["wbv"] += sum((f - f_mean) ** 2 for f, _ in group) / n
        parts["wbc"] += sum(2 * (f - f_mean) * (o - o_mean) for f, o in group) / n
    return parts | {"unc": base * (1 - base)}


def test_the_worked_example_has_its_brier_score_and_parts():
    """f = .1x5 .5x4 .9x1, o = 0,0,0,0,1,1,0,1,0,1: computed from the formula, exact to the digits shown."""
    found = reliability(*TEN)

    assert found.brier == pytest.approx(0.186, abs=1e-9)
    assert (found.rel, found.res, found.unc) == pytest.approx((0.006, 0.060, 0.240), abs=1e-9)
    assert (found.wbv, found.wbc) == pytest.approx((0.0, 0.0), abs=1e-12)
    assert found.skill == pytest.approx(0.225, abs=1e-9)


@given(CASES, st.integers(1, 12))
def test_the_parts_add_up_to_the_brier_score(cases, bins):
    """BS = REL - RES + UNC + WBV - WBC, an identity (Stephenson et al. 2008)."""
    found = reliability(*zip(*cases, strict=True), bins=bins)

    assert found.rel - found.res + found.unc + found.wbv - found.wbc == pytest.approx(found.brier, abs=1e-12)


def test_the_parts_are_those_worked_out_by_hand():
    rng = np.random.default_rng(5)
    stated = rng.uniform(0, 1, 400)
    happened = rng.random(400) < stated**1.5
    edges = [0.0, 0.2, 0.4, 0.6, 0.8, 1.01]

    found = reliability(stated, happened, bins=5)

    for name, value in by_hand(stated.tolist(), happened.astype(int).tolist(), edges).items():
        assert getattr(found, name) == pytest.approx(value, abs=1e-12), name
    assert found.brier == pytest.approx(np.mean(scoringrules.brier_score(happened, stated)), abs=1e-12)


@pytest.mark.parametrize(("count", "risk", "band"), [(30, 0.1, (0, 7)), (30, 0.5, (10, 20))])
def test_the_band_of_a_right_risk_is_binomial(count, risk, band):
    """Calibrated 10 % over 30 years: 0 to 7 inside 95 %; 50 %: 10 to 20 (exact, binomial)."""
    assert tuple(round(count * share) for share in consistency_band(risk, count)) == band


@pytest.mark.parametrize(
    ("happened", "count", "interval"),
    [(0, 30, (0.0, 1 - 0.025 ** (1 / 30))), (30, 30, (0.025 ** (1 / 30), 1.0)), (1, 1, (0.025, 1.0))],
)
def test_the_interval_of_a_share_is_exact(happened, count, interval):
    """Closed forms at the ends; Clopper & Pearson (1934)."""
    assert exact_interval(happened, count) == pytest.approx(interval)


@pytest.mark.parametrize("risk", [k / 10 for k in range(10)])
def test_a_risk_on_an_edge_belongs_to_the_group_above(risk):
    """3 * 0.1 is more than 0.3 in binary, and 0.3 * 10 less than 3 for some tenths."""
    counts = day_block_bands([risk, risk + 0.05], [False, True], [0, 0])[:, 0]

    assert counts[round(10 * risk)] == 2


def test_certainty_belongs_to_the_last_group():
    assert day_block_bands([0.95, 1.0], [True, True], [0, 0])[9, 0] == 2


def test_right_risks_lie_in_their_bands_and_overconfident_ones_do_not():
    rng = np.random.default_rng(3)
    risk = rng.uniform(0, 1, 5000)
    happened = rng.random(5000) < risk
    too_sure = np.where(risk < 0.5, risk / 2, 1 - (1 - risk) / 2)

    def groups_within(stated):
        rows = [row for row in day_block_bands(stated, happened, np.arange(5000)) if row[0]]
        by_chance = (consistency_band(mean, int(count)) for count, mean, *_ in rows)
        return sum(low <= row[2] <= high for row, (low, high) in zip(rows, by_chance, strict=True))

    right, wrong = reliability(risk, happened), reliability(too_sure, happened)

    assert groups_within(risk) >= 9
    assert groups_within(too_sure) <= 2
    assert wrong.rel > 20 * right.rel
    assert wrong.brier > right.brier


@pytest.mark.parametrize("came", [True, False])
def test_where_everything_or_nothing_happened_there_is_no_skill(came):
    assert math.isnan(reliability([0.2, 0.4], [came, came]).skill)


def shared_days(shared, seed):
    """State 30 % in 20 places on 300 days; where days are shared all places see the same draw."""
    rng = np.random.default_rng(seed)
    draw = np.repeat(rng.random(300), 20) if shared else rng.random(6000)
    return np.full(6000, 0.3), draw < 0.3, np.repeat(np.arange(300), 20)


def test_a_band_is_wider_where_all_places_share_a_day():
    (even,), (shared,) = (
        [row for row in day_block_bands(*shared_days(s, 3)) if row[0]] for s in (False, True)
    )
    binomial = 2 * 1.96 * np.sqrt(0.3 * 0.7 / 6000)
    assert even[4] - even[3] == pytest.approx(binomial, rel=0.25)
    assert shared[4] - shared[3] == pytest.approx(np.sqrt(20) * binomial, rel=0.25)


@pytest.mark.parametrize(
    ("seeds", "most"), [(5, 2), pytest.param(60, 9, marks=pytest.mark.slow)]
)  # 3 of 60 expected; binomial, 0.1 % of such tests would have more than 9
def test_shared_days_that_are_right_fall_out_of_the_band_about_once_in_twenty(seeds, most):
    rows = [row for seed in range(seeds) for row in day_block_bands(*shared_days(True, seed)) if row[0]]
    out = sum(not low <= happened <= high for _, _, happened, low, high in rows)
    assert out <= most


def test_a_wrong_risk_falls_out_of_its_band():
    stated, happened, days = shared_days(False, 5)
    row = day_block_bands(stated + 0.05, happened, days)[3]
    assert row[2] < row[3]


def test_the_bands_of_a_seed_are_the_same_and_empty_groups_have_none():
    one, two = (day_block_bands(*shared_days(True, 1)) for _ in range(2))
    assert np.array_equal(one, two, equal_nan=True)
    assert np.isnan(one[0, 1:]).all()


def test_dates_serve_as_days():
    stated, happened, days = shared_days(True, 1)
    dates = np.datetime64("2026-01-01") + days
    assert np.array_equal(
        day_block_bands(stated, happened, dates), day_block_bands(stated, happened, days), equal_nan=True
    )
