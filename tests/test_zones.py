"""Hardiness zones: their public bounds, and which winters their mean rests on."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy import stats

from frostgate.climate.zones import (
    HALVES,
    ZONES,
    MeanExtreme,
    average_extremes,
    mean_extreme,
    yearly_extremes,
    zone_of,
    zones_named,
)
from frostgate.errors import InputError, TooFewSeasonsError
from frostgate.model.records import DailyMinima, Station
from frostgate.seasons import NORTH, SOUTH, SeasonStart
from frostgate.units import celsius, fahrenheit

# Lower bound °F = 10 z - 70, 5 more for b; half zones in °C to a tenth: the public definition, as the ZIP
# file of the 2023 map (PRISM Group, Oregon State University) has them: "7b: 5 to 10".
PUBLIC_C = {
    "5b": (-26.1, -23.3),
    "6a": (-23.3, -20.6),
    "6b": (-20.6, -17.8),
    "7a": (-17.8, -15.0),
    "7b": (-15.0, -12.2),
    "8a": (-12.2, -9.4),
    "8b": (-9.4, -6.7),
}


def record_of(
    coldest: dict[int, float],
    start: SeasonStart = NORTH,
    *,
    on: str = "01-20",
    unknown: tuple[str, ...] = (),
    usual: float = 41.0,
) -> DailyMinima:
    """Make a record in °F: mild days and, each winter, one coldest night; ``unknown`` days lack a minimum."""
    first, last = min(coldest), max(coldest)
    begin = f"{first - start.spring_lag}-{start.month:02d}-01"
    days = np.arange(begin, f"{last + 1 - start.spring_lag}-{start.month:02d}-01", dtype="datetime64[D]")
    degrees = np.full(days.size, usual)
    for year, temp_f in coldest.items():
        degrees[days == np.datetime64(f"{year}-{on}")] = temp_f
    tmin_c = celsius(degrees)
    for text in unknown:
        begins, ends = (text.split("/") * 2)[:2]
        tmin_c[(days >= np.datetime64(begins)) & (days <= np.datetime64(ends))] = np.nan
    return DailyMinima(station=Station(id="X"), dates=days, tmin_c=tmin_c)


def winters(count: int, temp_f: float = 7.0, first: int = 1991) -> dict[int, float]:
    return dict.fromkeys(range(first, first + count), temp_f)


@pytest.mark.parametrize(("name", "bounds"), PUBLIC_C.items())
def test_half_zones_have_the_public_bounds(name, bounds):
    (zone,) = zones_named(name)
    assert (celsius(zone.low_f), celsius(zone.high_f)) == pytest.approx(bounds, abs=0.05)


@pytest.mark.parametrize(
    ("temp_f", "name"),
    [
        (
            0.0,
            "7a",
        ),  # a lower bound belongs to its zone (inclusivity from memory, as the public rule is told)
        (4.99, "7a"),
        (5.0, "7b"),
        (-0.01, "6b"),
        (-30.7, "3b"),  # an encyclopedia's example of the map
        (-60.0, "1a"),
        (69.99, "13b"),
    ],
)
def test_a_mean_lies_in_its_public_half_zone(temp_f, name):
    assert zone_of(celsius(temp_f)).name == name


@pytest.mark.parametrize("number", range(1, 14))
def test_every_lower_bound_in_fahrenheit_survives_the_way_through_celsius(number):
    for half, more in (("a", 0.0), ("b", 5.0)):
        low_f = 10.0 * number - 70.0 + more
        assert zone_of(celsius(low_f)).name == f"{number}{half}"
        assert zone_of(celsius(low_f - 0.001)).name != f"{number}{half}"
        assert zones_named(f"{number}{half}")[0].low_f == low_f


@pytest.mark.parametrize(
    ("temp_f", "name", "bound_f"), [(-60.1, "colder than 1a", -60.0), (70.0, "warmer than 13b", 70.0)]
)
def test_beyond_the_public_zones_nothing_is_clipped_into_the_last_one(temp_f, name, bound_f):
    zone = zone_of(celsius(temp_f))
    assert zone.name == name
    assert bound_f in {zone.low_f, zone.high_f}
    assert math.isinf(zone.low_f) != math.isinf(zone.high_f)


def test_zones_leave_no_gap_and_never_overlap():
    assert all(zone.high_f == warmer.low_f for zone, warmer in itertools.pairwise(ZONES))
    assert len(ZONES) == len(HALVES) + 2


@pytest.mark.parametrize("temp_c", [math.nan, math.inf])
def test_what_is_no_temperature_has_no_zone(temp_c):
    with pytest.raises(InputError, match="no temperature"):
        zone_of(temp_c)


@pytest.mark.parametrize(
    ("text", "names"), [("8a", "8a"), (" 8B ", "8b"), ("8", "8a 8b"), ("1", "1a 1b"), ("13", "13a 13b")]
)
def test_a_zone_is_named_by_half_or_whole(text, names):
    assert " ".join(zone.name for zone in zones_named(text)) == names


@pytest.mark.parametrize("text", ["", "8c", "0a", "14a", "a", "colder than 1a", "8a b"])
def test_a_name_of_no_zone_is_refused_with_what_to_write(text):
    with pytest.raises(InputError, match="Name one from 1a to 13b"):
        zones_named(text)


@pytest.mark.parametrize(("start", "on"), [(NORTH, "12-28"), (NORTH, "02-03"), (SOUTH, "07-10")])
def test_one_winter_is_one_value_whichever_side_of_new_year_it_is_cold(start, on):
    coldest = {year: float(year - 2000) for year in range(2001, 2013)}
    years, extremes_c = yearly_extremes(record_of(coldest, start, on=on), start)
    found = dict(zip(years.tolist(), np.round(fahrenheit(extremes_c), 6).tolist(), strict=True))
    shift = 1 if on == "12-28" else 0  # a night of December belongs to the winter of the next spring
    assert [found[year + shift] for year in range(2002, 2012)] == [
        coldest[year] for year in range(2002, 2012)
    ]


def test_whole_fahrenheit_degrees_are_averaged_as_observed_not_as_stored():
    # 4 °F is stored as -15.6 °C, which is 3.92 °F, and 7 °F as -13.9, which is 6.98: a mean of 4.94, not of 5
    record = record_of({year: (4.0, 4.0, 7.0)[year % 3] for year in range(1990, 2002)})
    assert fahrenheit(np.unique(record.tmin_c)[:2]).tolist() == pytest.approx([3.92, 6.98])
    extreme = mean_extreme(record, NORTH)
    assert fahrenheit(extreme.mean_c) == pytest.approx(5.0, abs=1e-9)
    assert extreme.zone.name == "7b"


def test_a_record_in_tenths_of_celsius_is_averaged_as_it_stands():
    days = record_of(winters(10)).dates
    tmin_c = np.round(np.random.default_rng(2).normal(5.0, 3.0, days.size), 1)
    springs = days.astype("datetime64[M]").astype(int) // 12 + 1970
    springs += days.astype("datetime64[M]").astype(int) % 12 >= 7  # from August on
    record = DailyMinima(station=Station(id="X"), dates=days, tmin_c=tmin_c)
    years, extremes_c = yearly_extremes(record, NORTH)
    assert extremes_c.tolist() == [tmin_c[springs == year].min() for year in years]


def test_the_last_thirty_known_winters_count():
    coldest = winters(40)
    record = record_of(coldest, unknown=("2010-01-01/2010-02-28",))
    extreme = mean_extreme(record, NORTH)
    assert extreme.years.tolist() == [year for year in range(2000, 2031) if year != 2010]
    assert (extreme.unknown, extreme.notes) == (1, ())


def test_years_asked_for_are_those_that_count():
    extreme = mean_extreme(record_of(winters(40)), NORTH, years=(1995, 2010))
    assert (extreme.years[0], extreme.years[-1], extreme.years.size) == (1995, 2010, 16)
    assert extreme.notes == ("The zone rests on 16 known winters only; the public map averages 30.",)


def test_winters_that_lie_far_back_are_told_of():
    gone = tuple(f"{year}-01-01/{year}-02-28" for year in range(2005, 2017))
    extreme = mean_extreme(record_of(winters(45), unknown=gone), NORTH)
    assert (int(extreme.years[0]), extreme.unknown) == (1994, 12)
    assert extreme.notes == ("The zone's winters reach back to 1994: 12 since then are not known.",)


@pytest.mark.parametrize("count", [9, 10])
def test_fewer_than_ten_known_winters_have_no_zone(count):
    record = record_of(winters(count))
    if count < 10:
        with pytest.raises(TooFewSeasonsError, match="only 9 of 9 winters"):
            mean_extreme(record, NORTH)
    else:
        assert mean_extreme(record, NORTH).zone.name == "7b"


def test_a_record_without_any_minimum_has_no_zone():
    for dates in ([], ["2020-01-01"]):
        record = DailyMinima(station=Station(id="X"), dates=dates, tmin_c=[np.nan] * len(dates))
        with pytest.raises(TooFewSeasonsError, match="only 0 of"):
            mean_extreme(record, NORTH)


@pytest.mark.parametrize(
    ("missing", "known"),
    [
        ("2005-06-01/2005-07-31", True),  # no winter's coldest night ever fell there
        ("2005-01-18", True),  # 1 of the 31 days on which it may fall: 3 %
        ("2005-01-16/2005-01-18", True),  # 10 %, not above
        ("2005-01-16/2005-01-19", False),
        ("2004-08-01/2005-02-28", False),
    ],
)
def test_a_winter_is_unknown_where_its_coldest_night_may_be_missing(missing, known):
    record = record_of(winters(12, first=2000), unknown=(missing,))
    years, extremes_c = yearly_extremes(record, NORTH)
    assert bool(np.isfinite(extremes_c[years == 2005][0])) == known
    assert np.isfinite(extremes_c[years != 2005]).all()


def test_a_winter_that_is_not_over_yet_is_unknown():
    record = record_of(winters(12))
    until = record.dates <= np.datetime64("2002-01-12")
    short = DailyMinima(station=record.station, dates=record.dates[until], tmin_c=record.tmin_c[until])
    years, extremes_c = yearly_extremes(short, NORTH)
    assert years[np.isnan(extremes_c)].tolist() == [2002]


def test_the_interval_is_students_t():
    rng = np.random.default_rng(7)
    coldest = {year: float(np.round(7 + 5 * rng.normal())) for year in range(1991, 2021)}
    extreme = mean_extreme(record_of(coldest), NORTH)
    values = celsius(np.array(list(coldest.values())))
    low, high = stats.t.interval(0.9, 29, loc=values.mean(), scale=stats.sem(values))
    assert (extreme.low_c, extreme.high_c) == pytest.approx((low, high))
    assert extreme.error_c == pytest.approx(stats.sem(values))


def test_the_interval_holds_the_mean_of_nine_in_ten_samples():
    # binomial: four standard errors about 900 of 1000 are 862 to 938
    rng = np.random.default_rng(11)
    samples = -12.0 + 2.5 * rng.normal(size=(1000, 20))
    means = [average_extremes(np.arange(1991, 2011), sample, 0) for sample in samples]
    held = sum(mean.low_c <= -12.0 <= mean.high_c for mean in means)
    assert 862 <= held <= 938


def test_the_zones_of_the_interval_run_from_the_coldest_to_the_warmest():
    values = {"years": [2019], "extremes_c": [0.0], "unknown": 0, "error_c": 1.0}
    extreme = MeanExtreme(mean_c=celsius(4.0), low_c=celsius(-0.5), high_c=celsius(5.0), **values)
    assert [zone.name for zone in extreme.zones] == ["6b", "7a", "7b"]
    assert extreme.zone.name == "7a"
