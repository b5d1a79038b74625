"""Curve and forecast joined night by night into the risk of every date."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import TypeAlias, TypeVar

import numpy as np

from frostgate.errors import FrostgateError, InputError
from frostgate.gate.forecast_errors import (
    WEATHER_LINK,
    chance_of_any,
    error_spread,
    frost_chance,
    link_errors,
    normal_cdf,
    part_tails,
    stated_chances,
    stated_from,
)
from frostgate.model.curves import RECENT_DAYS, FrostCurve, Weather, risk_by_day
from frostgate.model.gate import MORNING, Forecast, Night, Outlook, Policy, Reason, Seen
from frostgate.seasons import SLOTS, Dates, Floats, date_of, date_range, season_day_of, split_dates

Cdf: TypeAlias = Callable[[Floats], Floats]
Degrees = TypeVar("Degrees", float, Floats)

ANOTHER_TIME = dt.timedelta(days=14)  # so far off the day, a forecast is not meant for it
FEWEST_RECENT = 30  # known minima in the past 60 days, below which they are not used
MOST_TOLD = 2.0  # a forecast that knows little cannot promise much: in units of its own spread
FARTHEST = -2.5  # from here on the curve's own tail is surer than that of a Gaussian
AGE_STEP_HOURS = 12
_SMALLEST = 1e-9
_ADJUSTMENTS = (-8.0, 4.0)


def look_ahead(
    curve: FrostCurve,
    forecast: Forecast | None,
    policy: Policy,
    now: dt.datetime,
    *,
    weather: Weather | None = None,
    climate_only: bool = False,
    zone_known: bool = True,
) -> Outlook:
    """Join a forecast and a curve into the risk of each date from today to the season's end.

    Where the forecast cannot be trusted the risk is the curve's alone, and ``forecast_checks`` say why. It is
    never below the chance that the forecast itself states for a night, and an older forecast is never safer
    than the same one made later: of all ages up to its own the one of the largest risk today counts. Where
    the garden's zone is not known its day may be the one before, and the night that then counts counts too.
    """
    today = now.date()
    season, _ = season_day_of(today, curve.start)
    dates = date_range(today, date_of(season + 1, 0, curve.start) - dt.timedelta(days=1))
    first = dates[0] + policy.first_exposed_days
    checks = () if climate_only else check_forecast(forecast, policy, now, curve.step_c)
    nights: tuple[Night, ...] = ()
    newer: list[tuple[Night, ...]] = []
    if forecast is not None and not climate_only and not checks:
        if not zone_known and np.any(np.isfinite(forecast.tmin_c) & (forecast.dates == first - 1)):
            first -= 1
        nights = tuple(_weigh_nights(curve, forecast, policy, first, today))
        for hours in range(0, math.ceil(age_hours(forecast, now)), AGE_STEP_HOURS):
            as_if_made = now - dt.timedelta(hours=hours)
            newer_one = replace(forecast, issued_at=as_if_made)
            newer.append(tuple(_weigh_nights(curve, newer_one, policy, first, today)))
    bounded = [_see(curve, those, first, weather, today) for those in (nights, *newer)]
    parts = [_risks(seen, policy, dates.size) for seen in bounded]
    (window_risk, *_), (climate_risk, climate_low, climate_high) = max(parts, key=_risk_today)
    window_risk = np.maximum(window_risk, _stated_risk(nights, dates + (first - dates[0])))
    seen = replace(bounded[0], hazard=bounded[0].hazard[0], end=float(np.asarray(bounded[0].end)[0]))
    return Outlook(
        today=today,
        dates=dates,
        risk=window_risk + (1 - window_risk) * climate_risk,
        window_risk=window_risk,
        climate_risk=climate_risk,
        climate_low=climate_low,
        climate_high=climate_high,
        climate_alone=_after_each(seen.hazard, seen.end, dates.size),
        nights=nights,
        seen=seen,
        forecast_checks=checks,
    )


def _risk_today(parts: tuple[Floats, Floats]) -> float:
    (window, *_), (climate, *_) = parts
    return float(window[0] + (1 - window[0]) * climate[0])


def _stated_risk(nights: Sequence[Night], exposed: Dates) -> Floats:
    """Return the chance of a frost that the forecast itself states for the nights from each date on."""
    stated = np.array([night.stated for night in nights])
    mornings = np.array([night.morning for night in nights], dtype="datetime64[D]")
    told = np.where(mornings >= exposed[:, np.newaxis], stated, 0.0)
    return np.asarray(np.max(told, axis=-1, initial=0.0), dtype=np.float64)


def frost_ahead(outlook: Outlook, policy: Policy) -> float:
    """Return the chance of a damaging frost on the nights that the forecast tells of, in any season.

    Where the season of the gate is over, its curve knows of no frost; a night's climate is then what is usual
    on it. Without a forecast that is all there is, for as many nights as one is weighed.
    """
    seen = outlook.seen
    if seen is None:
        return 0.0
    if not outlook.nights:
        frost = np.zeros(0) if seen.frost is None else seen.frost[: policy.window_days]
        return float(1.0 - np.prod(1.0 - normal_cdf(frost)))
    window = _forecast_hazards(seen, policy, normal_cdf)
    if seen.frost is not None:
        usual = -np.log(np.maximum(1 - normal_cdf(seen.frost[: window.size]), _SMALLEST))
        window = _join(window, usual, _skill(seen))
    return max(1.0 - math.exp(-float(window.sum())), *(night.stated for night in outlook.nights))


def beyond_by_curve(outlook: Outlook) -> float:
    """Return the chance of a frost beyond the forecast by the curve alone; NaN where that is not known."""
    seen = outlook.seen
    if seen is None:
        return math.nan
    return 1.0 - math.exp(-float(seen.hazard[len(outlook.nights) :].sum()) - float(seen.end))


def past_nights_c(outlook: Outlook) -> float:
    """Return how far the past 60 nights ran from what is usual [°C]; NaN where that is not known."""
    seen = outlook.seen
    if seen is None or seen.recent is None or seen.climate_sd_c.size == 0:
        return math.nan
    return float(seen.recent) * float(seen.climate_sd_c[0])


def _weigh_nights(
    curve: FrostCurve, forecast: Forecast, policy: Policy, first: np.datetime64, today: dt.date
) -> Iterator[Night]:
    """Weigh each morning of the window from the first exposed one on, whatever season it falls in."""
    exposed = (forecast.dates >= first) & (
        forecast.dates <= np.datetime64(last_morning(forecast, policy, today, curve.step_c))
    )
    frost_c = policy.damage_temp_c + curve.step_c / 2 - _in_garden(0.0, policy)
    own = stated_chances(forecast, frost_c, policy.garden_less_forecast_sd_c)[exposed]
    members_c = None if forecast.members_c is None else forecast.members_c[exposed]
    tables = (forecast.dates.astype(object), _in_garden(forecast.tmin_c, policy), forecast.sd_c)
    stated = (own.tolist(), stated_from(own, members_c, frost_c).tolist())
    rows = zip(*(table[exposed].tolist() for table in tables), *stated, strict=True)
    for morning, low_c, stated_sd_c, own_chance, own_from in rows:
        lead_days = (dt.datetime.combine(morning, MORNING) - forecast.issued_at).total_seconds() / 86400
        _, slot = season_day_of(morning, curve.start)
        climate_sd_c = math.inf if curve.spread_c is None else float(curve.spread_c[slot])
        error_c = float(error_spread(lead_days, stated_sd_c, policy, climate_sd_c))
        sd_c = math.hypot(error_c, policy.garden_less_forecast_sd_c)
        margin_c = low_c - policy.damage_temp_c - curve.step_c / 2
        yield Night(
            morning=morning,
            garden_c=low_c,
            margin_c=margin_c,
            sd_c=sd_c,
            climate_sd_c=climate_sd_c,
            lead_days=lead_days,
            chance=max(float(frost_chance(margin_c, sd_c, policy, climate_sd_c)), own_chance),
            stated=own_from,
        )


def _see(
    curve: FrostCurve,
    nights: Sequence[Night],
    exposed_from: np.datetime64,
    weather: Weather | None,
    today: dt.date,
) -> Seen:
    """Lay out what is seen of the exposed nights to come, by the curve and by each of its bounds, (3, n)."""
    tables = [curve.risk if table is None else table for table in (curve.risk, curve.low, curve.high)]
    hazards, end = curve_hazards(np.array(tables))
    season, slot = season_day_of(exposed_from.astype(object), curve.start)
    first = slot if season == season_day_of(today, curve.start)[0] else SLOTS
    coming = np.arange(first, max(SLOTS, first + len(nights)))  # a night past the season's end counts too
    hazard, slots = np.pad(hazards, [(0, 0), (0, SLOTS)])[:, coming], coming % SLOTS
    frost = None
    if weather is not None and curve.spread_c is not None:
        warmest_c = curve.threshold_c + curve.step_c / 2
        frost = (warmest_c - weather.climatology_c[slots]) / curve.spread_c[slots]
        usual = -np.log(np.maximum(1 - normal_cdf(frost), _SMALLEST))
        hazard = np.where(coming < SLOTS, hazard, usual)  # of such nights the curve says nothing
    return Seen(
        hazard=hazard,
        end=end,
        margin_c=np.array([night.margin_c for night in nights], dtype=np.float64),
        sd_c=np.array([night.sd_c for night in nights], dtype=np.float64),
        climate_sd_c=np.array([night.climate_sd_c for night in nights], dtype=np.float64),
        frost=frost,
        recent=None if weather is None else recent_anomaly(curve, weather, today),
        persistence=0.0 if weather is None else weather.persistence,
        explained=0.0 if weather is None else weather.explained,
    )


def recent_anomaly(curve: FrostCurve, weather: Weather, today: dt.date) -> float | None:
    """Return the mean anomaly of the past 60 days, in units of the station's scatter."""
    if curve.spread_c is None:
        return None
    last = np.datetime64(weather.last_day, "D")
    days = np.arange(last - weather.recent_c.size + 1, last + 1)
    near = (days > np.datetime64(today, "D") - RECENT_DAYS) & (days <= np.datetime64(today, "D"))
    near &= np.isfinite(weather.recent_c)
    if near.sum() < FEWEST_RECENT:
        return None
    _, slot = split_dates(days[near], curve.start)
    return float(np.mean((weather.recent_c[near] - weather.climatology_c[slot]) / curve.spread_c[slot]))


