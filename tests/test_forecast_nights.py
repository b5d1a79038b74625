"""What makes a forecast whole, whatever its form."""

import datetime as dt
import math
from pathlib import Path

import numpy as np
import pytest

from frostgate.errors import InputError, UnstatedUnitError
from frostgate.sources.forecasts.nights import (
    Night,
    Opened,
    Stated,
    agree_on_unit,
    find_unit,
    mean_and_sd,
    minimum_c,
    spread_c,
    to_forecast,
)
from frostgate.sources.text import Spot

FILE = Path("f.csv")
SPOT = Spot(file=FILE, line=7, name="column tmin")
FIRST = dt.date(2026, 4, 8)


def _night(day, line=2, tmin_c=1.0):
    return Night(date=FIRST + dt.timedelta(days=day), spot=Spot(file=FILE, line=line), tmin_c=tmin_c)


def _forecast(nights, issued=None):
    stated = Stated(nights=nights, issued=issued, zone=None, notes=["Said before."])
    return to_forecast(stated, form="table", file=FILE)


@pytest.mark.parametrize(
    ("text", "unit"),
    [("°C", "C"), ("°F", "F"), ("C", "C"), ("f", "F"), ("wmoUnit:degC", "C"), ("wmoUnit:degF", "F"),
     ("unit:degC", "C"), ("celsius", "C"), ("Fahrenheit", "F"), (" °F ", "F"), ("K", None), ("", None),
     ("wmoUnit:K", None), ("degrees", None), ("°", None)],
)  # fmt: skip
def test_a_unit_is_known_by_its_names(text, unit):
    assert find_unit(text) == unit


def test_the_unit_is_the_one_that_is_stated():
    assert agree_on_unit([("F", SPOT), ("F", SPOT)], None, SPOT) == "F"
    assert agree_on_unit([("F", SPOT)], "F", SPOT) == "F"
    assert agree_on_unit([], "C", SPOT) == "C"


def test_no_unit_at_all_is_refused_with_what_to_say():
    with pytest.raises(UnstatedUnitError, match="no unit is stated") as caught:
        agree_on_unit([], None, SPOT)
    assert (caught.value.line, caught.value.remedy) == (7, "Say --unit F or --unit C.")


def test_a_unit_that_contradicts_the_file_is_refused():
    with pytest.raises(InputError, match=r"the file says °C, --unit says F \(column tmin\): '°C'"):
        agree_on_unit([("C", SPOT)], "F", SPOT)


def test_mixed_units_are_refused_with_both_places():
    other = Spot(file=FILE, line=7, name="column sd_f")
    with pytest.raises(InputError, match=r"mixed units: column tmin is in °C \(column sd_f\): '°F'"):
        agree_on_unit([("C", SPOT), ("F", other)], None, SPOT)


def test_a_spread_is_a_difference_and_a_minimum_is_not():
    assert minimum_c(32.0, "F", SPOT) == 0.0
    assert spread_c(9.0, "F", SPOT) == 5.0  # 9 °F of difference are 5 °C
    assert spread_c(9.0, "C", SPOT) == minimum_c(9.0, "C", SPOT) == 9.0


def test_missing_stays_missing():
    assert math.isnan(minimum_c(math.nan, "F", SPOT))
    assert math.isnan(spread_c(math.nan, "F", SPOT))


@pytest.mark.parametrize(
    ("degrees", "unit", "value"),
    [(-90.1, "C", "-90.1 °C"), (60.1, "C", "60.1 °C"), (-9999.0, "F", "-9999 °F"), (141.0, "F", "141 °F")],
)
def test_a_minimum_outside_nature_is_refused(degrees, unit, value):
    with pytest.raises(InputError, match="no place on earth has such a temperature") as caught:
        minimum_c(degrees, unit, SPOT)
    assert (caught.value.file, caught.value.line, caught.value.value) == ("f.csv", 7, value)


@pytest.mark.parametrize(("degrees", "what"), [(-0.1, "never negative"), (99.0, "wider than any climate")])
def test_a_spread_that_cannot_be_is_refused(degrees, what):
    with pytest.raises(InputError, match=what) as caught:
        spread_c(degrees, "C", SPOT)
    assert (caught.value.line, caught.value.value) == (7, f"{degrees:g} °C")


def test_members_give_mean_and_sample_sd():
    members = [-1.0, 0.5, 2.0, 4.5]
    mean, sd = mean_and_sd(members)  # numpy as the independent route
    assert mean == pytest.approx(np.mean(members))
    assert sd == pytest.approx(np.std(members, ddof=1))


def test_missing_members_are_left_out_and_too_few_give_no_spread():
    assert mean_and_sd([1.0, math.nan, 2.0, 3.0]) == (2.0, 1.0)
    mean, sd = mean_and_sd([1.0, math.nan, 2.0])
    assert mean == 1.5
    assert math.isnan(sd)
    assert all(math.isnan(x) for x in mean_and_sd([math.nan] * 3))


def test_a_file_that_does_not_say_when_it_was_made_is_taken_from_the_morning_before():
    forecast = _forecast([_night(0)])
    assert forecast.issued_at == dt.datetime(2026, 4, 7, 6)
    assert not forecast.issued_stated
    assert forecast.notes[0] == "Said before."
    assert "2026-04-07 06:00" in forecast.notes[1]


def test_a_stated_time_of_issue_is_kept_without_a_note():
    forecast = _forecast([_night(0)], issued=dt.datetime(2026, 4, 8, 3))
    assert (forecast.issued_at, forecast.issued_stated) == (dt.datetime(2026, 4, 8, 3), True)
    assert forecast.notes == ("Said before.",)


def test_a_forecast_made_after_its_last_morning_is_refused():
    assert _forecast([_night(0), _night(1)], issued=dt.datetime(2026, 4, 9, 23)).issued_stated
    with pytest.raises(InputError, match="made on 2026-04-10, after its last morning") as caught:
        _forecast([_night(0), _night(1, line=3)], issued=dt.datetime(2026, 4, 10, 0))
    assert (caught.value.line, caught.value.value) == (3, "2026-04-09")


def test_a_forecast_without_nights_is_refused():
    with pytest.raises(InputError, match=r"f\.csv: a forecast without any night"):
        _forecast([])


@pytest.mark.parametrize("day", [0, -1])
def test_dates_that_do_not_rise_are_refused_with_both_lines(day):
    with pytest.raises(InputError, match=r"\(line 3\) comes after 2026-04-08 \(line 2\)") as caught:
        _forecast([_night(0), _night(day, line=3)])
    assert (caught.value.line, caught.value.value) == (3, str(FIRST + dt.timedelta(days=day)))


def test_more_days_than_any_forecast_has_are_refused():
    assert _forecast([_night(0), _night(45)]).dates.size == 2
    with pytest.raises(InputError, match="47 days, longer than any forecast") as caught:
        _forecast([_night(0), _night(46, line=48)])
    assert (caught.value.line, caught.value.value) == (48, "2026-05-24")


def test_a_missing_night_stays_a_gap_and_nothing_but_gaps_is_refused():
    forecast = _forecast([_night(0), _night(1, tmin_c=math.nan), _night(2)])
    np.testing.assert_array_equal(forecast.tmin_c, [1.0, np.nan, 1.0])
    with pytest.raises(InputError, match=r"f\.csv: no minimum for any of its 2 nights"):
        _forecast([_night(0, tmin_c=math.nan), _night(1, tmin_c=math.nan)])


def test_an_opened_table_has_an_empty_document():
    opened = Opened(path=FILE, text="date,low")
    assert opened.root.names() == []
    assert not opened.holds("daily")
