"""The season as a calendar: what stands in it, how it is brought up to date, what is never overwritten."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pytest
from icalendar import Calendar, Event

from frostgate.errors import InputError
from frostgate.files import save
from frostgate.model.feedings import Feeding, NoFeeding, Programme, Status
from frostgate.model.garden import Garden, Site
from frostgate.show.calendar import PRODID, calendar_bytes, season_calendar

MADE = dt.datetime(2026, 4, 12, 7, 30, tzinfo=dt.timezone(dt.timedelta(hours=-4)))
LATER = MADE + dt.timedelta(days=1)
GATE, STOP = dt.date(2026, 5, 16), dt.date(2026, 8, 20)
GARDEN = Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),))
WINTER = NoFeeding(name="local ordinance", first=(11, 15), last=(3, 1))


def feeding(day: dt.date | None = GATE, number: int = 1, status: Status = "planned", **rest) -> Feeding:
    usual = {"group": "old plums", "phase": "wake-up", "kind": "liquid", "portions": (), "reason": "the gate"}
    return Feeding(date=day, number=number, status=status, not_before_gate=True, **(usual | rest))


def plan(*feedings: Feeding, gate: dt.date | None = GATE, stop: dt.date | None = STOP) -> Programme:
    return Programme(feedings=feedings, gate=gate, stop=stop, n_per_pot_g=(), notes=())


def write_calendar(file: Path, programme: Programme, garden: Garden, made_at: dt.datetime) -> None:
    save(file, season_calendar(file, programme, garden, made_at))


def events(content: bytes) -> dict[str, Event]:
    found = Calendar.from_ical(content).events
    assert len({event["UID"] for event in found}) == len(found)
    return {str(event["SUMMARY"]): event for event in found}


def write(*feedings: Feeding, garden: Garden = GARDEN, made_at=MADE, before: bytes | None = None, **rest):
    doses = rest.pop("doses", None)
    return calendar_bytes(plan(*feedings, **rest), garden, made_at, before, doses=doses)


def test_a_planned_feeding_takes_one_whole_day_and_may_still_move():
    found = events(write(feeding(), doses={feeding(): "5 tbsp First feed for old plums"}))
    event = found["Feed old plums: wake-up 1"]

    assert (event.start, event.end) == (GATE, GATE + dt.timedelta(days=1))
    assert event["DTSTART"].params["VALUE"] == event["DTEND"].params["VALUE"] == "DATE"
    assert (event["STATUS"], event["SEQUENCE"], event["TRANSP"]) == ("TENTATIVE", 0, "TRANSPARENT")
    assert event["DTSTAMP"].dt == dt.datetime(2026, 4, 12, 11, 30, tzinfo=dt.UTC)
    assert event["DESCRIPTION"].split("\n")[:2] == ["5 tbsp First feed for old plums", "the gate"]


@pytest.mark.parametrize(
    ("status", "summary", "shown"),
    [
        ("done", "Fed old plums: wake-up 1", ("CONFIRMED", 0)),
        ("due", "Feed old plums: wake-up 1", ("CONFIRMED", 1)),
        ("planned", "Feed old plums: wake-up 1", ("TENTATIVE", 1)),
        ("held", "Feed old plums: wake-up 1", ("TENTATIVE", 1)),
        ("waiting", "Feed old plums: wake-up 1", ("TENTATIVE", 1)),
    ],
)
def test_what_is_done_or_due_is_confirmed_and_only_what_is_to_do_is_recalled(status, summary, shown):
    event = events(write(feeding(status=status)))[summary]

    assert (event["STATUS"], len(event.subcomponents)) == shown


def test_what_has_no_date_or_is_left_out_has_no_event():
    found = events(write(feeding(None, status="waiting"), feeding(number=2, status="left out")))

    assert list(found) == [
        "Feeding may begin at Hollin Bank (forecast)",
        "Last day for nitrogen at Hollin Bank",
    ]


def test_the_gate_is_a_forecast_until_something_was_fed():
    gate = events(write(feeding()))["Feeding may begin at Hollin Bank (forecast)"]
    begun = events(write(feeding(status="done")))["Feeding began at Hollin Bank"]

    assert (gate["STATUS"], gate.start) == ("TENTATIVE", GATE)
    assert "moves with the weather" in gate["DESCRIPTION"]
    assert (begun["STATUS"], begun["UID"]) == ("CONFIRMED", gate["UID"])


def test_days_without_feeding_stand_within_the_seasons_year():
    found = Calendar.from_ical(write(garden=replace(GARDEN, no_feeding=(WINTER,)))).events
    windows = [
        (event.start, event.end) for event in found if event["SUMMARY"] == "No feeding: local ordinance"
    ]

    # both ends are part of the rule, and the end of an event is not part of it (RFC 5545, section 3.6.1)
    assert windows == [
        (dt.date(2026, 1, 1), dt.date(2026, 3, 2)),
        (dt.date(2026, 11, 15), dt.date(2027, 1, 1)),
    ]
    assert "every year from 15 Nov to 1 Mar" in found[-1]["DESCRIPTION"]


@pytest.mark.parametrize(
    ("hemisphere", "gate", "stop", "first", "last"),
    [
        ("south", dt.date(2026, 9, 16), None, dt.date(2026, 7, 1), dt.date(2027, 6, 30)),
        (None, dt.date(2026, 9, 16), None, dt.date(2026, 7, 1), dt.date(2027, 6, 30)),
        ("north", dt.date(2025, 12, 20), None, dt.date(2026, 1, 1), dt.date(2026, 12, 31)),
        (None, None, dt.date(2027, 3, 1), dt.date(2026, 7, 1), dt.date(2027, 6, 30)),
        (None, None, STOP, dt.date(2026, 1, 1), dt.date(2026, 12, 31)),
        (None, None, None, dt.date(2026, 1, 1), dt.date(2026, 12, 31)),  # the year it is made in
    ],
)
def test_a_season_has_one_year_in_either_hemisphere(hemisphere, gate, stop, first, last):
    rule = NoFeeding(name="never", first=(1, 1), last=(12, 31))
    garden = replace(GARDEN, sites=(Site(name="Hollin Bank", hemisphere=hemisphere),), no_feeding=(rule,))
    event = events(write(garden=garden, gate=gate, stop=stop))["No feeding: never"]

    assert (event.start, event.end - dt.timedelta(days=1)) == (first, last)


def test_a_feeding_that_moves_keeps_its_uid_and_raises_its_sequence():
    before = write(feeding(), feeding(GATE + dt.timedelta(days=10), 2))
    moved = events(write(feeding(GATE + dt.timedelta(days=3)), feeding(GATE + dt.timedelta(days=10), 2),
                         before=before, made_at=LATER))  # fmt: skip
    old, new = events(before)["Feed old plums: wake-up 1"], moved["Feed old plums: wake-up 1"]
    same = moved["Feed old plums: wake-up 2"]

    assert (new["UID"], new["SEQUENCE"], new.start) == (old["UID"], 1, GATE + dt.timedelta(days=3))
    assert new["DTSTAMP"].dt == LATER.astimezone(dt.UTC)
    assert (same["SEQUENCE"], same["DTSTAMP"].dt) == (0, MADE.astimezone(dt.UTC))


def test_the_same_plan_is_the_same_file_to_the_byte():
    assert write(feeding()) == write(feeding())


def test_a_feeding_keeps_its_uid_when_the_one_before_it_is_left_out():
    second = feeding(GATE + dt.timedelta(days=10), 2)
    both = events(write(feeding(), second))
    alone = events(write(feeding(status="left out"), second))

    assert alone["Feed old plums: wake-up 2"]["UID"] == both["Feed old plums: wake-up 2"]["UID"]


def test_a_feeding_that_left_the_plan_is_cancelled_once_and_can_come_back():
    before = write(feeding(), feeding(GATE + dt.timedelta(days=10), 2))
    without = write(feeding(), before=before, made_at=LATER)
    gone = events(without)["Feed old plums: wake-up 2"]
    back = write(feeding(), feeding(GATE + dt.timedelta(days=10), 2), before=without, made_at=LATER)

    assert (gone["STATUS"], gone["SEQUENCE"], gone["DTSTAMP"].dt) == (
        "CANCELLED",
        1,
        LATER.astimezone(dt.UTC),
    )
    assert not gone.subcomponents
    assert write(feeding(), before=without, made_at=LATER + dt.timedelta(days=1)) == without
    assert events(back)["Feed old plums: wake-up 2"]["SEQUENCE"] == 2


def test_another_garden_and_last_season_stay_as_they_stood():
    last_year = write(
        feeding(GATE.replace(year=2025), status="done"), gate=GATE.replace(year=2025), stop=None
    )
    other = replace(GARDEN, sites=(Site(name="Mill Lane"),))
    both = write(feeding(group="lemons"), garden=other, before=last_year, made_at=LATER)
    all_three = Calendar.from_ical(write(feeding(), before=both, made_at=LATER)).events
    kept = Calendar.from_ical(both).events

    assert len(all_three) == len(kept) + 3
    assert {event.to_ical() for event in kept} <= {event.to_ical() for event in all_three}


def test_two_feedings_of_one_name_have_two_events():
    found = Calendar.from_ical(write(feeding(status="done"), feeding(GATE + dt.timedelta(days=9)))).events

    assert len({event["UID"] for event in found}) == len(found) == 4


def test_a_reminder_comes_on_the_evening_before_the_day():
    (alarm,) = events(write(feeding()))["Feed old plums: wake-up 1"].subcomponents

    assert (alarm["TRIGGER"].to_ical(), alarm["ACTION"]) == (b"-PT6H", "DISPLAY")


def test_a_time_without_its_zone_is_refused():
    with pytest.raises(InputError, match="needs its zone"):
        calendar_bytes(plan(), GARDEN, MADE.replace(tzinfo=None))


EMPTY = f"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:{PRODID}\r\n%sEND:VCALENDAR\r\n"
BAD = [
    (b"", "not a calendar"),
    (b"dear diary", "not a calendar"),
    (b"BEGIN:VCALENDAR\r\nVERSION:2.0\r\n", "not a calendar"),
    (b"BEGIN:VCALENDAR\r\nPRODID:\xff\xfe\r\nEND:VCALENDAR\r\n", "not a calendar"),
    (EMPTY.replace("-//frostgate", "-//example").encode() % b"", "not a calendar that frostgate made"),
    (b"BEGIN:VEVENT\r\nUID:1\r\nEND:VEVENT\r\n", "not a calendar that frostgate made"),
    ((EMPTY + "BEGIN:VCALENDAR\r\nVERSION:2.0\r\n").encode() % b"", "without loss"),  # cut short
    (
        EMPTY.encode() % b"BEGIN:VEVENT\r\nUID:1-2026@frostgate\r\nSEQUENCE:two\r\nEND:VEVENT\r\n",
        "without loss",
    ),
]


@pytest.mark.parametrize(("content", "what"), BAD, ids=range(len(BAD)))
def test_a_file_that_cannot_be_brought_up_to_date_is_named_and_left_alone(content, what, tmp_path):
    file = tmp_path / "a.ics"
    file.write_bytes(content)

    with pytest.raises(InputError, match=what) as fault:
        write_calendar(file, plan(feeding()), GARDEN, MADE)

    assert (fault.value.file, bool(fault.value.remedy)) == (str(file), True)
    assert (
        fault.value.line is not None
        or b"VERSION" not in content
        or what != "not a calendar that frostgate made"
    )
    assert [(path.name, path.read_bytes()) for path in tmp_path.iterdir()] == [("a.ics", content)]


FOLDED = "BEGIN:VEVENT\r\nUID:1\r\nSUMMARY:folded\r\n  here\r\nEND:VEVENT\r\n"
CUT_SHORT = EMPTY % FOLDED + "BEGIN:VCALENDAR\r\nVERSION:2.0\r\n"


@pytest.mark.parametrize(
    ("content", "line"),
    [(EMPTY.replace("-//frostgate", "-//example") % "", 3), (CUT_SHORT, 10)],
    ids=["another's", "what would be lost"],
)
def test_the_line_that_stands_in_the_way_is_named(content, line):
    with pytest.raises(InputError, match=r"frostgate made|without loss") as fault:
        write(feeding(), before=content.encode())
    assert fault.value.line == line


def test_a_file_is_written_whole_through_a_link_and_left_alone_where_nothing_changed(tmp_path):
    (tmp_path / "shared").mkdir()
    file, link = tmp_path / "shared" / "real.ics", tmp_path / "a.ics"
    link.symlink_to(file)
    write_calendar(link, plan(feeding()), GARDEN, MADE)
    first = file.stat()
    write_calendar(link, plan(feeding()), GARDEN, LATER)

    assert link.is_symlink()
    assert (file.stat().st_ino, file.stat().st_mtime_ns) == (first.st_ino, first.st_mtime_ns)
    assert list(file.parent.iterdir()) == [file]
    write_calendar(link, plan(), GARDEN, LATER)
    assert events(file.read_bytes())["Feed old plums: wake-up 1"]["STATUS"] == "CANCELLED"


def test_a_folder_or_no_folder_cannot_be_written_to(tmp_path):
    with pytest.raises(InputError, match="no file"):
        write_calendar(tmp_path, plan(), GARDEN, MADE)
    with pytest.raises(InputError, match="cannot be written") as fault:
        write_calendar(tmp_path / "none" / "a.ics", plan(), GARDEN, MADE)
    assert fault.value.file == str(tmp_path / "none" / "a.ics")


def test_a_fault_while_writing_leaves_the_old_file(tmp_path, monkeypatch):
    file = tmp_path / "a.ics"
    write_calendar(file, plan(feeding()), GARDEN, MADE)
    before = file.read_bytes()

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(InputError, match="No space left"):
        write_calendar(file, plan(), GARDEN, LATER)
    monkeypatch.setattr(Path, "read_bytes", full)
    with pytest.raises(InputError, match="cannot be read"):
        write_calendar(file, plan(), GARDEN, LATER)
    monkeypatch.undo()
    assert [(path.name, path.read_bytes()) for path in tmp_path.iterdir()] == [("a.ics", before)]
