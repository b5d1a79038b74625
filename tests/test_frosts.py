"""Daily minima into frost dates; what is missing is never taken for warm."""

import datetime as dt

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from frostgate.climate.frosts import (
    COMPLETENESS,
    HIDDEN_FROST_LIMIT,
    first_frosts,
    last_frost_days,
    last_frosts,
    season_lengths,
)
from frostgate.errors import InputError
from frostgate.model.records import DailyMinima, FrostDates, Station
from frostgate.seasons import NORTH, SLOTS, SOUTH, SeasonStart, season_day_of
from frostgate.units import STORED_STEP_C, WHOLE_F_STEP_C, celsius

WARM_C = 9.0


def record(cold, first="1990-08-01", last="2000-08-01", missing=()):
    """Make a warm record with the minima of some days given [°C], and others missing."""
    dates = np.arange(first, last, dtype="datetime64[D]")
    tmin_c = np.full(dates.size, WARM_C)
    for day, value in cold.items():
        tmin_c[dates == np.datetime64(day)] = value
    for gap in missing:
        lost_from, lost_to = (np.datetime64(day) for day in (gap if isinstance(gap, tuple) else (gap, gap)))
        tmin_c[(dates >= lost_from) & (dates <= lost_to)] = np.nan
    return DailyMinima(station=Station(id="X"), dates=dates, tmin_c=tmin_c)


def yearly(month_day, value=-1.0, years=range(1991, 2001)):
    return {f"{year}-{month_day}": value for year in years}


def days(cold, find=last_frosts, threshold_c=0.0, start=NORTH, missing=(), **rules):
    return find(record(cold, missing=missing), threshold_c, start, **rules)


def test_the_last_of_several_frosts_counts_in_spring_and_the_first_in_autumn():
    cold = {"1990-10-09": -1.0, "1990-11-20": -3.0, "1991-04-20": -0.5, "1991-03-01": -4.0}
    assert days(cold).date(0) == dt.date(1991, 4, 20)
    assert days(cold, first_frosts).date(0) == dt.date(1990, 10, 9)


def test_a_season_without_a_frost_is_none_on_its_own_side_of_infinity():
    assert days({}).day.tolist() == [-np.inf] * 10
    assert days({}, first_frosts).day.tolist() == [np.inf] * 10
    assert set(days({}).states) | set(days({}, first_frosts).states) == {"none"}


def test_springs_and_autumns_bear_their_calendar_years():
    assert days({}).years.tolist() == list(range(1991, 2001))
    assert days({}, first_frosts).years.tolist() == list(range(1990, 2000))


def test_a_frost_before_new_year_can_be_the_last_of_the_season():
    frosts = days({"1990-12-24": -1.0})
    assert (frosts.years[0], frosts.date(0)) == (1991, dt.date(1990, 12, 24))


def test_a_frost_after_new_year_can_be_the_first_of_the_season():
    frosts = days({"1991-01-06": -1.0}, first_frosts)
    assert (frosts.years[0], frosts.date(0)) == (1990, dt.date(1991, 1, 6))


@pytest.mark.parametrize("day", ["1992-02-28", "1992-02-29", "1992-03-01", "1991-02-28", "1991-03-01"])
def test_frosts_around_a_leap_day_keep_their_dates(day):
    date = dt.date.fromisoformat(day)
    index = date.year - 1991
    for find in (last_frosts, first_frosts):
        frosts = days({day: -1.0}, find)
        assert frosts.date(index) == date
        assert frosts.day[index] == season_day_of(date, NORTH)[1]


@pytest.mark.parametrize(
    ("temp_f", "stored_c"), [(36, 2.2), (32, 0.0), (28, -2.2), (24, -4.4), (20, -6.7), (16, -8.9)]
)  # computed: whole °F as GHCN-Daily stores them, tenths of °C
@pytest.mark.parametrize("find", [last_frosts, first_frosts])
def test_a_whole_fahrenheit_frost_is_found_at_its_own_threshold(find, temp_f, stored_c):
    cold = {"1991-01-15": stored_c}
    threshold_c = celsius(float(temp_f))
    assert days(cold, find, threshold_c).states[0] == "frost"
    assert days(cold, find, threshold_c, inclusive=False).states[0] == "none"
    assert days(cold, find, celsius(temp_f - 1.0)).states[0] == "none"
    assert days(cold, find, celsius(temp_f + 1.0), inclusive=False).states[0] == "frost"


