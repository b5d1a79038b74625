"""`frostgate log export` and `frostgate log import`: a journal out and in again."""

from __future__ import annotations

import pytest

from frostgate.garden.journal import Journal
from tests.journal_cases import NOW, minimum, one_of_each


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """Stand in the folder of a garden with a journal of every kind of entry and an undo."""
    (tmp_path / "garden.toml").write_text('[[site]]\nname = "Hollin Bank"\n', encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    with Journal.open(tmp_path / "garden.journal.sqlite") as journal:
        entries = one_of_each()
        journal.add(*entries)
        journal.undo(entries[0].id, NOW)
    return tmp_path


@pytest.fixture
def log(run, folder):
    assert (folder / "garden.toml").exists()
    return lambda *arguments: run("log", *arguments)


def history(folder):
    with Journal.open(folder / "garden.journal.sqlite") as journal:
        return journal.history()


@pytest.mark.parametrize("name", ["out.csv", "out.json", "OUT.CSV"])
def test_a_lost_journal_comes_back_from_its_export(log, folder, name):
    before = history(folder)
    assert log("export", name).out == f"Exported 9 entries to {name}.\n"
    (folder / "garden.journal.sqlite").unlink()
    assert log("import", name).out == f"Imported 9 entries from {name}.\n"
    assert history(folder) == before
    assert log("import", name).out == f"Imported 0 entries from {name}; 9 were there already.\n"


def test_an_export_that_grew_is_replaced_and_imported_in_part(log, folder):
    assert log("export", "out.csv").status == 0
    (folder / "old.csv").write_bytes((folder / "out.csv").read_bytes())
    with Journal.open(folder / "garden.journal.sqlite") as journal:
        journal.add(minimum())
    assert log("export", "out.csv").out == "Exported 10 entries to out.csv.\n"
    (folder / "garden.journal.sqlite").unlink()
    log("import", "old.csv")
    assert log("import", "out.csv").out == "Imported 1 entry from out.csv; 9 were there already.\n"


@pytest.mark.parametrize(
    "content", ["my shopping list\n", "", "id,made_at\n1,2\n"], ids=["notes", "empty", "table"]
)
def test_a_file_that_is_no_export_is_not_written_over(log, folder, content):
    (folder / "out.csv").write_text(content, encoding="utf-8")
    refused = log("export", "out.csv")
    assert (refused.status, "Name another file" in refused.err) == (2, True)
    assert (folder / "out.csv").read_text(encoding="utf-8") == content


def test_an_export_that_holds_more_than_the_journal_is_not_written_over(log, folder):
    """After a journal was lost and begun anew, its last export is all there is of it."""
    log("export", "out.json")
    before = (folder / "out.json").read_bytes()
    (folder / "garden.journal.sqlite").unlink()
    log("minimum", "29F", "--on", "2026-01-01")
    refused = log("export", "out.json")
    assert (refused.status, "frostgate log import" in refused.err) == (2, True)
    assert (folder / "out.json").read_bytes() == before
    assert log("import", "out.json").status == 0
    assert log("export", "out.json").out == "Exported 10 entries to out.json.\n"


def test_a_contradiction_names_its_line_and_nothing_is_imported(log, folder):
    log("export", "out.csv")
    lines = (folder / "out.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    lines[6] = lines[6].replace("-1.1", "-9.9")
    (folder / "out.csv").write_text("".join(lines), encoding="utf-8")
    before = history(folder)
    refused = log("import", "out.csv")
    assert refused.status == 2
    assert refused.err.startswith("Error: out.csv, line 7: an entry that stands otherwise in the journal")
    assert history(folder) == before


def test_a_body_of_the_wrong_shape_is_refused_before_anything_is_written(log, folder):
    log("export", "out.csv")
    text = (folder / "out.csv").read_text(encoding="utf-8").replace("-1.1}", '""cold""}')
    (folder / "out.csv").write_text(text, encoding="utf-8")
    (folder / "garden.journal.sqlite").unlink()
    refused = log("import", "out.csv")
    assert (refused.status, "out.csv, line 7: the tmin_c of a minimum" in refused.err) == (2, True)
    assert not (folder / "garden.journal.sqlite").exists()


@pytest.mark.parametrize(
    ("command", "words"),
    [(("export", "out.txt"), "as .csv or .json"), (("import", "out"), "as .csv or .json"),
     (("import", "none.csv"), "no such file"), (("import", "."), "as .csv or .json"),
     (("export", "none/out.csv"), "cannot be written")],
)  # fmt: skip
def test_a_file_that_cannot_be_used_is_told(log, command, words):
    refused = log(*command)
    assert (refused.status, words in refused.err) == (2, True)


def test_a_file_that_is_not_utf_8_is_told(log, folder):
    (folder / "out.csv").write_bytes("id,made_at\nfür".encode("latin-1"))
    assert "not UTF-8" in log("import", "out.csv").err


def test_an_export_of_nothing_is_told(log, folder):
    (folder / "garden.journal.sqlite").unlink()
    assert "nothing is logged yet" in log("export", "out.csv").err
    assert not (folder / "out.csv").exists()
    assert not (folder / "garden.journal.sqlite").exists()
