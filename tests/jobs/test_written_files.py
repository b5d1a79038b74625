"""Whatever a command writes for the grower, it replaces only what frostgate made, unless it is told to."""

from __future__ import annotations

import datetime as dt
import shutil

import pytest

from frostgate.garden.journal import Journal, new_entry

FILES = ("garden.toml", "oskelmere.dly", "forecast_clear.csv")


@pytest.fixture
def home(run, samples, tmp_path, monkeypatch):
    """A folder with the invented garden and its journal, entered."""
    for name in FILES:
        shutil.copy(samples / name, tmp_path)
    monkeypatch.chdir(tmp_path)
    assert run("log", "minimum", "29F").status == 0
    shutil.copy("oskelmere.dly", "near.dly")
    return tmp_path


WRITERS = {
    "card": ("plan", "--climate-only", "--card", "{}"),
    "calendar": ("plan", "--climate-only", "--calendar", "{}"),
    "combined": ("siting", "oskelmere.dly", "--nearby", "near.dly", "--combined", "{}"),
    "export": ("log", "export", "{}"),
    "curve": ("curve", "oskelmere.dly", "--season", "spring", "--threshold", "32F", "--chart", "{}"),
    "replay": ("replay", "oskelmere.dly", "--years", "2000-2012", "--chart", "{}"),
    "compare": ("compare", "oskelmere.dly", "--chart", "{}"),
}
ENDINGS = {"card": "html", "calendar": "ics", "combined": "csv", "export": "csv"}


@pytest.fixture
def write(run):
    """Return a function that lets one of the writers write into a file."""

    def _write(writer, file, *more):
        return run(*(word.format(file) for word in WRITERS[writer]), *more)

    return _write


@pytest.mark.parametrize("writer", WRITERS)
def test_a_file_of_the_growers_is_replaced_only_when_that_is_told(home, write, writer):
    file = home / f"notes.{ENDINGS.get(writer, 'svg')}"
    file.write_text("Sown on 3 April.\n")

    refused = write(writer, file.name)
    assert refused.status == 2
    assert file.name in refused.err
    assert file.read_text() == "Sown on 3 April.\n"

    told = write(writer, file.name, "--replace")
    assert (told.status, told.err.startswith("Error")) == (0, False)
    assert file.read_text(encoding="utf-8") != "Sown on 3 April.\n"


@pytest.mark.parametrize("writer", [name for name in WRITERS if name != "combined"])
def test_what_frostgate_made_is_renewed(home, write, writer):
    file = home / f"made.{ENDINGS.get(writer, 'png')}"
    assert write(writer, file.name).status == 0
    assert write(writer, file.name).status == 0


def test_a_table_of_minima_is_never_known_to_be_ours(home, write):
    assert write("combined", "all.csv").status == 0
    before = (home / "all.csv").read_text()
    (home / "all.csv").write_text(before + "X,2030-01-01,1.0\n")
    assert "frostgate did not make" in write("combined", "all.csv").err
    assert (home / "all.csv").read_text() == before + "X,2030-01-01,1.0\n"


def test_one_kind_of_file_never_replaces_another(home, write):
    assert write("calendar", "season").status == 0
    assert "frostgate did not make" in write("card", "season").err
    assert (home / "season").read_text().startswith("BEGIN:VCALENDAR")


ENTRUSTED = ("garden.journal.sqlite", "garden.toml", "oskelmere.dly", "forecast_clear.csv", "log.csv")


@pytest.mark.parametrize("name", [*ENTRUSTED, "near.dly"])
@pytest.mark.parametrize("writer", ["card", "calendar", "combined"])
def test_what_the_garden_rests_on_is_never_written_over(home, run, write, writer, name):
    asked = ("--record", "oskelmere.dly", "--forecast", "forecast_clear.csv")
    run("today", *asked, "--on", "2026-05-16", "--forecast-log", "log.csv")
    if (writer, name) in {("card", "near.dly"), ("calendar", "near.dly")}:
        return
    before = (home / name).read_bytes()
    refused = write(writer, name, "--replace")
    assert (refused.status, (home / name).read_bytes()) == (2, before)
    assert "never written over" in refused.err


def test_not_by_another_name_either(home, write):
    (home / "link.html").symlink_to("garden.toml")
    (home / "twin.html").hardlink_to("oskelmere.dly")
    for name in ("link.html", "twin.html", "./garden.toml", str(home / "garden.toml")):
        assert "never written over" in write("card", name, "--replace").err


def test_the_place_of_a_journal_that_is_yet_to_come_is_kept_free(home, write):
    (home / "garden.journal.sqlite").unlink()
    assert "never written over" in write("card", "garden.journal.sqlite").err
    assert not (home / "garden.journal.sqlite").exists()


def test_another_gardens_journal_is_not_written_over(home, write):
    shutil.copy(home / "garden.journal.sqlite", "other.html")
    assert "never written over" in write("card", "other.html", "--replace").err


def test_what_a_journal_was_told_last_is_not_written_over(home, write):
    with Journal.open(home / "garden.journal.sqlite") as journal:
        journal.add(
            new_entry("growth", made_at=dt.datetime(2026, 5, 1, 8), on=dt.date(2026, 5, 1), group="old plums")
        )
        before = (home / "garden.journal.sqlite-wal").read_bytes()
        assert before
        assert "never written over" in write("combined", "garden.journal.sqlite-wal", "--replace").err
        assert (home / "garden.journal.sqlite-wal").read_bytes() == before


def test_what_was_written_before_a_file_was_refused_is_said(home, run):
    (home / "card.html").write_text("Mine.\n")
    ran = run("plan", "--climate-only", "--calendar", "season.ics", "--card", "card.html")
    assert ran.status == 2
    assert "Written: season.ics" in ran.err
    assert (home / "card.html").read_text() == "Mine.\n"
