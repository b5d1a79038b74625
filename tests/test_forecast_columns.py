"""The columns of a forecast table, by their names."""

import math
from pathlib import Path

import pytest

from frostgate.errors import InputError
from frostgate.sources.forecasts.tables import known_column, known_columns, sd_from_quantiles
from frostgate.sources.text import Spot

SPOT = Spot(file=Path("f.csv"), line=3)


@pytest.mark.parametrize(
    ("name", "kind", "number", "unit"),
    [
        ("date", "date", 0, None),
        ("Date", "date", 0, None),
        ("issued", "issued", 0, None),
        ("tmin", "minimum", 0, None),
        ("tmin_c", "minimum", 0, "C"),
        ("TMIN_F", "minimum", 0, "F"),
        ("tmin (°C)", "minimum", 0, "C"),
        ("tmin [F]", "minimum", 0, "F"),
        ("low", "minimum", 0, None),
        ("low(°f)", "minimum", 0, "F"),
        ("sd", "spread", 0, None),
        ("spread_c", "spread", 0, "C"),
        ("q10", "quantile", 10, None),
        ("p2.5_f", "quantile", 2.5, "F"),
        ("q50 (°C)", "quantile", 50, "C"),
        ("member_1", "member", 1, None),
        ("member01", "member", 1, None),
        ("m12_c", "member", 12, "C"),
    ],
)
def test_a_column_is_known_by_its_name(name, kind, number, unit):
    column = known_column(5, name)
    assert (column.kind, column.number, column.unit, column.index) == (kind, number, unit, 5)


@pytest.mark.parametrize("name", ["rain", "tmax_c", "tmin_k", "q", "member", "lowest", "date_c", "tmin2", ""])
def test_other_columns_are_not_known(name):
    assert known_column(0, name) is None


def test_quantiles_and_members_are_sorted_by_their_number():
    found = known_columns(["m2", "date", "m10", "m1", "tmin"], SPOT)
    assert [column.name for column in found["member"]] == ["m1", "m2", "m10"]


@pytest.mark.parametrize(
    ("header", "what", "value"),
    [
        (["date"], "no column of minima", "date"),
        (["date", "q10", "q90"], "no column of minima", "date, q10, q90"),
        (["date", "sd_c"], "no column of minima", "date, sd_c"),
        (["date", "tmin_c", "tmin_f"], "two columns say the same", "tmin_c, tmin_f"),
        (["date", "tmin", "low"], "two columns say the same", "tmin, low"),
        (["date", "Date", "low"], "two columns say the same", "date, Date"),
        (["date", "q50", "p50"], "two columns say the same", "q50, p50"),
        (["date", "low", "sd", "q10"], "more than one kind of spread", "sd, q10"),
        (["date", "m1", "m2", "m3", "q10"], "more than one kind of spread", "q10, m1, m2, m3"),
        (["date", "m1", "m2"], "fewer than 3 members", "m1, m2"),
        (["date", "low", "q0", "q50"], "a quantile lies between 0 and 100", "q0, q50"),
        (["date", "q50", "q100"], "a quantile lies between 0 and 100", "q50, q100"),
    ],
)
def test_columns_that_cannot_be_together_are_refused_by_name(header, what, value):
    with pytest.raises(InputError, match=what) as caught:
        known_columns(header, SPOT)
    assert (caught.value.file, caught.value.line, caught.value.value) == ("f.csv", 3, value)


def test_the_sd_comes_from_the_cold_side():
    # normal quantile of 10 % is -1.281552 (tables of the standard normal)
    assert sd_from_quantiles({10: -3.0, 50: 1.0, 90: 2.0}) == pytest.approx(4.0 / 1.281552, rel=1e-6)
    assert sd_from_quantiles({90: 2.0, 50: 1.0, 10: -3.0}) == pytest.approx(4.0 / 1.281552, rel=1e-6)


def test_the_lowest_quantile_speaks_for_the_cold_side():
    # normal quantile of 2.5 % is -1.959964
    assert sd_from_quantiles({2.5: -3.0, 25: 0.5, 50: 1.0}) == pytest.approx(4.0 / 1.959964, rel=1e-6)


@pytest.mark.parametrize(
    ("levels", "quantiles"),
    [
        ([50, 90], [1.0, 2.0]),
        ([10, 90], [0.0, 2.0]),
        ([10, 50], [math.nan, 2.0]),
        ([10, 50], [1.0, math.nan]),
    ],
    ids=["no cold side", "no median", "lowest missing", "median missing"],
)
def test_without_median_or_cold_side_there_is_no_sd(levels, quantiles):
    assert math.isnan(sd_from_quantiles(dict(zip(levels, quantiles, strict=True))))
