"""A new garden file: sound as it is written, and sound with every comment put to use."""

from __future__ import annotations

import itertools
import re

import pytest

from frostgate.errors import InputError
from frostgate.feeding.labels import read_label, read_product
from frostgate.garden.file import read_garden
from frostgate.garden.tables import KEYS, _GardenTable
from frostgate.garden.written import fill_template, save_new
from frostgate.model.garden import STAGES

SITE = {"name": "Hollin Bank", "record": "oskelmere.dly", "forecast": None, "risk": "10%",
        "damage_temp": "32F", "offset": "-2F"}  # fmt: skip
POTS = {"name": "plum in pots", "tree": "plum", "count": 9, "stage": "established", "pot": "9 gal",
        "per_pot": "3 qt", "winters": "sheltered"}  # fmt: skip
FEED = "First feed 17-5-9 soluble 4 tsp/gal"
PRODUCTS = [
    FEED,
    "First feed 17-5-9 soluble",
    "Ripe feed 6-7-21 soluble 1.4 g/l max 2.6 g/l 5.1 g/tsp measured MgO 1 Fe 0.1 ec 0.9 mS/cm at 9 ppm N",
    "Fish feed 3-5-1 liquid 9 ml/l organic",
    "Pot granules 8-7-9 granular 5 tsp/pot",
]


def read(text, folder):
    file = folder / "garden.toml"
    file.write_text(text, encoding="utf-8")
    return read_garden(file)


@pytest.mark.parametrize(
    ("units", "stage", "product"),
    list(itertools.product(["us", "metric"], STAGES, [None, read_label(FEED)])),
)
def test_a_new_file_is_sound_and_says_what_was_answered(units, stage, product, tmp_path):
    pots = POTS | {"stage": stage, "pot": None if stage == "in the ground" else "9 gal"}
    garden = read(fill_template(units, SITE, pots, product), tmp_path)
    (group,) = garden.groups
    assert (garden.units, group.stage, group.count, group.winters) == (units, stage, 9, "sheltered")
    assert (garden.home.record, garden.home.forecast) == (tmp_path / "oskelmere.dly", None)
    assert garden.home.policy.offset_c == pytest.approx(-2 / 1.8)
    assert [made.name for made in garden.products] == ([] if product is None else ["First feed"])
    assert group.in_pots == (group.pot_l is not None)


@pytest.mark.parametrize("product", PRODUCTS)
def test_all_that_is_said_of_a_product_is_written_down(product, tmp_path):
    (made,) = read(fill_template("us", SITE, POTS, read_label(product)), tmp_path).products
    assert made == read_product(product)


@pytest.mark.parametrize("units", ["us", "metric"])
def test_every_line_that_is_a_comment_can_be_put_to_use(units, tmp_path):
    new = fill_template(units, SITE | {"record": None}, POTS | {"per_pot": None}, None)
    text = re.sub(r"^# (?=[a-z_]+ = |\[)", "", new, flags=re.MULTILINE)
    garden = read(text, tmp_path)
    assert (len(garden.products), len(garden.no_feeding), len(garden.phases), len(garden.scoops)) == (
        1,
        1,
        1,
        2,
    )


def test_the_template_has_every_key_that_may_stand_in_a_file_and_no_other():
    schema = _GardenTable.model_json_schema()
    tables = [schema, *(one for one in schema["$defs"].values() if "properties" in one)]
    assert sorted(sorted(table["properties"]) for table in tables) == sorted(map(sorted, KEYS.values()))


@pytest.mark.parametrize("name", ['"Höllow" \\ Ēnd', "a # b", "a #~ b", "{place}", "'x'", "<&>"])
def test_names_of_any_letters_are_written_so_that_they_are_read_back(name, tmp_path):
    product = read_label(FEED) | {"name": name}
    text = fill_template("us", SITE | {"name": name}, POTS | {"tree": name}, product)
    garden = read(text, tmp_path)
    assert (garden.home.name, garden.groups[0].tree, garden.products[0].name) == (name, name, name)


def test_lines_are_no_wider_than_a_screen():
    assert max(map(len, fill_template("us", SITE, POTS, read_label(FEED)).splitlines())) <= 110


def test_a_file_that_is_there_is_left_as_it_is(tmp_path):
    file = tmp_path / "garden.toml"
    file.write_text("mine")
    with pytest.raises(InputError, match="left as it is"):
        save_new(file, "new")
    assert file.read_text() == "mine"


def test_a_folder_that_is_not_there_is_named(tmp_path):
    with pytest.raises(InputError, match="cannot be written"):
        save_new(tmp_path / "nowhere" / "garden.toml", "new")


def test_a_full_disk_leaves_no_half_a_file(tmp_path, monkeypatch):
    class Full:
        def __enter__(self):
            return self

        def __exit__(self, *_):
            return False

        def write(self, _):
            raise OSError(28, "No space left on device")

    def opened(path, *_args, **_options):
        path.touch()
        return Full()

    file = tmp_path / "garden.toml"
    monkeypatch.setattr(type(file), "open", opened)
    with pytest.raises(InputError, match="Make room"):
        save_new(file, "new")
    assert not file.exists()
