"""The whole answer of a morning: asked, as one screen of text, and as plain values."""

from __future__ import annotations

import datetime as dt
import json

import numpy as np
import pytest

from frostgate.gate.verdict import ask
from frostgate.model.gate import Policy, Reason
from frostgate.model.records import Station
from frostgate.show.answers import morning_answer, plain
from frostgate.show.morning import morning_lines
from frostgate.show.reasons import say_reasons
from frostgate.units import celsius
from tests.gate_cases import (
    DAY,
    NOW,
    TODAY,
    ask_about,
    make_curve,
    make_forecast,
    make_site,
    ramp,
)

CARE = """
Take care
  - A chance is not a promise: watch the forecast after feeding, and be ready to cover
    or move the pots.
  - A regional forecast can miss a cold hollow by many degrees; trust a minimum
    thermometer among the pots.
  - Follow the fertilizer's label and local rules on feeding and runoff; they come
    before any date here.
"""
OPEN = ask_about(make_site(make_curve(0.02)), make_forecast([9.0, 3.7, 9.0], notes=("Read as local time.",)))
SHUT = ask_about(
    make_site(ramp(TODAY, 40.0, step_c=5 / 9), notes=("One odd day.",)),
    make_forecast(celsius(np.array([48.0, 34.0, 48.0, 31.0])), sd_c=1.8),
    Policy(offset_c=-2 / 1.8),
)
UNKNOWN = ask_about(make_site(), None)
NOWHERE = ask(None, None, Policy(), NOW, problem="The record has 4 known seasons.")
ALONE = ask_about(make_site(make_curve(0.0)), None, climate_only=True)
MORNINGS = {"open": OPEN, "shut": SHUT, "unknown": UNKNOWN, "no record": NOWHERE, "curve alone": ALONE}


def text_of(morning, unit="C"):
    return "\n".join(morning_lines(morning, unit)) + "\n"


def test_an_open_morning_on_one_screen():
    assert (
        text_of(OPEN)
        == f"""\
OPEN  Sun 10 May 2026: the first feeding may begin

Why
  - If you feed today, the chance of a damaging frost still to come is 5 %; your limit
    is 10 %.
  - The night to watch ends on Tue 12 May: 3.7 °C forecast for the garden, chance of a
    damaging frost 3 %.
  - Beyond the forecast, after Wed 13 May, this garden still gets a frost of 0 °C or
    less in 2 % of springs.
  - The gate would shut if the coming nights turned out 1.5 °C colder than forecast.

First date by the risk you accept, as things stand
   50 % Sun 10 May   30 % Sun 10 May   20 % Sun 10 May   10 % Sun 10 May
    5 % Sun 10 May    2 % Wed 13 May    1 % no date

The nights ahead, in the garden
  to morning of   low    chance of 0 °C or less
  Mon 11 May    9.0 °C    under 1 %
  Tue 12 May    3.7 °C          3 %  #
  Wed 13 May    9.0 °C    under 1 %

What this rests on
  - Forecast: 3 nights through Wed 13 May; made Sun 10 May 06:00, 0 hours old.
  - Station: Hollow End (XX000000001), 30 known springs 1991-2020, 0 unknown; 0 flagged
    minima dropped, 0 suspect left out.
  - Curve: given; 2 % of springs had such a frost, fewer than half of all springs have
    one.
  - Garden: damage at 0 °C or less; taken to be as cold as the station.
  - Read as local time.
{CARE}"""
    )


def test_a_shut_morning_says_when_and_why():
    lines = list(morning_lines(SHUT, "F"))
    assert lines[:2] == [
        "SHUT  Sun 10 May 2026: do not feed yet",
        "      earliest Tue 26 May (likely Fri 22 May to Tue 26 May as forecasts come in)",
    ]
    at = lines.index("The nights ahead, in the garden")
    assert lines[at + 1 : at + 4] == [
        "  to morning of   low    chance of 32 °F or less",
        "  Mon 11 May     46 °F    under 1 %",
        "  Tue 12 May     32 °F         56 %  ###########",
    ]
    assert "   50 % Thu 14 May   30 % Mon 18 May   20 % Fri 22 May   10 % Tue 26 May" in lines
    assert "  - Garden: damage at 32 °F or less; 2 °F colder than the station." in lines
    assert lines[lines.index("Take care") - 2] == "  - One odd day."