def _risks(seen: Seen, policy: Policy, candidates: int) -> tuple[Floats, Floats]:
    """Return each candidate's risk in the forecast's nights, and in the season beyond them."""
    if not seen.margin_c.size:
        climate = _after_each(seen.hazard, seen.end, candidates)
        return np.zeros_like(climate), climate
    told, beyond = weigh(seen, policy)
    window = np.broadcast_to(told, (*beyond.shape[:-1], told.shape[-1]))
    later = np.concatenate([0.0 * window, beyond], axis=-1)
    return _after_each(window, 0.0, candidates), _after_each(later, seen.end, candidates)


def _after_each(hazards: Floats, end: Floats | float, candidates: int) -> Floats:
    """Return the risk from each candidate's first night on, and at the season's end."""
    short = max(candidates - hazards.shape[-1], 0)
    nights = np.concatenate([hazards, np.zeros((*hazards.shape[:-1], short))], axis=-1)
    total = np.cumsum(nights[..., ::-1], axis=-1)[..., ::-1][..., :candidates]
    return np.asarray(1 - np.exp(-(total + np.asarray(end)[..., np.newaxis])), dtype=np.float64)


def check_forecast(
    forecast: Forecast | None, policy: Policy, now: dt.datetime, step_c: float = 0.0
) -> tuple[Reason, ...]:
    """Tell why a forecast cannot be trusted this morning; nothing where it can."""
    if forecast is None:
        return (Reason("no-forecast"),)
    today, checks = now.date(), []
    first = today + dt.timedelta(days=policy.first_exposed_days)
    if forecast.issued_at.date() > today:
        return (Reason("forecast-of-later", {"made": forecast.issued_at.date()}),)
    age = age_hours(forecast, now)
    if age > policy.max_age_hours:
        facts = {"age_hours": round(age, 1), "max_age_hours": policy.max_age_hours}
        checks.append(Reason("forecast-stale", facts))
    wanted = date_range(first, last_morning(forecast, policy, today, step_c))
    missing = wanted[~np.isin(wanted, forecast.dates[np.isfinite(forecast.tmin_c)])].astype(object).tolist()
    if forecast.through < first:
        checks.append(Reason("forecast-ended", {"through": forecast.through}))
    elif missing or not wanted.size:
        checks.append(Reason("forecast-gaps", {"mornings": tuple(missing) or (first,)}))
    return tuple(checks)


