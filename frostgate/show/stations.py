"""Stations near a garden, the records fetched of them, and how far the garden differs from its station."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from frostgate.climate.siting import CombinedStations, GardenOffset, Pairs
from frostgate.errors import FrostgateError
from frostgate.files import csv_text
from frostgate.model.records import DailyMinima, Station
from frostgate.model.stations import NearStation, RecordFetched, StationsFound
from frostgate.show.answers import DIGITS, Plain, named, plain
from frostgate.show.say import Part, bullets, grid, say_side, section, wrapped
from frostgate.units import (
    FOOT_M,
    MILE_KM,
    WHOLE_F_STEP_C,
    TemperatureUnit,
    say_offset,
    say_share,
    say_temperature,
    whole_f,
)

FOUND = {"within_km": 3, "distance_km": 2, "station_less_place_m": 1, "off_days": 1, "share": 4}
MOST_LISTED = 8
CAUTIONS = (
    "Hang the thermometer at the height of the pots, shielded from sun and sky (common practice, no source).",
    "Check it in ice water: it should show 32 °F, 0 °C (common practice, no source).",
    "Read and reset it every morning, and date the minimum by that morning (common practice, no source).",
    "The difference is that from this station: a forecast for another place may differ otherwise.",
    "A cold hollow can be many degrees colder than its surroundings: pairs from clear calm nights tell.",
)
SITED = DIGITS | {
    **dict.fromkeys(("station_threshold_c", "offset_spread_c", "sure_c", "scatter_c"), 3),
    "garden_c": 1,
    "station_c": 1,
    "difference_c": 2,
}


def stations_answer(found: StationsFound) -> Plain:
    """Return the stations under the names that the JSON answer uses."""
    answer: Plain = plain(found, FOUND, None)
    return answer


def stations_parts(found: StationsFound, *, us: bool = False) -> Iterator[Part]:
    """Write the stations as a table, the reasons against some, how they are judged, and what to do next."""
    north = f"{abs(found.latitude):.4f} {'N' if found.latitude >= 0 else 'S'}"
    east = f"{abs(found.longitude):.4f} {'E' if found.longitude >= 0 else 'W'}"
    far = f"{found.within_km / MILE_KM:.0f} mi" if us else f"{found.within_km:.0f} km"
    shown = f"{len(found.stations)} of {found.found} within {far}"
    yield from (f"Stations near {north}, {east}, the likely best first: {shown}", "")
    rows = [
        {
            **_place_cells(one, us=us),
            "minima": f"{one.first_year}-{one.last_year}",
            "days known": "-" if one.share is None else say_share(one.share),
            "springs": "-" if one.springs is None else f"{one.springs}",
            "off by": f"{one.off_days:.1f} d",
        }
        for one in found.stations
        if one.reason is None
    ]
    if rows:
        yield grid(rows, left=("station", "name"), folds="name")
    late = [one for one in found.stations if one.reason is not None]
    told = (f"{', '.join(_place_cells(one, us=us).values())}: {one.reason}" for one in late)
    yield from (*section("Listed last", bullets(told)), "")
    if found.stations:
        yield from (f"Next: frostgate stations get {found.stations[0].id}", "")
    yield from bullets((*found.notes, *found.how))


def _place_cells(one: NearStation, *, us: bool) -> dict[str, str]:
    """Write what a station is and where it lies, each cell behind the head of its column."""
    height_m = one.station_less_place_m
    height = "?" if height_m is None else f"{height_m / FOOT_M:+z.0f} ft" if us else f"{height_m:+z.0f} m"
    away = f"{one.distance_km / MILE_KM:.1f} mi" if us else f"{one.distance_km:.1f} km"
    return {"station": one.id, "name": one.name or "-", "away": away, "height": height}


def records_answer(records: Sequence[RecordFetched], failures: Sequence[FrostgateError] = ()) -> Plain:
    """Return the records, and what became of the others, under the names that the JSON answer uses."""
    return {"records": plain(records, FOUND), "failed": [failure.as_dict() for failure in failures]}


def records_lines(records: Sequence[RecordFetched]) -> Iterator[str]:
    """Write where each record lies, how old it is, what it holds, and what to do next."""
    for one in records:
        springs = "" if one.springs is None else f", {one.springs} springs known"
        yield from (f"{one.station}, {one.age}", f"  {one.file}")
        yield f"  Minima from {one.first} to {one.last}, {say_share(one.share)} of the days known{springs}"
        if one.stale is not None:
            yield from bullets((f"{one.stale[:1].upper()}{one.stale[1:]}.",))
        file = f'"{one.file}"' if " " in one.file else one.file
        yield f"  Next: frostgate curve {file}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Siting:
    """What is known of a garden's difference from its station."""

    station: Station
    damage_temp_c: float  # the garden's minimum at which the difference is wanted
    offset: GardenOffset  # to use
    default: GardenOffset  # what it would be without pairs
    pairs: Pairs | None = None  # the mornings it was learned from; None without a garden's record
    shift_days: int = 0  # by how many days the garden's dates would fit better
    combined: CombinedStations | None = None  # the record made of several stations, where there are several

    @property
    def station_threshold_c(self) -> float:
        """The station's minimum when the garden is at its damage temperature [°C]."""
        return self.damage_temp_c - self.offset.offset_c

    @property
    def left_out(self) -> list[tuple[dt.date, float, float]]:
        """The mornings left out as outliers, each with the garden's minimum and the station's [°C]."""
        if self.pairs is None:
            return []
        columns = (self.pairs.dates, self.pairs.garden_c, self.pairs.station_c)
        rows = zip(*(column.tolist() for column in columns), strict=True)
        return [row for row in rows if row[0] in self.offset.left_out]

    @property
    def notes(self) -> tuple[str, ...]:
        """What the grower should know of the difference, in words."""
        side = "later" if self.shift_days > 0 else "earlier"
        shifted = (
            f"The garden's minima fit the station's much better when dated one day {side}: check on which "
            "day each was written down. A minimum belongs to the morning on which the night ends."
        )
        combined = () if self.combined is None else self.combined.minima.notes
        return (*self.offset.notes, *([shifted] if self.shift_days else ()), *combined)


