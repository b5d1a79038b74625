"""The season as a calendar (RFC 5545)."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from icalendar import Alarm, Calendar, Component, Event, vInt

from frostgate.errors import InputError
from frostgate.feeding.mix import MixedFeeding
from frostgate.feeding.season import say_window
from frostgate.files import write_whole
from frostgate.model.feedings import Feeding, NoFeeding, Programme
from frostgate.model.garden import Garden
from frostgate.seasons import NORTH, SOUTH, season_day_of
from frostgate.show.mixes import say_mix

PRODID = "-//frostgate//feeding calendar//EN"
OURS = "@frostgate"
ANOTHER_FILE = "Name another file, or move this one away."
REMINDER = dt.timedelta(hours=-6)  # before the day begins: at 18:00 of the evening before
LARGEST = 16 * 2**20  # bytes; a season has some 50 kB
HALF_A_YEAR = dt.timedelta(days=182)
DAY = dt.timedelta(days=1)


def season_year(programme: Programme, garden: Garden, today: dt.date) -> dt.date:
    """Return the first day of the year that holds a season: 1 January in the north, 1 July in the south.

    It is part of each UID, so it must not change while dates move. Where the garden states no hemisphere, a
    season that begins after July is a southern one.
    """
    dated = [programme.gate, *(feeding.date for feeding in programme.feedings)]
    undated = today if programme.stop is None else programme.stop - HALF_A_YEAR
    first, stated = min(filter(None, dated), default=undated), garden.home.hemisphere
    is_south = stated == "south" or (stated is None and first.month > 7)
    start = SOUTH if is_south else NORTH
    return dt.date(season_day_of(first, start)[0] + start.spring_lag, 7 if is_south else 1, 1)


def season_events(
    programme: Programme, garden: Garden, season: dt.date, doses: Mapping[Feeding, str]
) -> Iterator[tuple[tuple[str, ...], Event]]:
    """Return the gate, the dated feedings that are not left out, the stop, and the days without feeding.

    A key before each names it whatever its date, and however its date moves.
    """
    place = garden.home.name
    if programme.gate is not None and any(feeding.status == "done" for feeding in programme.feedings):
        yield ("gate",), _event(programme.gate, f"Feeding began at {place}", "The gate has opened.")
    elif programme.gate is not None:
        what = "A forecast, not a promise: this day moves with the weather. Ask again before feeding."
        summary = f"Feeding may begin at {place} (forecast)"
        yield ("gate",), _event(programme.gate, summary, what, moves=True)
    for feeding in programme.feedings:
        if feeding.date is not None and feeding.status != "left out":
            key = ("feeding", feeding.group, feeding.phase, feeding.kind, str(feeding.number))
            yield key, _feeding(feeding, feeding.date, doses.get(feeding, ""))
    if programme.stop is not None:
        what = "No nitrogen after this day, so that new wood hardens before the frost."
        yield ("stop",), _event(programme.stop, f"Last day for nitrogen at {place}", what)
    for rule in garden.no_feeding:
        what = f"A local rule, every year from {say_window(rule)}."
        for number, (first, last) in enumerate(_windows(rule, season), start=1):
            event = _event(first, f"No feeding: {rule.name}", what, last=last)
            yield ("no feeding", rule.name, str(number)), event


def _feeding(feeding: Feeding, day: dt.date, doses: str) -> Event:
    done = feeding.status == "done"
    moves = "" if done or feeding.status == "due" else "This day moves with the gate and with what is done."
    summary = f"{'Fed' if done else 'Feed'} {feeding.group}: {feeding.phase} {feeding.number}"
    what = "\n".join(part for part in (doses, feeding.reason, moves) if part)
    event = _event(day, summary, what, moves=bool(moves))
    if not done:
        alarm = Alarm()
        alarm.add("ACTION", "DISPLAY")
        alarm.add("TRIGGER", REMINDER)
        alarm.add("DESCRIPTION", event["SUMMARY"])
        event.add_component(alarm)
    return event


def _windows(rule: NoFeeding, season: dt.date) -> Iterator[tuple[dt.date, dt.date]]:
    """Return the stretches of the season's year that a rule forbids; two where it wraps the year's end."""
    year = (season + number * DAY for number in range(366))
    days = {day for day in year if rule.forbids(day) and day < season.replace(year=season.year + 1)}
    firsts = sorted(day for day in days if day - DAY not in days)
    lasts = sorted(day for day in days if day + DAY not in days)
    return zip(firsts, lasts, strict=True)


def _event(
    first: dt.date, summary: str, description: str, *, last: dt.date | None = None, moves: bool = False
) -> Event:
    """Make an event of whole days, both ends included; tentative where its date may move."""
    event = Event()
    event.add("SEQUENCE", 0)
    event.add("DTSTART", first)
    event.add("DTEND", (last or first) + DAY)  # the first day that is no longer part of it
    event.add("SUMMARY", " ".join(_plain(summary).split()))
    event.add("STATUS", "TENTATIVE" if moves else "CONFIRMED")
    event.add("TRANSP", "TRANSPARENT")
    if description:
        event.add("DESCRIPTION", _plain(description))
    return event


def calendar_bytes(
    programme: Programme,
    garden: Garden,
    made_at: dt.datetime,
    before: bytes | None = None,
    *,
    doses: Mapping[Feeding, str] | None = None,
    file: Path | None = None,
) -> bytes:
    """Write the dated feedings, the gate, the stop and the days without feeding as all-day events.

    A calendar that stood there before is brought up to date: what else it holds is left as it is.
    """
    if made_at.tzinfo is None:
        raise InputError("the time at which a calendar is made needs its zone", value=made_at)
    calendar = _parse(before, file)
    stamp = made_at.astimezone(dt.UTC).replace(microsecond=0)
    season = season_year(programme, garden, made_at.date())
    mark = f"-{season.year}-{_digest(garden.home.name)[:8]}{OURS}"
    events, seen = dict[str, Event](), Counter[tuple[str, ...]]()
    for key, event in season_events(programme, garden, season, doses or {}):
        seen[key] += 1  # of several with one key each is named by its place among them
        uid = f"{_digest(*key, str(seen[key]))[:24]}{mark}"
        event.add("UID", uid)
        event.add("DTSTAMP", stamp)
        events[uid] = event
    _merge(calendar, events, mark, stamp)
    return bytes(calendar.to_ical())


def write_calendar(
    path: Path,
    programme: Programme,
    garden: Garden,
    made_at: dt.datetime,
    mixed: Iterable[MixedFeeding] = (),
) -> None:
    """Write the season's calendar, or renew the one that stands there; it is whole or unchanged."""
    doses = {
        one.feeding: say_mix(one.mix, garden.group(one.feeding.group), garden.units)
        for one in mixed
        if one.mix is not None
    }
    before = _read(path)
    content = calendar_bytes(programme, garden, made_at, before, doses=doses, file=path)
    if content != before:
        write_whole(path, content)