def refuse_another_time(forecast: Forecast, today: dt.date) -> None:
    """Refuse a forecast for quite another time of the year: it is the wrong file, not a stale one."""
    first: dt.date = forecast.dates[0].astype(object)
    if first - ANOTHER_TIME > today or forecast.through + ANOTHER_TIME < today:
        raise InputError(
            f"a forecast for another time than {today}",
            file=forecast.source,
            value=f"{first} to {forecast.through}",
            remedy="Give the forecast of the coming nights, or check the day that is asked about.",
        )


def age_hours(forecast: Forecast, now: dt.datetime) -> float:
    """Return the forecast's age [h]; one made later the same day counts as new."""
    return max((now - forecast.issued_at).total_seconds() / 3600, 0.0)


def last_morning(forecast: Forecast, policy: Policy, today: dt.date, step_c: float = 0.0) -> dt.date:
    """Find the last morning the forecast weighs: within the window, yet never short of a frost it foretells.

    A frost is foretold by the minimum, or by a stated chance of it beyond the grower's limit; it is what the
    station, which observes in steps of ``step_c``, would write down as one.
    The window is counted from today and not from the forecast's issue, so that the nights of an older
    forecast are the same ones, only less sure.
    """
    known = np.isfinite(forecast.tmin_c)
    if not known.any():
        return dt.date.min
    frost_c = policy.damage_temp_c + step_c / 2 - _in_garden(0.0, policy)
    likely = stated_chances(forecast, frost_c, policy.garden_less_forecast_sd_c) > policy.risk_tolerance
    frosts = forecast.dates[known & (likely | (forecast.tmin_c <= frost_c))]
    last = min(forecast.dates[known][-1], np.datetime64(today, "D") + policy.window_days)
    morning: dt.date = (max(last, frosts[-1]) if frosts.size else last).astype(object)
    return morning


