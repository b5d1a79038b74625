"""A curve and a forecast into the risk of every candidate feeding date.

A minimum dated d belongs to the morning of d, so pots fed on d are exposed to the minima dated d + 1 and
later (`Policy.first_exposed_days`); "after" means the same in the published freeze normals. The exposed
mornings are parted once: those of the forecast's window (`Policy.window_days`, and on to the last frost that
is forecast) are weighed by the forecast, those behind them by the curve, none by both. For candidate d with
window end E

    risk(d) = 1 - (1 - P(frost on a window morning after d)) * (1 - P(last frost of the season after E)).
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence

import numpy as np

from frostgate.gate.forecast_errors import chance_of_any, error_spread, frost_chance
from frostgate.seasons import SLOTS, date_of, date_range, season_day_of, split_dates
from frostgate.terms import Dates, Floats, Forecast, FrostCurve, Night, Outlook, Policy

MORNING = dt.time(6)  # the hour to which a minimum's lead is counted
HELD_DAYS = 14.5  # at the season's end, see `_chance_from`
HALF_DAY = 0.5  # a frost on a whole day later than d lies beyond d + 1/2 on the curve's continuous axis


def look_ahead(
    curve: FrostCurve,
    forecast: Forecast | None,
    policy: Policy,
    now: dt.datetime,
    *,
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
    (7, 0.02)
    """
    today = now.date()
    dates = _candidates(curve, today)
    doubts = () if climate_only else doubts_of(forecast, policy, now)
    nights: tuple[Night, ...] = ()
    if forecast is not None and not climate_only and not doubts:
        nights = _weigh_nights(curve, forecast, policy, dates)
    exposed_from = dates + policy.first_exposed_days
    window_end = np.datetime64(nights[-1].morning, "D") if nights else dates[0] - 1
    climate_from = np.maximum(exposed_from, window_end + 1)
    window = _window_risk(nights, exposed_from, policy)
    season, _ = season_day_of(today, curve.start)

    def later(table: Floats | None, first_mornings: Dates) -> Floats:
        return _chance_from(curve, curve.risk if table is None else table, first_mornings, season)

    climate = later(curve.risk, climate_from)
    return Outlook(
        today=today,
        dates=dates,
        risk=window + (1 - window) * climate,
        window_risk=window,
        climate_risk=climate,
        climate_low=later(curve.low, climate_from),
        climate_high=later(curve.high, climate_from),
        climate_alone=later(curve.risk, exposed_from),
        nights=nights,
        doubts=doubts,
    )


def doubts_of(forecast: Forecast | None, policy: Policy, now: dt.datetime) -> tuple[str, ...]:
    """Tell why a forecast cannot be trusted this morning, in words; empty where it can.

    Examples
    --------
    >>> doubts_of(None, Policy(), dt.datetime(2026, 4, 12, 6))
    ('No forecast was given; give one, or ask for the climate alone.',)
    """
    if forecast is None:
        return ("No forecast was given; give one, or ask for the climate alone.",)
    today, first = now.date(), now.date() + dt.timedelta(days=policy.first_exposed_days)
    if forecast.issued_at.date() > today:
        return (f"The forecast was made on {_day(forecast.issued_at.date())}, after the day asked about.",)
    doubts = []
    age = age_hours(forecast, now)
    if age > policy.max_age_hours:
        doubts.append(
            f"The forecast is {round(age, 1):g} hours old; "
            f"more than {policy.max_age_hours:g} is too old to trust."
        )
    if forecast.through < first:
        return (
            *doubts,
            f"The forecast ends on {_day(forecast.through)}, before the first night that counts.",
        )
    missing = _missing_mornings(forecast, policy, today, first)
    if missing:
        shown = ", ".join(_day(morning) for morning in missing[:3]) + (
            " and more" if len(missing) > 3 else ""
        )
        doubts.append(f"The forecast has no minimum for {shown}.")
    return tuple(doubts)


