"""One group's feedings of one kind, one after another: which phase is fed next, and on which day."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import field
from typing import Literal

from frostgate.feeding.intervals import Days, Place
from frostgate.feeding.phases import suits
from frostgate.feeding.reasons import LOG_BUDS, SEEN, Moment, say_begin, say_routine, say_wait
from frostgate.terms.feedings import Done, Feeding, SeasonFacts, Status
from frostgate.terms.garden import Garden, PotGroup
from frostgate.terms.phases import Phase
from frostgate.values import dataclass

__all__ = ["LOG_BUDS", "UNPLANNED", "WHOLE_GARDEN", "Offer", "Succession", "is_for"]

Kind = Literal["liquid", "top-dressing"]

UNPLANNED = "not in the plan"
WHOLE_GARDEN = ""  # the group of a feeding that was logged for all


@dataclass(frozen=True, slots=True)
class Offer:
    """A day on which a phase could be fed next.

    Examples
    --------
    >>> phase = Phase(name="build-up", kind="liquid", anchor="gate", after_days=0, every_days=14, portions=())
    >>> Offer(phase, dt.date(2026, 5, 16), Place(date=dt.date(2026, 5, 20))).place.is_held
    False
    """

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

    Examples
    --------
    >>> from pathlib import Path
    >>> from frostgate.terms.garden import Site
    >>> figs = PotGroup(name="figs", tree="fig", count=5, stage="established", pot_l=20.0, per_pot_l=4.0,
    ...                 winters="outdoors", movable=False)
    >>> garden = Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),), groups=(figs,))
    >>> wake_up = Phase(name="wake-up", kind="liquid", anchor="gate", after_days=0, every_days=10, feedings=2,
    ...                 portions=())
    >>> gate, stop = dt.date(2026, 5, 16), dt.date(2026, 8, 15)
    >>> facts = SeasonFacts(today=gate, gate=gate, gate_open=True)
    >>> days = Days(today=gate, gate=gate, stop=stop)
    >>> walk = Succession(garden=garden, group=figs, kind="liquid", facts=facts, phases=(wake_up,), days=days)
    >>> [(f"{feeding.date:%d %b}", feeding.status) for feeding in walk.feedings()]
    [('16 May', 'due'), ('26 May', 'planned')]
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
        """Give the feedings done, those to come, and those that wait for a date."""
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
        """Give the day on which a phase begins, or began by being fed."""
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
    """Tell whether a feeding was done to a group, by name or with the whole garden.

    Examples
    --------
    >>> figs = PotGroup(name="figs", tree="fig", count=5, stage="established", pot_l=20.0, winters="outdoors",
    ...                 movable=False)
    >>> is_for(Done(on=dt.date(2026, 5, 16), group="citrus", phase=None, kind="liquid"), figs)
    False
    """
    return done.group in {group.name, WHOLE_GARDEN}
