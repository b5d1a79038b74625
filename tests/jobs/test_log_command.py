"""`frostgate log`: what was done and seen is written down, shown, undone, and never erased."""

from __future__ import annotations

import shlex
import shutil

import pytest
from freezegun import freeze_time

from frostgate.garden.entries import forecast_log
from frostgate.garden.journal import Journal
from tests.journal_cases import NOW, forecast, minimum, one_of_each

GARDEN = """\
units = "us"

[[site]]
name = "Hollin Bank"
time_zone = "Etc/GMT+3"

[[pots]]
name = "old plums"
tree = "plum"
count = 24
stage = "established"
pot = "9 gal"
per_pot = "3 qt"
winters = "outdoors"

[[pots]]
name = "cuttings"
tree = "currant"
count = 5
stage = "cutting"
pot = "1 gal"
per_pot = "1 qt"
winters = "unheated room"

[[product]]
name = "First feed"
analysis = "17-5-9"
form = "soluble"
rate = "4 tsp/gal"
density = "5.1 g/tsp"
density_from = "measured"

[[product]]
name = "Granules"
analysis = "6-4-5"
form = "granular"
rate = "5 tsp/pot"
density = "10 g/tbsp"
density_from = "label"
"""


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """Stand in a garden's folder."""
    (tmp_path / "garden.toml").write_text(GARDEN, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def log(run, folder):
    """Return a function that logs on 12 April 2026 at 07:00 in the garden, which is 10:00 UTC."""

    def _log(*arguments):
        assert (folder / "garden.toml").exists()
        with freeze_time("2026-04-12 10:00:00"):
            return run("log", *arguments)

    return _log


@pytest.fixture
def entries(log):
    """Return a function that gives every entry as the command lists it."""
    return lambda *more: log("list", "--all", "--format", "json", *more).json["entries"]


def test_a_feeding_is_kept_with_grams_and_nitrogen(log, entries):
    told = log("feed", "--group", "old plums", "--product", "First feed=150 g", "--phase", "wake-up")
    assert told.status == 0
    entry = entries()[0]
    assert entry["body"] == {
        "phase": "wake-up", "feeding_kind": "liquid", "pots": 24,
        "doses": [{"product": "First feed", "grams": 150.0}],
        "n_per_pot_mg": 1062.5,  # 150 g x 17 % / 24 pots
    }  # fmt: skip
    assert (entry["kind"], entry["group"], entry["on"], entry["made_at"]) == (
        "feeding", "old plums", "2026-04-12", "2026-04-12T07:00:00",
    )  # fmt: skip
    assert (
        "Logged for 2026-04-12: feeding of old plums: wake-up, liquid, 150 g (5.3 oz) First feed" in told.out
    )
    assert f"To take it back: frostgate log undo {entry['id'][:8]}\n" in told.out


def test_a_volume_of_granules_for_some_pots_is_a_top_dressing(log, entries):
    told = log(
        "feed", "--group", "old plums", "--product", "Granules=2 cups", "--pots", "16", "--on", "2026-04-10"
    )
    assert told.status == 0
    body = entries()[0]["body"]
    assert body["feeding_kind"] == "top-dressing"
    assert body["doses"][0]["grams"] == pytest.approx(320.0)  # 32 tbsp of 10 g
    assert body["n_per_pot_mg"] == pytest.approx(1200.0)  # 320 g x 6 % / 16 pots
    assert entries()[0]["on"] == "2026-04-10"


def test_a_feeding_logged_twice_on_one_day_asks_whether_there_were_two(log, entries):
    once = ("feed", "--group", "old plums", "--product", "First feed=150 g")
    assert log(*once).status == 0
    refused = log(*once)
    assert (refused.status, "logged already" in refused.err, "--again" in refused.err) == (2, True, True)
    assert log(*once, "--on", "2026-04-11").status == 0
    assert log("feed", "--group", "cuttings").status == 0
    assert log("feed", "--group", "old plums", "--top-dressing").status == 0  # laid first, then watered in
    assert log(*once, "--again").status == 0
    assert len(entries()) == 5


def test_an_undone_feeding_is_not_in_the_way(log, entries):
    log("feed", "--group", "old plums")
    log("undo", entries()[0]["id"])
    assert log("feed", "--group", "old plums").status == 0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("feed",), ("which group", "--group", "old plums, cuttings")),
        (("feed", "--group", "pears"), ("no group of this name", "old plums, cuttings")),
        (("feed", "--group", "all"), ("no group of this name",)),
        (("feed", "--group", "old plums", "--product", "Autumn feed=1 g"), ("no product", "First feed")),
        (("feed", "--group", "old plums", "--product", "First feed=150"), ("with its unit", "150")),
        (("feed", "--group", "old plums", "--pots", "25"), ("no such number of pots", "24")),
        (("feed", "--group", "old plums", "--phase", "wakeup"), ("no phase of this name", "wake-up")),
        (("feed", "--group", "old plums", "--on", "2026-04-13"), ("still to come", "Today is 2026-04-12")),
        (("bud-break",), ("which group",)),
        (("bud-break", "--group", "old plums", "--on", "2027-01-01"), ("still to come",)),
        (("growth", " ", "--group", "old plums"), ("of which nothing is told",)),
        (("damage", "", "--group", "old plums"), ("of which nothing is told",)),
        (("damage", "half a sign \udcff", "--group", "old plums"), ("not plain JSON",)),
        (("minimum", "29"), ("with its unit", "32F")),
        (("minimum", "290F"), ("no place on earth",)),
        (("minimum", "-300F"), ("no place on earth",)),
        (("minimum", "29F", "--on", "2026-04-13"), ("still to come",)),
        (("minimum", "29F", "--onn", "2026-04-11"), ("unexpected extra argument",)),
        (("undo", "abcd"), ("nothing is logged yet",)),
        (("list", "--kind", "nap"), ("'nap' is not one of",)),
    ],
)  # fmt: skip
def test_what_cannot_be_meant_is_refused_and_nothing_is_written(log, folder, arguments, words):
    refused = log(*arguments)
    assert refused.status == 2
    for word in words:
        assert word in " ".join(refused.err.split())
    assert not (folder / "garden.journal.sqlite").exists() or not _kept(folder)


