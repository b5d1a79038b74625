"""What an entry must hold before it is written or taken in."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

import pytest

from frostgate.errors import InputError
from frostgate.garden.entry_schema import DEEPEST_BODY, LONGEST_BODY, body_text, check_entry, parse_body
from frostgate.model.garden import ENTRY_KINDS
from tests.journal_cases import NOW, event, feeding, forecast, minimum, one_of_each

NIGHT = {"morning": "2026-04-13", "tmin_c": 1.0, "sd_c": 0.5}
FED = {"product": "First feed", "grams": 30}


def with_body(kind, **changes):
    entry = next(each for each in one_of_each() if each.kind == kind)
    return replace(entry, body=entry.body | changes)


@pytest.mark.parametrize("entry", one_of_each(), ids=lambda entry: entry.kind)
def test_an_entry_of_each_kind_is_fit(entry):
    check_entry(entry)


@pytest.mark.parametrize(
    ("kind", "changes"),
    [
        ("feeding", {"phase": None, "pots": None, "n_per_pot_mg": None, "doses": []}),
        ("feeding", {"doses": [FED], "feeding_kind": "top-dressing", "sun": "shining"}),
        ("minimum", {"tmin_c": -40}),
        ("forecast", {"nights": []}),
        ("forecast", {"nights": [NIGHT], "source": None, "issued_at": "2026-04-12 06:00:00"}),
        ("verdict", {"state": "unknown", "risk_today": None, "earliest_date": None, "inputs": None}),
    ],
)
def test_what_is_not_known_may_be_left_out_and_more_may_be_told(kind, changes):
    check_entry(with_body(kind, **changes))


@pytest.mark.parametrize(
    ("kind", "name", "value"),
    [
        ("feeding", "phase", 3),
        ("feeding", "feeding_kind", "drip"),
        ("feeding", "feeding_kind", None),
        ("feeding", "doses", None),
        ("feeding", "doses", "First feed"),
        ("feeding", "doses", ["First feed"]),
        ("feeding", "doses", [FED | {"grams": 0}]),
        ("feeding", "doses", [FED | {"grams": "30"}]),
        ("feeding", "doses", [{"grams": 30}]),
        ("feeding", "pots", 0),
        ("feeding", "pots", 2.5),
        ("feeding", "pots", True),
        ("feeding", "pots", "12"),
        ("feeding", "n_per_pot_mg", -1),
        ("bud break", "note", 7),
        ("minimum", "tmin_c", None),
        ("minimum", "tmin_c", True),
        ("minimum", "tmin_c", 212.0),  # no place on earth: it was 57.6 °C at most, before it was withdrawn
        ("minimum", "tmin_c", "-1.5"),
        ("forecast", "issued_at", None),
        ("forecast", "issued_at", "2026-04-12T06:00Z"),
        ("forecast", "issued_at", "this morning"),
        ("forecast", "nights", [NIGHT | {"morning": "13 April"}]),
        ("forecast", "nights", [NIGHT | {"morning": None}]),
        ("forecast", "nights", [NIGHT | {"tmin_c": 999}]),
        ("forecast", "nights", [NIGHT | {"sd_c": -1}]),
        ("forecast", "nights", ["2026-04-13"]),
        ("verdict", "state", "ajar"),
        ("verdict", "state", ["open"]),
        ("verdict", "risk_today", 1.5),
        ("verdict", "earliest_date", "2026-02-30"),
        ("verdict", "reasons", [1]),
        ("verdict", "inputs", []),
    ],
)
def test_a_fact_of_the_wrong_shape_is_named(kind, name, value):
    with pytest.raises(InputError, match=f"the {name} of a {kind} is not"):
        check_entry(with_body(kind, **{name: value}))


@pytest.mark.parametrize("kind", ["feeding", "bud break", "fruit set"])
def test_what_is_told_of_pots_names_their_group(kind):
    with pytest.raises(InputError, match="of no group"):
        check_entry(replace(with_body(kind), group=None))


@pytest.mark.parametrize("kind", ["minimum", "forecast", "verdict"])
def test_what_is_told_of_the_garden_names_no_group(kind):
    with pytest.raises(InputError, match="of the whole garden"):
        check_entry(replace(with_body(kind), group="old plums"))


@pytest.mark.parametrize(
    ("changes", "what"),
    [
        ({"id": ""}, "not an entry's id"),
        ({"id": "x" * 65}, "not an entry's id"),
        ({"id": "a b"}, "not an entry's id"),
        ({"id": "-rf"}, "not an entry's id"),
        ({"kind": "nap"}, "no entry is of this kind"),
        ({"made_at": NOW.replace(tzinfo=dt.UTC)}, "offset from UTC"),
        ({"undoes": "another"}, "an undo names"),
        ({"kind": "undo"}, "an undo names"),
        ({"kind": "undo", "id": "me", "undoes": "me"}, "an undo names"),
        ({"group": " old plums"}, "not the name of a group"),
        ({"group": ""}, "not the name of a group"),
        ({"group": "old\nfigs"}, "not the name of a group"),
        ({"group": "old \ud800"}, "not the name of a group"),
    ],
)
def test_what_is_no_entry_is_refused(changes, what):
    with pytest.raises(InputError, match=what):
        check_entry(replace(event("growth"), **changes))


@pytest.mark.parametrize(
    "note",
    [
        math.nan,
        math.inf,
        {1: "a"},
        {"a", "b"},
        b"bytes",
        "half \ud83c",
        2**63,
        NOW,
        [[math.nan]],
        {"\udc00": 1},
    ],
)
def test_what_json_cannot_hold_is_refused(note):
    with pytest.raises(InputError, match="not plain JSON"):
        check_entry(replace(minimum(), body={"tmin_c": 1.0, "extra": note}))


def test_a_body_is_neither_too_deep_nor_too_long():
    deep = "leaf"
    for _ in range(DEEPEST_BODY):
        deep = [deep]
    with pytest.raises(InputError, match="not plain JSON"):
        body_text({"note": deep})
    assert body_text({"note": deep[0]})
    with pytest.raises(InputError, match="too long"):
        check_entry(event("growth", note="x" * LONGEST_BODY))
    check_entry(event("growth", note="x" * (LONGEST_BODY - 100)))


def test_the_same_body_is_written_in_the_same_way():
    assert body_text({"b": "½", "a": 1}) == body_text({"a": 1, "b": "½"}) == '{"a": 1, "b": "½"}'


@pytest.mark.parametrize("text", ["", "{", "[]", '"note"', '{"a": NaN}', '{"a": 1, "a": 2}', "[" * 100_000,
                                  '{"a": ' + "9" * 5000 + "}"])  # fmt: skip
def test_a_text_that_is_no_body_is_refused(text):
    with pytest.raises(InputError, match=r"not JSON|not a JSON object"):
        parse_body(text)


def test_every_kind_has_its_facts():
    told = {entry.kind for entry in (*one_of_each(), feeding(), forecast("2026-04-12T06:00", {}))}
    assert told == set(ENTRY_KINDS) - {"undo"}
