"""A station's record and its curves: as JSON, as CSV, and on the terminal as tables and a chart of bars."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator

from frostgate.climate.normals import LEVELS, LengthLevel, SideTable
from frostgate.climate.quality import RecordSummary, Suspects
from frostgate.climate.years import say_pace
from frostgate.files import csv_text
from frostgate.model.curves import FrostCurve
from frostgate.model.records import DailyMinima
from frostgate.seasons import SLOTS, month_day_text
from frostgate.show.answers import DIGITS, Plain, curve_facts, named, plain, rows_of, trend_facts, years_facts
from frostgate.show.say import (
    NARROW,
    WIDE,
    Part,
    bold,
    columns,
    console_of_its_width,
    grid,
    or_dash,
    say_month_day,
    wrapped,
)
from frostgate.units import WHOLE_F_STEP_C, TemperatureUnit, say_share, say_temperature

BAR = 40
CHART_ROWS = 16
TITLES = {
    "spring": "Last spring frost: the date after which one still comes",
    "autumn": "First autumn frost: the date before which one has come",
}
ALMOST_FULL = 0.98  # completeness of a season below this is shown
SUMMED_UP = DIGITS | {
    **dict.fromkeys(("tmin_c", "usual_c", "around_c"), 1),
    **dict.fromkeys(("latitude", "longitude", "elevation_m"), None),
}


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
        **named(minima.station, "station=id", "name"),
        **facts[tables[0].main],
        "levels": [level for table in tables for curve in table.curves for level in _levels(curve)],
        "curves": facts,
        "years": [{"season": table.side, **years_facts(table.choice)} for table in tables],
        "season_lengths": lengths,
        "seasons": [
            named(frosts, "threshold_c", "season=side") | season
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
        **named(minima, "suspect=suspect.size", "flagged=flagged.size", "notes"),
    }
    return dict(plain(answer))


def level_rows(tables: tuple[SideTable, ...]) -> str:
    """Write the levels as rows of comma-separated values, the first naming the columns."""
    rows = [plain(level) for table in tables for curve in table.curves for level in _levels(curve)]
    return csv_text([rows[0], *(row.values() for row in rows)])


def _levels(curve: FrostCurve) -> Iterator[Plain]:
    bounds = (curve.low, curve.high) if curve.side == "spring" else (curve.high, curve.low)
    early, late = (risks if risks is None else dataclasses.replace(curve, risk=risks) for risks in bounds)
    for risk in LEVELS:
        dates = {"date": curve, "earliest": early, "latest": late}
        yield {
            **named(curve, "season=side", "threshold_c"),
            "risk": risk,
            **{name: one and one.date_at(risk) for name, one in dates.items()},
        }


def curve_parts(
    minima: DailyMinima,
    tables: tuple[SideTable, ...],
    lengths: tuple[LengthLevel, ...],
    unit: TemperatureUnit,
) -> Iterator[Part]:
    """Write the levels of both seasons, the season's length, and a chart of the main curve."""
    is_narrow = console_of_its_width().width < WIDE
    yield from (bold(minima.station), "")
    for table in tables:
        rows = [dict(_level_cells(curve, unit, is_narrow=is_narrow)) for curve in table.curves]
        yield grid(rows, title=TITLES[table.side], gap=1)
        yield from (f"{say_temperature(at_c, unit)}: {reason}" for at_c, reason in table.refused)
        yield ""
    if any(curve.seasons_unknown for table in tables for curve in table.curves):
        yield from ("seasons: known + unknown?, unknown for missing days that may hide a frost", "")
    if lengths:
        days: dict[str, dict[str, str]] = {}
        for level in lengths:
            at = say_temperature(level.threshold_c, unit)
            days.setdefault(at, {"≤": at})[f"{level.chance:.0%}"] = f"{or_dash(level.days, '.0f'):>7}"
        title = "Days between the two: the length that so many years reach"
        yield from (grid([*days.values()], title=title, gap=1), "")
    for table in tables:
        yield from _over_the_years(table, unit)
    yield from _bars(tables[0].curves[tables[0].main], unit)
    yield from (f"- {note}" for note in minima.notes)


def _level_cells(curve: FrostCurve, unit: TemperatureUnit, *, is_narrow: bool) -> Iterator[tuple[str, str]]:
    yield "≤", say_temperature(curve.threshold_c, unit)
    for risk in LEVELS:
        yield f"{risk:.0%}", f"{say_month_day(curve.date_at(risk)):>7}"
    if not is_narrow:
        unknown = f"+{curve.seasons_unknown}?" if curve.seasons_unknown else ""
        yield "seasons", f"{curve.seasons_used}{unknown}"
        yield "frost", f"{curve.frost_share:.0%}"
        yield "curve", curve.kind


