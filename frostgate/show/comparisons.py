"""Places side by side, as two tables that fit a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from frostgate.climate.comparison import DateSpread, PlaceClimate
from frostgate.climate.zones import MeanExtreme
from frostgate.gate.reasons import say_day
from frostgate.show.comparison_answers import Comparison, Place, hemisphere_of
from frostgate.show.morning import bullets
from frostgate.show.tables import NARROW, console_of_its_width, say_month_day
from frostgate.units import TemperatureUnit, fahrenheit, say_share, say_temperature

NAME_WIDTH = 22  # of a place's name on the screen, before it is broken
FEWEST_DATES = 10  # of a trend that is worth a place on the screen


def write_comparison(comparison: Comparison, unit: TemperatureUnit, console: Console | None = None) -> None:
    """Write the places side by side: the dates, what lies behind them, and what could not be compared.

    Examples
    --------
    >>> from frostgate.errors import FrostgateError
    >>> far = Place(name="Far field", problem=FrostgateError("no record is named"))
    >>> write_comparison(Comparison(places=(far,)), "C")
    Not compared
      - Far field: no record is named.
    """
    screen = console or console_of_its_width()
    for number, part in enumerate(_parts(comparison, unit)):
        if number:
            screen.print()
        screen.print(part)


def _parts(comparison: Comparison, unit: TemperatureUnit) -> Iterator[Table | Text]:
    """Give the parts of the screen, to be parted by empty lines."""
    if comparison.zones:
        yield _text(_zone_lines(comparison, unit))
    if comparison.compared:
        yield _date_table(comparison, unit)
        yield _record_table(comparison, unit)
        yield _text(_reading(comparison, unit))
    for spread in comparison.spreads:
        if spread.places > 1:
            yield _text(textwrap.wrap(_say_spread(comparison, spread), NARROW))
    for title, sentences in (
        ("Take note", [*_remarks(comparison)]),
        ("Not compared", [*_failures(comparison)]),
    ):
        if sentences:
            yield _text([title, *bullets(sentences)])


def _failures(comparison: Comparison) -> Iterator[str]:
    """Tell why places could not be compared; a fault that names its own file need not be told whose it is."""
    for place in comparison.places:
        if place.problem is not None:
            told = place.record is not None and place.problem.file == str(place.record)
            yield str(place.problem) if told else f"{place.name}: {place.problem}"


def _text(lines: Iterable[str]) -> Text:
    return Text("\n".join(lines))


def _zone_lines(comparison: Comparison, unit: TemperatureUnit) -> Iterator[str]:
    low, high = comparison.zones[0], comparison.zones[-1]
    span = f"{say_temperature(low.low_c, unit)} to {say_temperature(high.high_c, unit)}"
    others = sum(count for _, count in comparison.elsewhere)
    inside = len(comparison.compared)
    yield f"Zone {comparison.zone_text} (mean coldest night {span}): {inside} of {inside + others} records"
    if others:
        yield "Elsewhere: " + ", ".join(f"{count} in {name}" for name, count in comparison.elsewhere)


def _date_table(comparison: Comparison, unit: TemperatureUnit) -> Table:
    limit = "limit" if comparison.risk is None else say_share(comparison.risk)
    reached = "limit" if comparison.risk is None else say_share(1.0 - comparison.risk)
    heads = (
        "last\n50 %",
        f"last\n{limit}",
        "first\n50 %",
        f"first\n{limit}",
        "days\n50 %",
        f"days\n{reached}",
    )
    differ = _thresholds_differ(comparison)
    rows = [
        (
            *([say_temperature(climate.last.threshold_c, unit)] if differ else []),
            *(say_month_day(date) for date in _dates_of(climate)),
            *(_whole(days) for days in (climate.median_length_days, climate.length_at_risk_days)),
            _say_verdict(place, climate),
        )
        for place, climate in comparison.compared
    ]
    return _table(comparison, (*(["frost\n≤"] if differ else []), *heads, "today"), rows)


def _dates_of(climate: PlaceClimate) -> tuple[str | None, ...]:
    return climate.last_median, climate.last_at_risk, climate.first_median, climate.first_at_risk


def _say_verdict(place: Place, climate: PlaceClimate) -> str:
    """Say what the gate says today, or the calendar's date where no forecast is looked at."""
    if place.morning is None:
        date = climate.last_at_risk
        mild = climate.last.frost_share <= climate.risk
        return "any date" if mild else "no date" if date is None else f"by date {say_month_day(date)}"
    verdict = place.morning.verdict
    if verdict.state != "shut":
        return verdict.state.upper()
    return "SHUT" if verdict.earliest_date is None else f"SHUT to {say_day(verdict.earliest_date)}"


