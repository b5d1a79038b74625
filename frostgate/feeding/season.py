"""The season's programme: each group's feedings in turn, within its nitrogen, and what shaped them."""

from __future__ import annotations

import contextlib
import datetime as dt
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from frostgate.errors import InputError
from frostgate.feeding.phases import IN_THE_GROUND, is_led_by_nitrogen, missing_phases, phases_of, suits
from frostgate.feeding.stop import PRACTICE, TAPER_DAYS, Days, find_stop
from frostgate.feeding.strength import parts_of
from frostgate.model.feedings import (
    Anchor,
    Done,
    Feeding,
    FeedingKind,
    NoFeeding,
    Phase,
    Programme,
    SeasonFacts,
)
from frostgate.model.garden import Garden, PotGroup
from frostgate.seasons import say_date, say_day

SEEN = ("bud break", "fruit set")  # anchors that only the grower can see
LOG_BUDS = "once buds move: log bud break"
ROUTINE = "days after the last one"
UNPLANNED = "not in the plan"

_Given = list[float | None]  # nitrogen of a group's feedings for one pot [g]; None where it is not known


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
    feedings: list[Feeding] = []
    given: dict[str, _Given] = {}
    for group in garden.groups:
        in_turn = sorted(_in_turn(garden, group, facts, phases, days), key=_order)
        kept, given[group.name] = _within_nitrogen(garden, group, in_turn, facts, days)
        feedings += kept
    feedings += _strangers(garden, facts)
    return Programme(
        feedings=tuple(sorted(feedings, key=_order)),
        gate=facts.gate,
        stop=stop,
        n_per_pot_g=tuple((name, round(_total_g(grams), 4)) for name, grams in given.items()),
        notes=(
            *_day_notes(garden, facts, days, stop_note),
            *_phase_notes(garden, phases, feedings, days),
            *_nitrogen_notes(garden, given),
        ),
    )


def _order(feeding: Feeding) -> tuple[dt.date, bool]:
    return feeding.date or dt.date.max, feeding.kind == "liquid"


def _in_turn(
    garden: Garden, group: PotGroup, facts: SeasonFacts, phases: Sequence[Phase], days: Days | None
) -> Iterator[Feeding]:
    """Plan one group's feedings, the poured ones first: what is laid may count from their first."""
    first = None
    kinds: tuple[FeedingKind, ...] = ("liquid", "top-dressing")
    for kind in kinds:
        turns = Turns(
            group=group,
            kind=kind,
            facts=facts,
            phases=[phase for phase in phases if phase.kind == kind and suits(phase, group)],
            least_days=garden.rules.least_days,
            days=days,
            first=first,
        )
        yield from turns.feedings()
        first = turns.first


