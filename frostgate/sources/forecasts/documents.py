"""Documents of weather services that state minima: the US National Weather Service's two, and daily arrays.

Each is JSON, and dates its nights by instants or by days of a zone.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Iterator, Sequence

from frostgate.model.gate import MORNING
from frostgate.sources.forecasts.nights import (
    FEWEST_MEMBERS,
    FIRST_YEAR,
    LAST_YEAR,
    MOST_DAYS,
    SAY_ZONE,
    Night,
    Opened,
    Stated,
    agree_on_unit,
    find_zone,
    mean_and_sd,
    minimum_c,
    parse_date,
    parse_time,
    refuse_contradiction,
    refuse_swapped,
)
from frostgate.sources.forecasts.strict_json import FETCH_AGAIN, JsonValue
from frostgate.sources.text import Spot
from frostgate.units import TemperatureUnit

MINIMUM, MAXIMUM = "temperature_2m_min", "temperature_2m_max"
MOST_HOURS_BEHIND = 3.0  # no clock in use is so far behind the sun; common knowledge, no source

_ISSUED = ("updateTime", "generatedAt", "updated")
_NOON, _HOUR, _DAY = dt.time(12), dt.timedelta(hours=1), dt.timedelta(days=1)
_UNIT = r"((wmo)?unit:)?(deg|°)?\s*(?P<unit>[CF]|celsius|fahrenheit)"
_DURATION = r"P(?=[0-9]|T)(([0-9]{1,4})D)?(T(?=[0-9])(([0-9]{1,4})H)?(([0-9]{1,4})M)?)?"


def parse_instant(stated: JsonValue) -> dt.datetime:
    """Read an instant: a date with its time and its offset from UTC."""
    time = parse_time(stated.read(str), stated.spot)
    if time.tzinfo is None:
        raise stated.fault("a time without its offset from UTC")
    return time


def parse_interval(stated: JsonValue) -> tuple[dt.datetime, dt.datetime]:
    """Read an ISO 8601 interval of a start and a duration in days, hours and minutes."""
    first, _, lasting = stated.read(str).partition("/")
    match = re.fullmatch(_DURATION, lasting)
    days, hours, minutes = (0, 0, 0) if match is None else (int(match[part] or 0) for part in (2, 5, 7))
    length = dt.timedelta(days=days, hours=hours, minutes=minutes)
    if not length:
        raise stated.fault("not an interval such as 2026-04-08T00:00:00+00:00/PT13H")
    start = parse_instant(JsonValue(value=first, spot=stated.spot))
    return start, start + length


def parse_unit(stated: JsonValue) -> tuple[TemperatureUnit, Spot]:
    """Read the name of a temperature unit, and where it stands."""
    match = re.fullmatch(_UNIT, stated.read(str).strip(), re.IGNORECASE)
    if match is None:
        raise stated.fault("not °F or °C", "Ask the service for °C.")
    return ("F" if match["unit"][0].upper() == "F" else "C"), stated.spot


def mornings(start: dt.datetime, end: dt.datetime, zone: dt.tzinfo) -> tuple[dt.date, ...]:
    """The local dates of the nights in an interval of instants: those whose 06:00 lies in (start, end].

    An interval that holds no 06:00 belongs to the local date on which it ends.
    """
    first, last = start.astimezone(zone).date(), end.astimezone(zone).date()
    days = [first + dt.timedelta(days=k) for k in range((last - first).days + 1)]
    begin, stop = start.astimezone(dt.UTC), end.astimezone(dt.UTC)
    held = tuple(
        day for day in days if begin < dt.datetime.combine(day, MORNING, zone).astimezone(dt.UTC) <= stop
    )
    return held or (last,)


def _stated_zone(stated: JsonValue) -> dt.tzinfo | None:
    """Find the time zone that a document names; None where it names none."""
    return None if stated.value is None else find_zone(stated.read(str), stated.spot)


# The US National Weather Service: the night periods of a `forecast`, and gridpoint data.


def read_periods(opened: Opened) -> Stated:
    """Read the night periods of a `forecast` document, each dated by the local date on which it ends."""
    properties = opened.tree.at("properties")
    zone = opened.zone or _stated_zone(properties.at("timeZone"))
    entries = [one for one in properties.at("periods").elements() if not one.at("isDaytime").read(bool)]
    spans = [(parse_instant(one.at("startTime")), parse_instant(one.at("endTime"))) for one in entries]
    if len(spans) > 1 and all(end - start <= _HOUR for start, end in spans):
        remedy = "Fetch the forecast by half days, not the hourly one."
        raise entries[0].spot.fault("an hourly forecast, which states no minima", remedy=remedy)
    ends = [end.astimezone(zone) if zone else end for _, end in spans]
    _refuse_times_of_no_nights(entries, spans, ends)
    own = zone or (ends[0].tzinfo if ends else None)
    nights = [
        Night(date=end.date(), spot=entry.spot, tmin_c=_period_minimum_c(entry, opened.unit))
        for entry, end in zip(entries, ends, strict=True)
    ]
    place = _place(opened.tree.at("geometry"))
    return Stated(nights=nights, issued=_issued(properties, own), zone=own, place=place)


def _refuse_times_of_no_nights(
    entries: Sequence[JsonValue],
    spans: Sequence[tuple[dt.datetime, dt.datetime]],
    ends: Sequence[dt.datetime],  # on the place's own clock
) -> None:
    for k, (entry, (start, end)) in enumerate(zip(entries, spans, strict=True)):
        overlap = k > 0 and start < spans[k - 1][1]
        what = f"a night that begins before the one in {entries[k - 1].spot.words} ends"
        for wrong, name, fault, remedy in (
            (end <= start, "endTime", "a period that ends before it starts", FETCH_AGAIN),
            (ends[k].time() > _NOON, "endTime", "a night that ends after noon, local time", SAY_ZONE),
            (overlap, "startTime", what, FETCH_AGAIN),
        ):
            if wrong:
                raise entry.at(name).fault(fault, remedy)


def _period_minimum_c(period: JsonValue, asked: TemperatureUnit | None) -> float:
    degrees, unit = period.required("temperature"), period.at("temperatureUnit")
    if isinstance(degrees.value, dict):
        degrees, unit = degrees.required("value"), degrees.at("unitCode")
    return minimum_c(degrees.number(), agree_on_unit([parse_unit(unit)], asked, unit.spot), degrees.spot)


def _issued(properties: JsonValue, zone: dt.tzinfo | None) -> dt.datetime | None:
    given = next((stated for stated in map(properties.at, _ISSUED) if stated.value is not None), None)
    if given is None or zone is None:
        return None
    return parse_instant(given).astimezone(zone).replace(tzinfo=None)


def read_gridpoint(opened: Opened) -> Stated:
    """Read the minima of a gridpoint document, each dated by the local mornings its interval holds."""
    properties = opened.tree.at("properties")
    layer = properties.at("minTemperature")
    unit = agree_on_unit([parse_unit(layer.at("uom"))], opened.unit, layer.spot)
    zone, notes = _gridpoint_zone(opened)
    nights = [night for entry in layer.at("values").elements() for night in _grid_nights(entry, unit, zone)]
    place = _place(opened.tree.at("geometry"))
    return Stated(nights=nights, issued=_issued(properties, zone), zone=zone, notes=notes, place=place)


def _grid_nights(entry: JsonValue, unit: TemperatureUnit, zone: dt.tzinfo) -> Iterator[Night]:
    valid, degrees = entry.at("validTime"), entry.required("value")
    start, end = parse_interval(valid)
    if end - start > MOST_DAYS * _DAY:
        raise valid.fault(f"an interval of more than {MOST_DAYS} days")
    tmin_c = minimum_c(degrees.number(), unit, degrees.spot)
    for date in mornings(start, end, zone):
        yield Night(date=date, spot=valid.spot, tmin_c=tmin_c)


def _gridpoint_zone(opened: Opened) -> tuple[dt.tzinfo, list[str]]:
    zone = opened.zone or _stated_zone(opened.tree.at("properties").at("timeZone"))
    if zone is not None:
        return zone, []
    place = _place(opened.tree.at("geometry"))
    if place is None:
        what = "neither a time zone nor a place is stated"
        raise Spot(file=opened.path, name="properties.timeZone").fault(what, remedy=SAY_ZONE)
    longitude = place[1]
    # The sun's whole-hour zone: it differs from the clock's by less than 3 hours, and a minimum comes in the
    # morning, so both give the same date.
    zone = dt.timezone(dt.timedelta(hours=round(longitude / 15.0)))
    note = f"No time zone is stated; the nights are dated by the sun at longitude {longitude:.1f} ({zone})."
    return zone, [note]


def _place(geometry: JsonValue) -> tuple[float, float] | None:
    """Return a point, or a corner of the grid's small cell [degrees north and east]."""
    if not geometry.has("coordinates") or geometry.at("type").read(str) not in ("Point", "Polygon"):
        return None
    pair = found = geometry.at("coordinates")
    while isinstance(found.value, list):
        if not found.value:
            return None
        pair, found = found, found.elements()[0]
    east, north = found, pair.elements()[min(1, len(pair.elements()) - 1)]
    if not -180.0 <= east.number() <= 180.0:
        raise east.fault("not a longitude between -180 and 180", SAY_ZONE)
    if not -90.0 <= north.number() <= 90.0:
        raise north.fault("not a latitude between -90 and 90", FETCH_AGAIN)
    return north.number(), east.number()