def _record_table(comparison: Comparison, unit: TemperatureUnit) -> Table:
    heads = ("zone", f"coldest\n°{unit}", "10-90\n%", "trend, days a\ndecade (95 %)", "frost", "n", "springs")
    rows = [
        (
            _say_zone(climate.coldest),
            _say_coldest(climate.coldest, unit),
            _whole(climate.spread_days),
            _say_trend(climate),
            f"{climate.last.frost_share:.0%}",
            str(climate.last.seasons_used),
            f"{climate.last.first_year}-{climate.last.last_year}",
        )
        for _, climate in comparison.compared
    ]
    return _table(comparison, heads, rows)


def _say_zone(coldest: MeanExtreme | None) -> str:
    if coldest is None:
        return "-"
    others = [zone.name for zone in coldest.zones if zone != coldest.zone]
    return coldest.zone.name + (f" ({', '.join(others)})" if others else "")


def _say_coldest(coldest: MeanExtreme | None, unit: TemperatureUnit) -> str:
    """Write the mean coldest night and half of its interval."""
    if coldest is None:
        return "-"
    reach_c = (coldest.high_c - coldest.low_c) / 2
    mean, reach = (fahrenheit(coldest.mean_c), 1.8 * reach_c) if unit == "F" else (coldest.mean_c, reach_c)
    return f"{mean:z.1f} ±{reach:.1f}"


def _say_trend(climate: PlaceClimate) -> str:
    trend = climate.trend
    few = trend.dates < FEWEST_DATES
    if few or trend.days_per_decade is None or trend.low is None or trend.high is None:
        return "-"
    low, high = (f"{pace:+z.{0 if abs(pace) >= 10 else 1}f}" for pace in (trend.low, trend.high))
    return f"{trend.days_per_decade:+z.1f} ({low}, {high})"


def _whole(days: float | None) -> str:
    return "-" if days is None else f"{days:.0f}"


def _table(comparison: Comparison, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> Table:
    """Lay out a table with the names at the left."""
    shown = Table(box=None, padding=(0, 1, 0, 0))
    shown.add_column("", overflow="fold", max_width=NAME_WIDTH)
    for head in heads:
        shown.add_column(head, justify="left" if head in _LEFT else "right", no_wrap=True)
    for (place, _), cells in zip(comparison.compared, rows, strict=True):
        shown.add_row(Text(place.name), *cells)
    return shown


_LEFT = ("today", "zone")


def _thresholds_differ(comparison: Comparison) -> bool:
    return len({round(climate.last.threshold_c, 3) for _, climate in comparison.compared}) > 1


def _reading(comparison: Comparison, unit: TemperatureUnit) -> Iterator[str]:
    """Tell how to read the tables."""
    frost = "the minimum told for each place,"
    if not _thresholds_differ(comparison):
        frost = say_temperature(comparison.compared[0][1].last.threshold_c, unit)
    yield f"A frost is {frost} or less at the station."
    yield "last     after this date so many springs still have a frost"
    yield "first    before this date so many autumns have had one"
    yield "days     between the two; so many years reach this length"
    yield "today    the verdict; without a forecast only the date of your limit"
    yield "zone     by the station's mean coldest night (±: 90 %); in brackets what it may be too"
    yield "10-90 %  days from an early last frost to a late one; eight springs in ten lie between"
    yield "trend    of the last frosts, + later; n springs of those years are known"
    yield "frost    springs with a frost"


def _say_spread(comparison: Comparison, spread: DateSpread) -> str:
    """Tell how far the median last frosts lie apart, and, of a zone, what it does not tell."""
    (first, first_date), (last, last_date) = spread.earliest, spread.latest
    apart = (
        f"the last frost of a middling spring falls between {say_month_day(first_date)} ({first}) and "
        f"{say_month_day(last_date)} ({last}), {spread.days} days apart."
    )
    side = f" in the {hemisphere_of(spread)}" if len(comparison.spreads) > 1 else ""
    if not comparison.zones:
        return f"Among {spread.places} places{side} {apart}"
    among = f"Among {spread.places} records of zone {comparison.zone_text}{side}"
    return f"A zone tells how cold the coldest night is, not when the last frost comes. {among} {apart}"


def _remarks(comparison: Comparison) -> Iterator[str]:
    yield from comparison.notes
    for place, climate in comparison.compared:
        yield from (f"{place.name}: {note}" for note in climate.notes)
        if climate.unzoned:
            yield f"{place.name}: no zone; {climate.unzoned}"
        if place.doubt:
            yield f"{place.name}: no verdict; {place.doubt}"
