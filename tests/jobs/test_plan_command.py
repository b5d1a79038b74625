"""The season's plan, end to end, in the invented garden of Hollin Bank."""

from __future__ import annotations

import datetime as dt
import shutil

import icalendar
import pytest

from frostgate.garden.journal import Journal, journal_file, new_entry

FILES = ("garden.toml", "oskelmere.dly", "forecast_clear.csv", "forecast_frost.json", "forecast_edge.json")
OPEN, WINTER, STALE = "2026-05-15", "2026-02-10", "2026-05-25"


@pytest.fixture
def home(samples, tmp_path, monkeypatch):
    """A folder with the sample garden, entered."""
    for name in FILES:
        shutil.copy(samples / name, tmp_path)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def plan(run, home):
    return lambda on, *more: run("plan", "--garden", home / "garden.toml", "--on", on, *more)


def rewrite(home, before, after):
    file = home / "garden.toml"
    text = file.read_text()
    assert before in text
    file.write_text(text.replace(before, after))


def log(home, kind, on, group, **body):
    with Journal.open(journal_file(home / "garden.toml")) as journal:
        made_at = dt.datetime.combine(on, dt.time(18))
        journal.add(new_entry(kind, made_at=made_at, on=on, group=group, body=body))


def feed(home, on, group="old plums", **body):
    log(home, "feeding", on, group, **({"feeding_kind": "liquid", "doses": [], "pots": 9} | body))


def feedings(answer, group="old plums", kind="liquid", **wanted):
    return [
        one
        for one in answer.json["feedings"]
        if (one["group"], one["kind"]) == (group, kind)
        and all(one[key] == value for key, value in wanted.items())
    ]


def test_the_plan_dates_every_feeding_between_gate_and_stop(plan):
    answer = plan(OPEN, "--format", "json")

    assert answer.status == 0
    assert (answer.json["gate"], answer.json["gate_open"]) == (OPEN, True)
    dated = [one["date"] for one in answer.json["feedings"] if one["date"]]
    assert OPEN <= min(dated) <= max(dated) <= answer.json["stop"]
    assert [one["date"] for one in feedings(answer, phase="wake-up")] == ["2026-05-15", "2026-05-25"]
    assert (
        feedings(answer, phase="build-up")[0]["date"] == "2026-06-12"
    )  # four weeks: common practice, no source
    assert all(one["not_before_gate"] for one in answer.json["feedings"])


def test_the_table_is_plain_text_that_fits_the_screen(plan):
    text = plan(OPEN)
    assert text.status == 0
    assert text.out.startswith("Feeding at Hollin Bank, as of Fri 15 May 2026\n")
    assert "wake-up 1        old plums, new pears, cuttings: First feed" in text.out
    assert max(map(len, text.out.splitlines())) <= 88


def test_three_quarts_a_pot_and_two_teaspoons_a_gallon_fill_a_bucket_for_four_pots(plan, home):
    rewrite(home, '\nscoops = ["2.5 tsp", "1/2 tsp"]', "")
    old, new = (
        feedings(plan(OPEN, "--format", "json"), group, phase="wake-up")[0]
        for group in ("old plums", "new pears")
    )
    assert (old["doses"][0]["spoons"], old["mix"][:33]) == ("2 tbsp", "2 x 3 gal for 4 pots each: 2 tbsp")
    assert new["doses"][0]["grams"] == pytest.approx(
        3 * 1 * 5.1, rel=0.05
    )  # half strength, 3 gal, 5.1 g a tsp
    laid = feedings(plan(OPEN, "--format", "json"), kind="top-dressing")
    assert laid[0]["doses"][0]["spoons"] == "1 tbsp + 2 tsp"
    assert [one["date"] for one in laid[:2]] == ["2026-05-15", "2026-05-29"]


def test_in_winter_the_curve_alone_dates_the_gate_and_opens_nothing(plan):
    answer = plan(WINTER, "--climate-only", "--format", "json")

    assert answer.json["gate_open"] is False
    assert {one["status"] for one in answer.json["feedings"]} == {"planned", "waiting", "left out"}
    assert "2026-04-01" < answer.json["gate"] < "2026-06-15"
    assert any("opens nothing" in note for note in answer.json["notes"])
    assert any("is itself a forecast" in note for note in answer.json["notes"])


def test_an_old_forecast_leaves_dates_but_nothing_due(plan):
    answer = plan(STALE, "--format", "json")

    assert answer.json["gate_open"] is False
    dated = [one for one in answer.json["feedings"] if one["date"]]
    assert {one["status"] for one in dated} <= {"planned", "left out"}
    assert min(one["date"] for one in dated) > STALE
    assert any("old" in note for note in answer.json["notes"])


def test_without_a_record_nothing_is_dated(plan, home):
    rewrite(home, 'record = "oskelmere.dly"          # named from this file\'s own folder\n', "")
    answer = plan(OPEN, "--format", "json")

    assert answer.json["gate"] is None
    assert {(one["date"], one["status"]) for one in answer.json["feedings"]} == {(None, "waiting")}
    assert any("names no station record" in note for note in answer.json["notes"])


