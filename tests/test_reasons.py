"""Why the gate stands as it does: every sentence must be true, and read well in either unit."""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pytest

from frostgate.gate.verdict import judge
from frostgate.model.gate import Policy, Reason
from frostgate.seasons import say_day
from frostgate.show.reasons import say_reason, say_reasons
from frostgate.units import celsius, parse_share, say_share
from tests.gate_cases import (
    DAY,
    HALF,
    NOW,
    SUMMER,
    TODAY,
    WHITE,
    decide,
    look,
    make_curve,
    make_forecast,
    make_weather,
    ramp,
    told,
    warmed,
)

SHIFT = re.compile(
    r"The gate would (?:shut|open today) if the coming nights .*?(\d+(?:\.\d)?) °([FC]) (colder|milder)"
)
STEP_C = {"C": 0.5, "F": 5 / 9}
TOO_EARLY = Reason("too-early")


def read_shift(reasons):
    """Find the shift [°C] that the reasons name, and its unit; None where they name none."""
    found = SHIFT.search("\n".join(reasons))
    if found is None:
        return None
    size_c = float(found[1]) / (1.8 if found[2] == "F" else 1.0)
    return (-size_c if found[3] == "colder" else size_c), found[2]


def test_the_reasons_of_an_open_gate_in_celsius():
    assert "\n".join(told(make_curve(0.02), make_forecast([9.0, 3.7, 9.0]))) == (
        "If you feed today, the chance of a damaging frost still to come is 5 %; your limit is 10 %.\n"
        "The night to watch ends on Tue 12 May: 3.7 °C forecast for the garden, "
        "chance of a damaging frost 3 %.\n"
        "Beyond the forecast, after Wed 13 May, this garden still gets a frost of 0 °C or less "
        "in 2 % of springs.\n"
        "The gate would shut if the coming nights turned out 1.5 °C colder than forecast."
    )


def test_the_reasons_of_a_shut_gate_in_fahrenheit():
    curve = make_curve(0.02, step_c=5 / 9)
    forecast = make_forecast(celsius(np.array([48.0, 34.0, 48.0])), sd_c=1.5)  # 1.8 °C with the floor
    policy = Policy(risk_tolerance=0.05, wide_share=0.0, error_sd_c=((0.5, 0.1),))
    assert "\n".join(told(curve, forecast, policy, unit="F")) == (
        "If you feed today, the chance of a damaging frost still to come is 34 %; your limit is 5 %, "
        "reached on Tue 12 May as things stand.\n"
        "The night to watch ends on Tue 12 May: 34 °F forecast for the garden, "
        "chance of a damaging frost 32 %.\n"
        "Beyond the forecast, after Wed 13 May, this garden still gets a frost of 32 °F or less "
        "in 2 % of springs.\n"
        "The gate would open today if the coming nights were forecast 5 °F milder.\n"
        "If the night to Tue 12 May passes without frost, the risk will be 2 % and the gate open.\n"
        "At a limit of 34 % the gate would be open today."
    )


def test_what_weighs_more_is_told_first():
    night = "The night to watch ends on"
    cold = told(make_curve(0.05), make_forecast([9.0, 1.0]))
    late = told(ramp(TODAY, 40.0), make_forecast([9.0, 3.0]))
    assert cold[1].startswith(night)
    assert cold[2].startswith("Beyond the forecast, after Tue 12 May, ")
    assert late[1].startswith("Beyond the forecast, after Tue 12 May, ")
    assert "in 44 % of springs" in late[1]
    assert late[2].startswith(night)


def test_nights_without_a_frost_to_speak_of_are_told_as_such():
    forecast = make_forecast(celsius(np.array([46.0, 43.0, 57.0])))
    assert told(make_curve(0.05), forecast, unit="F")[2] == (
        "No forecast night has a chance of frost above 1 %; the coldest ends on Tue 12 May: "
        "43 °F in the garden."
    )
    assert all(night.chance < 0.01 for night in look(make_curve(0.05), forecast).nights)