def test_events_are_kept_for_one_group_or_for_all(log, entries):
    told = log("bud-break", "--group", "all", "--on", "2026-04-09", "--note", " lowest first ")
    assert log("fruit-set", "--group", "cuttings").status == 0
    assert log("growth", "slow", "--group", "old plums").status == 0
    assert log("damage", "tips brown", "--group", "all").status == 0
    kept = [(each["kind"], each["group"], each["body"].get("note")) for each in entries()]
    assert kept == [
        ("bud break", "old plums", "lowest first"), ("bud break", "cuttings", "lowest first"),
        ("fruit set", "cuttings", None), ("growth", "old plums", "slow"),
        ("damage", "old plums", "tips brown"), ("damage", "cuttings", "tips brown"),
    ]  # fmt: skip
    assert told.out.count("Logged for 2026-04-09: bud break of") == told.out.count("To take it back") == 2


def test_the_only_group_need_not_be_named(log, folder, entries):
    only = GARDEN.replace(GARDEN[GARDEN.rindex("[[pots]]") : GARDEN.index("[[product]]")], "")
    (folder / "garden.toml").write_text(only, encoding="utf-8")
    assert log("bud-break").status == 0
    assert log("feed").status == 0
    assert {each["group"] for each in entries()} == {"old plums"}


def test_a_group_called_all_is_that_group(log, folder, entries):
    (folder / "garden.toml").write_text(GARDEN.replace('"cuttings"', '"all"'), encoding="utf-8")
    assert log("bud-break", "--group", "all").status == 0
    assert [each["group"] for each in entries()] == ["all"]


def test_a_garden_without_pots_keeps_minima_and_refuses_feedings(log, folder):
    (folder / "garden.toml").write_text('[[site]]\nname = "Hollin Bank"\n', encoding="utf-8")
    assert log("minimum", "-1.5C").out.startswith("Logged for 2026-04-12: minimum -1.5 °C\n")
    assert "has no group of pots" in log("feed").err


