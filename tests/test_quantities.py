"""Volumes, masses, lengths and rates, each unit held against an independent library."""

from __future__ import annotations

import pint
import pytest

from frostgate import units
from frostgate.errors import InputError
from frostgate.units import (
    GALLON_ML,
    OUNCE_G,
    POUND_G,
    parse_length_m,
    parse_mass_g,
    parse_quantity,
    parse_rate,
    parse_volume_l,
    say_mass,
    say_volume,
)

PINT_NAMES = {  # where pint names it otherwise
    "tsp": "teaspoon",
    "tbsp": "tablespoon",
    **dict.fromkeys(("fl oz", "fluid ounce", "fluid ounces"), "US_fluid_ounce"),
    **dict.fromkeys(("imp gal", "imperial gallon", "imperial gallons"), "imperial_gallon"),
    "pt": "pint",
    "qt": "quart",
    "gal": "gallon",
    "l": "liter",
    "lbs": "pound",
    "feet": "foot",
    "inches": "inch",
}
UNITS = [(measure, unit, factor) for measure, units in units._SIZES.items() for unit, factor in units.items()]
BASES = {"volume": "milliliter", "mass": "gram", "length": "meter"}


@pytest.fixture(scope="module")
def ureg():
    return pint.UnitRegistry(cache_folder=None)


@pytest.mark.parametrize(("measure", "unit", "factor"), UNITS)
def test_every_unit_is_what_pint_says(ureg, measure, unit, factor):
    # pint defines them by the cubic inch and the avoirdupois pound (NIST Handbook 44)
    other = ureg.Quantity(1.0, PINT_NAMES.get(unit, unit)).to(BASES[measure]).magnitude

    assert factor == pytest.approx(other, rel=1e-9)


@pytest.mark.parametrize(
    ("value", "expected", "digits"),
    [  # the figures of extension publications: 1 tsp = 4.92892 mL and so on
        (units.TEASPOON_ML, 4.92892, 5),
        (units.TABLESPOON_ML, 14.78676, 5),
        (GALLON_ML / 128, 29.57353, 5),
        (GALLON_ML, 3785.41, 2),
        (OUNCE_G, 28.34952, 5),
        (GALLON_ML / units.TEASPOON_ML, 768, 9),
    ],
)
def test_constants_are_those_of_the_handbooks(value, expected, digits):
    assert round(value, digits) == expected


@pytest.mark.parametrize(
    ("text", "amount", "measure"),
    [
        ("5gal", 5 * GALLON_ML, "volume"),
        (" 5  GAL ", 5 * GALLON_ML, "volume"),
        ("1 1/2 tbsp", GALLON_ML / 256 * 1.5, "volume"),
        ("1½ tbsp", GALLON_ML / 256 * 1.5, "volume"),
        ("1/4 tsp", GALLON_ML / 768 / 4, "volume"),
        (".5 l", 500, "volume"),
        ("cup", GALLON_ML / 16, "volume"),
        ("2 imp gal", 9092.18, "volume"),
        ("2 lb.", 2 * POUND_G, "mass"),
        ("6 ft", 1.8288, "length"),
    ],
)
def test_quantities_are_read_as_written(text, amount, measure):
    quantity = parse_quantity(text)

    assert quantity.amount == pytest.approx(amount, rel=1e-12)
    assert quantity.measure == measure


@pytest.mark.parametrize(
    ("read", "text"),
    [
        (parse_quantity, "5"),
        (parse_quantity, ""),
        (parse_quantity, "five gal"),
        (parse_quantity, "0 gal"),
        (parse_quantity, "1/0 gal"),
        (parse_quantity, "10000000 l"),
        (parse_quantity, "-3 gal"),
        (parse_volume_l, "5 lb"),
        (parse_mass_g, "5 gal"),
        (parse_length_m, "5 g"),
        (parse_rate, "1 tbsp"),
        (parse_rate, "1 tbsp/lb"),
        (parse_rate, "1 ft/gal"),
        (parse_rate, "/gal"),
    ],
)
def test_what_is_no_quantity_is_refused_by_its_value(read, text):
    with pytest.raises(InputError) as refused:
        read(text)

    assert refused.value.value is not None


@pytest.mark.parametrize(
    ("text", "amount", "per"),
    [
        ("1 tbsp/gal", 3.90625, "litre"),
        ("1 tbsp per gallon", 3.90625, "litre"),
        ("2 g/l", 2.0, "litre"),
        ("8 oz/100 gal", 8 * OUNCE_G / (100 * GALLON_ML / 1000), "litre"),
        ("2 tbsp/tree", 2 * GALLON_ML / 256, "pot"),
        ("0.5 lb/ft", 0.5 * POUND_G / 0.3048, "metre"),
    ],
)
def test_rates_are_brought_to_one_litre_pot_or_metre(text, amount, per):
    rate = parse_rate(text)

    assert rate.quantity.amount == pytest.approx(amount, rel=1e-12)
    assert rate.per == per


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        (say_volume(18.927, "us"), "5 gal"),
        (say_volume(9.4635, "us"), "2.5 gal"),
        (say_volume(18.927, "metric"), "18.9 L"),
        (say_mass(9.46, "us"), "9.5 g (0.33 oz)"),
        (say_mass(9.46, "metric"), "9.5 g"),
        (say_mass(1360.8, "us"), "1.36 kg (3 lb)"),
    ],
)
def test_amounts_are_written_for_the_grower(said, expected):
    assert said == expected


@pytest.mark.parametrize("text", ["1/2 tbsp/gal", "½ tbsp / gal", "1/2 tbsp per gal", " 1 / 2  tbsp/ gal "])
def test_a_rate_of_a_fraction_is_read_whatever_its_spaces(text):
    assert parse_rate(text).quantity.amount == pytest.approx(GALLON_ML / 512 / (GALLON_ML / 1000))


def test_a_rate_for_some_litres_is_read():
    assert parse_rate("7 g / 3.5 l").quantity.amount == pytest.approx(2.0)


def test_a_very_long_run_of_spaces_is_read_at_once():
    """Tried one way after another, such a run would take hours."""
    assert parse_quantity("1" + " " * 100_000 + "tsp") == parse_quantity("1 tsp")
    with pytest.raises(InputError):
        parse_quantity(" " * 100_000 + "?")
