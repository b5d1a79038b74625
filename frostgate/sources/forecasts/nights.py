"""What every form of a forecast states: dates, times, zone, unit, minima; and the forecast made of it."""

from __future__ import annotations

import datetime as dt
import itertools
import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import numpy as np

from frostgate.errors import InputError, UnstatedUnitError
from frostgate.model.gate import MORNING, Forecast
from frostgate.seasons import Floats
from frostgate.seasons import find_zone as zone_named
from frostgate.sources.forecasts.strict_json import JsonValue
from frostgate.sources.text import Spot
from frostgate.units import COLDEST_C, HOTTEST_C, TemperatureUnit, celsius

Day = TypeVar("Day", dt.date, dt.datetime)

SAY_ZONE = "Say --time-zone, for example America/New_York."
FIRST_YEAR, LAST_YEAR = 1900, 2199  # a forecast for another century is a slip of the pen
MOST_DAYS = 46  # no weather service states nights further ahead
FEWEST_MEMBERS = 3
AGREE_C = 1.0  # by which a minimum may lie outside of its own quantiles or members; common sense, no source

_DATE = r"[0-9]{4}-[0-9]{2}-[0-9]{2}"
_TIME = _DATE + r"[T ][0-9]{2}:[0-9]{2}(:[0-9]{2}(\.[0-9]{1,6})?)?(Z|[+-][0-9]{2}:?[0-9]{2})?"


def parse_date(text: str, spot: Spot) -> dt.date:
    """Read a date written YYYY-MM-DD."""
    fault = spot.fault("not a date of this calendar", text, "Write dates as YYYY-MM-DD.")
    return _parse(text, dt.date.fromisoformat, _DATE, fault)


def parse_time(text: str, spot: Spot) -> dt.datetime:
    """Read a date with its time, with or without an offset from UTC."""
    fault = spot.fault("not a date with its time", text, "Write it as 2026-04-10T06:00.")
    return _parse(text.upper(), dt.datetime.fromisoformat, _TIME, fault)


def _parse(text: str, read: Callable[[str], Day], pattern: str, fault: InputError) -> Day:
    """Read a text that a pattern fits; a day that no calendar has, or of another age, is a fault."""
    try:
        day = read(text) if re.fullmatch(pattern, text) else None
    except ValueError:
        day = None
    if day is None or not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise fault
    return day


def find_zone(name: str, spot: Spot) -> dt.tzinfo:
    """Find a time zone by the name that a document or the grower states."""
    try:
        return zone_named(name)
    except InputError as error:
        raise spot.fault(error.what, name, SAY_ZONE) from None


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """A forecast file, opened, with what the grower said about it."""

    path: Path
    text: str
    tree: JsonValue  # the same as JSON; null where it is not
    unit: TemperatureUnit | None = None  # as the grower stated it
    zone: dt.tzinfo | None = None  # as the grower stated it


@dataclass(frozen=True, slots=True, kw_only=True)
class Night:
    """One night of a forecast, dated by its morning, and the spot that states it."""

    date: dt.date
    spot: Spot
    tmin_c: float = math.nan
    sd_c: float = math.nan
    members_c: Sequence[float] = ()  # equally likely minima, as members or quantiles state them


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """What a file of any form states."""

    nights: Sequence[Night]
    issued: dt.datetime | None  # local time, without zone; None where it is not stated
    zone: dt.tzinfo | None
    notes: Sequence[str] = ()
    place: tuple[float, float] | None = None  # degrees north and east, where it is stated


def agree_on_unit(
    stated: Sequence[tuple[TemperatureUnit, Spot]], asked: TemperatureUnit | None, spot: Spot
) -> TemperatureUnit:
    """Settle the one unit of a file from what it states, and what the grower states."""
    for (unit, first), (other, second) in itertools.pairwise(stated):
        if unit != other:
            remedy = "Bring all its columns to one unit."
            raise second.fault(f"mixed units: {first.name} is in °{unit}", f"°{other}", remedy)
    if stated and asked not in (None, stated[0][0]):
        unit, where = stated[0]
        raise where.fault(f"the file says °{unit}, not °{asked}", f"°{unit}", "Leave --forecast-unit out.")
    if not stated and asked is None:
        remedy = "Say --forecast-unit F or --forecast-unit C."
        raise spot.fault("no unit is stated", remedy=remedy, kind=UnstatedUnitError)
    return stated[0][0] if stated else asked or "C"


def minimum_c(degrees: float, unit: TemperatureUnit, spot: Spot) -> float:
    """Bring a minimum to [°C]; NaN stays NaN."""
    temp_c = celsius(degrees) if unit == "F" else degrees
    if not math.isnan(temp_c) and not COLDEST_C <= temp_c <= HOTTEST_C:
        remedy = "Leave a missing value empty (null in JSON)."
        raise spot.fault("no place on earth has such a temperature", f"{degrees:g} °{unit}", remedy)
    return temp_c