@pytest.mark.parametrize(
    ("written", "tmin_c"), [("29F", -5 / 3), ("-2C", -2.0), ("-2 °C", -2.0), ("0C", 0.0)]
)
def test_a_minimum_is_kept_in_celsius(log, entries, written, tmin_c):
    assert log("minimum", written).status == 0
    assert entries()[0]["body"]["tmin_c"] == pytest.approx(tmin_c)
    assert entries()[0]["group"] is None


def test_a_second_minimum_of_one_morning_says_that_it_counts_instead(log, entries):
    assert "instead" not in log("minimum", "29F").out
    assert "instead" not in log("minimum", "30F", "--on", "2026-04-11").out
    assert "It counts instead of the minimum 29 °F logged before." in log("minimum", "31F").out
    assert len(entries()) == 3


def test_a_minimum_logged_by_a_clock_that_was_set_back_counts_as_it_says(run, folder):
    for at, seen in (("2026-04-12 10:00:00", "29F"), ("2026-04-12 09:00:00", "31F")):
        with freeze_time(at):
            said = run("log", "minimum", seen).out
    assert "It counts instead of the minimum 29 °F logged before." in said
    with Journal.open(folder / "garden.journal.sqlite") as journal:
        night = forecast("2026-04-11T06:00", {"2026-04-12": 2.0})
        log = forecast_log([night, *journal.entries()])
    assert log.observed_c.tolist() == [pytest.approx(-5 / 9, abs=0.01)]


def test_a_damaged_entry_is_named_and_all_others_are_listed_exported_and_rescued(log, folder):
    for command in (("minimum", "29F"), ("damage", "tips brown", "--group", "old plums"), ("minimum", "31F")):
        assert log(*command).status == 0
    shutil.rmtree(folder / "garden.journal.copies")
    path = folder / "garden.journal.sqlite"
    path.write_bytes(path.read_bytes().replace(b"tips brown", b"tips \xff\x1brow"))
    listed = log("list")
    assert (listed.status, listed.out.count("minimum")) == (0, 2)
    assert "Entry 2 of the journal (damage, 2026-04-12, " in listed.out
    assert [one["number"] for one in log("list", "--format", "json").json["damaged"]] == [2]
    assert "Exported 2 entries" in (exported := log("export", "a.json").out)
    assert "Entry 2 of the journal" in exported
    checked = log("check")
    assert checked.status == 2
    assert 'is damaged: {"note": "tips \\xff\\u001brow"}' in checked.out
    assert "frostgate log rescue FILE" in checked.err
    assert "Entry 2 of the journal" in log("fruit-set", "--group", "old plums").out
    assert log("rescue", "garden.journal.sqlite").status == 2
    refused = log("import", "a.json")
    assert (refused.status, "log rescue FILE" in refused.err) == (2, True)
    rescued = log("rescue", "new.sqlite")
    assert (rescued.status, "Rescued 3 entries" in rescued.out) == (0, True)
    path.unlink()
    (folder / "new.sqlite").rename(path)
    assert log("check").out == (
        "3 entries can be read.\n"
        "No copy is kept yet: one is made once a week, when something is written down.\n"
        "The journal is sound.\n"
    )


def test_what_was_undone_can_be_brought_back_by_the_command_that_is_shown(log):
    hint = log("minimum", "29F").out.splitlines()[-1]
    undone = log(*shlex.split(hint.partition("frostgate log ")[2]))
    assert undone.out.startswith("Undone: minimum 29 °F, logged for 2026-04-12.\nNothing is erased.")
    assert log("list").out == "Nothing is logged yet.\n"
    back = undone.out.splitlines()[-1].partition("frostgate log ")[2]
    assert log(*shlex.split(back)).status == 0
    assert "minimum 29 °F" in log("list").out
    assert log(*shlex.split(back)).status == 2


