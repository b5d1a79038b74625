"""A season under way: feeding goes on, pauses for a frost, or has ended."""

from __future__ import annotations

import datetime as dt

import pytest

from frostgate.feeding.season_verdict import hold, judge_season
from frostgate.model.feedings import Done, Feeding, Programme, SeasonFacts
from frostgate.model.gate import Reason, Verdict
from frostgate.seasons import NORTH

GATE, STOP = dt.date(2026, 5, 16), dt.date(2026, 9, 1)
GATES = Reason("within-limit", {"risk": 0.05, "limit": 0.1})
FED = Done(on=GATE, group="plums", phase="wake-up", kind="liquid")


def answer(today, state="shut", stop=STOP, done=(FED,), gate_open=True, frost_on=()):
    verdict = Verdict(on=today, state=state, reasons=(GATES,), risk_tolerance=0.1, risk_today=0.9,
                      earliest_date=dt.date(2027, 5, 13), by_risk=((0.1, dt.date(2027, 5, 13)),))  # fmt: skip
    facts = SeasonFacts(today=today, gate=GATE, gate_open=gate_open, done=done, frost_on=frost_on)
    programme = Programme(feedings=(), gate=GATE, stop=stop, n_per_pot_g=(), notes=())
    return judge_season(verdict, programme, facts, NORTH)


@pytest.mark.parametrize("state", ["open", "shut"])
def test_until_the_frost_season_ends_the_gates_answer_stands(state):
    """Fed in May, a frost in June would still kill the flush: the gate is about just that."""
    found = answer(dt.date(2026, 6, 10), state)
    assert (found.state, found.reasons) == (state, (GATES,))


def test_from_the_next_frost_season_on_feeding_goes_on_until_the_stop():
    """From August the gate speaks of next spring."""
    found = answer(dt.date(2026, 8, 20))
    assert found.state == "open"
    assert found.reasons == (Reason("season-goes-on", {"stop": STOP}),)
    assert (found.earliest_date, found.by_risk, found.risk_today) == (None, (), None)
    assert answer(STOP).state == "open"


@pytest.mark.parametrize("state", ["open", "shut"])
def test_past_the_stop_nothing_is_fed(state):
    found = answer(STOP + dt.timedelta(days=1), state)
    assert found.state == "shut"
    assert found.reasons == (Reason("season-ended", {"stop": STOP}),)


def test_past_an_early_stop_the_gate_opens_nothing():
    assert answer(dt.date(2026, 7, 20), "open", stop=dt.date(2026, 7, 10), done=()).state == "shut"


def test_an_autumn_frost_in_the_forecast_shuts():
    found = answer(dt.date(2026, 8, 20), frost_on=(dt.date(2026, 8, 23),))
    assert found.state == "shut"
    assert found.reasons == (Reason("frost-forecast", {"morning": dt.date(2026, 8, 23)}),)


@pytest.mark.parametrize("today", [dt.date(2026, 6, 10), dt.date(2026, 8, 20), dt.date(2026, 9, 20)])
def test_unknown_stays_unknown(today):
    assert answer(today, "unknown").reasons == (GATES,)


def test_where_the_stop_is_not_known_the_autumn_is_unknown():
    assert answer(dt.date(2026, 8, 20), stop=None).state == "unknown"


@pytest.mark.parametrize("given", [{"done": ()}, {"gate_open": False}])
def test_a_garden_that_was_not_fed_waits_for_the_gate(given):
    assert answer(dt.date(2026, 8, 20), **given).reasons == (GATES,)


def feeding(status):
    return Feeding(date=GATE, group="plums", phase="wake-up", kind="liquid", portions=(), number=2,
                   status=status, not_before_gate=True, reason="10 days after the last one")  # fmt: skip


@pytest.mark.parametrize(("state", "status"), [("open", "due"), ("shut", "held"), ("unknown", "held")])
def test_nothing_is_due_unless_the_morning_is_open(state, status):
    programme = Programme(feedings=tuple(map(feeding, ("due", "planned", "done"))), gate=GATE, stop=STOP,
                          n_per_pot_g=(), notes=())  # fmt: skip
    verdict = Verdict(on=GATE, state=state, reasons=(GATES,), risk_tolerance=0.1)
    held = hold(programme, verdict)
    assert [one.status for one in held.feedings] == [status, "planned", "done"]
    assert ("open" in held.feedings[0].reason) == (status == "held")
