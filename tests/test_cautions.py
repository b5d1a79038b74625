"""The cautions that go with every answer."""

import pytest

from frostgate.gate.verdict import STANDING
from frostgate.model.gate import Policy, Reason
from frostgate.show.reasons import say_reason
from tests.gate_cases import ask_about, make_curve, make_site


def cautions(site=None, policy=None, **options):
    return ask_about(site, None, policy, **options).cautions


def test_every_answer_carries_the_standing_cautions_and_no_more():
    assert cautions(make_site()) == STANDING
    assert cautions() == STANDING


def test_an_answer_from_the_curve_alone_says_that_it_looks_at_no_forecast():
    assert cautions(make_site(), climate_only=True) == (Reason("without-forecast"), *STANDING)


@pytest.mark.parametrize(
    ("seasons", "bound"),
    [(30, "10 %"), (15, "20 %"), (10, "30 %")],  # rule of three, 3 / n: common practice, no source
)
def test_a_station_that_never_froze_is_no_promise(seasons, bound):
    first, *others = cautions(make_site(make_curve(0.0, seasons_used=seasons)))
    assert say_reason(first) == (
        f"No damaging frost in {seasons} seasons does not rule one out: a chance of up to {bound} a season "
        "is consistent with that (rule of three)."
    )
    assert tuple(others) == STANDING


def test_one_frost_is_enough_to_leave_the_rule_of_three_aside():
    assert cautions(make_site(make_curve(0.0, frost_share=1 / 30))) == STANDING


@pytest.mark.parametrize(("damage_temp_c", "said"), [(-0.1, True), (0.0, False), (1.0, False)])
def test_a_damage_temperature_below_freezing_is_remarked_upon(damage_temp_c, said):
    found = cautions(make_site(), Policy(damage_temp_c=damage_temp_c))
    assert (Reason("below-freezing") in found) is said
