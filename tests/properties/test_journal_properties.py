"""Laws of the journal: out and in again is the same, twice is once, and an undo of an undo is none."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from frostgate.garden.exchange import WRITERS, import_entries, read_export
from frostgate.garden.journal import Journal
from frostgate.model.garden import Entry

FORMS = st.sampled_from(sorted(WRITERS))
TIMES = st.datetimes(dt.datetime(1900, 1, 1), dt.datetime(2100, 1, 1))
DAYS = st.dates(dt.date(1900, 1, 1), dt.date(2100, 1, 1))
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=60)
NAMES = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=20).filter(
    lambda name: name == name.strip()
)
VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**60), 2**60)
    | st.floats(allow_nan=False, allow_infinity=False)
    | TEXTS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3),
    max_leaves=8,
)
BODIES = {
    "feeding": st.fixed_dictionaries({
        "feeding_kind": st.sampled_from(["liquid", "top-dressing"]),
        "phase": st.none() | TEXTS,
        "doses": st.lists(
            st.fixed_dictionaries({"product": TEXTS, "grams": st.floats(1e-6, 1e6)}), max_size=3
        ),
        "n_per_pot_mg": st.none() | st.floats(0, 1e6),
    }),
    "growth": st.fixed_dictionaries({"note": TEXTS}),
    "minimum": st.fixed_dictionaries({"tmin_c": st.floats(-60, 40)}),
}  # fmt: skip


@st.composite
def entries(draw) -> Entry:
    """An entry of some kind, with more in its body than anybody asked for."""
    kind = draw(st.sampled_from(sorted(BODIES)))
    named = {"feeding": NAMES, "growth": st.none() | NAMES, "minimum": st.none()}[kind]
    extra = draw(st.dictionaries(TEXTS.map(lambda name: f"x{name}"), VALUES, max_size=2))
    return Entry(
        id=str(draw(st.uuids())),
        made_at=draw(TIMES),
        on=draw(DAYS),
        kind=kind,
        group=draw(named),
        body=draw(BODIES[kind]) | extra,
    )


@st.composite
def histories(draw) -> tuple[list[Entry], list[int]]:
    """Entries, and which of the entries and undos before it each of some undos takes back."""
    written = draw(st.lists(entries(), max_size=6, unique_by=lambda entry: entry.id))
    return written, draw(st.lists(st.integers(0, 5), max_size=5)) if written else []


def write(journal: Journal, history: tuple[list[Entry], list[int]]) -> None:
    written, undos = history
    journal.add(*written)
    for which in undos:
        target = journal.history()[which % len(journal.history())]
        if target.id not in journal.undone():
            journal.undo(target.id, target.made_at)


@settings(max_examples=150, deadline=None)
@given(histories(), FORMS)
def test_out_and_in_again_is_the_same_journal_and_twice_is_once(history, form):
    file = Path(f"journal{form}")
    with _journal() as first, _journal() as second:
        write(first, history)
        text = WRITERS[form](first.history())
        import_entries(second, read_export(text, file), file)
        assert second.history() == first.history()
        assert second.entries() == first.entries()
        assert second.undone() == first.undone()
        assert WRITERS[form](second.history()) == text
        assert import_entries(second, read_export(text, file), file).added == 0


@settings(max_examples=100, deadline=None)
@given(histories(), histories())
def test_two_journals_that_read_each_other_hold_the_same(one, other):
    taken = {entry.id for entry in one[0]}
    other = ([entry for entry in other[0] if entry.id not in taken], other[1] if other[0] else [])
    with _journal() as first, _journal() as second:
        write(first, one)
        if other[0]:
            write(second, other)
        for source, target in ((first, second), (second, first)):
            text = WRITERS[".json"](source.history())
            import_entries(target, read_export(text, Path("a.json")), Path("a.json"))
        assert {entry.id: entry for entry in first.history()} == {
            entry.id: entry for entry in second.history()
        }
        assert first.undone() == second.undone()


@settings(max_examples=100, deadline=None)
@given(
    st.lists(entries(), min_size=1, max_size=4, unique_by=lambda entry: entry.id), st.integers(1, 7), TIMES
)
def test_an_entry_stands_after_an_even_number_of_undos_of_undos(written, times, at):
    with _journal() as journal:
        journal.add(*written)
        before = journal.entries()
        last = written[0]
        for _ in range(times):
            last = journal.undo(last.id, at)
        gone = tuple(entry for entry in before if entry.id != written[0].id)
        assert journal.entries() == (before if times % 2 == 0 else gone)
        assert len(journal.history()) == len(written) + times


def _journal() -> Journal:
    return Journal.open(Path(":memory:"))  # laws need no disk
