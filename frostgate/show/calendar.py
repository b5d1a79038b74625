"""The season as a calendar (RFC 5545)."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

from icalendar import STATUS, TRANSP, Alarm, Calendar, Component, Event

from frostgate.errors import InputError
from frostgate.feeding.mix import MixedFeeding
from frostgate.feeding.season import say_window
from frostgate.model.feedings import Feeding, NoFeeding, Programme
from frostgate.model.garden import Garden
from frostgate.seasons import NORTH, SOUTH, season_day_of
from frostgate.show.mixes import say_mix

PRODID = "-//frostgate//feeding calendar//EN"
NEW = f"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:{PRODID}\r\nEND:VCALENDAR\r\n".encode()
OURS = "@frostgate"
MOVES = "This day moves with the gate and with what is done."
ANOTHER_FILE = "Name another file, or move this one away."
REMINDER = dt.timedelta(hours=-6)  # before the day begins: at 18:00 of the evening before
LARGEST = 16 * 2**20  # bytes; a season has some 50 kB
HALF_A_YEAR = dt.timedelta(days=182)
DAY = dt.timedelta(days=1)


class Marked(NamedTuple):
    """Whole days that are marked in the calendar."""

    key: tuple[str, ...]  # names it whatever its date, and however its date moves
    first: dt.date
    summary: str
    what: str
    last: dt.date | None = None  # where it has more than one day
    moves: bool = False  # whether its date may still change
    is_to_do: bool = False  # and is recalled on the evening before


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


def marked_days(
    programme: Programme, garden: Garden, season: dt.date, doses: Mapping[Feeding, str]
) -> Iterator[Marked]:
    """Return the gate, the dated feedings that are not left out, the stop, and the days without feeding."""
    place, feedings = garden.home.name, programme.feedings
    if programme.gate is not None and any(feeding.status == "done" for feeding in feedings):
        yield Marked(("gate",), programme.gate, f"Feeding began at {place}", "The gate has opened.")
    elif programme.gate is not None:
        what = "A forecast, not a promise: this day moves with the weather. Ask again before feeding."
        yield Marked(("gate",), programme.gate, f"Feeding may begin at {place} (forecast)", what, moves=True)
    for feeding in feedings:
        if feeding.date is None or feeding.status == "left out":
            continue
        is_done, moves = feeding.status == "done", feeding.status not in {"done", "due"}
        told = (doses.get(feeding, ""), feeding.reason, MOVES if moves else "")
        yield Marked(
            ("feeding", feeding.group, feeding.phase, feeding.kind, str(feeding.number)),
            feeding.date,
            f"{'Fed' if is_done else 'Feed'} {feeding.group}: {feeding.phase} {feeding.number}",
            "\n".join(filter(None, told)),
            moves=moves,
            is_to_do=not is_done,
        )
    if programme.stop is not None:
        what = "No nitrogen after this day, so that new wood hardens before the frost."
        yield Marked(("stop",), programme.stop, f"Last day for nitrogen at {place}", what)
    for rule in garden.no_feeding:
        what = f"A local rule, every year from {say_window(rule)}."
        for number, (first, last) in enumerate(_windows(rule, season), start=1):
            key = ("no feeding", rule.name, str(number))
            yield Marked(key, first, f"No feeding: {rule.name}", what, last=last)


def _windows(rule: NoFeeding, season: dt.date) -> Iterator[tuple[dt.date, dt.date]]:
    """Return the stretches of the season's year that a rule forbids; two where it wraps the year's end."""
    year = (season + number * DAY for number in range(366))
    days = {day for day in year if rule.forbids(day) and day < season.replace(year=season.year + 1)}
    firsts = sorted(day for day in days if day - DAY not in days)
    lasts = sorted(day for day in days if day + DAY not in days)
    return zip(firsts, lasts, strict=True)


def _event(marked: Marked, uid: str, stamp: dt.datetime) -> Event:
    """Make an event of whole days, both ends included; tentative where its date may move."""
    event = Event.new(
        uid=uid,
        stamp=stamp,
        sequence=0,
        start=marked.first,
        end=(marked.last or marked.first) + DAY,  # the first day that is no longer part of it
        summary=" ".join(_plain(marked.summary).split()),
        description=_plain(marked.what) or None,
        status=STATUS.TENTATIVE if marked.moves else STATUS.CONFIRMED,
        transparency=TRANSP.TRANSPARENT,
    )
    if marked.is_to_do:
        alarm = Alarm.new(description=event.summary)
        alarm.add("ACTION", "DISPLAY")
        alarm.add("TRIGGER", REMINDER)
        event.add_component(alarm)
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
    calendar = _parse(NEW if before is None else before, file)
    stamp = made_at.astimezone(dt.UTC).replace(microsecond=0)
    season = season_year(programme, garden, made_at.date())
    mark = f"-{season.year}-{_digest(garden.home.name)[:8]}{OURS}"
    events, seen = dict[str, Event](), Counter[tuple[str, ...]]()
    for marked in marked_days(programme, garden, season, doses or {}):
        seen[marked.key] += 1  # of several with one key each is named by its place among them
        uid = f"{_digest(*marked.key, str(seen[marked.key]))[:24]}{mark}"
        events[uid] = _event(marked, uid, stamp)
    _merge(calendar, events, mark, stamp)
    return bytes(calendar.to_ical())


def season_calendar(
    path: Path,
    programme: Programme,
    garden: Garden,
    made_at: dt.datetime,
    mixed: Iterable[MixedFeeding] = (),
    *,
    replace: bool = False,
) -> bytes:
    """Return the season's calendar: the one that stands there renewed, or a new one to replace any other."""
    doses = {
        one.feeding: say_mix(one.mix, garden.group(one.feeding.group), garden.units)
        for one in mixed
        if one.mix is not None
    }
    try:
        return calendar_bytes(programme, garden, made_at, _read(path), doses=doses, file=path)
    except InputError:
        if not replace:
            raise
        return calendar_bytes(programme, garden, made_at, doses=doses)


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


