"""Places as growers write them."""

from __future__ import annotations

import pytest

from frostgate.cli.options import parse_degrees, parse_distance
from frostgate.errors import InputError


@pytest.mark.parametrize(("text", "degrees"), [("0", 0.0), ("90S", -90.0), ("−33.9", -33.9), ("4.5 °N", 4.5)])
def test_latitudes_are_read(text, degrees):
    assert parse_degrees(text, "N", "S", 90.0) == degrees


@pytest.mark.parametrize("text", ["", "N", "4,5", "1e1", "nan", "91", "45 30N"])
def test_other_latitudes_are_refused(text):
    with pytest.raises(InputError):
        parse_degrees(text, "N", "S", 90.0)


@pytest.mark.parametrize("text", ["", "km", "5", "-5km", "5000km", "5 leagues"])
def test_other_distances_are_refused(text):
    with pytest.raises(InputError):
        parse_distance(text)
