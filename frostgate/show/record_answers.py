"""The answers of the commands that look at a record: its curves and its summary."""

from __future__ import annotations

import math

from frostgate.climate.completeness import RecordSummary
from frostgate.climate.levels import LEVELS, LengthLevel, SideTable
from frostgate.climate.suspects import Suspects
from frostgate.seasons import month_day_text
from frostgate.show.answers import Plain, curve_facts, iso, rounded, trend_facts, years_facts
from frostgate.terms import DailyMinima, Floats, FrostCurve, FrostDates, day_at_risk


def curve_answer(
    minima: DailyMinima, tables: tuple[SideTable, ...], lengths: tuple[LengthLevel, ...]
) -> Plain:
    """Give curves, levels and seasons; the unqualified keys speak of the first season's main threshold.

    Examples
    --------
    >>> from frostgate.terms import Station
    >>> curve_answer(DailyMinima(station=Station(id="X"), dates=[], tmin_c=[]), (), ())["levels"]
    []
    """
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
    """Write the levels as rows of comma-separated values, the first naming the columns.

    Examples
    --------
    >>> level_rows(())
    ['season,threshold_c,risk,date,earliest,latest']
    """
    columns = ("season", "threshold_c", "risk", "date", "earliest", "latest")
    rows = [level for table in tables for curve in table.curves for level in _levels(curve)]
    cells = [["" if row[column] is None else str(row[column]) for column in columns] for row in rows]
    return [",".join(row) for row in [columns, *cells]]


def record_answer(minima: DailyMinima, summary: RecordSummary, suspects: Suspects) -> Plain:
    """Give the summary of a record.

    Examples
    --------
    >>> from frostgate.climate.completeness import summarise
    >>> from frostgate.climate.suspects import find_suspects
    >>> from frostgate.seasons import NORTH
    >>> from frostgate.terms import Station
    >>> record = DailyMinima(station=Station(id="X"), dates=["2026-04-01"], tmin_c=[1.0])
    >>> record_answer(record, summarise(record, NORTH), find_suspects(record))["first"]
    '2026-04-01'
    """
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
                "usual_c": round(float(usual_c), 1),
                "around_c": rounded(float(around_c), 1),
            }
            for date, tmin_c, usual_c, around_c in zip(
                suspects.dates, suspects.tmin_c, suspects.usual_c, suspects.around_c, strict=True
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
    """Give what each curve of a side rests on, its years and their trend."""
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
