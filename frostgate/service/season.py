"""What is known of a garden's season this morning."""

from __future__ import annotations

import contextlib
import datetime as dt
import functools
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

from frostgate.cli.options import moment
from frostgate.feeding.season import plan_season
from frostgate.feeding.season_verdict import hold, judge_season
from frostgate.feeding.stop import autumn_date, growing_year
from frostgate.garden.entries import done_feedings, forecast_log, latest
from frostgate.garden.journal import Journal, journal_file
from frostgate.gate.verdict import Morning
from frostgate.model.feedings import Programme, SeasonFacts
from frostgate.model.garden import Garden, Site
from frostgate.model.gate import Policy
from frostgate.model.records import FrostCurve, SiteClimate
from frostgate.seasons import SOUTH
from frostgate.service.freshness import freshen
from frostgate.service.own_log import with_reason
from frostgate.service.request import Stated, ask_site

if TYPE_CHECKING:
    from frostgate.gate.own_errors import OwnErrors
    from frostgate.units import TemperatureUnit

LEARNED_FROM = dt.timedelta(days=120)  # a morning of two months ago counts half; older ones under a quarter
LEAVES_OFF_RISK = 0.5  # by the middle date of the first autumn frost the leaves are taken to be off


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Season:
    """A garden's season on one morning.

    Parameters
    ----------
    garden
        What the garden file says.
    now
        The moment, local time of the garden.
    morning
        The gate's answer; None where the site names no record.
    facts
        For the programme.
    own
        What the garden's own minima have taught; None without a record.
    grown
        Growth logged this year, by group name.
    leaves_off
        From this day on the trees are taken to be dormant; None where no autumn frost is known.
    notes
        What is not known, in words.
    unit
        Of the temperatures in the answer.
    """

    garden: Garden
    now: dt.datetime
    morning: Morning | None
    facts: SeasonFacts
    own: OwnErrors | None = None
    grown: tuple[tuple[str, dt.date], ...] = ()
    leaves_off: dt.date | None = None
    notes: tuple[str, ...] = ()
    unit: TemperatureUnit = "C"


def know_season(garden: Garden, on: dt.date | None, stated: Stated | None = None, **asked: Any) -> Season:  # noqa: ANN401  # fields of Question by name
    """Ask the gate about the garden's home and join the answer with the journal."""
    wish, (site, stale) = stated or Stated(), _fresh_home(garden, stated)
    with _journal(garden) as journal:
        if (wish.record or site.record) is None:
            now = moment(on, wish.time_zone or site.time_zone)
            facts, grown = _facts(garden, journal, None, now.date(), None)
            return Season(garden=garden, now=now, morning=None, facts=facts, grown=grown, notes=(_NO_RECORD,))
        question = wish.ask(site, garden_unit(garden), on=on, autumn=True, **asked)
        coming = question.coming()
        now = moment(on, question.time_zone or (coming.time_zone if coming else None))
        morning, own = ask_site(question, coming, now, functools.partial(_learn, journal))
        facts, grown = _facts(garden, journal, morning.site, now.date(), morning)
    if own is not None and own.mornings:
        morning = with_reason(morning, own)
    autumn = morning.site.autumn if morning.site else None
    return Season(
        garden=_placed(garden, morning.site),
        now=now,
        morning=morning,
        facts=facts,
        own=own,
        grown=grown,
        leaves_off=None if autumn is None else _leaves_off(autumn, now.date()),
        notes=stale,
        unit=question.unit_shown(morning.site),
    )


def _learn(
    journal: Journal | None, policy: Policy, past: SiteClimate | None, today: dt.date
) -> OwnErrors | None:
    """Let the garden's own minima teach how forecasts err there."""
    if journal is None:
        return None
    log = forecast_log(journal.entries(kinds=("forecast", "minimum"), since=today - LEARNED_FROM))
    if log is None:
        return None
    from frostgate.gate.own_errors import learn_site, scatter_on

    if past is None:
        return learn_site(policy, log, today)
    return learn_site(policy, log, today, scatter_on(past.curve, log.mornings))


