"""Laws of the calendar, over seasons that nobody chose."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from pathlib import Path

from hypothesis import event as note
from hypothesis import given, settings
from hypothesis import strategies as st
from icalendar import Calendar

from frostgate.errors import InputError
from frostgate.model.feedings import Feeding, NoFeeding, Programme
from frostgate.model.garden import Garden, Site
from frostgate.show.calendar import calendar_bytes

law = settings(derandomize=True, deadline=None, max_examples=60)
MADE = dt.datetime(2026, 4, 12, 6, tzinfo=dt.UTC)
DAY = dt.timedelta(days=1)
DAYS = st.dates(dt.date(2026, 1, 1), dt.date(2026, 12, 31))
SPRING = st.dates(dt.date(2026, 1, 1), dt.date(2026, 7, 31))  # a later gate is that of the next season
NAMES = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=40) | st.sampled_from(
    ["old plums", "a\\b;c,d", "two\nlines", "<b>", "\\N", "BEGIN:VEVENT", "\ufeffx", "x\u2028y"]
)
MINE = b"BEGIN:VEVENT\r\nUID:mine\r\nDTSTAMP:20260101T000000Z\r\nDTSTART:20260101T090000Z\r\nEND:VEVENT\r\n"
MUTATIONS = [b"", b" ", b":", b";", b"\r\n", b"\n", b"\\", b"x", b"X-MINE:1\r\n", b"\xff", b"\x00", b"BEGIN:"]
MONTH_DAYS = st.tuples(st.integers(1, 12), st.integers(1, 28))


def feedings() -> st.SearchStrategy[Feeding]:
    return st.builds(
        Feeding,
        date=st.none() | DAYS,
        group=NAMES,
        phase=st.sampled_from(["wake-up", "build-up", "fruiting"]),
        kind=st.sampled_from(["liquid", "top-dressing"]),
        portions=st.just(()),
        number=st.integers(1, 3),
        status=st.sampled_from(["done", "due", "planned", "waiting", "held", "left out"]),
        not_before_gate=st.just(True),
        reason=NAMES | st.just(""),
    )


def programmes(gates: st.SearchStrategy[dt.date | None]) -> st.SearchStrategy[Programme]:
    return st.builds(
        Programme,
        feedings=st.lists(feedings(), max_size=12).map(tuple),
        gate=gates,
        stop=st.none() | DAYS,
        n_per_pot_g=st.just(()),
        notes=st.just(()),
    )


def gardens() -> st.SearchStrategy[Garden]:
    return st.builds(
        Garden,
        file=st.just(Path("garden.toml")),
        sites=st.sampled_from([(Site(name="Hollin Bank", hemisphere="north"),)]),
        no_feeding=st.lists(
            st.builds(NoFeeding, name=NAMES, first=MONTH_DAYS, last=MONTH_DAYS), max_size=2
        ).map(tuple),
    )


def lines(content: bytes) -> list[str]:
    return re.split(r"\r?\n", re.sub(r"\r?\n[ \t]", "", content.decode("utf-8-sig")))


def one_line(text: str) -> str:
    """Write a name as one line, and as icalendar can hold it."""
    return " ".join(text.replace("\\N", "\\n").split())


@law
@given(programmes(st.none() | DAYS), gardens())
def test_a_calendar_parses_back_to_the_same_plan(programme, garden):
    found = Calendar.from_ical(calendar_bytes(programme, garden, MADE)).events
    read = Counter((str(event["SUMMARY"]), event.start, event.end - DAY) for event in found)
    expected = Counter(
        (
            one_line(f"{'Fed' if f.status == 'done' else 'Feed'} {f.group}: {f.phase} {f.number}"),
            f.date,
            f.date,
        )
        for f in programme.feedings
        if f.date is not None and f.status != "left out"
    )
    dated = [day for day in (programme.gate, programme.stop) if day is not None]

    assert expected <= read
    assert len(found) - sum(expected.values()) - len(dated) == sum(
        summary.startswith("No feeding:") for summary, _, _ in read.elements()
    )
    assert len({event["UID"] for event in found}) == len(found)


@law
@given(gardens(), DAYS, st.integers(2026, 2027))
def test_a_day_without_feeding_is_in_the_calendar_exactly_where_a_rule_forbids_it(garden, day, year):
    gate = dt.date(year, 4, 1)
    programme = Programme(feedings=(), gate=gate, stop=None, n_per_pot_g=(), notes=())
    found = Calendar.from_ical(calendar_bytes(programme, garden, MADE)).events
    day = day.replace(year=year)
    shown = any(event.start <= day < event.end for event in found if "No feeding" in event["SUMMARY"])

    assert shown == any(rule.forbids(day) for rule in garden.no_feeding)


@law
@given(programmes(SPRING), gardens(), st.integers(0, 400))
def test_the_same_plan_on_another_day_is_the_same_file(programme, garden, days):
    first = calendar_bytes(programme, garden, MADE)

    assert calendar_bytes(programme, garden, MADE + days * DAY, first) == first


@law
@given(programmes(SPRING), programmes(SPRING), gardens())
def test_a_sequence_rises_with_each_change_and_nothing_that_stood_there_is_lost(one, other, garden):
    first = calendar_bytes(one, garden, MADE)
    second = calendar_bytes(other, garden, MADE + DAY, first)
    before = {event["UID"]: event for event in Calendar.from_ical(first).events}
    after = {event["UID"]: event for event in Calendar.from_ical(second).events}
    fresh = {event["UID"]: event for event in Calendar.from_ical(calendar_bytes(other, garden, MADE)).events}

    assert after.keys() == before.keys() | fresh.keys()
    for uid, event in after.items():
        if uid in before:
            changed = event.to_ical() != before[uid].to_ical()
            assert event["SEQUENCE"] == before[uid]["SEQUENCE"] + changed
            assert event["DTSTAMP"].dt == MADE + changed * DAY
        assert (event["STATUS"] == "CANCELLED") == (uid not in fresh)


@law
@given(st.data())
def test_a_garbled_event_added_by_hand_is_refused_or_keeps_every_line(data):
    garden = Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),))
    programme = Programme(feedings=(), gate=dt.date(2026, 5, 1), stop=None, n_per_pot_g=(), notes=())
    whole, end = calendar_bytes(programme, garden, MADE), b"END:VCALENDAR\r\n"
    content = bytearray(whole.removesuffix(end) + MINE + end)
    first, last = len(whole) - len(end), len(content) - len(end)
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(first, last))
        cut = data.draw(st.integers(0, 20))
        content[at : at + cut] = data.draw(st.sampled_from(MUTATIONS))
    try:
        again = calendar_bytes(programme, garden, MADE, bytes(content))
    except InputError as refused:
        note(f"refused: {refused.what}")
        return
    note("brought up to date")
    written = lines(again)
    others = [line for line in lines(bytes(content)) if line not in lines(whole)]
    assert not Counter(others) - Counter(written)
