"""Every spring of eight stations against another library's last frosts; each difference has its reason.

The reference counts in calendar years, from 1 January to 1 July inclusive, takes a missing day for a warm
one, and leaves a year without such a day blank. frostgate's season runs from August to July, and a season
that may hide a later frost is unknown. Where both look at the same days, they must name the same day.
"""

import csv
import datetime as dt
from collections import Counter
from typing import NamedTuple

import numpy as np
import pytest

from frostgate.climate.frosts import last_frosts
from frostgate.model.records import DailyMinima
from frostgate.seasons import NORTH, SOUTH, date_range
from tests.reference.naive import NORTHERN_FILES, read_record

RULES = {  # column: threshold [°C], inclusive
    "last_doy_lt_0C": (0.0, False),
    "last_doy_le_0C": (0.0, True),
    "last_doy_le_-2.2C": (-2.2, True),
}
SAME = "the same day, or none in both"
BEFORE = "frost before 1 January"
AFTER = "frost after 1 July"
OUTSIDE = "the record does not reach that spring"


class Spring(NamedTuple):
    station: str
    year: int
    reason: str
    state: str
    missing_after: int


@pytest.fixture(scope="module")
def records(reference):
    return {station: read_record(reference, station) for station in NORTHERN_FILES}


@pytest.fixture(scope="module")
def rows(reference):
    with (reference / "ghcnd" / "xclim_0.62.0_last_spring_frost.csv").open() as lines:
        return list(csv.DictReader(lines))


@pytest.fixture(scope="module")
def springs(records, rows):
    return [
        spring
        for station, made in records.items()
        for rule in RULES
        for spring in _compare(made, rule, [row for row in rows if row["station"] == station])
    ]


def _compare(made, rule, rows):
    threshold_c, inclusive = RULES[rule]
    known = set(made.dates.tolist())
    frosts = last_frosts(made, threshold_c, NORTH, inclusive=inclusive)
    warm = last_frosts(_as_if_warm(made), threshold_c, NORTH, inclusive=inclusive)
    outcomes = {
        int(year): (state, frosts.date(i))
        for i, (year, state) in enumerate(zip(frosts.years, frosts.states, strict=True))
    }
    seen_in = {int(year): warm.date(i) for i, year in enumerate(warm.years)}
    for row in rows:
        year = int(row["year"])
        theirs = dt.date(year, 1, 1) + dt.timedelta(float(row[rule]) - 1) if row[rule] else None
        seen = seen_in[year]
        state, date = outcomes.get(year, ("absent", None))
        assert state in {"unknown", "absent"} or date == seen, (row["station"], year, rule)
        from_day = dt.date(year - 1, 8, 1) if seen is None else seen + dt.timedelta(1)
        after = set(date_range(from_day, dt.date(year, 7, 31)).tolist())
        reached = made.dates[0] <= np.datetime64(f"{year}-07-01") and made.dates[-1] > np.datetime64(
            f"{year}-02-01"
        )
        reason = _reason(theirs, seen, year) if reached else OUTSIDE
        yield Spring(row["station"], year, reason, state, len(after - known))


def _as_if_warm(made):
    """Give the record with every missing day a warm one, as the reference has it."""
    first, last = made.dates[[0, -1]].astype("datetime64[Y]")
    days = np.arange(first - 1, last + 2, dtype="datetime64[D]")
    tmin_c = np.full(days.size, 50.0)
    tmin_c[np.searchsorted(days, made.dates)] = made.tmin_c
    return DailyMinima(station=made.station, dates=days, tmin_c=tmin_c)


def _reason(theirs, seen, year):
    if seen == theirs:
        return SAME
    if theirs is None and seen < dt.date(year, 1, 1):
        return BEFORE
    return AFTER if seen > dt.date(year, 7, 1) else "unexplained"


def test_the_stations_were_read_as_the_reference_read_them(records, rows):
    days_of = {station: set(made.dates.tolist()) for station, made in records.items()}
    assert {row["station"] for row in rows} == set(days_of)
    for row in rows:
        year = int(row["year"])
        days = set(date_range(dt.date(year, 1, 1), dt.date(year, 6, 30)).tolist())
        assert len(days - days_of[row["station"]]) == int(row["missing_jan1_jun30"]), (row["station"], year)


def test_every_difference_has_its_reason(springs):
    # measured: 645 springs by three rules; nothing freezes here after 1 July
    assert Counter(spring.reason for spring in springs) == {SAME: 1853, BEFORE: 76, OUTSIDE: 6}
    assert {spring[:2] for spring in springs if spring.reason == OUTSIDE} == {
        ("USW00023174", 1944),  # begins in August
        ("USW00094728", 2020),  # ends in January
    }


def test_a_season_without_a_missing_day_after_its_frost_is_known(springs):
    complete = [spring for spring in springs if spring.missing_after == 0]
    assert len(complete) == 1700  # measured, of 1935
    assert {spring.state for spring in complete} == {"frost", "none"}


def test_an_unknown_season_has_missing_days_after_the_last_frost_seen(springs):
    unknown = [spring for spring in springs if spring.state == "unknown"]
    assert len(unknown) == 114  # measured, of 1935
    assert all(spring.missing_after > 0 for spring in unknown)


def test_southern_springs_lie_outside_the_references_window(reference):
    made = read_record(reference, "ASN00064008")
    frosts = last_frosts(made, 0.0, SOUTH)
    months = [frosts.date(i).month for i, state in enumerate(frosts.states) if state == "frost"]
    assert len(months) == 62  # measured
    assert set(months) <= {7, 8, 9, 10, 11}
    assert Counter(months).most_common(1)[0][0] == 9
