"""The season's programme: all groups' feedings, and what shaped them in words."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from frostgate.errors import InputError
from frostgate.feeding.phases import (
    IN_THE_GROUND,
    is_led_by_nitrogen,
    missing_phases,
    phases_of,
    suits,
)
from frostgate.feeding.stop import PRACTICE, TAPER_DAYS, Days, find_stop
from frostgate.feeding.strength import parts_of
from frostgate.feeding.succession import UNPLANNED, WHOLE_GARDEN, Succession, feeding_of, is_for
from frostgate.model.feedings import Feeding, FeedingKind, NoFeeding, Phase, Programme, SeasonFacts
from frostgate.model.garden import Garden, PotGroup
from frostgate.seasons import say_date, say_day

TAPER_REASON = f"nothing led by nitrogen in the last {TAPER_DAYS // 7} weeks before the stop ({PRACTICE})"


def plan_season(garden: Garden, facts: SeasonFacts) -> Programme:
    """Plan the season's feedings, on each day those that are laid before the poured ones, which wet them.

    Nothing is dated before the gate, after the stop, on a day that a local rule forbids, or until a forecast
    frost has passed. Intervals run from what was really done: a missed feeding is due today, the rest moves,
    and none is doubled.
    """
    phases = phases_of(garden)
    stop, stop_note = find_stop(garden, facts)
    days = None
    if facts.gate is not None and stop is not None:
        days = Days(facts=facts, gate=facts.gate, stop=stop, rules=garden.no_feeding)
    budgets = [(group, _feed(garden, group, facts, phases, days)) for group in garden.groups]
    feedings = [feeding for _, budget in budgets for feeding in budget.feedings]
    feedings += _strangers(garden, facts)
    return Programme(
        feedings=tuple(sorted(feedings, key=_order)),
        gate=facts.gate,
        stop=stop,
        n_per_pot_g=tuple((group.name, round(budget.total_g, 4)) for group, budget in budgets),
        notes=(
            *_gate_notes(facts),
            stop_note,
            *_day_notes(garden, days),
            *_phase_notes(garden, phases, feedings, days),
            *_nitrogen_notes(garden, budgets),
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """A group's feedings within its nitrogen."""

    feedings: tuple[Feeding, ...]  # in order of date, those beyond a limit marked ``left out``
    total_g: float  # for one pot, done and to come [g]
    unknown: int  # feedings whose nitrogen is not known, and so not in the total


def _feed(
    garden: Garden, group: PotGroup, facts: SeasonFacts, phases: Sequence[Phase], days: Days | None
) -> Budget:
    """Plan one group's feedings, the poured ones first: what is laid may count from their first."""
    feedings: list[Feeding] = []
    first = None
    kinds: tuple[FeedingKind, ...] = ("liquid", "top-dressing")
    for kind in kinds:
        succession = Succession(
            group=group,
            kind=kind,
            facts=facts,
            phases=[phase for phase in phases if phase.kind == kind and suits(phase, group)],
            least_days=garden.rules.least_days,
            days=days,
            first=first,
        )
        feedings += succession.feedings()
        first = succession.first
    return _within_nitrogen(garden, group, sorted(feedings, key=_order), facts, days)


def _order(feeding: Feeding) -> tuple[dt.date, bool]:
    return feeding.date or dt.date.max, feeding.kind == "liquid"


def _within_nitrogen(
    garden: Garden, group: PotGroup, feedings: Sequence[Feeding], facts: SeasonFacts, days: Days | None
) -> Budget:
    """Leave out what would pass the garden's ceiling, or is led by nitrogen late in the season."""
    ceiling_g = garden.rules.n_per_pot_g if group.in_pots else None
    given_g = [done.n_per_pot_g for done in facts.done if is_for(done, group)]
    kept = []
    for feeding in feedings:
        reason = ""
        if feeding.date is not None and feeding.status != "done":
            gives_g = nitrogen_g(garden, group, feeding)
            fed = [garden.product(one.product).analysis for one in feeding.portions]
            sum_g = sum(grams or 0.0 for grams in (*given_g, gives_g))
            if days is not None and feeding.date >= days.taper_from and any(map(is_led_by_nitrogen, fed)):
                reason = TAPER_REASON
            elif gives_g and ceiling_g is not None and sum_g > ceiling_g + 1e-9:
                reason = (
                    f"with it a pot would have {sum_g:.1f} g of nitrogen this season, "
                    f"above the ceiling of {ceiling_g:g} g"
                )
            else:
                given_g.append(gives_g)
        kept.append(replace(feeding, status="left out", reason=reason) if reason else feeding)
    total_g = sum(grams or 0.0 for grams in given_g)
    return Budget(feedings=tuple(kept), total_g=total_g, unknown=given_g.count(None))


