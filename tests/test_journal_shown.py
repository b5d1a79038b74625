"""Entries in words and as plain values."""

from __future__ import annotations

import json

import pytest

from frostgate.garden.journal import new_entry
from frostgate.show.journals import entries_answer, entry_lines, say_entry
from tests.journal_cases import NOW, event, feeding, forecast, minimum, one_of_each

TWO_DOSES = [{"product": "A", "grams": 5}, {"product": "B", "grams": 6}]


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        (feeding(),
         "feeding of old plums: wake-up, liquid, 30 g (1.1 oz) First feed, 24 pots, 300 mg N a pot"),
        (feeding(pots=1, doses=TWO_DOSES, n_per_pot_mg=None),
         "feeding of old plums: wake-up, liquid, 5 g (0.18 oz) A + 6 g (0.21 oz) B, 1 pot"),
        (feeding(phase="top-dressing", feeding_kind="top-dressing", doses=[], pots=None, n_per_pot_mg=None),
         "feeding of old plums: top-dressing, mix not stated"),
        (event("bud break"), "bud break of old plums"),
        (event("damage", note="tips brown,\n  two pots"), "damage of old plums: tips brown, two pots"),
        (event("growth", group=None, note="slow"), "growth: slow"),
        (minimum(-1.1), "minimum 30 °F"),
        (forecast("2026-04-12T06:00", {"2026-04-13": 1.5, "2026-04-14": -2.0, "2026-04-15": None}),
         "forecast made 2026-04-12 06:00, 2 nights, coldest 28.4 °F on 2026-04-14"),
        (forecast("2026-04-12T06:00", {"2026-04-13": 0.0}),
         "forecast made 2026-04-12 06:00, 1 night, coldest 32 °F on 2026-04-13"),
        (forecast("2026-04-12T06:00", {}), "forecast no night"),
        (one_of_each()[-1], "verdict shut, risk 40 %, earliest 2026-05-16"),
        (new_entry("verdict", made_at=NOW, body={"state": "unknown"}), "verdict unknown"),
        (new_entry("undo", made_at=NOW, group="old plums", undoes="1f0c4a52-7d0e"), "undo of 1f0c4a52"),
    ],
)  # fmt: skip
def test_an_entry_is_said_on_one_line(entry, said):
    assert say_entry(entry, "us") == said


def test_a_metric_garden_reads_metric():
    assert say_entry(minimum(-1.1), "metric") == "minimum -1.1 °C"
    assert "oz" not in say_entry(feeding(), "metric")


def test_rows_tell_day_and_short_id_and_what_was_undone():
    seen, told = minimum(), event("growth", note="slow")
    rows = list(entry_lines([seen, told], {told.id}, "us"))
    assert rows[0] == f"2026-04-12  {seen.id[:8]}  minimum 30 °F"
    assert rows[1] == f"2026-04-12  {told.id[:8]}  growth of old plums: slow  [undone]"


def test_the_answer_holds_every_field_as_plain_values():
    entries = one_of_each()
    answer = json.loads(json.dumps(entries_answer(entries, {entries[1].id})))["entries"]
    assert [each["undone"] for each in answer] == [entry is entries[1] for entry in entries]
    assert answer[0] == {
        "id": entries[0].id, "made_at": "2026-04-12T07:00:00", "on": "2026-04-12", "kind": "feeding",
        "group": "old plums", "body": entries[0].body, "undoes": None, "undone": False,
    }  # fmt: skip
