"""The open daily-array document: parallel arrays of days and minima, with or without ensemble members."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence

from frostgate.sources.forecasts.documents import JsonValue
from frostgate.sources.forecasts.nights import (
    FEWEST_MEMBERS,
    FIRST_YEAR,
    LAST_YEAR,
    SAY_ZONE,
    Night,
    Opened,
    Stated,
    agree_on_unit,
    mean_and_sd,
    minimum_c,
    mornings,
    parse_date,
    stated_unit,
    stated_zone,
)
from frostgate.sources.text import Spot
from frostgate.units import TemperatureUnit

MINIMUM = "temperature_2m_min"
MOST_HOURS_BEHIND = 3.0  # no clock in use is so far behind the sun; common knowledge, no source

_DAY = dt.timedelta(days=1)

Day = tuple[JsonValue, tuple[dt.date, ...]]  # as it stands there, and the mornings it means


def read_days(opened: Opened) -> Stated:
    """Read an open daily-array document."""
    arrays, members = _arrays(opened.tree.at("daily"))
    unit = _unit(opened, list(arrays))
    days, zone, notes = _days(opened)
    for name, values in arrays.items():
        if len(values) != len(days):
            what = f"{len(values)} values for the {len(days)} days of daily.time"
            raise Spot(file=opened.path, name=f"daily.{name}").fault(what, len(values), "Fetch it again.")
    columns = [[minimum_c(v.number(), unit, v.spot) for v in values] for values in arrays.values()]
    nights = []
    for (time, dates), minima_c in zip(days, zip(*columns, strict=True), strict=True):
        tmin_c, sd_c = mean_and_sd(minima_c) if members else (minima_c[0], float("nan"))
        nights += [Night(date=date, spot=time.spot, tmin_c=tmin_c, sd_c=sd_c) for date in dates]
    if members:
        if opened.tree.has("daily", MINIMUM):
            notes.append(f"Not read: daily.{MINIMUM}, which is one run beside the members.")
        notes.append(f"Each minimum is the mean of {len(arrays)} members, its sd theirs.")
    return Stated(nights=nights, issued=None, zone=zone, notes=notes)


def _arrays(daily: JsonValue) -> tuple[dict[str, list[JsonValue]], bool]:
    """Return the arrays of minima, and whether they are those of members."""
    member = re.compile(rf"{MINIMUM}_member\d+", re.ASCII)
    names = [name for name in daily.names() if member.fullmatch(name)]
    if 0 < len(names) < FEWEST_MEMBERS:
        raise daily.spot.fault(f"fewer than {FEWEST_MEMBERS} members", ", ".join(names), "Fetch them all.")
    if not names and not daily.has(MINIMUM):
        remedy = f"Ask the service for {MINIMUM}."
        raise daily.spot.fault("no array of minima", ", ".join(daily.names()), remedy)
    return {name: daily.at(name).elements() for name in names or [MINIMUM]}, bool(names)


def _unit(opened: Opened, names: Sequence[str]) -> TemperatureUnit:
    told = [name for name in dict.fromkeys([MINIMUM, *names]) if opened.tree.has("daily_units", name)]
    stated = [stated_unit(opened.tree.at("daily_units").at(name)) for name in told]
    return agree_on_unit(stated, opened.unit, Spot(file=opened.path, name=f"daily_units.{names[0]}"))


def _days(opened: Opened) -> tuple[list[Day], dt.tzinfo | None, list[str]]:
    stated = opened.tree.at("daily").at("time").elements()
    own = _own_zone(opened.tree)
    zone = opened.zone or own
    seconds = _in_seconds(opened.tree, stated)
    if zone is None:
        if seconds and stated:
            raise stated[0].spot.fault("Unix seconds, and no time zone is known", stated[0].value, SAY_ZONE)
        return [(time, (parse_date(time.text(), time.spot),)) for time in stated], None, []
    spans = [_span(time, own or zone, seconds=seconds) for time in stated]
    if opened.zone is None and spans:
        _refuse_days_of_elsewhere(opened.tree, spans[0][0].astimezone(zone))
    notes = []
    if own is not None and str(own) != str(zone):
        notes = [f"The document's days are those of {own}; they are dated by the mornings of {zone}."]
    return [(time, mornings(*span, zone)) for time, span in zip(stated, spans, strict=True)], zone, notes


def _span(time: JsonValue, own: dt.tzinfo, *, seconds: bool) -> tuple[dt.datetime, dt.datetime]:
    """Return the instants at which a day begins and ends."""
    if seconds:
        start = _instant(time)
        return start, start + _DAY
    date = parse_date(time.text(), time.spot)
    start, end = (dt.datetime.combine(day, dt.time(0), own) for day in (date, date + _DAY))
    return start, end


def _instant(time: JsonValue) -> dt.datetime:
    seconds = time.whole()
    earliest, latest = (dt.datetime(year, 1, 1, tzinfo=dt.UTC) for year in (FIRST_YEAR, LAST_YEAR))
    if not earliest.timestamp() <= seconds < latest.timestamp():
        raise time.spot.fault("not Unix seconds of this age", seconds, "Fetch the file again.")
    return dt.datetime.fromtimestamp(0, dt.UTC) + dt.timedelta(seconds=seconds)


def _in_seconds(root: JsonValue, times: Sequence[JsonValue]) -> bool:
    if root.has("daily_units", "time"):
        stated = root.at("daily_units").at("time")
        if stated.text() not in ("iso8601", "unixtime"):
            raise stated.spot.fault("neither iso8601 nor unixtime", stated.text(), "Fetch the file again.")
        return stated.text() == "unixtime"
    if times and isinstance(times[0].value, int):
        what = "a number, and daily_units.time does not say unixtime"
        raise times[0].spot.fault(what, times[0].value, "Fetch the file again, with its units.")
    return False


def _own_zone(root: JsonValue) -> dt.tzinfo | None:
    named, offset = stated_zone(root.at("timezone")), root.at("utc_offset_seconds")
    if named is not None or not offset.given:
        return named
    if abs(offset.whole()) >= 24 * 3600:
        raise offset.spot.fault("no offset from UTC", offset.value, SAY_ZONE)
    return dt.timezone(dt.timedelta(seconds=offset.whole()))


def _refuse_days_of_elsewhere(root: JsonValue, first: dt.datetime) -> None:
    """Refuse days cut at the place's own dawn or noon, as days of UTC are east of India."""
    longitude, offset = root.at("longitude"), first.utcoffset()
    if not longitude.given or offset is None:
        return
    behind = longitude.number() / 15.0 - offset / dt.timedelta(hours=1)
    behind = (behind + 12.0) % 24.0 - 12.0  # across the date line
    if behind > MOST_HOURS_BEHIND:
        what = f"days of {first.tzinfo}, which begin {behind:.0f} hours after midnight here"
        remedy = f"Fetch it with the place's own time zone. {SAY_ZONE}"
        raise longitude.spot.fault(what, longitude.number(), remedy)
