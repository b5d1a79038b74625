"""Stock solutions for injectors."""

from __future__ import annotations

import pytest

from frostgate.errors import InputError, UnsafeMixError
from frostgate.feeding.mix import make_stock
from frostgate.units import parse_ratio
from tests.mixing_cases import EVEN, full, make_garden, make_group, ppm_n


def test_a_stock_is_as_many_times_stronger_as_its_ratio():
    stock = make_stock(make_garden(EVEN, units="metric"), ppm_n("Even feed", 100), 100.0, 20.0)

    assert stock.feed_l == 2000.0
    assert list(stock.grams_l.values()) == [pytest.approx(50.0)]
    assert stock.mix.buckets[0].doses[0].grams == pytest.approx(1000.0)
    assert stock.mix.ppm["N"] == pytest.approx(100.0)
    assert stock.mix.ec_ms_cm == pytest.approx(0.64)
    assert stock.mix.per_pot_mg == {}


def test_powders_are_weighed_and_liquids_measured_whatever_the_scoops():
    garden = make_garden(scoops=["1 tbsp"])
    stock = make_stock(garden, full("Spring feed", "Fish feed", strength=0.5), 15.0, 20.0)

    assert stock.mix.buckets[0].doses[0].spoons.endswith("on a scale")
    assert stock.mix.buckets[0].doses[1].spoons.endswith("mL")
    assert not [warning for warning in stock.mix.warnings if "spoons at hand" in warning]


def test_pots_that_are_known_get_their_share_and_young_ones_half():
    young, old = make_group(10, "2 l", "cutting"), make_group(10, "2 l")
    garden = make_garden(EVEN, units="metric")
    halved = make_stock(garden, ppm_n("Even feed", 400), 100.0, 20.0, group=young)
    whole = make_stock(garden, ppm_n("Even feed", 400), 100.0, 20.0, group=old)

    assert whole.mix.per_pot_mg["N"] == pytest.approx(800.0)  # 400 ppm of 20 % nitrogen are the label's 2 g/l
    assert halved.mix.per_pot_mg["N"] == pytest.approx(400.0)
    assert halved.mix.pots == 10


def test_a_stock_says_that_solubility_is_unknown_and_asks_for_a_backflow_preventer():
    cautions = make_stock(make_garden(), ppm_n("Even feed", 100), 100.0, 20.0).mix.cautions

    assert any("Solubility is not known" in caution for caution in cautions)
    assert any("backflow" in caution for caution in cautions)


@pytest.mark.parametrize(
    ("names", "partner"),
    [(("Lime feed", "Epsom salt"), "sulfate"), (("Spring feed", "Lime feed"), "phosphate")],
)
def test_calcium_never_meets_sulfate_or_phosphate_in_a_concentrate(names, partner):
    with pytest.raises(UnsafeMixError, match=f"calcium of 'Lime feed' and the {partner} of") as refused:
        make_stock(make_garden(), full(*names, strength=0.1), 100.0, 20.0)

    assert "two stock solutions" in refused.value.remedy


@pytest.mark.parametrize(
    ("portions", "why"),
    [
        (full("Spring feed", strength=1.2), "label allows"),
        (full("Pellets"), "does not dissolve"),
        (full("Even feed"), "is the limit"),
    ],
)
def test_a_feed_that_must_not_be_mixed_has_no_stock_either(portions, why):
    with pytest.raises(UnsafeMixError, match=why):
        make_stock(make_garden(ec_limit_ms_cm=2.0), portions, 100.0, 20.0)


def test_products_that_overfill_the_tank_are_refused():
    with pytest.raises(InputError, match="more than the tank") as refused:
        make_stock(make_garden(), full("Fish feed"), 200.0, 20.0)

    assert "smaller ratio" in refused.value.remedy


@pytest.mark.parametrize(("text", "ratio"), [("1:100", 100.0), ("1 / 15", 15.0), ("1:12.5", 12.5)])
def test_ratios_are_read(text, ratio):
    assert parse_ratio(text) == ratio


@pytest.mark.parametrize("text", ["100", "2:100", "1:1", "1:0", "1:5000", "1:x"])
def test_what_is_no_ratio_is_refused(text):
    with pytest.raises(InputError, match="not a ratio"):
        parse_ratio(text)