def _read(path: Path) -> bytes | None:
    try:
        if not path.exists():
            return None
        if not path.is_file() or path.stat().st_size > LARGEST:
            raise InputError("no file, or too large for a calendar", file=path, remedy=ANOTHER_FILE)
        return path.read_bytes()
    except OSError as fault:
        raise InputError("cannot be read", file=path, value=fault.strerror, remedy=ANOTHER_FILE) from None


def _digest(*parts: str) -> str:
    return hashlib.sha256(json.dumps(parts).encode()).hexdigest()


def _plain(text: str) -> str:
    r"""Leave out what no calendar may hold; ``\N`` becomes small: icalendar would break the line there."""
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\\N", "\\n")
    return re.sub(r"[\x00-\x08\x0b-\x1f\x7f\ud800-\udfff]", " ", text)


def _parse(before: bytes | None, file: Path | None) -> Calendar:
    """Read a calendar that can be written anew without loss; make a new one where there is none."""
    if before is None:
        calendar = Calendar()
        calendar.add("PRODID", PRODID)
        calendar.add("VERSION", "2.0")
        return calendar
    try:
        calendar = Calendar.from_ical(before.decode("utf-8-sig"))
        again = calendar.to_ical()
    except Exception:  # whatever a parser of foreign text may raise
        raise InputError("not a calendar", file=file, remedy=ANOTHER_FILE) from None
    maker = calendar.get("PRODID")
    if str(maker) != PRODID:
        raise InputError("not a calendar that frostgate made", file=file, value=maker, remedy=ANOTHER_FILE)
    if _lines(again) != _lines(before) or not all(map(_is_numbered, calendar.subcomponents)):
        what = "a calendar that was edited and cannot be written anew without loss"
        raise InputError(what, file=file, remedy=ANOTHER_FILE)
    return calendar


def _is_numbered(component: Component) -> bool:
    """Return whether an event of frostgate has a sequence that can be raised."""
    return not str(component.get("UID")).endswith(OURS) or isinstance(component.get("SEQUENCE", 0), int)


def _lines(content: bytes) -> list[str]:
    unfolded = re.sub(r"\r?\n[ \t]", "", content.decode("utf-8-sig"))
    return sorted(line for line in re.split(r"\r?\n", unfolded) if line)


def _merge(calendar: Calendar, events: dict[str, Event], mark: str, stamp: dt.datetime) -> None:
    """Put the events into a calendar: changed ones revised, vanished ones cancelled, all others left."""
    known: dict[str, Component] = {}
    others: list[Component] = []
    for component in calendar.subcomponents:
        uid = str(component.get("UID"))
        if component.name == "VEVENT" and uid.endswith(mark):
            known.setdefault(uid, component)
        if uid not in events:
            others.append(_cancelled(component, stamp) if uid in known else component)
    current = [_revised(event, known.get(uid)) for uid, event in events.items()]
    calendar.subcomponents = [*current, *others]


def _revised(event: Event, known: Component | None) -> Component:
    """Raise the sequence above that of the known event; give that one back where all the rest is the same."""
    if known is None:
        return event
    written = _content(event)
    if written == _content(known) and "DTSTAMP" in known:
        return known
    event["SEQUENCE"] = vInt(known.get("SEQUENCE", 0) + 1)
    return event


def _cancelled(event: Component, stamp: dt.datetime) -> Component:
    if event.get("STATUS") == "CANCELLED":
        return event
    sequence = event.get("SEQUENCE", 0) + 1
    for name, value in (("STATUS", "CANCELLED"), ("SEQUENCE", sequence), ("DTSTAMP", stamp)):
        event.pop(name, None)
        event.add(name, value)
    event.subcomponents = []
    return event


def _content(event: Component) -> list[str]:
    """Return all that an event says, less when and how often it was revised."""
    return [line for line in _lines(event.to_ical()) if not line.startswith(("DTSTAMP", "SEQUENCE"))]
