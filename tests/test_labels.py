"""Products from the texts of their labels."""

from __future__ import annotations

import pytest

from frostgate.errors import InputError
from frostgate.feeding.labels import (
    make_product,
    parse_density_g_ml,
    parse_ec_ms_cm,
    read_product,
    weigh_measured,
)
from frostgate.units import GALLON_ML, OUNCE_G, POUND_G, TABLESPOON_ML, TEASPOON_ML, parse_rate

LABEL = {"name": "Feed", "analysis": "17-5-9", "form": "soluble"}


@pytest.mark.parametrize(
    ("form", "secondary", "analysis", "density"),
    [
        ("soluble", {}, "17-5-9", 6 / TEASPOON_ML),  # a grower-journal series, part 5: about 6 g a teaspoon
        ("soluble", {"Mg": 9.8, "S": 13.0}, "0-0-0", 5 / TEASPOON_ML),  # Epsom salt, from memory
        ("liquid", {}, "3-5-1", 1.1),  # from memory
        ("granular", {}, "8-7-9", 1.0),  # from memory
    ],
)
def test_a_density_that_is_not_stated_is_a_default_by_form_and_marked_so(form, secondary, analysis, density):
    product = make_product(name="Feed", analysis=analysis, form=form, secondary=secondary)

    assert product.density_g_ml == pytest.approx(density)
    assert product.density_from == "default"


@pytest.mark.parametrize(
    ("stated", "said_by", "kept"), [("5.1 g/tsp", None, "label"), ("5.1 g/tsp", "measured", "measured")]
)
def test_a_stated_density_is_the_labels_unless_the_grower_measured_it(stated, said_by, kept):
    assert make_product(**LABEL, density=stated, density_from=said_by).density_from == kept


def test_spoons_of_a_rate_are_weighed_by_the_density():
    product = make_product(**LABEL, rate="4 tsp/gal", most="8 tsp/gal", density="7 g/tsp")

    assert product.rate.grams == pytest.approx(4 * 7 / (GALLON_ML / 1000))
    assert product.most.grams == pytest.approx(2 * product.rate.grams)
    assert (product.rate.per, product.rate.text) == ("litre", "4 tsp/gal")


@pytest.mark.parametrize(
    ("text", "per", "grams"),
    [
        ("1/2 tbsp/gal", "litre", TABLESPOON_ML / 2 / (GALLON_ML / 1000)),
        ("1 1/2 tbsp per gal", "litre", TABLESPOON_ML * 1.5 / (GALLON_ML / 1000)),
        ("½ tbsp/gal", "litre", TABLESPOON_ML / 2 / (GALLON_ML / 1000)),
        ("1 tbsp. / gallon", "litre", TABLESPOON_ML / (GALLON_ML / 1000)),
        ("1 ml / 2.5 l", "litre", 0.4),
        ("1 ml/1/2 l", "litre", 2.0),
        ("1/2 lb/ft", "metre", POUND_G / 2 / 0.3048),
        ("2 tbsp/plant", "pot", 2 * TABLESPOON_ML),
    ],
)
def test_rates_are_read_with_fractions_too(text, per, grams):
    quantity, read = parse_rate(text)

    assert read == per
    assert quantity.amount == pytest.approx(grams, rel=1e-9)


def test_oxides_of_secondary_elements_become_elements():
    product = make_product(**LABEL, secondary={"MgO": 2.0, "SO3": 5.0, "CaO": 1.0, "Mg": 0.5, "fe": 0.1})

    # by the atomic weights of IUPAC 2021
    assert product.analysis.mg == pytest.approx(0.5 + 2 * 24.305 / 40.304, rel=1e-4)
    assert product.analysis.s == pytest.approx(5 * 32.06 / 80.057, rel=1e-4)
    assert product.analysis.ca == pytest.approx(40.078 / 56.077, rel=1e-4)
    assert product.analysis.trace == (("Fe", 0.1),)


@pytest.mark.parametrize(
    ("text", "per_g_l"),
    [
        ("0.9 mS/cm at 100 ppm N", 0.9 * 1.7),
        ("640 µS/cm for 100ppm of N", 0.64 * 1.7),
        ("0.85 mS/cm at 1 g/l", 0.85),
        ("1.7 dS/m at 2 g per l", 0.85),
        ("1 mS/cm at 4 tsp/gal", 1.0 / (6 * 4 / (GALLON_ML / 1000))),
    ],
)
def test_conductivity_is_brought_to_one_gram_in_a_litre(text, per_g_l):
    assert make_product(**LABEL, ec=text).ec_ms_cm_per_g_l == pytest.approx(per_g_l)


@pytest.mark.parametrize(("pack", "grams"), [("5 lb", 5 * POUND_G), ("1 qt", GALLON_ML / 4 * 1.1)])
def test_a_package_of_liquid_may_be_a_volume(pack, grams):
    product = make_product(name="Fish", analysis="3-5-1", form="liquid", pack=pack, price=12.5)

    assert product.pack_g == pytest.approx(grams)
    assert product.price == 12.5


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("analysis", "24-8"),
        ("analysis", "90-20-0"),
        ("rate", "1 tbsp"),
        ("rate", "0 tbsp/gal"),
        ("most", "1 spoonful/gal"),
        ("density", "6 g"),
        ("density", "6/tsp"),
        ("density", "60 kg/tsp"),
        ("ec", "0.64"),
        ("ec", "0.64 mS/cm at 100 ppm K"),
        ("ec", "0.64 mS/cm at 0 ppm N"),
        ("ec", "64 mS/cm at 100 ppm N"),
        ("ec", "0.64 V at 100 ppm N"),
        ("ec", "0.64 mS/cm at 2 tbsp/pot"),
        ("pack", "5 ft"),
        ("density_from", "measured"),
    ],
)
def test_a_text_that_cannot_be_read_is_named_by_its_value(key, text):
    with pytest.raises(InputError) as refused:
        make_product(**{**LABEL, key: text})

    assert refused.value.value == str(text)


