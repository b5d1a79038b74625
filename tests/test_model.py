"""The nouns: refused when wrong, not to be changed once made, read on whole days as the gate reads them."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import FrozenInstanceError, replace

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from frostgate.errors import InputError
from frostgate.gate.outlook import look_ahead
from frostgate.model.curves import SiteClimate, day_at_risk
from frostgate.model.gate import Forecast, Night, Outlook, Policy, Reason, Verdict, is_within
from frostgate.model.records import DailyMinima, FrostDates, Station
from frostgate.seasons import NORTH, SLOTS, SOUTH, slot_of
from frostgate.units import STORED_STEP_C, WHOLE_F_STEP_C, celsius
from tests.gate_cases import NOW, TODAY, make_forecast, make_seen, make_weather
from tests.strategies import given_curve, risk_at

HERE = Station(id="X")
LINE = np.linspace(1, 0, SLOTS)  # a risk that falls by 1/365 a day


def record(tmin_c, first="2026-04-01", **rest):
    dates = np.datetime64(first, "D") + np.arange(len(tmin_c))
    return DailyMinima(station=HERE, dates=dates, tmin_c=tmin_c, **rest)


def frosts(day, side="spring", start=NORTH, first_year=2001):
    years = np.arange(first_year, first_year + len(day))
    return FrostDates(side=side, threshold_c=0.0, start=start, years=years, day=day)


def test_a_record_keeps_its_own_read_only_arrays():
    tmin_c = np.array([1.0, 2.0])
    made = record(tmin_c)
    tmin_c[0] = -9.0
    assert made.tmin_c[0] == 1.0
    for array in (made.tmin_c, made.dates, made.flagged, made.suspect):
        assert not array.flags.writeable
    with pytest.raises(FrozenInstanceError):
        made.notes = ("changed",)


def test_a_record_keeps_stored_tenths():
    assert record([celsius(28.0), -2.249999, np.nan]).tmin_c.tolist()[:2] == [-2.2, -2.2]


@pytest.mark.parametrize(
    "dates", [["2026-04-02", "2026-04-01"], ["2026-04-01", "2026-04-01"]], ids=["falling", "twice"]
)
def test_a_record_holds_each_day_once_and_in_order(dates):
    with pytest.raises(InputError, match="the dates of a record must rise, each day once"):
        DailyMinima(station=HERE, dates=dates, tmin_c=[1.0, 2.0])


def test_a_record_has_as_many_minima_as_dates():
    with pytest.raises(InputError, match=r"dates and minima differ in number: '\(1, 2\)'"):
        DailyMinima(station=HERE, dates=["2026-04-01"], tmin_c=[1.0, 2.0])


def test_a_missing_minimum_is_not_known():
    assert record([1.0, np.nan, -3.0]).known == 2


@pytest.mark.parametrize(
    ("tmin_c", "step_c"),
    [
        (celsius(np.arange(-20.0, 80.0)), WHOLE_F_STEP_C),
        (np.arange(-100, 100) / 10, STORED_STEP_C),
        ([*celsius(np.arange(20.0, 38.0)), 0.2, 0.3], WHOLE_F_STEP_C),  # 18 of 20 are whole °F
        ([*celsius(np.arange(20.0, 37.0)), 0.2, 0.3, 0.4], STORED_STEP_C),  # 17 of 20
        ([np.nan, np.nan], STORED_STEP_C),
        ([], STORED_STEP_C),
        ([np.nan, -2.2], WHOLE_F_STEP_C),
    ],
    ids=["whole F", "tenths", "nine in ten", "fewer", "nothing known", "empty", "one"],
)
def test_a_record_tells_the_step_of_its_thermometer(tmin_c, step_c):
    assert record(tmin_c).step_c == step_c


def test_minima_are_compared_with_a_whole_fahrenheit_threshold_as_they_were_observed():
    made = record([-2.1, -2.2, -1.7, 0.0, *celsius(np.arange(40.0, 60.0)), 0.2, np.nan])
    compared = made.comparable_with(celsius(28.0))
    assert compared[:4].tolist() == [-2.2, -2.2, -1.7, 0.0]  # 28, 28, 29 and 32 °F
    assert compared[-2] == 0.2  # no whole °F: as it is stored
    assert np.isnan(compared[-1])


def test_minima_are_compared_with_tenths_of_celsius_as_they_are_stored():
    made = record([-2.1, *celsius(np.arange(40.0, 60.0))])
    assert_array_equal(made.comparable_with(-2.2), made.tmin_c)
    assert made.comparable_with(celsius(28.5))[0] == -2.2  # between two whole °F: by what was observed


def test_minima_in_tenths_are_compared_as_they_are_stored():
    made = record([-2.1, -2.0, -1.9, -1.8])
    assert_array_equal(made.comparable_with(celsius(28.0)), made.tmin_c)


def test_days_are_left_out_as_suspect_and_stay_on_record():
    made = record([1.0, -20.0, 3.0, 4.0], suspect=["2020-01-01"])
    left = made.leave_out(np.array(["2026-04-02", "2030-01-01"], "datetime64[D]"))
    assert_array_equal(left.tmin_c, [1.0, np.nan, 3.0, 4.0])
    assert left.suspect.astype(str).tolist() == ["2020-01-01", "2026-04-02"]
    assert made.known == 4
    assert left.leave_out([]).known == 3


def test_a_season_ends_in_frost_in_none_or_is_unknown():
    made = frosts([250, -np.inf, np.nan, 0])
    assert made.states == ("frost", "none", "unknown", "frost")
    assert_array_equal(made.known, [250, -np.inf, 0])
    assert [made.date(i) for i in range(4)] == [dt.date(2001, 4, 7), None, None, dt.date(2003, 8, 1)]
    assert frosts([np.inf], side="autumn").states == ("none",)


@pytest.mark.parametrize(
    ("side", "start", "day", "date"),
    [
        ("spring", NORTH, 262, dt.date(2001, 4, 19)),  # counted by hand
        ("spring", NORTH, 140, dt.date(2000, 12, 19)),  # the last frost of a warm place comes before New Year
        ("autumn", NORTH, 69, dt.date(2001, 10, 9)),
        ("autumn", NORTH, 160, dt.date(2002, 1, 8)),
        ("spring", SOUTH, 240, dt.date(2001, 9, 28)),
        ("autumn", SOUTH, 90, dt.date(2001, 5, 1)),
    ],
)
def test_a_frost_day_has_its_date_in_either_hemisphere(side, start, day, date):
    assert frosts([day], side, start).date(0) == date


def test_years_are_chosen_with_both_ends():
    chosen = frosts([250, 251, 252, 253]).of_years(2002, 2003)
    assert (chosen.years.tolist(), chosen.day.tolist()) == ([2002, 2003], [251, 252])
    assert frosts([250]).of_years(1900, 1910).known.size == 0


def test_seasons_and_frost_days_come_in_pairs():
    with pytest.raises(InputError, match="seasons and frost days differ in number"):
        FrostDates(side="spring", threshold_c=0.0, start=NORTH, years=[2001], day=[250, 251])


@pytest.mark.parametrize("table", [np.ones(365), np.ones((1, SLOTS))], ids=["short", "deep"])
@pytest.mark.parametrize("name", ["risk", "low", "high"])
def test_a_curve_has_a_risk_for_every_season_day(name, table):
    with pytest.raises(InputError, match="a curve needs a risk for each of 366 season days"):
        given_curve(**{"risk": LINE, name: table})


@pytest.mark.parametrize("wrong", [-1e-9, 1.0 + 1e-9, np.nan, np.inf])
@pytest.mark.parametrize("name", ["risk", "low", "high"])
def test_a_curve_holds_nothing_but_chances(name, wrong):
    table = LINE.copy()
    table[100] = wrong
    with pytest.raises(InputError, match="a risk lies between 0 and 1"):
        given_curve(**{"risk": LINE, name: table})


@pytest.mark.parametrize("start", [NORTH, SOUTH], ids=["north", "south"])
def test_a_curve_is_read_on_a_day_exactly_as_the_gate_reads_it(start):
    # a frost dated on the day itself does not come after it: it was that morning
    curve = given_curve(np.linspace(1, 0, SLOTS) ** 2, start=start)
    today = dt.date(2026, 4, 1)
    outlook = look_ahead(curve, None, Policy(), dt.datetime(2026, 4, 1, 6), climate_only=True)
    assert outlook.dates.size > 100
    for date, risk in zip(outlook.dates.astype(object).tolist(), outlook.risk.tolist(), strict=True):
        assert curve.risk_after(date) == pytest.approx(risk, abs=1e-9)
        assert curve.risk_after(f"{date:%m-%d}") == curve.risk_after(date)
    assert curve.risk_after(today) < risk_at(curve, slot_of(today, start))


def test_an_autumn_curve_is_a_spring_curve_that_runs_backwards():
    falling = np.linspace(1, 0, SLOTS) ** 2
    spring, autumn = given_curve(falling), given_curve(falling[::-1], side="autumn")
    assert_array_equal(autumn.by_day, spring.by_day[::-1])
    assert autumn.risk_before("10-09") == pytest.approx(risk_at(autumn, slot_of("10-09", NORTH) - 0.5))


@pytest.mark.parametrize(
    ("side", "read", "message"),
    [
        ("spring", "risk_before", "after a day: risk_after"),
        ("autumn", "risk_after", "before a day: risk_before"),
    ],
)
def test_a_curve_refuses_the_question_of_the_other_side(side, read, message):
    with pytest.raises(InputError, match=message):
        getattr(given_curve(LINE if side == "spring" else LINE[::-1], side), read)("05-10")


@pytest.mark.parametrize("day", ["13-01", "02-30", "5-10", "may", "", "2026-05-10"])
def test_a_day_of_the_year_is_written_as_month_and_day(day):
    with pytest.raises(InputError, match="no such day of the year"):
        given_curve(LINE).risk_after(day)


@pytest.mark.parametrize(
    ("table", "side", "risk", "day"),
    [
        (LINE, "spring", 0.1, 328.5),
        (LINE[::-1], "autumn", 0.1, 36.5),
        (LINE, "spring", 1.0, np.nan),  # never above 1
        (LINE, "spring", 0.0, 365.0),
        (LINE / 2, "spring", 0.5, np.nan),  # the level must be exceeded somewhere
        (LINE[::-1] / 2, "autumn", 0.6, np.nan),
        (np.where(np.arange(SLOTS) < 200, 0.8, 0.2), "spring", 0.5, 199.5),
        (np.where(np.arange(SLOTS) < 200, 0.8, 0.2), "spring", 0.2, 200.0),  # the first such day
        (np.where(np.arange(SLOTS) < 200, 0.2, 0.8), "autumn", 0.2, 199.0),  # the last such day
        (np.full(SLOTS, 0.7), "spring", 0.5, np.nan),  # still that high at the season's end
        (np.zeros(SLOTS), "spring", 0.0, np.nan),
    ],
)  # by hand
def test_a_curve_is_read_backwards(table, side, risk, day):
    assert_allclose(day_at_risk(table, risk, side), day, atol=1e-9)
    assert_allclose(given_curve(table, side).day_at_risk(risk), day, atol=1e-9)


def test_a_curve_keeps_its_bounds_as_its_own():
    low = LINE / 2
    made = given_curve(LINE, low=low, high=np.ones(SLOTS), confidence=0.8)
    low[0] = 0.9
    assert made.low[0] == 0.5
    assert not made.high.flags.writeable
    assert replace(made, kind="other").low[0] == 0.5


def test_a_sites_climate_is_not_to_be_changed():
    site = SiteClimate(station=HERE, curve=given_curve(LINE), suspects=0, suspects_kept=False, flagged=0,
                       last_day=dt.date(2020, 7, 31))  # fmt: skip
    with pytest.raises(FrozenInstanceError):
        site.suspects = 1


NAN = math.nan
NIGHT = Night(morning=TODAY, garden_c=2.0, margin_c=2.0, sd_c=1.8, lead_days=1.0, chance=0.1)
VERDICT = Verdict(
    on=TODAY,
    state="unknown",
    reasons=(Reason("no-forecast"),),
    risk_tolerance=0.1,
)
TABLES = ("risk", "window_risk", "climate_risk", "climate_low", "climate_high", "climate_alone")


def make_outlook(**changes):
    given = {"today": TODAY, "dates": [TODAY, "2026-05-11"]} | dict.fromkeys(TABLES, (0.2, 0.1))
    return Outlook(**(given | changes))


@pytest.mark.parametrize("tolerance", [0.0, -0.1, 0.51, 1.0, 10.0, NAN])
def test_a_tolerance_lies_above_nothing_and_at_half_or_less(tolerance):
    with pytest.raises(InputError, match="a tolerance lies above 0 and at 50 % or less") as caught:
        Policy(risk_tolerance=tolerance)
    assert caught.value.remedy.endswith("write for example 10%.")


@pytest.mark.parametrize("days", [-1, 8])
def test_exposure_begins_within_a_week(days):
    with pytest.raises(InputError, match="first exposed days lies between 0 and 7"):
        Policy(first_exposed_days=days)


@pytest.mark.parametrize("correlation", [-0.1, 0.96, 1.0, NAN])
def test_a_correlation_lies_where_nights_can_be_told_apart(correlation):
    with pytest.raises(InputError, match=r"error correlation lies between 0 and 0\.95"):
        Policy(error_correlation=correlation)


@pytest.mark.parametrize(
    "table",
    [((1.0, 0.0),), ((1.0, -1.0),), ((1.0, 2.0), (2.0, 1.9)), ((2.0, 1.0), (1.0, 2.0)),
     ((1.0, 1.0), (1.0, 2.0)), ((1.0, NAN),), ((NAN, 1.0), (2.0, 1.0)), ()],
)  # fmt: skip
def test_the_spread_of_errors_grows_with_lead(table):
    with pytest.raises(InputError, match="the spread of errors must be above 0 and grow with lead"):
        Policy(error_sd_c=table)


def test_the_spread_of_errors_may_stay_the_same_for_a_while():
    flat = ((1.0, 2.0), (2.0, 2.0), (3.0, 2.5))
    assert Policy(error_sd_c=flat).error_sd_c == flat


@pytest.mark.parametrize(
    "given",
    [{"damage_temp_c": NAN}, {"offset_c": NAN}, {"forecast_offset_c": NAN}, {"error_bias_c": NAN},
     {"max_age_hours": NAN}, {"max_age_hours": 0.0}, {"window_days": NAN}, {"window_days": 0},
     {"wide_share": -0.1}, {"wide_share": 1.1}, {"wide_factor": 0.0}, {"wide_factor": NAN},
     {"spread_floor_c": -1.0}, {"spread_floor_c": NAN}, {"offset_sd_c": -0.1}, {"offset_sd_c": 10.1},
     {"offset_sd_c": NAN}, {"reference_scatter_c": 0.0}, {"reference_scatter_c": NAN},
     {"error_local_c": -0.1}, {"error_local_c": NAN}, {"window_days": 47}],
    ids=lambda given: "=".join(str(part) for item in given.items() for part in item),
)  # fmt: skip
def test_a_number_that_cannot_be_meant_is_refused(given):
    with pytest.raises(InputError):
        Policy(**given)


def test_the_station_is_read_at_the_minimum_that_damages_the_garden():
    # identity: a garden 2 °F colder is the station's 34 °F curve for a 32 °F risk
    assert Policy(offset_c=-2 / 1.8).station_threshold_c == pytest.approx((34 - 32) / 1.8)
    assert Policy(damage_temp_c=-2.0, offset_c=1.5).station_threshold_c == -3.5


def test_a_forecast_is_taken_for_the_stations_surroundings_unless_told_otherwise():
    assert Policy(offset_c=-1.0).garden_less_forecast_c == -1.0
    assert Policy(offset_c=-1.0, forecast_offset_c=0.0).garden_less_forecast_c == 0.0


def test_what_is_not_known_of_the_garden_counts_only_where_the_forecast_is_moved_by_it():
    assert Policy().garden_less_forecast_sd_c == 0.0
    assert Policy(offset_sd_c=1.5).garden_less_forecast_sd_c == 1.5
    assert Policy(offset_sd_c=1.5, forecast_offset_c=0.0).garden_less_forecast_sd_c == 0.0
    assert Policy(offset_sd_c=1.5, forecast_offset_c=-2.0).garden_less_forecast_sd_c == 0.0


@pytest.mark.parametrize(
    ("changes", "fault"),
    [({"climatology_c": np.zeros(365)}, "366 usual minima"), ({"recent_c": np.zeros(61)},
    "at most 60 recent"),
     ({"recent_c": np.zeros((2, 30))}, "at most 60 recent"), ({"persistence": -0.1}, "persistence lies"),
     ({"persistence": 1.1}, "persistence lies"), ({"persistence": NAN}, "persistence lies between 0 and 1"),
     ({"explained": -0.1}, "explained variance"), ({"explained": 1.0}, "explained variance"),
     ({"explained": NAN}, "explained variance lies between 0 and 1")],
)  # fmt: skip
def test_weather_that_cannot_be_is_refused(changes, fault):
    with pytest.raises(InputError, match=fault):
        make_weather(**changes)


@pytest.mark.parametrize("size", [0, 1, 60])
def test_weather_may_have_few_or_no_recent_minima(size):
    assert make_weather(recent_c=np.full(size, NAN)).recent_c.shape == (size,)


@pytest.mark.parametrize(
    ("risk", "limit", "within"),
    [(0.1, 0.1, True), (1 - np.exp(np.log(0.9)), 0.1, True), (0.1 + 9e-10, 0.1, True),
     (0.1 + 2e-9, 0.1, False),
     (0.0, 0.01, True), (1.0, 0.5, False)],
)  # fmt: skip
def test_a_risk_is_within_a_limit_but_for_the_last_digits(risk, limit, within):
    assert bool(is_within(risk, limit)) is within
    assert is_within(np.array([risk, 1.0]), limit).tolist() == [within, False]


@pytest.mark.parametrize("name", TABLES)
def test_an_outlook_needs_each_of_its_tables_for_each_date(name):
    with pytest.raises(InputError, match=f"an outlook needs a {name} for each of its dates"):
        make_outlook(**{name: [0.2]})


def test_an_outlook_gives_the_first_date_that_is_low_enough():
    outlook = make_outlook(climate_alone=[0.4, 0.3])
    assert outlook.date_at(0.2) == TODAY
    assert outlook.date_at(0.15) == dt.date(2026, 5, 11)
    assert outlook.date_at(0.05) is None
    assert outlook.date_at(0.3, outlook.climate_alone) == dt.date(2026, 5, 11)


@pytest.mark.parametrize(
    ("noun", "name"),
    [(Policy(), "risk_tolerance"), (NIGHT, "chance"), (VERDICT, "state"), (make_outlook(), "risk"),
     (make_forecast([1.0]), "tmin_c"), (make_seen(), "hazard"), (make_weather(), "climatology_c")],
    ids=lambda value: value if isinstance(value, str) else type(value).__name__,
)  # fmt: skip
def test_nothing_is_changed_once_it_is_said(noun, name):
    with pytest.raises(FrozenInstanceError):
        setattr(noun, name, None)


def test_arrays_are_read_only_copies():
    risk = np.array([0.2, 0.1])
    outlook, forecast = make_outlook(risk=risk), make_forecast(risk)
    risk[0] = 0.9
    assert (outlook.risk[0], forecast.tmin_c[0]) == (0.2, 0.2)
    weather = make_weather()
    tables = (outlook.risk, outlook.dates, forecast.tmin_c, forecast.sd_c, forecast.dates)
    for table in (*tables, weather.climatology_c, weather.recent_c):
        with pytest.raises(ValueError, match="read-only"):
            table[0] = table[1] if table.size > 1 else 0


def test_a_forecast_lasts_to_its_last_morning():
    assert make_forecast([1.0, NAN]).through == dt.date(2026, 5, 12)


@pytest.mark.parametrize(
    ("changes", "fault"),
    [({"tmin_c": [1.0]}, "a minimum for each of its nights"), ({"sd_c": [1.0]}, "a minimum for each"),
     ({"dates": [], "tmin_c": [], "sd_c": []}, "a minimum for each of its nights"),
     ({"dates": ["2026-05-12", "2026-05-11"]}, "the dates of a forecast must rise"),
     ({"tmin_c": [1.0, -float("inf")]}, "no place on earth"),
     ({"tmin_c": [1.0, NAN], "members_c": [[1.0], [-5.0]]}, "a night with members and no minimum"),
     ({"sd_c": [1.0, -1.0]}, "a spread is never negative"),
     ({"issued_at": NOW.replace(tzinfo=dt.UTC)}, "a local time without zone"),
     ({"dates": ["2026-05-11", "2026-05-11"]}, "the dates of a forecast must rise, each day once")],
)  # fmt: skip
def test_a_forecast_that_is_not_whole_names_its_file(changes, fault):
    whole = {"source": "f.csv", "form": "table", "issued_at": NOW, "dates": ["2026-05-11", "2026-05-12"],
             "tmin_c": [1.0, 2.0], "sd_c": [NAN, NAN]}  # fmt: skip
    with pytest.raises(InputError, match=fault) as caught:
        Forecast(**(whole | changes))
    assert caught.value.file == "f.csv"
