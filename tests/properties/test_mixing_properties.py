"""Laws of mixing, for gardens drawn by chance. Each says what it holds fixed."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from frostgate.errors import InputError
from frostgate.feeding.labels import read_product
from frostgate.feeding.mix import make_stock, mix_as_measured, mix_for_group
from frostgate.feeding.scoops import SCALE_STEP_G, SPOON_STEP_ML, SYRINGE_STEP_ML
from frostgate.model.feedings import ELEMENTS, Portion
from tests.mixing_cases import full, make_garden, make_group

law = settings(derandomize=True, deadline=None, max_examples=150)
SIZES = ("1/4 tsp", "1/2 tsp", "1 tsp", "1 tbsp", "2.5 tsp", "5 ml", "15 ml", "1/4 cup")
LABELS = (
    "A 17-5-9 soluble 4 tsp/gal Mg 1",
    "B 3-5-1 liquid 9 ml/l organic",
    "C 0-0-0 soluble 1 tsp/gal Mg 9.86 S 13",
    "D 12-11-13 soluble 2.3 g/l max 4 g/l",
)


@st.composite
def gardens(draw, labels=LABELS, least=1):
    chosen = draw(st.lists(st.sampled_from(labels), min_size=least, max_size=3, unique=True))
    return make_garden(
        *chosen,
        bucket=f"{draw(st.integers(4, 400)) / 4} gal",
        scoops=draw(st.lists(st.sampled_from(SIZES), max_size=4, unique=True)),
        units=draw(st.sampled_from(["us", "metric"])),
    )


groups = st.builds(
    make_group,
    count=st.integers(1, 60),
    per_pot=st.integers(1, 40).map(lambda quarts: f"{quarts} qt"),
    stage=st.sampled_from(["established", "newly potted", "cutting"]),
)
strengths = st.integers(20, 100).map(lambda percent: percent / 100)


def names(garden):
    return [product.name for product in garden.products]


def mixed(garden, group, strength):
    """Mix every product of the garden, save what is too little to measure."""
    try:
        return mix_for_group(garden, group, full(*names(garden), strength=strength))
    except InputError:
        assume(False)


def doses(mix):
    return [dose for bucket in mix.buckets for dose in bucket.doses]


def step_ml(garden, product):
    """Give the coarsest step that a dose may be measured in."""
    smallest_ml = min((scoop.volume_ml for scoop in garden.scoops), default=SPOON_STEP_ML)
    return max(smallest_ml, SYRINGE_STEP_ML, SCALE_STEP_G / product.density_g_ml)


@law
@given(gardens(), groups, strengths)
def test_the_mass_of_every_nutrient_is_conserved(garden, group, strength):
    mix = mixed(garden, group, strength)
    volume_l = sum(bucket.volume_l for bucket in mix.buckets)

    for element in ELEMENTS:
        put_in_mg = math.fsum(
            dose.grams * dose.product.analysis.shares[element] * 1000 for dose in doses(mix)
        )
        assert mix.ppm[element] * volume_l == pytest.approx(put_in_mg, rel=1e-9, abs=1e-9)
        assert mix.per_pot_mg[element] * group.count == pytest.approx(put_in_mg, rel=1e-9, abs=1e-9)


@law
@given(gardens(), groups, strengths)
def test_the_water_and_the_pots_are_all_shared_out(garden, group, strength):
    mix = mixed(garden, group, strength)

    assert sum(bucket.volume_l for bucket in mix.buckets) == pytest.approx(group.count * group.per_pot_l)
    assert sum(bucket.pots for bucket in mix.buckets) == group.count
    assert all(bucket.volume_l <= garden.vessel_l * (1 + 1e-5) for bucket in mix.buckets)
    if group.per_pot_l <= garden.vessel_l:
        for bucket in mix.buckets:
            assert bucket.volume_l == pytest.approx(bucket.pots * group.per_pot_l)


@law
@given(gardens(), groups, strengths)
def test_no_dose_is_ever_above_the_labels_maximum_or_nothing(garden, group, strength):
    for bucket in mixed(garden, group, strength).buckets:
        for dose in bucket.doses:
            most = dose.product.most or dose.product.rate
            assert 0.0 < dose.grams <= most.grams * bucket.volume_l * (1 + 1e-8)


@law
@given(gardens(), groups, strengths)
def test_a_dose_is_within_a_step_of_what_is_wanted(garden, group, strength):
    # below the label's maximum within half a step, and a hundredth that saves scoops
    for dose in doses(mixed(garden, group, strength)):
        step_g = step_ml(garden, dose.product) * dose.product.density_g_ml
        assert abs(dose.grams - dose.wanted_g) <= step_g + 0.01 * dose.wanted_g + 1e-9
        assert dose.spoons


@law
@given(gardens(), groups, strengths)
def test_twice_the_pots_take_twice_the_product(garden, group, strength):
    twice = replace(group, count=2 * group.count)
    one, two = mixed(garden, group, strength), mixed(garden, twice, strength)

    for product in garden.products:
        single = [dose for dose in doses(one) if dose.product == product]
        double = [dose for dose in doses(two) if dose.product == product]
        wanted_g = math.fsum(dose.wanted_g for dose in single)
        assert math.fsum(dose.wanted_g for dose in double) == pytest.approx(2 * wanted_g, rel=1e-9)
        steps_g = (len(single) * 2 + len(double)) * step_ml(garden, product) * product.density_g_ml
        measured_g = 2 * math.fsum(dose.grams for dose in single)
        assert math.fsum(dose.grams for dose in double) == pytest.approx(
            measured_g, abs=steps_g + 0.04 * wanted_g + 1e-6
        )


@law
@given(st.integers(1, 60), st.sampled_from(SIZES), st.integers(40, 80))
@example(1, "1/4 tsp", 80)
@example(2, "2.5 tsp", 20)
def test_spoons_to_ppm_and_back_are_the_same_spoons(count, size, quarts):
    # held fixed: one powder without a maximum, one scoop
    garden = make_garden("Feed 17-5-9 soluble 5.1 g/tsp", bucket=f"{quarts} qt", scoops=[size])
    there = mix_as_measured(garden, {"Feed": f"{count} x {size}"}, garden.vessel_l)
    group = make_group(1, f"{quarts} qt")
    back = mix_for_group(garden, group, [Portion(product="Feed", n_ppm=there.ppm["N"])])

    dose = back.buckets[0].doses[0]
    assert dose.grams == pytest.approx(there.buckets[0].doses[0].grams, abs=SCALE_STEP_G)
    if count <= 24:
        assert dose.spoons == (size if count == 1 else f"{count} x {size}")
        assert back.ppm == pytest.approx(there.ppm)


@law
@given(st.integers(20, 900), gardens(LABELS[:1]), groups)
def test_ppm_to_spoons_and_back_are_the_same_ppm_within_the_step(ppm, garden, group):
    try:
        mix = mix_for_group(garden, group, [Portion(product="A", n_ppm=float(ppm))])
    except InputError:
        assume(False)
    product = garden.products[0]
    half_ppm = product.rate.grams * 170 / 2
    wanted_ppm = min(ppm, half_ppm) if group.is_young else ppm
    volume_l = min(bucket.volume_l for bucket in mix.buckets)
    step_ppm = step_ml(garden, product) * product.density_g_ml * 170 / volume_l

    assert abs(mix.ppm["N"] - wanted_ppm) <= step_ppm + 0.01 * wanted_ppm + 1e-9


@law
@given(groups, strengths, st.floats(0.3, 6.0))
def test_a_top_dressing_conserves_mass_and_keeps_to_the_label(group, strength, height_m):
    garden = make_garden("Meal 6-5-7 granular 0.3 lb/ft max 4 lb/tree S 2")
    tree = make_group(group.count, None, "in the ground", height_m)
    mix = mix_for_group(garden, tree, full("Meal", strength=strength), "top-dressing")

    (dose,) = mix.per_pot
    assert dose.grams <= garden.products[0].most.grams * (1 + 1e-8)
    for element in ELEMENTS:
        share = dose.product.analysis.shares[element]
        assert mix.per_pot_mg[element] == pytest.approx(dose.grams * share * 1000)


@law
@given(st.integers(20, 400), st.integers(2, 300), st.integers(5, 500))
def test_a_stock_diluted_by_its_ratio_is_the_feed(ppm, ratio, stock_l):
    # held fixed: one powder without a maximum
    garden = make_garden("Feed 14-9-16 soluble Mg 1", units="metric")
    stock = make_stock(garden, [Portion(product="Feed", n_ppm=float(ppm))], float(ratio), float(stock_l))
    (dose,) = stock.buckets[0].doses

    assert dose.grams == pytest.approx(dose.wanted_g, abs=SCALE_STEP_G / 2 + 1e-9)
    assert dose.wanted_g == pytest.approx(ppm / 140 * ratio * stock_l)
    for element in ELEMENTS:
        put_in_mg = dose.grams * dose.product.analysis.shares[element] * 1000
        assert stock.ppm[element] * ratio * stock_l == pytest.approx(put_in_mg)


@law
@given(
    st.integers(0, 60), st.integers(0, 30), st.integers(0, 9),
    st.sampled_from(["soluble", "liquid"]), st.integers(1, 8), st.integers(2, 20),
)  # fmt: skip
def test_a_written_label_is_read_back_as_it_was_meant(n, p2o5, mg, form, spoons, tenths):
    text = f"Feed {n}-{p2o5}-0 {form} {spoons}/4 tsp/gal, Mg {mg}, {tenths / 10} g/ml"
    product = read_product(text)

    assert (product.analysis.n, product.analysis.p2o5, product.analysis.mg) == (n, p2o5, mg)
    assert product.density_g_ml == pytest.approx(tenths / 10)
    assert product.rate.grams == pytest.approx(spoons / 4 / 768 * 1000 * tenths / 10)