def age_hours(forecast: Forecast, now: dt.datetime) -> float:
    """Give the forecast's age [h]; one made later the same day counts as new.

    Examples
    --------
    >>> forecast = Forecast(source="f", form="table", issued_at=dt.datetime(2026, 5, 10, 6),
    ...                     dates=["2026-05-11"], tmin_c=[9.0], sd_c=[np.nan])
    >>> age_hours(forecast, dt.datetime(2026, 5, 10, 18))
    12.0
    """
    return max((now - forecast.issued_at).total_seconds() / 3600, 0.0)


def _candidates(curve: FrostCurve, today: dt.date) -> Dates:
    start_year, _ = season_day_of(today, curve.start)
    return date_range(today, date_of(start_year + 1, 0, curve.start) - dt.timedelta(days=1))


def _last_morning(forecast: Forecast, policy: Policy, today: dt.date) -> dt.date:
    """Find the last morning the forecast weighs: within the window, yet never short of a frost it foretells.

    The window is counted from today and not from the forecast's issue, so that the nights of an older
    forecast are the same ones, only less sure.
    """
    known = np.isfinite(forecast.tmin_c)
    if not known.any():
        return dt.date.min
    garden_c = forecast.tmin_c - policy.error_bias_c + policy.garden_less_forecast_c
    frosts = forecast.dates[known & (garden_c <= policy.damage_temp_c)]
    last = min(forecast.dates[known][-1], np.datetime64(today, "D") + policy.window_days)
    morning: dt.date = (max(last, frosts[-1]) if frosts.size else last).astype(object)
    return morning


def _missing_mornings(forecast: Forecast, policy: Policy, today: dt.date, first: dt.date) -> list[dt.date]:
    wanted = date_range(first, _last_morning(forecast, policy, today))
    known = forecast.dates[np.isfinite(forecast.tmin_c)]
    if wanted.size == 0:
        return [first]
    missing: list[dt.date] = wanted[~np.isin(wanted, known)].astype(object).tolist()
    return missing


def _weigh_nights(curve: FrostCurve, forecast: Forecast, policy: Policy, dates: Dates) -> tuple[Night, ...]:
    """Give each exposed morning of the window, in this season, its chance of a damaging frost."""
    last = np.datetime64(_last_morning(forecast, policy, dates[0].astype(object)), "D")
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
    widest_c = math.inf if curve.spread_c is None else float(curve.spread_c[season_day])
    sd_c = min(error_spread(lead_days, stated_sd_c, policy), widest_c)
    margin_c = garden_c - policy.damage_temp_c - curve.step_c / 2
    return Night(
        morning=morning,
        garden_c=garden_c,
        margin_c=margin_c,
        sd_c=sd_c,
        lead_days=lead_days,
        chance=frost_chance(margin_c, sd_c, policy),
    )


def _window_risk(nights: Sequence[Night], exposed_from: Dates, policy: Policy) -> Floats:
    if not nights:
        return np.zeros(exposed_from.size)
    from_night_on = chance_of_any([night.chance for night in nights], policy.error_correlation)
    passed = (exposed_from - np.datetime64(nights[0].morning, "D")).astype(np.int64)
    risk: Floats = from_night_on[np.clip(passed, 0, len(nights))]
    return risk


def _chance_from(curve: FrostCurve, table: Floats, first_mornings: Dates, season: int) -> Floats:
    """Read from a curve's table the chance of a frost dated on those mornings or later.

    A season's last two weeks keep the chance they begin with: the table falls to 0 at the season's end
    whatever the weather does, and where frosts come all year round that must not look like safety.
    """
    start_year, slot = split_dates(first_mornings, curve.start)
    day = np.where(start_year == season, slot, SLOTS) - HALF_DAY
    return np.asarray(
        np.interp(np.minimum(day, SLOTS - HELD_DAYS), np.arange(SLOTS), table), dtype=np.float64
    )


def _day(date: dt.date) -> str:
    return f"{date:%a} {date.day} {date:%b %Y}"
