"""A garden's plan: the gate asked, the journal read, the season planned and mixed."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from pathlib import Path

from frostgate.feeding.shopping import MixedFeeding, mix_season
from frostgate.model.feedings import Programme, SeasonFacts
from frostgate.model.garden import Garden
from frostgate.service.request import Request
from frostgate.service.season import know_season, planned
from frostgate.show.reasons import say_reason

BY_CURVE = "By the curve alone, the gate's date opens nothing: feed only when frostgate today says open."


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A garden's plan with what it was made from."""

    garden: Garden
    now: dt.datetime  # local time of the garden
    facts: SeasonFacts
    programme: Programme
    mixed: tuple[MixedFeeding, ...]  # the programme's feedings with their mixes


def plan_garden(garden: Garden, request: Request, now: dt.datetime, cache: Path) -> Plan:
    """Plan a garden's season as of this morning.

    Where this morning's verdict is unknown, the curve alone dates the gate, and nothing is due before a
    verdict is.
    """
    season = know_season(garden, request, now, cache)
    facts, notes, morning = season.facts, season.notes, season.morning
    if morning is not None and (request.climate_only or morning.verdict.state == "unknown"):
        if not request.climate_only:
            notes = (*notes, say_reason(morning.verdict.reasons[0], season.unit))
        curve = know_season(garden, replace(request, climate_only=True), now, cache).facts
        facts = replace(
            facts,
            gate=curve.gate,
            gate_open=any(done.kind == "liquid" for done in facts.done),
            first_autumn_frost=curve.first_autumn_frost,
        )
        notes = (*notes, *(() if facts.gate_open or facts.gate is None else (BY_CURVE,)))
    programme, _ = planned(replace(season, facts=facts))
    mixed = mix_season(season.garden, programme.feedings)
    feedings = tuple(one.feeding for one in mixed)
    return Plan(
        garden=season.garden,
        now=season.now,
        facts=facts,
        programme=replace(programme, feedings=feedings, notes=(*notes, *programme.notes)),
        mixed=mixed,
    )
