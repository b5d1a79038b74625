"""The season's feedings, group by group, each in its turn."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal

from frostgate.feeding.nitrogen import Budget, keep_within
from frostgate.feeding.phases import (
    IN_THE_GROUND,
    SEEN,
    Moment,
    default_phases,
    missing_phases,
    say_begin,
    say_routine,
    say_wait,
    suits,
)
from frostgate.feeding.stop import Days, Place, find_stop
from frostgate.model.feedings import Done, Feeding, Phase, Programme, SeasonFacts, Status
from frostgate.model.garden import Garden, PotGroup
from frostgate.seasons import say_date, say_day

Kind = Literal["liquid", "top-dressing"]

UNPLANNED = "not in the plan"
WHOLE_GARDEN = ""  # the group of a feeding that was logged for all


@dataclass(frozen=True, slots=True)
class Offer:
    """A day on which a phase could be fed next."""

    phase: Phase
    begin: dt.date
    place: Place


@dataclass(slots=True, kw_only=True)
class Succession:
    """The state of one group's feedings of one kind while they are walked through.

    A phase counts as begun from its anchor on. Of the phases that have begun and have feedings left, the one
    listed last is fed, its own interval after the group's last feeding of this kind.

    Parameters
    ----------
    garden, group, kind, facts
        Whose feedings they are, and what is known.
    phases
        The season's; those that do not suit are passed over.
    days
        The open days; None while the gate is not known.
    first
        The first feeding, from which phases may count.
    """

    garden: Garden
    group: PotGroup
    kind: Kind
    facts: SeasonFacts
    phases: Sequence[Phase]
    days: Days | None
    first: dt.date | None = None
    _from_gate: bool = False
    _last: dt.date | None = None
    _last_name: str = ""
    _counts: Counter[str] = field(default_factory=Counter)
    _began: dict[str, dt.date] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Keep the phases that suit the group."""
        self.phases = tuple(
            phase for phase in self.phases if phase.kind == self.kind and suits(phase, self.group)
        )

    def feedings(self) -> Iterator[Feeding]:
        """Return the feedings done, those to come, and those that wait for a date."""
        for done in sorted(self.facts.done, key=lambda one: one.on):
            if done.kind == self.kind and is_for(done, self.group) and (done.group or self.phases):
                yield self._did(done)
        while (feeding := self._next()) is not None:
            yield feeding
        yield from self._waiting()

    def _did(self, done: Done) -> Feeding:
        name = done.phase or self._phase_due(done.on)
        if (done.on, name) != (self._last, self._last_name):  # else the same feeding, logged in parts
            self._fed(name, done.on)
        gate = self.facts.gate
        return Feeding(
            date=done.on,
            group=self.group.name,
            phase=name,
            kind=self.kind,
            portions=(),
            number=self._counts[name],
            status="done",
            not_before_gate=gate is not None and done.on >= gate,
            reason="as logged" if done.phase else "as logged, of the phase that was due",
        )

    def _fed(self, name: str, on: dt.date) -> None:
        self._counts[name] += 1
        self._began.setdefault(name, on)
        self._last, self._last_name = on, name
        self.first = on if self.first is None else min(self.first, on)

    def _next(self) -> Feeding | None:
        """Take the earliest day that a phase offers before one listed later has begun."""
        if self.days is None:
            return None
        self._count_from_gate()
        begun, offers = self._begun(), []
        for at, (phase, begin) in enumerate(begun):
            place = self.days.place(self._wanted(phase, begin))
            if place is not None and all(later > place.date for _, later in begun[at + 1 :]):
                offers.append(Offer(phase, begin, place))
        return self._plan(min(offers, key=lambda offer: offer.place.date)) if offers else None

    def _plan(self, offer: Offer) -> Feeding:
        phase, place, reason = offer.phase, offer.place, self._reason(offer)
        self._fed(phase.name, place.date)
        status: Status = "held" if place.is_held else "planned"
        if place.date == self.facts.today:
            status = "due"
        return Feeding(
            date=place.date,
            group=self.group.name,
            phase=phase.name,
            kind=self.kind,
            portions=phase.portions,
            number=self._counts[phase.name],
            status=status,
            not_before_gate=True,
            reason="; ".join((reason, *place.shifts)),
        )

    def _wanted(self, phase: Phase, begin: dt.date) -> dt.date:
        rest = dt.timedelta(days=self._interval(phase))
        return begin if self._last is None else max(begin, self._last + rest)

    def _interval(self, phase: Phase) -> int:
        least_days = self.garden.rules.least_days
        return max(1, least_days) if phase.feedings == 1 else max(phase.every_days, least_days)

    def _left(self) -> tuple[Phase, ...]:
        return tuple(
            phase
            for phase in self.phases
            if phase.feedings is None or self._counts[phase.name] < phase.feedings
        )

    def _begun(self) -> list[tuple[Phase, dt.date]]:
        begins = ((phase, self._begin(phase)) for phase in self._left())
        return [(phase, begin) for phase, begin in begins if begin is not None]

    def _begin(self, phase: Phase) -> dt.date | None:
        """Return the day on which a phase begins, or began by being fed."""
        if phase.name in self._began:
            return self._began[phase.name]
        anchor = self._anchor(phase)
        return None if anchor is None else anchor + dt.timedelta(days=phase.after_days)

    def _anchor(self, phase: Phase) -> dt.date | None:
        gate, buds = self.facts.gate, self._logged(self.facts.bud_break)
        if phase.anchor == "gate":
            return max(gate, buds) if gate and buds else gate
        if phase.anchor == "first feeding":
            return self.first
        return buds if phase.anchor == "bud break" else self._logged(self.facts.fruit_set)

    def _logged(self, seen: tuple[tuple[str, dt.date], ...]) -> dt.date | None:
        return dict(seen).get(self.group.name)

    def _count_from_gate(self) -> None:
        """Count from the gate where phases count from a first feeding, and none is to come without them."""
        if self.first is None and not self._begun():
            self.first, self._from_gate = self.facts.gate, True

    def _phase_due(self, on: dt.date) -> str:
        """Name the phase that was due: of those begun the one listed last, else the next to begin."""
        if on == self._last:
            return self._last_name
        begun = self._begun()
        due = [phase for phase, begin in begun if begin <= on]
        if due:
            return due[-1].name
        if begun:
            return min(begun, key=lambda one: one[1])[0].name
        rest = self._left() or self.phases[-1:]
        return rest[0].name if rest else UNPLANNED

    def _reason(self, offer: Offer) -> str:
        phase = offer.phase
        routine = say_routine(self._interval(phase))
        if self._counts[phase.name]:
            return routine
        begins = say_begin(phase, self._anchor(phase), self._moment())
        return f"{begins}; {routine}" if self._wanted(phase, offer.begin) > offer.begin else begins

    def _moment(self) -> Moment:
        return Moment(
            gate=self.facts.gate,
            buds=self._logged(self.facts.bud_break),
            fed=self.first is not None and not self._from_gate,
        )

    def _waiting(self) -> Iterator[Feeding]:
        if self.days is not None and self.days.first > self.days.stop:
            return
        for phase in self._left():
            if self.days is None or (phase.anchor in SEEN and self._begin(phase) is None):
                yield from self._wait(phase)

    def _wait(self, phase: Phase) -> Iterator[Feeding]:
        first, rest = self._counts[phase.name] + 1, self._interval(phase)
        known = self._anchor(phase) is not None
        waits = say_wait(phase, self._moment(), rest, is_seen=known)
        for number in range(first, 1 + (first if phase.feedings is None else phase.feedings)):
            yield Feeding(
                date=None,
                group=self.group.name,
                phase=phase.name,
                kind=self.kind,
                portions=phase.portions,
                number=number,
                status="waiting",
                not_before_gate=True,
                reason=say_routine(rest) if number > first else waits,
            )


