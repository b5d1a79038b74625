"""The calendar against RFC 5545 (2009), read line by line without the library that writes it."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import pytest

from frostgate.model.feedings import Feeding, NoFeeding, Programme
from frostgate.model.garden import Garden, Site
from frostgate.show.calendar import calendar_bytes

MADE = dt.datetime(2007, 4, 23, 8, 34, 32, tzinfo=dt.timezone(dt.timedelta(hours=-4)))
# Section 3.6.1: "a multi-day event scheduled from June 28th, 2007 to July 8th, 2007 inclusively"
FESTIVAL = """BEGIN:VEVENT
UID:20070423T123432Z-541111@example.com
DTSTAMP:20070423T123432Z
DTSTART;VALUE=DATE:20070628
DTEND;VALUE=DATE:20070709
SUMMARY:Festival International de Jazz de Montreal
TRANSP:TRANSPARENT
END:VEVENT
"""
NAMES = ["old plums", "Zitronen im Gewächshaus an der Südmauer, Töpfe über zwanzig Liter, geschützt",
         "李子和柠檬在南墙边的大花盆里越冬需要保护免受霜冻侵害每天早上检查一次温度", "🍋" * 40, "é" * 80,
         "a\\b;c,d: \"e\" 'f'", "two\nlines", "x" * 300]  # fmt: skip


def season(name: str = "old plums", reason: str = "the gate opens") -> tuple[Programme, Garden]:
    day = dt.date(2007, 5, 16)
    fed = Feeding(date=day, group=name, phase="wake-up", kind="liquid", portions=(), number=1, status="due",
                  not_before_gate=True, reason=reason)  # fmt: skip
    rule = NoFeeding(name="festival", first=(6, 28), last=(7, 8))
    programme = Programme(feedings=(fed,), gate=day, stop=dt.date(2007, 8, 20), n_per_pot_g=(), notes=())
    return programme, Garden(file=Path("g.toml"), sites=(Site(name="Hollin Bank"),), no_feeding=(rule,))


def unfolded(content: bytes) -> list[str]:
    """Section 3.1: a line goes on after each CRLF that white space follows."""
    return content.decode().replace("\r\n ", "").split("\r\n")[:-1]


def blocks(content: bytes, name: str) -> list[list[str]]:
    text = "\n".join(unfolded(content))
    return [found.split("\n") for found in re.findall(f"BEGIN:{name}\n(.*?)\nEND:{name}", text, re.DOTALL)]


def test_the_end_of_the_standards_own_example_is_the_day_after_its_last():
    """DTEND "specifies the non-inclusive end of the event" (section 3.6.1)."""
    window = [
        lines for lines in blocks(calendar_bytes(*season(), MADE), "VEVENT") if "festival" in "".join(lines)
    ]

    assert set(FESTIVAL.split("\n")[3:5]) <= set(window[0])
    start, end = dt.date(2007, 6, 28), dt.date(2007, 7, 9)
    assert ((end - start).days, end - dt.timedelta(days=1)) == (11, dt.date(2007, 7, 8))
    assert "DTSTAMP:20070423T123432Z" in window[0]  # UTC, section 3.8.7.2


def test_the_standards_own_example_stays_in_a_calendar_it_was_added_to():
    first = calendar_bytes(*season(), MADE)
    added = first.replace(b"END:VCALENDAR", FESTIVAL.replace("\n", "\r\n").encode() + b"END:VCALENDAR")
    again = calendar_bytes(*season(), MADE + dt.timedelta(days=1), added)

    assert sorted(unfolded(again)) == sorted(unfolded(added))
    assert set(FESTIVAL.strip().split("\n")) <= set(unfolded(again))


@pytest.mark.parametrize("name", NAMES, ids=lambda name: name[:8])
def test_no_line_is_longer_than_75_octets_whatever_the_script(name):
    """Section 3.1; a line break is CRLF, and no character is cut in two."""
    content = calendar_bytes(*season(name), MADE)

    assert max(len(line) for line in content.split(b"\r\n")) <= 75
    assert b"\n" not in content.replace(b"\r\n", b"")
    assert b"\r" not in content.replace(b"\r\n", b"")
    for line in content.split(b"\r\n"):
        line.decode()


@pytest.mark.parametrize(
    ("text", "written"),
    [
        ("a\\b", "a\\\\b"),
        ("a;b", "a\\;b"),
        ("a,b", "a\\,b"),
        ("a\nb", "a\\nb"),
        ("a\r\nb\rc", "a\\nb\\nc"),
        ("a:b", "a:b"),  # a colon is not escaped
        ('"a"', '"a"'),
        ("C:\\Now", "C:\\\\now"),  # or it would be read as a line break
        ("a\x00b\x1bc\td", "a b c\td"),  # of the control characters only the tab may stand in a text
        ("a\ud800b", "a b"),  # half a character, as a garbled option can hold
    ],
)
def test_text_is_escaped_as_the_standard_asks(text, written):
    """Section 3.3.11."""
    lines = unfolded(calendar_bytes(*season(reason=text), MADE))

    assert f"DESCRIPTION:{written}" in lines


def test_every_event_has_what_it_must_have_and_once():
    """Sections 3.6, 3.6.1 and 3.6.6."""
    content = calendar_bytes(*season(), MADE)
    lines, events = unfolded(content), blocks(content, "VEVENT")

    assert (lines[0], lines[-1]) == ("BEGIN:VCALENDAR", "END:VCALENDAR")
    assert {
        name: lines.count(name) for name in ("VERSION:2.0", "PRODID:-//frostgate//feeding calendar//EN")
    } == {
        "VERSION:2.0": 1,
        "PRODID:-//frostgate//feeding calendar//EN": 1,
    }
    assert not [line for line in lines if line.startswith("METHOD") or "TZID" in line]
    assert len(events) == 4
    for event in events:
        own = event[: event.index("BEGIN:VALARM")] if "BEGIN:VALARM" in event else event
        names = [re.split("[:;]", line)[0] for line in own]
        assert [names.count(name) for name in ("UID", "DTSTAMP", "DTSTART", "DTEND", "SEQUENCE")] == [1] * 5
        assert "DURATION" not in names
        assert "SEQUENCE:0" in own  # "when a calendar component is created" (section 3.8.7.4)
        assert any(re.fullmatch(r"DTSTAMP:\d{8}T\d{6}Z", line) for line in own)
        assert all(re.fullmatch(r"DT(START|END);VALUE=DATE:\d{8}", line) for line in own if "VALUE=" in line)
    assert len({line for event in events for line in event if line.startswith("UID:")}) == 4


def test_a_reminder_is_a_display_alarm_relative_to_the_day():
    """Sections 3.6.6 and 3.8.6.3; six hours before midnight is 18:00 of the evening before."""
    alarms = blocks(calendar_bytes(*season(), MADE), "VALARM")

    assert sorted(alarms[0]) == ["ACTION:DISPLAY", "DESCRIPTION:Feed old plums: wake-up 1", "TRIGGER:-PT6H"]
    assert len(alarms) == 1