# Daily arrays: parallel arrays of days and minima, with or without ensemble members.


def read_daily_arrays(opened: Opened) -> Stated:
    """Read an open daily-array document."""
    root, daily = opened.tree, opened.tree.at("daily")
    arrays, times, own = _arrays(daily), daily.at("time").elements(), _own_zone(root)
    named = [name for name in dict.fromkeys([MINIMUM, *arrays]) if root.has("daily_units", name)]
    units = [parse_unit(root.at("daily_units").at(name)) for name in named]
    unit = agree_on_unit(units, opened.unit, Spot(file=opened.path, name=f"daily_units.{next(iter(arrays))}"))
    dates = _dates(opened, times, own)
    for name, values in arrays.items():
        if len(values) != len(times):
            what = f"{len(values)} values for the {len(times)} days of daily.time"
            raise daily.at(name).spot.fault(what, len(values), FETCH_AGAIN)
    columns = [[minimum_c(v.number(), unit, v.spot) for v in values] for values in arrays.values()]
    nights = []
    members = len(arrays) > 1
    run_c = _beside(MINIMUM, daily, unit, len(times)) if members else [math.nan] * len(times)
    for time, its_mornings, minima_c, one_c in zip(
        times, dates, zip(*columns, strict=True), run_c, strict=True
    ):
        refuse_contradiction(one_c, minima_c, minima_c, time.spot)
        tmin_c, sd_c = mean_and_sd(minima_c, one_c) if members else (minima_c[0], math.nan)
        stated = minima_c if members else ()
        nights += [
            Night(date=date, spot=time.spot, tmin_c=tmin_c, sd_c=sd_c, members_c=stated)
            for date in its_mornings
        ]
    maxima_c = _beside(MAXIMUM, daily, unit, len(times))
    refuse_swapped(run_c if members else columns[0], maxima_c, daily.at(MINIMUM).spot)
    zone, notes = opened.zone or own, []
    if own is not None and str(own) != str(zone):
        notes = [f"The document's days are those of {own}; they are dated by the mornings of {zone}."]
    if members:
        if daily.has(MINIMUM):
            notes.append(f"Not read: daily.{MINIMUM}, one run beside the members, but where it is colder.")
        notes.append(f"Each minimum is the mean of {len(arrays)} members, its sd theirs.")
    stated = (root.at("latitude"), root.at("longitude"))
    place = None if any(one.value is None for one in stated) else (stated[0].number(), stated[1].number())
    return Stated(nights=nights, issued=None, zone=zone, notes=notes, place=place)


