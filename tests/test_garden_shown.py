"""What a garden file says and leaves open, and what its journal tells: on one screen and as answers."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from frostgate.garden.file import read_garden
from frostgate.garden.journal import new_entry
from frostgate.model.feedings import NoFeeding
from frostgate.show.gardens import (
    entries_answer,
    entry_lines,
    find_gaps,
    garden_answer,
    garden_lines,
    say_entry,
)
from tests.garden_text import FULL
from tests.journal_cases import NOW, event, feeding, forecast, minimum, one_of_each

TWO_DOSES = [{"product": "A", "grams": 5}, {"product": "B", "grams": 6}]


@pytest.fixture
def garden(tmp_path):
    file = tmp_path / "garden.toml"
    file.write_text(FULL)
    return read_garden(file)


@pytest.fixture
def invented(samples):
    return read_garden(samples / "garden.toml")


def text_of(garden):
    return "\n".join(garden_lines(garden))


def test_the_invented_garden_fits_one_screen(invented):
    lines = list(garden_lines(invented))
    assert len(lines) <= 40
    assert max(map(len, lines)) <= 100
    assert lines[0] == "garden.toml is sound: 1 site, 4 groups of pots, 6 products"
    assert not any(line != line.rstrip() for line in lines)


def test_a_us_grower_reads_fahrenheit_gallons_and_grams_a_teaspoon(garden):
    shown = " ".join(text_of(garden).split())
    for said in (
        "risk 5 %, damage at 30 °F or less, 1.8 °F colder than the station (give or take 0.9 °F)",
        "3.6 °F colder than the forecast, exposed from 2 days after feeding",
        "a forecast is stale after 36 hours",
        "elevation 1020 ft, station XX000000017, time zone America/New_York, hemisphere north",
        "unit of the record F",
        "old plums 9 x plum 9 gal pots, 6 ft high established 3 qt each sheltered, movable",
        "by the wall 3 x quince 6.6 ft high in the ground no solution outdoors",
        "First feed 17-5-9 Mg 2 soluble 4 tsp/gal, most 7 tsp/gal 5.1 g/tsp, measured",
        "Bucket 3.5 gal; scoops 2.5 tsp, 1/2 tsp; no solution above 2.5 mS/cm, the water's own 0.4.",
        "Packages: First feed 1.81 kg (4 lb) at 17.20 USD.",
        "Last nitrogen 6 weeks before the first autumn frost (at 20 %); 9 days or more between two feedings;",
        "at most 18 g (0.63 oz) of nitrogen for a pot in a season.",
        "No feeding 5 Nov to 29 Feb, both included: local rule.",
        "Phase wake-up (liquid): First feed 75 % and First feed at 150 ppm N, every 12 days, 3 times,",
        "3 times, 28 days after the gate, for old plums.",
        "Phase dressing (top-dressing): Pot granules 50 %, once, from bud break.",
    ):
        assert said in shown, said


def test_a_metric_grower_reads_celsius_and_litres(garden):
    shown = " ".join(text_of(replace(garden, units="metric")).split())
    for said in ("damage at -1.1 °C or less", "1 °C colder than the station (give or take 0.5 °C)",
                 "elevation 311 m", "34.1 L pots", "2.8 L each", "1.8 m high", "1 g/mL, measured",
                 "Bucket 13.2 L", "1.81 kg at 17.20 USD", "at most 18 g of nitrogen"):  # fmt: skip
        assert said in shown, said


@pytest.mark.parametrize(
    ("units", "litres", "said"),
    [("us", 0.946353, "1 qt"), ("us", 0.236588, "1 cup"), ("us", 1.8927, "2 qt"), ("us", 3.785412, "1 gal"),
     ("metric", 0.25, "250 mL"), ("metric", 1.0, "1 L")],
)  # fmt: skip  # 1 US gal = 4 qt = 16 cups
def test_small_volumes_are_written_in_small_measures(garden, units, litres, said):
    group = replace(garden.groups[0], per_pot_l=litres)
    assert f"  {said} each  " in text_of(replace(garden, units=units, groups=(group,)))


def test_a_garden_of_nothing_says_what_is_missing(tmp_path):
    file = tmp_path / "g.toml"
    file.write_text('site = { name = "Hollin Bank" }')
    shown = " ".join(text_of(read_garden(file)).split())
    for said in ("1 site, no groups of pots, no products", "Record none, forecast none",
                 "as cold as the station", "names neither a record", "names no forecast", "No [[pots]]",
                 "No [[product]]", "No bucket", "No scoops", "Programme: the usual one",
                 "no ceiling of nitrogen", "at the site's risk",
                 "the water's own not measured", "frostgate siting tells what is likely"):  # fmt: skip
        assert said in shown, said


def test_a_warmer_garden_and_a_wrapping_rule(garden):
    home = replace(garden.home, policy=replace(garden.home.policy, offset_c=1.0, forecast_offset_c=0.0))
    window = NoFeeding(name="summer", first=(6, 1), last=(9, 30))
    shown = text_of(replace(garden, sites=(home,), no_feeding=(window,)))
    assert "1.8 °F warmer than the station" in shown
    assert "as cold as the forecast" in shown
    assert "No feeding 1 Jun to 30 Sep, both included: summer." in shown


def test_gaps_name_what_they_mean(garden):
    gaps = find_gaps(garden)
    assert [gap for gap in gaps if "is not there" in gap] == [
        f"The record of Hollin Bank is not there: {garden.home.record}.",
        f"The forecast of Hollin Bank is not there: {garden.home.forecast}.",
    ]
    assert [gap for gap in gaps if "density" in gap] == [
        (
            "The density of Pot granules is a default, off by up to a fifth: weigh ten level spoons and add "
            'density = "... g/tsp" with density_from = "measured".'
        )
    ]


def test_an_offset_without_a_spread_is_told_and_one_with_it_is_not(garden):
    exact = replace(garden.home, policy=replace(garden.home.policy, offset_sd_c=0.0))
    told = "The offset of Hollin Bank is taken to be exact; frostgate siting tells its spread."
    assert told in find_gaps(replace(garden, sites=(exact,)))
    assert told not in find_gaps(garden)


def test_groups_and_products_that_cannot_be_fed_are_told(garden, invented):
    dry = [replace(group, per_pot_l=None) for group in invented.groups[:3]]
    low = replace(invented.groups[3], height_m=None)
    feed = replace(invented.products[0], rate=None)
    gaps = find_gaps(replace(invented, groups=(*dry, low), products=(feed, *invented.products[1:])))
    assert "No feed solution is stated for old plums, new pears and cuttings: add per_pot." in gaps
    assert "A rate goes by height, and that of by the wall is not stated: add height." in gaps
    assert "No label rate is stated for First feed: add rate." in gaps
    assert not any("height" in gap for gap in find_gaps(garden))


def test_the_answer_holds_every_value(garden):
    answer = json.loads(json.dumps(garden_answer(garden), allow_nan=False))
    assert answer["missing"] == list(find_gaps(garden))
    assert answer["file"] == str(garden.file)
    assert answer["sites"][0]["policy"]["risk_tolerance"] == 0.05
    assert answer["sites"][0]["record"] == str(garden.home.record)
    assert answer["groups"][0]["per_pot_l"] == garden.groups[0].per_pot_l
    assert answer["products"][0]["analysis"]["grade"] == "17-5-9"
    assert answer["products"][0]["analysis"]["trace"] == {}
    assert answer["products"][0]["rate"]["text"] == "4 tsp/gal"
    assert answer["scoops"][0] == {"name": "2.5 tsp", "volume_ml": garden.scoops[0].volume_ml}
    assert answer["no_feeding"] == [{"name": "local rule", "first": "11-05", "last": "02-29"}]
    assert answer["phases"][0]["portions"][1]["n_ppm"] == 150
    assert answer["rules"]["ec_limit_ms_cm"] == 2.5
    assert set(answer) == {
        *(
            "file",
            "sites",
            "groups",
            "products",
            "vessel_l",
            "scoops",
            "no_feeding",
            "phases",
            "rules",
            "network",
        ),
        *("units", "currency", "missing"),
    }


def test_a_whole_number_of_the_file_is_whole_in_the_answer_too(tmp_path):
    file = tmp_path / "garden.toml"
    file.write_text(FULL.replace("water_ec = 0.4", "water_ec = 1").replace("price = 17.2", "price = 12"))
    for garden in (read_garden(file), *(read_garden(file, tmp_path / "kept") for _ in "12")):
        said = json.loads(json.dumps(garden_answer(garden)))
        numbers = (
            said["rules"]["water_ec_ms_cm"], said["rules"]["stop_weeks"], said["products"][0]["price"],
            said["phases"][0]["portions"][1]["n_ppm"], said["network"]["record_days"],
        )  # fmt: skip
        assert str(numbers) == "(1, 6, 12, 150, 10)"


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        (feeding(),
         "feeding of old plums: wake-up, liquid, 30 g (1.1 oz) First feed, 24 pots, 300 mg N a pot"),
        (feeding(pots=1, doses=TWO_DOSES, n_per_pot_mg=None),
         "feeding of old plums: wake-up, liquid, 5 g (0.18 oz) A + 6 g (0.21 oz) B, 1 pot"),
        (feeding(phase="top-dressing", feeding_kind="top-dressing", doses=[], pots=None, n_per_pot_mg=None),
         "feeding of old plums: top-dressing, mix not stated"),
        (event("bud break"), "bud break of old plums"),
        (event("damage", note="tips brown,\n  two pots"), "damage of old plums: tips brown, two pots"),
        (event("growth", group=None, note="slow"), "growth: slow"),
        (minimum(-1.1), "minimum 30 °F"),
        (forecast("2026-04-12T06:00", {"2026-04-13": 1.5, "2026-04-14": -2.0, "2026-04-15": None}),
         "forecast made 2026-04-12 06:00, 2 nights, coldest 28.4 °F on 2026-04-14"),
        (forecast("2026-04-12T06:00", {"2026-04-13": 0.0}),
         "forecast made 2026-04-12 06:00, 1 night, coldest 32 °F on 2026-04-13"),
        (forecast("2026-04-12T06:00", {}), "forecast no night"),
        (one_of_each()[-1], "verdict shut, risk 40 %, earliest 2026-05-16"),
        (new_entry("verdict", made_at=NOW, body={"state": "unknown"}), "verdict unknown"),
        (new_entry("undo", made_at=NOW, group="old plums", undoes="1f0c4a52-7d0e"), "undo of 1f0c4a52"),
    ],
)  # fmt: skip
def test_an_entry_is_said_on_one_line(entry, said):
    assert say_entry(entry, "us") == said


def test_a_metric_garden_reads_metric():
    assert say_entry(minimum(-1.1), "metric") == "minimum -1.1 °C"
    assert "oz" not in say_entry(feeding(), "metric")


def test_rows_tell_day_and_short_id_and_what_was_undone():
    seen, told = minimum(), event("growth", note="slow")
    rows = list(entry_lines([seen, told], {told.id}, "us"))
    assert rows[0] == f"2026-04-12  {seen.id[:8]}  minimum 30 °F"
    assert rows[1] == f"2026-04-12  {told.id[:8]}  growth of old plums: slow  [undone]"


def test_the_answer_holds_every_field_as_plain_values():
    entries = one_of_each()
    answer = json.loads(json.dumps(entries_answer(entries, {entries[1].id})))["entries"]
    assert [each["undone"] for each in answer] == [entry is entries[1] for entry in entries]
    assert answer[0] == {
        "id": entries[0].id, "made_at": "2026-04-12T07:00:00", "on": "2026-04-12", "kind": "feeding",
        "group": "old plums", "body": entries[0].body, "undoes": None, "undone": False,
    }  # fmt: skip
