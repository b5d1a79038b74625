"""When feeding is allowed: the growing year, a frost, local rules, the season's end, a season under way."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from frostgate.feeding.season import plan_season
from frostgate.feeding.stop import autumn_date, growing_year, hold, judge_season
from frostgate.model.curves import FrostCurve
from frostgate.model.feedings import Done, Feeding, NoFeeding, Programme, SeasonFacts
from frostgate.model.gate import Policy, Reason, Verdict
from frostgate.seasons import NORTH, SOUTH
from tests.season_cases import DAY, FIRST_FROST, GATE, STOP, dates, facts, fed, garden, plan, to_come


def test_feedings_are_held_until_the_last_forecast_frost_has_passed():
    frosts = (GATE + 2 * DAY, GATE + 4 * DAY)
    programme = plan(frost_on=frosts)

    first = to_come(programme, "wake-up")[0]
    assert (first.date, first.status) == (GATE + 4 * DAY, "held")  # fed that day, once the morning is over
    assert "held back by the frost forecast for the morning of Wed 20 May" in first.reason
    assert dates(to_come(programme)[1:3]) == ["05-30", "06-17"]
    assert to_come(programme, kind="top-dressing")[0].date == first.date


@pytest.mark.parametrize(
    ("exposed", "frost", "date"),
    [(0, 3, 4), (1, 3, 3), (2, 3, 2), (7, 9, 3), (0, 0, 1), (1, 0, 0), (2, 1, 0)],
)
def test_a_frost_holds_a_feeding_as_long_as_the_gate_counts_it_as_exposed(exposed, frost, date):
    """Pots fed on d are exposed to the minima dated d + `first_exposed_days` and later."""
    policy = Policy(first_exposed_days=exposed)
    first = to_come(plan(frost_on=(GATE + frost * DAY,), policy=policy))[0]
    assert (first.date, first.status) == (GATE + date * DAY, "held" if date else "due")


def test_a_local_rule_moves_a_feeding_to_the_first_day_after_it():
    rule = NoFeeding(name="summer rule", first=(6, 1), last=(6, 30))
    programme = plan_season(garden(no_feeding=(rule,)), facts())

    moved = to_come(programme, "build-up")[0]
    assert (moved.date, moved.status) == (dt.date(2026, 7, 1), "planned")
    assert "moved from Sat 13 Jun: no feeding by 'summer rule'" in moved.reason
    assert "No feeding by 'summer rule': 1 Jun to 30 Jun, every year." in programme.notes


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        (dt.date(2023, 11, 14), dt.date(2023, 11, 14)),
        (dt.date(2023, 12, 31), dt.date(2024, 3, 2)),
        (dt.date(2024, 1, 1), dt.date(2024, 3, 2)),
        (dt.date(2024, 2, 29), dt.date(2024, 3, 2)),
        (dt.date(2024, 3, 1), dt.date(2024, 3, 2)),
    ],
)  # an ordinance from 15 November to 1 March: New Jersey's window of 2011, its last day blocked by policy
def test_a_rule_may_wrap_the_years_end(wanted, found):
    winter = NoFeeding(name="ordinance", first=(11, 15), last=(3, 1))
    known = facts(wanted, gate=wanted, first_autumn_frost=dt.date(2024, 10, 1))
    programme = plan_season(garden(no_feeding=(winter,), hemisphere="south"), known)
    assert to_come(programme)[0].date == found


def test_nothing_is_dated_after_the_stop():
    programme = plan()
    assert (programme.stop, max(f.date for f in programme.feedings if f.date)) == (STOP, dt.date(2026, 8, 8))
    assert (
        f"Nothing is fed after Sat 15 Aug 2026, 7 weeks before the first autumn frost, {'Sat 3 Oct'}"
        in " ".join(programme.notes)
    )


def test_the_weeks_before_the_first_frost_can_be_stated():
    assert plan_season(garden(stop_weeks=8.5), facts()).stop == FIRST_FROST - 60 * DAY


def test_after_the_stop_nothing_is_planned_and_the_notes_say_so():
    programme = plan(STOP + DAY, done=(fed(GATE),))
    assert [feeding.status for feeding in programme.feedings] == ["done"]
    assert "Feeding is over for this season." in programme.notes


def test_a_season_without_time_between_gate_and_stop_says_so():
    programme = plan(first_autumn_frost=GATE + 20 * DAY)
    assert programme.feedings == ()
    assert "That is before the gate: there is no time to feed." in programme.notes


def test_feeding_ends_in_mid_autumn_however_late_the_frost():
    # common practice, no source
    programme = plan(first_autumn_frost=dt.date(2026, 12, 20))
    assert programme.stop == dt.date(2026, 10, 15)


def test_without_a_date_of_the_first_frost_the_equinox_ends_the_season():
    # a choice, no source
    programme = plan(first_autumn_frost=None)
    assert programme.stop == dt.date(2026, 9, 22)
    assert any("no date of the first autumn frost is known" in note for note in programme.notes)
    assert all(feeding.date <= programme.stop for feeding in programme.feedings if feeding.date)


@pytest.mark.parametrize("stated", ["south", None])
def test_a_southern_season_runs_over_new_year(stated):
    gate, frost = dt.date(2026, 10, 10), dt.date(2027, 4, 20)
    known = facts(gate, gate=gate, first_autumn_frost=frost)
    programme = plan_season(garden(hemisphere=stated), known)

    assert programme.stop == dt.date(2027, 3, 2)
    assert to_come(programme)[-3].date == dt.date(2027, 2, 27)
    without = plan_season(garden(hemisphere=stated), replace(known, first_autumn_frost=None))
    assert without.stop == dt.date(2027, 3, 20)
    assert any("southern spring" in note for note in without.notes) is (stated is None)


def autumn(middle, start=NORTH, share=1.0):
    risk = share * np.clip((np.arange(366) - middle) / 40 + 0.5, 0, 1)
    return FrostCurve(kind="given", side="autumn", threshold_c=0.0, start=start, risk=risk, frost_share=share,
                      seasons_used=30, seasons_unknown=0, first_year=1991, last_year=2020)  # fmt: skip


@given(st.dates(dt.date(1950, 1, 1), dt.date(2100, 12, 31)), st.sampled_from([NORTH, SOUTH]))
def test_it_begins_at_the_midwinter_before_a_day(today, start):
    begins = growing_year(today, start)
    assert begins <= today < begins + dt.timedelta(days=367)
    assert (begins.month, begins.day) in {(1, 1), (7, 3), (7, 4)}
    assert growing_year(begins, start) == begins


def test_without_a_record_the_past_eight_months_count():
    assert growing_year(dt.date(2026, 4, 12), None) == dt.date(2025, 8, 15)


@pytest.mark.parametrize("after", [dt.date(2026, 5, 16), dt.date(2026, 8, 1), dt.date(2026, 9, 29)])
def test_the_next_autumn_frost_is_that_of_this_year(after):
    """Season day 70 is 10 October; 10 % of frosts come 16 days earlier."""
    assert autumn_date(autumn(70), 0.5, after) == dt.date(2026, 10, 10)
    assert autumn_date(autumn(70), 0.1, dt.date(2026, 5, 16)) == dt.date(2026, 9, 24)


def test_once_it_is_past_it_is_that_of_the_next_year():
    assert autumn_date(autumn(70), 0.5, dt.date(2026, 10, 10)) == dt.date(2027, 10, 10)


def test_in_the_south_autumn_comes_half_a_year_earlier():
    """Season day 70 of a season that begins on 1 February."""
    assert autumn_date(autumn(70, SOUTH), 0.5, dt.date(2026, 1, 16)) == dt.date(2026, 4, 11)


def test_where_frosts_are_too_rare_there_is_no_date():
    assert autumn_date(autumn(70, share=0.3), 0.5, dt.date(2026, 5, 16)) is None


ENDS = dt.date(2026, 9, 1)
GATES = Reason("within-limit", {"risk": 0.05, "limit": 0.1})
WOKEN = Done(on=GATE, group="plums", phase="wake-up", kind="liquid")


def answer(today, state="shut", stop=ENDS, done=(WOKEN,), gate_open=True, frost_on=(), frost_risk=0.0):
    verdict = Verdict(on=today, state=state, reasons=(GATES,), risk_tolerance=0.1, risk_today=0.9,
                      earliest_date=dt.date(2027, 5, 13), by_risk=((0.1, dt.date(2027, 5, 13)),))  # fmt: skip
    facts = SeasonFacts(today=today, gate=GATE, gate_open=gate_open, done=done, frost_on=frost_on,
                        frost_risk=frost_risk)  # fmt: skip
    programme = Programme(feedings=(), gate=GATE, stop=stop, n_per_pot_g=(), notes=())
    return judge_season(verdict, programme, facts, NORTH)


@pytest.mark.parametrize(("risk", "state"), [(0.1, "open"), (0.11, "shut"), (0.43, "shut")])
def test_the_growers_limit_holds_for_the_whole_season(risk, state):
    found = answer(dt.date(2026, 8, 20), frost_risk=risk)
    assert found.state == state
    assert found.reasons[0].facts["risk"] == risk


@pytest.mark.parametrize("state", ["open", "shut"])
def test_until_the_frost_season_ends_the_gates_answer_stands(state):
    """Fed in May, a frost in June would still kill the flush: the gate is about just that."""
    found = answer(dt.date(2026, 6, 10), state)
    assert (found.state, found.reasons) == (state, (GATES,))


def test_from_the_next_frost_season_on_feeding_goes_on_until_the_stop():
    """From August the gate speaks of next spring."""
    found = answer(dt.date(2026, 8, 20))
    assert found.state == "open"
    assert found.reasons == (Reason("season-goes-on", {"stop": ENDS, "risk": 0.0, "limit": 0.1}),)
    assert (found.earliest_date, found.by_risk, found.risk_today) == (None, (), None)
    assert answer(ENDS).state == "open"


@pytest.mark.parametrize("state", ["open", "shut"])
def test_past_the_stop_nothing_is_fed(state):
    found = answer(ENDS + dt.timedelta(days=1), state)
    assert found.state == "shut"
    assert found.reasons == (Reason("season-ended", {"stop": ENDS}),)


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


def second_feeding(status):
    return Feeding(date=GATE, group="plums", phase="wake-up", kind="liquid", portions=(), number=2,
                   status=status, not_before_gate=True, reason="10 days after the last one")  # fmt: skip


@pytest.mark.parametrize(("state", "status"), [("open", "due"), ("shut", "held"), ("unknown", "held")])
def test_nothing_is_due_unless_the_morning_is_open(state, status):
    feedings = tuple(map(second_feeding, ("due", "planned", "done")))
    programme = Programme(feedings=feedings, gate=GATE, stop=ENDS, n_per_pot_g=(), notes=())
    verdict = Verdict(on=GATE, state=state, reasons=(GATES,), risk_tolerance=0.1)
    held = hold(programme, verdict)
    assert [one.status for one in held.feedings] == [status, "planned", "done"]
    assert ("open" in held.feedings[0].reason) == (status == "held")
