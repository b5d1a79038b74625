"""Curves and records on the terminal: tables, and a chart of bars that any terminal can show."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from frostgate.climate.normals import LEVELS, LengthLevel, SideTable
from frostgate.climate.quality import RecordSummary, Suspects
from frostgate.climate.years import say_pace
from frostgate.model.curves import FrostCurve
from frostgate.model.records import DailyMinima
from frostgate.seasons import SLOTS, month_day_text
from frostgate.show.say import or_dash, say_month_day, wrapped
from frostgate.units import WHOLE_F_STEP_C, TemperatureUnit, say_share, say_temperature

BAR = 40
DATE_WIDTH = 7
WIDE = 102  # columns that the whole table of levels needs
CHART_ROWS = 16
NARROW = 78  # columns of running text
TITLES = {
    "spring": "Last spring frost: the date after which one still comes",
    "autumn": "First autumn frost: the date before which one has come",
}
ALMOST_FULL = 0.98  # completeness of a season below this is shown
Part = str | Text | Table  # of a screen: lines and tables below each other


def console_of_its_width() -> Console:
    """Make a console as wide as the terminal, or wide enough for every column where there is none."""
    screen = Console(highlight=False, soft_wrap=True)
    return screen if screen.is_terminal else Console(highlight=False, soft_wrap=True, width=WIDE)


def write_parts(parts: Iterable[Part], screen: Console | None = None) -> None:
    """Write lines and tables below each other, whatever letters stand in them."""
    screen = screen or console_of_its_width()
    for part in parts:
        screen.print(Text(part) if isinstance(part, str) else part)


def grid(
    heads: Iterable[str],
    rows: Iterable[Iterable[str]],
    *,
    title: str | None = None,
    gap: int = 2,
    left: Sequence[str] = (),
) -> Table:
    """Lay cells out below their heads without lines, numbers to the right."""
    shown = Table(title=title, title_justify="left", title_style="", box=None, padding=(0, gap, 0, 0))
    for head in heads:
        shown.add_column(Text(head), justify="left" if head in left else "right", no_wrap=True)
    for row in rows:
        shown.add_row(*map(Text, row))
    return shown


def bold(title: object) -> Text:
    """Write a title in bold letters, such as a station's name and id."""
    return Text(str(title), style="bold")


def curve_parts(
    minima: DailyMinima,
    tables: tuple[SideTable, ...],
    lengths: tuple[LengthLevel, ...],
    unit: TemperatureUnit,
    width: int,
) -> Iterator[Part]:
    """Write the levels of both seasons, the season's length, and a chart of the main curve."""
    yield from (bold(minima.station), "")
    for table in tables:
        yield _level_table(table, unit, is_narrow=width < WIDE)
        yield from (f"{say_temperature(at_c, unit)}: {reason}" for at_c, reason in table.refused)
        yield ""
    if any(curve.seasons_unknown for table in tables for curve in table.curves):
        yield "seasons: known + unknown?, unknown for missing days that may hide a frost"
        yield ""
    if lengths:
        yield from (_length_table(lengths, unit), "")
    for table in tables:
        yield from _over_the_years(table, unit)
    yield from _bars(tables[0].curves[tables[0].main], unit)
    yield from (f"- {note}" for note in minima.notes)


def record_parts(
    summary: RecordSummary, minima: DailyMinima, suspects: Suspects, unit: TemperatureUnit
) -> Iterator[Part]:
    """Write what a record holds and lacks."""
    facts = grid(("fact", "value"), _facts(minima, summary, suspects), left=("fact", "value"))
    facts.show_header = False
    yield from (bold(minima.station), "", facts, "")
    if suspects.dates.size:
        heads = ("day", "minimum", "usual then", "days around")
        yield from (grid(heads, _suspect_rows(suspects, unit), title="Suspect minima"), "")
    yield from _incomplete(summary)
    yield from (f"- {note}" for note in minima.notes)


