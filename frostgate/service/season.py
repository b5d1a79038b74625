"""A garden's season on one morning: gate and journal joined into the plan, what is due and at risk."""

from __future__ import annotations

import contextlib
import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np

from frostgate.errors import FrostgateError, InputError
from frostgate.feeding.protection import tissue_of, warn_of_frost
from frostgate.feeding.season import plan_season
from frostgate.feeding.stop import autumn_date, growing_year, hold, judge_season
from frostgate.garden.entries import done_feedings, forecast_log, latest
from frostgate.garden.journal import Journal, journal_file, new_entry
from frostgate.gate.outlook import frost_ahead
from frostgate.gate.verdict import Morning
from frostgate.model.curves import SiteClimate
from frostgate.model.feedings import Programme, SeasonFacts
from frostgate.model.garden import Entry, Garden
from frostgate.model.gate import Forecast, ForecastLog, Night
from frostgate.seasons import SOUTH
from frostgate.service.documents import freshen
from frostgate.service.morning import ask_site, with_reason
from frostgate.service.request import Request, local_time
from frostgate.show.morning import GardenMorning
from frostgate.show.reasons import say_reason, say_reasons
from frostgate.units import TemperatureUnit

if TYPE_CHECKING:
    from frostgate.feeding.mix import MixedFeeding
    from frostgate.gate.own_errors import OwnErrors

LEARNED_FROM = dt.timedelta(days=120)  # a morning of two months ago counts half; older ones under a quarter
LEAVES_OFF_RISK = 0.5  # by the middle date of the first autumn frost the leaves are taken to be off
NO_RECORD = "The garden names no station record, so the gate cannot say when feeding may begin."
BY_CURVE = "By the curve alone, the gate's date opens nothing: feed only when frostgate today says open."


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Season:
    """A garden's season on one morning."""

    garden: Garden
    now: dt.datetime  # local time of the garden
    morning: Morning | None  # the gate's answer; None where the site names no record
    facts: SeasonFacts
    own: OwnErrors | None = None  # what the garden's own minima have taught; None without a record
    notes: tuple[str, ...] = ()  # what is not known
    unit: TemperatureUnit = "C"  # of the temperatures in the answer


def know_season(garden: Garden, request: Request, now: dt.datetime, cache: Path) -> Season:
    """Ask the gate about the garden's home and join the answer with the journal."""
    home, network, morning, own = garden.home, garden.network, None, None
    home = replace(home, record=request.record or home.record, forecast=request.forecast or home.forecast)
    network = replace(network, offline=network.offline or request.offline)
    home, notes = freshen(home, network, cache, now=now)
    asked, path = request.about(home, garden.temperature_unit), journal_file(garden.file)
    opened = Journal.open(path, to_read=True) if path.exists() else contextlib.nullcontext()
    with opened as journal:  # once for the whole morning: each opening costs a moment of it

        def kept_log(_: Forecast | None, today: dt.date) -> ForecastLog | None:
            """Read the forecasts that the journal keeps; the coming one gets there with the verdict."""
            since, kinds = today - LEARNED_FROM, ("forecast", "minimum")
            return None if journal is None else forecast_log(journal.entries(kinds=kinds, since=since))

        if asked.record is None:
            local, notes = local_time(now, asked.time_zone, asked.on), (NO_RECORD,)
        else:
            morning, own = ask_site(asked, now, cache, autumn=True, log=kept_log, log_file=path)
            local = morning.now
        facts = season_facts(garden, journal, morning, local.date())
        notes = (*notes, *(() if journal is None else journal.notes()))
    climate = morning.site if morning else None
    return Season(
        garden=placed(garden, climate),
        now=local,
        morning=with_reason(morning, own) if morning and own and own.mornings else morning,
        facts=facts,
        own=own,
        notes=notes,
        unit=asked.unit_shown(climate.curve.step_c if climate else None),
    )


def placed(garden: Garden, past: SiteClimate | None) -> Garden:
    """Let the record tell the hemisphere where the garden file does not."""
    if past is None or garden.home.hemisphere is not None:
        return garden
    side: Literal["north", "south"] = "south" if past.curve.start == SOUTH else "north"
    return replace(garden, sites=(replace(garden.home, hemisphere=side), *garden.sites[1:]))


