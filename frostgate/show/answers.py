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

from frostgate.files import csv_text
from frostgate.gate.outlook import age_hours, beyond_by_curve, past_nights_c
from frostgate.gate.verdict import Morning
from frostgate.model.curves import FrostCurve, SiteClimate, Trend, YearsChoice
from frostgate.model.gate import Forecast, Outlook
from frostgate.model.records import DailyMinima
from frostgate.show.reasons import say_reasons
from frostgate.units import TemperatureUnit, Units

if TYPE_CHECKING:
    from frostgate.climate.normals import LengthLevel, SideTable
    from frostgate.climate.quality import RecordSummary, Suspects
    from frostgate.feeding.mix import MixedFeeding
    from frostgate.show.morning import GardenMorning

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


def named(value: object, *paths: str, **renamed: str) -> Plain:
    """Return what lies below a value at some paths, each under its last name or the name it is given."""
    keys = {path.rpartition(".")[2]: path for path in paths} | renamed
    return {key: reach(value, path) for key, path in keys.items()}


def rows_of(**columns: Iterable[Any]) -> list[Plain]:
    """Return columns as rows, each value under its column's name."""
    return [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]


def morning_answer(morning: Morning, unit: TemperatureUnit) -> Plain:
    """Return the morning's answer, its reasons in words."""
    verdict, policy, outlook, site = morning.verdict, morning.policy, morning.outlook, morning.site
    nights = () if outlook is None else outlook.nights
    answer = {
        "on": verdict.on,
        "verdict": verdict.state,
        "reasons": say_reasons(verdict.reasons, unit),
        **named(verdict, "risk_tolerance", "risk_today"),
        "risk_parts": None if outlook is None or outlook.forecast_checks else _parts(outlook),
        **named(verdict, "earliest_date", "likely_from", "likely_to"),
        "by_risk": [{"risk": risk, "date": date} for risk, date in verdict.by_risk],
        "climate_only": verdict.climate_only,
        **named(policy, "damage_temp_c", "offset_c", forecast_offset_c="garden_less_forecast_c"),
        "forecast": morning.forecast and _forecast(morning.forecast, morning.now),
        "nights": [named(night, "morning", "garden_c", "sd_c", "lead_days", "chance") for night in nights],
        "record": site and _record(site),
        "curve": site and curve_facts(site.curve),
        "climate": site and years_facts(site.years),
        "notes": morning.notes,
        "cautions": say_reasons(morning.cautions, unit),
    }
    return dict(plain(answer, NIGHTS))


def garden_answer(shown: GardenMorning) -> Plain:
    """Return what is due, at risk and to log, beside the morning's own answer."""
    warned = ("morning", "garden_c", "chance", "group", "part", "level", "measures")
    answer = {
        "frost_warnings": [named(warning, *warned) for warning in shown.warnings],
        "due": [_due(due, shown.units) for due in shown.due],
        "next": [named(feeding, "date", "group", "phase", "status") for feeding in shown.coming],
        "to_log": shown.to_log,
        "notes": (*shown.notes, *shown.plan_notes),
    }
    return dict(plain(answer, NIGHTS))


def _due(due: MixedFeeding, units: Units) -> Plain:
    from frostgate.show.mixes import say_mix  # not loaded where nothing is due

    mix = due.mix and say_mix(due.mix, None, units, short=True)
    return {**named(due.feeding, "group", "phase", "number", "kind"), "mix": mix, "refusal": due.refusal}


def _parts(outlook: Outlook) -> Plain:
    """Return what today's risk is made of."""
    parts = named(outlook, window="window_risk.0", beyond="climate_risk.0")
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


def _record(site: SiteClimate) -> Plain:
    return {
        **named(site.station, station="id", name="name"),
        **named(site.curve, *SEASONS),
        **named(site, "last_day", "flagged", "suspects", "suspects_kept"),
    }


def curve_facts(curve: FrostCurve) -> Plain:
    """Return what a curve rests on, and its median date."""
    return {
        "season": curve.side,
        **named(curve, "threshold_c", "kind", "frost_share"),
        "median_date": curve.date_at(0.5),
        **named(curve, *SEASONS),
    }


