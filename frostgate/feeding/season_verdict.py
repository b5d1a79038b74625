"""Whether feeding goes on once it has begun."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from frostgate.model.feedings import Programme, SeasonFacts
from frostgate.model.gate import Verdict
from frostgate.seasons import SeasonStart, say_day, season_day_of

AWAITED = "waits for a morning that is open"


def go_on(verdict: Verdict, programme: Programme, facts: SeasonFacts, start: SeasonStart) -> Verdict:
    """Turn the gate's answer, which is about the first feeding, into the answer for a season under way.

    Past the stop nothing is fed, whatever the gate says. Once fed, and once the frost season of the gate is
    over, the gate already speaks of next spring; then feeding goes on until the stop, save for a frost in the
    forecast. Until then the gate's answer stands, and an unknown answer always stands.
    """
    if verdict.state == "unknown" or facts.gate is None or not facts.gate_open:
        return verdict
    if programme.stop is not None and facts.today > programme.stop:
        return _shut(verdict, f"Feeding ended on {say_day(programme.stop)} in time for dormancy.")
    if not facts.done or _season(facts.today, start) == _season(facts.gate, start):
        return verdict
    if programme.stop is None:
        reason = "When feeding must end is not known, for no date of the first autumn frost is."
        return replace(verdict, state="unknown", reasons=(reason,), risk_today=None, earliest_date=None,
                       likely_from=None, likely_to=None, by_risk=())  # fmt: skip
    if facts.frost_on:
        return _shut(
            verdict, f"A damaging frost is forecast for the morning of {say_day(max(facts.frost_on))}."
        )
    reason = f"Feeding goes on until {say_day(programme.stop)}; no damaging frost is forecast."
    return replace(_shut(verdict, reason), state="open")


def hold(programme: Programme, verdict: Verdict) -> Programme:
    """Hold back what is due today, unless the morning's answer is open."""
    if verdict.state == "open":
        return programme
    held = (
        replace(one, status="held", reason=f"{one.reason}; {AWAITED}") if one.status == "due" else one
        for one in programme.feedings
    )
    return replace(programme, feedings=tuple(held))


def _shut(verdict: Verdict, reason: str) -> Verdict:
    return replace(verdict, state="shut", reasons=(reason,), risk_today=None, earliest_date=None,
                   likely_from=None, likely_to=None, by_risk=())  # fmt: skip


def _season(day: dt.date, start: SeasonStart) -> int:
    return season_day_of(day, start)[0]
