"""Laws of every programme: what holds for any garden, season and history."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from itertools import groupby, pairwise

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from frostgate.feeding.phases import default_phases
from frostgate.feeding.season import nitrogen_g, plan_season
from frostgate.model.feedings import Done, NoFeeding, Phase, Portion
from frostgate.model.gate import Policy
from tests.season_cases import DAY, PRODUCTS, ROW, facts, garden, group

law = settings(derandomize=True, deadline=None, max_examples=80)

TODAYS = st.dates(dt.date(2025, 11, 1), dt.date(2026, 12, 31))
MONTH_DAYS = st.dates(dt.date(2024, 1, 1), dt.date(2024, 12, 31)).map(lambda day: (day.month, day.day))
GROUPS = (group(), group("young", stage="newly potted"), group("dry", per_pot_l=None), ROW)
NAMES = st.sampled_from([one.name for one in GROUPS])
KINDS = st.sampled_from(["liquid", "top-dressing"])
FED = {"liquid": ("First feed", "Steady feed", "Ripening feed"), "top-dressing": ("Grains", "Meal")}


@st.composite
def own_phases(draw):
    """Phases as a grower might state them, each with a name of its own."""
    phases = []
    for number in range(draw(st.integers(1, 4))):
        kind = draw(KINDS)
        fed = draw(st.sampled_from(FED[kind]))
        phase = Phase(
            name=f"phase {number}",
            kind=kind,
            anchor=draw(st.sampled_from(["gate", "first feeding", "fruit set", "bud break"])),
            after_days=draw(st.integers(0, 60)),
            every_days=draw(st.integers(1, 40)),
            feedings=draw(st.one_of(st.none(), st.integers(1, 4))),
            groups=draw(st.sampled_from([(), ("plums",), ("young", "row")])),
            portions=(Portion(product=fed, strength=1.0),),
        )
        phases.append(phase)
    return tuple(phases)


@st.composite
def gardens(draw, phases=None):
    rules = st.builds(NoFeeding, name=st.just("rule"), first=MONTH_DAYS, last=MONTH_DAYS)
    return garden(
        GROUPS,
        no_feeding=tuple(draw(st.lists(rules, max_size=2))),
        phases=draw(st.one_of(st.just(()), own_phases()) if phases is None else st.just(phases)),
        least_days=draw(st.integers(1, 30)),
        stop_weeks=draw(st.floats(0.0, 12.0)),
        n_per_pot_g=draw(st.one_of(st.none(), st.floats(0.5, 60.0))),
        hemisphere=draw(st.sampled_from(["north", "south", None])),
    )


@st.composite
def histories(draw, today):
    """Feedings of the last months, in order."""
    days = draw(st.lists(st.integers(0, 120), max_size=8))
    phases = st.sampled_from([None, "wake-up", "build-up", "phase 0", "rescue"])
    done = [
        Done(on=today - back * DAY, group=draw(NAMES), phase=draw(phases), kind=draw(KINDS),
             n_per_pot_g=draw(st.one_of(st.none(), st.floats(0.0, 5.0))))
        for back in days
    ]  # fmt: skip
    return tuple(sorted(done, key=lambda one: one.on))


@st.composite
def seasons(draw, done=True):
    today = draw(TODAYS)
    gate = draw(st.one_of(st.none(), st.integers(-120, 200).map(lambda days: today + days * DAY)))
    seen = st.lists(st.tuples(NAMES, st.integers(-60, 60).map(lambda days: today + days * DAY)), max_size=3)
    return facts(
        today,
        gate=gate,
        gate_open=gate is not None and gate <= today and draw(st.booleans()),
        first_autumn_frost=draw(
            st.one_of(st.none(), st.integers(0, 330).map(lambda days: (gate or today) + days * DAY))
        ),
        frost_on=tuple(today + days * DAY for days in draw(st.sets(st.integers(-3, 14), max_size=3))),
        policy=Policy(first_exposed_days=draw(st.integers(0, 3))),
        bud_break=tuple(draw(seen)),
        fruit_set=tuple(draw(seen)),
        done=draw(histories(today)) if done else (),
    )


def to_come(programme):
    """Dated feedings that are not done."""
    return [feeding for feeding in programme.feedings if feeding.date and feeding.status != "done"]


def streams(feedings):
    """Dates by group and kind, in order."""
    by_stream = sorted(feedings, key=lambda one: (one.group, one.kind, one.date))
    for key, those in groupby(by_stream, key=lambda one: (one.group, one.kind)):
        yield key, list(those)


@law
@given(gardens(), seasons())
def test_nothing_is_dated_before_the_gate_in_the_past_or_after_the_stop(where, known):
    programme = plan_season(where, known)

    for feeding in to_come(programme):
        assert known.gate is not None
        assert max(known.gate, known.today) <= feeding.date <= programme.stop
        assert feeding.not_before_gate
        assert known.gate_open or feeding.date > known.today


@law
@given(gardens(), seasons())
def test_nothing_is_dated_on_a_day_that_a_rule_forbids_or_until_a_forecast_frost_has_passed(where, known):
    for feeding in to_come(plan_season(where, known)):
        assert not any(rule.forbids(feeding.date) for rule in where.no_feeding)
        exposed_from = feeding.date + known.policy.first_exposed_days * DAY
        assert not any(frost >= exposed_from for frost in known.frost_on)


@law
@given(gardens(), seasons())
def test_no_group_is_fed_twice_within_the_least_interval(where, known):
    programme = plan_season(where, known)

    for _, feedings in streams(feeding for feeding in programme.feedings if feeding.date):
        for before, after in pairwise(feedings):
            if after.status != "done":
                assert (after.date - before.date).days >= where.rules.least_days


@law
@given(gardens(), seasons())
def test_no_phase_has_more_feedings_than_it_states(where, known):
    programme = plan_season(where, known)
    phases = where.phases or default_phases(PRODUCTS)

    for phase in phases:
        if phase.feedings is not None:
            numbers = [
                one.number for one in programme.feedings if one.phase == phase.name and one.status != "done"
            ]
            assert all(number <= phase.feedings for number in numbers)


@law
@given(gardens(), seasons(), st.data())
def test_one_more_feeding_done_brings_nothing_nearer_than_the_least_interval(where, known, data):
    more = Done(
        on=known.today - data.draw(st.integers(0, 40)) * DAY,
        group=data.draw(NAMES),
        phase=None,
        kind=data.draw(KINDS),
    )
    longer = replace(known, done=tuple(sorted((*known.done, more), key=lambda one: one.on)))

    for (name, kind), feedings in streams(to_come(plan_season(where, longer))):
        if (name, kind) == (more.group, more.kind):
            assert (feedings[0].date - more.on).days >= where.rules.least_days


@law
@given(gardens(phases=()), seasons())
def test_holding_for_a_frost_brings_no_feeding_earlier(where, known):
    held = plan_season(where, known)
    free = plan_season(where, replace(known, frost_on=()))
    plain = dict(streams(to_come(free)))

    for key, feedings in streams(to_come(held)):
        for late, early in zip(feedings, plain[key], strict=False):
            assert late.date >= early.date


@law
@given(gardens(), seasons())
def test_planning_again_with_the_same_facts_is_the_same(where, known):
    assert plan_season(where, known) == plan_season(where, known)


@law
@given(gardens(), seasons(done=False), st.integers(1, 30))
def test_doing_what_is_planned_on_its_day_leaves_the_rest_as_it_was(where, known, days):
    known = replace(known, frost_on=(), gate=known.gate or known.today)
    assume(known.gate <= known.today)
    known = replace(known, gate_open=True)
    plan = plan_season(where, known)
    later = known.today + days * DAY
    past = [feeding for feeding in to_come(plan) if feeding.date < later]
    assume(all(feeding.status != "left out" for feeding in past))

    done = tuple(
        Done(on=one.date, group=one.group, phase=one.phase, kind=one.kind,
             n_per_pot_g=nitrogen_g(where, where.group(one.group), one))
        for one in past
    )  # fmt: skip
    again = plan_season(where, replace(known, today=later, done=done))

    def kept(programme):
        return [(f.date, f.group, f.phase, f.number) for f in to_come(programme) if f.date >= later]

    assert kept(again) == kept(plan)


@law
@given(gardens(), seasons())
def test_the_sum_of_nitrogen_is_that_of_the_feedings_and_keeps_below_the_ceiling(where, known):
    programme = plan_season(where, known)

    for name, total_g in programme.n_per_pot_g:
        one = where.group(name)
        before = sum(done.n_per_pot_g or 0.0 for done in known.done if done.group == name)
        mine = [f for f in to_come(programme) if f.group == name and f.status != "left out"]
        planned = sum(nitrogen_g(where, one, feeding) or 0.0 for feeding in mine)
        assert abs(total_g - before - planned) < 1e-3
        ceiling_g = where.rules.n_per_pot_g
        if ceiling_g is not None and one.in_pots:
            assert total_g <= max(ceiling_g, before) + 1e-3
