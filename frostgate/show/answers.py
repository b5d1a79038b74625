"""Answers as plain values under stable names: what the JSON of a command holds."""

from __future__ import annotations

import dataclasses
import datetime as dt
import enum
import math
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from frostgate.gate.outlook import age_hours, beyond_by_curve, past_nights_c
from frostgate.gate.verdict import Morning
from frostgate.model.curves import FrostCurve, Trend, YearsChoice
from frostgate.model.gate import Forecast, Outlook
from frostgate.show.reasons import say_reasons
from frostgate.units import TemperatureUnit

if TYPE_CHECKING:
    from frostgate.gate.own_errors import OwnErrors

Plain = dict[str, Any]
DIGITS: dict[str, int | None] = {  # decimals of a number by its key, where not four; None: as it was given
    "frost_share": 6,
    "p": 6,
    "risk_tolerance": None,
    "threshold_c": 3,
    "damage_temp_c": 3,
    "offset_c": 3,
    "forecast_offset_c": 3,
    "age_hours": 1,
    "past_nights_c": 2,
}
SEASONS = ("seasons_used", "seasons_unknown", "first_year", "last_year")
NIGHTS = DIGITS | {"garden_c": 2, "sd_c": 2, "lead_days": 2}


def plain(value: Any, digits: Mapping[str, int | None] = DIGITS, decimals: int | None = 4) -> Any:  # noqa: ANN401, PLR0911
    """Return a value as JSON holds it: one walk through dataclasses, mappings, sequences and arrays.

    Dates and times become ISO text, NaN and infinities None. A number is rounded to ``decimals``, below a key
    of ``digits`` to those; an answer that wants others passes ``DIGITS | {"garden_c": 2}``.
    """
    if isinstance(value, enum.Enum):
        value = value.value
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, float):
        exact = float(value) if math.isfinite(value) else None
        return exact if exact is None or decimals is None else round(exact, decimals)
    if isinstance(value, np.ndarray | np.generic):
        return plain(value.tolist(), digits, decimals)
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, Path):
        return str(value)
    if dataclasses.is_dataclass(value):
        value = {field.name: getattr(value, field.name) for field in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(one, digits, digits.get(str(key), decimals)) for key, one in value.items()}
    if isinstance(value, Iterable):
        return [plain(one, digits, decimals) for one in value]
    raise TypeError(f"{type(value).__name__} has no form in JSON")


def reach(value: Any, path: str) -> Any:  # noqa: ANN401  # whatever stands there
    """Return what lies below a value, by names and places parted with dots; None where something lacks."""
    for step in path.split("."):
        if value is None:
            return None
        value = value[int(step)] if step.lstrip("-").isdigit() else getattr(value, step)
    return value


def named(value: object, *paths: str) -> Plain:
    """Return what lies below a value at some paths, each under its last name; ``key=path`` under that key."""
    keys = (path.rpartition("=") for path in paths)
    return {key or path.rpartition(".")[2]: reach(value, path) for key, _, path in keys}


def rows_of(**columns: Iterable[Any]) -> list[Plain]:
    """Return columns as rows, each value under its column's name."""
    return [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]


def morning_answer(morning: Morning, unit: TemperatureUnit) -> Plain:
    """Return the morning's answer, its reasons in words."""
    verdict, outlook, site, forecast = morning.verdict, morning.outlook, morning.site, morning.forecast
    nights = () if outlook is None else outlook.nights
    answer = {
        **named(verdict, "on", "verdict=state"),
        "reasons": say_reasons(verdict.reasons, unit),
        **named(verdict, "risk_tolerance", "risk_today"),
        "risk_parts": None if outlook is None or outlook.forecast_checks else _parts(outlook),
        **named(verdict, "earliest_date", "likely_from", "likely_to"),
        "by_risk": [{"risk": risk, "date": date} for risk, date in verdict.by_risk],
        "climate_only": verdict.climate_only,
        **named(morning.policy, "damage_temp_c", "offset_c", "forecast_offset_c=garden_less_forecast_c"),
        "forecast": forecast and _forecast(forecast, morning.now),
        "nights": [named(night, "morning", "garden_c", "sd_c", "lead_days", "chance") for night in nights],
        "record": site
        and named(site, "station=station.id", "station.name", *(f"curve.{name}" for name in SEASONS))
        | named(site, "last_day", "flagged", "suspects", "suspects_kept"),
        "curve": site and curve_facts(site.curve),
        "climate": site and site.years and years_facts(site.years),
        "notes": morning.notes,
        "cautions": say_reasons(morning.cautions, unit),
    }
    return dict(plain(answer, NIGHTS))


def _parts(outlook: Outlook) -> Plain:
    """Return what today's risk is made of."""
    parts = named(outlook, "window=window_risk.0", "beyond=climate_risk.0")
    return parts | {"beyond_by_curve": beyond_by_curve(outlook), "past_nights_c": past_nights_c(outlook)}


def _forecast(forecast: Forecast, now: dt.datetime) -> Plain:
    return {
        "form": forecast.form,
        "issued": forecast.issued_at.isoformat(timespec="minutes"),
        **named(forecast, "issued_stated", "through"),
        "age_hours": age_hours(forecast, now),
        "time_zone": forecast.time_zone,
        "gaps": forecast.dates[np.isnan(forecast.tmin_c)],
    }


def own_answer(own: OwnErrors | None) -> Plain | None:
    """Return what a garden's own log has taught; None where there is no log."""
    if own is None:
        return None
    told = named(own, "mornings", "far_off", "mean_error_c", "bias_weight", "bias_c=policy.error_bias_c")
    told |= named(own, "spread_weight", "spread_factor")
    answer: Plain = plain(told, {"mean_error_c": 3, "bias_c": 3})
    return answer if own.bias_weight else answer | {"mean_error_c": None}


def curve_facts(curve: FrostCurve) -> Plain:
    """Return what a curve rests on, and its median date."""
    facts = named(curve, "season=side", "threshold_c", "kind", "frost_share")
    return facts | {"median_date": curve.date_at(0.5)} | named(curve, *SEASONS)


def years_facts(choice: YearsChoice) -> Plain:
    """Return which years a curve rests on, and the evidence."""
    facts = named(choice, "years_basis=basis", "best_basis=best", "threshold_c", "seasons_judged=judged")
    return facts | {"scores": choice.scores, "trend": trend_facts(choice.trend), "reason": choice.reason}


def trend_facts(trend: Trend) -> Plain:
    """Return how frost dates move over the years; positive is later."""
    facts = named(trend, "seasons", "first_year", "last_year", "dates", "days_per_decade", "low", "high")
    return facts | {"mann_kendall": named(trend, "s", "z", "p")}
