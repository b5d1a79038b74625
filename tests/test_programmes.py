"""The programme and what it takes, as tables and as plain values."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace

import pytest

from frostgate.errors import UnsafeMixError
from frostgate.feeding.mix import mix_season
from frostgate.feeding.season import plan_season
from frostgate.model.feedings import NoFeeding
from frostgate.show.mixes import next_feedings, say_mix
from frostgate.show.programmes import all_notes, programme_answer, programme_lines
from tests.season_cases import DAY, FIRST, GATE, ROW, facts, fed, garden, group, product

YOUNG = group("young", stage="newly potted", count=3, per_pot_l=2.0)
RULE = NoFeeding(name="ordinance", first=(11, 5), last=(2, 20))


def shown(known, where=None):
    where = where or garden([group(), YOUNG, ROW], vessel_l=20.0, no_feeding=(RULE,))
    programme = plan_season(where, known)
    mixed = mix_season(where, programme.feedings)
    text = list(programme_lines(where, known, programme, mixed))
    return text, programme_answer(where, known, programme, mixed), mixed


def test_one_line_holds_one_date_and_feed_with_its_groups_joined():
    text, _, _ = shown(facts())

    lines = [line for line in text if "wake-up" in line and "plums, young" in line]
    assert [line.split() for line in lines] == [
        ["due", "wake-up", "1", "plums,", "young:", "First", "feed"],
        ["Tue", "26", "May", "planned", "wake-up", "2", "plums,", "young:", "First", "feed"],
    ]


def test_a_date_stands_once_and_its_granular_feed_first():
    text, _, _ = shown(facts())
    rows = text[text.index("Feedings") + 2 :]
    assert [row for row in rows if "Sat 16 May" in row] == [rows[0]]
    assert "top-dressing 1" in rows[0]


def test_every_line_fits_the_screen_however_many_groups():
    many = [group(f"plums of terrace number {number}", count=number + 1) for number in range(12)]
    text, _, _ = shown(facts(fruit_set=((many[3].name, GATE),)), garden(many, vessel_l=20.0))
    assert max(map(len, text)) <= 88


def test_a_reason_stands_below_where_it_tells_more_than_the_interval():
    text, _, _ = shown(facts(frost_on=(GATE + DAY,)))
    said = " ".join(line.strip() for line in text)
    assert "held back by the frost forecast for the morning of Sun 17 May)" in said
    assert "days after the last one" not in said


def test_the_heading_tells_gate_and_stop():
    assert "gate: Sat 16 May 2026 (open)    last feeding: Sat 15 Aug 2026" in shown(facts())[0][1]
    assert "gate: Sat 16 May 2026 (forecast)" in shown(facts(GATE - 9 * DAY))[0][1]
    assert "gate: not known" in shown(facts(gate=None))[0][1]


def test_local_days_without_feeding_are_shown():
    text, answer, _ = shown(facts())
    assert "  - No feeding by 'ordinance': 5 Nov to 20 Feb, every year." in text
    assert answer["no_feeding"] == [{"name": "ordinance", "from": "11-05", "to": "02-20"}]


def test_years_are_told_apart_where_a_season_has_two():
    southern = facts(
        dt.date(2026, 10, 10), gate=dt.date(2026, 10, 10), first_autumn_frost=dt.date(2027, 4, 20)
    )
    text, _, _ = shown(southern, garden(hemisphere="south"))
    assert any("Sat 10 Oct 2026" in line for line in text[3:])
    assert any("2027" in line for line in text[3:])
    assert not any("2026" in line for line in shown(facts())[0][3:20])


def test_each_mix_is_written_once_by_phase_and_group():
    text, _, _ = shown(facts())
    mixes = text[text.index("Mixes") + 1 : text.index("To mind")]
    assert mixes.count("  wake-up") == 1
    # 20 L and 4 L a pot: one filling for five pots; half strength for young roots, common practice, no source
    assert "    plums: 20 L for 5 pots: 20 g on a scale First feed" in mixes
    assert "    young: 6 L for 3 pots: 3 g on a scale First feed" in mixes
    assert any(line.startswith("    row: on each of 5 trees:") for line in mixes)


def test_alike_buckets_are_counted_and_the_part_one_is_named():
    where = garden([group(count=12)], vessel_l=20.0)
    _, _, mixed = shown(facts(), where)
    wake_up = next(one for one in mixed if one.feeding.phase == "wake-up")
    assert say_mix(wake_up.mix, where.group("plums"), "metric") == (
        "2 x 20 L for 5 pots each: 20 g on a scale First feed; 8 L for 2 pots: 8 g on a scale First feed"
    )


def test_several_fillings_for_one_pot_are_counted_together_in_a_line():
    where = garden([group(count=2, per_pot_l=40.0)], vessel_l=20.0)
    _, _, mixed = shown(facts(), where)
    wake_up = next(one for one in mixed if one.feeding.phase == "wake-up")
    assert say_mix(wake_up.mix, where.group("plums"), "metric") == (
        "4 x 20 L for 2 pots: 20 g on a scale First feed"
    )


def test_the_answer_is_plain_and_holds_what_it_promises():
    _, answer, _ = shown(facts())

    assert json.loads(json.dumps(answer)) == answer
    assert set(answer) == {
        "on", "garden", "gate", "gate_open", "stop", "feedings", "n_per_pot_g", "no_feeding", "notes",
        "warnings", "cautions",
    }  # fmt: skip
    assert (answer["gate"], answer["stop"], answer["on"]) == ("2026-05-16", "2026-08-15", "2026-05-16")
    assert list(answer["n_per_pot_g"]) == ["plums", "young", "row"]
    assert answer["cautions"]


def test_a_feeding_of_the_answer_holds_its_doses():
    where = garden([group(count=12)], vessel_l=20.0)
    _, answer, _ = shown(facts(), where)

    feeding = next(one for one in answer["feedings"] if one["phase"] == "wake-up")
    kept = ("date", "group", "number", "kind", "status", "not_before_gate")
    assert [feeding[key] for key in kept] == ["2026-05-16", "plums", 1, "liquid", "due", True]
    assert feeding["doses"] == [
        {
            "product": "First feed",
            "grams": 48.0,
            "spoons": "20 g on a scale",
            "per": "bucket",
            "bucket_l": 20.0,
        }
    ]
    laid = next(one for one in answer["feedings"] if one["kind"] == "top-dressing")
    assert (laid["doses"][0]["grams"], laid["doses"][0]["per"]) == (360.0, "pot")


def test_what_is_done_or_left_out_has_no_dose():
    done = (fed(GATE, n_per_pot_g=3.9),)
    where = garden(n_per_pot_g=4.0, vessel_l=20.0)
    _, answer, _ = shown(facts(GATE + DAY, done=done), where)

    settled = [one for one in answer["feedings"] if one["status"] in {"done", "left out"}]
    assert {one["status"] for one in settled} == {"done", "left out"}
    assert all(one["doses"] == [] and one["mix"] is None for one in settled)


def test_a_waiting_feeding_has_its_mix_and_no_date():
    text, answer, _ = shown(facts(gate=None))
    assert {one["date"] for one in answer["feedings"]} == {None}
    assert all(one["doses"] for one in answer["feedings"])
    assert sum("no date" in line for line in text) == 1


def too_strong():
    strong = replace(FIRST, most=replace(FIRST.rate, grams=0.5))
    return garden(products=[strong, product("Steady feed", 12, 11, 13)], vessel_l=20.0)


def test_a_mix_that_must_not_be_made_is_a_reason_and_a_note_and_never_a_dose():
    text, answer, mixed = shown(facts(), too_strong())

    refused = [one for one in answer["feedings"] if one["phase"] == "wake-up"]
    assert [one["doses"] for one in refused] == [[], []]
    assert all("not mixed: 'First feed' would be 2 times" in one["reason"] for one in refused)
    assert [note for note in answer["notes"] if note.startswith("Not mixed, wake-up of plums:")]
    assert "not mixed" in "\n".join(text)
    assert next_feedings(mixed)[0].feeding.phase == "build-up"


def test_a_refusal_is_told_once_with_all_that_it_stops(monkeypatch: pytest.MonkeyPatch):
    def refuse(*_):
        raise UnsafeMixError("no")

    monkeypatch.setattr("frostgate.feeding.mix.mix_for_group", refuse)
    _, _, mixed = shown(facts(), garden())

    assert all(one.mix is None for one in mixed)
    notes = list(all_notes(plan_season(garden(), facts()), mixed))
    assert notes[-1] == (
        "Not mixed, top-dressing of plums, wake-up of plums, build-up of plums, fruiting of plums, "
        "fruit set of plums: no."
    )


def test_an_empty_garden_still_has_an_answer():
    text, answer, mixed = shown(facts(), garden([]))
    assert (answer["feedings"], next_feedings(mixed)) == ([], ())
    assert "Feedings" not in text
