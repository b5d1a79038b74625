"""Laws of hardiness zones."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from frostgate.climate.zones import ZONES, mean_extreme, yearly_extremes, zone_of
from frostgate.model.records import DailyMinima
from frostgate.seasons import NORTH, SOUTH, Floats
from frostgate.units import celsius, fahrenheit
from tests.strategies import lay_out, season_grids

STARTS = st.sampled_from([NORTH, SOUTH])


def winters_of(seed: int, seasons: int = 12) -> Floats:
    """Make whole seasons of minima in whole °F, shape (366, seasons)."""
    rng = np.random.default_rng(seed)
    yearly = np.cos((np.arange(366) + 11) / 366 * 2 * np.pi)[:, np.newaxis]
    return np.round(rng.uniform(30, 60) + rng.uniform(10, 30) * yearly + rng.normal(0, 5, (366, seasons)))


def record_of(degrees: Floats, start=NORTH) -> DailyMinima:
    return lay_out(celsius(degrees), start)


@given(st.floats(-100.0, 60.0), st.floats(0.0, 50.0))
def test_a_warmer_mean_never_lies_in_a_colder_zone(temp_c, more_c):
    assert ZONES.index(zone_of(temp_c)) <= ZONES.index(zone_of(temp_c + more_c))


@given(st.floats(-100.0, 100.0, allow_nan=False))
def test_a_mean_lies_between_the_bounds_of_its_zone(temp_f):
    zone = zone_of(celsius(temp_f))
    assert zone.low_f <= round(temp_f, 6) < zone.high_f


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6), st.integers(-4, 3), STARTS)
def test_ten_degrees_fahrenheit_are_one_whole_zone(seed, tens, start):
    degrees = winters_of(seed)
    extreme = mean_extreme(record_of(degrees, start), start)
    shifted = mean_extreme(record_of(degrees + 10 * tens, start), start)
    assert fahrenheit(shifted.mean_c) - fahrenheit(extreme.mean_c) == pytest.approx(10 * tens, abs=1e-6)
    places = [ZONES.index(one.zone) for one in (extreme, shifted)]
    assert places[1] - places[0] == 2 * tens or {0, len(ZONES) - 1} & set(places)
    assert shifted.error_c == pytest.approx(extreme.error_c)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6), st.floats(0.0, 8.0))
def test_a_colder_record_never_has_a_warmer_zone(seed, most):
    degrees = winters_of(seed)
    colder = degrees - np.round(np.random.default_rng(seed).uniform(0, most, degrees.shape))
    warm, cold = (mean_extreme(record_of(one), NORTH) for one in (degrees, colder))
    assert cold.mean_c <= warm.mean_c
    assert ZONES.index(cold.zone) <= ZONES.index(warm.zone)


@settings(max_examples=25, deadline=None)
@given(season_grids(most_missing=0.3), STARTS)
def test_a_known_winter_has_the_coldest_of_its_known_nights(grid, start):
    if np.isnan(grid).all():
        return
    years, extremes_c = yearly_extremes(lay_out(grid, start), start)
    known = ~np.isnan(extremes_c)
    coldest_c = np.nanmin(grid[:, years - 1991 - start.spring_lag], axis=0)
    assert extremes_c[known] == pytest.approx(coldest_c[known], abs=0.051)  # whole °F lie off their tenths


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6), st.floats(0.0, 0.4))
def test_days_that_go_missing_never_make_a_winter_known(seed, share):
    degrees = winters_of(seed)
    rng = np.random.default_rng(seed)
    season = int(rng.integers(degrees.shape[1]))
    gaps = degrees.copy()
    gaps[rng.random(366) < share, season] = np.nan
    more = gaps.copy()
    more[rng.random(366) < 0.2, season] = np.nan
    fewer, least = (np.isfinite(yearly_extremes(record_of(one), NORTH)[1][season]) for one in (gaps, more))
    assert fewer or not least
