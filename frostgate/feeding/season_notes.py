"""What shaped a programme, in words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence

from frostgate.feeding.intervals import Days, say_date, say_day
from frostgate.feeding.nitrogen import Budget
from frostgate.feeding.phases import IN_THE_GROUND, missing_phases, suits
from frostgate.terms.feedings import Feeding, SeasonFacts
from frostgate.terms.garden import Garden, PotGroup
from frostgate.terms.phases import Phase


def gate_notes(facts: SeasonFacts) -> Iterator[str]:
    """Tell what the gate's date is worth, and what was fed before it.

    Examples
    --------
    >>> list(gate_notes(SeasonFacts(today=dt.date(2026, 4, 1))))
    ["The gate's date is not known, so nothing is dated."]
    """
    if facts.gate is None:
        yield "The gate's date is not known, so nothing is dated."
        return
    if not facts.gate_open:
        yield f"The gate's date, {say_date(facts.gate)}, is itself a forecast: the plan moves with it."
    early = [f"{done.group} on {say_day(done.on)}" for done in facts.done if done.on < facts.gate]
    if early:
        yield f"Fed before the gate: {', '.join(early)}."


def day_notes(garden: Garden, days: Days | None) -> Iterator[str]:
    """Tell what keeps days shut: the season's end, a forecast frost, local rules.

    Examples
    --------
    >>> from pathlib import Path
    >>> from frostgate.terms.garden import Site
    >>> from frostgate.terms.phases import NoFeeding
    >>> winter = NoFeeding(name="local ordinance", first=(11, 15), last=(3, 1))
    >>> garden = Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),), no_feeding=(winter,))
    >>> list(day_notes(garden, None))
    ["No feeding by 'local ordinance': 15 Nov to 1 Mar, every year."]
    """
    if days is not None and days.stop < days.first:
        over = days.today >= days.stop >= days.gate
        yield (
            "Feeding is over for this season."
            if over
            else "That is before the gate: there is no time to feed."
        )
    if days is not None and days.last_frost is not None:
        frost = say_day(days.last_frost)
        yield f"A damaging frost is forecast for the morning of {frost}: no feeding until it has passed."
    for rule in garden.no_feeding:
        yield f"No feeding by {rule.name!r}: {_month_day(rule.first)} to {_month_day(rule.last)}, every year."


def phase_notes(
    garden: Garden, phases: Sequence[Phase], feedings: Sequence[Feeding], days: Days | None
) -> Iterator[str]:
    """Tell which phases and groups go without, and where the phases' numbers come from.

    Examples
    --------
    >>> from pathlib import Path
    >>> from frostgate.terms.garden import Site
    >>> garden = Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),))
    >>> list(phase_notes(garden, (), (), None))
    ['No group of pots is listed, so there is nothing to feed.']
    """
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


def nitrogen_notes(garden: Garden, budgets: Sequence[tuple[PotGroup, Budget]]) -> Iterator[str]:
    """Tell how much nitrogen the season gives a pot, against the ceiling.

    Examples
    --------
    >>> from pathlib import Path
    >>> from frostgate.terms.garden import Site
    >>> garden = Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),))
    >>> figs = PotGroup(name="figs", tree="fig", count=5, stage="established", pot_l=20.0, winters="outdoors",
    ...                 movable=False)
    >>> list(nitrogen_notes(garden, [(figs, Budget(feedings=(), total_g=8.57, unknown=0))]))
    ['Nitrogen this season, done and dated: figs 8.6 g a pot. No ceiling is stated.']
    """
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


def _month_day(month_day: tuple[int, int]) -> str:
    return f"{month_day[1]} {dt.date(2000, month_day[0], 1):%b}"