def refuse_contradiction(tmin_c: float, low_c: Sequence[float], high_c: Sequence[float], spot: Spot) -> None:
    """Refuse a minimum below or above all that the same forecast says of that night in other columns."""
    low, high = (np.array([one for one in told_c if not math.isnan(one)]) for told_c in (low_c, high_c))
    below, above = low.size and tmin_c < low.min() - AGREE_C, high.size and tmin_c > high.max() + AGREE_C
    if below or above:
        told = f"{min(*low, *high):.1f} to {max(*low, *high):.1f} °C"
        what = f"a minimum that contradicts its own members or quantiles ({told})"
        raise spot.fault(what, f"{tmin_c:.1f} °C", "Leave out the column that is wrong.")


def refuse_swapped(minima_c: Sequence[float], maxima_c: Sequence[float], spot: Spot) -> None:
    """Refuse minima of which most lie above the maxima of their days: the two stand in each other's place.

    A single one may: the night before a front is warmer than the day behind it.
    """
    minima, maxima = np.array(minima_c), np.array(maxima_c)
    both = np.isfinite(minima) & np.isfinite(maxima)
    if both.any() and 2 * np.sum(minima[both] > maxima[both]) > both.sum():
        raise spot.fault("minima above the maxima of most days", remedy="Bring each to its own column.")


def mean_and_sd(members: Sequence[float], run_c: float = math.nan) -> tuple[float, float]:
    """Return mean and sample standard deviation of an ensemble's members, missing ones (NaN) left out.

    A run beside them that is colder than their mean is taken instead. The mean is NaN where all are missing,
    the standard deviation where fewer than 3 are there.
    """
    there = [member for member in members if not math.isnan(member)]
    mean = float(np.fmin(np.mean(there), run_c)) if there else run_c
    return mean, float(np.std(there, ddof=1)) if len(there) >= FEWEST_MEMBERS else math.nan


def to_forecast(stated: Stated, *, form: str, file: Path) -> Forecast:
    """Make a forecast of what a file states."""
    nights, issued, notes = stated.nights, stated.issued, [*stated.notes]
    _refuse_what_is_no_forecast(nights, file)
    earliest = dt.datetime.combine(nights[0].date - dt.timedelta(days=1), MORNING)
    if issued is None:
        notes.append(
            "The file does not say when the forecast was made; taken as "
            f"{earliest:%Y-%m-%d %H:%M}, the morning before its first night."
        )
    elif issued.date() > nights[-1].date:
        what = f"made on {issued:%Y-%m-%d}, after its last morning"
        raise nights[-1].spot.fault(what, nights[-1].date, "Mend the time of issue, or fetch a newer one.")
    return Forecast(
        source=str(file),
        form=form,
        issued_at=issued or earliest,
        issued_stated=issued is not None,
        time_zone=None if stated.zone is None else str(stated.zone),
        dates=np.array([night.date for night in nights], dtype="datetime64[D]"),
        tmin_c=np.array([night.tmin_c for night in nights]),
        sd_c=np.array([night.sd_c for night in nights]),
        notes=tuple(notes),
        latitude=stated.place[0] if stated.place else None,
        longitude=stated.place[1] if stated.place else None,
        members_c=_members(nights),
    )


def _members(nights: Sequence[Night]) -> Floats | None:
    """Lay out the members of all nights, those of a night that has fewer filled up with NaN."""
    most = max(len(night.members_c) for night in nights)
    filled = [[*night.members_c, *[math.nan] * (most - len(night.members_c))] for night in nights]
    return np.array(filled) if most else None


def _refuse_what_is_no_forecast(nights: Sequence[Night], file: Path) -> None:
    if not nights:
        raise InputError("a forecast without any night", file=file, remedy="Fetch it again.")
    for before, after in itertools.pairwise(nights):
        if after.date <= before.date:
            raise after.spot.fault(
                f"the dates of a forecast must rise, each night once: {after.date} ({after.spot.words}) "
                f"comes after {before.date} ({before.spot.words})",
                after.date,
                "Bring the nights in order, each once.",
            )
    days = (nights[-1].date - nights[0].date).days + 1
    if days > MOST_DAYS:
        what = f"{days} days, longer than any forecast ({MOST_DAYS} days)"
        raise nights[-1].spot.fault(what, nights[-1].date, "Name a forecast.")
    if all(math.isnan(night.tmin_c) for night in nights):
        what = f"no minimum for any of its {len(nights)} nights"
        raise InputError(what, file=file, remedy="Fetch it again.")
