"""An outlook into a verdict: open, shut or unknown, its reasons as codes with the numbers they rest on."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from frostgate.gate.outlook import beyond_by_curve, look_ahead, past_nights_c, weigh
from frostgate.gate.plausibility import find_doubts
from frostgate.model.curves import SiteClimate
from frostgate.model.gate import (
    LARGEST_TOLERANCE,
    Forecast,
    Outlook,
    Policy,
    Reason,
    Seen,
    Verdict,
    is_within,
)
from frostgate.units import WHOLE_F_STEP_C, say_share

RISKS = (0.50, 0.30, 0.20, 0.10, 0.05, 0.02, 0.01)
HARMLESS = 0.01  # a chance below this is not worth naming a night for
NOTEWORTHY = 0.02  # a night that adds less to the risk is not brought up
NO_FROST_C = 1000.0  # a margin that no error reaches across
SHIFTS_C = (0.5 * np.arange(1, 21), WHOLE_F_STEP_C * np.arange(1, 19))  # to 10 °C, in half °C, in whole °F
STANDING = (Reason("no-promise"), Reason("cold-hollow"), Reason("label-first"))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Morning:
    """The answer of a morning, and what it rests on; `frostgate.ask` makes it.

    Parameters
    ----------
    verdict : open, shut or unknown, with its reasons
    policy : the grower's numbers that it was asked by
    now : the moment of the question, local time of the garden without zone
    site : the station's past; None where too little of it is known
    outlook : the risk of every date; None without a site
    forecast : the coming nights; None where none was given or looked at
    cautions : what to mind with this answer, and with every answer

    Examples
    --------
    >>> import frostgate as fg
    >>> hollow = fg.site(fg.read_minima("data_samples/oskelmere.dly"), damage="32F", offset="-2F")
    >>> fg.ask(hollow, fg.read_forecast("data_samples/forecast_frost.json"), now="2026-04-22 06:00")
    <Morning of 2026-04-22 06:00: shut, risk over 99 %, earliest 2026-05-13>
    """

    verdict: Verdict
    policy: Policy
    now: dt.datetime
    site: SiteClimate | None
    outlook: Outlook | None
    forecast: Forecast | None
    cautions: tuple[Reason, ...]

    def __repr__(self) -> str:
        verdict = self.verdict
        risk = "" if verdict.risk_today is None else f", risk {say_share(verdict.risk_today)}"
        return (
            f"<Morning of {self.now:%Y-%m-%d %H:%M}: {verdict.state}{risk}, earliest {verdict.earliest_date}>"
        )

    @property
    def notes(self) -> tuple[str, ...]:
        """What the readers put right or took for granted, in words."""
        return (*(self.site.notes if self.site else ()), *(self.forecast.notes if self.forecast else ()))


def ask(
    site: SiteClimate | None,
    forecast: Forecast | None,
    policy: Policy,
    now: dt.datetime,
    *,
    climate_only: bool = False,
    problem: str | None = None,
    zone_taken: str | None = None,
) -> Morning:
    """Ask about a local moment; without a site the answer is unknown, and ``problem`` says why.

    ``zone_taken`` names the zone that was taken for the garden's where nobody states it.
    """
    ways: dict[str, Any] = {"climate_only": climate_only, "zone_known": zone_taken is None}
    if site is None:
        reason = Reason("no-climate", {"problem": problem}) if problem else Reason("no-record")
        outlook, verdict = None, cannot_know(now.date(), (reason,), policy, climate_only=climate_only)
    else:
        outlook = look_ahead(site.curve, forecast, policy, now, weather=site.weather, **ways)
        verdict = judge(outlook, policy, climate_only=climate_only)
        doubts = find_doubts(site, None if climate_only else forecast, policy, now.date())
        if verdict.state == "shut":  # a forecast too cold to be believed is no reason to shut less
            doubts = tuple(doubt for doubt in doubts if doubt.facts.get("off_c", 0.0) >= 0.0)
        elif not doubts and verdict.state == "open":
            doubts = _suspects_decide(site, forecast, policy, now, ways)
        if doubts:
            verdict = cannot_know(now.date(), doubts, policy, outlook, climate_only=climate_only)
    return Morning(
        verdict=verdict,
        policy=policy,
        now=now,
        site=site,
        outlook=outlook,
        forecast=None if climate_only else forecast,
        cautions=(*_special_cautions(policy, site, zone_taken, climate_only=climate_only), *STANDING),
    )


def _suspects_decide(
    site: SiteClimate, forecast: Forecast | None, policy: Policy, now: dt.datetime, ways: dict[str, Any]
) -> tuple[Reason, ...]:
    """Tell where the gate would be shut had the cold minima that look like errors been true."""
    curve, doubt = site.with_suspects, Reason("doubt-suspects", {"suspects": site.suspects})
    if curve is None or doubt.name in policy.believed:
        return ()
    risk = float(look_ahead(curve, forecast, policy, now, weather=site.weather, **ways).risk[0])
    told = replace(doubt, facts={**doubt.facts, "risk": risk})
    return () if is_within(risk, policy.risk_tolerance) else (told,)


def judge(outlook: Outlook, policy: Policy, *, climate_only: bool = False) -> Verdict:
    """Open the gate where today's risk is within the limit, or shut it; say where it cannot be known."""
    if outlook.forecast_checks:
        return cannot_know(outlook.today, outlook.forecast_checks, policy, outlook)
    earliest = outlook.date_at(policy.risk_tolerance)
    is_open = earliest == outlook.today
    likely_from, likely_to = (None, None) if is_open else _likely_range(outlook, policy)
    code = "never-reached" if earliest is None else "within-limit" if is_open else "reached-later"
    facts: dict[str, Any] = {"risk": float(outlook.risk[0]), "limit": policy.risk_tolerance}
    if code == "reached-later":
        facts["reached"] = earliest
    return Verdict(
        on=outlook.today,
        state="open" if is_open else "shut",
        reasons=(Reason(code, facts), *drivers(outlook, policy), *what_would_change(outlook, policy)),
        risk_tolerance=policy.risk_tolerance,
        risk_today=float(outlook.risk[0]),
        earliest_date=earliest,
        likely_from=likely_from,
        likely_to=likely_to,
        by_risk=tuple((risk, outlook.date_at(risk)) for risk in RISKS),
        climate_only=climate_only,
    )


