"""The morning in a garden, as a grower runs it: verdict, frost, what is due, what is written down.

Place, station and products are invented (data_samples).
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from freezegun import freeze_time

from frostgate.garden.journal import Journal

SAMPLES = Path(__file__).parents[2] / "data_samples"
MORNING = "2026-05-16 09:30:00"  # 06:30 in the garden, three hours west of Greenwich


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    return tmp_path_factory.mktemp("kept")


@pytest.fixture
def garden(tmp_path, kept, monkeypatch):
    """Stand in a folder of one's own that holds the sample garden."""
    for name in ("garden.toml", "oskelmere.dly", "forecast_clear.csv", "forecast_frost.json"):
        shutil.copy(SAMPLES / name, tmp_path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FROSTGATE_CACHE", str(kept))
    return tmp_path


def write_journal(garden):
    return garden / "garden.journal.sqlite"


def section(out, title):
    lines = out.splitlines()
    begin = lines.index(title) + 1
    end = next((at for at in range(begin, len(lines)) if not lines[at].strip()), len(lines))
    return lines[begin:end]


@pytest.mark.usefixtures("garden")
def test_an_open_morning_says_what_is_due_and_how_it_is_mixed(run):
    ran = run("today", "--on", "2026-05-16")
    assert ran.status == 0
    assert ran.out.startswith("OPEN  Sat 16 May 2026: the first feeding may begin")
    due = " ".join(section(ran.out, "Due today"))
    assert "old plums, wake-up 1, 9 trees: 2 x 3 gal for 4 pots each" in due
    assert "old plums, top-dressing 1, 9 trees: 2 x 2.5 tsp Pot granules each" in due
    assert "only once buds move" in due
    assert any("wake-up: old plums" in line for line in section(ran.out, "Next"))
    assert "frostgate log due" in ran.out
    assert len(ran.out.splitlines()) <= 55


def test_one_tree_is_not_told_as_trees(run, garden):
    file = garden / "garden.toml"
    text = file.read_text(encoding="utf-8")
    assert "count = 9\n" in text
    file.write_text(text.replace("count = 9\n", "count = 1\n"), encoding="utf-8")
    due = " ".join(section(run("today", "--on", "2026-05-16").out, "Due today"))
    assert "old plums, wake-up 1, 1 tree: " in due


@pytest.mark.usefixtures("garden")
def test_a_frost_in_the_forecast_stands_at_the_top(run):
    """After the gate has opened tender growth is at risk: which night, how cold, whom, what to do."""
    with freeze_time("2026-04-22 12:00:00"):
        run("log", "bud-break", "--group", "old plums", "--on", "2026-04-01")
    ran = run("today", "--on", "2026-04-22", "--forecast", "forecast_frost.json")
    assert ran.status == 1
    top = ran.out.split("SHUT")[0]
    assert top.startswith("FROST  the night to Sun 26 Apr: 27 °F in the garden")
    assert "old plums: tender growth would be killed" in " ".join(top.split())
    assert "move them under cover before dusk" in " ".join(top.split())
    assert "no feeding until it has passed" in " ".join(top.split())
    assert "by the wall" not in top  # dormant wood in the ground bears it


@pytest.mark.usefixtures("garden")
def test_groups_that_a_frost_hurts_alike_share_a_line(run):
    with freeze_time("2026-04-22 12:00:00"):
        for group in ("old plums", "new pears", "by the wall"):
            assert run("log", "growth", "leaves open", "--group", group).status == 0
    ran = run("today", "--on", "2026-04-22", "--forecast", "forecast_frost.json")
    top = " ".join(ran.out.split("SHUT")[0].split())
    assert top.count("would be killed") == 2
    assert "- old plums, new pears: tender growth would be killed; move them under cover" in top
    assert "- by the wall: tender growth would be killed; cover them down to the ground" in top


@pytest.mark.usefixtures("garden")
def test_without_bud_break_logged_it_says_that_trees_are_taken_to_be_dormant(run):
    ran = run("today", "--on", "2026-04-22", "--forecast", "forecast_frost.json")
    assert "No bud break is logged" in ran.out


@pytest.mark.usefixtures("garden")
def test_a_morning_is_written_down_once(run):
    with freeze_time(MORNING):
        run("today")
        run("today")
        entries = json.loads(run("log", "list", "--all", "--format", "json").out)["entries"]
    assert [entry["kind"] for entry in entries] == ["forecast", "verdict"]
    verdict = next(entry for entry in entries if entry["kind"] == "verdict")
    assert verdict["body"]["state"] == "open"
    assert verdict["body"]["inputs"]["offset_c"] == pytest.approx(-2 / 1.8)


def test_a_day_that_is_asked_about_is_not_written_down(garden, run):
    run("today", "--on", "2026-05-16")
    assert not write_journal(garden).exists()


@pytest.mark.usefixtures("garden")
def test_what_was_due_is_logged_in_a_word_and_is_then_no_longer_due(run):
    with freeze_time(MORNING):
        logged = run("log", "due", "--group", "old plums")
        after = run("today")
        again = run("log", "due", "--group", "old plums")
    assert logged.status == 0
    assert "68.8 g" in logged.out  # 13.5 tsp of 5.1 g: the mix that `today` showed
    assert not any("old plums" in line for line in section(after.out, "Due today"))
    assert any("new pears" in line for line in section(after.out, "Due today"))
    assert after.out.startswith("OPEN  Sat 16 May 2026: feeding may go on")
    assert again.status == 2
    assert "nothing is due today for 'old plums'" in again.err


@pytest.mark.usefixtures("garden")
def test_a_missed_feeding_moves_and_is_not_doubled(run):
    with freeze_time(MORNING):
        run("log", "due")
    with freeze_time("2026-05-30 09:30:00"):  # the second was due on the 26th
        ran = run("today", "--format", "json", "--climate-only")
    due = [one for one in ran.json["due"] if one["phase"] == "wake-up"]
    assert {(one["group"], one["number"]) for one in due} == {
        ("old plums", 2), ("new pears", 2), ("cuttings", 2),
    }  # fmt: skip


@pytest.mark.usefixtures("garden")
def test_past_the_stop_feeding_has_ended(run):
    with freeze_time(MORNING):
        run("log", "due")
    with freeze_time("2026-09-10 09:30:00"):
        ran = run("today", "--climate-only")
    assert ran.status == 1
    assert ran.out.startswith("SHUT  Thu 10 Sep 2026: do not feed today")
    assert "Feeding ended on" in ran.out


@pytest.mark.usefixtures("garden")
def test_a_stale_forecast_is_unknown_and_nothing_is_due(run):
    with freeze_time("2026-05-20 09:30:00"):
        ran = run("today")
    assert ran.status == 3
    assert section(ran.out, "Due today") == ["  nothing"]


@pytest.mark.usefixtures("garden")
def test_once_fed_an_unknown_morning_holds_what_would_be_due(run):
    with freeze_time(MORNING):
        run("log", "due")
    with freeze_time(
        "2026-05-26 09:30:00"
    ):  # the second wake-up would be due; the forecast is eleven days old
        ran = run("today", "--format", "json")
        planned = run("plan", "--format", "json")
        logged = run("log", "due")
    assert ran.status == 3
    assert ran.json["due"] == []
    assert {one["status"] for one in ran.json["next"] if one["phase"] == "wake-up"} == {"held"}
    assert "due" not in {one["status"] for one in planned.json["feedings"]}
    assert logged.status == 2


def write_forecast(folder, day):
    """Write a forecast that was made on a morning of May, of nights near frost."""
    rows = [f"2026-05-{day + ahead:02d},36" for ahead in range(1, 4)]
    text = "\n".join([f"# issued: 2026-05-{day:02d}T06:00", "date,tmin_f", *rows, ""])
    (folder / "forecast_clear.csv").write_text(text, encoding="utf-8")


def test_its_own_minima_teach_the_forecasts_errors(garden, run):
    """The nights come 3 °F colder than forecast, beyond the 2 °F that the garden is said to be colder."""
    with freeze_time(MORNING) as clock:
        for day in range(10, 20):
            clock.move_to(f"2026-05-{day} 09:30:00")
            write_forecast(garden, day)
            ran = run("today", "--format", "json")
            run("log", "minimum", "31F")
    assert ran.json["own_errors"]["mornings"] >= 5
    assert ran.json["own_errors"]["bias_c"] > 0.3
    assert any("your forecast runs" in reason for reason in ran.json["reasons"])


def test_a_journal_that_cannot_be_written_is_told_and_the_answer_stands(garden, run):
    write_journal(garden).write_bytes(b"this is no journal" * 100)
    with freeze_time(MORNING):
        ran = run("today")
    assert ran.status == 2
    assert "garden.journal.sqlite" in ran.err


def test_a_damaged_entry_is_named_and_the_answer_stands(garden, run):
    with freeze_time(MORNING):
        run("log", "bud-break", "--group", "old plums", "--note", "half of them")
        run("log", "minimum", "29F")
    path = write_journal(garden)
    path.write_bytes(path.read_bytes().replace(b"half of", b"hale of"))
    with freeze_time(MORNING):
        for ran in (run("today"), run("plan")):
            assert ran.status == 0
            assert "Entry 1 of the journal (bud break, 2026-05-16," in " ".join(ran.out.split())
    with Journal.open(path) as journal:
        assert [entry.kind for entry in journal.history()] == ["minimum", "forecast", "verdict"]


@pytest.mark.usefixtures("garden")
def test_a_record_that_is_named_is_answered_without_the_garden(run):
    ran = run("today", "--record", "oskelmere.dly", "--climate-only", "--on", "2026-05-16")
    assert "Due today" not in ran.out
    both = run("today", "--record", "oskelmere.dly", "--garden", "garden.toml", "--on", "2026-05-16")
    assert "Due today" in both.out


@pytest.mark.parametrize("option", ["--forecast-log", "--observed"])
@pytest.mark.usefixtures("garden")
def test_a_garden_keeps_its_forecasts_in_its_journal(run, option):
    ran = run("today", option, "log.csv", "--on", "2026-05-16")
    assert ran.status == 2
    assert "frostgate log minimum" in ran.err


def test_a_garden_without_a_record_says_how_to_name_one(garden, run):
    (garden / "garden.toml").write_text('[[site]]\nname = "Hollin Bank"\n', encoding="utf-8")
    ran = run("today", "--on", "2026-05-16")
    assert ran.status == 2
    assert 'Add record = "FILE" or station = "ID"' in ran.err


def test_without_a_garden_or_a_record_there_is_no_answer(tmp_path, monkeypatch, run):
    monkeypatch.chdir(tmp_path)
    ran = run("today", "--on", "2026-05-16")
    assert ran.status == 2
    assert "--record" in ran.err


@pytest.mark.usefixtures("garden")
def test_everything_it_rests_on_is_shown_when_asked(run):
    short, full = run("today", "--on", "2026-05-16").out, run("today", "--on", "2026-05-16", "--full").out
    assert "What this rests on" in full
    assert "What this rests on" not in short
    assert "The plan" in full
    assert len(full) > len(short)
