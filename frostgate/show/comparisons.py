"""Places side by side, as tables, CSV and JSON."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from frostgate.climate.normals import DateSpread, PlaceClimate, spread_of_dates
from frostgate.climate.zones import Zone
from frostgate.errors import FrostgateError
from frostgate.files import csv_text
from frostgate.gate.verdict import Morning
from frostgate.seasons import NORTH, say_day
from frostgate.show.answers import DIGITS, SEASONS, Plain, named, plain
from frostgate.show.say import NARROW, Part, bullets, columns, grid, or_dash, say_month_day, wrapped
from frostgate.units import TemperatureUnit, celsius, fahrenheit, say_share, say_temperature

FEWEST_DATES = 10  # of a trend that is worth a place on the screen
AS_GIVEN = ("risk", "season_median_days", "season_at_risk_days", "last_spread_days", "days")
COLDEST = tuple(f"coldest_night{of}_c" for of in ("", "_error", "_low", "_high"))
READING = {
    "last": "after this date so many springs still have a frost",
    "first": "before this date so many autumns have had one",
    "days": "between the two; so many years reach this length",
    "today": "the verdict; without a forecast only the date of your limit",
    "zone": "by the station's mean coldest night (±: 90 %); in brackets what it may be too",
    "10-90 %": "days from an early last frost to a late one; eight springs in ten lie between",
    "trend": "of the last frosts, + later; n springs of those years are known",
    "frost": "springs with a frost",
}
COMPARED = DIGITS | dict.fromkeys(AS_GIVEN) | dict.fromkeys(COLDEST, 3)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Place:
    """One of the places that are compared."""

    name: str  # unlike that of any other
    record: Path | None = None
    climate: PlaceClimate | None = None  # None where ``problem`` says why not
    problem: FrostgateError | None = None
    morning: Morning | None = None  # None where no forecast is named, or ``doubt`` says why not
    doubt: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Comparison:
    """Places side by side, and what is common to them."""

    places: tuple[Place, ...]
    risk: float | None = 0.1  # the limit at which dates are shown; None where the places' own differ
    zones: tuple[Zone, ...] = ()  # only records of these are among the places; empty for all
    elsewhere: tuple[tuple[str, int], ...] = ()  # how many other records lie in which zone
    notes: tuple[str, ...] = ()

    @property
    def compared(self) -> tuple[tuple[Place, PlaceClimate], ...]:
        """The places of which there are figures, each with them."""
        return tuple((place, place.climate) for place in self.places if place.climate is not None)

    @property
    def thresholds_differ(self) -> bool:
        """Whether a frost is not the same minimum at each of them."""
        return len({round(climate.last.threshold_c, 3) for _, climate in self.compared}) > 1

    @property
    def spreads(self) -> tuple[DateSpread, ...]:
        """How far their median last frosts lie apart."""
        return spread_of_dates((place.name, climate) for place, climate in self.compared)

    @property
    def zone_text(self) -> str:
        """The zones that were asked for, as growers write them: both halves as one."""
        names = [zone.name for zone in self.zones]
        return names[0] if len(names) == 1 else names[0][:-1] if names else ""


def comparison_answer(comparison: Comparison) -> Plain:
    """Return the comparison under the names of the JSON answer."""
    zone = {
        "zone": comparison.zone_text,
        "records": len(comparison.compared),
        "elsewhere": dict(comparison.elsewhere),
    }
    answer = {
        "places": [
            place_facts(place) | {"notes": place.climate.notes if place.climate else ()}
            for place in comparison.places
        ],
        "zone": zone if comparison.zones else None,
        "last_medians": [
            {
                "hemisphere": _hemisphere(spread),
                "places": spread.places,
                "earliest": named(spread.earliest, "name=0", "date=1"),
                "latest": named(spread.latest, "name=0", "date=1"),
                "days": spread.days,
            }
            for spread in comparison.spreads
        ],
        "notes": comparison.notes,
    }
    return dict(plain(answer, COMPARED))


def place_rows(comparison: Comparison) -> str:
    """Write the places as rows of comma-separated values, the first naming the columns."""
    columns = place_facts(Place(name=""))
    return csv_text([columns, *(place_facts(place).values() for place in comparison.places)])


def place_facts(place: Place) -> Plain:
    """Return a place's figures as plain values, None for what is not known; dates are MM-DD."""
    ends = ("coldest_night_low_c=coldest.low_c", "coldest_night_high_c=coldest.high_c")
    facts = {
        **named(place, "name", "record"),
        **named(
            place.climate,
            *("station=station.id", "station_name=station.name", "last.threshold_c", "risk"),
            *("last_median", "last_at_risk", "first_median", "first_at_risk"),
            *("season_median_days=median_length_days", "season_at_risk_days=length_at_risk_days"),
            *("last_spread_days=spread_days", "trend_days_per_decade=trend.days_per_decade"),
            *("trend_low=trend.low", "trend_high=trend.high"),
            *("last.frost_share", *(f"last.{name}" for name in SEASONS)),
            *("zone=coldest.zone.name", "zone_coldest=coldest.zones.0.name"),
            *("zone_warmest=coldest.zones.-1.name", "coldest_night_c=coldest.mean_c"),
            *("coldest_night_error_c=coldest.error_c", *ends, "winters=coldest.years.size"),
            *("winters_from=coldest.years.0", "winters_to=coldest.years.-1", "no_zone=unzoned"),
        ),
        **named(place, "verdict=morning.verdict.state", "morning.verdict.on"),
        **named(place, "morning.verdict.earliest_date", "no_verdict=doubt"),
        "problem": None if place.problem is None else str(place.problem),
    }
    return dict(plain(facts, COMPARED))