def cannot_know(
    today: dt.date,
    reasons: tuple[Reason, ...],
    policy: Policy,
    outlook: Outlook | None = None,
    *,
    climate_only: bool = False,
) -> Verdict:
    """Return the verdict ``unknown``, with the curve's own dates where there is a curve."""
    return Verdict(
        on=today,
        state="unknown",
        reasons=(*reasons, Reason("unknown-not-safe")),
        risk_tolerance=policy.risk_tolerance,
        by_risk=tuple(
            (risk, None if outlook is None else outlook.date_at(risk, outlook.climate_alone))
            for risk in RISKS
        ),
        climate_only=climate_only,
    )


def drivers(outlook: Outlook, policy: Policy) -> list[Reason]:
    """Tell what the risk comes from, the larger part first: the forecast's nights, or the season beyond."""
    if not outlook.nights:
        return [_season(outlook, policy)]
    told = [_worst_night(outlook), _season(outlook, policy)]
    return told[::-1] if outlook.climate_risk[0] > outlook.window_risk[0] else told


def _worst_night(outlook: Outlook) -> Reason:
    worst = max(outlook.nights, key=lambda night: night.chance)
    code, chance = "night-to-watch", {"chance": worst.chance}
    if worst.chance < HARMLESS:
        worst = min(outlook.nights, key=lambda night: night.garden_c)
        code, chance = "no-frosty-night", {"harmless": HARMLESS}
    return Reason(code, {"morning": worst.morning, "garden_c": worst.garden_c} | chance)


def _season(outlook: Outlook, policy: Policy) -> Reason:
    facts = {"risk": float(outlook.climate_risk[0]), "damage_temp_c": policy.damage_temp_c}
    if not outlook.nights:
        return Reason("by-curve-alone", facts)
    beyond = facts | {"after": outlook.nights[-1].morning}
    if outlook.seen is None or outlook.seen.frost is None:
        return Reason("beyond-forecast", beyond)
    more = {"by_curve": beyond_by_curve(outlook), "past_nights_c": past_nights_c(outlook)}
    return Reason("beyond-forecast-this-spring", beyond | more)


