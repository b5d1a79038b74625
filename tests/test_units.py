"""Temperatures and quantities: read, turned and written as handbooks and an independent library have it."""

from __future__ import annotations

import numpy as np
import pint
import pytest
from numpy.testing import assert_allclose

from frostgate import units
from frostgate.errors import InputError
from frostgate.units import (
    GALLON_ML,
    OUNCE_G,
    POUND_G,
    STORED_STEP_C,
    WHOLE_F_STEP_C,
    as_stored,
    celsius,
    fahrenheit,
    observed_step_c,
    parse_length_m,
    parse_mass_g,
    parse_offset,
    parse_quantity,
    parse_rate,
    parse_share,
    parse_temperature,
    parse_volume_l,
    say_mass,
    say_offset,
    say_share,
    say_temperature,
    say_volume,
    whole_f,
)

# computed: whole °F, tenths of a °C in the archive, and what those are in °F
STORED = [(36, 2.2, 35.96), (32, 0.0, 32.00), (28, -2.2, 28.04), (24, -4.4, 24.08), (20, -6.7, 19.94),
          (16, -8.9, 15.98)]  # fmt: skip


@pytest.mark.parametrize(
    ("temp_f", "temp_c"), [(32.0, 0.0), (212.0, 100.0), (-40.0, -40.0), (14.0, -10.0), (77.0, 25.0)]
)  # the scale's definition
def test_the_two_scales_meet_at_their_known_points(temp_f, temp_c):
    assert celsius(temp_f) == pytest.approx(temp_c, abs=1e-12)
    assert fahrenheit(temp_c) == pytest.approx(temp_f, abs=1e-12)


def test_whole_arrays_turn_as_single_values_do():
    temp_f = np.array([[32.0, 28.0], [-40.0, 100.0]])
    assert_allclose(celsius(temp_f), [[celsius(float(f)) for f in row] for row in temp_f], rtol=0)
    assert_allclose(fahrenheit(celsius(temp_f)), temp_f, atol=1e-12)


@pytest.mark.parametrize(("temp_f", "temp_c", "back_f"), STORED)
def test_a_whole_fahrenheit_degree_is_stored_in_tenths_of_a_celsius_degree(temp_f, temp_c, back_f):
    assert as_stored(celsius(float(temp_f))) == temp_c
    assert round(fahrenheit(temp_c), 2) == back_f


def test_no_whole_fahrenheit_degree_lies_halfway_between_two_tenths():
    tenths = celsius(np.arange(-130.0, 141.0)) * 10
    assert np.abs(tenths % 1 - 0.5).min() > 0.05  # multiples of 1/9 come no nearer than 1/18


def test_stored_whole_fahrenheit_degrees_stay_apart_and_in_order():
    assert np.diff(as_stored(celsius(np.arange(-130.0, 141.0)))).min() > 4 * STORED_STEP_C


def test_a_single_value_stays_a_single_value():
    assert type(as_stored(1.26)) is float
    assert type(as_stored(np.float64(1.26))) is float
    assert isinstance(as_stored(np.array([1.26])), np.ndarray)


def test_a_whole_fahrenheit_step_is_five_ninths():
    assert pytest.approx(5 / 9) == WHOLE_F_STEP_C


@pytest.mark.parametrize(
    ("stored_c", "temp_f"),
    [
        (-2.2, 28),
        (-2.1, 28),
        (-4.4, 24),
        (-4.3, 24),
        (-6.7, 20),
        (-6.6, 20),
        (0.0, 32),
        (2.2, 36),
        (-9.9, 14),
    ],
)  # both roundings of the archive, worked out by hand from int(10 c + 0.5)
def test_both_of_the_archives_roundings_give_the_degree_that_was_observed(stored_c, temp_f):
    degrees, fits = whole_f(np.array([stored_c]))
    assert (degrees[0], bool(fits[0])) == (temp_f, True)


@pytest.mark.parametrize("stored_c", [-2.3, -2.0, 0.1, -0.1, 2.1, 2.3, np.nan])
def test_what_no_whole_fahrenheit_degree_is_stored_as_does_not_fit(stored_c):
    assert not whole_f(np.array([stored_c]))[1][0]


def test_every_whole_fahrenheit_degree_comes_back_from_its_tenths():
    temp_f = np.arange(-130.0, 141.0)
    nearest = np.round(celsius(temp_f) * 10) / 10
    truncated = np.trunc(celsius(temp_f) * 10 + 0.5) / 10
    for stored_c in (nearest, truncated):
        degrees, fits = whole_f(stored_c)
        assert fits.all()
        assert_allclose(degrees, temp_f)


def test_by_chance_nine_of_fifty_tenths_can_be_a_whole_fahrenheit_degree_and_twice_as_many_below_zero():
    tenths = np.round(np.arange(-900, 600) / 10, 1)  # 1500 tenths hold 270 whole °F
    fits = whole_f(tenths)[1]
    assert (fits[tenths >= 0].mean(), fits[tenths < 0].mean()) == (9 / 50, 18 / 50)


@pytest.mark.parametrize(
    ("text", "temp_c", "unit"),
    [
        ("32F", 0.0, "F"),
        ("28 °F", -20 / 9, "F"),
        ("0C", 0.0, "C"),
        ("-1.5 °C", -1.5, "C"),
        ("−1.5c", -1.5, "C"),  # the typographer's minus
        ("+4f", -140 / 9, "F"),
        ("  7 C  ", 7.0, "C"),
        ("-90C", -90.0, "C"),
        ("60C", 60.0, "C"),
    ],
)
def test_a_temperature_is_read_with_its_unit(text, temp_c, unit):
    assert parse_temperature(text) == (pytest.approx(temp_c), unit)


