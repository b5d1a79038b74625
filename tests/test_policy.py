"""The nouns of the gate: what the grower settles, what is seen ahead, and the answer."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math

import numpy as np
import pytest

from frostgate.errors import InputError
from frostgate.model.gate import Forecast, Night, Outlook, Policy, Reason, Verdict, is_within
from tests.gate_cases import NOW, TODAY, make_forecast, make_seen, make_weather

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


@pytest.mark.parametrize("tolerance", [1e-6, 0.01, 0.5])
def test_any_tolerance_up_to_half_can_be_meant(tolerance):
    assert Policy(risk_tolerance=tolerance).risk_tolerance == tolerance


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
    with pytest.raises(dataclasses.FrozenInstanceError):
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


def test_what_is_not_said_in_a_verdict_is_not_known():
    assert (VERDICT.risk_today, VERDICT.earliest_date, VERDICT.by_risk) == (None, None, ())
    assert (VERDICT.likely_from, VERDICT.likely_to, VERDICT.climate_only) == (None, None, False)


def test_a_forecast_lasts_to_its_last_morning():
    assert make_forecast([1.0, NAN]).through == dt.date(2026, 5, 12)


@pytest.mark.parametrize(
    ("changes", "fault"),
    [({"tmin_c": [1.0]}, "a minimum for each of its nights"), ({"sd_c": [1.0]}, "a minimum for each"),
     ({"dates": [], "tmin_c": [], "sd_c": []}, "a minimum for each of its nights"),
     ({"dates": ["2026-05-12", "2026-05-11"]}, "the dates of a forecast must rise"),
     ({"dates": ["2026-05-11", "2026-05-11"]}, "the dates of a forecast must rise, each day once")],
)  # fmt: skip
def test_a_forecast_that_is_not_whole_names_its_file(changes, fault):
    whole = {"source": "f.csv", "form": "table", "issued_at": NOW, "dates": ["2026-05-11", "2026-05-12"],
             "tmin_c": [1.0, 2.0], "sd_c": [NAN, NAN]}  # fmt: skip
    with pytest.raises(InputError, match=fault) as caught:
        Forecast(**(whole | changes))
    assert caught.value.file == "f.csv"
