"""The only place that asks what time it is."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from frostgate.errors import InputError
from frostgate.gate.outlook import MORNING
from frostgate.patterns import pattern

_FIXED = pattern(r"UTC(?:([+-])(\d\d):(\d\d))?")


def moment(on: dt.date | None, time_zone: str | None) -> dt.datetime:
    """Give the moment to answer for, local time of the garden without zone.

    Parameters
    ----------
    on
        A day asked about, answered as on its morning at 06:00; None asks the clock.
    time_zone
        The garden's zone, by its IANA name or as ``UTC-05:00``; None takes this machine's.

    Raises
    ------
    InputError
        Where there is no such zone.

    Examples
    --------
    >>> moment(dt.date(2026, 4, 12), None)
    datetime.datetime(2026, 4, 12, 6, 0)
    """
    zone = None if time_zone is None else _zone(time_zone)
    if on is not None:
        return dt.datetime.combine(on, MORNING)
    return dt.datetime.now(zone).replace(tzinfo=None)


def _zone(name: str) -> dt.tzinfo:
    fixed = _FIXED().fullmatch(name)
    sign = -1 if fixed and fixed[1] == "-" else 1
    try:
        if fixed is None:
            return ZoneInfo(name)
        return dt.timezone(sign * dt.timedelta(hours=int(fixed[2] or 0), minutes=int(fixed[3] or 0)))
    except (KeyError, ValueError, OSError):
        raise InputError(
            "no time zone has this name", value=name, remedy="Write it as America/New_York or as UTC-05:00."
        ) from None