def test_what_was_logged_moves_the_rest(plan, home):
    feed(home, dt.date(2026, 5, 17), phase="wake-up", n_per_pot_mg=4000.0)
    log(home, "fruit set", dt.date(2026, 6, 20), "old plums")
    answer = plan("2026-06-21", "--climate-only", "--format", "json")

    done, first, second = feedings(answer)[:3]
    assert (done["date"], done["status"], done["doses"]) == ("2026-05-17", "done", [])
    assert (first["phase"], first["date"], first["status"]) == ("fruit set", "2026-06-21", "due")
    assert [dose["product"] for dose in first["doses"]] == ["Ripening feed", "Epsom salt"]
    assert (second["phase"], second["date"]) == ("fruiting", "2026-07-05")


def test_a_missed_feeding_is_due_today_and_not_doubled(plan, home):
    feed(home, dt.date(2026, 5, 10), phase="wake-up")
    due = feedings(plan("2026-05-22", "--climate-only", "--format", "json"), status="due")
    assert [(one["phase"], one["number"]) for one in due] == [("wake-up", 2)]
    assert due[0]["reason"].endswith("it was due on Wed 20 May")


def test_a_forecast_frost_holds_the_feeding_back(plan, home):
    rewrite(home, '"forecast_clear.csv"', '"forecast_frost.json"')
    feed(home, dt.date(2026, 4, 12), phase="wake-up")
    held = feedings(plan("2026-04-22", "--format", "json"), phase="wake-up", status="held")
    assert held[0]["date"] > "2026-04-22"
    assert "frost forecast for the morning of" in held[0]["reason"]


def test_a_local_rule_moves_what_falls_into_it(plan, home):
    rewrite(home, 'from = "11-05"\nto = "02-20"', 'from = "05-20"\nto = "06-30"')
    dates = [one["date"] for one in plan(OPEN, "--format", "json").json["feedings"] if one["date"]]
    assert not [date for date in dates if "2026-05-20" <= date <= "2026-06-30"]
    assert "2026-07-01" in dates


def test_a_mix_above_the_limit_of_salt_is_never_a_dose(plan, home):
    rewrite(home, "[rules]", "[rules]\nec_limit = 0.5")  # the fruit feed alone has about 1.3 mS/cm
    answer = plan(OPEN, "--format", "json")
    fruiting = feedings(answer, phase="fruiting")[0]
    assert answer.status == 0
    assert (fruiting["doses"], "not mixed: the solution would have" in fruiting["reason"]) == ([], True)
    assert any(note.startswith("Not mixed, fruiting of old plums") for note in answer.json["notes"])


def test_the_calendar_holds_the_plan(plan, home):
    answer = plan(OPEN, "--format", "json", "--calendar", "season.ics")
    calendar = icalendar.Calendar.from_ical((home / "season.ics").read_bytes())

    days = {
        (str(event["SUMMARY"]), event.decoded("DTSTART").isoformat())
        for event in calendar.walk("VEVENT")
        if str(event["SUMMARY"]).startswith("Feed ")
    }
    planned = {
        (f"Feed {one['group']}: {one['phase']} {one['number']}", one["date"])
        for one in answer.json["feedings"]
        if one["date"] and one["status"] != "left out"
    }
    assert days == planned
    assert answer.json["calendar"] == "season.ics"
    described = [
        str(event["DESCRIPTION"]) for event in calendar.walk("VEVENT") if "wake-up 1" in event["SUMMARY"]
    ]
    assert "2 x 3 gal for 4 pots each" in described[0]


def test_the_card_is_that_of_the_next_day_of_feeding(plan, home):
    text = plan(WINTER, "--climate-only", "--card", "card.html")
    page = (home / "card.html").read_text()
    assert "First feed" in page
    assert "May 2026" in page
    assert text.out.endswith("Written: card.html\n")


def test_shopping_is_told_on_request(plan):
    text, answer = plan(OPEN, "--shopping"), plan(OPEN, "--shopping", "--format", "json")
    assert "For the feedings still to come" in text.out
    assert {need["product"] for need in answer.json["shopping"]["needs"]} >= {"First feed", "Steady feed"}
    assert "shopping" not in plan(OPEN, "--format", "json").json


def test_no_garden_is_an_error_that_says_what_to_do(run, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    ran = run("plan", "--format", "json")
    assert (ran.status, ran.json["error"]["what"]) == (2, "no garden.toml in this folder")
    assert "frostgate init" in ran.json["error"]["remedy"]


def test_no_card_is_written_for_a_season_without_a_day(plan, home):
    rewrite(home, 'record = "oskelmere.dly"          # named from this file\'s own folder\n', "")
    ran = plan(OPEN, "--card", "card.html")
    assert (ran.status, (home / "card.html").exists()) == (2, False)
    assert "no day of feeding is dated" in ran.err


def test_a_card_that_cannot_be_written_is_an_error(plan):
    ran = plan(OPEN, "--card", "no/such/folder/card.html")
    assert ran.status == 2
    assert "cannot be written" in ran.err


@pytest.mark.parametrize(("exposed", "clear"), [(None, "2026-04-26"), (2, "2026-04-25"), (3, "2026-04-24")])
def test_a_forecast_frost_holds_as_long_as_the_garden_counts_pots_as_exposed(plan, home, exposed, clear):
    """The frost of the morning of 26 April; pots fed on d are exposed from d + `exposed_from` on."""
    if exposed is not None:
        rewrite(home, 'name = "Hollin Bank"\n', f'name = "Hollin Bank"\nexposed_from = {exposed}\n')
    feed(home, dt.date(2026, 4, 10))
    rewrite(home, "forecast_clear.csv", "forecast_frost.json")
    answer = plan("2026-04-22", "--format", "json")

    assert min(one["date"] for one in feedings(answer, status="held")) == clear