def nitrogen_g(garden: Garden, group: PotGroup, feeding: Feeding) -> float | None:
    """Work out the nitrogen that a feeding gives one pot [g], before spoons are rounded; None if unknown."""
    fed = [portion for portion in feeding.portions if garden.product(portion.product).analysis.n]
    if not fed:
        return 0.0
    litres = group.per_pot_l if feeding.kind == "liquid" else 1.0
    try:
        parts = parts_of(garden, group, fed, feeding.kind)
    except InputError:  # a rate or a height that is not stated: the mix will say so
        return None
    if litres is None:
        return None
    return sum(part.grams * litres * part.product.analysis.shares["N"] for part in parts)


def _strangers(garden: Garden, facts: SeasonFacts) -> Iterator[Feeding]:
    """Return the feedings done to groups that the garden does not list any more."""
    known = {WHOLE_GARDEN, *(group.name for group in garden.groups)}
    counts: Counter[tuple[str, str]] = Counter()
    for one in facts.done:
        if one.group not in known:
            name = one.phase or UNPLANNED
            counts[one.group, name] += 1
            reason = "as logged, for a group that the garden file does not list"
            yield feeding_of(one, name, counts[one.group, name], facts.gate, reason)


def _gate_notes(facts: SeasonFacts) -> Iterator[str]:
    """Tell what the gate's date is worth, and what was fed before it."""
    if facts.gate is None:
        yield "The gate's date is not known, so nothing is dated."
        return
    if not facts.gate_open:
        yield f"The gate's date, {say_date(facts.gate)}, is itself a forecast: the plan moves with it."
    early = [f"{done.group} on {say_day(done.on)}" for done in facts.done if done.on < facts.gate]
    if early:
        yield f"Fed before the gate: {', '.join(early)}."


def _day_notes(garden: Garden, days: Days | None) -> Iterator[str]:
    """Tell what keeps days shut: the season's end, a forecast frost, local rules."""
    if days is not None and days.stop < days.first:
        over = days.facts.today >= days.stop >= days.gate
        yield (
            "Feeding is over for this season."
            if over
            else "That is before the gate: there is no time to feed."
        )
    if days is not None and days.last_frost is not None:
        frost = say_day(days.last_frost)
        yield f"A damaging frost is forecast for the morning of {frost}: no feeding until it has passed."
    for rule in garden.no_feeding:
        yield f"No feeding by {rule.name!r}: {say_window(rule)}, every year."


def _phase_notes(
    garden: Garden, phases: Sequence[Phase], feedings: Sequence[Feeding], days: Days | None
) -> Iterator[str]:
    """Tell which phases and groups go without, and where the phases' numbers come from."""
    if not garden.groups:
        yield "No group of pots is listed, so there is nothing to feed."
        return
    if not garden.phases:
        yield from missing_phases(garden.products, garden.groups)
    for group in garden.groups:
        yield from _group_notes(group, phases)
    fed = {feeding.phase for feeding in feedings}
    if days is not None and days.first <= days.stop:
        for phase in phases:
            if phase.name not in fed and any(suits(phase, group) for group in garden.groups):
                yield f"No day between the gate and the stop is left for {phase.name!r}."
    for source in dict.fromkeys(phase.source for phase in phases):
        names = ", ".join(phase.name for phase in phases if phase.source == source)
        yield f"Days and strengths of {names}: {source}."


def _nitrogen_notes(garden: Garden, budgets: Sequence[tuple[PotGroup, Budget]]) -> Iterator[str]:
    """Tell how much nitrogen the season gives a pot, against the ceiling."""
    if not budgets:
        return
    sums = (
        f"{group.name} {budget.total_g:.1f} g a {'pot' if group.in_pots else 'tree'}"
        for group, budget in budgets
    )
    ceiling_g = garden.rules.n_per_pot_g
    against = "No ceiling is stated." if ceiling_g is None else f"The ceiling is {ceiling_g:g} g a pot."
    yield f"Nitrogen this season, done and dated: {', '.join(sums)}. {against}"
    for group, budget in budgets:
        if budget.unknown:
            count = f"{budget.unknown} feeding{'s' if budget.unknown > 1 else ''}"
            yield f"The nitrogen of {count} of {group.name} is not known, and not in the sum."


def _group_notes(group: PotGroup, phases: Sequence[Phase]) -> Iterator[str]:
    suited = [phase for phase in phases if suits(phase, group)]
    if not suited:
        named = (
            "" if group.in_pots else f" Only a phase called {IN_THE_GROUND!r}, or one that names them, does."
        )
        yield f"No phase feeds {group.name}.{named}"
    if group.in_pots and group.per_pot_l is None and not any(phase.kind == "liquid" for phase in suited):
        yield f"{group.name}: no liquid feed, for how much of it a pot gets is not stated (per_pot)."


def say_window(rule: NoFeeding) -> str:
    """Write the days of every year on which a local rule forbids feeding."""
    first, last = (dt.date(2000, *day) for day in (rule.first, rule.last))
    return f"{first.day} {first:%b} to {last.day} {last:%b}"
