"""Why a forecast cannot be trusted this morning, and how far it is."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from frostgate.gate.outlook import age_hours, check_forecast, last_morning
from frostgate.model.gate import Policy
from frostgate.show.reasons import say_reasons
from tests.gate_cases import DAY, NOW, TODAY, look, make_forecast, ramp

EXACT = 1e-9
NAN = float("nan")


def _forecast_of(days, **options):
    """Make a forecast whose mornings are counted from today."""
    dates = np.datetime64(TODAY, "D") + np.array(days)
    return make_forecast([5.0] * len(days), dates=dates, **options)


HOUR = dt.timedelta(hours=1)
GAP = make_forecast([5.0, NAN, NAN, NAN, NAN, 5.0])
UNTRUSTED = {
    "none": (None, "No forecast was given; give one, or ask for the climate alone."),
    "stale": (make_forecast([5.0] * 9, issued=NOW - 49 * HOUR),
              "The forecast is 49 hours old; more than 48 is too old to trust."),
    "perhaps stale": (make_forecast([5.0] * 9, issued=NOW - 49 * HOUR, issued_stated=False),
                      "The forecast is 49 hours old; more than 48 is too old to trust."),
    "of tomorrow": (make_forecast([5.0] * 3, issued=NOW + 18 * HOUR),
                    "The forecast was made on Mon 11 May 2026, after the day asked about."),
    "ended": (_forecast_of([-1, 0]),
              "The forecast ends on Sun 10 May 2026, before the first night that counts."),
    "gap of absent days": (_forecast_of([1, 2, 4]), "The forecast has no minimum for Wed 13 May 2026."),
    "gap without numbers": (
        GAP, "The forecast has no minimum for Tue 12 May 2026, Wed 13 May 2026, Thu 14 May 2026 and more."),
    "late start": (_forecast_of([3, 4]),
                   "The forecast has no minimum for Mon 11 May 2026 and Tue 12 May 2026."),
    "nothing but tonight": (make_forecast([5.0, NAN], first=TODAY),
                            "The forecast has no minimum for Mon 11 May 2026."),
    "no number at all": (make_forecast([NAN, NAN]), "The forecast has no minimum for Mon 11 May 2026."),
}  # fmt: skip


@pytest.mark.parametrize(("forecast", "sentence"), UNTRUSTED.values(), ids=list(UNTRUSTED))
def test_a_forecast_that_cannot_be_trusted_leaves_the_curve_alone(forecast, sentence):
    curve = ramp(TODAY, 40.0)
    outlook = look(curve, forecast)
    assert say_reasons(outlook.forecast_checks) == [sentence]
    assert outlook.nights == ()
    assert outlook.risk == pytest.approx(outlook.climate_alone, abs=EXACT)
    assert look(curve, forecast, climate_only=True).forecast_checks == ()


def test_every_fault_of_a_forecast_is_told():
    stale = _forecast_of([1, 3], issued=NOW - 60 * HOUR)
    assert len(check_forecast(stale, Policy(), NOW)) == 2
    ended = _forecast_of([-1, 0], issued=NOW - 60 * HOUR)
    assert len(check_forecast(ended, Policy(), NOW)) == 2


@pytest.mark.parametrize(
    ("issued", "hours"),
    [(NOW, 0.0), (NOW - 48 * HOUR, 48.0), (NOW + 17 * HOUR, 0.0)],  # now; at the limit; later the same day
)
def test_a_forecast_is_trusted_to_the_last_hour_of_its_age(issued, hours):
    forecast = _forecast_of([1, 2], issued=issued, issued_stated=False)
    assert age_hours(forecast, NOW) == hours
    assert check_forecast(forecast, Policy(), NOW) == ()
    if hours:
        assert check_forecast(forecast, Policy(), NOW + dt.timedelta(minutes=1)) != ()


@pytest.mark.parametrize(("exposed", "trusted"), [(0, False), (1, False), (2, True), (3, True)])
def test_a_forecast_is_asked_only_for_the_nights_that_count(exposed, trusted):
    forecast = _forecast_of([2, 3, 4])
    assert (check_forecast(forecast, Policy(first_exposed_days=exposed), NOW) == ()) is trusted


@pytest.mark.parametrize(
    ("tmin_c", "policy", "days"),
    [([9.0] * 20, Policy(), 14), ([9.0] * 20, Policy(window_days=3), 3), ([9.0] * 5, Policy(), 5),
     ([9.0] * 5 + [NAN] * 9, Policy(), 5), ([9.0] * 16 + [0.0, 9.0], Policy(), 17),
     ([9.0] * 16 + [0.1, 9.0], Policy(), 14), ([9.0] * 16 + [0.9], Policy(offset_c=-1.0), 17),
     ([9.0] * 16 + [-0.9], Policy(offset_c=1.0), 14), ([9.0] * 16 + [0.4], Policy(error_bias_c=0.5), 17),
     ([9.0] * 16 + [0.9], Policy(offset_c=-1.0, forecast_offset_c=0.0), 14),
     ([9.0] * 16 + [-1.9], Policy(damage_temp_c=-2.0), 14)],
)  # fmt: skip
def test_the_last_morning_is_the_windows_or_that_of_the_last_frost_foretold(tmin_c, policy, days):
    assert last_morning(make_forecast(tmin_c), policy, TODAY) == TODAY + days * DAY


def test_the_window_is_counted_from_today_and_not_from_the_issue():
    older = make_forecast([9.0] * 20, issued=NOW - 2 * DAY)
    assert last_morning(older, Policy(), TODAY) == TODAY + 14 * DAY


def test_a_forecast_without_numbers_has_no_last_morning():
    assert last_morning(make_forecast([NAN, NAN]), Policy(), TODAY) == dt.date.min


def test_a_gap_behind_the_window_is_no_fault_and_one_before_a_far_frost_is():
    gap = [9.0] * 15 + [NAN] * 2
    assert check_forecast(make_forecast([*gap, 9.0]), Policy(), NOW) == ()
    assert len(check_forecast(make_forecast([*gap, -1.0]), Policy(), NOW)) == 1