def _beside(name: str, daily: JsonValue, unit: TemperatureUnit, days: int) -> list[float]:
    """Return an array that stands beside that of the minima, NaN where there is none for each day."""
    values = daily.at(name).elements() if daily.has(name) else []
    run_c = [minimum_c(value.number(), unit, value.spot) for value in values]
    return run_c if len(run_c) == days else [math.nan] * days


def _arrays(daily: JsonValue) -> dict[str, list[JsonValue]]:
    """Return the arrays of minima: those of an ensemble's members where there are any, or the one."""
    names = [name for name in daily.names() if re.fullmatch(rf"{MINIMUM}_member[0-9]+", name)]
    if 0 < len(names) < FEWEST_MEMBERS:
        raise daily.spot.fault(f"fewer than {FEWEST_MEMBERS} members", ", ".join(names), "Fetch them all.")
    if not names and not daily.has(MINIMUM):
        remedy = f"Ask the service for {MINIMUM}."
        raise daily.spot.fault("no array of minima", ", ".join(daily.names()), remedy)
    return {name: daily.at(name).elements() for name in names or [MINIMUM]}


def _dates(
    opened: Opened, times: Sequence[JsonValue], own: dt.tzinfo | None
) -> Sequence[tuple[dt.date, ...]]:
    """Return the mornings that each day of the document means; without a zone, the days as they stand."""
    zone, seconds = opened.zone or own, _in_seconds(opened.tree, times)
    if zone is None:
        if seconds and times:
            raise times[0].fault("Unix seconds, and no time zone is known", SAY_ZONE)
        return [(parse_date(time.read(str), time.spot),) for time in times]
    starts = [_unix_time(time) if seconds else _midnight(time, own or zone) for time in times]
    if opened.zone is None and starts:
        _refuse_days_of_elsewhere(opened.tree, starts[0].astimezone(zone))
    return [mornings(start, start + _DAY, zone) for start in starts]


