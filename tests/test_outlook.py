"""The risk of every date, and why a forecast cannot be trusted this morning."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from frostgate.gate.outlook import age_hours, check_forecast, last_morning
from frostgate.model.gate import Policy
from frostgate.seasons import NORTH, SOUTH, SeasonStart
from frostgate.show.reasons import say_reasons
from tests.gate_cases import (
    ARCTIC,
    DAY,
    HALF,
    NOW,
    SUMMER,
    TODAY,
    WHITE,
    cliff,
    look,
    make_curve,
    make_forecast,
    make_weather,
    mixture_chance,
    ramp,
)

EXACT = 1e-9  # the window's chain is exact for nights that are certain, or alone in the balance
NAN = float("nan")


def test_two_independent_parts_combine_as_published():
    # P_window .15, P_clim .08 -> .218, computed from the formula
    policy = Policy(error_sd_c=((1.0, 1.8),))
    margin_c = brentq(lambda margin: mixture_chance(margin, 1.8) - 0.15, 0.0, 9.0)
    outlook = look(make_curve(0.08), make_forecast([margin_c + HALF]), policy)
    assert outlook.window_risk[0] == pytest.approx(0.15, abs=EXACT)
    assert outlook.climate_risk[0] == pytest.approx(0.08, abs=EXACT)
    assert outlook.risk[0] == pytest.approx(0.218, abs=EXACT)


@pytest.mark.parametrize("nights", range(1, 11))
@pytest.mark.parametrize("frost", [TODAY + k * DAY for k in (1, 2, 5, 9)])
def test_a_frost_of_one_forecast_night_counts_once_however_long_the_window(frost, nights):
    tmin_c = [HALF if TODAY + (k + 1) * DAY == frost else SUMMER for k in range(nights)]
    outlook = look(make_curve(0.0), make_forecast(tmin_c), policy=Policy(window_days=10))
    before = int((frost - TODAY).days) if frost <= TODAY + nights * DAY else 0
    assert outlook.risk[:before] == pytest.approx([0.5] * before, abs=EXACT)
    assert outlook.risk[before:] == pytest.approx(0.0, abs=EXACT)


@pytest.mark.parametrize("nights", range(11))
def test_a_frost_of_two_season_days_counts_once_however_long_the_window(nights):
    frost = TODAY + 5 * DAY
    forecast = make_forecast([SUMMER] * nights) if nights else None
    outlook = look(cliff(frost, 0.3), forecast, climate_only=not nights)
    left = {4: 0.3, 5: 0.15}.get(max(nights, 4), 0.0)  # by the nights that the forecast takes from the curve
    assert outlook.risk[0] == pytest.approx(left, abs=EXACT)
    assert outlook.risk[4] == pytest.approx(left, abs=EXACT)
    assert outlook.risk[5] == pytest.approx(min(left, 0.15), abs=EXACT)
    assert outlook.risk[6:] == pytest.approx(0.0, abs=EXACT)


@pytest.mark.parametrize(("nights", "risk"), [(4, 0.3), (5, 0.575), (6, 0.5), (9, 0.5)])
def test_a_morning_the_forecast_tells_of_is_not_weighed_by_the_curve_as_well(nights, risk):
    frost = TODAY + 5 * DAY  # 9 nights from now at a chance of .5; 5: 1 - (1 - .5) (1 - .15)
    tmin_c = [HALF if k == 4 else SUMMER for k in range(nights)]
    outlook = look(cliff(frost, 0.3), make_forecast(tmin_c))
    assert outlook.risk[0] == pytest.approx(risk, abs=EXACT)
    alone = look(cliff(frost, 0.3), None, climate_only=True)
    assert outlook.climate_alone.tolist() == alone.risk.tolist(), "what the curve alone says stands beside it"


def test_one_more_night_as_cold_as_the_curve_expects_changes_nothing():
    curve, policy = ramp(TODAY + 8 * DAY, 30.0), replace(WHITE, error_sd_c=((1.0, 1.8), (8.0, 3.2)))
    short = look(curve, make_forecast([4.0] * 6), policy)
    still, after = short.climate_alone[6], short.climate_alone[7]  # from the 7th morning on, and from the 8th
    expected = 1 - (1 - still) / (1 - after)
    margin_c = brentq(
        lambda margin: mixture_chance(margin, 3.0, policy) - expected, -9.0, 30.0
    )  # 7 days ahead
    longer = look(curve, make_forecast([4.0] * 6 + [margin_c + HALF]), policy)
    assert longer.nights[-1].chance == pytest.approx(expected)
    assert longer.risk[:6] == pytest.approx(short.risk[:6], abs=1e-4)  # the chain's grid


@pytest.mark.parametrize("exposed", [0, 1, 2, 7])
def test_pots_are_exposed_from_the_policys_day_on(exposed):
    frost = TODAY + 7 * DAY
    first = TODAY + exposed * DAY
    tmin_c = [SUMMER] * (7 - exposed) + [HALF, SUMMER]
    outlook = look(make_curve(0.0), make_forecast(tmin_c, first=first), Policy(first_exposed_days=exposed))
    last = 7 - exposed  # the last candidate that this frost can harm
    assert outlook.nights[0].morning == first
    assert outlook.risk[last] == pytest.approx(0.5, abs=EXACT), "dated d + exposed it counts"
    assert outlook.risk[last + 1] == pytest.approx(0.0, abs=EXACT), "dated a day earlier it does not"
    by_curve = look(cliff(frost), None, Policy(first_exposed_days=exposed), climate_only=True)
    assert by_curve.risk[last : last + 3] == pytest.approx([1.0, 0.5, 0.0], abs=2 * EXACT)


@pytest.mark.parametrize(
    ("start", "today", "last"),
    [(NORTH, "2026-05-10", "2026-07-31"), (NORTH, "2026-07-31", "2026-07-31"),
     (NORTH, "2026-08-01", "2027-07-31"), (NORTH, "2026-12-24", "2027-07-31"),
     (SOUTH, "2026-10-10", "2027-01-31"), (SOUTH, "2027-01-31", "2027-01-31"),
     (SOUTH, "2027-02-01", "2028-01-31"), (SeasonStart(month=3, day=1), "2026-10-10", "2027-02-28"),
     (SeasonStart(month=3, day=1), "2027-10-10", "2028-02-29")],
)  # fmt: skip
def test_the_candidates_run_from_today_to_the_seasons_last_day(start, today, last):
    now = dt.datetime.fromisoformat(today)
    dates = look(make_curve(0.3, start=start), None, now=now, climate_only=True).dates
    assert (str(dates[0]), str(dates[-1])) == (today, last)
    assert np.all(np.diff(dates).astype(int) == 1)


@pytest.mark.parametrize("day", [29, 30, 31])
def test_a_frost_forecast_past_the_seasons_last_day_counts(day):
    """The table of a northern season ends on 31 July; a frost of 3 August hurts what was fed in July."""
    now = dt.datetime(2026, 7, day, 6)
    outlook = look(make_curve(0.0), make_forecast([SUMMER] * (33 - day) + [ARCTIC], issued=now), now=now)
    assert outlook.nights[-1].morning == dt.date(2026, 8, 3)
    assert outlook.risk == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize("today", [29, 30, 31])
@pytest.mark.parametrize("nights", [0, 1, 2, 7])
def test_the_curve_of_the_next_season_is_no_risk_of_this_one(today, nights):
    now = dt.datetime(2026, 7, today, 6)
    forecast = make_forecast([SUMMER] * nights, issued=now) if nights else None
    outlook = look(ramp(TODAY, 40.0), forecast, now=now, climate_only=not nights)
    assert outlook.risk == pytest.approx(0.0, abs=EXACT)
    assert outlook.climate_alone == pytest.approx(0.0, abs=EXACT)


def test_after_the_seasons_end_the_whole_next_spring_lies_ahead():
    now = dt.datetime(2026, 8, 1, 6)
    outlook = look(ramp(TODAY, 40.0), make_forecast([SUMMER] * 7, issued=now), now=now)
    assert (outlook.risk[0], outlook.dates.size) == (pytest.approx(1.0, abs=2 * EXACT), 365)


def test_a_southern_spring_falls_in_its_own_calendar_year():
    now = dt.datetime(2026, 10, 10, 6)
    outlook = look(ramp(now.date() + DAY, 2.0, start=SOUTH), None, now=now, climate_only=True)
    assert outlook.risk[:4] == pytest.approx([0.75, 0.25, 0.0, 0.0])  # at 1/2 and 3/2 days, on a fall of 2


@pytest.mark.parametrize(
    ("today", "tomorrow", "risk"),
    [("2028-02-28", "2028-02-29", [0.75, 0.25]), ("2028-02-29", "2028-03-01", [0.25, 0.0]),
     ("2027-02-28", "2027-03-01", [0.25, 0.0])],
)  # fmt: skip
def test_a_leap_day_is_a_candidate_where_there_is_one(today, tomorrow, risk):
    curve = ramp(dt.date(2028, 2, 29), 2.0)
    outlook = look(curve, None, now=dt.datetime.fromisoformat(today), climate_only=True)
    assert str(outlook.dates[1]) == tomorrow
    assert outlook.risk[:2] == pytest.approx(risk)


def test_garden_forecast_and_error_are_set_off_against_each_other():
    policy = Policy(offset_c=-1.0, damage_temp_c=-2.0, error_bias_c=0.5)
    (night,) = look(make_curve(step_c=0.1), make_forecast([3.0]), policy).nights
    assert (night.garden_c, night.margin_c) == pytest.approx((1.5, 3.45))
    (night,) = look(make_curve(), make_forecast([3.0]), Policy(offset_c=-1.0, forecast_offset_c=0.25)).nights
    assert night.garden_c == pytest.approx(3.25)


def test_leads_are_counted_from_issue_and_the_window_from_today():
    forecast = make_forecast([SUMMER] * 20, issued=NOW - 12 * dt.timedelta(hours=1), first=TODAY - DAY)
    nights = look(make_curve(), forecast, Policy(window_days=10)).nights
    assert [night.lead_days for night in nights] == [1.5 + k for k in range(10)]
    assert nights[-1].morning == TODAY + 10 * DAY
    assert look(make_curve(), forecast).nights[-1].morning == TODAY + 14 * DAY


def test_errors_go_with_the_stations_scatter_and_are_never_wider():
    forecast = make_forecast([5.0] * 10)
    free = look(make_curve(), forecast).nights
    held = look(replace(make_curve(), spread_c=np.full(366, 2.0)), forecast).nights
    # the local part stays, the rest of the variance goes with that of the weather
    local, share = Policy().error_local_c ** 2, (2.0 / Policy().reference_scatter_c) ** 2
    scaled = [math.sqrt(local + (night.sd_c**2 - local) * share) for night in free]
    assert [night.sd_c for night in held] == pytest.approx(np.minimum(scaled, 2.0))
    assert scaled[-1] > 2.0 == held[-1].sd_c
    assert {night.climate_sd_c for night in held} == {2.0}
    assert {night.climate_sd_c for night in free} == {math.inf}


def test_what_is_not_known_of_the_garden_widens_each_night():
    forecast = make_forecast([5.0, 5.0])
    sure, unsure, stated = (
        [night.sd_c for night in look(make_curve(), forecast, policy).nights]
        for policy in (Policy(), Policy(offset_sd_c=1.5), Policy(offset_sd_c=1.5, forecast_offset_c=0.0))
    )
    assert unsure == pytest.approx(np.hypot(sure, 1.5))
    assert stated == sure


def test_a_frost_that_is_forecast_is_weighed_however_far_ahead():
    mild, frosty = make_forecast([SUMMER] * 24), make_forecast([SUMMER] * 17 + [-2.0] + [SUMMER] * 4)
    assert look(make_curve(0.0), mild).nights[-1].morning == TODAY + 14 * DAY
    outlook = look(make_curve(0.0), frosty)
    assert outlook.nights[-1].morning == TODAY + 18 * DAY
    assert outlook.risk[0] > 0.5


def test_a_missing_tail_is_a_shorter_horizon():
    whole, cut = make_forecast([5.0] * 4), make_forecast([5.0] * 4 + [NAN] * 3)
    assert look(make_curve(0.1), cut).forecast_checks == ()
    assert look(make_curve(0.1), cut).risk.tolist() == look(make_curve(0.1), whole).risk.tolist()


def test_bounds_are_read_where_the_curves_own_risk_is():
    low, high = np.full(366, 0.05), np.full(366, 0.2)
    bounded = look(make_curve(0.1, low=low, high=high), make_forecast([SUMMER]))
    read = (bounded.climate_low[0], bounded.climate_risk[0], bounded.climate_high[0])
    assert read == pytest.approx((0.05, 0.1, 0.2))
    bare = look(make_curve(0.1), make_forecast([SUMMER]))
    assert bare.climate_low.tolist() == bare.climate_risk.tolist() == bare.climate_high.tolist()


@pytest.mark.parametrize("day", [17, 20, 31])
def test_where_frosts_come_all_year_the_seasons_end_is_no_safe_date(day):
    """The published freeze normals call it a year-round freeze risk; the table's end opens no gate."""
    curve = replace(make_curve(), risk=np.where(np.arange(366) <= 352, 1.0, 0.0))
    now = dt.datetime(2026, 7, day, 6)
    outlook = look(curve, None, now=now, climate_only=True)
    assert outlook.risk == pytest.approx(1.0, abs=2 * EXACT)
    assert outlook.date_at(0.5) is None


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


@pytest.mark.parametrize(("low_c", "nights"), [(0.5, 7), (1.0, 5), (1.0, 7), (2.0, 5), (2.0, 7), (3.0, 7)])
def test_a_forecast_made_earlier_is_never_safer_than_the_same_one_made_now(low_c, nights):
    """What a bulletin knows of a cold night fades with its age, and the climate of May would talk it away."""
    told_c, hour = [8.0] * (nights - 1) + [low_c], dt.timedelta(hours=1)
    curve = ramp(TODAY - 20 * DAY, 20.0, spread_c=np.full(366, 4.0))
    now, *earlier = (
        look(
            curve, make_forecast(told_c, issued=NOW - hours * hour, first=TODAY + DAY), weather=make_weather()
        )
        for hours in (0, 1, 6, 11, 24, 47)
    )
    assert all(older.risk[0] >= now.risk[0] - EXACT for older in earlier)