def test_an_unknown_morning_gives_the_curves_dates_and_no_more():
    assert (
        text_of(UNKNOWN)
        == f"""\
UNKNOWN  Sun 10 May 2026: cannot be known this morning; do not feed on this

Why
  - No forecast was given; give one, or ask for the climate alone.
  - Unknown is not safe: do not feed on this answer.

First date by the risk you accept, by the curve alone
   50 % Sun 10 May   30 % Mon 18 May   20 % Fri 22 May   10 % Tue 26 May
    5 % Thu 28 May    2 % Fri 29 May    1 % Sat 30 May

What this rests on
  - Station: Hollow End (XX000000001), 30 known springs 1991-2020, 0 unknown; 0 flagged
    minima dropped, 0 suspect left out.
  - Curve: given; 100 % of springs had such a frost, the median last frost is 10 May.
  - Garden: damage at 0 °C or less; taken to be as cold as the station.
{CARE}"""
    )


def test_a_morning_without_a_record_says_why():
    lines = list(morning_lines(NOWHERE, "C"))
    assert lines[0].startswith("UNKNOWN")
    assert lines[3] == "  - The record has 4 known seasons."
    assert not any(line.startswith("First date by the risk") for line in lines)
    assert ask(None, None, Policy(), NOW).verdict.reasons[0] == Reason("no-record")


def test_a_morning_by_the_curve_alone_rests_on_no_forecast():
    forecast = make_forecast([-9.0], notes=("Read as local time.",))
    morning = ask_about(make_site(make_curve(0.0)), forecast, climate_only=True)
    text = text_of(morning)
    assert "First date by the risk you accept, by the curve alone" in text
    assert "This answer looks at no forecast" in text
    assert "rule of three" in text
    assert "Forecast: " not in text
    assert morning_answer(morning, "C")["forecast"] is None
    assert morning.notes == ()


@pytest.mark.parametrize("morning", MORNINGS.values(), ids=list(MORNINGS))
def test_no_line_is_wider_than_a_screen(morning):
    lines = list(morning_lines(morning, "C"))
    assert max(map(len, lines)) <= 90
    assert all(line == line.rstrip() for line in lines)


@pytest.mark.parametrize(
    ("curve", "exposed", "line"),
    [(make_curve(0.25), 0, "         no date this season is within your limit"),
     (make_curve(0.0), 1, "      earliest Tue 12 May (likely Mon 11 May to Tue 12 May as forecasts come in)"),
     (make_curve(0.0, low=np.zeros(366), high=np.full(366, 0.2)), 0, "      earliest Wed 13 May")],
)  # fmt: skip
def test_a_shut_morning_gives_the_dates_there_are(curve, exposed, line):
    forecast = make_forecast([9.0, 9.0, -3.0], first=TODAY)
    morning = ask_about(make_site(curve), forecast, Policy(first_exposed_days=exposed))
    assert list(morning_lines(morning, "C"))[1] == line


def test_a_morning_by_the_curve_alone_gives_the_range_of_its_bounds():
    middle = TODAY + 10 * DAY
    bounds = {"low": ramp(middle - 4 * DAY, 40.0).risk, "high": ramp(middle + 10 * DAY, 40.0).risk}
    morning = ask_about(make_site(ramp(middle, 40.0, **bounds)), None, climate_only=True)
    line = "      earliest Fri 5 Jun (likely Mon 1 Jun to Mon 15 Jun by the curve's bounds)"
    assert list(morning_lines(morning, "C"))[1] == line


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [({"station": Station(id="X1")}, "Station: X1, 30 known springs 1991-2020"),
     ({"suspects": 3, "suspects_kept": True, "flagged": 2},
      "2 flagged minima dropped, 3 suspect kept as you asked."),
     ({"suspects": 3}, "0 flagged minima dropped, 3 suspect left out."),
     ({"curve": ramp(dt.date(2026, 3, 1), 40.0)}, "the median last frost is 1 Mar.")],
)  # fmt: skip
def test_the_record_is_told_in_a_sentence(changes, sentence):
    assert sentence in " ".join(text_of(ask_about(make_site(**changes), None)).split())


