"""The two documents of the US National Weather Service that state minima: `forecast` and gridpoint data."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from frostgate.sources.forecasts.documents import JsonValue
from frostgate.sources.forecasts.nights import (
    MOST_DAYS,
    SAY_ZONE,
    Night,
    Opened,
    Stated,
    agree_on_unit,
    minimum_c,
    mornings,
    parse_instant,
    parse_interval,
    stated_unit,
    stated_zone,
)
from frostgate.sources.text import Spot
from frostgate.units import TemperatureUnit

_ISSUED = ("updateTime", "generatedAt", "updated")
_NOON, _HOUR = dt.time(12), dt.timedelta(hours=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """A night period of a `forecast` document, its times on the place's own clock."""

    start: dt.datetime
    end: dt.datetime
    stated: JsonValue


def read_periods(opened: Opened) -> Stated:
    """Read the night periods of a `forecast` document, each dated by the local date on which it ends."""
    properties = opened.tree.at("properties")
    zone = opened.zone or stated_zone(properties.at("timeZone"))
    stated = properties.at("periods").elements()
    periods = [_period(entry, zone) for entry in stated if not entry.at("isDaytime").truth()]
    _refuse_other_periods(periods)
    own = zone or (periods[0].end.tzinfo if periods else None)
    nights = [_night(period, opened.unit) for period in periods]
    return Stated(nights=nights, issued=_issued(properties, own), zone=own)


def read_gridpoint(opened: Opened) -> Stated:
    """Read the minima of a gridpoint document, each dated by the local mornings its interval holds."""
    properties = opened.tree.at("properties")
    layer = properties.at("minTemperature")
    unit = agree_on_unit([stated_unit(layer.at("uom"))], opened.unit, layer.spot)
    zone, notes = _gridpoint_zone(opened)
    nights = [night for entry in layer.at("values").elements() for night in _nights(entry, unit, zone)]
    return Stated(nights=nights, issued=_issued(properties, zone), zone=zone, notes=notes)


def _period(entry: JsonValue, zone: dt.tzinfo | None) -> Period:
    times = [entry.at(name) for name in ("startTime", "endTime")]
    start, end = (parse_instant(time.text(), time.spot) for time in times)
    if not start < end:
        raise times[1].spot.fault("a period that ends before it starts", times[1].text(), "Fetch it again.")
    return Period(start=start, end=end.astimezone(zone) if zone else end, stated=entry)


def _refuse_other_periods(periods: Sequence[Period]) -> None:
    if len(periods) > 1 and all(period.end - period.start <= _HOUR for period in periods):
        remedy = "Fetch the forecast by half days, not the hourly one."
        raise periods[0].stated.spot.fault("an hourly forecast, which states no minima", remedy=remedy)
    for period in periods:
        if period.end.time() > _NOON:
            ends = period.stated.at("endTime")
            raise ends.spot.fault("a night that ends after noon, local time", ends.text(), SAY_ZONE)
    for before, after in itertools.pairwise(periods):
        if after.start < before.end:
            starts = after.stated.at("startTime")
            what = f"a night that begins before the one in {before.stated.spot.words} ends"
            raise starts.spot.fault(what, starts.text(), "Fetch the file again.")


def _night(period: Period, asked: TemperatureUnit | None) -> Night:
    degrees, unit = period.stated.required("temperature"), period.stated.at("temperatureUnit")
    if isinstance(degrees.value, dict):
        degrees, unit = degrees.required("value"), degrees.at("unitCode")
    agreed = agree_on_unit([stated_unit(unit)], asked, unit.spot)
    tmin_c = minimum_c(degrees.number(), agreed, degrees.spot)
    return Night(date=period.end.date(), spot=period.stated.spot, tmin_c=tmin_c)


def _nights(entry: JsonValue, unit: TemperatureUnit, zone: dt.tzinfo) -> Iterator[Night]:
    valid, degrees = entry.at("validTime"), entry.required("value")
    start, end = parse_interval(valid.text(), valid.spot)
    if end - start > dt.timedelta(days=MOST_DAYS):
        raise valid.spot.fault(f"an interval of more than {MOST_DAYS} days", valid.text(), "Fetch it again.")
    tmin_c = minimum_c(degrees.number(), unit, degrees.spot)
    for date in mornings(start, end, zone):
        yield Night(date=date, spot=valid.spot, tmin_c=tmin_c)


def _issued(properties: JsonValue, zone: dt.tzinfo | None) -> dt.datetime | None:
    stated = next((properties.at(name) for name in _ISSUED if properties.at(name).given), None)
    if stated is None or zone is None:
        return None
    return parse_instant(stated.text(), stated.spot).astimezone(zone).replace(tzinfo=None)


def _gridpoint_zone(opened: Opened) -> tuple[dt.tzinfo, list[str]]:
    zone = opened.zone or stated_zone(opened.tree.at("properties").at("timeZone"))
    if zone is not None:
        return zone, []
    longitude = _longitude(opened.tree.at("geometry"))
    if longitude is None:
        what = "neither a time zone nor a place is stated"
        raise Spot(file=opened.path, name="properties.timeZone").fault(what, remedy=SAY_ZONE)
    # The sun's whole-hour zone: it differs from the clock's by less than 3 hours, and a minimum comes in the
    # morning, so both give the same date.
    zone = dt.timezone(dt.timedelta(hours=round(longitude / 15.0)))
    note = f"No time zone is stated; the nights are dated by the sun at longitude {longitude:.1f} ({zone})."
    return zone, [note]


def _longitude(geometry: JsonValue) -> float | None:
    """Return the longitude of a point [degrees east], or of a corner of the grid's small cell."""
    if not geometry.has("coordinates") or geometry.at("type").text() not in ("Point", "Polygon"):
        return None
    found = geometry.at("coordinates")
    while isinstance(found.value, list):
        if not found.value:
            return None
        found = found.elements()[0]
    if not -180.0 <= found.number() <= 180.0:
        raise found.spot.fault("not a longitude between -180 and 180", found.number(), SAY_ZONE)
    return found.number()
