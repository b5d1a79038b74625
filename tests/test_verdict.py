"""Open, shut or unknown, the dates that go with it, and the cautions."""

from __future__ import annotations

import dataclasses
import datetime as dt

import numpy as np
import pytest

from frostgate.gate.verdict import RISKS, STANDING, ask, cannot_know, judge
from frostgate.model.gate import Outlook, Policy, Reason
from frostgate.show.reasons import say_reason
from tests.gate_cases import (
    ARCTIC,
    DAY,
    HALF,
    NOW,
    SUMMER,
    TODAY,
    ask_about,
    cliff,
    decide,
    look,
    make_curve,
    make_forecast,
    make_site,
    ramp,
)

NOT_SAFE = Reason("unknown-not-safe")


def make_outlook(risk, **changes):
    """Make an outlook of one table of risk, from today on."""
    risk = np.array(risk)
    given = {"today": TODAY, "dates": np.datetime64(TODAY, "D") + np.arange(risk.size), "risk": risk,
             "window_risk": 0 * risk, "climate_risk": risk, "climate_low": risk, "climate_high": risk,
             "climate_alone": risk}  # fmt: skip
    return Outlook(**(given | changes))


@pytest.mark.parametrize(
    ("risk", "state", "earliest"),
    [([0.09, 0.05], "open", TODAY), ([0.10, 0.05], "open", TODAY), ([0.101, 0.05], "shut", TODAY + DAY),
     ([0.9, 0.8, 0.1], "shut", TODAY + 2 * DAY), ([0.9, 0.5, 0.11], "shut", None)],
)  # fmt: skip
def test_the_gate_opens_on_the_first_date_within_the_limit(risk, state, earliest):
    verdict = judge(make_outlook(risk), Policy(risk_tolerance=0.10))
    assert (verdict.state, verdict.earliest_date, verdict.risk_today) == (state, earliest, risk[0])
    assert (verdict.on, verdict.risk_tolerance, verdict.climate_only) == (TODAY, 0.10, False)


@pytest.mark.parametrize("limit", [*RISKS, 0.03, 0.07, 0.15])
def test_a_risk_of_exactly_the_limit_is_within_it(limit):
    verdict = decide(make_curve(limit), None, Policy(risk_tolerance=limit), climate_only=True)
    assert (verdict.state, verdict.risk_today) == ("open", pytest.approx(limit))
    verdict = decide(make_curve(limit), make_forecast([1000.0]), Policy(risk_tolerance=limit))
    assert (verdict.state, verdict.risk_today) == ("open", pytest.approx(limit))


@pytest.mark.parametrize(("over", "state"), [(1e-12, "open"), (1e-9, "open"), (1e-8, "shut"), (1e-3, "shut")])
def test_no_more_than_the_last_digits_are_forgiven(over, state):
    verdict = judge(make_outlook([0.1 + over, 0.05]), Policy(risk_tolerance=0.1))
    assert verdict.state == state
    assert verdict.by_risk[3] == (0.1, TODAY if state == "open" else TODAY + DAY)


def test_each_risk_has_its_own_date():
    # the curve falls by 1/40 a day from 1 at 20 April to 0 at 30 May; fed on d, its risk is read at d + 1/2
    verdict = decide(ramp(TODAY, 40.0), None, climate_only=True)
    assert (verdict.state, verdict.risk_today) == ("shut", pytest.approx(0.4875))
    assert [(risk, str(date)) for risk, date in verdict.by_risk] == [
        (0.5, "2026-05-10"), (0.3, "2026-05-18"), (0.2, "2026-05-22"), (0.1, "2026-05-26"),
        (0.05, "2026-05-28"), (0.02, "2026-05-29"), (0.01, "2026-05-30"),
    ]  # fmt: skip
    assert verdict.earliest_date == dt.date(2026, 5, 26)


