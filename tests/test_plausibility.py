"""What is held against each other before a gate opens: the place of a forecast and that of its station."""

from __future__ import annotations

from dataclasses import replace

import pytest

from frostgate.gate.plausibility import find_doubts
from frostgate.model.gate import Policy
from frostgate.model.records import Station
from tests.gate_cases import TODAY, make_curve, make_forecast, make_site


@pytest.mark.parametrize(
    ("longitude", "zone", "doubted"),
    [
        (-74.0, "America/New_York", False),
        (-74.0, "Europe/Berlin", True),
        (80.0, "Asia/Shanghai", False),  # the widest zone there is: two and a half hours off the sun
        (168.0, "Pacific/Gambier", False),  # across the date line, 3.8 hours apart
        (100.0, "Pacific/Gambier", True),
        (-179.0, "Asia/Kamchatka", False),
    ],
)
def test_the_clocks_of_a_forecast_are_held_against_the_sun_at_the_station(longitude, zone, doubted):
    site = replace(make_site(make_curve(0.0)), station=Station(id="X", longitude=longitude))
    forecast = make_forecast([9.0] * 3, time_zone=zone)
    names = [doubt.name for doubt in find_doubts(site, forecast, Policy(), TODAY)]
    assert ("zone" in names) == doubted


@pytest.mark.parametrize(("hours", "name"), [("America/New_York", None), ("Australia/Hobart", "hemisphere")])
def test_a_zone_with_summer_time_tells_the_half_of_the_world(hours, name):
    site = make_site(make_curve(0.0))
    forecast = make_forecast([9.0] * 3, time_zone=hours)
    assert [doubt.name for doubt in find_doubts(site, forecast, Policy(), TODAY)] == ([name] if name else [])