def years_facts(choice: YearsChoice | None) -> Plain | None:
    """Return which years a curve rests on, and the evidence."""
    if choice is None:
        return None
    return {
        **named(choice, years_basis="basis", best_basis="best", threshold_c="threshold_c"),
        "seasons_judged": choice.judged,
        "scores": [named(score, "basis", "crps_days", "gain_days", "error_days") for score in choice.scores],
        "trend": trend_facts(choice.trend),
        "reason": choice.reason,
    }


def trend_facts(trend: Trend) -> Plain:
    """Return how frost dates move over the years; positive is later."""
    facts = named(trend, "seasons", "first_year", "last_year", "dates", "days_per_decade", "low", "high")
    return facts | {"mann_kendall": named(trend, "s", "z", "p")}


def curve_answer(
    minima: DailyMinima, tables: tuple[SideTable, ...], lengths: tuple[LengthLevel, ...]
) -> Plain:
    """Return curves, levels and seasons; the unqualified keys speak of the first season's main threshold."""
    facts = [
        curve_facts(curve) | {"years_basis": table.choice.basis, "trend": trend_facts(trend)}
        for table in tables
        for curve, trend in zip(table.curves, table.trends, strict=True)
    ]
    answer = {
        **named(minima.station, station="id", name="name"),
        **facts[tables[0].main],
        "levels": [level for table in tables for curve in table.curves for level in _levels(curve)],
        "curves": facts,
        "years": [{"season": table.side, **(years_facts(table.choice) or {})} for table in tables],
        "season_lengths": [named(level, "threshold_c", "chance", "days") for level in lengths],
        "seasons": [
            named(frosts, "threshold_c", season="side") | season
            for table in tables
            for frosts in table.frosts
            for season in rows_of(
                year=frosts.years, state=frosts.states, date=map(frosts.date, range(frosts.years.size))
            )
        ],
        "refused": [
            {"season": table.side, "threshold_c": threshold_c, "reason": reason}
            for table in tables
            for threshold_c, reason in table.refused
        ],
        "suspect": minima.suspect.size,
        "flagged": minima.flagged.size,
        "notes": minima.notes,
    }
    return dict(plain(answer))


def level_rows(tables: tuple[SideTable, ...]) -> str:
    """Write the levels as rows of comma-separated values, the first naming the columns."""
    rows = [plain(level) for table in tables for curve in table.curves for level in _levels(curve)]
    return csv_text([rows[0], *(row.values() for row in rows)])


def record_answer(minima: DailyMinima, summary: RecordSummary, suspects: Suspects) -> Plain:
    """Return the summary of a record."""
    gap = summary.longest_gap
    suspect_c = {"tmin_c": suspects.tmin_c, "usual_c": suspects.climatology_c, "around_c": suspects.around_c}
    answer = {
        "station": minima.station.id,
        **named(minima.station, "name", "latitude", "longitude", "elevation_m"),
        **named(summary, "first", "last"),
        "years": summary.last.year - summary.first.year + 1,
        **named(summary, "known", "missing", "flagged"),
        "suspect": rows_of(date=suspects.dates, **suspect_c),
        "longest_gap": gap and {"from": gap[0], "to": gap[1], "days": summary.gap_days},
        "completeness": rows_of(year=summary.years, share=summary.completeness),
        "suspects_kept": minima.suspect.size < suspects.dates.size,
        "notes": minima.notes,
    }
    tenths = dict.fromkeys(suspect_c, 1)
    places = dict.fromkeys(("latitude", "longitude", "elevation_m"), None)
    return dict(plain(answer, DIGITS | tenths | places))


def _levels(curve: FrostCurve) -> list[Plain]:
    from frostgate.climate.normals import LEVELS  # loads scipy, which a morning's answer need not

    bounds = (curve.low, curve.high) if curve.side == "spring" else (curve.high, curve.low)
    early, late = (risks if risks is None else dataclasses.replace(curve, risk=risks) for risks in bounds)
    return [
        {
            "season": curve.side,
            "threshold_c": curve.threshold_c,
            "risk": risk,
            "date": curve.date_at(risk),
            "earliest": early and early.date_at(risk),
            "latest": late and late.date_at(risk),
        }
        for risk in LEVELS
    ]