def test_a_frost_far_ahead_is_the_night_to_watch_and_shuts_the_gate():
    verdict = decide(make_curve(0.02), make_forecast([12.0] * 14 + [1.0, -2.04, 5.0]))
    assert verdict.state == "shut"
    assert say_reason(verdict.reasons[1]).startswith("The night to watch ends on Tue 26 May: -2 °C forecast")


@pytest.mark.parametrize("tail", [[12.0] * 3, [float("nan")] * 3, [0.1] * 3])
def test_no_frost_far_ahead_is_made_up(tail):
    assert len(look(make_curve(0.02), make_forecast([12.0] * 14 + tail)).nights) == 14


def test_without_a_forecast_the_curve_alone_is_told_and_no_shift():
    reasons = told(make_curve(0.2), None, Policy(damage_temp_c=-2.2), unit="F", climate_only=True)
    assert reasons[1:] == [
        "By the station's past alone, a frost of 28 °F or less still comes after today in 20 % of springs.",
        "At a limit of 20 % the gate would be open today.",
    ]


@pytest.mark.parametrize("damage_f", [28.0, 30.5, 32.0, 33.8])
@pytest.mark.parametrize("options", [{}, {"climate_only": True}])
def test_the_damage_temperature_is_told_as_the_grower_wrote_it(damage_f, options):
    policy = Policy(damage_temp_c=celsius(damage_f))
    text = " ".join(told(make_curve(0.2), make_forecast([1.0]), policy, unit="F", **options))
    assert f"a frost of {damage_f:g} °F or less" in text


@pytest.mark.parametrize("unit", ["C", "F"])
@pytest.mark.parametrize("low_c", [8.0, 4.0, 2.5, 1.0, -2.0, -4.5])
def test_the_shift_that_turns_the_answer_turns_it_and_a_step_less_does_not(low_c, unit):
    curve, forecast = make_curve(0.03), make_forecast([9.0, low_c, 7.0])
    verdict = decide(curve, forecast)
    shift_c, told_in = read_shift(say_reasons(verdict.reasons, unit))
    states = [
        decide(curve, warmed(forecast, shift)).state
        for shift in (shift_c, shift_c - np.copysign(STEP_C[unit], shift_c))
    ]
    assert told_in == unit
    assert states == [{"open": "shut", "shut": "open"}[verdict.state], verdict.state]


def test_a_gate_that_no_likely_cold_would_shut_says_nothing_of_it():
    verdict = decide(make_curve(0.0), make_forecast([25.0]))
    assert (verdict.state, len(verdict.reasons)) == ("open", 3)


def test_too_early_in_the_season_is_one_that_no_forecast_opens():
    curve, forecast = ramp(TODAY + 10 * DAY, 40.0), make_forecast([9.0] * 3)
    assert TOO_EARLY in decide(curve, forecast).reasons
    assert decide(curve, warmed(forecast, SUMMER)).state == "shut"


@pytest.mark.parametrize(("share", "lows"), [(0.0, [-12.0, -15.0]), (0.0999, [8.0])])
def test_it_is_not_called_too_early_where_a_milder_forecast_would_open_it(share, lows):
    curve, forecast = make_curve(share), make_forecast(lows)
    assert decide(curve, forecast).state == "shut"
    assert decide(curve, warmed(forecast, 1000.0)).state == "open"
    assert TOO_EARLY not in decide(curve, forecast).reasons


@pytest.mark.parametrize("share", [0.004, 0.101, 0.1049, 0.12, 0.29, 0.305, 0.4999, 0.5])
def test_the_limit_that_would_open_the_gate_opens_it(share):
    policy = Policy(risk_tolerance=0.002)
    text = told(make_curve(share), None, policy, climate_only=True)[-1]
    limit = re.fullmatch(r"At a limit of (\d+ %) the gate would be open today\.", text)[1]
    assert (
        decide(make_curve(share), None, Policy(risk_tolerance=parse_share(limit)), climate_only=True).state
        == "open"
    )
    assert parse_share(limit) - share < 0.01, "no higher than it must be"


