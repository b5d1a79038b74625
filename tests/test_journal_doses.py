"""What the grower says went into the bucket, as grams and as nitrogen for each pot."""

from __future__ import annotations

from dataclasses import replace

import pytest

from frostgate.errors import InputError
from frostgate.garden.entries import Fed, feeding_body, parse_fed
from frostgate.garden.entry_schema import check_entry
from frostgate.garden.journal import new_entry
from frostgate.model.feedings import Phase, Portion
from tests.journal_cases import CUTTINGS, EPSOM_SALT, GRANULES, NOW, OLD_FIGS, SPRING_FEED, make_garden

WAKE_UP = Phase(name="early", kind="liquid", anchor="gate", after_days=0, every_days=10,
                portions=(Portion(product="Spring feed", strength=1.0),))  # fmt: skip
LAID = Phase(name="laid", kind="top-dressing", anchor="gate", after_days=0, every_days=14,
             portions=(Portion(product="Granules", strength=1.0),))  # fmt: skip
GARDEN = make_garden(phases=(WAKE_UP, LAID))


@pytest.mark.parametrize(
    ("text", "grams"),
    [
        ("Spring feed=30 g", 30.0),
        ("Spring feed = 30g", 30.0),
        ("Spring feed=2 oz", 56.699),  # 1 oz av = 28.349523125 g, NIST Handbook 44 appendix C
        ("Spring feed=2 tbsp", 36.0),  # 18 g a tablespoon, as its label states here
        ("Spring feed=1 cup", 288.0),  # 16 tablespoons
        ("Epsom salt=10 ml", 10.0),
    ],
)
def test_a_mass_or_a_volume_comes_to_grams_by_the_products_density(text, grams):
    assert parse_fed(text, GARDEN).grams == pytest.approx(grams, rel=1e-5)


@pytest.mark.parametrize(
    ("text", "what"),
    [("Spring feed", "not a product and its amount"), ("Autumn feed=30 g", "no product of this name"),
     ("Spring feed=30", "not a volume or mass|not a mass or volume"), ("Spring feed=0 g", "above 0"),
     ("=30 g", "no product"), ("Spring feed=", "not a mass")],
)  # fmt: skip
def test_what_is_no_product_and_amount_is_refused(text, what):
    with pytest.raises(InputError, match=what):
        parse_fed(text, GARDEN)


def test_a_name_may_hold_an_equals_sign():
    named = make_garden(products=(replace(SPRING_FEED, name="A=B"),))
    assert parse_fed("A=B=5 g", named).product.name == "A=B"


def test_nitrogen_for_each_pot_is_that_of_all_products_over_all_pots():
    fed = [Fed(product=SPRING_FEED, grams=100.0), Fed(product=EPSOM_SALT, grams=50.0)]
    body = feeding_body(GARDEN, OLD_FIGS, fed, phase="early", pots=20)
    assert body == {
        "phase": "early", "feeding_kind": "liquid", "pots": 20,
        "doses": [{"product": "Spring feed", "grams": 100.0}, {"product": "Epsom salt", "grams": 50.0}],
        "n_per_pot_mg": 1200.0,  # 100 g x 24 % / 20 pots
    }  # fmt: skip
    check_entry(new_entry("feeding", made_at=NOW, group="old figs", body=body))


def test_without_products_the_nitrogen_is_not_known_and_all_pots_were_fed():
    body = feeding_body(GARDEN, CUTTINGS, ())
    assert (body["n_per_pot_mg"], body["pots"], body["phase"], body["doses"]) == (None, 5, None, [])


def test_a_trace_is_not_rounded_away():
    body = feeding_body(GARDEN, OLD_FIGS, [Fed(product=SPRING_FEED, grams=0.00012345678)])
    assert body["doses"][0]["grams"] == 0.000123457


@pytest.mark.parametrize(
    ("products", "phase", "laid", "kind"),
    [
        ((), None, False, "liquid"),
        ((), None, True, "top-dressing"),
        ((), "laid", False, "top-dressing"),
        ((SPRING_FEED,), "early", False, "liquid"),
        ((GRANULES,), None, False, "top-dressing"),
        ((GRANULES,), "laid", True, "top-dressing"),
        ((EPSOM_SALT,), None, True, "top-dressing"),
        ((GRANULES, EPSOM_SALT), "laid", False, "top-dressing"),
    ],
)
def test_what_is_laid_on_the_soil_is_a_top_dressing(products, phase, laid, kind):
    fed = [Fed(product=product, grams=5.0) for product in products]
    assert feeding_body(GARDEN, OLD_FIGS, fed, phase=phase, laid=laid)["feeding_kind"] == kind


@pytest.mark.parametrize(
    ("products", "given", "what"),
    [
        ((GRANULES, SPRING_FEED), {}, "laid on the soil, not poured"),
        ((GRANULES,), {"phase": "early"}, "a top-dressing in a liquid phase"),
        ((), {"phase": "early", "laid": True}, "a top-dressing in a liquid phase"),
        ((SPRING_FEED, SPRING_FEED), {}, "named twice"),
        ((), {"phase": "late"}, "no phase of this name"),
        ((), {"pots": 25}, "no such number of pots"),
        ((), {"pots": 0}, "no such number of pots"),
    ],
)
def test_a_feeding_that_cannot_be_meant_is_refused(products, given, what):
    fed = [Fed(product=product, grams=5.0) for product in products]
    with pytest.raises(InputError, match=what) as refused:
        feeding_body(GARDEN, OLD_FIGS, fed, **given)
    assert refused.value.remedy


def test_a_garden_without_phases_knows_those_made_from_its_products():
    with pytest.raises(InputError, match="no phase") as refused:
        feeding_body(make_garden(products=()), OLD_FIGS, (), phase="early")
    assert refused.value.remedy == "Phases: none."
