"""What stops a mix, and what to mind about one."""

from __future__ import annotations

import pytest

from frostgate.errors import UnsafeMixError
from frostgate.feeding.mix import mix_for_group
from frostgate.service.mix import MixOptions, mix_groups
from tests.mixing_cases import (
    EPSOM,
    FIRST,
    FISH,
    LIME,
    PELLETS,
    STEADY,
    full,
    make_garden,
    make_group,
    ppm_n,
    said,
)


@pytest.mark.parametrize(
    ("label", "portions"),
    [
        (FIRST, full("First feed", strength=1.01)),
        (FIRST, full("First feed", strength=0.6) * 2),
        (FIRST, ppm_n("First feed", 1200)),
        ("Feed 20-0-0 soluble 1 g/l max 2 g/l", full("Feed", strength=2.1)),
    ],
)
def test_nothing_above_the_labels_maximum_is_mixed(label, portions):
    with pytest.raises(UnsafeMixError, match=r"times what its label allows .*: at most") as refused:
        mix_for_group(make_garden(label), make_group(), portions)

    assert refused.value.remedy


def test_the_labels_maximum_itself_is_allowed_and_never_passed_by_rounding():
    garden = make_garden("Feed 20-0-0 soluble 1 g/l max 2 g/l", units="metric", bucket="7.77 l")
    mix = mix_for_group(garden, make_group(7, "1.11 l"), full("Feed", strength=2.0))

    assert mix.buckets[0].doses[0].grams <= 2.0 * mix.buckets[0].volume_l * (1 + 1e-9)


def test_a_solution_above_the_limit_of_conductivity_is_not_mixed():
    with pytest.raises(UnsafeMixError, match=r"3\.08 mS/cm, and 3 is the limit"):
        mix_for_group(
            make_garden(STEADY, water_ec_ms_cm=0.6), make_group(), full("Steady feed")
        )  # 2.3 * 1.2 * 0.9 + 0.6


def test_what_is_known_of_the_conductivity_stops_a_mix_even_where_a_label_is_silent():
    with pytest.raises(UnsafeMixError, match="is the limit"):
        mix_for_group(
            make_garden(STEADY, EPSOM, ec_limit_ms_cm=2.4), make_group(), full("Steady feed", "Epsom salt")
        )


def test_water_that_is_salty_itself_is_named():
    with pytest.raises(UnsafeMixError) as refused:
        mix_for_group(make_garden(STEADY, water_ec_ms_cm=3.5), make_group(), ppm_n("Steady feed", 50))

    assert "other water" in refused.value.remedy


def test_conductivity_is_estimated_or_said_to_be_unknown():
    known = mix_for_group(
        make_garden(STEADY, water_ec_ms_cm=0.3, units="metric"), make_group(), ppm_n("Steady feed", 100)
    )
    dry = mix_for_group(make_garden(STEADY), make_group(), ppm_n("Steady feed", 100))
    unknown = mix_for_group(make_garden(), make_group(), full("First feed"))

    assert known.ec_ms_cm == pytest.approx(0.3 + 0.9, abs=0.005)
    assert not said(known, "EC")
    assert said(dry, "EC is without the water's own")
    assert unknown.ec_ms_cm is None
    assert said(unknown, "EC is not known", "First feed")


@pytest.mark.parametrize("label", [FIRST, PELLETS])
@pytest.mark.parametrize("rest", [{}, {"injector": 100.0}, {"measured": ("1 tsp",)}])
def test_dry_root_balls_are_not_fed(label, rest):
    with pytest.raises(UnsafeMixError, match="dry") as refused:
        mix_groups(MixOptions(products=(label,), dry=True, **rest))

    assert "Water them" in refused.value.remedy


@pytest.mark.parametrize(
    ("name", "kind", "why"),
    [
        ("Pellets", "liquid", "does not dissolve"),
        ("First feed", "top-dressing", "laid undiluted"),
        ("Fish feed", "top-dressing", "laid undiluted"),
    ],
)
def test_a_form_that_does_not_suit_is_refused(name, kind, why):
    with pytest.raises(UnsafeMixError, match=why):
        mix_for_group(make_garden(), make_group(), full(name), kind)


