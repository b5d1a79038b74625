"""Curves and records on the terminal: tables, and a chart of bars that any terminal can show."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator

from rich.console import Console
from rich.table import Table
from rich.text import Text

from frostgate.climate.curves import LEVELS, LengthLevel, SideTable
from frostgate.climate.quality import RecordSummary, Suspects
from frostgate.climate.years import say_pace
from frostgate.model.records import DailyMinima, FrostCurve, Trend
from frostgate.seasons import SLOTS, month_and_day
from frostgate.show.say import say_month_day
from frostgate.units import WHOLE_F_STEP_C, TemperatureUnit, say_share, say_temperature

BAR = 40
DATE_WIDTH = 7
WIDE = 102  # columns that the whole table of levels needs
CHART_ROWS = 16
NARROW = 78  # columns of running text
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
TITLES = {
    "spring": "Last spring frost: the date after which one still comes",
    "autumn": "First autumn frost: the date before which one has come",
}
ALMOST_FULL = 0.98  # completeness of a season below this is shown


def write_curves(
    minima: DailyMinima,
    tables: tuple[SideTable, ...],
    lengths: tuple[LengthLevel, ...],
    unit: TemperatureUnit,
    console: Console | None = None,
) -> None:
    """Write the levels of both seasons, the season's length, and a chart of the main curve."""
    screen = console or console_of_its_width()
    screen.print(Text(_title(minima), style="bold"))
    screen.print()
    for table in tables:
        screen.print(_level_table(table, unit, narrow=screen.width < WIDE))
        for threshold_c, reason in table.refused:
            screen.print(Text(f"{say_temperature(threshold_c, unit)}: {reason}"))
        screen.print()
    if any(curve.seasons_unknown for table in tables for curve in table.curves):
        screen.print(Text("seasons: known + unknown?, unknown for missing days that may hide a frost"))
        screen.print()
    if lengths:
        screen.print(_length_table(lengths, unit))
        screen.print()
    for table in tables:
        for sentence in _over_the_years(table, unit):
            screen.print(Text(sentence))
    for table in tables[:1]:
        for line in _bars(table.curves[_main(table)], unit):
            screen.print(line)
    for note in minima.notes:
        screen.print(Text(f"- {note}"))


def write_record(
    summary: RecordSummary,
    minima: DailyMinima,
    suspects: Suspects,
    unit: TemperatureUnit,
    console: Console | None = None,
) -> None:
    """Write what a record holds and lacks."""
    screen = console or console_of_its_width()
    screen.print(Text(_title(minima), style="bold"))
    screen.print()
    facts = Table(show_header=False, box=None, padding=(0, 2, 0, 0))
    for name, value in _facts(minima, summary, suspects):
        facts.add_row(name, value)
    screen.print(facts)
    if suspects.dates.size:
        screen.print()
        screen.print(_suspect_table(suspects, unit))
    screen.print()
    for line in _incomplete(summary):
        screen.print(Text(line))
    for note in minima.notes:
        screen.print(Text(f"- {note}"))


def console_of_its_width() -> Console:
    """Make a console as wide as the terminal, or wide enough for every column where there is none."""
    screen = Console(highlight=False, soft_wrap=True)
    return screen if screen.is_terminal else Console(highlight=False, soft_wrap=True, width=WIDE)


def _title(minima: DailyMinima) -> str:
    station = minima.station
    return f"{station.name} ({station.id})" if station.name else station.id


def _level_table(table: SideTable, unit: TemperatureUnit, *, narrow: bool) -> Table:
    shown = Table(
        title=TITLES[table.side], title_justify="left", title_style="", box=None, padding=(0, 1, 0, 0)
    )
    last = () if narrow else ("seasons", "frost", "curve")
    _add_columns(shown, DATE_WIDTH, last)
    for curve in table.curves:
        dates = [say_month_day(curve.date_at(risk)) for risk in LEVELS]
        seasons = f"{curve.seasons_used}" + (f"+{curve.seasons_unknown}?" if curve.seasons_unknown else "")
        threshold = say_temperature(curve.threshold_c, unit)
        facts = (seasons, f"{curve.frost_share:.0%}", curve.kind)
        shown.add_row(threshold, *dates, *facts[: len(last)])
    return shown


def _add_columns(shown: Table, width: int, last: tuple[str, ...] = ()) -> None:
    shown.add_column("≤", justify="right", no_wrap=True)
    for level in LEVELS:
        shown.add_column(f"{level:.0%}", justify="right", no_wrap=True, min_width=width)
    for name in last:
        shown.add_column(name, justify="right", no_wrap=True)


