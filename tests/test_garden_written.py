"""Values as a garden file writes them; a new file, sound as it is and with every comment put to use."""

from __future__ import annotations

import itertools
import re

import pytest

from frostgate.errors import InputError
from frostgate.feeding.labels import read_label, read_product
from frostgate.garden import written
from frostgate.garden.file import read_garden
from frostgate.garden.tables import KEYS, _GardenTable
from frostgate.garden.written import fill_template, save_new
from frostgate.model.garden import STAGES
from frostgate.seasons import parse_month_day

FOOT_M, GALLON_L = 0.3048, 3.785411784  # exact: NIST Handbook 44, appendix C

READ = [
    (written.parse_name, "Hollin Bank", "Hollin Bank"),
    (written.parse_name, "Höllow Ēnd", "Höllow Ēnd"),
    (written.parse_name, "x" * 80, "x" * 80),
    (written.parse_file_name, "records/oskelmere dly.csv", "records/oskelmere dly.csv"),
    (written.parse_elevation_m, "1020 ft", 1020 * FOOT_M),
    (written.parse_elevation_m, "-3.5m", -3.5),
    (written.parse_elevation_m, "−12 ft", -12 * FOOT_M),
    (written.parse_elevation_m, "0 m", 0.0),
    (written.parse_elevation_m, "0.0ft", 0.0),
    (written.parse_elevation_m, "-450 m", -450.0),
    (written.parse_elevation_m, "9000 m", 9000.0),
    (written.parse_damage_temp_c, "28F", -20 / 9),
    (written.parse_damage_temp_c, "-40F", -40.0),
    (written.parse_damage_temp_c, "59F", 15.0),
    (written.parse_tolerance, "50%", 0.5),
    (written.parse_tolerance, "0.1", 0.1),
    (written.parse_spread_c, "0F", 0.0),
    (written.parse_spread_c, "18F", 10.0),
    (written.parse_zone, "America/New_York", "America/New_York"),
    (written.parse_zone, "UTC", "UTC"),
    (written.parse_zone, "UTC+05:45", "UTC+05:45"),
    (written.parse_days, "0 days", 0),
    (written.parse_days, "1 day", 1),
    (written.parse_days, "4 Weeks", 28),
    (written.parse_days, "366days", 366),
    (written.parse_interval, "1 week", 7),
    (written.parse_strength, "full", 1.0),
    (written.parse_strength, "Half", 0.5),
    (written.parse_strength, "quarter", 0.25),
    (written.parse_strength, "75%", 0.75),
    (written.parse_strength, "0.4", 0.4),
    (parse_month_day, "02-29", (2, 29)),
    (parse_month_day, "12-31", (12, 31)),
    (written.parse_pot_l, "7 gal", 7 * GALLON_L),
    (written.parse_pot_l, "50 ml", 0.05),
    (written.parse_per_pot_l, "1 gal", GALLON_L),
    (written.parse_vessel_l, "3.5gal", 3.5 * GALLON_L),
    (written.parse_scoop_l, "1/4 tsp", GALLON_L / 768 / 4),
    (written.parse_height_m, "6 ft", 6 * FOOT_M),
    (written.parse_nitrogen_g, "1 oz", 28.349523125),
]

REFUSED = [
    (written.parse_name, ["", " ", " x", "x ", "a\tb", "a\nb", "a\x7fb", "x" * 81]),
    (written.parse_file_name, ["", " ", "a\nb", "a\0b"]),
    (written.parse_elevation_m, ["", "120", "high", "-451 m", "9001 m", "--3 m", "3 gal", "12 km", "1e3m"]),
    (written.parse_damage_temp_c, ["32", "-41C", "15.1C", "warm"]),
    (written.parse_tolerance, ["0%", "50.1%", "10", "-1%", "much"]),
    (written.parse_spread_c, ["-1F", "10.1C", "1"]),
    (written.parse_zone, ["", "Atlantis", "America", "UTC+15:00", "UTC+5", "../etc/passwd", "\0"]),
    (written.parse_days, ["", "10", "days", "-1 days", "1.5 days", "367 days", "53 weeks", "99999 days"]),
    (written.parse_interval, ["0 days", "0 weeks", "never"]),
    (written.parse_strength, ["", "0%", "0", "101%", "double", "1.5", "-50%"]),
    (
        parse_month_day,
        ["02-30", "04-31", "13-01", "00-10", "01-00", "1-1", "11/15", "2026-11-15", ""],
    ),
    (written.parse_pot_l, ["49 ml", "5001 l", "7", "7 lb", "0 gal"]),
    (written.parse_per_pot_l, ["9 ml", "501 l"]),
    (written.parse_vessel_l, ["99 ml", "20001 l"]),
    (written.parse_scoop_l, ["0.1 ml", "2.1 l", "5 g"]),
    (written.parse_height_m, ["4 cm", "51 m"]),
    (written.parse_nitrogen_g, ["9 mg", "2.1 kg", "6 ml"]),
]


@pytest.mark.parametrize(
    ("read", "text", "value"), READ, ids=[f"{read.__name__} {text[:30]}" for read, text, _ in READ]
)
def test_a_value_is_read(read, text, value):
    assert read(text) == (pytest.approx(value, rel=1e-12, abs=1e-12) if isinstance(value, float) else value)


@pytest.mark.parametrize(
    ("read", "text"),
    [(read, text) for read, texts in REFUSED for text in texts],
    ids=[f"{read.__name__} {text[:30]!r}" for read, texts in REFUSED for text in texts],
)
def test_what_no_garden_has_is_refused_with_the_text(read, text):
    with pytest.raises(InputError) as caught:
        read(text)
    assert caught.value.value == text.removeprefix("-") or caught.value.value == text


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
    def full(_):
        raise OSError(28, "No space left on device")

    file = tmp_path / "garden.toml"
    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(InputError, match="No space left"):
        save_new(file, "new")
    assert not file.exists()