@pytest.mark.parametrize(
    ("labels", "clash"),
    [
        ((LIME, EPSOM), "sulfate of Epsom salt"),
        ((LIME, FIRST), "phosphate of First feed"),
        ((LIME, "Both 0-10-0 soluble 1 g/l S 5"), "sulfate and phosphate of Both"),
    ],
)
def test_calcium_with_sulfate_or_phosphate_in_a_bucket_is_only_warned_of(labels, clash):
    garden = make_garden(*labels)
    mix = mix_for_group(garden, make_group(), full(*(product.name for product in garden.products)))

    assert said(mix, "calcium of Lime feed", clash, "never mix their concentrates")


def test_calcium_and_sulfate_within_one_product_are_its_makers_matter():
    garden = make_garden("Feed 14-5-6 soluble 1 g/l Ca 5 S 5")

    assert not said(mix_for_group(garden, make_group(), full("Feed")), "calcium")


def test_default_densities_organic_nitrogen_and_strong_feeds_are_warned_of():
    mix = mix_for_group(make_garden(), make_group(), full("First feed", "Epsom salt", "Fish feed"))

    assert said(mix, "default density can be off by a fifth", "Epsom salt 5 g a teaspoon", "Fish feed 5.4 g")
    assert not said(mix, "default density", "First feed")
    assert said(mix, "Fish feed is organic", "slowly", "Hartz & Johnston 2006")
    assert said(mix, f"{4 * 5.1 * 170 / 3.785412:.0f} ppm N is strong", "150 to 250 ppm")


def test_the_density_of_what_is_weighed_by_a_rate_in_grams_does_not_matter():
    mix = mix_for_group(make_garden(STEADY, units="metric"), make_group(), ppm_n("Steady feed", 100))

    assert not said(mix, "default density")
    assert mix.buckets[0].doses[0].product.density_from == "default"


def test_a_product_without_a_rate_for_water_is_warned_of():
    mix = mix_for_group(make_garden("Feed 20-0-0 soluble"), make_group(), ppm_n("Feed", 100))

    assert said(mix, "no rate for water", "too strong")


@pytest.mark.parametrize(
    ("strength", "scoop", "off", "words"),
    [
        (0.5, "3.6 tsp", "20 %", ("more", "weigh 30.6 g")),  # 6 tsp in 3 gal
        (0.25, "2.4 tsp", "20 %", ("less", "weigh 15.3 g")),  # 3 tsp
    ],
)
def test_rough_rounding_is_warned_of(strength, scoop, off, words):
    mix = mix_for_group(
        make_garden(FIRST, scoops=[scoop]), make_group(4), full("First feed", strength=strength)
    )

    assert said(mix, off, *words)
    assert abs(mix.buckets[0].doses[0].rounding) == pytest.approx(0.2)


def test_rounding_that_a_scale_cannot_better_asks_for_more_at_once():
    garden = make_garden("Feed 20-0-0 soluble 1 g/l", units="metric", bucket="1 l")
    mix = mix_for_group(garden, make_group(1, "1 l"), full("Feed", strength=0.13))

    assert said(mix, "23 % less", "mix more at once")


@pytest.mark.parametrize(("name", "how"), [("First feed", "a scale"), ("Fish feed", "a syringe")])
def test_too_little_for_the_spoons_is_said_and_how_to_measure_it(name, how):
    garden = make_garden(FIRST, FISH, scoops=["1 tbsp"], bucket="1 qt")
    mix = mix_for_group(garden, make_group(1, "1 cup"), full(name, strength=0.5))

    assert said(mix, "too little for the spoons", how)
    assert mix.buckets[0].doses[0].grams > 0


@pytest.mark.parametrize(
    ("bucket", "per_pot", "heavy"),
    [("3.5 gal", "3.5 qt", "13 kg (29 lb)"), ("1 gal", "1 qt", None), ("100 gal", "50 gal", None)],
)
def test_a_heavy_bucket_is_a_caution_and_a_tank_is_not_lifted(bucket, per_pot, heavy):
    mix = mix_for_group(make_garden(bucket=bucket), make_group(10, per_pot), full("First feed"))
    weighs = [caution for caution in mix.cautions if "weighs" in caution]

    assert mix.cautions[0].startswith("The label")
    assert bool(weighs) == (heavy is not None)
    assert heavy is None or heavy in weighs[0]