def is_for(done: Done, group: PotGroup) -> bool:
    """Return whether a feeding was done to a group, by name or with the whole garden."""
    return done.group in {group.name, WHOLE_GARDEN}


def gate_notes(facts: SeasonFacts) -> Iterator[str]:
    """Tell what the gate's date is worth, and what was fed before it."""
    if facts.gate is None:
        yield "The gate's date is not known, so nothing is dated."
        return
    if not facts.gate_open:
        yield f"The gate's date, {say_date(facts.gate)}, is itself a forecast: the plan moves with it."
    early = [f"{done.group} on {say_day(done.on)}" for done in facts.done if done.on < facts.gate]
    if early:
        yield f"Fed before the gate: {', '.join(early)}."


def day_notes(garden: Garden, days: Days | None) -> Iterator[str]:
    """Tell what keeps days shut: the season's end, a forecast frost, local rules."""
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


def nitrogen_notes(garden: Garden, budgets: Sequence[tuple[PotGroup, Budget]]) -> Iterator[str]:
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


def _month_day(month_day: tuple[int, int]) -> str:
    return f"{month_day[1]} {dt.date(2000, month_day[0], 1):%b}"


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
    >>> from frostgate.model.garden import Site
    >>> from frostgate.model.feedings import Portion
    >>> from frostgate.model.products import Analysis, Product, Rate
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
    """Return the feedings done to groups that the garden does not list any more."""
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