def _parse(before: bytes, file: Path | None) -> Calendar:
    """Read a calendar that frostgate made and that can be written anew without loss."""
    try:
        calendar = Calendar.from_ical(before.decode("utf-8-sig"))
        again = calendar.to_ical()
    except Exception:  # whatever a parser of foreign text may raise
        raise InputError("not a calendar", file=file, remedy=ANOTHER_FILE) from None
    maker, lines = calendar.get("PRODID"), _numbered(before)
    if str(maker) != PRODID:
        line = next((number for number, text in lines if text.startswith("PRODID")), None)
        what = "not a calendar that frostgate made"
        raise InputError(what, file=file, line=line, value=maker, remedy=ANOTHER_FILE)
    own = [part for part in calendar.subcomponents if str(part.get("UID")).endswith(OURS)]
    if _lines(again) != _lines(before) or not all(isinstance(one.get("SEQUENCE", 0), int) for one in own):
        what = "a calendar that was edited and cannot be written anew without loss"
        raise InputError(what, file=file, line=_first_lost(lines, again), remedy=ANOTHER_FILE)
    return calendar


def _lines(content: bytes) -> list[str]:
    return sorted(text for _, text in _numbered(content))


def _first_lost(lines: Iterable[tuple[int, str]], again: bytes) -> int | None:
    """Return the number of the first line that a calendar lacks once it is written anew."""
    left = Counter(_lines(again))
    for number, text in lines:
        left[text] -= 1
        if left[text] < 0:
            return number
    return None


def _numbered(content: bytes) -> list[tuple[int, str]]:
    """Return a calendar's lines, unfolded, each with its number in the file; empty ones are left out."""
    found, number = list[tuple[int, str]](), 1
    for text in re.split(r"\r?\n(?![ \t])", content.decode("utf-8-sig")):
        found.append((number, re.sub(r"\r?\n[ \t]", "", text)))
        number += text.count("\n") + 1
    return [one for one in found if one[1]]


def _merge(calendar: Calendar, events: dict[str, Event], mark: str, stamp: dt.datetime) -> None:
    """Put the events into a calendar: changed ones revised, vanished ones cancelled, all others left."""
    known, others = dict[str, Event](), list[Component]()
    for part in calendar.subcomponents:
        uid = str(part.get("UID"))
        if not isinstance(part, Event) or not uid.endswith(mark):
            others.append(part)
        elif uid in events:
            known.setdefault(uid, part)
        else:
            others.append(part)
            if part.get("STATUS") != STATUS.CANCELLED:
                part.status, part.sequence, part.stamp = STATUS.CANCELLED, part.sequence + 1, stamp
                part.subcomponents = []
    for uid, before in known.items():
        if _content(events[uid]) == _content(before) and "DTSTAMP" in before:
            events[uid] = before
        else:
            events[uid].sequence = before.sequence + 1
    calendar.subcomponents = [*events.values(), *others]


def _content(event: Event) -> list[str]:
    """Return all that an event says, less when and how often it was revised."""
    return [line for line in _lines(event.to_ical()) if not line.startswith(("DTSTAMP", "SEQUENCE"))]