@pytest.mark.parametrize("text", ["32", "", "F", "warm", "1,5C", "1.C", ".5C", "32K", "--1C", "1e3C", "nanC"])
def test_a_temperature_without_unit_or_number_is_refused(text):
    with pytest.raises(InputError, match="not a temperature with its unit") as caught:
        parse_temperature(text)
    assert (caught.value.value, caught.value.remedy) == (text, "Write it as 32F or as 0C.")


@pytest.mark.parametrize("text", ["-90.1C", "60.1C", "-131F", "141F", "320F", "9" * 400 + "F"])
def test_a_temperature_outside_nature_is_refused(text):
    with pytest.raises(InputError, match="no place on earth has such a temperature"):
        parse_temperature(text)


@pytest.mark.parametrize(
    ("text", "offset_c", "unit"),
    [("-2F", -10 / 9, "F"), ("1.8F", 1.0, "F"), ("-1C", -1.0, "C"), ("0F", 0.0, "F"), ("36F", 20.0, "F")],
)
def test_a_difference_has_no_freezing_point(text, offset_c, unit):
    assert parse_offset(text) == (pytest.approx(offset_c), unit)


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("2", "not a difference with its unit"),
        ("20.1C", "does not differ that much"),
        ("-37F", "does not differ"),
    ],
)
def test_a_difference_that_no_garden_has_is_refused(text, what):
    with pytest.raises(InputError, match=what):
        parse_offset(text)


@pytest.mark.parametrize(
    ("text", "share"),
    [("10%", 0.1), ("10 %", 0.1), (" 0.1 ", 0.1), ("0", 0.0), ("1", 1.0), ("100%", 1.0), ("0.5%", 0.005)],
)
def test_a_share_is_read_as_percentage_or_fraction(text, share):
    assert parse_share(text) == pytest.approx(share)


@pytest.mark.parametrize(
    "text", ["10", "1.01", "101%", "-1%", "", "%", "a tenth", "0,1", "1e-3", "inf", "nan"]
)
def test_what_could_be_no_share_or_two_is_refused(text):
    with pytest.raises(InputError, match="not a share") as caught:
        parse_share(text)
    assert caught.value.remedy == "Write it as 10% or as 0.1."


@pytest.mark.parametrize(
    ("temp_c", "unit", "said"),
    [
        (0.0, "F", "32 °F"),
        (-2.2, "F", "28 °F"),  # 28.04
        (-2.2, "C", "-2.2 °C"),
        (-0.04, "C", "0 °C"),  # no minus before nothing
        (21.96, "C", "22 °C"),
        (0.5, "F", "32.9 °F"),
    ],
)
def test_a_temperature_is_said_as_a_thermometer_shows_it(temp_c, unit, said):
    assert say_temperature(temp_c, unit) == said


@pytest.mark.parametrize(
    ("offset_c", "unit", "said"), [(-1.0, "F", "-1.8 °F"), (-1.0, "C", "-1 °C"), (10 / 9, "F", "2 °F")]
)
def test_a_difference_is_said_without_a_freezing_point(offset_c, unit, said):
    assert say_offset(offset_c, unit) == said


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0.0, "0 %"), (1e-9, "under 1 %"), (0.0099, "under 1 %"), (0.01, "1 %"), (0.104, "10 %"),
        (0.5, "50 %"), (0.99, "99 %"), (0.9901, "over 99 %"), (1 - 1e-9, "over 99 %"), (1.0, "100 %"),
    ],
)  # fmt: skip
def test_only_the_certain_is_said_to_be_certain(share, said):
    assert say_share(share) == said


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
UNITS = [(measure, unit, factor) for unit, (measure, factor) in units._UNITS.items()]
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
        ("3.5gal", 3.5 * GALLON_ML, "volume"),
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
        (parse_quantity, "1 1/0 gal"),
        (parse_quantity, "1 2 gal"),
        (parse_quantity, "10000000 l"),
        (parse_quantity, "-3 gal"),
        (parse_volume_l, "5 lb"),
        (parse_mass_g, "3.5 gal"),
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
        ("4 tsp/gal", 4000 / 768, "litre"),
        ("1 tbsp per gallon", 3.90625, "litre"),
        ("2 g/l", 2.0, "litre"),
        ("8 oz/100 gal", 8 * OUNCE_G / (100 * GALLON_ML / 1000), "litre"),
        ("2 tbsp/tree", 2 * GALLON_ML / 256, "pot"),
        ("0.5 lb/ft", 0.5 * POUND_G / 0.3048, "metre"),
    ],
)
def test_rates_are_brought_to_one_litre_pot_or_metre(text, amount, per):
    quantity, read = parse_rate(text)

    assert quantity.amount == pytest.approx(amount, rel=1e-12)
    assert read == per


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        (say_volume(3.5 * 3.785412, "us"), "3.5 gal"),
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
    assert parse_rate(text)[0].amount == pytest.approx(GALLON_ML / 512 / (GALLON_ML / 1000))


def test_a_rate_for_some_litres_is_read():
    assert parse_rate("7 g / 3.5 l")[0].amount == pytest.approx(2.0)


def test_a_very_long_run_of_spaces_is_read_at_once():
    """Tried one way after another, such a run would take hours."""
    assert parse_quantity("1" + " " * 100_000 + "tsp") == parse_quantity("1 tsp")
    with pytest.raises(InputError):
        parse_quantity(" " * 100_000 + "?")


@pytest.mark.parametrize(("minima_c", "step_c"), [([-2.2, 0.0, 1.1], 5 / 9), ([-2.0, 0.3], 0.1), ([], 0.1)])
def test_the_step_of_observing_is_seen(minima_c, step_c):
    assert observed_step_c(np.array(minima_c, dtype=float)) == pytest.approx(step_c)