def minima_table(minima: DailyMinima) -> str:
    """Return minima as a table of station, date and minimum: whole °F where such were observed, else °C."""
    in_f = minima.step_c == WHOLE_F_STEP_C
    degrees = whole_f(minima.tmin_c)[0] if in_f else minima.tmin_c
    form = ".0f" if in_f else ".1f"
    rows = (
        (minima.station.id, date, "" if np.isnan(value) else format(value, form))
        for date, value in zip(minima.dates, degrees, strict=True)
    )
    return csv_text([("station", "date", "tmin_f" if in_f else "tmin_c"), *rows])


def siting_answer(siting: Siting) -> Plain:
    """Return the difference under the names that the JSON answer uses."""
    others = siting.combined and siting.combined.others
    answer = {
        **named(siting, "station=station.id", "station.name", "damage_temp_c", "station_threshold_c"),
        **_facts(siting.offset),
        **named(siting.offset, "default_share", "pairs", "clear_pairs"),
        "left_out": [named(row, "date=0", "garden_c=1", "station_c=2") for row in siting.left_out],
        "default": _facts(siting.default),
        "combined": others
        and [named(one, "station=station.id", "difference_c", "common", "filled") for one in others],
        "notes": siting.notes,
        "cautions": CAUTIONS,
    }
    return dict(plain(answer, SITED))


def _facts(offset: GardenOffset) -> Plain:
    spreads = ("offset_spread_c=sd_c", "sure_c", "scatter_c=night_sd_c")
    return named(offset, "offset_c", *spreads, "basis", "sources")


def siting_lines(siting: Siting, unit: TemperatureUnit) -> Iterator[str]:
    """Write the difference, what to give to `today`, what it rests on, and the default beside it."""
    offset, default = siting.offset, siting.default
    harm, there = (say_temperature(at_c, unit) for at_c in (siting.damage_temp_c, siting.station_threshold_c))
    degree = 1.8 if unit == "F" else 1.0
    least, spread = (f"{round(one * degree, 1) + 0.0:.1f}{unit}" for one in (offset.offset_c, offset.sd_c))
    yield from wrapped(f"{siting.station}: on a frost night the garden is {_difference(offset, unit)}")
    yield f"  today --offset {least} --offset-spread {spread}"
    yield f"  {harm} in the garden is {there} at the station."
    yield from section("What this rests on", bullets(_rests_on(siting, unit)))
    sources = (f"{source[:1].upper()}{source[1:]}." for source in default.sources)
    told = f"The garden is {_difference(default, unit)}: {default.basis}."
    yield from section("The default, without pairs", bullets((told, *sources)))
    yield from section("Take care", bullets(CAUTIONS))


def _difference(offset: GardenOffset, unit: TemperatureUnit) -> str:
    side = say_side(offset.offset_c, "the station", unit)
    return f"{side}, give or take {say_offset(offset.sd_c, unit)}"


def _rests_on(siting: Siting, unit: TemperatureUnit) -> Iterator[str]:
    offset = siting.offset
    if siting.pairs is None:
        yield "No minima of the garden's own: this is the default, common practice and no measurement."
    else:
        yield f"{offset.basis}; the default keeps {say_share(offset.default_share)} of the weight."
    yield (
        f"The difference itself is known to {say_offset(offset.sure_c, unit)} (standard error), single "
        f"nights scatter about it by {say_offset(offset.night_sd_c, unit)}."
    )
    listed = [
        f"{date} (garden {say_temperature(garden_c, unit)}, station {say_temperature(station_c, unit)})"
        for date, garden_c, station_c in siting.left_out
    ]
    if listed:
        more = len(listed) - MOST_LISTED
        rest = f", and {more} more" if more > 0 else ""
        yield f"Left out as outliers, {len(listed)}: {', '.join(listed[:MOST_LISTED])}{rest}."
    yield from siting.notes
