"""The table of the published normals: dates by risk at several thresholds, and the season between."""

import datetime as dt
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from frostgate.climate.fits import fit_curve
from frostgate.climate.frosts import first_frosts, last_frosts
from frostgate.climate.normals import LEVELS, THRESHOLDS_C, tabulate_lengths, tabulate_side
from frostgate.climate.years import find_trend
from frostgate.errors import TooFewSeasonsError
from frostgate.model.records import DailyMinima, Station
from frostgate.seasons import NORTH, SLOTS
from frostgate.units import fahrenheit
from tests.strategies import frost_dates, given_curve, risk_at


def record(first="1990-08-01", last="2020-08-01", seed=4):
    """Make thirty noisy years: minima from -9 °C at the end of January to 15 °C six months later."""
    days = np.arange(first, last, dtype="datetime64[D]")
    turn = (days - np.datetime64("1990-08-01")).astype(int) / 365.25 * 2 * np.pi
    noise = np.random.default_rng(seed).normal(0, 3, days.size)
    return DailyMinima(station=Station(id="X"), dates=days, tmin_c=3 + 12 * np.cos(turn) + noise)


@pytest.fixture(scope="module")
def tables():
    made = record()
    return {
        side: tabulate_side(made, side, THRESHOLDS_C, NORTH, kind="normal") for side in ("spring", "autumn")
    }


def test_the_levels_and_thresholds_are_those_of_the_published_normals():
    # NCEI freeze normals: nine levels of 10 to 90 %, six thresholds of 36 to 16 °F
    assert [round(level * 100) for level in LEVELS] == list(range(10, 100, 10))
    assert [round(fahrenheit(threshold_c), 9) for threshold_c in THRESHOLDS_C] == [36, 32, 28, 24, 20, 16]


@pytest.mark.parametrize("side", ["spring", "autumn"])
def test_each_threshold_has_its_frosts_and_its_bounded_curve(tables, side):
    table = tables[side]
    find = {"spring": last_frosts, "autumn": first_frosts}[side]
    for threshold_c, frosts, fitted in zip(THRESHOLDS_C, table.frosts, table.curves, strict=True):
        assert frosts.threshold_c == fitted.threshold_c == threshold_c
        np.testing.assert_array_equal(frosts.day, find(record(), threshold_c, NORTH).day)
        assert frosts.side == fitted.side == table.side == side
        assert (fitted.low <= fitted.risk).all()
        assert (fitted.risk <= fitted.high).all()


@pytest.mark.parametrize("side", ["spring", "autumn"])
def test_a_colder_threshold_is_never_likelier(tables, side):
    curves = tables[side].curves  # from 36 °F down to 16 °F
    for warm, cold in pairwise(curves):
        assert (warm.risk >= cold.risk).all()


def test_dates_fall_in_spring_and_rise_in_autumn_with_the_level(tables):
    spring, autumn = ([curve.day_at_risk(level) for level in LEVELS] for curve in
                      (tables["spring"].curves[1], tables["autumn"].curves[1]))  # fmt: skip
    assert spring == sorted(spring, reverse=True)
    assert autumn == sorted(autumn)


@pytest.mark.parametrize("side", ["spring", "autumn"])
def test_only_the_years_asked_for_are_used(side):
    table = tabulate_side(record(), side, [0.0], NORTH, years=(1995, 2010))
    assert (table.curves[0].first_year, table.curves[0].last_year) == (1995, 2010)
    assert table.frosts[0].years.size == 16


def warming():
    """Make ninety years whose frosts come earlier in spring and later in autumn, year by year."""
    made = record(first="1930-08-01")
    since = (made.dates - made.dates[0]).astype(int) / 365.25
    return replace(made, tmin_c=made.tmin_c + 0.05 * since)