def _in_garden(forecast_c: Degrees, policy: Policy) -> Degrees:
    """Return what a forecast's minima come to in the garden, its bias taken off."""
    return forecast_c - policy.error_bias_c + policy.garden_less_forecast_c


def curve_hazards(risk: Floats) -> tuple[Floats, Floats]:
    """Return the hazard of a frost dated on each season day by a curve's table, and what is left after."""
    total = -np.log(np.maximum(1 - risk_by_day(risk), _SMALLEST))
    before = np.concatenate([total[..., :1], total[..., :-1]], axis=-1)
    return np.maximum(before - total, 0.0), total[..., -1]


def weigh(seen: Seen, policy: Policy, cdf: Cdf = normal_cdf) -> tuple[Floats, Floats]:
    """Return the hazards of the nights that a forecast tells of, and of those beyond it."""
    nights = seen.margin_c.shape[-1]
    window = _forecast_hazards(seen, policy, cdf) if nights else seen.margin_c
    if seen.frost is None:
        return window, seen.hazard[..., nights:]
    climate = seen.hazard * np.exp(hazard_adjustment(seen, cdf))
    return _join(window, climate[..., :nights], _skill(seen)), climate[..., nights:]


def _join(forecast: Floats, climate: Floats, skill: Floats) -> Floats:
    """Join the hazards of the forecast's nights by what it knows of each."""
    milder = np.exp(skill * np.log(forecast + _SMALLEST) + (1 - skill) * np.log(climate + _SMALLEST))
    trust = np.maximum(skill, 1 - np.exp(-forecast))
    colder = trust * forecast + (1 - trust) * climate
    joined: Floats = np.where(forecast < climate, np.minimum(milder, climate), colder)
    return joined


