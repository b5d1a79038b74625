"""Garden less station, as text, JSON and a record."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from frostgate.climate.siting import CombinedStations, GardenOffset, Pairs
from frostgate.files import csv_text, write_whole
from frostgate.model.records import DailyMinima, Station
from frostgate.show.answers import DIGITS, Plain, named, plain
from frostgate.show.say import bullets, say_side, section, wrapped
from frostgate.units import WHOLE_F_STEP_C, TemperatureUnit, say_offset, say_share, say_temperature, whole_f

MOST_LISTED = 8
CAUTIONS = (
    "Hang the thermometer at the height of the pots, shielded from sun and sky (common practice, no source).",
    "Check it in ice water: it should show 32 °F, 0 °C (common practice, no source).",
    "Read and reset it every morning, and date the minimum by that morning (common practice, no source).",
    "The difference is that from this station: a forecast for another place may differ otherwise.",
    "A cold hollow can be many degrees colder than its surroundings: pairs from clear calm nights tell.",
)
ANSWERED = DIGITS | {
    **dict.fromkeys(("station_threshold_c", "offset_spread_c", "sure_c", "scatter_c"), 3),
    "garden_c": 1,
    "station_c": 1,
    "difference_c": 2,
}


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


def write_minima(path: Path, minima: DailyMinima) -> None:
    """Write minima as a table of station, date and minimum: whole °F where such were observed, else °C."""
    in_f = minima.step_c == WHOLE_F_STEP_C
    degrees = whole_f(minima.tmin_c)[0] if in_f else minima.tmin_c
    form = ".0f" if in_f else ".1f"
    rows = (
        (minima.station.id, date, "" if np.isnan(value) else format(value, form))
        for date, value in zip(minima.dates, degrees, strict=True)
    )
    write_whole(path, csv_text([("station", "date", "tmin_f" if in_f else "tmin_c"), *rows]))


def siting_answer(siting: Siting) -> Plain:
    """Return the difference under the names that the JSON answer uses."""
    filled = siting.combined and [
        named(other.station, station="id") | named(other, "difference_c", "common", "filled")
        for other in siting.combined.others
    ]
    answer = {
        **named(siting.station, station="id", name="name"),
        "damage_temp_c": siting.damage_temp_c,
        "station_threshold_c": siting.damage_temp_c - siting.offset.offset_c,
        **_facts(siting.offset),
        **named(siting.offset, "default_share", "pairs", "clear_pairs"),
        "left_out": [named(row, date="0", garden_c="1", station_c="2") for row in _left_out(siting)],
        "default": _facts(siting.default),
        "combined": filled,
        "notes": _notes(siting),
        "cautions": CAUTIONS,
    }
    return dict(plain(answer, ANSWERED))


def _facts(offset: GardenOffset) -> Plain:
    degrees = named(offset, "offset_c", offset_spread_c="sd_c", sure_c="sure_c", scatter_c="night_sd_c")
    return degrees | named(offset, "basis", "sources")


def siting_lines(siting: Siting, unit: TemperatureUnit) -> Iterator[str]:
    """Write the difference, what to give to `today`, what it rests on, and the default beside it."""
    offset, harm = siting.offset, say_temperature(siting.damage_temp_c, unit)
    threshold_c = siting.damage_temp_c - offset.offset_c
    yield from wrapped(f"{siting.station}: on a frost night the garden is {_difference(offset, unit)}")
    yield f"  today --offset {_option(offset.offset_c, unit)} --offset-spread {_option(offset.sd_c, unit)}"
    yield f"  {harm} in the garden is {say_temperature(threshold_c, unit)} at the station."
    yield from section("What this rests on", bullets(_rests_on(siting, unit)))
    yield from section("The default, without pairs", bullets(_default(siting.default, unit)))
    yield from section("Take care", bullets(CAUTIONS))


def _difference(offset: GardenOffset, unit: TemperatureUnit) -> str:
    side = say_side(offset.offset_c, "the station", unit)
    return f"{side}, give or take {say_offset(offset.sd_c, unit)}"


def _option(offset_c: float, unit: TemperatureUnit) -> str:
    degrees = offset_c * 1.8 if unit == "F" else offset_c
    return f"{round(degrees, 1) + 0.0:.1f}{unit}"


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
        for date, garden_c, station_c in _left_out(siting)
    ]
    if listed:
        more = len(listed) - MOST_LISTED
        rest = f", and {more} more" if more > 0 else ""
        yield f"Left out as outliers, {len(listed)}: {', '.join(listed[:MOST_LISTED])}{rest}."
    yield from _notes(siting)


def _default(default: GardenOffset, unit: TemperatureUnit) -> Iterator[str]:
    yield f"The garden is {_difference(default, unit)}: {default.basis}."
    for source in default.sources:
        yield f"{source[:1].upper()}{source[1:]}."


def _notes(siting: Siting) -> Iterator[str]:
    yield from siting.offset.notes
    if siting.shift_days:
        side = "later" if siting.shift_days > 0 else "earlier"
        yield (
            f"The garden's minima fit the station's much better when dated one day {side}: check on which "
            "day each was written down. A minimum belongs to the morning on which the night ends."
        )
    if siting.combined is not None:
        yield from siting.combined.minima.notes


def _left_out(siting: Siting) -> Iterator[tuple[dt.date, float, float]]:
    pairs = siting.pairs
    if pairs is not None:
        left_out = set(siting.offset.left_out)
        columns = (pairs.dates.tolist(), pairs.garden_c.tolist(), pairs.station_c.tolist())
        yield from (row for row in zip(*columns, strict=True) if row[0] in left_out)
