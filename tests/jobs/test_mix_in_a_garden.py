"""Mixing from a garden file, end to end."""

from __future__ import annotations

import pytest

STEADY = "Steady feed 12-11-13 soluble 2.3 g/l ec 0.9 mS/cm at 100 ppm N"

GARDEN = """\
# INVENTED
units = "us"

[[site]]
name = "Hollin Bank"

[[pots]]
name = "old plums"
tree = "plum"
count = 7
stage = "established"
pot = "9 gal"
per_pot = "3 qt"
winters = "outdoors"

[[pots]]
name = "cuttings"
tree = "currant"
count = 10
stage = "cutting"
pot = "1 gal"
per_pot = "1 qt"
winters = "outdoors"

[[pots]]
name = "by the wall"
tree = "quince"
count = 2
stage = "in the ground"
height = "6 ft"

[[product]]
name = "First feed"
analysis = "17-5-9"
form = "soluble"
rate = "4 tsp/gal"
density = "5.1 g/tsp"

[[product]]
name = "Epsom salt"
analysis = "0-0-0"
form = "soluble"
secondary = { Mg = 9.86, S = 13.0 }
rate = "1 tsp/gal"

[[product]]
name = "Pellets"
analysis = "8-7-9"
form = "granular"
rate = "5 tsp/pot"

[[product]]
name = "Meal"
analysis = "6-5-7"
form = "granular"
rate = "0.3 lb/ft"

[tools]
bucket = "3.5 gal"
scoops = ["2.5 tsp", "1/2 tsp"]

[[phase]]
name = "wake-up"
kind = "liquid"
starts = "gate"
every = "12 days"
feedings = 2
feed = [{ product = "First feed", strength = "half" }, { product = "Epsom salt", strength = "full" }]

[[phase]]
name = "salt only"
kind = "liquid"
starts = "gate"
every = "12 days"
feed = [{ product = "Epsom salt", strength = "full" }]
groups = ["old plums"]

[[phase]]
name = "ground"
kind = "top-dressing"
starts = "gate"
feedings = 1
feed = [{ product = "Meal", strength = "full" }]
groups = ["by the wall"]
"""


@pytest.fixture(autouse=True)
def garden(tmp_path, monkeypatch):
    """Work in a folder that holds a garden file."""
    monkeypatch.chdir(tmp_path)
    file = tmp_path / "garden.toml"
    file.write_text(GARDEN, encoding="utf-8")
    return file


def spoons(answer):
    return [[dose["spoons"] for dose in bucket["doses"]] for bucket in answer["buckets"]]


def test_a_phase_of_the_garden_file_in_the_folder_is_mixed_for_all_its_groups(run):
    done = run("mix", "--phase", "wake-up", "--format", "json")

    answer = done.json
    assert done.status == 0
    assert [each["group"] for each in answer["mixes"]] == ["old plums", "cuttings"]
    assert {each["phase"] for each in answer["mixes"]} == {"wake-up"}
    assert [bucket["group"] for bucket in answer["buckets"]] == ["old plums", "old plums", "cuttings"]
    assert spoons(answer["mixes"][0])[0] == ["2 x 2.5 tsp + 2 x 1/2 tsp", "2.5 tsp + 1/2 tsp"]
    old, young = ([dose["wanted_g"] / bucket["volume_l"] for dose in bucket["doses"]]
                  for bucket in (each["buckets"][0] for each in answer["mixes"]))  # fmt: skip
    assert young[0] == pytest.approx(old[0])  # the phase asks for half already, which is not halved again
    assert young[1] == pytest.approx(old[1] / 2)
    assert any("Young roots" in warning for warning in answer["warnings"])
    assert len(answer["cautions"]) == len(set(answer["cautions"]))


def test_one_group_of_the_garden_file_is_answered_flat(run, garden):
    answer = run("mix", "--garden", garden, "--phase", "wake-up", "--group", "cuttings", "--strength", "full",
                 "--format", "json").json  # fmt: skip

    assert answer["group"] == "cuttings"
    assert len(answer["buckets"]) == 1
    assert answer["buckets"][0]["doses"][0]["wanted_g"] == pytest.approx(
        2 * 5.1 * 2.5
    )  # half of 4 tsp/gal, in 2.5 gal


