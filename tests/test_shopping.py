"""What to buy: grams by product, whole packages, costs, and what is not known."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from frostgate.feeding.mix import MixedFeeding, Need, Shopping, mix_season, season_shopping, taken_g
from frostgate.model.feedings import Analysis, Bucket, Dose, Feeding, Mix, Product
from frostgate.model.garden import Garden, Site
from frostgate.show.programmes import STOCK, shopping_answer, shopping_lines
from tests.mixing_cases import FIRST as FIRST_LABEL
from tests.mixing_cases import full, make_garden, make_group


def product(name: str, pack_g: float | None = None, price: float | None = None) -> Product:
    return Product(name=name, analysis=Analysis(n=17, p2o5=5, k2o=9), form="soluble", density_g_ml=1.2,
                   density_from="default", rate=None, pack_g=pack_g, price=price)  # fmt: skip


FIRST = product("First feed", 2267.96, 17.2)
SALT, KELP = product("Epsom salt", 1814.37), product("Kelp", None, 9.0)
GARDEN = Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),), products=(FIRST, SALT, KELP),
                currency="USD")  # fmt: skip


def dose(of: Product, grams: float) -> Dose:
    return Dose(product=of, grams=grams, wanted_g=grams, spoons="")


def feeding(status="planned", day: dt.date | None = dt.date(2026, 5, 16)) -> Feeding:
    return Feeding(date=day, group="old plums", phase="wake-up", kind="liquid", portions=(), number=1,
                   status=status, not_before_gate=True, reason="")  # fmt: skip


def mix(*doses: Dose, fillings: int = 1, laid: tuple[Dose, ...] = (), pots: int = 12) -> Mix:
    buckets = (Bucket(volume_l=19.0, pots=5, doses=doses),) * fillings if doses else ()
    return Mix(buckets=buckets, ppm={}, per_pot_mg={}, pots=pots, per_pot=laid)


def needs(mixes, garden=GARDEN):
    """What feedings with these mixes take."""
    mixed = [MixedFeeding(feeding=feeding(), mix=one) for one in mixes]
    return season_shopping(garden, mixed).needs


def need(**given) -> Need:
    usual = {"product": FIRST, "feedings": 1, "planned_g": 90.0, "grams": 99.0, "packages": 1, "cost": 17.2}
    return Need(**(usual | given))


def test_every_bucket_and_every_pot_counts():
    both = mix(dose(FIRST, 90.0), dose(SALT, 30.0), fillings=3, laid=(dose(KELP, 2.5),))

    assert taken_g(both) == {"First feed": 270.0, "Epsom salt": 90.0, "Kelp": 30.0}


def test_needs_are_grams_with_a_margin_and_whole_packages_in_the_gardens_order():
    mixes = [mix(dose(KELP, 10.0), dose(FIRST, 500.0), fillings=2), mix(dose(FIRST, 1100.0))]
    spring, kelp = needs(mixes)

    assert (spring.product, spring.feedings, spring.planned_g) == (FIRST, 2, 2100.0)
    assert spring.grams == pytest.approx(2310.0)  # a tenth more than 2100
    assert (spring.packages, spring.cost) == (2, 2 * 17.2)  # 2310 g is more than one package of 2268 g
    assert (kelp.product, kelp.feedings, kelp.planned_g) == (KELP, 1, 20.0)


@pytest.mark.parametrize(
    ("status", "counted"),
    [("done", 0), ("left out", 0), ("due", 1), ("planned", 1), ("held", 1), ("waiting", 1)],
)
def test_only_what_is_still_to_come_is_bought(status, counted):
    garden = make_garden(FIRST_LABEL)
    garden = replace(garden, groups=(make_group(),))
    fed = replace(feeding(status, None), group="plums", portions=tuple(full("First feed")))

    found = season_shopping(garden, mix_season(garden, [fed]))

    assert [one.feedings for one in found.needs] == [1] * counted


@pytest.mark.parametrize(
    ("grams", "pack_g", "packages"),
    [
        (1000.0, 1100.0, 1),
        (1000.1, 1100.0, 2),
        (2000.0, 1100.0, 2),
        (3.0, 3.3, 1),  # 3 x 1.1 is a little more than 3.3 in binary fractions
        (1e-3, 1000.0, 1),
    ],
)
def test_packages_are_whole_and_a_full_one_is_not_two(grams, pack_g, packages):
    garden = replace(GARDEN, products=(replace(FIRST, pack_g=pack_g),))

    assert needs([mix(dose(FIRST, grams))], garden)[0].packages == packages


@pytest.mark.parametrize(
    ("of", "packages", "cost", "lacks"),
    [(FIRST, 1, 17.2, ()), (SALT, 1, None, ("price",)), (KELP, None, None, ("pack",)),
     (product("X"), None, None, ("pack", "price"))],
)  # fmt: skip
def test_what_is_not_stated_is_not_known_and_never_nothing(of, packages, cost, lacks):
    garden = replace(GARDEN, products=(of,))
    found = needs([mix(dose(of, 90.0))], garden)[0]

    assert (found.packages, found.cost, found.lacks) == (packages, cost, lacks)


def test_a_sum_with_a_price_missing_is_at_least_so_much():
    unknown = need(product=SALT, cost=None)
    sums = [Shopping(needs=those) for those in ((need(), need(cost=0.0)), (need(), unknown), (unknown,))]

    assert [(one.cost, one.is_complete) for one in sums] == [(17.2, True), (17.2, False), (None, False)]


@settings(derandomize=True, deadline=None, max_examples=60)
@given(st.lists(st.tuples(st.sampled_from([FIRST, SALT, KELP]), st.floats(0.1, 1e4), st.integers(1, 9))))
def test_nothing_is_lost_on_the_way_to_the_shop(doses):
    found = needs([mix(dose(of, g), fillings=n) for of, g, n in doses])

    assert sum(one.planned_g for one in found) == pytest.approx(sum(g * n for _, g, n in doses))
    for one in found:
        assert one.grams == pytest.approx(one.planned_g * 1.1)
        if one.packages is not None:
            assert (one.packages - 1) * one.product.pack_g < one.grams
            assert one.grams <= one.packages * one.product.pack_g * (1 + 1e-8)


def written(needed, garden=GARDEN, unmixed=0) -> list[str]:
    lines = shopping_lines(Shopping(needs=tuple(needed), unmixed=unmixed), garden)
    return [" ".join(line.split()) for line in lines if line.strip()]


def test_the_table_says_what_is_known_and_what_is_not():
    lines = written([need(), need(product=SALT, cost=None), need(product=KELP, packages=None, cost=None)])

    assert lines[2:5] == [
        "First feed 1 90 g 99 g 1 x 2.27 kg 17.20 USD",
        "Epsom salt 1 90 g 99 g 1 x 1.81 kg not known",
        "Kelp 1 90 g 99 g not known not known",
    ]
    assert lines[5:] == [
        "Together at least 17.20 USD.",
        "Epsom salt: no price in the garden file; add what the shop offers.",
        "Kelp: no pack in the garden file; add what the shop offers.",
        STOCK,
    ]


def test_a_sum_is_plain_where_all_is_known_and_missing_where_nothing_is():
    assert "Together 17.20 USD." in written([need()])
    assert "Together 17.20." in written([need()], replace(GARDEN, currency=""))
    assert "What it costs is not known." in written([need(product=SALT, cost=None)])


def test_us_growers_read_pounds_and_ounces():
    assert "First feed 1 90 g (3.2 oz) 99 g (3.5 oz) 1 x 2.27 kg (5 lb) 17.20 USD" in written(
        [need()], replace(GARDEN, units="us")
    )


@pytest.mark.parametrize(
    ("unmixed", "told"),
    [(1, "1 feeding still to come has no mix;"), (3, "3 feedings still to come have no mix;")],
)
def test_feedings_without_a_mix_are_told(unmixed, told):
    assert written([], unmixed=unmixed)[1].startswith(told)
    assert written([need()], unmixed=unmixed)[-2].startswith(told)
    assert shopping_answer(Shopping(needs=(), unmixed=unmixed), GARDEN)["notes"][0].startswith(told)


def test_the_answer_holds_plain_values():
    answer = shopping_answer(Shopping(needs=(need(), need(product=KELP, packages=None, cost=None))), GARDEN)

    assert json.loads(json.dumps(answer)) == answer
    assert answer["needs"] == [
        {"product": "First feed", "feedings": 1, "planned_g": 90.0, "grams": 99.0, "pack_g": 2268.0,
         "packages": 1, "price": 17.2, "cost": 17.2},
        {"product": "Kelp", "feedings": 1, "planned_g": 90.0, "grams": 99.0, "pack_g": None, "packages": None,
         "price": 9.0, "cost": None},
    ]  # fmt: skip
    assert (answer["currency"], answer["total_cost"], answer["total_is_complete"]) == ("USD", 17.2, False)
    assert len(answer["notes"]) == 2