@pytest.mark.parametrize(
    ("policy", "unit", "sentence"),
    [(Policy(offset_c=1.5), "C", "Garden: damage at 0 °C or less; 1.5 °C warmer than the station."),
     (Policy(offset_c=-1.0, damage_temp_c=-2.2), "F",
      "Garden: damage at 28 °F or less; 1.8 °F colder than the station.")],
)  # fmt: skip
def test_the_garden_is_told_in_a_sentence(policy, unit, sentence):
    assert sentence in text_of(ask_about(make_site(), None, policy), unit)


def test_a_forecast_that_does_not_tell_its_hour_is_told_so():
    forecast = make_forecast([9.0] * 5, issued=NOW - 1.25 * DAY, issued_stated=False)
    assert (
        "through Thu 14 May, 4 of them weighed; taken to be made Sat 9 May 00:00, 30 hours old."
        in " ".join(text_of(ask_about(make_site(), forecast)).split())
    )


@pytest.mark.parametrize(("low_c", "unit", "shown"), [(-0.04, "C", "  0.0 °C"), (-17.8, "F", "    0 °F")])
def test_zero_has_no_sign(low_c, unit, shown):
    morning = ask_about(make_site(make_curve(0.0)), make_forecast([low_c]))
    assert f"  Mon 11 May  {shown}" in text_of(morning, unit)


KEYS = {"on", "verdict", "reasons", "risk_tolerance", "risk_today", "earliest_date", "by_risk", "forecast",
        "record", "curve", "damage_temp_c", "offset_c", "cautions"}  # fmt: skip


@pytest.mark.parametrize("morning", MORNINGS.values(), ids=list(MORNINGS))
def test_every_answer_is_plain_and_whole(morning):
    answer = json.loads(json.dumps(morning_answer(morning, "C"), allow_nan=False))
    assert answer.keys() >= KEYS
    assert answer == morning_answer(morning, "C")
    assert answer["reasons"] == say_reasons(morning.verdict.reasons)
    assert answer["cautions"] == say_reasons(morning.cautions)
    assert [row["risk"] for row in answer["by_risk"]] == [0.5, 0.3, 0.2, 0.1, 0.05, 0.02, 0.01]
    assert [row["date"] for row in answer["by_risk"]] == plain(date for _, date in morning.verdict.by_risk)


def test_an_answer_holds_what_it_rests_on():
    answer = morning_answer(SHUT, "F")
    assert (answer["on"], answer["verdict"], answer["earliest_date"]) == ("2026-05-10", "shut", "2026-05-26")
    assert (answer["likely_from"], answer["likely_to"]) == ("2026-05-22", "2026-05-26")
    assert answer["risk_today"] == pytest.approx(float(SHUT.outlook.risk[0]), abs=1e-4)
    assert (answer["damage_temp_c"], answer["offset_c"], answer["risk_tolerance"]) == (0.0, -1.111, 0.1)
    assert answer["forecast"] == {
        "form": "table", "issued": "2026-05-10T06:00", "issued_stated": True, "through": "2026-05-14",
        "age_hours": 0.0, "time_zone": None, "gaps": [],
    }  # fmt: skip
    assert answer["record"] == {
        "station": "XX000000001", "name": "Hollow End", "seasons_used": 30, "seasons_unknown": 0,
        "first_year": 1991, "last_year": 2020, "last_day": "2020-07-31", "flagged": 0, "suspects": 0,
        "suspects_kept": False,
    }  # fmt: skip
    assert answer["nights"][1] == {
        "morning": "2026-05-12", "garden_c": 0.0, "sd_c": 2.06, "lead_days": 2.0,
        "chance": 0.5613,  # as the forecast states it, a normal of 1.8 °C: by tables; its error says 0.5573
    }  # fmt: skip
    assert answer["notes"] == ["One odd day."]


def test_an_answer_without_a_record_or_forecast_holds_nothing_in_their_place():
    answer = morning_answer(NOWHERE, "C")
    assert (answer["record"], answer["curve"], answer["forecast"], answer["nights"]) == (None, None, None, [])
    assert (answer["risk_today"], answer["earliest_date"], answer["likely_from"]) == (None, None, None)


def test_the_mornings_that_a_forecast_lacks_are_named():
    forecast = make_forecast([9.0, float("nan"), float("nan")], time_zone="UTC")
    answer = morning_answer(ask_about(make_site(), forecast, now=NOW + DAY / 2), "C")["forecast"]
    assert (answer["gaps"], answer["age_hours"]) == (["2026-05-12", "2026-05-13"], 12.0)
    assert answer["time_zone"] == "UTC"