def _hemisphere(spread: DateSpread) -> str:
    return "north" if spread.start == NORTH else "south"


def comparison_parts(comparison: Comparison, unit: TemperatureUnit) -> Iterator[Part]:
    """Write the places side by side: the dates, what lies behind them, and what could not be compared."""
    blocks: list[Iterable[Part]] = [_zone_lines(comparison, unit)] if comparison.zones else []
    if comparison.compared:
        dates, records = [], []
        for place, climate in comparison.compared:
            dates.append({"": place.name, **dict(_date_cells(comparison, place, climate, unit))})
            records.append({"": place.name, **dict(_record_cells(climate, unit))})
        tables = [grid(rows, gap=1, left=("", "today", "zone"), folds="") for rows in (dates, records)]
        blocks += [tables[:1], tables[1:], _reading(comparison, unit)]
    blocks += [
        wrapped(_say_spread(comparison, spread), width=NARROW)
        for spread in comparison.spreads
        if spread.places > 1
    ]
    told = {"Take note": [*_remarks(comparison)], "Not compared": [*_failures(comparison)]}
    blocks += [[title, *bullets(sentences)] for title, sentences in told.items() if sentences]
    for number, block in enumerate(blocks):
        yield from ["", *block] if number else block


def _failures(comparison: Comparison) -> Iterator[str]:
    """Tell why places could not be compared; a fault that names its own file need not be told whose it is."""
    for place in comparison.places:
        if place.problem is not None:
            told = place.record is not None and place.problem.file == str(place.record)
            yield str(place.problem) if told else f"{place.name}: {place.problem}"


def _zone_lines(comparison: Comparison, unit: TemperatureUnit) -> Iterator[str]:
    low, high = comparison.zones[0], comparison.zones[-1]
    span = " to ".join(say_temperature(celsius(bound_f), unit) for bound_f in (low.low_f, high.high_f))
    others = sum(count for _, count in comparison.elsewhere)
    inside = len(comparison.compared)
    yield f"Zone {comparison.zone_text} (mean coldest night {span}): {inside} of {inside + others} records"
    if others:
        yield "Elsewhere: " + ", ".join(f"{count} in {name}" for name, count in comparison.elsewhere)