@dataclass(slots=True, kw_only=True)
class Turns:
    """One group's feedings of one kind in turn, as far as they were walked through.

    A phase counts as begun from its anchor on. Of the phases that have begun and have feedings left, the one
    listed last is fed, its own interval after the group's last feeding of this kind.
    """

    group: PotGroup
    kind: FeedingKind
    facts: SeasonFacts
    phases: Sequence[Phase]  # of the season's those that suit
    least_days: int  # between two feedings of the group
    days: Days | None  # that are open; None while the gate is not known
    first: dt.date | None  # the first feeding, from which phases may count
    _from_gate: bool = False  # whether that is the gate's date, for want of a feeding
    _fed: list[tuple[dt.date, str]] = field(default_factory=list)  # the day and phase of each, in order

    def feedings(self) -> Iterator[Feeding]:
        """Return the feedings done, those to come, and those that wait for a date."""
        for done in sorted(self.facts.done, key=lambda one: one.on):
            if done.kind == self.kind and done.fed(self.group.name) and (done.group or self.phases):
                yield self._did(done)
        if self.days is not None:
            yield from self._planned(self.days)
        if self.days is None or self.days.first <= self.days.stop:
            for phase in self._left():
                if self.days is None or (phase.anchor in SEEN and self._begin(phase) is None):
                    yield from self._waiting(phase)

    def _did(self, done: Done) -> Feeding:
        name = done.phase or self._phase_due(done.on)
        if (done.on, name) not in self._fed[-1:]:  # else the same feeding, logged in parts
            self._feed(done.on, name)
        reason = "as logged" if done.phase else "as logged, of the phase that was due"
        of_group = replace(done, group=self.group.name)
        return _feeding_of(of_group, name, self._count(name), self.facts.gate, reason)

    def _feed(self, on: dt.date, name: str) -> None:
        self._fed.append((on, name))
        self.first = on if self.first is None else min(self.first, on)

    def _count(self, name: str) -> int:
        return sum(name == fed for _, fed in self._fed)

    def _phase_due(self, on: dt.date) -> str:
        """Name the phase that was due: of those begun the one listed last, else the next to begin."""
        if self._fed and on == self._fed[-1][0]:
            return self._fed[-1][1]
        begun = self._begun()
        due = [phase for phase, begin in begun if begin <= on]
        soonest = [phase for phase, _ in sorted(begun, key=lambda one: one[1])]
        named = due[-1:] or soonest or self._left() or self.phases[-1:]
        return named[0].name if named else UNPLANNED

    def _planned(self, days: Days) -> Iterator[Feeding]:
        """Plan, again and again, the earliest day that a phase offers before one listed later has begun."""
        if self.first is None and not self._begun():  # phases count from a first feeding, and none would come
            self.first, self._from_gate = days.gate, True
        while True:
            begun, offers = self._begun(), []
            for at, (phase, begin) in enumerate(begun):
                date, status, shifts = days.place(self._wanted(phase, begin))
                if date <= days.stop and all(later > date for _, later in begun[at + 1 :]):
                    offers.append((date, at, status, shifts))
            if not offers:
                return
            date, at, status, shifts = min(offers)
            phase, begin = begun[at]
            reason = "; ".join((self._why_now(phase, begin), *shifts))
            yield replace(self._turn(phase, reason), date=date, status=status)
            self._feed(date, phase.name)

    def _waiting(self, phase: Phase) -> Iterator[Feeding]:
        """Return a phase's feedings that have no date; of a phase without end the next one."""
        yield self._turn(phase, self._why_not_yet(phase))
        for ahead in range(2, (phase.feedings or 0) - self._count(phase.name) + 1):
            yield self._turn(phase, f"{self._interval(phase)} {ROUTINE}", ahead)

    def _turn(self, phase: Phase, reason: str, ahead: int = 1) -> Feeding:
        """Return the next feeding of a phase, or one further ahead, without a date."""
        return Feeding(
            group=self.group.name,
            phase=phase.name,
            kind=self.kind,
            portions=phase.portions,
            number=self._count(phase.name) + ahead,
            reason=reason,
        )

    def _wanted(self, phase: Phase, begin: dt.date) -> dt.date:
        rest = dt.timedelta(days=self._interval(phase))
        return max(begin, self._fed[-1][0] + rest) if self._fed else begin

    def _interval(self, phase: Phase) -> int:
        return max(1 if phase.feedings == 1 else phase.every_days, self.least_days)

    def _left(self) -> list[Phase]:
        return [one for one in self.phases if one.feedings is None or self._count(one.name) < one.feedings]

    def _begun(self) -> list[tuple[Phase, dt.date]]:
        begins = ((phase, self._begin(phase)) for phase in self._left())
        return [(phase, begin) for phase, begin in begins if begin is not None]

    def _begin(self, phase: Phase) -> dt.date | None:
        """Return the day on which a phase begins, or began by being fed."""
        anchor = self._anchors()[phase.anchor]
        by_anchor = None if anchor is None else anchor + dt.timedelta(days=phase.after_days)
        return next((on for on, name in self._fed if name == phase.name), by_anchor)

    def _anchors(self) -> dict[Anchor, dt.date | None]:
        """Return the days that phases count from; the gate is late where buds break after it."""
        gate, buds = self.facts.gate, dict(self.facts.bud_break).get(self.group.name)
        return {
            "gate": max(gate, buds) if gate and buds else gate,
            "first feeding": self.first,
            "bud break": buds,
            "fruit set": dict(self.facts.fruit_set).get(self.group.name),
        }

    def _why_now(self, phase: Phase, begin: dt.date) -> str:
        """Say why a phase is fed: by its interval, or, the first time, why it begins when it does."""
        routine = f"{self._interval(phase)} {ROUTINE}"
        if self._count(phase.name):
            return routine
        after = f"{phase.after_days} days after " if phase.after_days else ""
        anchor = begin - dt.timedelta(days=phase.after_days)
        if phase.anchor == "first feeding":
            counted = ", counted from the gate" if self._from_gate else ""
            why = f"{after or 'with '}the first feeding{counted}"
        elif phase.anchor != "gate":
            why = f"{after}{phase.anchor} on {say_day(anchor)}"
        elif anchor != self.facts.gate:
            why = f"{after}buds moved on {say_day(anchor)}"
        else:
            why = f"{after}the gate opens" + ("" if self._anchors()["bud break"] else f", {LOG_BUDS}")
        return f"{why}; {routine}" if self._wanted(phase, begin) > begin else why

    def _why_not_yet(self, phase: Phase) -> str:
        """Say what an undated feeding waits for."""
        awaited = [] if self.facts.gate else ["the gate"]
        if phase.anchor in SEEN and self._anchors()[phase.anchor] is None:
            awaited.append(f"{phase.anchor}: log it")
        waits = f"waits for {' and for '.join(awaited)}"
        if phase.anchor == "first feeding" and phase.after_days and self.first is None:
            waits = f"{phase.after_days} days after the first feeding, which {waits}"
        return waits if phase.feedings == 1 else f"{waits}; then every {self._interval(phase)} days"