def test_an_answer_without_a_forecast_says_so_when_it_was_asked_for():
    verdict = decide(make_curve(0.04), None, climate_only=True)
    assert (verdict.state, verdict.climate_only) == ("open", True)
    assert verdict.reasons[1].code == "by-curve-alone"


def test_a_forecast_is_not_looked_at_where_the_curve_alone_was_asked_for():
    verdict = decide(make_curve(0.04), make_forecast([ARCTIC] * 7), climate_only=True)
    assert (verdict.state, verdict.risk_today) == ("open", pytest.approx(0.04))


def test_a_garden_that_never_freezes_is_open_on_any_day():
    for month in (1, 4, 7, 8, 12):
        now = dt.datetime(2026, month, 31 if month != 4 else 30, 6)
        verdict = decide(make_curve(0.0), make_forecast([12.0] * 7, issued=now), now=now)
        assert (verdict.state, verdict.earliest_date, verdict.likely_from) == ("open", now.date(), None)
        assert verdict.by_risk == tuple((risk, now.date()) for risk in RISKS)


def test_a_season_that_is_never_safe_enough_has_no_date():
    policy = Policy(first_exposed_days=0)  # else nothing of the season is left to fear on its last day
    verdict = decide(make_curve(0.25), make_forecast([SUMMER] * 8, first=TODAY), policy)
    assert (verdict.state, verdict.earliest_date, verdict.likely_from, verdict.likely_to) == (
        "shut", None, None, None,
    )  # fmt: skip
    assert verdict.reasons[0].code == "never-reached"
    assert verdict.by_risk == tuple((risk, TODAY if risk > 0.25 else None) for risk in RISKS)


UNTRUSTED = {
    "none": None,
    "stale": make_forecast([9.0] * 9, issued=NOW - 49 * dt.timedelta(hours=1)),
    "of tomorrow": make_forecast([9.0], issued=NOW + DAY),
    "ended": make_forecast([9.0], first=TODAY),
    "gap": make_forecast([9.0, float("nan"), 9.0]),
    "late start": make_forecast([9.0], first=TODAY + 2 * DAY),
}


@pytest.mark.parametrize("forecast", UNTRUSTED.values(), ids=list(UNTRUSTED))
def test_what_cannot_be_known_is_not_safe(forecast):
    curve = ramp(TODAY, 40.0)
    verdict, alone = decide(curve, forecast), decide(curve, None, climate_only=True)
    assert (verdict.state, verdict.risk_today, verdict.earliest_date) == ("unknown", None, None)
    assert (verdict.likely_from, verdict.likely_to, verdict.climate_only) == (None, None, False)
    assert verdict.by_risk == alone.by_risk
    assert verdict.reasons[:-1] == look(curve, forecast).forecast_checks
    assert verdict.reasons[-1] == NOT_SAFE


def test_without_a_curve_there_are_no_dates_either():
    verdict = cannot_know(TODAY, (Reason("no-record"),), Policy(risk_tolerance=0.05))
    assert verdict.reasons == (Reason("no-record"), NOT_SAFE)
    assert verdict.by_risk == tuple((risk, None) for risk in RISKS)
    assert (verdict.on, verdict.state, verdict.risk_tolerance) == (TODAY, "unknown", 0.05)


def test_the_likely_range_runs_from_clear_forecasts_to_the_curves_upper_bound():
    curve = ramp(TODAY + 10 * DAY, 40.0)
    late = ramp(TODAY + 20 * DAY, 40.0).risk
    bounded = dataclasses.replace(curve, low=curve.risk, high=late)
    verdict = decide(bounded, make_forecast([SUMMER] * 5))
    # alone the curve reaches 10 % at 5 June; the five nights of each morning's forecast come off it
    assert verdict.earliest_date == dt.date(2026, 6, 5)
    assert verdict.likely_from == dt.date(2026, 5, 31)
    assert verdict.likely_to == dt.date(2026, 6, 15)


