"""Why a forecast cannot be trusted this morning, in words."""

from __future__ import annotations

import datetime as dt

import numpy as np

from frostgate.seasons import date_range
from frostgate.terms import Forecast, Policy


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


def last_morning(forecast: Forecast, policy: Policy, today: dt.date) -> dt.date:
    """Find the last morning the forecast weighs: within the window, yet never short of a frost it foretells.

    The window is counted from today and not from the forecast's issue, so that the nights of an older
    forecast are the same ones, only less sure.

    Examples
    --------
    >>> forecast = Forecast(source="f", form="table", issued_at=dt.datetime(2026, 5, 10, 6),
    ...                     dates=["2026-05-11", "2026-05-12"], tmin_c=[9.0, 8.0], sd_c=[np.nan, np.nan])
    >>> last_morning(forecast, Policy(window_days=1), dt.date(2026, 5, 10))
    datetime.date(2026, 5, 11)
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
    wanted = date_range(first, last_morning(forecast, policy, today))
    known = forecast.dates[np.isfinite(forecast.tmin_c)]
    if wanted.size == 0:
        return [first]
    missing: list[dt.date] = wanted[~np.isin(wanted, known)].astype(object).tolist()
    return missing


def _day(date: dt.date) -> str:
    return f"{date:%a} {date.day} {date:%b %Y}"
