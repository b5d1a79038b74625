"""Answers as plain values under stable names: what the JSON of a command holds."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

import numpy as np

from frostgate.gate.doubts import age_hours
from frostgate.gate.morning import Morning
from frostgate.gate.reasons import beyond_by_curve, past_nights_c
from frostgate.terms import Forecast, FrostCurve, Night, Outlook, SiteClimate, Trend, YearsChoice

Plain = dict[str, Any]


def morning_answer(morning: Morning) -> Plain:
    """Give the morning's answer.

    Examples
    --------
    >>> from frostgate.gate.morning import ask
    >>> from frostgate.terms import Policy
    >>> morning_answer(ask(None, None, Policy(), dt.datetime(2026, 4, 12, 6)))["verdict"]
    'unknown'
    """
    verdict, policy, outlook = morning.verdict, morning.policy, morning.outlook
    return {
        "on": verdict.on.isoformat(),
        "verdict": verdict.state,
        "reasons": list(verdict.reasons),
        "risk_tolerance": verdict.risk_tolerance,
        "risk_today": rounded(verdict.risk_today),
        "risk_parts": None if outlook is None or outlook.doubts else _parts(outlook),
        "earliest_date": iso(verdict.earliest_date),
        "likely_from": iso(verdict.likely_from),
        "likely_to": iso(verdict.likely_to),
        "by_risk": [{"risk": risk, "date": iso(date)} for risk, date in verdict.by_risk],
        "climate_only": verdict.climate_only,
        "damage_temp_c": round(policy.damage_temp_c, 3),
        "offset_c": round(policy.offset_c, 3),
        "forecast_offset_c": round(policy.garden_less_forecast_c, 3),
        "forecast": None if morning.forecast is None else _forecast(morning.forecast, morning.now),
        "nights": [] if outlook is None else [_night(night) for night in outlook.nights],
        "record": None if morning.site is None else _record(morning.site),
        "curve": None if morning.site is None else curve_facts(morning.site.curve),
        "climate": None if morning.site is None else years_facts(morning.site.years),
        "notes": list(morning.notes),
        "cautions": list(morning.cautions),
    }


def curve_facts(curve: FrostCurve) -> Plain:
    """Give what a curve rests on, and its middle date.

    Examples
    --------
    >>> from frostgate.seasons import NORTH
    >>> curve = FrostCurve(kind="given", side="spring", threshold_c=0.0, start=NORTH,
    ...                    risk=np.linspace(1, 0, 366), frost_share=1.0, seasons_used=30, seasons_unknown=0,
    ...                    first_year=1991, last_year=2020)
    >>> curve_facts(curve)["median_date"]
    '01-30'
    """
    return {
        "season": curve.side,
        "threshold_c": round(curve.threshold_c, 3),
        "kind": curve.kind,
        "frost_share": round(curve.frost_share, 6),
        "median_date": curve.date_at(0.5),
        "seasons_used": curve.seasons_used,
        "seasons_unknown": curve.seasons_unknown,
        "first_year": curve.first_year,
        "last_year": curve.last_year,
    }


def years_facts(choice: YearsChoice | None) -> Plain | None:
    """Give which years a curve rests on, and the evidence.

    Examples
    --------
    >>> years_facts(None) is None
    True
    """
    if choice is None:
        return None
    return {
        "years_basis": choice.basis,
        "best_basis": choice.best,
        "threshold_c": round(choice.threshold_c, 3),
        "seasons_judged": choice.judged,
        "scores": [
            {
                "basis": score.basis,
                "crps_days": rounded(score.crps_days),
                "gain_days": rounded(score.gain_days),
                "error_days": rounded(score.error_days),
            }
            for score in choice.scores
        ],
        "trend": trend_facts(choice.trend),
        "reason": choice.reason,
    }


def trend_facts(trend: Trend) -> Plain:
    """Give how frost dates move over the years; positive is later.

    Examples
    --------
    >>> trend_facts(Trend(seasons=5, first_year=2001, last_year=2005, s=10, variance=50 / 3, z=2.2, p=0.0275,
    ...                   dates=5, days_per_decade=10.0, low=10.0, high=10.0))["days_per_decade"]
    10.0
    """
    return {
        "seasons": trend.seasons,
        "first_year": trend.first_year,
        "last_year": trend.last_year,
        "dates": trend.dates,
        "days_per_decade": rounded(trend.days_per_decade),
        "low": rounded(trend.low),
        "high": rounded(trend.high),
        "mann_kendall": {"s": trend.s, "z": rounded(trend.z), "p": rounded(trend.p, 6)},
    }


def _forecast(forecast: Forecast, now: dt.datetime) -> Plain:
    return {
        "form": forecast.form,
        "issued": forecast.issued_at.isoformat(timespec="minutes"),
        "issued_stated": forecast.issued_stated,
        "through": forecast.through.isoformat(),
        "age_hours": round(age_hours(forecast, now), 1),
        "time_zone": forecast.time_zone,
        "gaps": [str(date) for date in forecast.dates[np.isnan(forecast.tmin_c)]],
    }


def _night(night: Night) -> Plain:
    return {
        "morning": night.morning.isoformat(),
        "garden_c": round(night.garden_c, 2),
        "sd_c": round(night.sd_c, 2),
        "lead_days": round(night.lead_days, 2),
        "chance": rounded(night.chance),
    }


def _parts(outlook: Outlook) -> Plain:
    """Give what today's risk is made of."""
    return {
        "window": rounded(float(outlook.window_risk[0])),
        "beyond": rounded(float(outlook.climate_risk[0])),
        "beyond_by_curve": rounded(beyond_by_curve(outlook)),
        "past_nights_c": rounded(past_nights_c(outlook), 2),
    }


def _record(site: SiteClimate) -> Plain:
    return {
        "station": site.station.id,
        "name": site.station.name,
        "seasons_used": site.curve.seasons_used,
        "seasons_unknown": site.curve.seasons_unknown,
        "first_year": site.curve.first_year,
        "last_year": site.curve.last_year,
        "last_day": site.last_day.isoformat(),
        "flagged": site.flagged,
        "suspects": site.suspects,
        "suspects_kept": site.suspects_kept,
    }


def iso(date: dt.date | None) -> str | None:
    """Write a date as YYYY-MM-DD, and None as None.

    Examples
    --------
    >>> iso(dt.date(2026, 4, 12))
    '2026-04-12'
    """
    return None if date is None else date.isoformat()


def rounded(value: float | None, digits: int = 4) -> float | None:
    """Round a number for an answer; NaN becomes None.

    Examples
    --------
    >>> rounded(0.123456), rounded(math.nan)
    (0.1235, None)
    """
    return None if value is None or math.isnan(value) else round(value, digits)