def test_a_journal_in_another_folder_is_named_in_the_hints(run, folder, monkeypatch):
    other = folder / "my garden"
    other.mkdir()
    (other / "plums.toml").write_text(GARDEN, encoding="utf-8")
    told = run("log", "minimum", "29F", "--garden", other / "plums.toml")
    assert told.status == 0
    assert (other / "plums.journal.sqlite").exists()
    hint = shlex.split(told.out.splitlines()[-1].partition("To take it back: ")[2])
    assert run(*hint[1:]).status == 0
    monkeypatch.chdir(other)
    assert "no garden.toml in this folder" in run("log", "minimum", "29F").err


def test_the_list_shows_the_latest_twenty_that_a_grower_wrote(log, folder):
    with Journal.open(folder / "garden.journal.sqlite") as journal:
        journal.add(*one_of_each())
    for day in range(1, 10):
        log("minimum", f"{30 + day}F", "--on", f"2026-03-{day:02d}")
        log("minimum", f"{40 + day}F", "--on", f"2026-03-{day:02d}")
    shown = log("list").out.splitlines()
    assert len(shown) == 21
    assert shown[-1] == "4 earlier: --last N shows more, --all everything."
    assert not any(word in line for line in shown for word in ("forecast made", "verdict"))
    assert len(log("list", "--all").out.splitlines()) == 26
    assert len(log("list", "--last", "3").out.splitlines()) == 4
    assert len(log("list", "--last", "3", "--kind", "minimum").out.splitlines()) == 4
    kinds = ("--kind", "verdict", "--kind", "bud-break")
    assert [line[22:31] for line in log("list", *kinds).out.splitlines()] == ["bud break", "verdict s"]
    assert log("list", "--kind", "undo").out == "Nothing of the kind is logged.\n"


def test_a_list_before_anything_is_logged_makes_no_journal(log, folder):
    assert log("list").out == "Nothing is logged yet.\n"
    assert log("list", "--format", "json").json == {"entries": [], "damaged": []}
    assert not (folder / "garden.journal.sqlite").exists()


def test_a_corrupt_journal_is_told_and_left_as_it_is(log, folder):
    path = folder / "garden.journal.sqlite"
    path.write_bytes(b"date,tmin\n" * 100)
    for command in (("minimum", "29F"), ("list",), ("undo", "abcd"), ("export", "a.csv")):
        refused = log(*command)
        assert (refused.status, "last export" in refused.err) == (2, True)
    refused = log("rescue", "b.sqlite")
    assert (refused.status, "Neither can a copy be" in refused.err) == (2, True)
    assert not (folder / "b.sqlite").exists()
    assert log("list", "--format", "json").json["error"]["file"] == "garden.journal.sqlite"
    assert path.read_bytes() == b"date,tmin\n" * 100


def _kept(folder):
    with Journal.open(folder / "garden.journal.sqlite") as journal:
        return journal.history()