def what_would_change(outlook: Outlook, policy: Policy) -> Iterator[Reason]:
    """Tell what would turn the answer: other forecasts, a night without its frost, another limit."""
    is_open, seen = bool(is_within(outlook.risk[0], policy.risk_tolerance)), outlook.seen
    if outlook.nights and seen is not None:
        yield from _turning_shift(seen, policy, is_open=is_open)
        if not is_open and is_within(outlook.climate_risk[0], policy.risk_tolerance):
            yield from _without_worst(outlook, seen, policy)
    enough = math.ceil(outlook.risk[0] * 100 - 1e-9) / 100
    if not is_open and enough <= LARGEST_TOLERANCE:
        yield Reason("limit-that-opens", {"limit": enough})


def _turning_shift(seen: Seen, policy: Policy, *, is_open: bool) -> Iterator[Reason]:
    """Find by how much milder or colder nights would turn the answer, in half °C and in whole °F."""
    shifts_c = np.append((-1 if is_open else 1) * np.concatenate(SHIFTS_C), NO_FROST_C)
    frost = None if seen.frost is None else np.tile(seen.frost, (shifts_c.size, 1))
    margin_c = seen.margin_c + shifts_c[:, np.newaxis]
    window, beyond = weigh(replace(seen, margin_c=margin_c, frost=frost), policy)
    risk = 1.0 - np.exp(-(window.sum(axis=-1) + beyond.sum(axis=-1) + seen.end))
    opened = is_within(risk, policy.risk_tolerance)
    if not opened[-1]:
        yield Reason("too-early")
        return
    halves, degrees = np.split(opened[:-1] != is_open, [SHIFTS_C[0].size])
    if halves.any() and degrees.any():
        shift = (0.5 * (int(np.argmax(halves)) + 1), int(np.argmax(degrees)) + 1)
        yield Reason("colder-would-shut" if is_open else "milder-would-open", {"shift_c_f": shift})


def _without_worst(outlook: Outlook, seen: Seen, policy: Policy) -> Iterator[Reason]:
    """Tell today's risk were the night to watch to pass without a frost, all else as it is seen."""
    worst = max(range(len(outlook.nights)), key=lambda at: outlook.nights[at].chance)
    others = np.arange(seen.margin_c.size) != worst
    window, _ = weigh(replace(seen, margin_c=np.where(others, seen.margin_c, NO_FROST_C)), policy)
    _, beyond = weigh(seen, policy)
    risk = 1.0 - math.exp(-float(window[others].sum() + beyond.sum() + seen.end))
    if outlook.risk[0] - risk >= NOTEWORTHY:
        opens = bool(is_within(risk, policy.risk_tolerance))
        facts = {"morning": outlook.nights[worst].morning, "risk": risk, "opens": opens}
        yield Reason("without-that-night", facts)


def _likely_range(outlook: Outlook, policy: Policy) -> tuple[dt.date | None, dt.date | None]:
    """Return the range of the opening date: if the coming forecasts stay clear, and by the upper bound.

    Each morning's forecast covers as many nights as today's. If all of them stay clear of frost, the gate
    opens when the season's remaining climate beyond such a window has fallen to the tolerance. Without a
    forecast the range is that of the curve's own bounds.
    """
    reach, days = len(outlook.nights), outlook.dates.size
    beyond = np.append(outlook.climate_alone[reach:], np.zeros(min(reach, days)))[:days]
    clear = outlook.date_at(policy.risk_tolerance, beyond if reach else outlook.climate_low)
    earliest = outlook.date_at(policy.risk_tolerance)
    if clear is None or earliest is None:
        return None, None
    late = outlook.date_at(policy.risk_tolerance, np.maximum(outlook.risk, outlook.climate_high))
    return min(max(clear, outlook.today + dt.timedelta(days=1)), earliest), late


def _special_cautions(
    policy: Policy, site: SiteClimate | None, zone_taken: str | None, *, climate_only: bool
) -> Iterator[Reason]:
    """Tell what to mind with this answer more than with any other."""
    if zone_taken is not None and not climate_only:
        yield Reason("zone-taken", {"zone": zone_taken})
    if climate_only:
        yield Reason("without-forecast")
    if site is not None and site.curve.frost_share == 0.0:
        seasons = site.curve.seasons_used
        yield Reason("never-froze", {"seasons": seasons, "chance": 3 / seasons})  # rule of three
    if policy.damage_temp_c < 0.0:
        yield Reason("below-freezing")
