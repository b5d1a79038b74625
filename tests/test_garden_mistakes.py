"""Every mistake of a garden file is named at once, with its line and what to write instead."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from frostgate.errors import GardenFileError, InputError
from frostgate.garden.file import read_garden
from frostgate.garden.statements import MOST_FAULTS, read_statements
from frostgate.garden.tables import say_value
from tests.garden_text import FULL, changed, line_of

# What is changed, into what; the line of the mistake; a word of what is said, and of what to do.
MISTAKES = {
    "misspelt key": ('offset = "-1.8F"', 'ofset = "-1.8F"',
                     line_of("offset ="), "no such key in [[site]]", "offset"),
    "key of another table": ('winters = "sheltered"', 'winters = "sheltered"\nbucket = "3.5 gal"',
                             line_of("winters") + 1, "no such key", "It belongs in [tools]"),
    "key of the top": ("stop_weeks = 6", 'units = "us"',
                       line_of("stop_weeks"), "no such key", "top of the file"),
    "unknown key": ("stop_weeks = 6", "colour = 6",
                    line_of("stop_weeks"), "no such key in [rules]", "stop_weeks"),
    "unknown table": ("[tools]", "[buckets]", line_of("[tools]"), "no such table", "Possible"),
    "misspelt table": ("[[no_feeding]]", "[[nofeeding]]",
                       line_of("[[no_feeding]]"), "no such table", "no_feeding"),
    "no unit": ('"30F"', '"30"', line_of("damage_temp"), "temperature with its unit", "32F"),
    "bare share": ('risk = "5%"', 'risk = "5"', line_of("risk"), "share", "10%"),
    "risk above half": ('risk = "5%"', 'risk = "51%"', line_of("risk"), "tolerance", "10%"),
    "share as a number": ('risk = "5%"', "risk = 0.05", line_of("risk"), "text in quotes", 'risk = "10%"'),
    "absurd elevation": ('"1020 ft"', '"10200 m"', line_of("elevation"), "no land", "unit"),
    "absurd damage": ('"30F"', '"300F"', line_of("damage_temp"), "no place on earth", None),
    "damage on a hot day": ('"30F"', '"90F"', line_of("damage_temp"), "no flush", "unit"),
    "absurd offset": ('"-1.8F"', '"-80F"', line_of("offset ="), "does not differ", None),
    "spread below 0": ('"0.9F"', '"-0.9F"', line_of("offset_spread"), "spread", "1.5F"),
    "no such zone": ("America/New_York", "America/Nowhere", line_of("time_zone"), "no time zone", "UTC"),
    "hemisphere": ('"north"', '"North Pole"', line_of("hemisphere"), "not one of the words", "south"),
    "exposed too late": ("exposed_from = 2", "exposed_from = 8", line_of("exposed_from"), "7 or less", "= 1"),
    "half a day": ("exposed_from = 2", "exposed_from = 1.5", line_of("exposed_from"), "whole number", "= 1"),
    "no age": ("max_age_hours = 36", "max_age_hours = nan", line_of("max_age"), "a number", "48"),
    "endless age": ("max_age_hours = 36", "max_age_hours = inf", line_of("max_age"), "a number", "48"),
    "too short an age": (
        "max_age_hours = 36", "max_age_hours = 0.09", line_of("max_age"), "0.1 or more", "48"
    ),
    "no trees": ("count = 9", "count = 0", line_of("count"), "1 or more", "count = 9"),
    "trees by the million": ("count = 9", "count = 1000000", line_of("count"), "or less", "count = 9"),
    "count in quotes": ("count = 9", 'count = "9"', line_of("count"), "whole number", "count = 9"),
    "count as truth": ("count = 9", "count = true", line_of("count"), "whole number", "count = 9"),
    "stage": ('"established"', '"establishd"',
              line_of("stage"), "not one of the words", 'mean "established"'),
    "winters": ('"sheltered"', '"garage"', line_of("winters"), "not one of the words", "unheated room"),
    "pot of a sea": ('"9 gal"', '"9000 gal"', line_of("pot ="), "no pot", "unit"),
    "pot by weight": ('"9 gal"', '"9 kg"', line_of("pot ="), "volume", "3.5 gal"),
    "more than the pot": ('per_pot = "3 qt"', 'per_pot = "10 gal"',
                          line_of("per_pot"), "more solution", "9 gal"),
    "a pot of many digits": ('"9 gal"', f'"{"9" * 5000}/3 gal"', line_of("pot ="), "a shorter text", "9 gal"),
    "a height of a fraction": (
        '"6 ft"', f'"{"9" * 240}/7 ft"', line_of("height"), "not a length with its unit", "6 ft",
    ),
    "a long number": ("price = 17.2", f"price = {'9' * 400}", line_of("price"), "a number", "17.20"),
    "high as a tower": ('"6 ft"', '"600 ft"', line_of("height"), "no fruit tree", "unit"),
    "movable": ("movable = true", 'movable = "yes"', line_of("movable"), "true or false", "movable = true"),
    "no pot": ('pot = "9 gal"\n', "", line_of("[[pots]]"), "lacks 'pot'", "9 gal"),
    "no winter": ('winters = "sheltered"\n', "", line_of("[[pots]]"), "lacks 'winters'", "heated room"),
    "a pot in the ground": ('height = "2 m"', 'pot = "9 gal"',
                            line_of("height", 2), "have none", "Leave it out"),
    "movable ground": ('height = "2 m"', "movable = true", line_of("height", 2), "are not", "Leave it out"),
    "no name": ('name = "old plums"\n', "", line_of("[[pots]]"), "lacks 'name'", "name ="),
    "an empty name": ('name = "old plums"', 'name = ""', line_of("name", 3), "not a name", "not empty"),
    "a name of lines": ('name = "old plums"', 'name = "old\\nplums"',
                        line_of("name", 3), "not a name", "one line"),
    "a name twice": ('name = "by the wall"', 'name = "Old Plums"', line_of("name", 4), "twice", "of its own"),
    "two sites": ('name = "Far Field"', 'name = "Hollin Bank"', line_of("name", 2), "twice", "of its own"),
    "analysis": ('"17-5-9"', '"17-5"', line_of("analysis"), "analysis", "17-5-9"),
    "more than all": ('"17-5-9"', '"64-38-16"', line_of("analysis"), "100", None),
    "more with the rest": ("Mg = 2.0", "Mg = 80.0", line_of("secondary"), "100", None),
    "no element": ("Mg = 2.0", "Xx = 2.0", line_of("secondary"), "element", "Mg"),
    "element in words": ("Mg = 2.0", 'Mg = "two"', line_of("secondary"), "number", None),
    "form": ('"soluble"', '"powder"', line_of("form"), "not one of the words", "soluble"),
    "rate": ('rate = "4 tsp/gal"', 'rate = "4 tsp"', line_of("rate"), "rate", "2 tsp/gal"),
    "a rate for the soil": ('rate = "4 tsp/gal"', 'rate = "4 tsp/pot"',
                            line_of("rate"), "soluble", "by water"),
    "a rate for water": ('"5 tsp/pot"', '"5 tsp/gal"', line_of("rate", 2), "granular", "by pot"),
    "most below the rate": ('"7 tsp/gal"', '"2 tsp/gal"', line_of("most"), "below its rate", "4 tsp/gal"),
    "most by height": ('"5 tsp/pot"', '"5 tsp/pot"\nmost = "0.3 lb/ft"', line_of("rate", 2) + 1,
                       "another measure", "5 tsp/pot"),
    "density": ('"5.1 g/tsp"', '"6 g"', line_of("density ="), "density", "g/tsp"),
    "heavy as lead": ('"5.1 g/tsp"', '"60 g/tsp"', line_of("density ="), "no fertilizer", None),
    "measured nothing": ('density = "5.1 g/tsp"\n', "", line_of("[[product]]"), "lacks 'density'", "g/tsp"),
    "ec": ('"0.9 mS/cm at 100 ppm N"', '"0.9"', line_of("ec ="), "conductivity", "ppm N"),
    "pack": ('"4 lb"', '"4 ft"', line_of("pack"), "mass", None),
    "price": ("price = 17.2", "price = -17.2", line_of("price"), "0 or more", "17.20"),
    "bucket": ('"3.5 gal"', '"3.5"', line_of("bucket"), "volume with its unit", "3.5 gal"),
    "absurd scoop": ('"2.5 tsp"', '"15 gal"', line_of("scoops"), "no scoop", "unit"),
    "a scoop by weight": ('"2.5 tsp"', '"15 g"', line_of("scoops"), "volume", None),
    "one scoop twice": ('"2.5 tsp"', '"1/2 tsp"', line_of("scoops"), "twice", "once"),
    "a scoop that is no text": ('"2.5 tsp"', "2.5", line_of("scoops"), "text in quotes", "scoops ="),
    "water": ("water_ec = 0.4", 'water_ec = "0.4"', line_of("water_ec"), "a number", "0.4"),
    "30 February": ('"02-29"', '"02-30"', line_of("to ="), "no such day", "05-13"),
    "a day with a year": ('"02-29"', '"2026-02-28"', line_of("to ="), "no such day", "05-13"),
    "a day in words": ('"02-29"', '"1 March"', line_of("to ="), "no such day", "05-13"),
    "kind": ('"top-dressing"', '"topdressing"', line_of("kind", 2), "not one of the words", "top-dressing"),
    "starts": ('"bud break"', '"bud brake"', line_of("starts", 2), "not one of the words", "bud break"),
    "after a number": ('after = "4 weeks"', "after = 28", line_of("after"), "text in quotes", "0 days"),
    "after long": ('"4 weeks"', '"400 days"', line_of("after"), "within a year", "10 days"),
    "every day": ('"12 days"', '"0 days"', line_of("every"), "at least a day", "10 days"),
    "no interval": ('every = "12 days"\n', "", line_of("[[phase]]"), "lacks 'every'", "12 days"),
    "strength": ('"75%"', '"strong"', line_of("feed ="), "share of the label's rate", "half"),
    "no strength": ('"75%"', '"0%"', line_of("feed ="), "above 0", "half"),
    "strength and ppm": ("n_ppm = 150", 'n_ppm = 150, strength = "full"',
                         line_of("feed ="), "either", "n_ppm"),
    "neither": (", n_ppm = 150", "", line_of("feed ="), "either", "n_ppm"),
    "absurd ppm": ("n_ppm = 150", "n_ppm = 15000", line_of("feed ="), "2000 or less", "150"),
    "no such product": ('"First feed", n_ppm', '"First food", n_ppm',
                        line_of("feed ="), "none of this name", "First feed"),
    "a product unnamed": ('product = "First feed", n_ppm', "n_ppm",
                          line_of("feed ="), "lacks 'product'", "First feed"),
    "no such group": ('groups = ["old plums"]', 'groups = ["plum"]',
                      line_of("groups"), "no group", "old plums"),
    "granules in water": ('"First feed", n_ppm', '"Pot granules", n_ppm',
                          line_of("feed ="), "granular", "liquid"),
    "water on the soil": ('"Pot granules", str', '"First feed", str',
                          line_of("feed =", 2), "soluble", "granular"),
    "ppm on the soil": ('strength = "half"', "n_ppm = 150", line_of("feed =", 2), "no solution", "strength"),
    "nothing to feed": ('[{ product = "Pot granules", strength = "half" }]', "[]",
                        line_of("feed =", 2), "empty", "product"),
    "a strength of nothing": ('rate = "5 tsp/pot"\n', "",
                              line_of("feed =", 2) - 1, "does not state", "Add the rate"),
    "weeks": ("stop_weeks = 6", "stop_weeks = 60", line_of("stop_weeks"), "40 or less", "7"),
    "days": ("least_days = 9", "least_days = 0", line_of("least_days"), "1 or more", "7"),
    "nitrogen": ('"18 g"', '"18 kg"', line_of("n_per_pot"), "no pot", "unit"),
    "limit": ("ec_limit = 2.5", "ec_limit = 250", line_of("ec_limit"), "20 or less", "3.0"),
    "autumn": ('"20%"', '"120%"', line_of("autumn_risk"), "share", "10%"),
    "units": ('units = "us"', 'units = "US"', line_of("units"), "not one of the words", 'mean "us"'),
}  # fmt: skip


def mistakes_in(text: str, folder: Path) -> tuple[InputError, ...]:
    file = folder / "garden.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(GardenFileError) as caught:
        read_garden(file)
    assert all(mistake.file == str(file) for mistake in caught.value.mistakes)
    return caught.value.mistakes


@pytest.mark.parametrize(("old", "new", "line", "what", "remedy"), MISTAKES.values(), ids=MISTAKES)
def test_a_mistake_is_named_with_its_line_and_what_to_write(old, new, line, what, remedy, tmp_path):
    mistakes = mistakes_in(changed(old, new), tmp_path)
    found = [mistake for mistake in mistakes if mistake.line == line and what in mistake.what]
    assert found, [str(mistake) for mistake in mistakes]
    if remedy is not None:
        assert remedy in found[0].remedy


@pytest.mark.parametrize(
    "name",
    sorted(set(MISTAKES) - {"unknown table", "misspelt table", "misspelt key", "no element"}),
)
def test_one_mistake_is_named_once_and_drags_no_others_behind_it(name, tmp_path):
    old, new, *_ = MISTAKES[name]
    assert len(mistakes_in(changed(old, new), tmp_path)) == 1


def test_ppm_of_nitrogen_that_the_product_does_not_hold(tmp_path):
    text = changed('"17-5-9"', '"0-8-16"').replace("at 100 ppm N", "at 1 g/l")
    (mistake,) = mistakes_in(text, tmp_path)
    assert (mistake.line, mistake.what) == (line_of("feed ="), "feed: 'First feed' holds no nitrogen")


def test_all_mistakes_are_named_at_once_in_order_of_lines(tmp_path):
    text = (
        changed('risk = "5%"', 'risk = 5%')
        .replace('"established"', '"old"')
        .replace("count = 9", "count = -1")
        .replace('"17-5-9"', '"24-8-x"')
        .replace('rate = "4 tsp/gal"', 'rate = "much"')
        .replace('"5 tsp/pot"', '"2 ells/pot"')
        .replace('product = "Pot granules"', 'product = "Evens"')
        .replace('"02-29"', '"02-31"')
    )  # fmt: skip
    assert [mistake.line for mistake in mistakes_in(text, tmp_path)] == sorted(
        [line_of("risk"), line_of("stage"), line_of("count"), line_of("analysis"), line_of("rate"),
         line_of("rate", 2), line_of("feed =", 2), line_of("to =")]
    )  # fmt: skip


def test_a_key_that_could_not_be_read_is_not_called_missing_too(tmp_path):
    (mistake,) = mistakes_in(changed('stage = "established"', "stage = established"), tmp_path)
    assert mistake.line == line_of("stage")


@pytest.mark.parametrize("key", ["tree", "pot", "density", "every"])
def test_a_misspelt_key_is_not_called_missing_too(key, tmp_path):
    (mistake,) = mistakes_in(changed(f"\n{key} = ", f"\n{key}e = "), tmp_path)
    assert mistake.remedy == f'Did you mean "{key}"?'


@pytest.mark.parametrize("table", ["pots", "product", "no_feeding"])
def test_a_misspelt_table_does_not_make_its_names_unknown(table, tmp_path):
    (mistake,) = mistakes_in(changed(f"[[{table}]]", f"[[q{table}]]"), tmp_path)
    assert (mistake.what, mistake.remedy) == ("no such table", f'Did you mean "{table}"?')


@pytest.mark.parametrize("spoiled", [b"\0", b"\xff"])
def test_what_is_no_text_is_to_be_saved_as_text(spoiled, tmp_path):
    file = tmp_path / "garden.toml"
    file.write_bytes(FULL.encode().replace(b"Far Field", spoiled))
    with pytest.raises(GardenFileError, match=r"Save it as UTF-8 text\.") as caught:
        read_garden(file)
    assert caught.value.line == line_of("name", 2)


def test_a_file_without_a_site(tmp_path):
    (mistake,) = mistakes_in('units = "us"\n', tmp_path)
    assert (mistake.what, mistake.line) == ("no [[site]] in the file", None)


@pytest.mark.parametrize(
    ("text", "line", "what"),
    [("site = 3\n", 1, "site: a table is wanted"), ("site = []\n", 1, "site: an empty list"),
     ('[site]\nname = "x"\n[[rules]]\n', 3, "rules: a table is wanted"),
     ('[[site]]\nname = "x"\n[pots.old]\n', 3, "no such key in [[pots]]"),
     ("site = [1]\n", 1, "site: a table is wanted"),
     (changed('feed = [{ product = "Pot granules", strength = "half" }]', "feed = [3]"),
      line_of("feed =", 2), "feed: a table is wanted")],
)  # fmt: skip
def test_a_table_that_is_none(text, line, what, tmp_path):
    assert (line, what) in [(mistake.line, mistake.what) for mistake in mistakes_in(text, tmp_path)]


def test_the_error_lists_its_mistakes_in_its_text_and_as_data(tmp_path):
    file = tmp_path / "garden.toml"
    file.write_text(FULL.replace("count", "cuont"), encoding="utf-8")
    with pytest.raises(GardenFileError) as caught:
        read_garden(file)
    first, second = caught.value.mistakes
    said = str(caught.value).split("\n")
    assert said[0] == f"{file}: 2 mistakes in the garden file."
    assert said[1] == f"  line {first.line}: no such key in [[pots]]: 'cuont'. Did you mean \"count\"?"
    answer = caught.value.as_dict()
    assert answer["mistakes"] == [first.as_dict(), second.as_dict()]
    assert (answer["line"], answer["file"]) == (line_of("count"), str(file))


def test_one_mistake_alone_is_written_as_any_other_error(tmp_path):
    error = GardenFileError(tmp_path / "g.toml", [InputError("not so", line=3, value="x", remedy="Do so.")])
    assert str(error) == f"{tmp_path / 'g.toml'}, line 3: not so: 'x'. Do so."
    assert error.as_dict()["mistakes"][0]["remedy"] == "Do so."


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (10**5000, "a number of thousands of digits"),
        ([1], "a list"),
        ([{}], "a table"),
        (None, None),
        (2, "2"),
    ],
    ids=["long", "list", "table", "none", "number"],
)
def test_values_are_shown_without_their_innards(value, shown):
    assert say_value(value) == shown


ODD = '''\
top = 1
[[a]]
x = "1"
[a.inner]
deep = 1
[[a]]
x = [
  "one",   # a comment ] in a list
  "two = 2",
]
text = """
x = 3
[[a]]
"""
dotted.key.name = { inline = { deeper = 1 } }
[[a.list]]
y = 1
[[a.list]]
y = 2
["quoted key"]
'odd key' = 3
'''


@pytest.mark.parametrize(
    ("place", "line"),
    [
        (("top",), 1), (("a", 0), 2), (("a", 0, "x"), 3), (("a", 0, "inner"), 4),
        (("a", 0, "inner", "deep"), 5), (("a", 1), 6), (("a", 1, "x"), 7), (("a", 1, "x", 1), 7),
        (("a", 1, "text"), 11), (("a", 1, "dotted", "key", "name", "inline", "deeper"), 15),
        (("a", 1, "list", 0, "y"), 17),
        (("a", 1, "list", 1), 18), (("a", 1, "list", 1, "y"), 19), (("quoted key", "odd key"), 21),
    ],
)  # fmt: skip
def test_each_place_has_the_line_of_its_statement(place, line):
    assert read_statements(ODD).line_of(place) == line


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_lines_are_counted_by_either_ending(ending):
    said = read_statements(ODD.replace("\n", ending))
    assert said.values == tomllib.loads(ODD)
    assert said.line_of(("a", 1, "list", 1, "y")) == 19


def test_a_key_that_is_missing_has_the_line_of_its_table():
    assert read_statements(ODD).line_of(("a", 1, "missing")) == 6
    assert read_statements(ODD).line_of(("missing",)) is None


def test_the_first_of_a_list_may_stand_alone():
    said = read_statements('[site]\nname = "x"')
    assert said.line_of(("site", 0, "name")) == 2
    assert said.line_of(("site", 0, "risk")) == 1


def test_the_values_are_those_of_the_reader_itself():
    said = read_statements(FULL)
    assert (said.values, said.faults, said.lost) == (tomllib.loads(FULL), (), frozenset())


@pytest.mark.parametrize(
    ("text", "lines", "lost"),
    [
        ('a = 1\nb = 10%\nc = "x\nd = 2\n', [2, 3], {"b", "c"}),
        ('a = "x\nb = \'y\n"c" = z\n', [1, 2, 3], {"a", "b", "c"}),
        ("a = 1\na = 2\nb = 3\n", [2], {"a"}),
        ("a = 11-15\nb = 2026-02-30\n", [1, 2], {"a", "b"}),
        ("a = “x”\nb\nc = 1", [1, 2], {"a"}),
    ],
)
def test_a_line_that_is_wrong_by_itself_does_not_hide_the_rest(text, lines, lost):
    said = read_statements(text)
    assert [fault.line for fault in said.faults] == lines
    assert said.lost == lost


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("a = [1,\nb = 2\n[c]\n", 1, "without its closing bracket"),
        ("x = 1\na = [1,\n  2,\n\n[c]\nd = 1\n", 2, "without its closing bracket"),
        ('x = 1\na = """\nb = 2\n', 2, "closing quote"),
        ("x = 1\na = { b = 1,\n", 2, "not TOML"),
        ("[[pots]\nname = 1\n", 1, "not TOML"),
        ("a = [\n  1,\n  2 3,\n]\n", 3, "closing bracket"),
        ("[rules]\n[rules]\n", 2, "table that stands twice"),
        ("[[pots]]\n[pots]\n", 2, "table that stands twice"),
        ("x = 1\ny = " + "9" * 5000, 2, "thousands of digits"),
        ("x = 1\ny = " + "[" * 5000, 2, "too deep"),
        ("just words\n", 1, "neither a table"),
    ],
)
def test_what_cannot_be_read_is_named_where_it_begins(text, line, words):
    fault = read_statements(text).faults[0]
    assert fault.line == line
    assert words in fault.what


def test_a_text_of_nothing_but_faults_ends():
    said = read_statements("a = b c\n" * 500)
    assert len(said.faults) == MOST_FAULTS
    assert said.values is None


def test_a_statement_may_be_as_long_as_it_likes():
    said = read_statements("\n".join(["a = 1", "b = [", *["  1,"] * 500, "]", "c = 1"]))
    assert [said.line_of((key,)) for key in "abc"] == [1, 2, 504]
    assert said.values["c"] == 1


def test_a_table_of_tables_is_followed_no_deeper_than_any_garden_goes():
    assert read_statements(".".join("abcdefgh") + " = 1").line_of(tuple("abcdefgh")) == 1


def test_every_statement_of_the_sample_has_a_line():
    said = read_statements(FULL)
    assert said.line_of(("site", 1, "name")) == line_of("name", 2)
    assert said.line_of(("phase", 0, "feed", 1, "n_ppm")) == line_of("feed =")
    assert said.line_of(("product", 0, "secondary", "Mg")) == line_of("secondary")
    assert said.line_of(("rules", "autumn_risk")) == line_of("autumn_risk")
