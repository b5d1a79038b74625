"""When feeding is allowed: the autumn stop, the days open until then, whether feeding goes on."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace

from frostgate.model.curves import FrostCurve
from frostgate.model.feedings import NoFeeding, Programme, SeasonFacts, Status
from frostgate.model.garden import Garden
from frostgate.model.gate import Reason, State, Verdict, is_within
from frostgate.seasons import SeasonStart, date_of, say_date, say_day, season_day_of

MIDWINTER = 153  # season day: 1 January in the north, 3 July in the south
_UNPLACED = dt.timedelta(days=240)


def growing_year(today: dt.date, start: SeasonStart | None) -> dt.date:
    """Return the midwinter since which what was done and seen belongs to this year's growth."""
    if start is None:
        return today - _UNPLACED
    year, day = season_day_of(today, start)
    return date_of(year if day >= MIDWINTER else year - 1, MIDWINTER, start)


def autumn_date(curve: FrostCurve, risk: float, after: dt.date) -> dt.date | None:
    """Return the first date after a day by which an autumn frost has come with no more than a risk."""
    day = curve.day_at_risk(risk)
    if math.isnan(day):
        return None
    year, _ = season_day_of(after, curve.start)
    dates = (date_of(year + ahead, math.floor(day + 0.5), curve.start) for ahead in (0, 1))
    return next(date for date in dates if date > after)


PRACTICE = "common practice, no source"
# Common practice, no source: feeding ends in mid autumn, however late the first frost.
MID_AUTUMN = {"north": (10, 15), "south": (4, 15)}
# Without a date of the first frost an earlier end is taken, by choice; a day early in some years.
EQUINOX = {"north": (9, 22), "south": (3, 20)}
TAPER_DAYS = 28  # common practice, no source

_DAY = dt.timedelta(days=1)


def find_stop(garden: Garden, facts: SeasonFacts) -> tuple[dt.date | None, str]:
    """Find the last day of feeding, and say why it is.

    Nitrogen stops ``stop_weeks`` before the first autumn frost at the chosen risk, and in mid autumn at the
    latest. Where no such frost is known, nothing is dated after the autumn equinox.
    """
    frost, gate, weeks = facts.first_autumn_frost, facts.gate, garden.rules.stop_weeks
    unknown, stop, why = "no date of the first autumn frost is known", None, ""
    latest, late = EQUINOX, f"{unknown}, so the season ends with the autumn equinox (no source)"
    if frost is not None:
        stop = frost - dt.timedelta(days=math.ceil(7 * weeks))
        named = f"the first autumn frost, {say_day(frost)} at the chosen risk"
        why = f", {weeks:g} weeks before {named}."
        latest, late = MID_AUTUMN, f"{named}, comes late, and feeding ends in mid autumn ({PRACTICE})"
    if gate is not None:
        side = garden.home.hemisphere or ("north" if gate.month <= 7 else "south")
        dates = (dt.date(gate.year + ahead, *latest[side]) for ahead in (0, 1))
        end = next(date for date in dates if date > gate)
        if stop is None or end < stop:
            stop, why = end, f": {late}."
            if garden.home.hemisphere is None:
                why += f" The date of the gate is that of a {side}ern spring;"
                why += " state the site's hemisphere if it is not."
    if stop is None:
        return None, f"When to stop is not known: {unknown}."
    return stop, f"Nothing is fed after {say_date(stop)}{why}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Days:
    """Which days are open to feedings that are still to come: none before the gate or after the stop."""

    facts: SeasonFacts
    gate: dt.date
    stop: dt.date
    rules: tuple[NoFeeding, ...]  # local days without feeding

    @property
    def first(self) -> dt.date:
        """The earliest day of all."""
        today = self.facts.today
        return max(self.gate, today if self.facts.gate_open else today + _DAY)

    @property
    def last_frost(self) -> dt.date | None:
        """The last morning with a forecast frost that pots fed today are exposed to."""
        last = max(self.facts.frost_on, default=None)
        exposed = last is not None and self.facts.policy.clear_of(last) > self.facts.today
        return last if exposed else None

    @property
    def taper_from(self) -> dt.date:
        """The first day without feeds led by nitrogen: 28 days before the stop, at most half the season."""
        half = (self.stop - self.gate).days // 2
        return self.stop + _DAY - dt.timedelta(days=max(0, min(TAPER_DAYS, half)))

    def place(self, wanted: dt.date) -> tuple[dt.date, Status, list[str]]:
        """Find the first open day from the one wanted, past the stop where none is left.

        With it comes whether a feeding is then due, planned, or held by a forecast frost, and why it is not
        on the day that was wanted.
        """
        date = max(wanted, self.first)
        shifts = [] if date == wanted else [self._why_late(wanted)]
        status: Status = "planned"
        frost = self.last_frost
        if frost is not None and date < (clear := self.facts.policy.clear_of(frost)):
            shifts.append(f"held back by the frost forecast for the morning of {say_day(frost)}")
            date, status = clear, "held"
        before = date
        while date <= self.stop and (rule := next((one for one in self.rules if one.forbids(date)), None)):
            date += _DAY
            shift = f"moved from {say_day(before)}: no feeding by {rule.name!r}"
        if date > before:
            shifts.append(shift)
        if date == self.facts.today:
            status = "due"
        return date, status, shifts

    def _why_late(self, wanted: dt.date) -> str:
        if self.gate > max(wanted, self.facts.today):
            return "not before the gate"
        return f"it was due on {say_day(wanted)}" if self.facts.gate_open else "the gate is not open today"


AWAITED = "waits for a morning that is open"


def judge_season(verdict: Verdict, programme: Programme, facts: SeasonFacts, start: SeasonStart) -> Verdict:
    """Turn the gate's answer, which is about the first feeding, into the answer for a season under way.

    Past the stop nothing is fed, whatever the gate says. Once fed, and once the frost season of the gate is
    over, the gate already speaks of next spring; then feeding goes on until the stop while the risk of the
    forecast's nights is within the grower's limit. Until then the gate's answer stands, and an unknown answer
    always stands.
    """
    state: State
    weighed = {"risk": facts.frost_risk, "limit": verdict.risk_tolerance}
    stop, season = programme.stop, season_day_of(facts.today, start)[0]
    if verdict.state == "unknown" or facts.gate is None or not facts.gate_open:
        return verdict
    if stop is not None and facts.today > stop:
        state, reason = "shut", Reason("season-ended", {"stop": stop})
    elif not facts.done or season == season_day_of(facts.gate, start)[0]:
        return verdict
    elif stop is None:
        state, reason = "unknown", Reason("stop-unknown")
    elif facts.frost_on:
        state, reason = "shut", Reason("frost-forecast", {"morning": max(facts.frost_on)})
    elif not is_within(facts.frost_risk, verdict.risk_tolerance):
        state, reason = "shut", Reason("frost-ahead", weighed)
    else:
        state, reason = "open", Reason("season-goes-on", {"stop": stop, **weighed})
    return Verdict(  # the gate's dates and risk are of next spring, and go
        on=verdict.on,
        state=state,
        reasons=(reason,),
        risk_tolerance=verdict.risk_tolerance,
        climate_only=verdict.climate_only,
    )


def hold(programme: Programme, verdict: Verdict) -> Programme:
    """Hold back what is due today, unless the morning's answer is open."""
    if verdict.state == "open":
        return programme
    held = (
        replace(one, status="held", reason=f"{one.reason}; {AWAITED}") if one.status == "due" else one
        for one in programme.feedings
    )
    return replace(programme, feedings=tuple(held))
