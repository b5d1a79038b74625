"""A journal out to a file and in again: nothing is lost, nothing is added twice, nothing half."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import pytest

from frostgate.errors import InputError
from frostgate.files import decode, read_bytes
from frostgate.garden.exchange import (
    BOM,
    FIELDS,
    WRITERS,
    Imported,
    first_lost,
    form_of,
    import_entries,
    read_export,
    write_json,
    write_table,
)
from frostgate.garden.journal import Journal, new_entry
from tests.journal_cases import NOW, event, minimum, one_of_each

FORMS = (".csv", ".json")
ID = "1f0c4a52-7d0e-4b6e-9a53-0e5a3c1b2d4f"
ROW = f'{ID},2026-04-12T07:00:00,2026-04-12,minimum,,,"{{""tmin_c"": -1.1}}"'
BARE = ROW.partition('"')[0]  # without a body
HEADER = ",".join(FIELDS)


@pytest.fixture
def journal(tmp_path):
    with Journal.open(tmp_path / "garden.journal.sqlite") as opened:
        yield opened


def with_undos(journal):
    """Fill a journal with every kind, an undo and an undone undo."""
    entries = one_of_each()
    journal.add(*entries)
    first = journal.undo(entries[0].id, NOW)
    journal.undo(first.id, NOW)
    journal.undo(entries[1].id, NOW)
    return journal.history()


def read_file(path):
    return read_export(decode(read_bytes(path), path), path)


def read(text, form=".csv"):
    return [each.entry for each in read_export(text, Path(f"journal{form}"))]


@pytest.mark.parametrize("form", FORMS)
def test_an_export_read_into_a_new_journal_is_the_same_journal(journal, tmp_path, form):
    entries = with_undos(journal)
    file = tmp_path / f"out{form}"
    file.write_text(WRITERS[form](entries), encoding="utf-8")
    with Journal.open(tmp_path / "other.sqlite") as other:
        assert import_entries(other, read_file(file), file) == Imported(added=len(entries), there=0)
        assert other.history() == entries
        assert other.entries() == journal.entries()
        assert import_entries(other, read_file(file), file) == Imported(added=0, there=len(entries))
        assert first_lost(other, read_file(file)) is None


@pytest.mark.parametrize("form", FORMS)
def test_only_what_is_not_there_yet_is_added(journal, form):
    old, new = minimum(1.0), minimum(2.0)
    journal.add(old)
    placed = read_export(WRITERS[form]([old, new, new]), Path(f"a{form}"))
    assert first_lost(journal, placed) == placed[1]
    assert import_entries(journal, placed, Path("a")) == Imported(added=1, there=2)
    assert journal.history() == (old, new)


@pytest.mark.parametrize("form", FORMS)
def test_the_same_id_with_other_content_is_refused_and_nothing_is_written(journal, form):
    old = minimum(1.0)
    journal.add(old)
    text = WRITERS[form]([minimum(5.0), minimum(6.0), replace(old, body={"tmin_c": 2.0})])
    file = Path(f"a{form}")
    with pytest.raises(InputError, match="stands otherwise in the journal") as refused:
        import_entries(journal, read_export(text, file), file)
    assert (refused.value.line, refused.value.value, refused.value.file) == (4, old.id, str(file))
    assert "Nothing was imported" in refused.value.remedy
    assert journal.history() == (old,)


@pytest.mark.parametrize("form", FORMS)
def test_a_file_that_contradicts_itself_is_refused(journal, form):
    one = minimum(1.0)
    text = WRITERS[form]([one, minimum(9.0), replace(one, group="old plums", kind="growth")])
    with pytest.raises(InputError, match="stands otherwise on line 2") as refused:
        import_entries(journal, read_export(text, Path(f"a{form}")), Path("a"))
    assert refused.value.line == 4
    assert journal.history() == ()


def test_undos_that_a_spreadsheet_has_sorted_before_their_entries_are_taken_in(journal, tmp_path):
    entries = with_undos(journal)
    text = write_table(reversed(entries))
    with Journal.open(tmp_path / "other.sqlite") as other:
        import_entries(other, read_export(text, Path("a.csv")), Path("a.csv"))
        assert other.undone() == journal.undone()
        assert sorted(entry.id for entry in other.history()) == sorted(entry.id for entry in entries)


def test_an_undo_of_what_is_nowhere_is_refused(journal):
    entries = [minimum(), new_entry("undo", made_at=NOW, undoes="gone"), event("growth")]
    with pytest.raises(InputError, match="neither in the journal nor in the file") as refused:
        import_entries(journal, read_export(write_table(entries), Path("a.csv")), Path("a.csv"))
    assert (refused.value.line, refused.value.value) == (3, "gone")
    assert journal.history() == ()


def test_undos_of_each_other_are_refused(journal):
    one = new_entry("undo", made_at=NOW, undoes="two")
    entries = [one, replace(one, id="two", undoes=one.id)]
    with pytest.raises(InputError, match="neither"):
        import_entries(journal, read_export(write_table(entries), Path("a.csv")), Path("a.csv"))


def test_notes_keep_their_commas_quotes_and_lines_in_a_table():
    note = 'tips brown, "north" side;\n\tsecond line\r\n= 1 + 1 \u2028 ½ 🌱'
    entries = [event("damage", note=note)]
    assert read(write_table(entries)) == entries
    assert len(list(csv.reader(io.StringIO(write_table(entries), newline="")))) == 2


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("quoting", [csv.QUOTE_ALL, csv.QUOTE_MINIMAL])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_a_table_that_a_spreadsheet_saved_is_read(separator, quoting, end):
    entries = [event("damage", note='a, b; c\t"d"\ne'), minimum(), event("growth", group=None)]
    rows = list(csv.reader(io.StringIO(write_table(entries).lstrip(BOM))))
    saved = io.StringIO()
    csv.writer(saved, delimiter=separator, quoting=quoting, lineterminator=end).writerows(
        [*rows[:2], [""] * len(FIELDS), *([*row, "", ""] for row in rows[2:])]
    )
    assert read(saved.getvalue()) == entries


def test_columns_may_stand_in_another_order_and_empty_cells_at_the_end_be_missing():
    entries = [minimum(), event("growth", group=None)]
    order = ("body", "on", "kind", "made_at", "id", "undoes", "group")
    text = io.StringIO()
    table = csv.writer(text)
    table.writerow(name.upper() for name in order)
    for raw in csv.DictReader(io.StringIO(write_table(entries).lstrip(BOM))):
        table.writerow([raw[name] for name in order][:5])
    assert read(text.getvalue()) == entries


def test_a_time_that_a_spreadsheet_wrote_with_a_space_is_the_same_time():
    entry = minimum()
    assert read(write_table([entry]).replace("2026-04-12T07:00:00", "2026-04-12 07:00")) == [entry]


def test_a_list_in_json_may_be_laid_out_in_any_way():
    entries = list(one_of_each())
    plain = json.loads(write_json(entries))
    for text in (json.dumps(plain), json.dumps(plain, indent=4), json.dumps(plain, separators=(",", ":"))):
        assert read(text, ".json") == entries
    bare = [{name: value for name, value in each.items() if value is not None} for each in plain]
    assert read(json.dumps(bare), ".json") == entries
    assert read(" [ ] ", ".json") == []


@pytest.mark.parametrize(
    ("row", "line", "what"),
    [
        (ROW.replace("2026-04-12,", "12/04/2026,", 1), 2, "not a date"),
        (ROW.replace("2026-04-12T07:00:00", "noon"), 2, "not a time"),
        (ROW.replace("2026-04-12T07:00:00", "2026-04-12T07:00:00+02:00"), 2, "offset from UTC"),
        (ROW.replace("minimum", "maximum"), 2, "no entry is of this kind"),
        (ROW.replace("minimum", "undo"), 2, "an undo names"),
        (ROW.replace("-1.1", "-111"), 2, "the tmin_c of a minimum is not"),
        (ROW.replace("-1.1", "NaN"), 2, "not plain JSON values"),
        (ROW.replace("{", "["), 2, "the body is not JSON"),
        (BARE + "[]", 2, "no JSON object as body"),
        (ROW.replace("}", ', ""tmin_c"": 2}'), 2, "the body is not JSON .'tmin_c' stands there twice"),
        (ROW.replace("-1.1", "9" * 5000), 2, "the body is not JSON"),
        (BARE + "[" * 100_000, 2, "the body is not JSON"),
        (ROW.replace(ID, ""), 2, "no text as id"),
        (BARE, 2, "the body is not JSON"),
        (f"{ROW}\n\n{ROW},more", 4, "a cell beside the columns"),
        (f"{ROW}\n{ROW[:-1]}", 3, "not a row of a table"),
        (f'{ROW}\n"', 3, "not a row of a table"),
    ],
)  # fmt: skip
def test_a_row_that_cannot_be_read_is_named_by_its_line(row, line, what):
    with pytest.raises(InputError, match=what) as refused:
        read(f"{HEADER}\n{row}\n")
    assert (refused.value.file, refused.value.line) == ("journal.csv", line)
    assert refused.value.remedy


@pytest.mark.parametrize(
    "header",
    ["", ",,,", "date,tmin_c", HEADER.replace("body", "id"), HEADER + ",more", HEADER.removesuffix(",body")],
)
def test_other_columns_are_refused(header):
    with pytest.raises(InputError, match="not the columns of a journal") as refused:
        read(f"{header}\n{ROW}\n" if header.strip(",") else header)
    assert HEADER in refused.value.remedy


OBJECT = json.dumps({"id": ID, "made_at": "2026-04-12T07:00", "on": "2026-04-12", "kind": "minimum",
                     "body": {"tmin_c": 1.0}})  # fmt: skip


@pytest.mark.parametrize(
    ("text", "line", "what"),
    [
        ("{}", 1, "not a list of entries"),
        ("", 1, "not a list of entries"),
        (f"[{OBJECT}", 1, "not a list of entries"),
        (f"[\n{OBJECT}\n{OBJECT}]", 3, "not a list of entries"),
        (f"[{OBJECT},]", 1, "not JSON"),
        (f"[{OBJECT}]\n\n[]", 3, "not a list of entries and nothing more"),
        (f"[\n{OBJECT},\n{{\"id\": 'x'}}]", 3, "not JSON"),
        (f"[\n{OBJECT},\n\n7]", 4, "not the fields of an entry"),
        (f"[\n{OBJECT},\n{{\"id\": \"1\", \"colour\": \"red\"}}]", 3, "not the fields of an entry"),
        ('[\n{"id": "1", "id": "2"}]', 2, "not JSON"),
        ('[\n{"id": "1",\n"kind"\n: minimum}]', 4, "not JSON"),
        ("[\n" + "[" * 100_000, 2, "not JSON"),
        ('[\n{"id": 7}]', 2, "no text as id"),
        (f"[\n\n{OBJECT.replace('1.0', 'NaN')}]", 3, "not plain JSON"),
        (f"[\n\n{OBJECT.replace('1.0', '1e999')}]", 3, "not plain JSON"),
        (f"[{OBJECT.replace('1.0', '9' * 5000)}]", 1, "not JSON"),
        ("[" + OBJECT.replace('{"tmin_c": 1.0}', "[1]") + "]", 1, "no JSON object as body"),
        ("[" + OBJECT.replace('"2026-04-12"', "20260412") + "]", 1, "no text as on"),
    ],
)  # fmt: skip
def test_a_json_text_that_cannot_be_read_is_named_by_its_line(text, line, what):
    with pytest.raises(InputError, match=what) as refused:
        read(text, ".json")
    assert (refused.value.file, refused.value.line) == ("journal.json", line)
    assert refused.value.remedy


@pytest.mark.parametrize("name", ["journal", "journal.txt", "journal.csv.gz"])
def test_only_csv_and_json_are_forms(name, tmp_path):
    with pytest.raises(InputError, match=r"as \.csv or \.json"):
        form_of(tmp_path / name)
    assert form_of(tmp_path / "a.JSON") == ".json"