@pytest.mark.parametrize("side", ["spring", "autumn"])
@pytest.mark.parametrize(
    ("asked", "years", "basis", "used"),
    [(None, None, "trend", 90), ("all", None, "all", 90), ("recent", None, "recent", 30),
     (None, (1941, 2020), "all", 80), ("best", (1941, 2020), "trend", 80)],
)  # fmt: skip
def test_curves_rest_on_the_years_asked_for_or_chosen(side, asked, years, basis, used):
    table = tabulate_side(warming(), side, [0.0, -2.2], NORTH, kind="normal", basis=asked, years=years)
    assert (table.choice.basis, table.choice.threshold_c) == (basis, 0.0)
    # autumns begin and end a year before springs do
    assert {curve.seasons_used for curve in table.curves} <= {used, used - 1}
    for frosts, trend in zip(table.frosts, table.trends, strict=True):
        assert trend == find_trend(frosts)  # of all the years
    assert (table.trends[0].days_per_decade < -1) == (side == "spring")


def test_the_years_are_chosen_by_the_freezing_point_though_it_was_not_asked_for():
    table = tabulate_side(warming(), "spring", [-2.2], NORTH, kind="normal")
    assert table.choice == tabulate_side(warming(), "spring", [0.0], NORTH, kind="normal").choice


def test_lengths_rest_on_the_years_of_both_sides():
    sides = {
        basis: [
            tabulate_side(warming(), side, [0.0], NORTH, kind="normal", basis=basis)
            for side in ("spring", "autumn")
        ]
        for basis in ("all", "recent", "trend")
    }
    middle = {
        basis: tabulate_lengths(*(table.used for table in two), "normal", [0.5])[0].days
        for basis, two in sides.items()
    }
    shift = sum(abs(table.trends[0].days_per_decade) for table in sides["all"])
    assert middle["all"] < middle["recent"] < middle["trend"]
    assert middle["trend"] - middle["all"] == pytest.approx(4.45 * shift, rel=0.1)  # half of 89 years


def test_the_rules_of_counting_reach_the_frosts():
    made = record()
    cold = made.tmin_c.copy()
    cold[made.dates == np.datetime64("1991-06-20")] = 0.0
    cold[made.dates == np.datetime64("1992-07-01")] = np.nan
    edited = DailyMinima(station=made.station, dates=made.dates, tmin_c=cold)
    usual, strict, below = (
        tabulate_side(edited, "spring", [0.0], NORTH, kind="normal", **rules).frosts[0]
        for rules in ({}, {"completeness": "strict"}, {"inclusive": False})
    )
    assert usual.date(0) == dt.date(1991, 6, 20) != below.date(0)
    assert (usual.states[1], strict.states[1]) == ("frost", "unknown")


def test_a_record_of_few_seasons_has_no_table():
    with pytest.raises(TooFewSeasonsError, match="only 8 of 8 seasons are known"):
        tabulate_side(record(last="1998-08-01"), "spring", [0.0], NORTH)


@pytest.mark.parametrize(
    ("step", "side", "date"),
    [
        (252.0, "spring", "04-10"),  # slot 253
        (253.0, "spring", "04-11"),
        (68.0, "autumn", "10-08"),  # slot 68
    ],
)
def test_a_step_between_two_days_gives_the_day_it_lies_before(step, side, date):
    # spring: the risk is 1 until slot `step`, 0 from the next; autumn: 0 until `step`, 1 from the next
    falling = np.where(np.arange(SLOTS) <= step, 1.0, 0.0)
    risk = falling if side == "spring" else 1 - falling
    assert given_curve(risk, side).date_at(0.1) == date


def test_the_date_at_a_level_is_the_first_day_with_no_more_risk_on_later_days():
    spring = given_curve(np.clip((300 - np.arange(SLOTS)) / 97, 0, 1))
    autumn = given_curve(np.clip((np.arange(SLOTS) - 40) / 97, 0, 1), "autumn")
    months = [str(day)[5:] for day in np.arange("2023-08-01", "2024-08-01", dtype="datetime64[D]")]
    for level in (0.05, 0.1, 0.33, 0.5, 0.9):
        # a frost on whole day k counts as one at k; "later than d" begins half a day behind d
        later = [risk_at(spring, day + 0.5) <= level for day in range(SLOTS)]
        earlier = [risk_at(autumn, day - 0.5) <= level for day in range(SLOTS)]
        assert spring.date_at(level) == spring.date_at(level)
        assert spring.date_at(level) == months[later.index(True)]
        assert autumn.date_at(level) == months[SLOTS - 1 - earlier[::-1].index(True)]


