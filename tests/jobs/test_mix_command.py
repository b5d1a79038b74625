"""Mixing, end to end: from options alone and from the garden file."""

from __future__ import annotations

import re

import pytest

from frostgate.errors import InputError
from frostgate.service.mix import read_ppm, read_strength
from frostgate.units import written_units

FIRST = "First feed 17-5-9 soluble 4 tsp/gal"
STEADY = "Steady feed 12-11-13 soluble 2.3 g/l ec 0.9 mS/cm at 100 ppm N"
EPSOM = "Epsom salt 0-0-0 soluble 1 tsp/gal Mg 9.86 S 13"
LIME = "Lime feed 13-0-0 soluble 1 g/l Ca 16"
MEAL = "Meal 6-5-7 granular 0.3 lb/ft max 3 lb/tree organic"
TEN = ["--pots", "10", "--per-pot", "3qt", "--bucket", "3.5gal"]
GALLON_L = 3.785411784


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    """Work in an empty folder."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def spoons(answer):
    return [[dose["spoons"] for dose in bucket["doses"]] for bucket in answer["buckets"]]


def test_the_answer_holds_what_is_promised(run):
    done = run("mix", "--product", FIRST, *TEN, "--strength", "half", "--format", "json")

    answer = done.json
    assert (done.status, done.err) == (0, "")
    assert [round(bucket["volume_l"] / GALLON_L, 6) for bucket in answer["buckets"]] == [3, 3, 1.5]
    assert [bucket["pots"] for bucket in answer["buckets"]] == [4, 4, 2]
    assert spoons(answer) == [["2 tbsp"], ["2 tbsp"], ["1 tbsp"]]  # half of 4 tsp/gal
    (dose,) = answer["buckets"][0]["doses"]
    assert dose == {
        "product": "First feed",
        "grams": pytest.approx(6 * 6.0),
        "millilitres": pytest.approx(6 * 4.928922),
        "spoons": "2 tbsp",
        "wanted_g": pytest.approx(6 * 6.0),
        "rounding": pytest.approx(0.0, abs=1e-6),
        "density_from": "default",
    }
    assert list(answer["ppm"]) == list(answer["per_pot_mg"]) == ["N", "P", "K", "Mg", "S", "Ca"]
    assert answer["ppm"]["N"] == pytest.approx(2 * 6 * 170 / GALLON_L, abs=1e-3)
    assert answer["per_pot_mg"]["N"] == pytest.approx(0.75 * 2 * 6 * 170)
    assert (answer["ec_ms_cm"], answer["per_pot"], answer["pots"]) == (None, [], 10)
    assert any("default density" in warning for warning in answer["warnings"])
    assert answer["cautions"][0].startswith("The label")


def test_the_screen_begins_with_the_doses_and_fits(run):
    done = run("mix", "--product", FIRST, "--product", EPSOM, *TEN, "--scoop", "2.5tsp", "--scoop", "1/2 tsp")

    lines = done.out.splitlines()
    assert lines[0] == "POTS: 10 pots, established, 3 qt each"
    assert lines[2] == "2 buckets of 3 gal, for 4 pots each:"
    assert re.match(
        r"    4 x 2\.5 tsp \+ 4 x 1/2 tsp  First feed  72 g \(2\.5 oz\), default density", lines[3]
    )
    assert "1 bucket of 1.5 gal, for 2 pots:" in done.out
    assert max(map(len, lines)) <= 88


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--strength", "half"], "2 tbsp + 1 tsp"),
        (["--strength", "50%"], "2 tbsp + 1 tsp"),
        (["--stage", "newly potted"], "2 tbsp + 1 tsp"),
        (["--stage", "newly potted", "--strength", "half"], "2 tbsp + 1 tsp"),
        (["--stage", "cutting", "--strength", "full"], "2 tbsp + 1 tsp"),
        (["--stage", "cutting", "--strength", "quarter"], "1 tbsp + 1/2 tsp"),
        (["--n-ppm", "539"], "2 tbsp + 1 tsp"),
        (["--n-ppm", "1077", "--stage", "cutting"], "2 tbsp + 1 tsp"),
        (["--scoop", "3.5 tsp"], "4 x 3.5 tsp"),
    ],
)
def test_strength_stage_and_scoops_shape_one_bucketful(run, options, said):
    # a bucketful without pots; 14 tsp in 3.5 gal by the label, half for young roots
    answer = run("mix", "--product", FIRST, "--bucket", "3.5gal", *options, "--format", "json").json

    assert spoons(answer) == [[said]]
    assert (answer["pots"], answer["per_pot_mg"], answer["group"]) == (0, {}, None)


def test_pots_that_are_not_counted_are_those_that_one_bucket_feeds(run):
    answer = run("mix", "--product", FIRST, "--per-pot", "3qt", "--bucket", "3.5gal", "--format", "json").json

    assert [bucket["pots"] for bucket in answer["buckets"]] == [4]


def test_metric_quantities_give_a_metric_answer(run):
    metric = run(
        "mix", "--product", STEADY, "--pots", "7", "--per-pot", "2l", "--bucket", "10 l", "--n-ppm", "150"
    )
    us = run("mix", "--product", STEADY, "--pots", "7", "--per-pot", "2l", "--bucket", "10 l",
             "--n-ppm", "150", "--units", "us")  # fmt: skip

    assert "1 bucket of 10 L, for 5 pots:" in metric.out
    assert "12.5 g on a scale  Steady feed" in metric.out
    assert "EC about 1.35 mS/cm" in metric.out
    assert "1 bucket of 2.6 gal, for 5 pots:" in us.out


@pytest.mark.parametrize(
    ("options", "what"),
    [
        (["--strength", "150%"], "1.5 times what its label allows"),
        (["--n-ppm", "2000"], "times what its label allows"),
        (["--dry"], "the root balls are dry"),
        (["--product", STEADY, "--ec-limit", "1"], "1 is the limit"),
        (["--product", MEAL], "does not dissolve"),
        (["--measured", "First feed=18 tsp"], "times what its label allows"),
        (["--measured", "First feed=1 tbsp", "--dry"], "the root balls are dry"),
        (["--product", LIME, "--injector", "1:100", "--stock", "3.5gal"], "the calcium of 'Lime feed'"),
        (["--injector", "1:100", "--stock", "3.5gal", "--dry"], "the root balls are dry"),
    ],
)
@pytest.mark.parametrize("form", ["text", "json"])
def test_a_mix_that_must_not_be_made_is_refused_with_the_reason(run, options, what, form):
    done = run("mix", "--product", FIRST, *TEN, *options, "--format", form)

    assert done.status == 2
    if form == "json":
        assert what in done.json["error"]["what"]
        assert done.json["error"]["remedy"]
    else:
        assert what in done.err
        assert done.out == ""


@pytest.mark.parametrize(
    ("options", "what"),
    [
        ([], "nothing to mix is named"),
        (["--product", FIRST], "how much to mix is not stated"),
        (["--product", FIRST, "--pots", "0"], "pots are counted from 1"),
        (["--product", FIRST, "--pots", "5"], "how much each pot gets is not stated"),
        (["--product", "First feed"], "without its analysis"),
        (["--product", FIRST, *TEN, "--strength", "0"], "a strength is above 0"),
        (["--product", FIRST, *TEN, "--strength", "twice"], "not a share of the label's rate"),
        (["--product", FIRST, *TEN, "--n-ppm", "0"], "not parts per million"),
        (["--product", FIRST, "--product", STEADY, *TEN, "--n-ppm", "100"], "one product that holds it"),
        (["--product", EPSOM, *TEN, "--n-ppm", "100"], "one product that holds it"),
        (["--product", FIRST, *TEN, "--phase", "wake-up"], "both a phase and a product"),
        (["--phase", "wake-up"], "no phase of this name"),
        (["--product", FIRST, "--injector", "1:100"], "size of the stock tank"),
        (["--product", FIRST, "--injector", "100", "--stock", "3.5gal"], "not a ratio"),
        (["--product", FIRST, "--measured", "3 tbsp"], "size of the bucket"),
        (["--product", FIRST, "--bucket", "3.5gal", "--measured", "Feed=3 tbsp"], "no product of this name"),
        (["--product", FIRST, "--bucket", "3.5gal", "--measured", "First feed=3"], "not a volume or mass"),
        (
            ["--product", FIRST, "--product", STEADY, "--bucket", "3.5gal", "--measured", "3 tbsp"],
            "not a product",
        ),
        (["--product", FIRST, *TEN, "--scoop", "spoon"], "not a volume"),
        (["--product", FIRST, *TEN, "--water-ec", "500"], "no feed conducts so well"),
        (["--product", MEAL, "--pots", "2"], "goes by height"),
        (["--garden", "nowhere.toml", "--phase", "wake-up"], "no such file"),
    ],
)
def test_options_that_do_not_suffice_say_what_is_missing(run, options, what):
    done = run("mix", *options)

    assert done.status == 2
    assert what in done.err


def test_spoons_tell_their_ppm(run):
    answer = run("mix", "--product", FIRST, "--bucket", "3.5gal", "--per-pot", "3qt",
                 "--measured", "First feed=4 x 2.5 tsp", "--format", "json").json  # fmt: skip

    assert answer["ppm"]["N"] == pytest.approx(10 * 6 * 170 / (3.5 * GALLON_L), abs=1e-3)
    assert answer["per_pot_mg"]["N"] == pytest.approx(10 * 6 * 170 / 4)
    assert spoons(answer) == [["4 x 2.5 tsp"]]


def test_ppm_that_spoons_gave_give_the_spoons_again(run):
    there = run(
        "mix", "--product", FIRST, "--bucket", "3.5gal", "--measured", "2 1/4 tbsp", "--format", "json"
    )
    back = run("mix", "--product", FIRST, "--bucket", "3.5gal", "--n-ppm", there.json["ppm"]["N"],
               "--format", "json")  # fmt: skip

    assert spoons(back.json) == [["2 tbsp + 3/4 tsp"]]
    assert back.json["ppm"] == pytest.approx(there.json["ppm"], abs=1e-3)


def test_a_stock_for_an_injector(run):
    options = [
        "--product",
        STEADY,
        "--n-ppm",
        "100",
        "--injector",
        "1:100",
        "--stock",
        "3.5gal",
        "--water-ec",
        "0.3",
    ]
    text, answer = run("mix", *options).out, run("mix", *options, "--format", "json").json

    # Michigan State: 6.75 oz of a 20 % feed in a gallon of stock; this one holds 12 %
    assert answer["buckets"][0]["doses"][0]["grams"] / 28.3495 / 3.5 == pytest.approx(
        6.75 * 20 / 12, rel=0.02
    )
    assert answer["injector"]["grams_per_litre"] == {"Steady feed": pytest.approx(10 / 0.12, rel=1e-3)}
    assert answer["injector"]["feed_l"] == pytest.approx(350 * GALLON_L)
    assert answer["ec_ms_cm"] == pytest.approx(0.3 + 0.9, abs=1e-3)
    assert "a tank of 3.5 gal, which makes 350 gal of feed:" in text
    assert "in a litre of stock: Steady feed 83.3 g" in text
    assert "Solubility is not known" in text
    assert "backflow" in text


def test_a_stock_for_counted_pots_names_them(run):
    options = ["--product", STEADY, "--n-ppm", "100", "--injector", "1:100", "--stock", "5l"]
    done = run("mix", *options, "--pots", "3", "--per-pot", "2l")

    assert done.out.startswith("POTS: 3 pots, established, 2 L each\n")
    assert "one pot   N 200" in done.out


def test_a_tree_in_the_ground_by_its_height(run):
    options = ["--product", MEAL, "--pots", "3", "--height", "12ft", "--stage", "in the ground"]
    answer, text = run("mix", *options, "--format", "json").json, run("mix", *options).out

    assert answer["kind"] == "top-dressing"
    assert (answer["buckets"], answer["ppm"]) == ([], {})
    assert answer["per_pot"][0]["grams"] == pytest.approx(3 * 453.59237, abs=0.1)
    assert "Each tree of 3:\n    1.36 kg (3 lb) on a scale  Meal\n" in text
    assert "one tree  N 82  P 30  K 79 g" in text


def test_a_liquid_is_told_in_millilitres_too(run):
    done = run("mix", "--product", "Fish feed 3-5-1 liquid 6 tsp/gal 1.1 g/ml organic", "--bucket", "3.5gal")

    assert "7 tbsp  Fish feed  104 mL, 113.9 g (4 oz)" in done.out


def test_a_feed_without_these_elements_says_so(run):
    done = run("mix", "--product", "Iron 0-0-0 soluble 1 g/l Fe 6 1.2 g/ml", "--bucket", "3.5gal")

    assert "solution  none of N, P, K, Mg, S, Ca" in done.out


@pytest.mark.parametrize(
    ("text", "strength"), [("full", 1.0), ("half", 0.5), ("quarter", 0.25), ("75%", 0.75), ("150 %", 1.5)]
)
def test_strengths_are_read(text, strength):
    assert read_strength(text) == strength


@pytest.mark.parametrize(
    ("text", "units"),
    [
        ("3.5gal", "us"),
        ("2.5 tsp", "us"),
        ("10 l", "metric"),
        ("2.3 g/l", "metric"),
        ("0.3 lb/ft", "us"),
        ("2m", "metric"),
    ],
)
def test_units_are_seen_in_what_is_written(text, units):
    assert written_units(text) == units


def test_ppm_are_a_number():
    with pytest.raises(InputError, match="Write it as 150"):
        read_ppm("a lot")
