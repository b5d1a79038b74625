"""Numbers computed by hand from published formulas, through curves and records.

Each was computed from the formula named beside it, independently of this code, to the digits shown.
"""

from dataclasses import replace

import numpy as np
import pytest
import scoringrules
from scipy import stats

from frostgate.climate.fits import FITS, SEASON_DAYS, crps_of_tables, fit_curve, fit_empirical, fit_normal
from frostgate.climate.frosts import first_frosts, last_frosts
from frostgate.model.curves import day_at_risk
from frostgate.model.records import DailyMinima, Station
from frostgate.seasons import NORTH, SLOTS, SOUTH
from frostgate.units import celsius, fahrenheit
from tests.reference.naive import read_record
from tests.strategies import frost_dates, given_curve, risk_at

TEN = np.array([95.0, 100, 102, 104, 105, 108, 110, 112, 118, 126])

# P(last freeze after d) = p_f (1 - F(d)), mean 100, sd 12; mixed form (Thom 1959, from memory); computed
MIXED = [(1.0, 0.1, 115.38), (1.0, 0.3, 106.29), (0.9, 0.1, 114.65), (0.9, 0.3, 105.17), (0.6, 0.1, 111.61),
         (0.6, 0.3, 100.00), (0.345, 0.1, 106.65), (0.345, 0.3, 86.51)]  # fmt: skip


def mixed(share):
    return given_curve(share * stats.norm.sf(SEASON_DAYS, 100, 12), frost_share=share)


def mixed_sample(share, size=600):
    """Give dates whose mean is 100 and whose sd is 12, and seasons without a frost beside them."""
    dates = stats.norm.ppf((np.arange(size) + 0.5) / size)
    dates = 100 + 12 * dates / dates.std(ddof=1)
    return np.concatenate([dates, np.full(round(size / share) - size, -np.inf)])


@pytest.mark.parametrize(("share", "risk", "day"), MIXED)
def test_the_mixed_formula_is_read_from_a_curve(share, risk, day):
    assert mixed(share).day_at_risk(risk) == pytest.approx(day, abs=0.02)


@pytest.mark.parametrize(("share", "risk", "day"), MIXED)
def test_a_normal_fit_of_a_large_sample_follows_the_mixed_formula(share, risk, day):
    assert day_at_risk(fit_normal(mixed_sample(share)), risk) == pytest.approx(day, abs=0.02)


@pytest.mark.parametrize("kind", FITS)
@pytest.mark.parametrize(("share", "risk", "day"), MIXED)
def test_every_fit_of_a_large_sample_comes_near_the_mixed_formula(kind, share, risk, day):
    # a logistic and a kernel are other shapes than the normal they were drawn from: within a day
    assert day_at_risk(FITS[kind](mixed_sample(share)), risk) == pytest.approx(day, abs=1.0)


@pytest.mark.parametrize("risk", [0.345, 0.5, 0.9])
def test_a_level_that_the_share_does_not_reach_has_no_date(risk):  # never extrapolate
    curve = mixed(0.345)
    assert np.isnan(curve.day_at_risk(risk))
    assert curve.date_at(risk) is None
    assert np.isnan(fit_curve(frost_dates(mixed_sample(0.345, 20))).day_at_risk(risk))


@pytest.mark.parametrize(
    ("place", "share"), [("Phoenix", 0.175), ("Tampa", 0.345), ("Los Angeles", 0.0)]
)  # share of years with 32 °F or less, NCEI normals 1991-2020, as quoted
def test_where_fewer_than_half_the_years_freeze_there_is_no_median_date(place, share):
    assert mixed(share).date_at(0.5) is None, place


@pytest.mark.parametrize(("risk", "day"), [(0.1, 122.64), (0.5, 106.5), (0.9, 97.1)])
def test_ten_values_have_cunnanes_quantiles(risk, day):  # computed from the formula
    assert day_at_risk(fit_empirical(TEN), risk) == pytest.approx(day, abs=0.01)


@pytest.mark.parametrize(("z", "crps"), [(-3, 2.43657473), (0, 0.23369498), (1, 0.60244136), (2, 1.45279182)])
def test_the_crps_of_a_normal_forecast_scales_onto_the_days_of_a_season(z, crps):
    # z = -3 from the tests of R's scoringRules, the others computed; sd 8 days, so each is times 8
    table, came = stats.norm.sf(SEASON_DAYS, 180, 8), 180.0 + 8 * z
    theirs = float(scoringrules.crps_normal(came, 180.0, 8.0))
    assert theirs == pytest.approx(8 * crps, abs=1e-6)
    # a sum over days for an integral whose slope jumps by 2 density: at most 0.4 / 8 / 6 = 0.0083 too much
    assert 0.0 <= crps_of_tables(table, np.array(came)) - theirs <= 0.0084


