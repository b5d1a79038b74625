"""The cautions that go with every answer."""

import pytest

from frostgate.gate.verdict import STANDING, cautions_for
from frostgate.model.gate import Policy
from tests.gate_cases import make_curve, make_site

NO_FORECAST = "This answer looks at no forecast: it knows what springs were like, not what is coming."
LOWER = "Tender growth can be hurt at the freezing point; you chose a lower damage temperature."


def test_every_answer_carries_the_standing_cautions_and_no_more():
    assert cautions_for(Policy(), make_site()) == STANDING
    assert cautions_for(Policy(), None) == STANDING


def test_an_answer_from_the_curve_alone_says_that_it_looks_at_no_forecast():
    assert cautions_for(Policy(), make_site(), climate_only=True) == (NO_FORECAST, *STANDING)


@pytest.mark.parametrize(
    ("seasons", "bound"),
    [(30, "10 %"), (15, "20 %"), (10, "30 %")],  # rule of three, 3 / n: common practice, no source
)
def test_a_station_that_never_froze_is_no_promise(seasons, bound):
    site = make_site(make_curve(0.0, seasons_used=seasons))
    first, *others = cautions_for(Policy(), site)
    assert first == (
        f"No damaging frost in {seasons} seasons does not rule one out: a chance of up to {bound} a season "
        "is consistent with that (rule of three)."
    )
    assert tuple(others) == STANDING


def test_one_frost_is_enough_to_leave_the_rule_of_three_aside():
    assert cautions_for(Policy(), make_site(make_curve(0.0, frost_share=1 / 30))) == STANDING


@pytest.mark.parametrize(("damage_temp_c", "said"), [(-0.1, True), (0.0, False), (1.0, False)])
def test_a_damage_temperature_below_freezing_is_remarked_upon(damage_temp_c, said):
    assert (LOWER in cautions_for(Policy(damage_temp_c=damage_temp_c), make_site())) is said