@pytest.mark.parametrize(
    ("product", "groups", "kind"),
    [
        ("First feed", ["old plums", "cuttings"], "liquid"),
        ("Pellets", ["old plums", "cuttings"], "top-dressing"),
        ("Meal", ["by the wall"], "top-dressing"),
    ],
)
def test_a_listed_product_goes_to_the_groups_that_take_it(run, product, groups, kind):
    answer = run("mix", "--product", product, "--format", "json").json
    mixes = answer.get("mixes", [answer])

    assert [each["group"] for each in mixes] == groups
    assert {each["kind"] for each in mixes} == {kind}


def test_options_take_the_place_of_what_the_garden_file_says(run):
    answer = run("mix", "--product", "First feed", "--group", "old plums", "--bucket", "7gal",
                 "--per-pot", "2gal", "--scoop", "3tsp", "--units", "metric",
                 "--format", "json").json  # fmt: skip

    assert [bucket["pots"] for bucket in answer["buckets"]] == [3, 3, 1]
    assert spoons(answer)[0] == ["8 x 3 tsp"]  # 4 tsp/gal in 6 gal


def test_pots_of_the_options_are_fed_from_the_gardens_products_and_bucket(run):
    answer = run("mix", "--product", "First feed", "--pots", "6", "--per-pot", "3qt", "--format", "json").json

    assert (answer["group"], [bucket["pots"] for bucket in answer["buckets"]]) == ("pots", [4, 2])


def test_a_label_that_the_garden_does_not_list_is_read(run):
    answer = run(
        "mix", "--product", STEADY, "--n-ppm", "100", "--group", "old plums", "--format", "json"
    ).json

    assert answer["buckets"][0]["doses"][0]["product"] == "Steady feed"


def test_what_rounding_changes_stands_beside_the_dose(run):
    done = run("mix", "--product", "First feed", "--group", "cuttings", "--scoop", "1.5tsp")

    assert "3 x 1.5 tsp  First feed  22.9 g (0.81 oz), -10 % by rounding\n" in done.out


def test_measured_spoons_of_a_group_of_the_garden(run):
    done = run("mix", "--measured", "First feed=3 tbsp", "--group", "cuttings")

    assert "1 bucket of 3.5 gal, for 14 pots:" in done.out
    assert "Young roots (cutting)" in done.out


def test_a_refusal_among_several_groups_names_the_group(run):
    done = run("mix", "--phase", "wake-up", "--ec-limit", "0.1", "--water-ec", "0.2")

    assert done.status == 2
    assert "old plums: the solution would have 0.20 mS/cm" in done.err


@pytest.mark.parametrize(
    ("options", "what"),
    [
        (
            [],
            "a --phase (wake-up, salt only, ground) or a --product (First feed, Epsom salt, Pellets, Meal).",
        ),
        (["--phase", "winter"], "It has: wake-up, salt only, ground."),
        (["--product", "Summer feed"], "Listed: First feed"),
        (["--phase", "wake-up", "--group", "plums"], "Listed: old plums"),
        (["--phase", "wake-up", "--stage", "cutting"], "Leave --stage out"),
        (["--phase", "salt only", "--n-ppm", "100"], "none here does"),
    ],
)
def test_names_that_the_garden_does_not_know_are_told_with_those_it_does(run, options, what):
    done = run("mix", *options)

    assert done.status == 2
    assert what in done.err


def test_a_garden_without_a_group_that_suits_says_so(run, garden):
    head, _, _, trees = GARDEN.partition("[[phase]]")[0].split("[[pots]]")
    garden.write_text(f"{head}[[pots]]{trees}", encoding="utf-8")

    done = run("mix", "--product", "First feed")

    assert done.status == 2
    assert "no group of the garden suits this" in done.err


def test_what_the_garden_file_does_not_state_names_it(run, tmp_path):
    file = tmp_path / "garden.toml"
    file.write_text(GARDEN.replace('per_pot = "3 qt"\n', ""))
    asked = ("mix", "--garden", file, "--group", "old plums", "--product", "First feed", "--format", "json")
    refused = run(*asked)
    assert (refused.status, refused.json["error"]["file"]) == (2, str(file))
    assert "'old plums'" in refused.json["error"]["what"]