def season_facts(
    garden: Garden, journal: Journal | None, morning: Morning | None, today: dt.date
) -> SeasonFacts:
    """Join the gate's answer with what the journal holds of this year's growth."""
    climate, policy = (morning.site, morning.policy) if morning else (None, garden.home.policy)
    since = growing_year(today, climate.curve.start if climate else None)
    kinds = ("feeding", "bud break", "fruit set", "growth", "verdict")
    known = () if journal is None else journal.entries(kinds=kinds, since=since, verdicts="open")
    entries = tuple(entry for entry in known if entry.on <= today)
    done = done_feedings(entries)
    opened = [entry.on for entry in entries if entry.kind == "verdict"]
    gate, is_open = _gate(morning, opened, [one.on for one in done if one.kind == "liquid"], today)
    autumn, risk = climate.autumn if climate else None, garden.rules.autumn_risk
    risk = policy.risk_tolerance if risk is None else risk
    return SeasonFacts(
        today=today,
        gate=gate,
        gate_open=is_open,
        first_autumn_frost=autumn_date(autumn, risk, max(gate or today, since)) if autumn else None,
        frost_on=tuple(night.morning for night in _nights(morning) if night.margin_c <= 0.0),
        policy=policy,
        frost_risk=frost_ahead(morning.outlook, morning.policy) if morning and morning.outlook else 0.0,
        bud_break=latest(entries, "bud break", since),
        fruit_set=latest(entries, "fruit set", since),
        growth=latest(entries, "growth", since),
        leaves_off=autumn_date(autumn, LEAVES_OFF_RISK, since) if autumn else None,
        done=done,
    )


def _nights(morning: Morning | None) -> Sequence[Night]:
    return morning.outlook.nights if morning and morning.outlook else ()


def _gate(
    morning: Morning | None, opened: Iterable[dt.date], fed: Iterable[dt.date], today: dt.date
) -> tuple[dt.date | None, bool]:
    """Return the gate's date and whether it is past: once fed, it stays where it was."""
    first_fed, first_open = min(fed, default=None), min(opened, default=None)
    if first_fed is not None:
        return min(first_fed, first_open or first_fed), True
    if morning is None:
        return None, False
    if morning.verdict.state == "open":
        return first_open or today, True
    return morning.verdict.earliest_date if morning.verdict.state == "shut" else None, False


def planned(season: Season) -> tuple[Programme, Morning | None]:
    """Return the season's plan and the morning's answer for it; nothing is due unless that is open."""
    programme, morning = plan_season(season.garden, season.facts), season.morning
    if morning is None:
        return programme, None
    if morning.site is not None:
        start = morning.site.curve.start
        morning = replace(morning, verdict=judge_season(morning.verdict, programme, season.facts, start))
    return hold(programme, morning.verdict), morning


def plan_garden(
    garden: Garden, request: Request, now: dt.datetime, cache: Path
) -> tuple[Season, Programme, tuple[MixedFeeding, ...]]:
    """Plan a garden's season as of this morning: what it rests on, the programme, its feedings mixed.

    Where this morning's verdict is unknown, the curve alone dates the gate, and nothing is due before a
    verdict is.
    """
    from frostgate.feeding.mix import mix_season

    season = know_season(garden, request, now, cache)
    facts, notes, morning = season.facts, season.notes, season.morning
    if morning is not None and (request.climate_only or morning.verdict.state == "unknown"):
        curve = season
        if not request.climate_only:
            notes = (*notes, say_reason(morning.verdict.reasons[0], season.unit))
            curve = know_season(garden, replace(request, climate_only=True), now, cache)
        facts = replace(
            facts,
            gate=curve.facts.gate,
            gate_open=any(done.kind == "liquid" for done in facts.done),
            first_autumn_frost=curve.facts.first_autumn_frost,
        )
        notes = (*notes, *(() if facts.gate_open or facts.gate is None else (BY_CURVE,)))
    season = replace(season, facts=facts)
    programme, _ = planned(season)
    mixed = mix_season(season.garden, programme.feedings)
    feedings = tuple(one.feeding for one in mixed)
    return season, replace(programme, feedings=feedings, notes=(*notes, *programme.notes)), mixed