def _feeding_of(done: Done, phase: str, number: int, gate: dt.date | None, reason: str) -> Feeding:
    """Return a feeding that was done as one of the season's."""
    return Feeding(
        group=done.group,
        phase=phase,
        kind=done.kind,
        number=number,
        reason=reason,
        date=done.on,
        status="done",
        not_before_gate=gate is not None and done.on >= gate,
    )


def _strangers(garden: Garden, facts: SeasonFacts) -> Iterator[Feeding]:
    """Return the feedings done to groups that the garden does not list any more."""
    counts: Counter[tuple[str, str]] = Counter()
    for one in facts.done:
        if one.group and all(one.group != group.name for group in garden.groups):
            name = one.phase or UNPLANNED
            counts[one.group, name] += 1
            reason = "as logged, for a group that the garden file does not list"
            yield _feeding_of(one, name, counts[one.group, name], facts.gate, reason)


def is_routine(reason: str) -> bool:
    """Return whether a reason says no more than the phase's interval."""
    return re.fullmatch(rf"\d+ {ROUTINE}", reason) is not None


def _within_nitrogen(
    garden: Garden, group: PotGroup, feedings: Sequence[Feeding], facts: SeasonFacts, days: Days | None
) -> tuple[list[Feeding], _Given]:
    """Leave out what would pass the ceiling, or is led by nitrogen late; tell the nitrogen of the rest."""
    ceiling_g = garden.rules.n_per_pot_g if group.in_pots else None
    given = [done.n_per_pot_g for done in facts.done if done.fed(group.name)]
    kept = []
    for feeding in feedings:
        reason = ""
        if feeding.date is not None and feeding.status != "done":
            gives_g = nitrogen_g(garden, group, feeding)
            fed = [garden.product(one.product).analysis for one in feeding.portions]
            sum_g = _total_g((*given, gives_g))
            if days is not None and feeding.date >= days.taper_from and any(map(is_led_by_nitrogen, fed)):
                weeks = TAPER_DAYS // 7
                reason = f"nothing led by nitrogen in the last {weeks} weeks before the stop ({PRACTICE})"
            elif gives_g and ceiling_g is not None and sum_g > ceiling_g + 1e-9:
                reason = (
                    f"with it a pot would have {sum_g:.1f} g of nitrogen this season, "
                    f"above the ceiling of {ceiling_g:g} g"
                )
            else:
                given.append(gives_g)
        kept.append(replace(feeding, status="left out", reason=reason) if reason else feeding)
    return kept, given


