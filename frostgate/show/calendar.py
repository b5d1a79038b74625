"""The season as a calendar (RFC 5545) that a phone or a desktop can import again and again.

An event keeps its UID while its date moves, so importing the file once more moves it too. Its sequence number
rises with each change, and what has left the plan stays in the file as cancelled.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import json
import re
import secrets
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from icalendar import Alarm, Calendar, Component, Event, vInt

from frostgate.errors import InputError
from frostgate.show.occasions import DAY, Occasion, Say, season_occasions, season_year
from frostgate.terms.feedings import Programme
from frostgate.terms.garden import Garden

PRODID = "-//frostgate//feeding calendar//EN"
OURS = "@frostgate"
ANOTHER_FILE = "Name another file, or move this one away."
REMIND_HOURS = 6.0  # before the day begins: at 18:00 of the evening before
LARGEST = 16 * 2**20  # bytes; a season has some 50 kB


def calendar_bytes(
    programme: Programme,
    garden: Garden,
    made_at: dt.datetime,
    before: bytes | None = None,
    *,
    doses: Say | None = None,
    remind_hours: float | None = REMIND_HOURS,
) -> bytes:
    r"""Write the dated feedings, the gate, the stop and the days without feeding as all-day events.

    Parameters
    ----------
    programme, garden
        The season and whose it is. The name of the home site is part of every UID.
    made_at
        Now, with its time zone.
    before
        The calendar that stands in the file. Where nothing changed it is given back byte by byte; other
        gardens, other seasons and events added by hand stay in it.
    doses
        Says what is mixed for a feeding; nothing by default.
    remind_hours
        How long before the day of a feeding begins it is recalled [h]; None for never.

    Raises
    ------
    InputError
        Where ``before`` is no calendar of frostgate, ``made_at`` has no zone, or the hours are no hours.

    Examples
    --------
    >>> from frostgate.terms.garden import Site
    >>> garden = Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),))
    >>> plan = Programme(feedings=(), gate=dt.date(2026, 5, 16), stop=None, n_per_pot_g=(), notes=())
    >>> ics = calendar_bytes(plan, garden, dt.datetime(2026, 4, 12, 6, tzinfo=dt.UTC))
    >>> [line for line in ics.decode().split("\r\n") if line.startswith(("DT", "STATUS", "SUMMARY"))]
    ... # doctest: +NORMALIZE_WHITESPACE
    ['SUMMARY:Feeding may begin at Hollin Bank (forecast)', 'DTSTART;VALUE=DATE:20260516',
     'DTEND;VALUE=DATE:20260517', 'DTSTAMP:20260412T060000Z', 'STATUS:TENTATIVE']
    """
    calendar = _parse(before, None)
    _fill(calendar, programme, garden, made_at, doses=doses, remind_hours=remind_hours)
    return bytes(calendar.to_ical())


def write_calendar(
    path: Path,
    programme: Programme,
    garden: Garden,
    made_at: dt.datetime,
    *,
    doses: Say | None = None,
    remind_hours: float | None = REMIND_HOURS,
) -> None:
    """Write the season's calendar, or bring the one that stands there up to date; it is whole or unchanged.

    Raises
    ------
    InputError
        Where the file is no calendar of frostgate, which is then left alone, or cannot be read or written.

    Examples
    --------
    >>> import tempfile
    >>> from frostgate.terms.garden import Site
    >>> garden = Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),))
    >>> plan = Programme(feedings=(), gate=dt.date(2026, 5, 16), stop=None, n_per_pot_g=(), notes=())
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_calendar(Path(folder) / "a.ics", plan, garden, dt.datetime(2026, 4, 12, tzinfo=dt.UTC))
    ...     (Path(folder) / "a.ics").read_bytes()[:15]
    b'BEGIN:VCALENDAR'
    """
    before = _read(path)
    calendar = _parse(before, path)
    _fill(calendar, programme, garden, made_at, doses=doses, remind_hours=remind_hours)
    content = bytes(calendar.to_ical())
    if content != before:
        _put(content, path)


def _read(path: Path) -> bytes | None:
    try:
        if not path.exists():
            return None
        if not path.is_file() or path.stat().st_size > LARGEST:
            raise InputError("no file, or too large for a calendar", file=path, remedy=ANOTHER_FILE)
        return path.read_bytes()
    except OSError as fault:
        raise InputError("cannot be read", file=path, value=fault.strerror, remedy=ANOTHER_FILE) from None


def _put(content: bytes, path: Path) -> None:
    whole = path.resolve()
    unfinished = whole.with_name(f".{secrets.token_hex(8)}.ics")
    try:
        unfinished.write_bytes(content)
        unfinished.replace(whole)
    except OSError as fault:
        remedy = "Name a file in a folder that can be written to."
        raise InputError("cannot be written", file=path, value=fault.strerror, remedy=remedy) from None
    finally:
        with contextlib.suppress(OSError):
            unfinished.unlink()


def _fill(
    calendar: Calendar,
    programme: Programme,
    garden: Garden,
    made_at: dt.datetime,
    *,
    doses: Say | None,
    remind_hours: float | None,
) -> None:
    """Bring a calendar up to date."""
    if made_at.tzinfo is None:
        raise InputError("the time at which a calendar is made needs its zone", value=made_at)
    if remind_hours is not None and not 0.0 <= remind_hours <= 24.0 * 28:
        raise InputError("a reminder comes 0 to 672 hours before the day", value=remind_hours)
    stamp = made_at.astimezone(dt.UTC).replace(microsecond=0)
    season = season_year(programme, garden, made_at.date())
    mark = f"-{season.year}-{_digest(garden.home.name)[:8]}{OURS}"
    events = {
        uid: _event(uid, occasion, stamp, remind_hours)
        for uid, occasion in _with_uids(season_occasions(programme, garden, season, doses), mark)
    }
    _merge(calendar, events, mark, stamp)


def _with_uids(occasions: Iterator[Occasion], mark: str) -> Iterator[tuple[str, Occasion]]:
    """Name each by its key and, of several with one key, by their order."""
    seen: Counter[tuple[str, ...]] = Counter()
    for occasion in occasions:
        seen[occasion.key] += 1
        yield f"{_digest(*occasion.key, str(seen[occasion.key]))[:24]}{mark}", occasion


def _digest(*parts: str) -> str:
    return hashlib.sha256(json.dumps(parts).encode()).hexdigest()


def _event(uid: str, occasion: Occasion, stamp: dt.datetime, remind_hours: float | None) -> Event:
    event, summary = Event(), " ".join(_plain(occasion.summary).split())
    event.add("UID", uid)
    event.add("DTSTAMP", stamp)
    event.add("SEQUENCE", 0)
    event.add("DTSTART", occasion.first)
    event.add("DTEND", occasion.last + DAY)  # the first day that is no longer part of it
    event.add("SUMMARY", summary)
    event.add("STATUS", occasion.status)
    event.add("TRANSP", "TRANSPARENT")
    if occasion.description:
        event.add("DESCRIPTION", _plain(occasion.description))
    if occasion.reminded and remind_hours is not None:
        alarm = Alarm()
        alarm.add("ACTION", "DISPLAY")
        alarm.add("TRIGGER", dt.timedelta(hours=-remind_hours))
        alarm.add("DESCRIPTION", summary)
        event.add_component(alarm)
    return event


def _plain(text: str) -> str:
    r"""Leave out what no calendar may hold; ``\N`` becomes small: icalendar would break the line there."""
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\\N", "\\n")
    return re.sub(r"[\x00-\x08\x0b-\x1f\x7f\ud800-\udfff]", " ", text)


def _parse(before: bytes | None, file: Path | None) -> Calendar:
    """Read a calendar that can be written anew without loss; make a new one where there is none."""
    if before is None:
        return _new_calendar()
    try:
        calendar = Calendar.from_ical(before.decode("utf-8-sig"))
        again = calendar.to_ical()
    except Exception:  # whatever a parser of foreign text may raise
        raise InputError("not a calendar", file=file, remedy=ANOTHER_FILE) from None
    maker = calendar.get("PRODID")
    if str(maker) != PRODID:
        what = "not a calendar that frostgate made"
        raise InputError(what, file=file, value=maker, remedy=ANOTHER_FILE)
    if _lines(again) != _lines(before) or not all(map(_is_numbered, calendar.subcomponents)):
        what = "a calendar that was edited and cannot be written anew without loss"
        raise InputError(what, file=file, remedy=ANOTHER_FILE)
    return calendar


def _new_calendar() -> Calendar:
    calendar = Calendar()
    calendar.add("PRODID", PRODID)
    calendar.add("VERSION", "2.0")
    return calendar


def _is_numbered(component: Component) -> bool:
    """Tell whether an event of frostgate has a sequence that can be raised."""
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
    for name in ("STATUS", "SEQUENCE", "DTSTAMP"):
        event.pop(name, None)
    event.add("STATUS", "CANCELLED")
    event.add("SEQUENCE", sequence)
    event.add("DTSTAMP", stamp)
    event.subcomponents = []
    return event


def _content(event: Component) -> list[str]:
    """Give all that an event says, less when and how often it was revised."""
    return [line for line in _lines(event.to_ical()) if not line.startswith(("DTSTAMP", "SEQUENCE"))]
