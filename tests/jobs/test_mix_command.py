"""Mixing, end to end: from options alone and from the garden file."""

from __future__ import annotations

import re

import pytest

from frostgate.cli.mix import read_ppm, read_strength
from frostgate.errors import InputError
from frostgate.units import written_units

SPRING = "Spring feed 24-8-16 soluble 1 tbsp/gal"
EVEN = "Even feed 20-20-20 soluble 2 g/l ec 0.64 mS/cm at 100 ppm N"
EPSOM = "Epsom salt 0-0-0 soluble 1 tsp/gal Mg 9.86 S 13"
LIME = "Lime feed 15-0-0 soluble 1 g/l Ca 19"
MEAL = "Meal 8-8-8 granular 0.5 lb/ft max 5 lb/tree organic"
TWELVE = ["--pots", "12", "--per-pot", "1gal", "--bucket", "5gal"]
GALLON_L = 3.785411784


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    """Work in an empty folder."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def spoons(answer):
    return [[dose["spoons"] for dose in bucket["doses"]] for bucket in answer["buckets"]]


def test_the_answer_holds_what_is_promised(run):
    done = run("mix", "--product", SPRING, *TWELVE, "--strength", "half", "--format", "json")

    answer = done.json
    assert (done.status, done.err) == (0, "")
    assert [round(bucket["volume_l"] / GALLON_L, 6) for bucket in answer["buckets"]] == [5, 5, 2]
    assert [bucket["pots"] for bucket in answer["buckets"]] == [5, 5, 2]
    assert spoons(answer) == [["2 1/2 tbsp"], ["2 1/2 tbsp"], ["1 tbsp"]]
    (dose,) = answer["buckets"][0]["doses"]
    assert dose == {
        "product": "Spring feed",
        "grams": pytest.approx(45.0),
        "millilitres": pytest.approx(36.96691),
        "spoons": "2 1/2 tbsp",
        "wanted_g": pytest.approx(45.0),
        "rounding": pytest.approx(0.0, abs=1e-6),
        "density_from": "default",
    }
    assert list(answer["ppm"]) == list(answer["per_pot_mg"]) == ["N", "P", "K", "Mg", "S", "Ca"]
    assert answer["ppm"]["N"] == pytest.approx(9 * 240 / GALLON_L, abs=1e-3)
    assert answer["per_pot_mg"]["N"] == pytest.approx(2160.0)
    assert (answer["ec_ms_cm"], answer["per_pot"], answer["pots"]) == (None, [], 12)
    assert any("default density" in warning for warning in answer["warnings"])
    assert answer["cautions"][0].startswith("The label")


def test_the_screen_begins_with_the_doses_and_fits(run):
    done = run(
        "mix", "--product", SPRING, "--product", EPSOM, *TWELVE, "--scoop", "1.5tbsp", "--scoop", "1 tsp"
    )

    lines = done.out.splitlines()
    assert lines[0] == "POTS: 12 pots, established, 1 gal each"
    assert lines[2] == "2 buckets, 5 gal each, for 5 pots each:"
    assert re.match(
        r"    2 x 1\.5 tbsp \+ 6 x 1 tsp  Spring feed  90 g \(3\.2 oz\), default density", lines[3]
    )
    assert "1 part bucket, 2 gal, for 2 pots:" in done.out
    assert max(map(len, lines)) <= 88


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--strength", "half"], "2 1/2 tbsp"),
        (["--strength", "50%"], "2 1/2 tbsp"),
        (["--stage", "newly potted"], "2 1/2 tbsp"),
        (["--stage", "newly potted", "--strength", "half"], "2 1/2 tbsp"),
        (["--stage", "cutting", "--strength", "full"], "2 1/2 tbsp"),
        (["--stage", "cutting", "--strength", "quarter"], "1 tbsp + 3/4 tsp"),
        (["--n-ppm", "571"], "2 1/2 tbsp"),
        (["--n-ppm", "1141", "--stage", "cutting"], "2 1/2 tbsp"),
        (["--scoop", "2.5 tbsp"], "2 x 2.5 tbsp"),
    ],
)
def test_strength_stage_and_scoops_shape_one_bucketful(run, options, said):
    # a bucketful without pots; common practice: 5 tbsp in 5 gal, half for young roots
    answer = run("mix", "--product", SPRING, "--bucket", "5gal", *options, "--format", "json").json

    assert spoons(answer) == [[said]]
    assert (answer["pots"], answer["per_pot_mg"], answer["group"]) == (0, {}, None)


def test_pots_that_are_not_counted_are_those_that_one_bucket_feeds(run):
    answer = run("mix", "--product", SPRING, "--per-pot", "1gal", "--bucket", "5gal", "--format", "json").json

    assert [bucket["pots"] for bucket in answer["buckets"]] == [5]


def test_metric_quantities_give_a_metric_answer(run):
    metric = run(
        "mix", "--product", EVEN, "--pots", "7", "--per-pot", "2l", "--bucket", "10 l", "--n-ppm", "150"
    )
    us = run("mix", "--product", EVEN, "--pots", "7", "--per-pot", "2l", "--bucket", "10 l", "--n-ppm", "150",
             "--units", "us")  # fmt: skip

    assert "1 bucket, 10 L, for 5 pots:" in metric.out
    assert "7.5 g on a scale  Even feed" in metric.out
    assert "EC about 0.96 mS/cm" in metric.out
    assert "1 bucket, 2.6 gal, for 5 pots:" in us.out


@pytest.mark.parametrize(
    ("options", "what"),
    [
        (["--strength", "150%"], "1.5 times what its label allows"),
        (["--n-ppm", "2000"], "times what its label allows"),
        (["--dry"], "the root balls are dry"),
        (["--product", EVEN, "--ec-limit", "1"], "1 is the limit"),
        (["--product", MEAL], "does not dissolve"),
        (["--measured", "Spring feed=6 tbsp"], "times what its label allows"),
        (["--measured", "Spring feed=1 tbsp", "--dry"], "the root balls are dry"),
        (["--product", LIME, "--injector", "1:100", "--stock", "5gal"], "the calcium of 'Lime feed'"),
        (["--injector", "1:100", "--stock", "5gal", "--dry"], "the root balls are dry"),
    ],
)
@pytest.mark.parametrize("form", ["text", "json"])
def test_a_mix_that_must_not_be_made_is_refused_with_the_reason(run, options, what, form):
    done = run("mix", "--product", SPRING, *TWELVE, *options, "--format", form)

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
        (["--product", SPRING], "how much to mix is not stated"),
        (["--product", SPRING, "--pots", "5"], "how much each pot gets is not stated"),
        (["--product", "Spring feed"], "without its analysis"),
        (["--product", SPRING, *TWELVE, "--strength", "0"], "a strength is above 0"),
        (["--product", SPRING, *TWELVE, "--strength", "twice"], "not a share of the label's rate"),
        (["--product", SPRING, *TWELVE, "--n-ppm", "0"], "not parts per million"),
        (["--product", SPRING, "--product", EVEN, *TWELVE, "--n-ppm", "100"], "one product that holds it"),
        (["--product", EPSOM, *TWELVE, "--n-ppm", "100"], "one product that holds it"),
        (["--product", SPRING, *TWELVE, "--phase", "wake-up"], "both a phase and a product"),
        (["--phase", "wake-up"], "no phase of this name"),
        (["--product", SPRING, "--injector", "1:100"], "size of the stock tank"),
        (["--product", SPRING, "--injector", "100", "--stock", "5gal"], "not a ratio"),
        (["--product", SPRING, "--measured", "3 tbsp"], "size of the bucket"),
        (["--product", SPRING, "--bucket", "5gal", "--measured", "Feed=3 tbsp"], "no product of this name"),
        (["--product", SPRING, "--bucket", "5gal", "--measured", "Spring feed=3"], "not a volume or mass"),
        (
            ["--product", SPRING, "--product", EVEN, "--bucket", "5gal", "--measured", "3 tbsp"],
            "not a product",
        ),
        (["--product", SPRING, *TWELVE, "--scoop", "spoon"], "not a volume"),
        (["--product", SPRING, *TWELVE, "--water-ec", "500"], "no feed conducts so well"),
        (["--product", MEAL, "--pots", "2"], "goes by height"),
        (["--garden", "nowhere.toml", "--phase", "wake-up"], "no such file"),
    ],
)
def test_options_that_do_not_suffice_say_what_is_missing(run, options, what):
    done = run("mix", *options)

    assert done.status == 2
    assert what in done.err


def test_spoons_tell_their_ppm(run):
    answer = run("mix", "--product", SPRING, "--bucket", "5gal", "--per-pot", "1gal",
                 "--measured", "Spring feed=2 x 1.5 tbsp", "--format", "json").json  # fmt: skip

    assert answer["ppm"]["N"] == pytest.approx(54 * 240 / (5 * GALLON_L), abs=1e-3)
    assert answer["per_pot_mg"]["N"] == pytest.approx(54 * 240 / 5)
    assert spoons(answer) == [["2 x 1.5 tbsp"]]


def test_ppm_that_spoons_gave_give_the_spoons_again(run):
    there = run(
        "mix", "--product", SPRING, "--bucket", "5gal", "--measured", "2 1/4 tbsp", "--format", "json"
    )
    back = run("mix", "--product", SPRING, "--bucket", "5gal", "--n-ppm", there.json["ppm"]["N"],
               "--format", "json")  # fmt: skip

    assert spoons(back.json) == [["2 tbsp + 3/4 tsp"]]
    assert back.json["ppm"] == pytest.approx(there.json["ppm"], abs=1e-3)


def test_a_stock_for_an_injector(run):
    options = [
        "--product",
        EVEN,
        "--n-ppm",
        "100",
        "--injector",
        "1:100",
        "--stock",
        "5gal",
        "--water-ec",
        "0.3",
    ]
    text, answer = run("mix", *options).out, run("mix", *options, "--format", "json").json

    # Michigan State: 6.75 oz of a 20 % feed in a gallon of stock
    assert answer["buckets"][0]["doses"][0]["grams"] / 28.3495 / 5 == pytest.approx(6.75, rel=0.02)
    assert answer["injector"]["grams_per_litre"] == {"Even feed": pytest.approx(50, rel=1e-3)}
    assert answer["injector"]["feed_l"] == pytest.approx(500 * GALLON_L)
    assert answer["ec_ms_cm"] == pytest.approx(0.94, abs=1e-3)
    assert "a tank of 5 gal, which makes 500 gal of feed:" in text
    assert "in a litre of stock: Even feed 50.0 g" in text
    assert "Solubility is not known" in text
    assert "backflow" in text


def test_a_stock_for_counted_pots_names_them(run):
    options = ["--product", EVEN, "--n-ppm", "100", "--injector", "1:100", "--stock", "5l"]
    done = run("mix", *options, "--pots", "3", "--per-pot", "2l")

    assert done.out.startswith("POTS: 3 pots, established, 2 L each\n")
    assert "one pot   N 200" in done.out


def test_a_tree_in_the_ground_by_its_height(run):
    options = ["--product", MEAL, "--pots", "3", "--height", "12ft", "--stage", "in the ground"]
    answer, text = run("mix", *options, "--format", "json").json, run("mix", *options).out

    assert answer["kind"] == "top-dressing"
    assert (answer["buckets"], answer["ppm"]) == ([], {})
    assert answer["per_pot"][0]["grams"] == pytest.approx(5 * 453.59237, abs=0.1)
    assert "Each tree of 3:\n    2.27 kg (5 lb) on a scale  Meal\n" in text
    assert "one tree  N 181  P 79  K 151 g" in text


def test_a_liquid_is_told_in_millilitres_too(run):
    done = run("mix", "--product", "Fish feed 2-4-1 liquid 2 tbsp/gal 1.1 g/ml organic", "--bucket", "5gal")

    assert "10 tbsp  Fish feed  148 mL, 162.7 g (5.7 oz)" in done.out


def test_a_feed_without_these_elements_says_so(run):
    done = run("mix", "--product", "Iron 0-0-0 soluble 1 g/l Fe 6 1.2 g/ml", "--bucket", "5gal")

    assert "solution  none of N, P, K, Mg, S, Ca" in done.out


@pytest.mark.parametrize(
    ("text", "strength"), [("full", 1.0), ("half", 0.5), ("quarter", 0.25), ("75%", 0.75), ("150 %", 1.5)]
)
def test_strengths_are_read(text, strength):
    assert read_strength(text) == strength


@pytest.mark.parametrize(
    ("text", "units"),
    [
        ("5gal", "us"),
        ("1.5 tbsp", "us"),
        ("10 l", "metric"),
        ("2 g/l", "metric"),
        ("0.5 lb/ft", "us"),
        ("2m", "metric"),
    ],
)
def test_units_are_seen_in_what_is_written(text, units):
    assert written_units(text) == units


def test_ppm_are_a_number():
    with pytest.raises(InputError, match="Write it as 150"):
        read_ppm("a lot")
