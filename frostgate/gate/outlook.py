"""A curve and a forecast into the risk of every candidate feeding date.

A minimum dated d belongs to the morning of d, so pots fed on d are exposed to the minima dated d + 1 and
later (`Policy.first_exposed_days`); "after" means the same in the published freeze normals. Every exposed
night has a hazard (`frostgate.gate.hazards`), and a candidate's risk is that of the nights after it.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence

import numpy as np

from frostgate.gate.doubts import doubts_of, last_morning
from frostgate.gate.forecast_errors import error_spread, frost_chance
from frostgate.gate.hazards import curve_hazards, weigh
from frostgate.seasons import SLOTS, date_of, date_range, season_day_of, split_dates
from frostgate.terms import (
    RECENT_DAYS,
    Dates,
    Floats,
    Forecast,
    FrostCurve,
    Ints,
    Night,
    Outlook,
    Policy,
    Seen,
    Weather,
)
from frostgate.values import replace

MORNING = dt.time(6)  # the hour to which a minimum's lead is counted
FEWEST_RECENT = 30  # known minima in the past 60 days, below which they are not used


def look_ahead(
    curve: FrostCurve,
    forecast: Forecast | None,
    policy: Policy,
    now: dt.datetime,
    *,
    weather: Weather | None = None,
    climate_only: bool = False,
) -> Outlook:
    """Join a forecast and a curve into the risk of each date from today to the season's end.

    Parameters
    ----------
    curve
        Last spring frosts of the station, at the station's minimum that is the garden's damage temperature.
    forecast
        The coming nights, or None.
    policy
        The grower's numbers.
    now
        The moment of the question, local time of the garden.
    weather
        What is usual at the station and how it has been of late; None where it is not known.
    climate_only
        The grower asked to be answered from the curve alone; a forecast is then not looked at.

    Returns
    -------
    Outlook
        With ``doubts`` wherever its risk is not to be trusted; its risk is then the curve's alone.

    Examples
    --------
    >>> from frostgate.seasons import NORTH
    >>> risk = np.clip((290 - np.arange(366)) / 60, 0, 1)
    >>> curve = FrostCurve(kind="given", side="spring", threshold_c=0.0, start=NORTH, risk=risk,
    ...                    frost_share=1, seasons_used=30, seasons_unknown=0, first_year=1991, last_year=2020)
    >>> days = np.arange("2026-05-11", "2026-05-18", dtype="datetime64[D]")
    >>> forecast = Forecast(source="f", form="table", issued_at=dt.datetime(2026, 5, 10, 6), dates=days,
    ...                     tmin_c=np.full(7, 9.0), sd_c=np.full(7, np.nan))
    >>> outlook = look_ahead(curve, forecast, Policy(), dt.datetime(2026, 5, 10, 7))
    >>> len(outlook.nights), round(float(outlook.risk[0]), 2)
    (7, 0.01)
    """
    today = now.date()
    dates = _candidates(curve, today)
    doubts = () if climate_only else doubts_of(forecast, policy, now)
    nights: tuple[Night, ...] = ()
    if forecast is not None and not climate_only and not doubts:
        nights = _weigh_nights(curve, forecast, policy, dates)
    bounded = _see(curve, nights, dates[0] + policy.first_exposed_days, weather, today)
    seen = replace(bounded, curve=bounded.curve[0], end=float(np.asarray(bounded.end)[0]))
    (window_risk, *_), (climate_risk, climate_low, climate_high) = risks(bounded, policy, dates.size)
    return Outlook(
        today=today,
        dates=dates,
        risk=window_risk + (1 - window_risk) * climate_risk,
        window_risk=window_risk,
        climate_risk=climate_risk,
        climate_low=climate_low,
        climate_high=climate_high,
        climate_alone=_after_each(seen.curve, seen.end, dates.size),
        nights=nights,
        seen=seen,
        doubts=doubts,
    )


def _candidates(curve: FrostCurve, today: dt.date) -> Dates:
    start_year, _ = season_day_of(today, curve.start)
    return date_range(today, date_of(start_year + 1, 0, curve.start) - dt.timedelta(days=1))


def _weigh_nights(curve: FrostCurve, forecast: Forecast, policy: Policy, dates: Dates) -> tuple[Night, ...]:
    """Give each exposed morning of the window, in this season, its chance of a damaging frost."""
    last = np.datetime64(last_morning(forecast, policy, dates[0].astype(object)), "D")
    first = dates[0] + policy.first_exposed_days
    exposed = (forecast.dates >= first) & (forecast.dates <= min(last, dates[-1]))
    return tuple(
        _weigh(curve, forecast.issued_at, policy, morning.astype(object), float(tmin_c), float(stated_sd_c))
        for morning, tmin_c, stated_sd_c in zip(
            forecast.dates[exposed], forecast.tmin_c[exposed], forecast.sd_c[exposed], strict=True
        )
    )


def _weigh(  # noqa: PLR0917  # a night is what the forecast has of it
    curve: FrostCurve,
    issued_at: dt.datetime,
    policy: Policy,
    morning: dt.date,
    tmin_c: float,
    stated_sd_c: float,
) -> Night:
    lead_days = (dt.datetime.combine(morning, MORNING) - issued_at).total_seconds() / 86400
    garden_c = tmin_c - policy.error_bias_c + policy.garden_less_forecast_c
    _, season_day = season_day_of(morning, curve.start)
    scatter_c = math.inf if curve.spread_c is None else float(curve.spread_c[season_day])
    error_c = float(error_spread(lead_days, stated_sd_c, policy, scatter_c))
    sd_c = math.hypot(error_c, policy.garden_less_forecast_sd_c)
    margin_c = garden_c - policy.damage_temp_c - curve.step_c / 2
    return Night(
        morning=morning,
        garden_c=garden_c,
        margin_c=margin_c,
        sd_c=sd_c,
        scatter_c=scatter_c,
        lead_days=lead_days,
        chance=frost_chance(margin_c, sd_c, policy, scatter_c),
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
    coming = np.arange(slot if season == season_day_of(today, curve.start)[0] else SLOTS, SLOTS)
    return Seen(
        curve=hazards[:, coming],
        end=end,
        margin_c=np.array([night.margin_c for night in nights], dtype=np.float64),
        sd_c=np.array([night.sd_c for night in nights], dtype=np.float64),
        scatter_c=np.array([night.scatter_c for night in nights], dtype=np.float64),
        frost=_warmest_frosts(curve, weather, coming),
        recent=None if weather is None else recent_anomaly(curve, weather, today),
        persistence=0.0 if weather is None else weather.persistence,
        explained=0.0 if weather is None else weather.explained,
    )


def _warmest_frosts(curve: FrostCurve, weather: Weather | None, slot: Ints) -> Floats | None:
    """Give the warmest anomaly that counts as a frost on some season days, in units of the scatter."""
    if weather is None or curve.spread_c is None:
        return None
    frost: Floats = (curve.threshold_c + curve.step_c / 2 - weather.usual_c[slot]) / curve.spread_c[slot]
    return frost


def recent_anomaly(curve: FrostCurve, weather: Weather, today: dt.date) -> float | None:
    """Give the mean anomaly of the past 60 days, in units of the station's scatter.

    Parameters
    ----------
    curve
        With the station's scatter.
    weather
        With the record's last minima.
    today
        The day of the question.

    Returns
    -------
    float or None
        None where fewer than 30 of those days are known.

    Examples
    --------
    >>> from frostgate.seasons import NORTH
    >>> curve = FrostCurve(kind="given", side="spring", threshold_c=0.0, start=NORTH, risk=np.zeros(366),
    ...                    frost_share=1, seasons_used=30, seasons_unknown=0, first_year=1991, last_year=2020,
    ...                    spread_c=np.full(366, 4.0))
    >>> weather = Weather(usual_c=np.full(366, 5.0), persistence=0.3, explained=0.02,
    ...                   recent_c=np.full(60, 6.0),
    ...                   last_day=dt.date(2026, 4, 12))
    >>> recent_anomaly(curve, weather, dt.date(2026, 4, 13))
    0.25
    >>> recent_anomaly(curve, weather, dt.date(2026, 7, 1)) is None
    True
    """
    if curve.spread_c is None:
        return None
    last = np.datetime64(weather.last_day, "D")
    days = np.arange(last - weather.recent_c.size + 1, last + 1)
    near = (days > np.datetime64(today, "D") - RECENT_DAYS) & (days <= np.datetime64(today, "D"))
    near &= np.isfinite(weather.recent_c)
    if near.sum() < FEWEST_RECENT:
        return None
    _, slot = split_dates(days[near], curve.start)
    return float(np.mean((weather.recent_c[near] - weather.usual_c[slot]) / curve.spread_c[slot]))


def risks(seen: Seen, policy: Policy, candidates: int) -> tuple[Floats, Floats]:
    """Give each candidate's risk in the forecast's nights, and in the season beyond them.

    Parameters
    ----------
    seen
        What is seen of the n exposed nights, the first candidate's first; ``curve`` of shape (..., n).
    policy
        The grower's numbers.
    candidates
        How many dates, one a day.

    Returns
    -------
    window, climate
        Each of shape (..., candidates).

    Examples
    --------
    >>> seen = Seen(curve=np.full(3, 0.1), end=0.0, margin_c=np.empty(0), sd_c=np.empty(0),
    ...             scatter_c=np.empty(0))
    >>> risks(seen, Policy(), 3)[1].round(3)
    array([0.259, 0.181, 0.095])
    """
    if not seen.margin_c.size:
        climate = _after_each(seen.curve, seen.end, candidates)
        return np.zeros_like(climate), climate
    told, beyond = weigh(seen, policy)
    window = np.broadcast_to(told, (*beyond.shape[:-1], told.shape[-1]))
    later = np.concatenate([0.0 * window, beyond], axis=-1)
    return _after_each(window, 0.0, candidates), _after_each(later, seen.end, candidates)


def _after_each(hazards: Floats, end: Floats | float, candidates: int) -> Floats:
    """Give the risk from each candidate's first night on, and at the season's end."""
    short = max(candidates - hazards.shape[-1], 0)
    nights = np.concatenate([hazards, np.zeros((*hazards.shape[:-1], short))], axis=-1)
    total = np.cumsum(nights[..., ::-1], axis=-1)[..., ::-1][..., :candidates]
    return np.asarray(1 - np.exp(-(total + np.asarray(end)[..., np.newaxis])), dtype=np.float64)