def _level_table(table: SideTable, unit: TemperatureUnit, *, is_narrow: bool) -> Table:
    last = () if is_narrow else ("seasons", "frost", "curve")
    rows = []
    for curve in table.curves:
        dates = [say_month_day(curve.date_at(risk)) for risk in LEVELS]
        seasons = f"{curve.seasons_used}" + (f"+{curve.seasons_unknown}?" if curve.seasons_unknown else "")
        facts = (seasons, f"{curve.frost_share:.0%}", curve.kind)
        rows.append((say_temperature(curve.threshold_c, unit), *dates, *facts[: len(last)]))
    return _by_level(TITLES[table.side], rows, last)


def _length_table(lengths: tuple[LengthLevel, ...], unit: TemperatureUnit) -> Table:
    rows = []
    for threshold_c in dict.fromkeys(level.threshold_c for level in lengths):
        days = [or_dash(level.days, ".0f") for level in lengths if level.threshold_c == threshold_c]
        rows.append((say_temperature(threshold_c, unit), *days))
    return _by_level("Days between the two: the length that so many years reach", rows)


def _by_level(title: str, rows: Sequence[Sequence[str]], last: Sequence[str] = ()) -> Table:
    shown = grid(("≤", *(f"{level:.0%}" for level in LEVELS), *last), rows, title=title, gap=1)
    for column in shown.columns[1 : len(LEVELS) + 1]:
        column.min_width = DATE_WIDTH
    return shown


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


def _over_the_years(table: SideTable, unit: TemperatureUnit) -> Iterator[str]:
    """Say how the dates move, and which years the curves rest on."""
    trend, curve = table.trends[table.main], table.curves[table.main]
    yield f"{table.side.capitalize()} dates of {say_temperature(curve.threshold_c, unit)} over the years"
    chance = f"p {trend.p:.3f}" if trend.p >= 0.001 else "p under 0.001"
    years = f"{trend.first_year}-{trend.last_year}"
    pace = say_pace(trend.days_per_decade)
    if trend.low is not None and trend.high is not None:
        pace += f" (95 %: {trend.low:+z.1f} to {trend.high:+z.1f})"
    yield f"  {years}: {pace}; Mann-Kendall {chance}, {trend.seasons} known"
    yield from wrapped(f"Curves: {table.choice.reason}", "  ", "  ", NARROW)
    yield ""


def _facts(minima: DailyMinima, summary: RecordSummary, suspects: Suspects) -> Iterator[tuple[str, str]]:
    yield "from, to", f"{summary.first} to {summary.last}"
    yield "observed in", "whole °F" if minima.step_c == WHOLE_F_STEP_C else "tenths of °C"
    yield "days known", f"{summary.known}"
    share = say_share(summary.missing / (summary.known + summary.missing))
    yield "days missing", f"{summary.missing} ({share})"
    yield "flagged, dropped", f"{summary.flagged}"
    left = "used all the same" if summary.suspect < suspects.dates.size else "left out"
    yield "suspect", f"{suspects.dates.size}" + (f", {left}" if suspects.dates.size else "")
    if summary.longest_gap is not None:
        first, last = summary.longest_gap
        yield "longest gap", f"{summary.gap_days} days, {first} to {last}"


def _suspect_rows(suspects: Suspects, unit: TemperatureUnit) -> Iterator[list[str]]:
    columns = (suspects.dates, suspects.tmin_c, suspects.climatology_c, suspects.around_c)
    for date, *degrees in zip(*columns, strict=True):
        cells = ["-" if math.isnan(temp_c) else say_temperature(float(temp_c), unit) for temp_c in degrees]
        yield [str(date), *cells]


def _incomplete(summary: RecordSummary) -> Iterator[str]:
    seasons = zip(summary.years, summary.completeness, strict=True)
    partial = [f"{year} {share:.1%}" for year, share in seasons if share < ALMOST_FULL]
    whole = summary.years.size - len(partial)
    full = say_share(ALMOST_FULL)
    yield f"Seasons, named by their spring: {whole} of {summary.years.size} at least {full} complete."
    if partial:
        yield "Others: " + ", ".join(partial)