@pytest.mark.parametrize("share", [0.501, 0.9, 1.0])
def test_no_limit_above_half_is_offered(share):
    assert "limit of" not in " ".join(told(make_curve(share), None, climate_only=True))


@pytest.mark.parametrize("policy", [Policy(), WHITE], ids=["correlated", "independent"])
@pytest.mark.parametrize("lows", [[0.5, 9.0, 8.0], [1.0, 0.0, 1.5], [9.0, -4.0], [9.0, 9.0, 9.0, 2.0]])
def test_the_risk_without_the_worst_night_is_that_of_a_forecast_without_it(lows, policy):
    curve, worst = make_curve(0.03), int(np.argmin(lows))
    clear = make_forecast([1000.0 if k == worst else low for k, low in enumerate(lows)])
    risk = look(curve, clear, policy).risk[0]
    gate = "open" if decide(curve, clear, policy).state == "open" else "still shut"
    assert told(curve, make_forecast(lows), policy)[4] == (
        f"If the night to {say_day(TODAY + (worst + 1) * DAY)} passes without frost, "
        f"the risk will be {say_share(risk)} and the gate {gate}."
    )


def test_a_night_that_hardly_matters_is_not_brought_up():
    verdict = decide(ramp(TODAY + 10 * DAY, 40.0), make_forecast([9.0] * 3))
    assert "without-that-night" not in {reason.code for reason in verdict.reasons}


def test_the_first_of_equally_cold_nights_with_the_same_spread_is_watched():
    assert told(make_curve(0.0), make_forecast([9.0, HALF, HALF], sd_c=1.0))[1] == (
        "The night to watch ends on Tue 12 May: 0.1 °C forecast for the garden, "
        "chance of a damaging frost 50 %."
    )


def test_units_are_words_alone():
    curve, forecast = make_curve(0.03), make_forecast([9.0, 2.0])
    in_c, in_f = (" ".join(told(curve, forecast, unit=unit)) for unit in ("C", "F"))
    assert ("°C" in in_c, "°F" in in_c) == (True, False)
    assert ("°C" in in_f, "°F" in in_f) == (False, True)


def test_a_day_is_said_as_growers_say_it():
    assert (say_day(NOW.date()), say_day(NOW.date() + 9 * DAY)) == ("Sun 10 May", "Tue 19 May")


KNOWN = {"spread_c": np.full(366, 4.0)}


def known_reasons(curve, lows, weather, unit="C", **options):
    return told(curve, make_forecast(lows), unit=unit, weather=weather, **options)


@pytest.mark.parametrize(
    ("anomaly_c", "unit", "sentence"),
    [(2.0, "C", "The past 60 nights ran 2 °C milder than usual."),
     (-1.5, "C", "The past 60 nights ran 1.5 °C colder than usual."),
     (-1.0, "F", "The past 60 nights ran 1.8 °F colder than usual."),
     (0.2, "C", "The past 60 nights ran as usual."), (-0.2, "C", "The past 60 nights ran as usual.")],
)  # fmt: skip
def test_how_the_past_nights_ran_is_told_beside_the_season(anomaly_c, unit, sentence):
    curve, weather = ramp(TODAY, 40.0, **KNOWN), make_weather(anomaly_c)
    outlook = look(curve, make_forecast([8.0] * 3), weather=weather)
    text = " ".join(known_reasons(curve, [8.0] * 3, weather, unit))
    alone = say_share(float(outlook.climate_alone[3]))
    frost = "32 °F" if unit == "F" else "0 °C"
    assert (
        f"Beyond the forecast, after Wed 13 May, this garden still gets a frost of {frost} or less in "
        f"{say_share(float(outlook.climate_risk[0]))} of springs like this one; by the curve alone in "
        f"{alone}. {sentence}"
    ) in text