def planned(season: Season) -> tuple[Programme, Morning | None]:
    """Plan the season, and give the morning's answer for it; nothing is due unless that is open."""
    programme = plan_season(season.garden, season.facts)
    if season.morning is None:
        return programme, None
    morning = under_way(season.morning, programme, season.facts)
    return hold(programme, morning.verdict), morning


def under_way(morning: Morning, programme: Programme, facts: SeasonFacts) -> Morning:
    """Turn the gate's answer into that of a season under way."""
    if morning.site is None:
        return morning
    return replace(morning, verdict=judge_season(morning.verdict, programme, facts, morning.site.curve.start))


_NO_RECORD = "The garden names no station record, so the gate cannot say when feeding may begin."


def _fresh_home(garden: Garden, stated: Stated | None) -> tuple[Site, tuple[str, ...]]:
    """Bring the home's own record and forecast up to date, but for what the command names itself."""
    site, network = garden.home, garden.network
    if stated is not None:
        network = replace(network, offline=True) if stated.offline else network
        site = replace(site, record=stated.record or site.record, forecast=stated.forecast or site.forecast)
    return freshen(site, network)


def garden_unit(garden: Garden) -> TemperatureUnit:
    """Return the unit of temperatures in which the grower reads."""
    return "F" if garden.units == "us" else "C"


def _placed(garden: Garden, past: SiteClimate | None) -> Garden:
    """Let the record tell the hemisphere where the garden file does not."""
    if past is None or garden.home.hemisphere is not None:
        return garden
    side: Literal["north", "south"] = "south" if past.curve.start == SOUTH else "north"
    return replace(garden, sites=(replace(garden.home, hemisphere=side), *garden.sites[1:]))


def _facts(
    garden: Garden,
    journal: Journal | None,
    past: SiteClimate | None,
    today: dt.date,
    morning: Morning | None,
) -> tuple[SeasonFacts, tuple[tuple[str, dt.date], ...]]:
    since = growing_year(today, past.curve.start if past else None)
    kinds = ("feeding", "bud break", "fruit set", "growth", "verdict")
    known = () if journal is None else journal.entries(kinds=kinds, since=since, verdicts="open")
    entries = tuple(entry for entry in known if entry.on <= today)
    done = done_feedings(entries)
    opened = [entry.on for entry in entries if entry.kind == "verdict"]
    gate, is_open = _gate(morning, opened, [one.on for one in done if one.kind == "liquid"], today)
    autumn, risk = past.autumn if past else None, garden.rules.autumn_risk
    if risk is None and morning is not None:
        risk = morning.policy.risk_tolerance
    facts = SeasonFacts(
        today=today,
        gate=gate,
        gate_open=is_open,
        first_autumn_frost=None
        if autumn is None or risk is None
        else autumn_date(autumn, risk, max(gate or today, since)),
        frost_on=_frosts(morning),
        bud_break=latest(entries, "bud break", since),
        fruit_set=latest(entries, "fruit set", since),
        done=done,
    )
    return facts, latest(entries, "growth", since)


def _leaves_off(autumn: FrostCurve, today: dt.date) -> dt.date | None:
    return autumn_date(autumn, LEAVES_OFF_RISK, growing_year(today, autumn.start))


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


def _frosts(morning: Morning | None) -> tuple[dt.date, ...]:
    """Return the mornings for which a damaging frost is forecast."""
    nights = morning.outlook.nights if morning and morning.outlook else ()
    return tuple(night.morning for night in nights if night.margin_c <= 0.0)


def _journal(garden: Garden) -> contextlib.AbstractContextManager[Journal | None]:
    """Open the journal for the whole question, where there is one: each opening costs a morning's moment."""
    path = journal_file(garden.file)
    return Journal.open(path) if path.exists() else contextlib.nullcontext()