def ask_garden(
    garden: Garden, request: Request, now: dt.datetime, cache: Path
) -> tuple[GardenMorning, OwnErrors | None]:
    """Return what a garden's morning shows, once it is written into the journal.

    A morning asked about by its date is not written down.
    """
    season = know_season(garden, request, now, cache)
    programme, morning = planned(season)
    if morning is None:
        raise InputError(
            "the garden names no station record",
            file=garden.file,
            remedy='Add record = "FILE" or station = "ID" to its [[site]], or name one with --record.',
        )
    garden, nights = season.garden, _nights(morning)
    tissues = [(group, tissue_of(group, season.facts)) for group in garden.groups]
    mixed: tuple[MixedFeeding, ...] = ()
    if due := [one for one in programme.feedings if one.status == "due"]:
        from frostgate.feeding.mix import mix_season  # which a morning on which nothing is due need not load

        mixed = mix_season(garden, due)
    unwritten = _write_down(season, morning) if request.on is None else ()
    shown = GardenMorning(
        morning=morning,
        warnings=warn_of_frost(nights, tissues, morning.policy),
        due=mixed,
        coming=tuple(one for one in programme.feedings if one.status in {"planned", "waiting", "held"}),
        to_log=tuple(_to_log(mixed, garden)),
        notes=(*unwritten, *season.notes, *_unlogged(season, nights)),
        plan_notes=programme.notes,
        unit=season.unit,
        units=garden.units,
        fed=any(done.kind == "liquid" for done in season.facts.done),
        kept=request.on is None and not unwritten,
    )
    return shown, season.own


def _unlogged(season: Season, nights: Sequence[Night]) -> Iterator[str]:
    """Tell that trees are taken to be dormant for want of an entry, where a frost could hurt moving buds."""
    facts = season.facts
    silent = not (facts.bud_break or facts.growth or facts.gate_open)
    if silent and any(night.chance >= 0.5 for night in nights):
        yield (
            "No bud break is logged this year, so the trees are taken to be dormant. Once buds move, log it: "
            "frostgate log bud-break --group NAME."
        )


def _to_log(due: Sequence[MixedFeeding], garden: Garden) -> Iterator[str]:
    if any(one.mix is not None for one in due):
        yield "frostgate log due           (all that is due, as mixed above; --group NAME for one group)"
    example = "29F" if garden.units == "us" else "-1.5C"
    yield f"frostgate log minimum {example:<5} (what the thermometer among the pots showed)"


def _write_down(season: Season, morning: Morning) -> tuple[str, ...]:
    """Write the forecast and the verdict into the journal; a journal that cannot be written is told of."""
    try:
        with Journal.open(journal_file(season.garden.file)) as journal:
            since, kinds = season.now.date(), ("forecast", "verdict")
            last = {entry.kind: entry.body for entry in journal.entries(kinds=kinds, since=since)}
            new = [entry for entry in _entries_of(season, morning) if last.get(entry.kind) != entry.body]
            if new:
                journal.add(*new)
    except FrostgateError as fault:
        return (f"This morning is not in the journal: {fault}",)
    return (journal.unkept,) if journal.unkept else ()


def _entries_of(season: Season, morning: Morning) -> Iterator[Entry]:
    from frostgate.show.answers import named, plain, rows_of

    forecast, made_at = morning.forecast, season.now.replace(microsecond=0)
    if forecast is not None:
        known = ~np.isnan(forecast.tmin_c)
        columns = {"morning": forecast.dates, "tmin_c": forecast.tmin_c, "sd_c": forecast.sd_c}
        nights = rows_of(**{key: column[known] for key, column in columns.items()})
        told = named(forecast, "source", "issued_at") | {"nights": nights}
        yield new_entry("forecast", made_at=made_at, body=plain(told, {}, None))
    inputs = [f"policy.{name}" for name in ("damage_temp_c", "offset_c", "offset_sd_c", "error_bias_c")]
    inputs += ["record_ends=site.last_day", "forecast_issued_at=forecast.issued_at"]
    told = {
        **named(morning.verdict, "state", "risk_today", "earliest_date", "risk_tolerance"),
        "reasons": say_reasons(morning.verdict.reasons, season.unit),
        "inputs": named(morning, *inputs),
    }
    yield new_entry("verdict", made_at=made_at, body=plain(told, {"risk_today": 6}, None))