def _total_g(given: Sequence[float | None]) -> float:
    return sum(grams or 0.0 for grams in given)


def nitrogen_g(garden: Garden, group: PotGroup, feeding: Feeding) -> float | None:
    """Work out the nitrogen that a feeding gives one pot [g], before spoons are rounded; None if unknown."""
    fed = [portion for portion in feeding.portions if garden.product(portion.product).analysis.n]
    if not fed:
        return 0.0
    litres = group.per_pot_l if feeding.kind == "liquid" else 1.0
    with contextlib.suppress(InputError):  # a rate or a height that is not stated: the mix will say so
        parts = parts_of(garden, group, fed, feeding.kind)
        if litres is not None:
            return sum(part.grams * litres * part.product.analysis.shares["N"] for part in parts)
    return None


def _day_notes(garden: Garden, facts: SeasonFacts, days: Days | None, stop_note: str) -> Iterator[str]:
    """Tell what the gate's date is worth, when the season ends, and what keeps days shut."""
    gate = facts.gate
    if gate is None:
        yield "The gate's date is not known, so nothing is dated."
    elif not facts.gate_open:
        yield f"The gate's date, {say_date(gate)}, is itself a forecast: the plan moves with it."
    early = [f"{done.group} on {say_day(done.on)}" for done in facts.done if gate and done.on < gate]
    if early:
        yield f"Fed before the gate: {', '.join(early)}."
    yield stop_note
    if days is not None and days.stop < days.first:
        over = facts.today >= days.stop >= days.gate
        before_gate = "That is before the gate: there is no time to feed."
        yield "Feeding is over for this season." if over else before_gate
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


def _group_notes(group: PotGroup, phases: Sequence[Phase]) -> Iterator[str]:
    suited = [phase for phase in phases if suits(phase, group)]
    if not suited:
        only = f" Only a phase called {IN_THE_GROUND!r}, or one that names them, does."
        yield f"No phase feeds {group.name}.{'' if group.in_pots else only}"
    if group.in_pots and group.per_pot_l is None and not any(phase.kind == "liquid" for phase in suited):
        yield f"{group.name}: no liquid feed, for how much of it a pot gets is not stated (per_pot)."


def _nitrogen_notes(garden: Garden, given: Mapping[str, _Given]) -> Iterator[str]:
    """Tell how much nitrogen the season gives a pot, against the ceiling."""
    if not given:
        return
    sums = (
        f"{group.name} {_total_g(given[group.name]):.1f} g a {'pot' if group.in_pots else 'tree'}"
        for group in garden.groups
    )
    ceiling_g = garden.rules.n_per_pot_g
    against = "No ceiling is stated." if ceiling_g is None else f"The ceiling is {ceiling_g:g} g a pot."
    yield f"Nitrogen this season, done and dated: {', '.join(sums)}. {against}"
    for name, grams in given.items():
        if unknown := grams.count(None):
            count = f"{unknown} feeding{'s' if unknown > 1 else ''}"
            yield f"The nitrogen of {count} of {name} is not known, and not in the sum."


def say_window(rule: NoFeeding) -> str:
    """Write the days of every year on which a local rule forbids feeding."""
    first, last = (dt.date(2000, *day) for day in (rule.first, rule.last))
    return f"{first.day} {first:%b} to {last.day} {last:%b}"