def test_by_the_curve_alone_the_likely_range_is_that_of_its_bounds():
    middle = ramp(TODAY + 10 * DAY, 40.0)
    early, late = ramp(TODAY + 6 * DAY, 40.0).risk, ramp(TODAY + 20 * DAY, 40.0).risk
    verdict = decide(dataclasses.replace(middle, low=early, high=late), None, climate_only=True)
    assert verdict.earliest_date == dt.date(2026, 6, 5)
    assert (verdict.likely_from, verdict.likely_to) == (dt.date(2026, 6, 1), dt.date(2026, 6, 15))
    bare = decide(middle, None, climate_only=True)
    assert bare.likely_from == bare.earliest_date == bare.likely_to


def test_the_likely_range_begins_tomorrow_at_the_earliest():
    verdict = decide(make_curve(0.0), make_forecast([9.0, 9.0, HALF]))
    assert (verdict.state, verdict.earliest_date) == ("shut", dt.date(2026, 5, 13))
    assert (verdict.likely_from, verdict.likely_to) == (dt.date(2026, 5, 11), dt.date(2026, 5, 13))


def test_the_likely_range_has_no_end_where_the_upper_bound_never_falls():
    curve = cliff(TODAY + 5 * DAY, low=np.zeros(366), high=np.full(366, 1.0))
    nights = make_forecast([SUMMER] * 3, first=TODAY)
    verdict = decide(curve, nights, Policy(first_exposed_days=0))
    assert (verdict.earliest_date, verdict.likely_from) == (dt.date(2026, 5, 17), dt.date(2026, 5, 14))
    assert verdict.likely_to is None


@pytest.mark.parametrize("nights", [1, 7, 10])
def test_a_window_longer_than_what_is_left_of_the_season_does_no_harm(nights):
    now = dt.datetime(2026, 7, 27, 6)
    told_c = [HALF] * min(nights, 3) + [SUMMER] * (nights - 3)
    verdict = decide(make_curve(0.0), make_forecast(told_c, issued=now), now=now)
    assert verdict.state == "shut"
    assert now.date() < verdict.likely_from <= verdict.earliest_date <= dt.date(2026, 7, 31)


def cautions(site=None, policy=None, **options):
    return ask_about(site, None, policy, **options).cautions


def test_every_answer_carries_the_standing_cautions_and_no_more():
    assert cautions(make_site()) == STANDING
    assert cautions() == STANDING


def test_an_answer_from_the_curve_alone_says_that_it_looks_at_no_forecast():
    assert cautions(make_site(), climate_only=True) == (Reason("without-forecast"), *STANDING)


@pytest.mark.parametrize(
    ("seasons", "bound"),
    [(30, "10 %"), (15, "20 %"), (10, "30 %")],  # rule of three, 3 / n: common practice, no source
)
def test_a_station_that_never_froze_is_no_promise(seasons, bound):
    first, *others = cautions(make_site(make_curve(0.0, seasons_used=seasons)))
    assert say_reason(first) == (
        f"No damaging frost in {seasons} seasons does not rule one out: a chance of up to {bound} a season "
        "is consistent with that (rule of three)."
    )
    assert tuple(others) == STANDING


def test_one_frost_is_enough_to_leave_the_rule_of_three_aside():
    assert cautions(make_site(make_curve(0.0, frost_share=1 / 30))) == STANDING


@pytest.mark.parametrize(("damage_temp_c", "said"), [(-0.1, True), (0.0, False), (1.0, False)])
def test_a_damage_temperature_below_freezing_is_remarked_upon(damage_temp_c, said):
    found = cautions(make_site(), Policy(damage_temp_c=damage_temp_c))
    assert (Reason("below-freezing") in found) is said


def test_an_answer_that_was_asked_of_the_curve_alone_says_so_even_where_there_is_none():
    answer = ask(None, None, Policy(), dt.datetime(2026, 4, 12, 6), climate_only=True)

    assert (answer.verdict.state, answer.verdict.climate_only) == ("unknown", True)