@pytest.mark.parametrize("seed", range(5))
def test_the_crps_of_an_ensemble_is_that_of_another_library(seed):
    # members between whole days: the table is then flat around every whole day, and the sum is exact
    members = np.random.default_rng(seed).integers(150, 200, 12) + 0.5
    table = (members[:, np.newaxis] > SEASON_DAYS).mean(axis=0)
    for came in (150.0, 171.0, 175.0, 230.0):
        theirs = float(scoringrules.crps_ensemble(came, members))
        assert crps_of_tables(table, np.array(came)) == pytest.approx(theirs, abs=1e-9)


def test_thirty_values_have_their_published_critical_distance():
    assert stats.kstwo.ppf(0.95, 30) == pytest.approx(0.2417, abs=5e-5)  # computed from the formula


def distance(curve, days):
    """Give the largest distance between a curve and the shares that came, on whole days."""
    day = np.arange(SLOTS - 1) + 0.5
    came = (days[:, np.newaxis] > day).mean(axis=0)
    return np.abs(risk_at(curve, day) - came).max()


@pytest.mark.parametrize("kind", FITS)
def test_real_frost_dates_lie_within_the_critical_distance_of_every_fit_and_not_ten_days_off(reference, kind):
    frosts = last_frosts(read_record(reference, "USW00014839"), 0.0, NORTH).of_years(1981, 2010)
    curve = fit_curve(frosts, kind)
    assert distance(curve, frosts.day) < 0.2417
    late = fit_curve(replace(frosts, day=frosts.day + 10), kind)
    assert distance(late, frosts.day) > 0.2417


@pytest.mark.parametrize(
    ("temp_f", "stored_c", "reads_f"),
    [
        (36, 2.2, 35.96),
        (32, 0.0, 32.00),
        (28, -2.2, 28.04),
        (24, -4.4, 24.08),
        (20, -6.7, 19.94),
        (16, -8.9, 15.98),
    ],
)  # computed: whole °F in tenths of a °C, as GHCN-Daily stores them
@pytest.mark.parametrize("find", [last_frosts, first_frosts])
def test_a_whole_fahrenheit_freeze_is_not_missed_for_its_rounding(find, temp_f, stored_c, reads_f):
    dates = np.arange("1990-08-01", "1992-08-01", dtype="datetime64[D]")
    tmin_c = np.where(dates == np.datetime64("1991-01-15"), stored_c, 10.0)
    record = DailyMinima(station=Station(id="X"), dates=dates, tmin_c=tmin_c)
    assert round(fahrenheit(stored_c), 2) == reads_f  # compared as it stands, 28.04 would miss 28
    assert find(record, celsius(float(temp_f)), NORTH).states == ("frost", "none")
    assert find(record, celsius(float(temp_f)), NORTH, inclusive=False).states == ("none", "none")
    assert find(record, celsius(float(temp_f - 1)), NORTH).states == ("none", "none")


@pytest.mark.parametrize(
    ("temp_f", "category"),
    [
        (33, "none"),
        (32, "light"),
        (29, "light"),
        (28, "moderate"),
        (25, "moderate"),
        (24, "severe"),
        (10, "severe"),
    ],
)  # NWS categories as quoted by public pages: light 29-32 °F, moderate 25-28 °F, severe 24 °F or less
def test_thresholds_part_the_published_categories_of_freezes(temp_f, category):
    dates = np.arange("1990-08-01", "1991-08-01", dtype="datetime64[D]")
    tmin_c = np.where(dates == np.datetime64("1991-01-15"), celsius(float(temp_f)), 10.0)
    record = DailyMinima(station=Station(id="X"), dates=dates, tmin_c=tmin_c)
    reached = [
        name
        for name, limit_f in (("light", 32.0), ("moderate", 28.0), ("severe", 24.0))
        if last_frosts(record, celsius(limit_f), NORTH).states == ("frost",)
    ]
    assert (reached or ["none"])[-1] == category


def test_a_southern_last_frost_of_september_or_october_belongs_to_that_spring(reference):
    # the southern season runs from 1 February to 31 January
    frosts = last_frosts(read_record(reference, "ASN00064008"), 0.0, SOUTH)
    dates = {int(year): frosts.date(i) for i, year in enumerate(frosts.years)}
    assert all(date.year == year for year, date in dates.items() if date)
    in_spring = [date for date in dates.values() if date and date.month in {9, 10}]
    assert len(in_spring) == 52  # measured, of 62