def test_where_the_past_is_not_known_nothing_is_told_of_it():
    text = " ".join(known_reasons(ramp(TODAY, 40.0, **KNOWN), [8.0] * 3, make_weather(recent_c=[])))
    assert "of springs like this one" in text
    assert "The past 60 nights" not in text


def test_a_milder_forecast_may_open_a_season_that_looked_too_early():
    """With its last night the season beyond turns milder as well."""
    curve, weather, lows = ramp(TODAY + DAY, 40.0, **KNOWN), make_weather(3.0), [8.0] * 14
    policy = Policy(risk_tolerance=0.1)
    outlook = look(curve, make_forecast(lows), policy, weather=weather)
    warm = look(curve, make_forecast([SUMMER] * 14), policy, weather=weather)
    assert warm.risk[0] <= 0.1 < outlook.climate_risk[0], "the case is one of those"
    assert TOO_EARLY not in decide(curve, make_forecast(lows), weather=weather).reasons


@pytest.mark.parametrize("lows", [[1.0, 9.0, 8.0], [9.0, 7.0, 0.0]])
def test_without_its_worst_night_all_else_stays_as_it_is_seen(lows):
    """The last night may be the worst: the season beyond is still tilted by it."""
    curve, weather = make_curve(0.03, **KNOWN), make_weather()
    outlook = look(curve, make_forecast(lows), weather=weather)
    clear = [SUMMER if low == min(lows) else low for low in lows]
    mild = look(curve, make_forecast(clear), weather=weather)
    window, worst = np.diff(np.log(1 - np.append(mild.window_risk[:3], 0.0))), int(np.argmin(lows))
    left = 1 - np.exp(-np.delete(window, worst).sum()) * (1 - outlook.climate_risk[0])
    assert f"passes without frost, the risk will be {say_share(float(left))} and" in " ".join(
        known_reasons(curve, lows, weather)
    )


def test_an_outlook_made_by_hand_has_no_night_to_take_away():
    outlook = dataclasses.replace(look(make_curve(0.03), make_forecast([0.0, 9.0])), seen=None)
    verdict = judge(outlook, Policy())
    codes = ["reached-later", "night-to-watch", "beyond-forecast"]
    assert [reason.code for reason in verdict.reasons] == codes
    assert say_reason(verdict.reasons[2]).endswith("gets a frost of 0 °C or less in 3 % of springs.")


@pytest.mark.parametrize(
    ("reason", "sentence"),
    [
        (Reason("season-ended", {"stop": TODAY}), "Feeding ended on Sun 10 May in time for dormancy."),
        (Reason("stop-unknown"),
         "It is not known when feeding must end, for no date of the first autumn frost is known."),
        (Reason("frost-forecast", {"morning": TODAY}),
         "A damaging frost is forecast for the morning of Sun 10 May."),
        (Reason("season-goes-on", {"stop": TODAY, "risk": 0.02, "limit": 0.1}),
         ("Feeding goes on until Sun 10 May: the chance of a damaging frost on the coming nights is "
          "2 %, your limit 10 %.")),
        (Reason("frost-ahead", {"risk": 0.43, "limit": 0.1}),
         "The chance of a damaging frost on the coming nights is 43 %; your limit is 10 %."),
        (Reason("no-climate", {"problem": "Only 4 {known} seasons."}), "Only 4 {known} seasons."),
    ],
)  # fmt: skip
def test_a_reason_is_said_in_one_sentence(reason, sentence):
    assert say_reason(reason) == sentence


def test_a_risk_hardly_over_the_limit_is_not_said_to_be_the_limit():
    facts = {"risk": 0.1004, "limit": 0.1, "reached": TODAY + DAY}
    assert "is a little over 10 %; your limit is 10 %" in say_reason(Reason("reached-later", facts))
