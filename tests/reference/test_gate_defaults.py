"""The gate's shipped numbers are those that the script beside this file learns from its records."""

import warnings

import pytest

from frostgate.climate.site import USUAL_PERSISTENCE
from frostgate.gate.forecast_errors import WEATHER_LINK
from frostgate.model.gate import Policy

pytest.importorskip("aquacrop", reason="needs the package aquacrop, which ships real minima")
from tests.reference.learn_gate_defaults import errors_of, learn_scaling, learn_tails, learn_weather


@pytest.fixture(scope="module")
def errors(reference):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return errors_of(reference)


def test_errors_grow_with_the_scatter_of_the_weather_as_the_policy_says(errors):
    learned, policy = learn_scaling(errors), Policy()
    table = dict(policy.error_sd_c)
    for lead in (0.5, 1.0, 1.5):
        assert learned[f"sd at 4.5 °C scatter, {lead} d"] == pytest.approx(table[lead], abs=0.006)
        assert learned[f"worst miss of a season's variance, {lead} d"] < 0.05
    assert learned["local part [°C]"] == pytest.approx(policy.error_local_c, abs=0.006)


def test_the_tails_are_the_likeliest(errors):
    learned, policy = learn_tails(errors), Policy()
    assert learned["wide share"] == pytest.approx(policy.wide_share, abs=0.02)
    assert learned["wide factor"] == pytest.approx(policy.wide_factor, abs=0.05)
    assert learned["sd over mean absolute"] == pytest.approx(1.29, abs=0.01)
    assert learned["share below -3"] == pytest.approx(0.003, abs=0.0005)


def test_weather_keeps_as_shipped(reference):
    weather = learn_weather(reference)
    assert len(weather) == 19
    assert weather["link"].mean() == pytest.approx(WEATHER_LINK, abs=0.02)
    assert weather["persistence"].mean() == pytest.approx(USUAL_PERSISTENCE, abs=0.02)
