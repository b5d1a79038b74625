"""Laws that hold for every garden file, drawn by chance."""

from __future__ import annotations

import json
import tomllib

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from frostgate.errors import GardenFileError
from frostgate.garden.file import read_garden
from frostgate.garden.statements import read_statements
from frostgate.garden.tables import KEYS
from frostgate.garden.written import fill_template
from frostgate.model.garden import STAGES, WINTERS, Garden
from frostgate.show.gardens import garden_answer, garden_lines
from frostgate.units import say_volume
from tests.garden_text import FULL, LINES

law = settings(derandomize=True, deadline=None)
NAMES = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), min_size=1, max_size=40)
WORDS = st.sampled_from(["us", "established", "9 gal", "10%", "32F", "8-7-9", "gate", "11-05", "full", ""])
SCALARS = (
    st.none() | st.booleans() | st.integers(-(10**30), 10**30) | st.floats() | WORDS | st.text(max_size=8)
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["name", "product", "Mg", "strength"]), inner, max_size=3)
    ),
    max_leaves=5,
)


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    return tmp_path_factory.mktemp("garden") / "garden.toml"


def outcome(file, content):
    file.write_bytes(content if isinstance(content, bytes) else content.encode())
    try:
        return read_garden(file)
    except GardenFileError as error:
        return error


def toml(value):
    """Write a value as TOML, by hand."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{json.dumps(key)} = {toml(inner)}" for key, inner in value.items()) + " }"
    if isinstance(value, list):
        return f"[{', '.join(map(toml, value))}]"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=True) if value.isascii() else json.dumps("é")
    return {None: "1979-05-27", True: "true", False: "false"}.get(value) or repr(value)


TABLES = st.sampled_from([name for name in KEYS if name not in {"", "feed"}])


@law
@given(content=st.binary(max_size=300) | st.text(max_size=300))
@example(content="\N{LINE SEPARATOR}")
def test_any_content_ends_in_a_garden_or_in_an_error_of_its_own(file, content):
    end = outcome(file, content.encode("utf-8", "surrogatepass") if isinstance(content, str) else content)
    assert isinstance(end, Garden | GardenFileError)


@settings(law, max_examples=300)
@given(data=st.data())
def test_any_value_behind_any_key_ends_in_a_garden_or_in_an_error_with_its_line(file, data):
    table = data.draw(TABLES)
    keys = data.draw(st.lists(st.sampled_from([*KEYS[table], "else"]), unique=True, min_size=1))
    lines = [f"{key} = {toml(data.draw(VALUES))}" for key in keys]
    header = f"[{table}]" if table in {"tools", "rules", "network"} else f"[[{table}]]"
    home = [] if table == "site" else ["[[site]]", 'name = "Hollin Bank"']
    end = outcome(file, "\n".join([*home, header, *lines]))
    if isinstance(end, GardenFileError):
        assert all(len(home) < mistake.line <= len(home) + 1 + len(lines) for mistake in end.mistakes)


@law
@given(cut=st.integers(0, len(FULL)))
def test_a_file_cut_anywhere_has_only_mistakes_on_lines_that_it_has(file, cut):
    end = outcome(file, FULL[:cut])
    if isinstance(end, GardenFileError):
        assert all((mistake.line or 1) <= FULL[:cut].count("\n") + 1 for mistake in end.mistakes)


@law
@given(order=st.permutations(["site", "pots", "product", "tools", "no_feeding", "phase", "rules", "network"]))
def test_the_order_of_tables_of_different_kinds_says_nothing(file, order):
    head, *tables = FULL.split("\n\n")
    sorted_tables = sorted(tables, key=lambda text: order.index(text.splitlines()[0].strip("[]")))
    assert outcome(file, "\n\n".join([head, *sorted_tables])) == outcome(file, FULL)


@law
@given(
    blanks=st.lists(st.sampled_from(["", "# a comment = 1", "  "]), max_size=4), at=st.integers(0, len(LINES))
)
def test_blank_lines_and_comments_move_the_lines_and_nothing_else(blanks, at):
    lines = [*LINES[:at], *blanks, *LINES[at:]]
    said, before = read_statements("\n".join(lines)), read_statements(FULL)
    assert said.values == before.values == tomllib.loads(FULL)
    for place in (("units",), ("site", 1, "name"), ("phase", 1, "feed", 0), ("rules", "autumn_risk")):
        assert lines[said.line_of(place) - 1] == LINES[before.line_of(place) - 1]


@law
@given(
    place=NAMES, tree=NAMES, count=st.integers(1, 99_999), units=st.sampled_from(["us", "metric"]),
    stage=st.sampled_from(STAGES), winters=st.sampled_from(WINTERS), risk=st.integers(1, 50),
    damage_f=st.integers(-40, 59), offset_f=st.integers(-36, 36),
)  # fmt: skip
def test_a_new_file_reads_back_as_it_was_answered(
    file, place, tree, count, units, stage, winters, risk, damage_f, offset_f
):
    site = {"name": place, "risk": f"{risk}%", "damage_temp": f"{damage_f}F", "offset": f"{offset_f}F"}
    pot = None if stage == "in the ground" else "9 gal"
    pots = {"name": tree, "tree": tree, "count": count, "stage": stage, "pot": pot, "winters": winters}
    garden = outcome(file, fill_template(units, site, pots, None))
    (group,) = garden.groups
    assert (garden.home.name, garden.units, group.tree, group.count) == (place, units, tree, count)
    assert (group.stage, group.winters) == (stage, winters)
    policy = garden.home.policy
    assert policy.risk_tolerance == pytest.approx(risk / 100)
    assert policy.damage_temp_c * 1.8 + 32 == pytest.approx(damage_f)
    assert policy.offset_c * 1.8 == pytest.approx(offset_f)
    assert say_volume(group.pot_l or 34.07, "us") == "9 gal"
    assert list(garden_lines(garden))
    json.dumps(garden_answer(garden), allow_nan=False)


@law
@given(seed=st.integers(0, 99))
def test_what_is_kept_says_the_same(file, seed, tmp_path_factory):
    kept = tmp_path_factory.mktemp("kept")
    file.write_text(FULL.replace("count = 12", f"count = {seed + 1}"))
    assert read_garden(file, kept) == read_garden(file, kept) == read_garden(file)
