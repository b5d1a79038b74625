"""Real minima that another package ships, by a route that knows nothing of season days.

The package is only looked for, never imported: its folder holds text files of day, month, year and minimum.
"""

import importlib.util
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from frostgate.climate.fits import FITS, fit_curve
from frostgate.climate.frosts import first_frosts, last_frosts
from frostgate.climate.quality import find_hemisphere
from frostgate.model.records import DailyMinima, Station
from frostgate.seasons import NORTH

STATIONS = ["brussels", "cambridge", "champion", "tunis"]
THRESHOLDS_C = [2.2, 0.0, -2.2]


@pytest.fixture(scope="module", params=STATIONS)
def table(request):
    found = importlib.util.find_spec("aquacrop")
    if found is None:
        pytest.skip("needs the package aquacrop, which ships real minima")
    path = Path(found.origin).parent / "data" / f"{request.param}_climate.txt"
    read = pd.read_csv(path, sep=r"\s+", usecols=[0, 1, 2, 3])
    days = pd.to_datetime(read[["Day", "Month", "Year"]].rename(columns=str.lower))
    return pd.Series(read["Tmin(C)"].to_numpy(), index=days, name=request.param)


@pytest.fixture
def record(table):
    return DailyMinima(
        station=Station(id=str(table.name)), dates=table.index.to_numpy(), tmin_c=table.to_numpy()
    )


def by_pandas(table, threshold_c, pick, months):
    """Give each cold season's last (first) frost from a shift of the calendar by its months."""
    cold = table[table.round(1) <= threshold_c]
    shifted = (cold.index - pd.DateOffset(months=months)).year
    return cold.groupby(shifted).apply(lambda frosts: getattr(frosts.index, pick)().date()).to_dict()


def full_seasons(table):
    """Give the starting years of the seasons of which every day is there."""
    first, last = table.index[0], table.index[-1]
    return [
        year
        for year in range(first.year - 1, last.year + 1)
        if first <= pd.Timestamp(year, 8, 1) and last >= pd.Timestamp(year + 1, 7, 31)
    ]


def test_the_files_hold_every_day_once(table, record):
    assert len(table) > 8000
    assert record.known == record.dates.size == (table.index[-1] - table.index[0]).days + 1
    assert find_hemisphere(record) == NORTH


@pytest.mark.parametrize("threshold_c", THRESHOLDS_C)
def test_last_frosts_are_those_of_a_group_by_seasons(table, record, threshold_c):
    theirs = by_pandas(table, threshold_c, "max", 7)
    frosts = last_frosts(record, threshold_c, NORTH)
    ours = {int(year) - 1: frosts.date(i) for i, year in enumerate(frosts.years)}
    seasons = full_seasons(table)
    assert len(seasons) >= 20
    assert {year: ours[year] for year in seasons} == {year: theirs.get(year) for year in seasons}


@pytest.mark.parametrize("threshold_c", THRESHOLDS_C)
def test_first_frosts_are_those_of_a_group_by_seasons(table, record, threshold_c):
    theirs = by_pandas(table, threshold_c, "min", 7)
    frosts = first_frosts(record, threshold_c, NORTH)
    ours = {int(year): frosts.date(i) for i, year in enumerate(frosts.years)}
    seasons = full_seasons(table)
    assert {year: ours[year] for year in seasons} == {year: theirs.get(year) for year in seasons}


def test_a_frost_on_a_leap_day_is_dated_on_that_day(table, record):
    leap_days = record.dates[(table.index.month == 2) & (table.index.day == 29)]
    assert leap_days.size >= 5
    only = DailyMinima(station=record.station, dates=record.dates,
                       tmin_c=np.where(np.isin(record.dates, leap_days), -1.0, 9.0))  # fmt: skip
    last, first = last_frosts(only, 0.0, NORTH), first_frosts(only, 0.0, NORTH)
    assert [date for date in map(last.date, range(last.years.size)) if date] == leap_days.tolist()
    later = leap_days[
        leap_days > record.dates[0] + 366
    ].tolist()  # the first autumn may lie before the record
    assert [date for date in map(first.date, range(1, first.years.size)) if date] == later


@pytest.mark.parametrize("kind", FITS)
def test_the_curve_of_real_minima_gives_the_shares_that_came(record, kind):
    frosts = last_frosts(record, 0.0, NORTH)
    curve = fit_curve(frosts, kind)
    known = frosts.known
    assert (np.diff(curve.risk) <= 0).all()
    assert curve.frost_share == pytest.approx(np.isfinite(known).mean())
    for day in range(100, 330, 10):
        came = (np.mean(known > day) + np.mean(known >= day)) / 2
        assert curve.risk[day] == pytest.approx(came, abs=0.10)  # measured: 0.087 at most


def test_a_warm_coast_has_springs_without_a_frost(table, record):
    frosts = last_frosts(record, 0.0, NORTH)
    none = frosts.states.count("none")
    expected = len([year for year in full_seasons(table) if year not in by_pandas(table, 0.0, "max", 7)])
    assert none == expected
    assert (none > 0) == (table.name == "tunis")


def test_a_record_that_ends_in_december_does_not_know_its_next_spring_and_one_of_may_does(table, record):
    last = table.index[-1]
    assert last_frosts(record, 0.0, NORTH).years[-1] == last.year + (last.month > 7)
    known = last_frosts(record, 0.0, NORTH).states[-1] != "unknown"
    assert known == ((last.month, last.day) == (5, 31))  # by then no frost has come to Tunis for two months
