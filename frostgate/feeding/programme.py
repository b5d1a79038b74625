"""The season's programme: every feeding of every group, dated by the gate and by what was really done."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Sequence

from frostgate.feeding.intervals import Days, find_stop
from frostgate.feeding.nitrogen import Budget, keep_within
from frostgate.feeding.phases import default_phases
from frostgate.feeding.season_notes import day_notes, gate_notes, nitrogen_notes, phase_notes
from frostgate.feeding.succession import UNPLANNED, WHOLE_GARDEN, Succession, is_for
from frostgate.terms.feedings import Feeding, Programme, SeasonFacts
from frostgate.terms.garden import Garden, PotGroup
from frostgate.terms.phases import Phase


def plan_season(garden: Garden, facts: SeasonFacts) -> Programme:
    """Plan the season's feedings.

    Nothing is dated before the gate, after the stop, on a day that a local rule forbids, or until a forecast
    frost has passed. Intervals run from what was really done: a missed feeding is due today, the rest moves,
    and none is doubled.

    Parameters
    ----------
    garden
        Groups, products, local rules, limits; its own phases, else the default ones for its products.
    facts
        What is known today.

    Returns
    -------
    Programme
        Top-dressings stand before the liquid feedings of their day, so that these wet them.

    Raises
    ------
    InputError
        Where a phase feeds a product that the garden does not list.

    Examples
    --------
    >>> from pathlib import Path
    >>> from frostgate.terms.garden import Site
    >>> from frostgate.terms.phases import Portion
    >>> from frostgate.terms.products import Analysis, Product, Rate
    >>> feed = Product(name="Spring feed", analysis=Analysis(n=24, p2o5=8, k2o=16), form="soluble",
    ...                density_g_ml=1.2, density_from="default",
    ...                rate=Rate(grams=4.7, per="litre", text="1 tbsp/gal", by_mass=False))
    >>> figs = PotGroup(name="old figs", tree="fig", count=24, stage="established", pot_l=26.5, per_pot_l=3.8,
    ...                 winters="outdoors", movable=False)
    >>> garden = Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),), groups=(figs,),
    ...                 products=(feed,))
    >>> facts = SeasonFacts(today=dt.date(2026, 4, 1), gate=dt.date(2026, 5, 16),
    ...                     first_autumn_frost=dt.date(2026, 10, 3))
    >>> programme = plan_season(garden, facts)
    >>> [(f"{feeding.date:%d %b}", feeding.phase, feeding.status) for feeding in programme.feedings]
    [('16 May', 'wake-up', 'planned'), ('26 May', 'wake-up', 'planned')]
    >>> programme.stop, programme.n_per_pot_g
    (datetime.date(2026, 8, 15), (('old figs', 8.5728),))
    """
    phases = garden.phases or default_phases(garden.products)
    stop, stop_note = find_stop(garden, facts)
    days = _open_days(garden, facts, stop)
    budgets = [(group, _feed(garden, group, facts, phases, days)) for group in garden.groups]
    feedings = [feeding for _, budget in budgets for feeding in budget.feedings]
    feedings += _strangers(garden, facts)
    return Programme(
        feedings=tuple(sorted(feedings, key=_order)),
        gate=facts.gate,
        stop=stop,
        n_per_pot_g=tuple((group.name, round(budget.total_g, 4)) for group, budget in budgets),
        notes=(
            *gate_notes(facts),
            stop_note,
            *day_notes(garden, days),
            *phase_notes(garden, phases, feedings, days),
            *nitrogen_notes(garden, budgets),
        ),
    )


def _open_days(garden: Garden, facts: SeasonFacts, stop: dt.date | None) -> Days | None:
    if facts.gate is None or stop is None:
        return None
    return Days(
        today=facts.today,
        gate=facts.gate,
        stop=stop,
        gate_open=facts.gate_open,
        frost_on=facts.frost_on,
        rules=garden.no_feeding,
    )


def _feed(
    garden: Garden, group: PotGroup, facts: SeasonFacts, phases: Sequence[Phase], days: Days | None
) -> Budget:
    liquid = Succession(garden=garden, group=group, kind="liquid", facts=facts, phases=phases, days=days)
    poured = list(liquid.feedings())
    laid = Succession(
        garden=garden,
        group=group,
        kind="top-dressing",
        facts=facts,
        phases=phases,
        days=days,
        first=liquid.first,
    ).feedings()
    return keep_within(
        garden,
        group,
        sorted((*poured, *laid), key=_order),
        [done for done in facts.done if is_for(done, group)],
        None if days is None else days.taper_from,
    )


def _order(feeding: Feeding) -> tuple[dt.date, bool]:
    return feeding.date or dt.date.max, feeding.kind == "liquid"


def _strangers(garden: Garden, facts: SeasonFacts) -> Iterator[Feeding]:
    """Give the feedings done to groups that the garden does not list any more."""
    known = {WHOLE_GARDEN, *(group.name for group in garden.groups)}
    counts: Counter[tuple[str, str]] = Counter()
    for one in facts.done:
        if one.group in known:
            continue
        name = one.phase or UNPLANNED
        counts[one.group, name] += 1
        yield Feeding(
            date=one.on,
            group=one.group,
            phase=name,
            kind=one.kind,
            portions=(),
            number=counts[one.group, name],
            status="done",
            not_before_gate=facts.gate is not None and one.on >= facts.gate,
            reason="as logged, for a group that the garden file does not list",
        )
