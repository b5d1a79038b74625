"""Whether feeding goes on once it has begun."""

from __future__ import annotations

from dataclasses import replace

from frostgate.model.feedings import Programme, SeasonFacts
from frostgate.model.gate import Reason, State, Verdict
from frostgate.seasons import SeasonStart, season_day_of

AWAITED = "waits for a morning that is open"


def judge_season(verdict: Verdict, programme: Programme, facts: SeasonFacts, start: SeasonStart) -> Verdict:
    """Turn the gate's answer, which is about the first feeding, into the answer for a season under way.

    Past the stop nothing is fed, whatever the gate says. Once fed, and once the frost season of the gate is
    over, the gate already speaks of next spring; then feeding goes on until the stop, save for a frost in the
    forecast. Until then the gate's answer stands, and an unknown answer always stands.
    """
    if verdict.state == "unknown" or facts.gate is None or not facts.gate_open:
        return verdict
    stop = programme.stop
    if stop is not None and facts.today > stop:
        return _answer(verdict, "shut", Reason("season-ended", {"stop": stop}))
    season, _ = season_day_of(facts.today, start)
    if not facts.done or season == season_day_of(facts.gate, start)[0]:
        return verdict
    if stop is None:
        return _answer(verdict, "unknown", Reason("stop-unknown"))
    if facts.frost_on:
        return _answer(verdict, "shut", Reason("frost-forecast", {"morning": max(facts.frost_on)}))
    return _answer(verdict, "open", Reason("season-goes-on", {"stop": stop}))


def _answer(verdict: Verdict, state: State, reason: Reason) -> Verdict:
    """Return another answer for the same morning; the gate's dates and risk are of next spring, and go."""
    return Verdict(on=verdict.on, state=state, reasons=(reason,), risk_tolerance=verdict.risk_tolerance,
                   climate_only=verdict.climate_only)  # fmt: skip


def hold(programme: Programme, verdict: Verdict) -> Programme:
    """Hold back what is due today, unless the morning's answer is open."""
    if verdict.state == "open":
        return programme
    held = (
        replace(one, status="held", reason=f"{one.reason}; {AWAITED}") if one.status == "due" else one
        for one in programme.feedings
    )
    return replace(programme, feedings=tuple(held))