@pytest.mark.parametrize("side", ["spring", "autumn"])
def test_a_level_at_or_above_the_share_has_no_date(side):
    risk = np.linspace(0.345, 0, SLOTS)
    made = given_curve(risk if side == "spring" else risk[::-1], side)
    assert made.date_at(0.5) is made.date_at(0.345) is None  # never extrapolate
    assert made.date_at(0.3) is not None


@pytest.mark.parametrize("kind", ["best", "normal", "empirical"])
def test_the_length_of_a_season_falls_as_its_chance_rises(tables, kind):
    rows = tabulate_lengths(tables["spring"].used, tables["autumn"].used, kind)
    assert [(row.threshold_c, row.chance) for row in rows] == [
        (t, level) for t in THRESHOLDS_C for level in LEVELS
    ]
    for threshold_c in THRESHOLDS_C:
        days = [row.days for row in rows if row.threshold_c == threshold_c]
        assert days == sorted(days, reverse=True)


def test_a_colder_threshold_has_a_longer_season(tables):
    rows = tabulate_lengths(tables["spring"].used, tables["autumn"].used, levels=[0.5])
    lengths = [row.days for row in rows]
    assert lengths == sorted(lengths)


def test_lengths_are_fitted_themselves_and_not_as_a_difference_of_dates():
    # a late spring comes with an early autumn here: the lengths vary by twice as much as either date
    day = np.arange(30.0) - 15
    spring, autumn = frost_dates(255 + day), frost_dates(65 - day, "autumn")
    rows = tabulate_lengths([spring], [autumn], "normal", [0.1, 0.5, 0.9])
    middle = (dt.date(2023, 10, 5) - dt.date(2023, 4, 12)).days  # slots 65 and 255
    sd = 2 * day.std(ddof=1)
    assert [row.days for row in rows] == pytest.approx(
        [middle + 1 + 1.28155 * sd, middle + 1, middle + 1 - 1.28155 * sd], abs=0.15
    )  # + 1: the mean of `day` is -0.5
    assert all(row.days == round(row.days, 1) for row in rows)


def test_a_length_that_too_few_seasons_reach_has_no_days():
    # 12 of 30 seasons end without a frost: no length is reached by fewer than 40 %
    spring = frost_dates(255 + np.arange(30.0) % 7)
    autumn = frost_dates(np.where(np.arange(30) < 12, np.inf, 65.0 + np.arange(30) % 5), "autumn")
    days = {row.chance: row.days for row in tabulate_lengths([spring], [autumn], "normal")}
    assert [chance for chance, length in days.items() if length is None] == [0.1, 0.2, 0.3, 0.4]
    assert days[0.5] is not None


def test_a_threshold_with_too_few_lengths_is_left_out():
    spring = frost_dates(np.full(30, 255.0))
    nine, thirty = (frost_dates(np.full(30, 65.0), "autumn", first_year=year) for year in (2012, 1991))
    colder = replace(spring, threshold_c=-2.2)
    rows = tabulate_lengths([spring, colder], [nine, thirty], levels=[0.5])
    assert [row.threshold_c for row in rows] == [-2.2]


def test_a_threshold_with_too_few_seasons_is_refused_with_its_reason_and_the_others_stay():
    # every third morning of May is missing: it may hide a frost of 32 °F, none of 16 °F
    made = record()
    month = made.dates.astype("datetime64[M]").astype(int) % 12 + 1
    lost = (month == 5) & (np.arange(made.dates.size) % 3 == 0)
    gappy = DailyMinima(station=made.station, dates=made.dates, tmin_c=np.where(lost, np.nan, made.tmin_c))
    table = tabulate_side(gappy, "spring", [0.0, THRESHOLDS_C[-1]], NORTH)
    assert [curve.threshold_c for curve in table.curves] == [THRESHOLDS_C[-1]]
    assert len(table.frosts) == 2
    (refused,) = table.refused
    assert refused[0] == 0.0
    assert "too few to say anything. Use a station with at least 10 known seasons" in refused[1]


def test_a_side_of_the_year_is_fitted_as_a_single_curve_is():
    table = tabulate_side(record(), "autumn", [0.0], NORTH, kind="skewed")
    np.testing.assert_array_equal(
        table.curves[0].risk, fit_curve(first_frosts(record(), 0.0, NORTH), "skewed").risk
    )