def _midnight(time: JsonValue, zone: dt.tzinfo) -> dt.datetime:
    return dt.datetime.combine(parse_date(time.read(str), time.spot), dt.time(0), zone)


def _unix_time(time: JsonValue) -> dt.datetime:
    seconds = time.read(int)
    earliest, latest = (dt.datetime(year, 1, 1, tzinfo=dt.UTC) for year in (FIRST_YEAR, LAST_YEAR))
    if not earliest.timestamp() <= seconds < latest.timestamp():
        raise time.fault("not Unix seconds of this age")
    return dt.datetime.fromtimestamp(0, dt.UTC) + dt.timedelta(seconds=seconds)


def _in_seconds(root: JsonValue, times: Sequence[JsonValue]) -> bool:
    if root.has("daily_units", "time"):
        stated = root.at("daily_units").at("time")
        if stated.read(str) not in ("iso8601", "unixtime"):
            raise stated.fault("neither iso8601 nor unixtime")
        return stated.value == "unixtime"
    if times and isinstance(times[0].value, int):
        raise times[0].fault("a number, and daily_units.time does not say unixtime")
    return False


def _own_zone(root: JsonValue) -> dt.tzinfo | None:
    named, offset = _stated_zone(root.at("timezone")), root.at("utc_offset_seconds")
    if named is not None or offset.value is None:
        return named
    if abs(offset.read(int)) >= 24 * 3600:
        raise offset.fault("no offset from UTC", SAY_ZONE)
    return dt.timezone(dt.timedelta(seconds=offset.read(int)))


def _refuse_days_of_elsewhere(root: JsonValue, first: dt.datetime) -> None:
    """Refuse days cut at the place's own dawn or noon, as days of UTC are east of India."""
    longitude, offset = root.at("longitude"), first.utcoffset()
    if longitude.value is None or offset is None:
        return
    behind = longitude.number() / 15.0 - offset / _HOUR
    behind = (behind + 12.0) % 24.0 - 12.0  # across the date line
    if behind > MOST_HOURS_BEHIND:
        what = f"days of {first.tzinfo}, which begin {behind:.0f} hours after midnight here"
        raise longitude.fault(what, f"Fetch it with the place's own time zone. {SAY_ZONE}")