@pytest.mark.parametrize(
    ("secondary", "said"),
    [({"Mg": 200.0}, "% by mass"), ({"Mg": float("nan")}, "% by mass"), ({"Xx": 1.0}, "not a secondary")],
)
def test_shares_that_cannot_be_are_refused(secondary, said):
    with pytest.raises(InputError, match=said):
        make_product(**LABEL, secondary=secondary)


def test_a_product_has_a_name():
    with pytest.raises(InputError, match="has a name"):
        make_product(**{**LABEL, "name": " "})


def test_a_label_of_many_words_is_read_in_any_order():
    text = (
        "Base-2 5-9-23 powder 1/2 tsp per gallon, max 1 1/2 tsp/gal, Mg 0.5 S=1.2% Ca 3 Fe 0.1, "
        "5.5 g/tsp Measured ec 0.85 mS/cm at 1 g/l organic"
    )
    product = read_product(text)

    assert (product.name, product.analysis.grade, product.form) == ("Base-2", "5-9-23", "soluble")
    assert (product.analysis.mg, product.analysis.s, product.analysis.ca) == (0.5, 1.2, 3.0)
    assert product.analysis.trace == (("Fe", 0.1),)
    assert product.most.grams == pytest.approx(3 * product.rate.grams)
    assert product.density_g_ml == pytest.approx(5.5 / TEASPOON_ML)
    assert product.density_from == "measured"
    assert product.ec_ms_cm_per_g_l == 0.85
    assert product.organic


@pytest.mark.parametrize(
    ("text", "name", "rate"),
    [
        ("First feed 17-5-9 soluble 4 tsp/gal", "First feed", "4 tsp/gal"),
        ("Mix 3-1-2 17-5-9 soluble 4 tsp/gal", "Mix 3-1-2", "4 tsp/gal"),
        ("Fish 3-5-1, liquid 0.7 fl oz/gal density 1.1 kg/l", "Fish", "0.7 fl oz/gal"),
        ("Meal 6-5-7 GRANULAR 0.3 lb/ft max 4 lb/tree", "Meal", "0.3 lb/ft"),
    ],
)
def test_the_name_ends_where_the_analysis_begins(text, name, rate):
    product = read_product(text)

    assert (product.name, product.rate.text) == (name, rate)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("First feed", "without its analysis"),
        ("First feed 17-5-9 4 tsp/gal", "without its form"),
        ("17-5-9 soluble 4 tsp/gal", "has a name"),
        ("Feed 17-5-9 soluble 1 tbsp", "not understood"),
        ("Feed 17-5-9 soluble 4 tsp/gal sometimes", "not understood"),
        ("Feed 17-5-9 soluble 4 tsp/gal 5 tsp/gal", "stands twice"),
        ("Feed 17-5-9 soluble 4 tsp/gal organic organic", "stands twice"),
        ("Feed 17-5-9 soluble 4 tsp/gal Mg 2 mg 3", "stands twice"),
        ("Feed 17-5-9 soluble 4 tsp/gal measured", "there is no density"),
        ("Feed 17-5-9 soluble 1 blob/gal", "not a volume or mass"),
        ("Feed 17-5-9 soluble 5 tsp/gal max 4 tsp/gal", "below its rate"),
        ("Feed 17-5-9 soluble 4 tsp/gal S 500", "% by mass"),
    ],
)
def test_a_label_that_cannot_be_read_says_why(text, said):
    with pytest.raises(InputError, match=said):
        read_product(text)


@pytest.mark.parametrize(
    ("text", "grams"),
    [
        ("3 tbsp", 3 * TABLESPOON_ML * 1.2),
        ("2 x 2.5 tsp + 1/2 tsp", (5 + 0.5) * TEASPOON_ML * 1.2),
        ("2 oz", 2 * OUNCE_G),
    ],
)
def test_what_was_measured_out_is_weighed(text, grams):
    assert weigh_measured(text, 1.2) == pytest.approx(grams)


@pytest.mark.parametrize("text", ["", "3", "3 tbsp +", "2 x", "a few"])
def test_what_was_not_measured_out_is_refused(text):
    with pytest.raises(InputError, match=r"3 tbsp, 2 x 2\.5 tsp"):
        weigh_measured(text, 1.2)


@pytest.mark.parametrize("text", ["", "0.4 V", "500 mS/cm", "1-2"])
def test_what_is_no_conductivity_is_refused(text):
    with pytest.raises(InputError) as refused:
        parse_ec_ms_cm(text)

    assert refused.value.value == text


def test_densities_are_read_in_any_pair_of_units():
    assert parse_density_g_ml("0.2 oz per tsp") == pytest.approx(0.2 * OUNCE_G / TEASPOON_ML)


@pytest.mark.parametrize(
    "text",
    [
        "Feed 17-5-9 soluble " + "9" * 5000 + "/7 tbsp/gal",
        "Feed 17-5-9 soluble 4 tsp/gal ec 0.6 mS/cm at " + "9" * 400 + " ppm N",
        "Feed " + "9" * 400 + "-5-9 soluble 4 tsp/gal",
        "Feed 17-5-9 soluble 1/0 tbsp/gal",
        "Feed 17-5-9 soluble Mg " + "9" * 400,
    ],
)
def test_numbers_that_no_label_holds_are_refused(text):
    with pytest.raises(InputError):
        read_product(text)