def _length_table(lengths: tuple[LengthLevel, ...], unit: TemperatureUnit) -> Table:
    title = "Days between the two: the length that so many years reach"
    shown = Table(title=title, title_justify="left", title_style="", box=None, padding=(0, 1, 0, 0))
    _add_columns(shown, DATE_WIDTH)
    for threshold_c in dict.fromkeys(level.threshold_c for level in lengths):
        days = [level.days for level in lengths if level.threshold_c == threshold_c]
        cells = ["-" if count is None else f"{count:.0f}" for count in days]
        shown.add_row(say_temperature(threshold_c, unit), *cells)
    return shown


def _bars(curve: FrostCurve, unit: TemperatureUnit) -> Iterator[Text]:
    """Draw the curve as one bar every few days, over the days on which the risk changes."""
    moving = [day for day in range(SLOTS) if 0.01 <= curve.risk[day] <= 0.99]
    side = "after" if curve.side == "spring" else "before"
    yield Text(f"Chance of {say_temperature(curve.threshold_c, unit)} or less {side} each date", style="bold")
    if not moving:
        yield Text(f"  {say_share(float(curve.risk.max()))} on every date")
        return
    step = max(math.ceil((moving[-1] - moving[0]) / (CHART_ROWS - 1)), 1)
    for day in range(moving[0], moving[-1] + step, step):
        risk = float(curve.risk[min(day, SLOTS - 1)])
        bar = "█" * round(risk * BAR)
        yield Text(f"  {_slot_day(min(day, SLOTS - 1), curve):>6} {bar:<{BAR}} {say_share(risk)}")


def _main(table: SideTable) -> int:
    """Find the place of the curve at 0 °C, or of the first where there is none."""
    at = [index for index, curve in enumerate(table.curves) if abs(curve.threshold_c) < 0.05]
    return at[0] if at else 0


def _over_the_years(table: SideTable, unit: TemperatureUnit) -> Iterator[str]:
    """Say how the dates move, and which years the curves rest on."""
    trend, curve = table.trends[_main(table)], table.curves[_main(table)]
    yield f"{table.side.capitalize()} dates of {say_temperature(curve.threshold_c, unit)} over the years"
    years = f"{trend.first_year}-{trend.last_year}"
    chance = f"p {trend.p:.3f}" if trend.p >= 0.001 else "p under 0.001"
    yield f"  {years}: {_pace(trend)}; Mann-Kendall {chance}, {trend.seasons} known"
    yield from textwrap.wrap(
        f"Curves: {table.choice.reason}", NARROW, initial_indent="  ", subsequent_indent="  "
    )
    yield ""


def _pace(trend: Trend) -> str:
    pace = say_pace(trend.days_per_decade)
    if trend.low is None or trend.high is None:
        return pace
    return f"{pace} (95 %: {trend.low:+z.1f} to {trend.high:+z.1f})"


def _facts(minima: DailyMinima, summary: RecordSummary, suspects: Suspects) -> Iterator[tuple[str, str]]:
    yield "from, to", f"{summary.first} to {summary.last}"
    yield "observed in", "whole °F" if minima.step_c == WHOLE_F_STEP_C else "tenths of °C"
    yield "days known", f"{summary.known}"
    yield (
        "days missing",
        f"{summary.missing} ({say_share(summary.missing / (summary.known + summary.missing))})",
    )
    yield "flagged, dropped", f"{summary.flagged}"
    left = "used all the same" if summary.suspect < suspects.dates.size else "left out"
    yield "suspect", f"{suspects.dates.size}" + (f", {left}" if suspects.dates.size else "")
    if summary.longest_gap is not None:
        first, last = summary.longest_gap
        yield "longest gap", f"{summary.gap_days} days, {first} to {last}"


def _suspect_table(suspects: Suspects, unit: TemperatureUnit) -> Table:
    shown = Table(
        title="Suspect minima", title_justify="left", title_style="", box=None, padding=(0, 2, 0, 0)
    )
    for name in ("day", "minimum", "usual then", "days around"):
        shown.add_column(name, justify="right")
    columns = (suspects.dates, suspects.tmin_c, suspects.climatology_c, suspects.around_c)
    for date, *degrees in zip(*columns, strict=True):
        cells = ["-" if math.isnan(temp_c) else say_temperature(float(temp_c), unit) for temp_c in degrees]
        shown.add_row(str(date), *cells)
    return shown


def _incomplete(summary: RecordSummary) -> Iterator[str]:
    seasons = zip(summary.years, summary.completeness, strict=True)
    partial = [f"{year} {share:.1%}" for year, share in seasons if share < ALMOST_FULL]
    whole = summary.years.size - len(partial)
    full = say_share(ALMOST_FULL)
    yield f"Seasons, named by their spring: {whole} of {summary.years.size} at least {full} complete."
    if partial:
        yield "Others: " + ", ".join(partial)


def _slot_day(day: int, curve: FrostCurve) -> str:
    month, of_month = month_and_day((day + curve.start.offset) % SLOTS)
    return f"{of_month} {MONTHS[month - 1]}"
