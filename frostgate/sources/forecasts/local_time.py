"""Dates, instants and time zones as documents state them, and the local mornings they mean."""

from __future__ import annotations

import datetime as dt
import re
from zoneinfo import ZoneInfo

from frostgate.patterns import pattern
from frostgate.sources.forecasts.documents import Spot

SAY_ZONE = "Say --time-zone, for example America/New_York."
MORNING = dt.time(6)  # a night's minimum comes near sunrise; every night holds this hour
FIRST_YEAR, LAST_YEAR = 1900, 2199  # a forecast for another century is a slip of the pen

_DATE = pattern(r"\d{4}-\d\d-\d\d", re.ASCII)
_TIME = pattern(
    r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d(\.\d{1,6})?)?(Z|[+-]\d\d:?\d\d)?", re.ASCII | re.IGNORECASE
)
_DURATION = pattern(r"P(?=\d|T)(?:(\d{1,4})D)?(?:T(?=\d)(?:(\d{1,4})H)?(?:(\d{1,4})M)?)?", re.ASCII)


def parse_date(text: str, spot: Spot) -> dt.date:
    """Read a date written YYYY-MM-DD.

    Raises
    ------
    InputError
        Where it is written otherwise, does not exist, or lies in another century.

    Examples
    --------
    >>> from pathlib import Path
    >>> parse_date("2026-04-08", Spot(file=Path("f.csv"), line=2))
    datetime.date(2026, 4, 8)
    """
    try:
        date = dt.date.fromisoformat(text) if _DATE().fullmatch(text) else None
    except ValueError:
        date = None
    if date is None or not FIRST_YEAR <= date.year <= LAST_YEAR:
        raise spot.fault("not a date of this calendar", text, "Write dates as YYYY-MM-DD.")
    return date


def parse_time(text: str, spot: Spot) -> dt.datetime:
    """Read a date with its time, with or without an offset from UTC.

    Raises
    ------
    InputError
        Where it is none, or lies in another century.

    Examples
    --------
    >>> from pathlib import Path
    >>> parse_time("2026-04-08T06:00", Spot(file=Path("f.csv"), line=1))
    datetime.datetime(2026, 4, 8, 6, 0)
    """
    try:
        time = dt.datetime.fromisoformat(text.upper()) if _TIME().fullmatch(text) else None
    except ValueError:
        time = None
    if time is None or not FIRST_YEAR <= time.year <= LAST_YEAR:
        raise spot.fault("not a date with its time", text, "Write it as 2026-04-10T06:00.")
    return time


def parse_instant(text: str, spot: Spot) -> dt.datetime:
    """Read an instant: a date with its time and its offset from UTC.

    Raises
    ------
    InputError
        Where it is none, or its offset is missing.

    Examples
    --------
    >>> from pathlib import Path
    >>> parse_instant("2026-04-08T06:00:00-04:00", Spot(file=Path("f.json"))).utcoffset()
    datetime.timedelta(days=-1, seconds=72000)
    """
    time = parse_time(text, spot)
    if time.tzinfo is None:
        raise spot.fault("a time without its offset from UTC", text, "Fetch the file again.")
    return time


def parse_interval(text: str, spot: Spot) -> tuple[dt.datetime, dt.datetime]:
    """Read an ISO 8601 interval of a start and a duration in days, hours and minutes.

    Raises
    ------
    InputError
        Where it is written otherwise, or lasts no time.

    Examples
    --------
    >>> start, end = parse_interval("2026-04-08T00:00:00+00:00/P1DT1H", Spot(file=None))
    >>> end - start
    datetime.timedelta(days=1, seconds=3600)
    """
    first, _, lasting = text.partition("/")
    match = _DURATION().fullmatch(lasting)
    days, hours, minutes = (0, 0, 0) if match is None else (int(part or 0) for part in match.groups())
    length = dt.timedelta(days=days, hours=hours, minutes=minutes)
    if not length:
        raise spot.fault("not an interval such as 2026-04-08T00:00:00+00:00/PT13H", text, "Fetch it again.")
    start = parse_instant(first, spot)
    return start, start + length


def find_zone(name: str, spot: Spot) -> ZoneInfo:
    """Find a time zone by its name in the IANA list.

    Raises
    ------
    InputError
        Where there is none of that name.

    Examples
    --------
    >>> str(find_zone("Europe/Berlin", Spot(file=None)))
    'Europe/Berlin'
    """
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        raise spot.fault("no time zone has this name", name, SAY_ZONE) from None


def solar_zone(longitude: float) -> dt.timezone:
    """Return the whole-hour zone of the sun at a longitude [degrees east].

    A minimum is reached in the morning and dated by it, and clock and sun differ by less than 3 hours, so
    this zone gives the same date as the clock's.

    Examples
    --------
    >>> str(solar_zone(-74.0))
    'UTC-05:00'
    """
    return dt.timezone(dt.timedelta(hours=round(longitude / 15.0)))


def mornings(start: dt.datetime, end: dt.datetime, zone: dt.tzinfo) -> tuple[dt.date, ...]:
    """Give the local dates of the nights in an interval of instants: those whose 06:00 lies in (start, end].

    An interval that holds no 06:00 belongs to the local date on which it ends.

    Examples
    --------
    >>> start = dt.datetime(2026, 4, 8, 0, tzinfo=dt.UTC)
    >>> mornings(start, start + dt.timedelta(hours=13), ZoneInfo("America/New_York"))
    (datetime.date(2026, 4, 8),)
    """
    first, last = start.astimezone(zone).date(), end.astimezone(zone).date()
    days = [first + dt.timedelta(days=k) for k in range((last - first).days + 1)]
    begin, stop = start.astimezone(dt.UTC), end.astimezone(dt.UTC)
    held = tuple(
        day for day in days if begin < dt.datetime.combine(day, MORNING, zone).astimezone(dt.UTC) <= stop
    )
    return held or (last,)


def to_local(instant: dt.datetime, zone: dt.tzinfo) -> dt.datetime:
    """Write an instant as the clock in a zone shows it, without the zone.

    Examples
    --------
    >>> to_local(dt.datetime(2026, 4, 8, 12, tzinfo=dt.UTC), ZoneInfo("Europe/Berlin"))
    datetime.datetime(2026, 4, 8, 14, 0)
    """
    return instant.astimezone(zone).replace(tzinfo=None)