def hazard_adjustment(seen: Seen, cdf: Cdf = normal_cdf) -> Floats:
    """Return the logarithm of the factor by which this spring's weather changes each night's hazard."""
    if seen.frost is None:
        raise FrostgateError("what is usual at this station is not known")
    mean, spread = _expected(seen, seen.frost)
    frost = np.maximum(seen.frost, FARTHEST)
    given = np.log(cdf(np.clip((frost - mean) / spread, -30.0, 30.0)))
    adjustment: Floats = np.clip(given - np.log(cdf(frost)), *_ADJUSTMENTS)
    return adjustment


def _expected(seen: Seen, frost: Floats) -> tuple[Floats, Floats]:
    """Return mean and spread of each night's anomaly, given the forecast and the past 60 days.

    What the forecast says of a night counts by its skill, what the night before leaves by the rest; the rest
    of the spring keeps ``lasting`` of the past 60 days.
    """
    nights, skill = seen.margin_c.shape[-1], _skill(seen)
    told = np.minimum(frost[..., :nights] + seen.margin_c / seen.climate_sd_c, MOST_TOLD * np.sqrt(skill))
    recent = 0.0 if seen.recent is None else seen.recent
    lasting = np.asarray(seen.persistence * np.asarray(recent), dtype=np.float64)[..., np.newaxis]
    explained = 0.0 if seen.recent is None else np.asarray(seen.explained)[..., np.newaxis]
    spread = np.broadcast_to(np.sqrt(1 - explained), frost.shape).copy()
    spread[..., :nights] = seen.sd_c / seen.climate_sd_c
    mean, last = np.empty(frost.shape), lasting
    for night in range(nights):
        known, left = skill[..., night, np.newaxis], lasting + WEATHER_LINK * (last - lasting)
        last = known * told[..., night, np.newaxis] + (1 - known) * left
        mean[..., night] = last[..., 0]
    beyond = np.arange(1, frost.shape[-1] - nights + 1)
    mean[..., nights:] = lasting + WEATHER_LINK**beyond * (last - lasting)
    return mean, spread


def _skill(seen: Seen) -> Floats:
    """Return the share of the weather's variance that the forecast knows."""
    skill: Floats = np.maximum(1 - (seen.sd_c / seen.climate_sd_c) ** 2, 0.0)
    return skill


def _forecast_hazards(seen: Seen, policy: Policy, cdf: Cdf) -> Floats:
    """Return the hazards of the forecast's nights under its errors: most nights narrow, some wide."""
    clear: Floats = np.zeros(())
    unforeseen = np.minimum(seen.sd_c / seen.climate_sd_c, 1.0)
    links = link_errors(unforeseen.reshape(-1, unforeseen.shape[-1]).mean(axis=0), policy)
    shares = (1 - policy.wide_share, policy.wide_share)
    for share, sd_c in zip(shares, part_tails(seen.sd_c, policy, seen.climate_sd_c), strict=True):
        chances = cdf(np.clip(-seen.margin_c / sd_c, -30.0, 30.0))
        clear = clear + share * (1 - chance_of_any(chances, links))
    logs = np.log(np.maximum(clear, _SMALLEST))
    hazards: Floats = np.maximum(logs[..., 1:] - logs[..., :-1], 0.0)
    return hazards
