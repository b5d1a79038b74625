"""One group's feedings in turn: which phase is fed when, and why on that day."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from frostgate.feeding.stop import Days, Place
from frostgate.model.feedings import Done, Feeding, FeedingKind, Phase, SeasonFacts, Status
from frostgate.model.garden import PotGroup
from frostgate.seasons import say_day

SEEN = ("bud break", "fruit set")  # anchors that only the grower can see
LOG_BUDS = "once buds move: log bud break"
ROUTINE = "days after the last one"
UNPLANNED = "not in the plan"
WHOLE_GARDEN = ""  # the group of a feeding that was logged for all


def is_for(done: Done, group: PotGroup) -> bool:
    """Return whether a feeding was done to a group, by name or with the whole garden."""
    return done.group in {group.name, WHOLE_GARDEN}


def feeding_of(done: Done, phase: str, number: int, gate: dt.date | None, reason: str) -> Feeding:
    """Return a feeding that was done as one of the season's."""
    return Feeding(
        date=done.on,
        group=done.group,
        phase=phase,
        kind=done.kind,
        portions=(),
        number=number,
        status="done",
        not_before_gate=gate is not None and done.on >= gate,
        reason=reason,
    )


@dataclass(slots=True, kw_only=True)
class Succession:
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
    first: dt.date | None = None  # the first feeding, from which phases may count
    _from_gate: bool = False  # whether that is the gate's date, for want of a feeding
    _last: dt.date | None = None
    _last_name: str = ""
    _counts: Counter[str] = field(default_factory=Counter)
    _began: dict[str, dt.date] = field(default_factory=dict)

    def feedings(self) -> Iterator[Feeding]:
        """Return the feedings done, those to come, and those that wait for a date."""
        for done in sorted(self.facts.done, key=lambda one: one.on):
            if done.kind == self.kind and is_for(done, self.group) and (done.group or self.phases):
                yield self._did(done)
        while (feeding := self._next()) is not None:
            yield feeding
        if self.days is None or self.days.first <= self.days.stop:
            for phase in self._left():
                if self.days is None or (phase.anchor in SEEN and self._begin(phase) is None):
                    yield from self._waiting(phase)

    def _did(self, done: Done) -> Feeding:
        name = done.phase or self._phase_due(done.on)
        if (done.on, name) != (self._last, self._last_name):  # else the same feeding, logged in parts
            self._fed(name, done.on)
        reason = "as logged" if done.phase else "as logged, of the phase that was due"
        of_group = replace(done, group=self.group.name)
        return feeding_of(of_group, name, self._counts[name], self.facts.gate, reason)

    def _fed(self, name: str, on: dt.date) -> None:
        self._counts[name] += 1
        self._began.setdefault(name, on)
        self._last, self._last_name = on, name
        self.first = on if self.first is None else min(self.first, on)

    def _phase_due(self, on: dt.date) -> str:
        """Name the phase that was due: of those begun the one listed last, else the next to begin."""
        if on == self._last:
            return self._last_name
        begun = self._begun()
        if due := [phase for phase, begin in begun if begin <= on]:
            return due[-1].name
        if begun:
            return min(begun, key=lambda one: one[1])[0].name
        rest = self._left() or self.phases[-1:]
        return rest[0].name if rest else UNPLANNED

    def _next(self) -> Feeding | None:
        """Take the earliest day that a phase offers before one listed later has begun."""
        if self.days is None:
            return None
        if self.first is None and not self._begun():  # phases count from a first feeding, and none would come
            self.first, self._from_gate = self.facts.gate, True
        begun, offers = self._begun(), []
        for at, (phase, begin) in enumerate(begun):
            place = self.days.place(self._wanted(phase, begin))
            if place is not None and all(later > place.date for _, later in begun[at + 1 :]):
                offers.append((place, phase, begin))
        return self._plan(*min(offers, key=lambda offer: offer[0].date)) if offers else None

    def _plan(self, place: Place, phase: Phase, begin: dt.date) -> Feeding:
        reason = routine = _say_routine(self._interval(phase))
        if not self._counts[phase.name]:
            why = self._why_now(phase, begin)
            reason = f"{why}; {routine}" if self._wanted(phase, begin) > begin else why
        status: Status = "held" if place.is_held else "planned"
        self._fed(phase.name, place.date)
        if place.date == self.facts.today:
            status = "due"
        undated = self._undated(phase, self._counts[phase.name], "; ".join((reason, *place.shifts)))
        return replace(undated, date=place.date, status=status)

    def _undated(self, phase: Phase, number: int, reason: str) -> Feeding:
        return Feeding(
            date=None,
            group=self.group.name,
            phase=phase.name,
            kind=self.kind,
            portions=phase.portions,
            number=number,
            status="waiting",
            not_before_gate=True,
            reason=reason,
        )

    def _wanted(self, phase: Phase, begin: dt.date) -> dt.date:
        rest = dt.timedelta(days=self._interval(phase))
        return begin if self._last is None else max(begin, self._last + rest)

    def _interval(self, phase: Phase) -> int:
        return max(1 if phase.feedings == 1 else phase.every_days, self.least_days)

    def _left(self) -> list[Phase]:
        counts = self._counts
        return [one for one in self.phases if one.feedings is None or counts[one.name] < one.feedings]

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
        gate, buds = self.facts.gate, self._buds()
        if phase.anchor == "gate":
            return max(gate, buds) if gate and buds else gate
        if phase.anchor == "first feeding":
            return self.first
        return buds if phase.anchor == "bud break" else dict(self.facts.fruit_set).get(self.group.name)

    def _buds(self) -> dt.date | None:
        return dict(self.facts.bud_break).get(self.group.name)

    def _why_now(self, phase: Phase, begin: dt.date) -> str:
        """Say why a phase that was not fed yet begins when it does."""
        after = f"{phase.after_days} days after " if phase.after_days else ""
        anchor = begin - dt.timedelta(days=phase.after_days)
        if phase.anchor == "first feeding":
            counted = ", counted from the gate" if self._from_gate else ""
            return f"{after or 'with '}the first feeding{counted}"
        if phase.anchor != "gate":
            return f"{after}{phase.anchor} on {say_day(anchor)}"
        if anchor != self.facts.gate:
            return f"{after}buds moved on {say_day(anchor)}"
        return f"{after}the gate opens" + ("" if self._buds() else f", {LOG_BUDS}")

    def _why_not_yet(self, phase: Phase) -> str:
        """Say what an undated feeding waits for."""
        awaited = [] if self.facts.gate else ["the gate"]
        if phase.anchor in SEEN and self._anchor(phase) is None:
            awaited.append(f"{phase.anchor}: log it")
        waits = f"waits for {' and for '.join(awaited)}"
        if phase.anchor == "first feeding" and phase.after_days and self.first is None:
            waits = f"{phase.after_days} days after the first feeding, which {waits}"
        return waits if phase.feedings == 1 else f"{waits}; then every {self._interval(phase)} days"

    def _waiting(self, phase: Phase) -> Iterator[Feeding]:
        """Return a phase's feedings that have no date; of a phase without end the next one."""
        first = self._counts[phase.name] + 1
        yield self._undated(phase, first, self._why_not_yet(phase))
        for number in range(first + 1, (phase.feedings or first) + 1):
            yield self._undated(phase, number, _say_routine(self._interval(phase)))


def _say_routine(days: int) -> str:
    return f"{days} {ROUTINE}"


def is_routine(reason: str) -> bool:
    """Return whether a reason says no more than the phase's interval."""
    return re.fullmatch(rf"\d+ {ROUTINE}", reason) is not None