def _over_the_years(table: SideTable, unit: TemperatureUnit) -> Iterator[str]:
    """Say how the dates move, and which years the curves rest on."""
    trend, curve = table.trends[table.main], table.curves[table.main]
    yield f"{table.side.capitalize()} dates of {say_temperature(curve.threshold_c, unit)} over the years"
    chance = f"p {trend.p:.3f}" if trend.p >= 0.001 else "p under 0.001"
    pace = say_pace(trend.days_per_decade)
    if trend.low is not None and trend.high is not None:
        pace += f" (95 %: {trend.low:+z.1f} to {trend.high:+z.1f})"
    yield (f"  {trend.first_year}-{trend.last_year}: {pace}; Mann-Kendall {chance}, {trend.seasons} known")
    yield from wrapped(f"Curves: {table.choice.reason}", "  ", "  ", NARROW)
    yield ""


def _bars(curve: FrostCurve, unit: TemperatureUnit) -> Iterator[Part]:
    """Draw the curve as one bar every few days, over the days on which the risk changes."""
    moving = [day for day in range(SLOTS) if 0.01 <= curve.risk[day] <= 0.99]
    side = "after" if curve.side == "spring" else "before"
    yield bold(f"Chance of {say_temperature(curve.threshold_c, unit)} or less {side} each date")
    if not moving:
        yield f"  {say_share(float(curve.risk.max()))} on every date"
        return
    step = max(math.ceil((moving[-1] - moving[0]) / (CHART_ROWS - 1)), 1)
    for beyond in range(moving[0], moving[-1] + step, step):
        day = min(beyond, SLOTS - 1)
        risk, date = float(curve.risk[day]), say_month_day(month_day_text(day, curve.start))
        yield f"  {date:>6} {'█' * round(risk * BAR):<{BAR}} {say_share(risk)}"


def record_answer(minima: DailyMinima, summary: RecordSummary, suspects: Suspects) -> Plain:
    """Return the summary of a record."""
    gap = summary.longest_gap
    answer = {
        **named(minima.station, "station=id", "name", "latitude", "longitude", "elevation_m"),
        **named(summary, "first", "last"),
        "years": summary.last.year - summary.first.year + 1,
        **named(summary, "known", "missing", "flagged"),
        "suspect": rows_of(
            date=suspects.dates,
            tmin_c=suspects.tmin_c,
            usual_c=suspects.climatology_c,
            around_c=suspects.around_c,
        ),
        "longest_gap": gap and {"from": gap[0], "to": gap[1], "days": summary.gap_days},
        "completeness": rows_of(year=summary.years, share=summary.completeness),
        "suspects_kept": minima.suspect.size < suspects.dates.size,
        "notes": minima.notes,
    }
    return dict(plain(answer, SUMMED_UP))


def record_parts(
    summary: RecordSummary, minima: DailyMinima, suspects: Suspects, unit: TemperatureUnit
) -> Iterator[Part]:
    """Write what a record holds and lacks."""
    yield bold(minima.station)
    yield from ("", *columns(_facts(minima, summary, suspects)), "")
    if suspects.dates.size:
        heads = ("minimum", "usual then", "days around")
        columns_c = (suspects.tmin_c, suspects.climatology_c, suspects.around_c)
        told = {
            head: ["-" if math.isnan(one_c) else say_temperature(one_c, unit) for one_c in column_c.tolist()]
            for head, column_c in zip(heads, columns_c, strict=True)
        }
        yield grid(rows_of(day=map(str, suspects.dates), **told), title="Suspect minima")
        yield ""
    seasons = zip(summary.years, summary.completeness, strict=True)
    partial = [f"{year} {share:.1%}" for year, share in seasons if share < ALMOST_FULL]
    whole = f"{summary.years.size - len(partial)} of {summary.years.size}"
    yield f"Seasons, named by their spring: {whole} at least {say_share(ALMOST_FULL)} complete."
    if partial:
        yield f"Others: {', '.join(partial)}"
    yield from (f"- {note}" for note in minima.notes)


def _facts(minima: DailyMinima, summary: RecordSummary, suspects: Suspects) -> Iterator[tuple[str, str]]:
    yield "from, to", f"{summary.first} to {summary.last}"
    yield "observed in", "whole °F" if minima.step_c == WHOLE_F_STEP_C else "tenths of °C"
    yield "days known", f"{summary.known}"
    share = say_share(summary.missing / (summary.known + summary.missing))
    yield "days missing", f"{summary.missing} ({share})"
    yield "flagged, dropped", f"{summary.flagged}"
    left = ", used all the same" if summary.suspect < suspects.dates.size else ", left out"
    yield "suspect", f"{suspects.dates.size}{left if suspects.dates.size else ''}"
    if summary.longest_gap is not None:
        first, last = summary.longest_gap
        yield "longest gap", f"{summary.gap_days} days, {first} to {last}"
