"""The default difference from a station: published lapse rates, stated exposures, an honest spread."""

from __future__ import annotations

import math

import pytest

from frostgate.climate.siting import EXPOSURES, LAPSE, GardenOffset, default_offset
from frostgate.errors import InputError
from frostgate.model.gate import Policy


@pytest.mark.parametrize(
    ("lapse_c_per_km", "rise_m", "change_f"),
    [
        (-6.5, 100.0, -1.17),  # ECMWF verification: 0.0065 K/m; computed
        (-6.5, 304.8, -3.566),  # 1000 ft, computed
        (-3.0, 304.8, -1.646),  # 1000 ft at the rate of minima, computed
    ],
)
def test_a_lapse_rate_turns_height_into_degrees(lapse_c_per_km, rise_m, change_f):
    moved_c = default_offset(rise_m, "open").offset_c * lapse_c_per_km / LAPSE.value

    assert moved_c * 1.8 == pytest.approx(change_f, abs=1e-3)


def test_the_lapse_rate_of_minima_lies_within_the_published_range_and_its_spread_reaches_inversions():
    """Minder, Mote & Lundquist 2010: 2.5 to 5.2 °C/km for minima; in inversions the sign turns."""
    assert 2.5 <= -LAPSE.value <= 5.2
    assert LAPSE.value + LAPSE.sd >= 0.0
    assert LAPSE.value - LAPSE.sd <= -5.2


def test_a_low_lying_garden_is_2_to_10_f_colder():
    """From memory: a frost pocket is 2 to 10 °F colder; taken for the middle 90 %."""
    low = EXPOSURES["low"]

    assert (low.value + 1.645 * low.sd) * 1.8 == pytest.approx(-2.0)
    assert (low.value - 1.645 * low.sd) * 1.8 == pytest.approx(-10.0)


def test_each_assumed_number_says_where_it_comes_from():
    assert all("from memory" in kind.source or "no source" in kind.source for kind in EXPOSURES.values())
    assert any("2010" in source for source in default_offset(50.0, "wall").sources)


def test_a_wall_warms_and_a_hollow_cools():
    low, open_, wall = (default_offset(0.0, name).offset_c for name in ("low", "open", "wall"))

    assert low < open_ == 0.0 < wall


def test_what_is_not_known_widens_the_spread_and_is_said():
    known = default_offset(0.0, "open")
    no_height, no_exposure = default_offset(None, "open"), default_offset(0.0, None)

    assert known.sure_c < no_height.sure_c
    assert known.sure_c < no_exposure.sure_c < default_offset(None, None).sure_c
    assert "elevation not known" in no_height.basis
    assert "not stated" in no_exposure.basis


def test_any_exposure_has_the_mean_and_spread_of_an_even_mixture():
    mixed = default_offset(0.0, None)
    kinds = EXPOSURES.values()
    mean = sum(kind.value for kind in kinds) / 3
    square = sum(kind.sd**2 + kind.value**2 for kind in kinds) / 3

    assert mixed.offset_c == pytest.approx(mean)
    assert mixed.sure_c == pytest.approx(math.sqrt(square - mean**2))


def test_the_spread_grows_with_height_either_way():
    spreads = [default_offset(rise_m, "open").sure_c for rise_m in (0.0, 200.0, -600.0, 1500.0)]

    assert spreads == sorted(spreads)


@pytest.mark.parametrize(
    ("rise_m", "words"),
    [(0.2, "as high as"), (30.0, "30 m above"), (-45.0, "45 m below")],
)
def test_the_height_is_said(rise_m, words):
    assert words in default_offset(rise_m, "open").basis


@pytest.mark.parametrize("rise_m", [3001.0, -5000.0, math.nan, math.inf])
def test_no_neighbourhood_is_that_steep(rise_m):
    with pytest.raises(InputError, match="differ that much in height"):
        default_offset(rise_m, "open")


def test_another_exposure_is_refused():
    with pytest.raises(InputError, match=r"no such exposure: 'roof'.*open, wall, low"):
        default_offset(0.0, "roof")


@pytest.mark.parametrize(
    "change", [{"offset_c": 20.1}, {"offset_c": math.nan}, {"sure_c": -1.0}, {"night_sd_c": math.nan}]
)
def test_an_offset_is_checked_when_it_is_made(change):
    with pytest.raises(InputError):
        GardenOffset(**({"offset_c": 0.0, "sure_c": 1.0, "night_sd_c": 1.0} | change))


def test_a_garden_2_f_colder_reads_the_34_f_curve_for_a_32_f_risk():
    """Identity: garden = station + offset."""
    offset = GardenOffset(offset_c=-2.0 / 1.8, sure_c=0.5, night_sd_c=1.0)

    threshold_c = Policy(damage_temp_c=0.0, offset_c=offset.offset_c).station_threshold_c

    assert threshold_c * 1.8 + 32.0 == pytest.approx(34.0)