@pytest.mark.parametrize("temp_f", [31, 28, 24, 16])
@pytest.mark.parametrize("find", [last_frosts, first_frosts])
def test_a_record_stored_a_tenth_too_warm_keeps_its_frosts_at_a_warmer_threshold(find, temp_f):
    # recent US records store int(10 c + 0.5): 28 °F as -2.1 °C; what 28.25 °F damages, 28 °F damages
    stored_c = int(celsius(float(temp_f)) * 10 + 0.5) / 10
    dates = np.arange("1990-08-01", "1991-08-01", dtype="datetime64[D]")
    tmin_c = np.where(dates == np.datetime64("1991-01-15"), stored_c, 10.0)
    made = DailyMinima(station=Station(id="X"), dates=dates, tmin_c=tmin_c)
    for threshold_c in (celsius(float(temp_f)), celsius(temp_f + 0.25)):
        assert find(made, threshold_c, NORTH).states == ("frost",), threshold_c


@pytest.mark.parametrize(
    ("tmin_c", "inclusive", "strict"),
    [(-0.1, "frost", "frost"), (0.0, "frost", "none"), (0.1, "none", "none")],
)
def test_the_threshold_itself_is_a_frost_unless_told_otherwise(tmin_c, inclusive, strict):
    assert days({"1991-01-15": tmin_c}).states[0] == inclusive
    assert days({"1991-01-15": tmin_c}, inclusive=False).states[0] == strict


def test_a_flagged_low_is_missing_and_no_frost():
    cold = yearly("04-20") | {"1991-05-06": np.nan}
    assert days(cold, completeness="strict").states[0] == "unknown"
    assert days(cold).date(0) == dt.date(1991, 4, 20)  # no season has a frost near 6 May


@pytest.mark.parametrize("completeness", COMPLETENESS)
def test_days_missing_before_the_last_frost_hide_nothing(completeness):
    frosts = days(yearly("04-20"), missing=[("1990-08-01", "1991-04-19")], completeness=completeness)
    assert frosts.date(0) == dt.date(1991, 4, 20)


@pytest.mark.parametrize("completeness", COMPLETENESS)
def test_days_missing_after_the_first_frost_hide_nothing(completeness):
    cold = yearly("10-09", years=range(1990, 2000))
    frosts = days(cold, first_frosts, missing=[("1990-10-10", "1991-07-31")], completeness=completeness)
    assert frosts.date(0) == dt.date(1990, 10, 9)


@pytest.mark.parametrize(
    ("gap", "chance", "strict"),
    [
        ("1991-04-21", "unknown", "unknown"),  # 29.5 of 310: near 10 %
        ("1991-04-25", "unknown", "unknown"),
        ("1991-05-08", "frost", "unknown"),  # more than 15 days from any frost: 0.2 % a day
        (("1991-05-08", "1991-05-22"), "frost", "unknown"),
        (("1991-05-08", "1991-07-31"), "unknown", "unknown"),  # but many such days add up
    ],
)
def test_a_season_is_unknown_when_missing_days_are_likely_to_hide_a_later_frost(gap, chance, strict):
    cold = yearly("04-20") | yearly("04-22") | yearly("04-10")  # three frosts a year
    assert days(cold | {"1991-04-22": WARM_C}, missing=[gap]).states[0] == chance
    assert days(cold | {"1991-04-22": WARM_C}, missing=[gap], completeness="strict").states[0] == strict


@pytest.mark.parametrize(("lost", "state"), [(1, "frost"), (2, "unknown")])
def test_the_chances_of_missing_days_add_up_to_a_limit(lost, state):
    # one frost a year on 20 April; a lost day within 15 days of it has (9 + 1 + 0.5) / (310 - lost + 1)
    cold = yearly("04-20")
    each = 10.5 / (310 - lost + 1)
    assert (lost * each > HIDDEN_FROST_LIMIT) == (state == "unknown")
    gap = ("1991-04-21", f"1991-04-{20 + lost}")
    assert days(cold, missing=[gap]).states[0] == state


@pytest.mark.parametrize("find", [last_frosts, first_frosts])
def test_a_season_without_a_minimum_is_unknown(find):
    frosts = days(yearly("12-20", years=range(1990, 2000)), find, missing=[("1994-08-01", "1995-07-31")])
    assert frosts.states == ("frost",) * 4 + ("unknown",) + ("frost",) * 5


def test_a_day_of_the_year_that_no_season_knows_is_certain_to_hide_a_frost():
    gaps = [(f"{year}-05-01", f"{year}-06-30") for year in range(1991, 2001)]
    assert set(days(yearly("04-20"), missing=gaps).states) == {"unknown"}


def test_days_beyond_the_record_are_missing_days():
    cold = {"1991-04-20": -1.0, "1991-11-02": -1.0}
    short = record(cold, first="1991-01-01", last="1992-04-01")
    assert last_frosts(short, 0.0, NORTH).states == ("frost", "unknown")  # the second spring is still to come
    assert first_frosts(short, 0.0, NORTH).states == ("unknown", "frost")  # the first autumn came before


