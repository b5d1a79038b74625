"""Answers as plain values under stable names: what the JSON of a command holds."""

from __future__ import annotations

import dataclasses
import datetime as dt
import enum
import math
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from frostgate.climate.levels import LEVELS, LengthLevel, SideTable
from frostgate.climate.quality import RecordSummary, Suspects
from frostgate.gate.outlook import age_hours, beyond_by_curve, past_nights_c
from frostgate.gate.verdict import Morning
from frostgate.model.gate import Forecast, Night, Outlook
from frostgate.model.records import (
    DailyMinima,
    FrostCurve,
    FrostDates,
    SiteClimate,
    Trend,
    YearsChoice,
    day_at_risk,
)
from frostgate.seasons import Floats, month_day_text
from frostgate.show.reasons import say_reasons
from frostgate.units import TemperatureUnit

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
        return (
            None if not math.isfinite(value) else value if decimals is None else round(float(value), decimals)
        )
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


def morning_answer(morning: Morning, unit: TemperatureUnit) -> Plain:
    """Return the morning's answer."""
    verdict, policy, outlook = morning.verdict, morning.policy, morning.outlook
    return {
        "on": verdict.on.isoformat(),
        "verdict": verdict.state,
        "reasons": say_reasons(verdict.reasons, unit),
        "risk_tolerance": verdict.risk_tolerance,
        "risk_today": rounded(verdict.risk_today),
        "risk_parts": None if outlook is None or outlook.forecast_checks else _parts(outlook),
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
        "cautions": say_reasons(morning.cautions, unit),
    }


def curve_facts(curve: FrostCurve) -> Plain:
    """Return what a curve rests on, and its middle date."""
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
    """Return which years a curve rests on, and the evidence."""
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
    """Return how frost dates move over the years; positive is later."""
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
    """Return what today's risk is made of."""
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
    """Write a date as YYYY-MM-DD, and None as None."""
    return None if date is None else date.isoformat()


def rounded(value: float | None, digits: int = 4) -> float | None:
    """Round a number for an answer; NaN becomes None."""
    return None if value is None or math.isnan(value) else round(value, digits)


def curve_answer(
    minima: DailyMinima, tables: tuple[SideTable, ...], lengths: tuple[LengthLevel, ...]
) -> Plain:
    """Return curves, levels and seasons; the unqualified keys speak of the first season's main threshold."""
    curves = [curve for table in tables for curve in table.curves]
    facts = [fact for table in tables for fact in _curves(table)]
    main = _main_curve(tables[0], facts) if tables else None
    return {
        "station": minima.station.id,
        "name": minima.station.name,
        **({} if main is None else main),
        "levels": [level for curve in curves for level in _levels(curve)],
        "curves": facts,
        "years": [
            {"season": table.side, **(years_facts(table.choice) or {})} for table in tables if table.choice
        ],
        "season_lengths": [
            {"threshold_c": round(level.threshold_c, 3), "chance": level.chance, "days": level.days}
            for level in lengths
        ],
        "seasons": [season for table in tables for frosts in table.frosts for season in _seasons(frosts)],
        "refused": [
            {"season": table.side, "threshold_c": round(threshold_c, 3), "reason": reason}
            for table in tables
            for threshold_c, reason in table.refused
        ],
        "suspect": minima.suspect.size,
        "flagged": minima.flagged.size,
        "notes": list(minima.notes),
    }


def level_rows(tables: tuple[SideTable, ...]) -> list[str]:
    """Write the levels as rows of comma-separated values, the first naming the columns."""
    columns = ("season", "threshold_c", "risk", "date", "earliest", "latest")
    rows = [level for table in tables for curve in table.curves for level in _levels(curve)]
    cells = [["" if row[column] is None else str(row[column]) for column in columns] for row in rows]
    return [",".join(row) for row in [columns, *cells]]


def record_answer(minima: DailyMinima, summary: RecordSummary, suspects: Suspects) -> Plain:
    """Return the summary of a record."""
    gap = summary.longest_gap
    return {
        "station": minima.station.id,
        "name": minima.station.name,
        "latitude": minima.station.latitude,
        "longitude": minima.station.longitude,
        "elevation_m": minima.station.elevation_m,
        "first": summary.first.isoformat(),
        "last": summary.last.isoformat(),
        "years": summary.last.year - summary.first.year + 1,
        "known": summary.known,
        "missing": summary.missing,
        "flagged": summary.flagged,
        "suspect": [
            {
                "date": str(date),
                "tmin_c": round(float(tmin_c), 1),
                "usual_c": round(float(climatology_c), 1),
                "around_c": rounded(float(around_c), 1),
            }
            for date, tmin_c, climatology_c, around_c in zip(
                suspects.dates, suspects.tmin_c, suspects.climatology_c, suspects.around_c, strict=True
            )
        ],
        "longest_gap": None
        if gap is None
        else {"from": gap[0].isoformat(), "to": gap[1].isoformat(), "days": summary.gap_days},
        "completeness": [
            {"year": int(year), "share": round(float(share), 4)}
            for year, share in zip(summary.years, summary.completeness, strict=True)
        ],
        "suspects_kept": minima.suspect.size < suspects.dates.size,
        "notes": list(minima.notes),
    }


def _curves(table: SideTable) -> list[Plain]:
    """Return what each curve of a side rests on, its years and their trend."""
    basis = None if table.choice is None else table.choice.basis
    trends = table.trends or (None,) * len(table.curves)
    return [
        curve_facts(curve) | {"years_basis": basis, "trend": None if trend is None else trend_facts(trend)}
        for curve, trend in zip(table.curves, trends, strict=True)
    ]


def _main_curve(table: SideTable, facts: list[Plain]) -> Plain:
    """Find the first season's curve at 0 °C, or at its first threshold where there is none at 0 °C."""
    at = [index for index, curve in enumerate(table.curves) if abs(curve.threshold_c) < 0.05]
    return facts[at[0] if at else 0]


def _levels(curve: FrostCurve) -> list[Plain]:
    def bound(table: Floats | None, risk: float) -> str | None:
        day = math.nan if table is None else day_at_risk(table, risk, curve.side)
        return None if math.isnan(day) else month_day_text(round(day), curve.start)

    early, late = (curve.low, curve.high) if curve.side == "spring" else (curve.high, curve.low)
    return [
        {
            "season": curve.side,
            "threshold_c": round(curve.threshold_c, 3),
            "risk": risk,
            "date": curve.date_at(risk),
            "earliest": bound(early, risk),
            "latest": bound(late, risk),
        }
        for risk in LEVELS
    ]


def _seasons(frosts: FrostDates) -> list[Plain]:
    return [
        {
            "threshold_c": round(frosts.threshold_c, 3),
            "season": frosts.side,
            "year": int(year),
            "state": state,
            "date": iso(frosts.date(index)),
        }
        for index, (year, state) in enumerate(zip(frosts.years, frosts.states, strict=True))
    ]