@pytest.fixture
def filled(tmp_path, monkeypatch):
    """Stand in the folder of a garden with a journal of every kind of entry and an undo."""
    (tmp_path / "garden.toml").write_text('[[site]]\nname = "Hollin Bank"\n', encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    with Journal.open(tmp_path / "garden.journal.sqlite") as journal:
        entries = one_of_each()
        journal.add(*entries)
        journal.undo(entries[0].id, NOW)
    return tmp_path


@pytest.fixture
def log_there(run, filled):
    assert (filled / "garden.toml").exists()
    return lambda *arguments: run("log", *arguments)


@pytest.mark.parametrize("name", ["out.csv", "out.json", "OUT.CSV"])
def test_a_lost_journal_comes_back_from_its_export(log_there, filled, name):
    before = _kept(filled)
    assert log_there("export", name).out == f"Exported 9 entries to {name}.\n"
    (filled / "garden.journal.sqlite").unlink()
    assert log_there("import", name).out == f"Imported 9 entries from {name}.\n"
    assert _kept(filled) == before
    assert log_there("import", name).out == f"Imported 0 entries from {name}; 9 were there already.\n"


def test_an_export_that_grew_is_replaced_and_imported_in_part(log_there, filled):
    assert log_there("export", "out.csv").status == 0
    (filled / "old.csv").write_bytes((filled / "out.csv").read_bytes())
    with Journal.open(filled / "garden.journal.sqlite") as journal:
        journal.add(minimum())
    assert log_there("export", "out.csv").out == "Exported 10 entries to out.csv.\n"
    (filled / "garden.journal.sqlite").unlink()
    log_there("import", "old.csv")
    assert log_there("import", "out.csv").out == "Imported 1 entry from out.csv; 9 were there already.\n"


@pytest.mark.parametrize(
    "content", ["my shopping list\n", "", "id,made_at\n1,2\n"], ids=["notes", "empty", "table"]
)
def test_a_file_that_is_no_export_is_not_written_over(log_there, filled, content):
    (filled / "out.csv").write_text(content, encoding="utf-8")
    refused = log_there("export", "out.csv")
    assert (refused.status, "Name another file" in refused.err) == (2, True)
    assert (filled / "out.csv").read_text(encoding="utf-8") == content


def test_an_export_that_holds_more_than_the_journal_is_not_written_over(log_there, filled):
    """After a journal was lost and begun anew, its last export is all there is of it."""
    log_there("export", "out.json")
    before = (filled / "out.json").read_bytes()
    (filled / "garden.journal.sqlite").unlink()
    log_there("minimum", "29F", "--on", "2026-01-01")
    refused = log_there("export", "out.json")
    assert (refused.status, "frostgate log import" in refused.err) == (2, True)
    assert f"{filled / 'out.json'}, line 2: " in refused.err or "out.json, line 2: " in refused.err
    assert (filled / "out.json").read_bytes() == before
    assert log_there("import", "out.json").status == 0
    assert log_there("export", "out.json").out == "Exported 10 entries to out.json.\n"


def test_a_contradiction_names_its_line_and_nothing_is_imported(log_there, filled):
    log_there("export", "out.csv")
    lines = (filled / "out.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    lines[6] = lines[6].replace("-1.1", "-9.9")
    (filled / "out.csv").write_text("".join(lines), encoding="utf-8")
    before = _kept(filled)
    refused = log_there("import", "out.csv")
    assert refused.status == 2
    assert refused.err.startswith("Error: out.csv, line 7: an entry that stands otherwise in the journal")
    assert _kept(filled) == before


def test_a_body_of_the_wrong_shape_is_refused_before_anything_is_written(log_there, filled):
    log_there("export", "out.csv")
    text = (filled / "out.csv").read_text(encoding="utf-8").replace("-1.1}", '""cold""}')
    (filled / "out.csv").write_text(text, encoding="utf-8")
    (filled / "garden.journal.sqlite").unlink()
    refused = log_there("import", "out.csv")
    assert (refused.status, "out.csv, line 7: the tmin_c of a minimum" in refused.err) == (2, True)
    assert not (filled / "garden.journal.sqlite").exists()


@pytest.mark.parametrize(
    ("command", "words"),
    [(("export", "out.txt"), "as .csv or .json"), (("import", "out"), "as .csv or .json"),
     (("import", "none.csv"), "no such file"), (("import", "."), "as .csv or .json"),
     (("export", "none/out.csv"), "cannot be written")],
)  # fmt: skip
def test_a_file_that_cannot_be_used_is_told(log_there, command, words):
    refused = log_there(*command)
    assert (refused.status, words in refused.err) == (2, True)


def test_a_file_that_is_not_utf_8_is_told(log_there, filled):
    (filled / "out.csv").write_bytes("id,made_at\nfür".encode("latin-1"))
    assert "not UTF-8" in log_there("import", "out.csv").err


def test_an_export_of_nothing_is_told(log_there, filled):
    (filled / "garden.journal.sqlite").unlink()
    assert "nothing is logged yet" in log_there("export", "out.csv").err
    assert not (filled / "out.csv").exists()
    assert not (filled / "garden.journal.sqlite").exists()