def test_an_empty_record_has_no_seasons():
    empty = DailyMinima(station=Station(id="X"), dates=[], tmin_c=[])
    assert last_frosts(empty, 0.0, NORTH).day.size == first_frosts(empty, 0.0, SOUTH).day.size == 0


def test_frost_dates_keep_the_step_of_their_record():
    assert days({}).step_c == STORED_STEP_C
    whole_f = record(dict.fromkeys(map(str, np.arange("1990-08-01", "2000-08-01", dtype="M8[D]")), 10.0))
    assert last_frosts(whole_f, 0.0, NORTH).step_c == WHOLE_F_STEP_C  # 50 °F


def test_a_southern_frost_of_september_belongs_to_that_spring():
    # the southern season runs from 1 February to 31 January
    frosts = days({"1995-09-28": -1.0, "1995-06-30": -4.0}, start=SOUTH)
    assert frosts.date(5) == dt.date(1995, 9, 28)
    assert frosts.years[5] == 1995
    first = days({"1995-09-28": -1.0, "1995-05-03": -4.0}, first_frosts, start=SOUTH)
    assert (first.years[5], first.date(5)) == (1995, dt.date(1995, 5, 3))


def test_another_split_moves_the_season_days_and_not_the_dates():
    cold = yearly("04-20")
    july = SeasonStart(month=7, day=24)
    assert days(cold, start=july).date(0) == days(cold).date(0) == dt.date(1991, 4, 20)
    assert days(cold, start=july).day[0] - days(cold).day[0] == 8


def test_sites_and_thresholds_are_searched_at_once():
    grid = np.full((SLOTS, 2, 3), WARM_C)
    grid[200, 0, :], grid[250, 0, 1], grid[100, 1, 2] = -3.0, -0.5, -9.0
    found = last_frost_days(grid, [0.0, -2.2])
    none = -np.inf
    assert_array_equal(found, [[[200, 250, 200], [none, none, 100]], [[200, 200, 200], [none, none, 100]]])


def test_an_unknown_rule_of_completeness_is_refused():
    with pytest.raises(InputError, match="no such rule of completeness: 'half'") as caught:
        last_frost_days(np.zeros((SLOTS, 1)), [0.0], completeness="half")
    assert "chance" in caught.value.remedy
    assert "strict" in caught.value.remedy


def frosts(day, side, years, start=NORTH):
    return FrostDates(side=side, threshold_c=0.0, start=start, years=years, day=day)


def test_a_season_length_counts_the_days_between_the_two_dates():
    # 10 May to 10 October, 20 April to 1 November, by hand: 153 and 195; the leap day lies in neither
    years = [2023, 2024]
    dates = {"spring": [dt.date(2023, 5, 10), dt.date(2024, 4, 20)],
             "autumn": [dt.date(2023, 10, 10), dt.date(2024, 11, 1)]}  # fmt: skip
    spring, autumn = (
        frosts([season_day_of(date, NORTH)[1] for date in dates[side]], side, years) for side in dates
    )
    assert [array.tolist() for array in season_lengths(spring, autumn)] == [years, [153, 195]]


def test_a_season_over_a_leap_day_is_a_day_longer():
    spring = [frosts([140], "spring", [year]) for year in (2023, 2024)]  # 19 December before
    autumn = [frosts([60], "autumn", [year]) for year in (2023, 2024)]
    lengths = [season_lengths(last, first)[1][0] for last, first in zip(spring, autumn, strict=True)]
    assert lengths == [285, 286]  # to 30 September: 12 + 273 and 12 + 274 days


@pytest.mark.parametrize(
    ("spring", "autumn", "length"),
    [(-np.inf, 60, np.inf), (250, np.inf, np.inf), (np.nan, 60, np.nan), (250, np.nan, np.nan),
     (-np.inf, np.nan, np.nan), (-np.inf, np.inf, np.inf)],
)  # fmt: skip
def test_a_season_without_both_frosts_has_no_end_or_is_unknown(spring, autumn, length):
    _, lengths = season_lengths(frosts([spring], "spring", [2023]), frosts([autumn], "autumn", [2023]))
    assert_array_equal(lengths, [length])


def test_only_years_with_both_sides_have_a_length():
    years, lengths = season_lengths(
        frosts([250, 250], "spring", [2022, 2023]), frosts([60, 60], "autumn", [2023, 2024])
    )
    assert (years.tolist(), lengths.size) == ([2023], 1)


def test_a_southern_season_ends_in_the_next_autumn():
    spring = frosts([240, 241], "spring", [2001, 2002], SOUTH)  # 28 September 2001
    autumn = frosts([90, 91], "autumn", [2001, 2002], SOUTH)  # 1 May 2001, 2 May 2002
    years, lengths = season_lengths(spring, autumn)
    assert years.tolist() == [2001]
    assert lengths.tolist() == [(dt.date(2002, 5, 2) - dt.date(2001, 9, 28)).days]