def _date_cells(
    comparison: Comparison, place: Place, climate: PlaceClimate, unit: TemperatureUnit
) -> Iterator[tuple[str, str]]:
    """Write a place's dates and what the gate says today, each cell behind the head of its column."""
    limit, reached = "limit", "limit"
    if comparison.risk is not None:
        limit, reached = say_share(comparison.risk), say_share(1.0 - comparison.risk)
    if comparison.thresholds_differ:
        yield "frost\n≤", say_temperature(climate.last.threshold_c, unit)
    yield "last\n50 %", say_month_day(climate.last_median)
    yield f"last\n{limit}", say_month_day(climate.last_at_risk)
    yield "first\n50 %", say_month_day(climate.first_median)
    yield f"first\n{limit}", say_month_day(climate.first_at_risk)
    yield "days\n50 %", or_dash(climate.median_length_days, ".0f")
    yield f"days\n{reached}", or_dash(climate.length_at_risk_days, ".0f")
    yield "today", _say_verdict(place, climate)


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


def _record_cells(climate: PlaceClimate, unit: TemperatureUnit) -> Iterator[tuple[str, str]]:
    """Write what a place's dates rest on, each cell behind the head of its column."""
    coldest, last, trend = climate.coldest, climate.last, climate.trend
    zone = reach = "-"
    if coldest is not None:
        others = ", ".join(one.name for one in coldest.zones if one != coldest.zone)
        zone = f"{coldest.zone.name} ({others})" if others else coldest.zone.name
        mean, half = coldest.mean_c, (coldest.high_c - coldest.low_c) / 2  # of its interval
        reach = f"{fahrenheit(mean):z.1f} ±{1.8 * half:.1f}" if unit == "F" else f"{mean:z.1f} ±{half:.1f}"
    moves = "-"
    if trend.dates >= FEWEST_DATES and trend.low is not None and trend.high is not None:
        low, high = (f"{pace:+z.{0 if abs(pace) >= 10 else 1}f}" for pace in (trend.low, trend.high))
        moves = f"{trend.days_per_decade:+z.1f} ({low}, {high})"
    yield "zone", zone
    yield f"coldest\n°{unit}", reach
    yield "10-90\n%", or_dash(climate.spread_days, ".0f")
    yield "trend, days a\ndecade (95 %)", moves
    yield "frost", f"{last.frost_share:.0%}"
    yield "n", f"{last.seasons_used}"
    yield "springs", f"{last.first_year}-{last.last_year}"


def _reading(comparison: Comparison, unit: TemperatureUnit) -> Iterator[str]:
    """Tell how to read the tables."""
    frost = "the minimum told for each place,"
    if not comparison.thresholds_differ:
        frost = say_temperature(comparison.compared[0][1].last.threshold_c, unit)
    yield f"A frost is {frost} or less at the station."
    yield from columns(READING.items())


def _say_spread(comparison: Comparison, spread: DateSpread) -> str:
    """Tell how far the median last frosts lie apart, and, of a zone, what it does not tell."""
    (first, first_date), (last, last_date) = spread.earliest, spread.latest
    zone = comparison.zone_text
    told = "A zone tells how cold the coldest night is, not when the last frost comes. " if zone else ""
    what = f"records of zone {zone}" if zone else "places"
    side = f" in the {_hemisphere(spread)}" if len(comparison.spreads) > 1 else ""
    return (
        f"{told}Among {spread.places} {what}{side} the median last frost falls between "
        f"{say_month_day(first_date)} ({first}) and {say_month_day(last_date)} ({last}), "
        f"{spread.days} days apart."
    )


def _remarks(comparison: Comparison) -> Iterator[str]:
    yield from comparison.notes
    for place, climate in comparison.compared:
        yield from (f"{place.name}: {note}" for note in climate.notes)
        if climate.unzoned:
            yield f"{place.name}: no zone; {climate.unzoned}"
        if place.doubt:
            yield f"{place.name}: no verdict; {place.doubt}"
