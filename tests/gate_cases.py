"""Curves, forecasts and sites made to measure, all invented, for the tests of the gate."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
from scipy import stats

from frostgate.gate.outlook import look_ahead
from frostgate.gate.verdict import ask, judge
from frostgate.model.curves import FrostCurve, SiteClimate, Weather
from frostgate.model.gate import Forecast, Outlook, Policy, Seen
from frostgate.model.records import Station
from frostgate.seasons import NORTH, SLOTS, season_day_of
from frostgate.show.reasons import say_reasons

NOW = dt.datetime(2026, 5, 10, 6)  # a Sunday morning
TODAY = NOW.date()
DAY = dt.timedelta(days=1)
HALF = 0.05  # a forecast [°C] as likely as not to end at 0 °C or less, by a station that observes tenths
SUMMER = 60.0  # so mild [°C] that no spread reaches 0 °C
ARCTIC = -60.0
WHITE = Policy(error_correlation=0.0, wide_share=0.0)  # nights that know nothing of each other


def make_curve(risk=0.0, **changes) -> FrostCurve:
    """Make a curve of one risk all season, or of a table of 366."""
    table = np.broadcast_to(risk, SLOTS)
    given = {"kind": "given", "side": "spring", "threshold_c": 0.0, "start": NORTH, "risk": table,
             "frost_share": float(table[0]), "seasons_used": 30, "seasons_unknown": 0,
             "first_year": 1991, "last_year": 2020}  # fmt: skip
    return FrostCurve(**(given | changes))


def ramp(middle: dt.date, days: float, share: float = 1.0, **changes) -> FrostCurve:
    """Make a curve that falls from ``share`` to 0 along a straight line around a date."""
    _, slot = season_day_of(middle, changes.get("start", NORTH))
    return make_curve(share * np.clip((slot - np.arange(SLOTS)) / days + 0.5, 0, 1), **changes)


def cliff(day: dt.date, share: float = 1.0, **changes) -> FrostCurve:
    """Make a curve whose frosts fall on two days alone, half on ``day`` and half on the next.

    No straight line between whole season days puts them all on one.
    """
    _, slot = season_day_of(day, changes.get("start", NORTH))
    return make_curve(np.where(np.arange(SLOTS) <= slot, share, 0.0), **changes)


def make_forecast(tmin_c, *, issued=NOW, first=None, sd_c=np.nan, **changes) -> Forecast:
    """Make a forecast of consecutive mornings, the first tomorrow's."""
    first = np.datetime64(first or issued.date() + DAY, "D")
    given = {"source": "f.csv", "form": "table", "issued_at": issued,
             "dates": np.arange(first, first + len(tmin_c)), "tmin_c": tmin_c,
             "sd_c": np.broadcast_to(sd_c, len(tmin_c))}  # fmt: skip
    return Forecast(**(given | changes))


def make_weather(anomaly_c=0.0, **changes) -> Weather:
    """Make a station where 8 °C is usual all year, and whose past 60 nights were so much milder."""
    given = {"climatology_c": np.full(SLOTS, 8.0), "persistence": 0.3, "explained": 0.0,
             "recent_c": np.full(60, 8.0 + anomaly_c), "last_day": TODAY}  # fmt: skip
    return Weather(**(given | changes))


def make_seen(hazard=0.01, margin_c=(), sd_c=2.0, nights=30, **changes) -> Seen:
    """Make what is seen of like nights at a station that scatters by 4 °C, where -2 of those is a frost."""
    told = np.asarray(margin_c, dtype=float)
    given = {"hazard": np.broadcast_to(hazard, nights), "end": 0.0, "margin_c": told,
             "sd_c": np.broadcast_to(sd_c, told.shape), "climate_sd_c": np.full(told.shape, 4.0),
             "frost": np.full(nights, -2.0)}  # fmt: skip
    return Seen(**(given | changes))


def mixture_chance(margin_c, sd_c, policy=None) -> float:
    """Give the chance of a frost by scipy, where nothing caps the errors' tails."""
    policy = policy or Policy()
    shares = [1 - policy.wide_share, policy.wide_share]
    narrow_c = sd_c / math.sqrt(np.dot(shares, [1.0, policy.wide_factor**2]))
    return float(np.dot(shares, stats.norm.cdf(-margin_c, scale=[narrow_c, policy.wide_factor * narrow_c])))


def make_site(curve=None, **changes) -> SiteClimate:
    """Make a station's past around a curve."""
    station = Station(id="XX000000001", name="Hollow End")
    given = {"station": station, "curve": curve or ramp(TODAY, 40.0), "suspects": 0,
              "suspects_kept": False, "flagged": 0,
             "last_day": dt.date(2020, 7, 31)}  # fmt: skip
    return SiteClimate(**(given | changes))


def look(curve, forecast, policy=None, now=NOW, **options) -> Outlook:
    """Look ahead by the default policy."""
    return look_ahead(curve, forecast, policy or Policy(), now, **options)


def decide(curve, forecast, policy=None, now=NOW, *, climate_only=False, weather=None):
    """Look ahead and judge."""
    policy = policy or Policy()
    outlook = look_ahead(curve, forecast, policy, now, weather=weather, climate_only=climate_only)
    return judge(outlook, policy, climate_only=climate_only)


def told(curve, forecast, policy=None, unit="C", **options) -> list[str]:
    """Say the reasons of a verdict."""
    return say_reasons(decide(curve, forecast, policy, **options).reasons, unit)


def ask_about(site, forecast, policy=None, now=NOW, **options):
    """Ask for the whole answer of a morning by the default policy."""
    return ask(site, forecast, policy or Policy(), now, **options)


def warmed(forecast: Forecast, shift_c: float) -> Forecast:
    """Return the forecast with every minimum shifted."""
    return make_forecast(
        forecast.tmin_c + shift_c, issued=forecast.issued_at, first=forecast.dates[0], sd_c=forecast.sd_c
    )
