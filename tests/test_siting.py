"""The garden's difference by default, and learned from pairs: recovered, robust, its uncertainty true."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from frostgate.climate.siting import (
    EXPOSURES,
    LAPSE,
    GardenOffset,
    Pairs,
    autocorrelation,
    default_offset,
    learn_offset,
)
from frostgate.errors import InputError
from frostgate.model.gate import Policy
from tests.siting_cases import days_from, draw_pairs, persistent, spoil


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


@pytest.mark.parametrize("offset_c", [20.1, -20.1, math.nan])
def test_no_garden_differs_that_much_from_its_station(offset_c):
    with pytest.raises(InputError, match="does not differ that much"):
        GardenOffset(offset_c=offset_c, sure_c=1.0, night_sd_c=1.0)


def test_a_garden_2_f_colder_reads_the_34_f_curve_for_a_32_f_risk():
    """Identity: garden = station + offset."""
    offset = GardenOffset(offset_c=-2.0 / 1.8, sure_c=0.5, night_sd_c=1.0)

    threshold_c = Policy(damage_temp_c=0.0, offset_c=offset.offset_c).station_threshold_c

    assert threshold_c * 1.8 + 32.0 == pytest.approx(34.0)


DEFAULT = default_offset(0.0, None)
VAGUE = GardenOffset(offset_c=0.0, sure_c=1e6, night_sd_c=1.5)  # a default that weighs nothing


def without_thermometer(learned: GardenOffset) -> float:
    """Take the thermometer's own error, 0.5 °C, off how sure a difference is."""
    return math.sqrt(learned.sure_c**2 - 0.25)


@pytest.mark.parametrize("offset_c", [-6.0, -2.5, 0.0, 1.5])
@pytest.mark.parametrize("marked", [True, False])
def test_a_known_difference_is_found(offset_c, marked):
    found = [
        learn_offset(draw_pairs(seed, 180, offset_c=offset_c, marked=marked), VAGUE) for seed in range(20)
    ]

    errors_c = np.array([one.offset_c - offset_c for one in found])
    assert abs(errors_c.mean()) < 0.15
    assert np.abs(errors_c).max() < 1.0
    assert np.mean([one.night_sd_c for one in found]) == pytest.approx(1.5, abs=0.15)


def test_a_difference_that_grows_with_cold_is_read_where_the_garden_meets_the_damage_temperature():
    pairs = draw_pairs(3, 400, offset_c=-2.0, slope=0.25, night_sd_c=0.5, marked=False)

    found = [learn_offset(pairs, VAGUE, damage_temp_c=damage_c) for damage_c in (-4.0, 0.0, 4.0)]

    for damage_c, one in zip((-4.0, 0.0, 4.0), found, strict=True):
        station_c = (damage_c + 2.0) / 1.25  # where station - 2 + 0.25 station is the damage temperature
        assert one.offset_c == pytest.approx(damage_c - station_c, abs=0.2)


def test_reading_far_from_the_pairs_is_less_sure_and_says_so():
    near, far = (
        learn_offset(draw_pairs(5, 60, marked=False, station_mean_c=mean_c), VAGUE, damage_temp_c=0.0)
        for mean_c in (2.0, 25.0)
    )

    assert far.sure_c > 1.5 * near.sure_c
    assert any("beyond the pairs" in note for note in far.notes)
    assert not any("beyond the pairs" in note for note in near.notes)


@pytest.mark.parametrize("by_c", [None, 12.0, -15.0, 25.0])
@pytest.mark.parametrize("marked", [True, False])
def test_a_fifth_of_gross_errors_moves_the_difference_by_less_than_a_third_of_a_degree(by_c, marked):
    for seed in range(15):
        pairs = draw_pairs(seed, 150, marked=marked)
        spoilt = spoil(pairs, seed, by_c=by_c)
        clean, learned = learn_offset(pairs, DEFAULT), learn_offset(spoilt, DEFAULT)

        assert abs(learned.offset_c - clean.offset_c) < 0.3
        wrong = set(pairs.dates[spoilt.garden_c != pairs.garden_c].tolist())
        assert wrong <= set(learned.left_out)
        assert learned.pairs + len(learned.left_out) == 150


def test_clear_calm_nights_count_and_not_the_others():
    pairs = draw_pairs(1, 180, offset_c=-4.0, contrast_c=3.0)
    unmarked = Pairs(dates=pairs.dates, garden_c=pairs.garden_c, station_c=pairs.station_c)

    by_clear, by_all = learn_offset(pairs, VAGUE), learn_offset(unmarked, VAGUE)

    assert by_clear.offset_c == pytest.approx(-4.0, abs=0.5)
    assert by_all.offset_c > by_clear.offset_c + 1.0
    assert by_clear.clear_pairs == int(pairs.clear.sum()) - sum(
        bool(pairs.clear[np.searchsorted(pairs.dates, np.datetime64(day))]) for day in by_clear.left_out
    )
    assert any("not marked" in note for note in by_all.notes)


def test_other_nights_weigh_no_more_than_about_one_clear_one():
    """The contrast's spread, 1.5 °C, is the scatter of one night."""
    pairs = draw_pairs(2, 200, night_sd_c=1.5)
    clear = np.zeros(200, bool)
    clear[:5] = True
    with_others = Pairs(
        dates=pairs.dates,
        garden_c=pairs.station_c - np.where(clear, 6.0, 0.0),
        station_c=pairs.station_c,
        clear=clear,
    )

    assert learn_offset(with_others, VAGUE).offset_c == pytest.approx(-6.0 + 4.5 / 6, abs=0.5)


def test_without_a_clear_calm_night_the_others_are_moved_by_the_usual_contrast():
    pairs = draw_pairs(2, 90, offset_c=0.0, contrast_c=0.0)
    cloudy = Pairs(
        dates=pairs.dates, garden_c=pairs.garden_c, station_c=pairs.station_c, clear=np.zeros(90, bool)
    )

    found = learn_offset(cloudy, VAGUE)

    assert found.offset_c == pytest.approx(-1.5, abs=0.5)
    assert found.sure_c > 1.5
    assert found.clear_pairs == 0
    assert any("No pair is of a clear calm night" in note for note in found.notes)


def test_the_default_gives_way_gradually():
    pairs = draw_pairs(7, 200, offset_c=-5.0, marked=False, night_sd_c=1.0)
    shares, offsets = [], []
    for count in (0, 1, 2, 5, 10, 30, 200):
        some = np.arange(200) < count
        found = learn_offset(pairs.where(some), DEFAULT)
        shares.append(found.default_share)
        offsets.append(found.offset_c)

    assert shares == sorted(shares, reverse=True)
    assert (shares[0], offsets[0]) == (1.0, DEFAULT.offset_c)
    assert 0.2 < shares[1] < 0.5
    assert shares[4] < 0.15
    assert shares[-1] < 0.02


def test_joining_is_by_precisions():
    """Two Gaussian estimates of one value: the posterior by hand."""
    pairs = draw_pairs(7, 6, marked=False)
    alone = without_thermometer(learn_offset(pairs, VAGUE))
    default = GardenOffset(offset_c=3.0, sure_c=1.0, night_sd_c=1.5)
    joined = learn_offset(pairs, default)

    precision = alone**-2 + 1.0
    assert joined.default_share == pytest.approx(1.0 / precision, rel=0.05)
    assert without_thermometer(joined) == pytest.approx(precision**-0.5, rel=0.05)


@pytest.mark.parametrize("count", [20, *(pytest.param(n, marks=pytest.mark.slow) for n in (5, 90))])
@pytest.mark.parametrize("marked", [True, False])
def test_the_stated_uncertainty_holds_the_truth_in_nine_cases_of_ten(marked, count):
    """Truths drawn from what the default and the priors say, as in simulation-based calibration."""
    rng = np.random.default_rng(11)
    inside, nights = 0, 0
    draws = 300
    for seed in range(draws):
        truth_c = rng.normal(DEFAULT.offset_c, DEFAULT.sure_c)
        slope = 0.0 if marked else rng.normal(0.0, 0.1)
        pairs = draw_pairs(
            seed,
            count,
            offset_c=truth_c,
            contrast_c=rng.normal(1.5, 1.5),
            slope=slope,
            thermometer_c=0.5,
            marked=marked,
        )
        found = learn_offset(pairs, DEFAULT)
        at_damage_c = truth_c / (1.0 + slope)
        inside += abs(found.offset_c - at_damage_c) < 1.645 * found.sure_c
        nights += abs(found.offset_c - at_damage_c - rng.normal(0.0, 1.5)) < 1.645 * found.sd_c

    assert 0.85 <= inside / draws <= 0.95
    assert 0.85 <= nights / draws <= 0.95


def test_the_thermometer_keeps_its_own_error_however_many_pairs():
    pairs = draw_pairs(1, 2000)

    learned = learn_offset(pairs, VAGUE)
    assert learned.sure_c >= 0.5
    assert without_thermometer(learned) < 0.15


def test_cold_nights_left_out_are_called_to_mind():
    pairs = draw_pairs(4, 100, marked=False, night_sd_c=0.5, contrast_c=0.0)
    cold = spoil(pairs, 4, share=0.1, by_c=-9.0)

    assert any("colder in the garden" in note for note in learn_offset(cold, VAGUE).notes)
    assert not any("colder in the garden" in note for note in learn_offset(pairs, VAGUE).notes)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000), count=st.integers(1, 60), shift_c=st.floats(-8, 8), marked=st.booleans())
def test_a_garden_colder_by_k_has_an_offset_lower_by_k(seed, count, shift_c, marked):
    """With the damage temperature moved too, so that the same station nights matter, and no default."""
    pairs = draw_pairs(seed, count, marked=marked)
    moved = Pairs(
        dates=pairs.dates, garden_c=pairs.garden_c + shift_c, station_c=pairs.station_c, clear=pairs.clear
    )
    before, after = learn_offset(pairs, VAGUE), learn_offset(moved, VAGUE, damage_temp_c=shift_c)

    assert after.offset_c == pytest.approx(before.offset_c + shift_c, abs=1e-4)
    assert after.sd_c == pytest.approx(before.sd_c, abs=1e-4)


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 10_000), count=st.integers(1, 40), marked=st.booleans())
def test_both_thermometers_and_the_damage_temperature_may_move_together(seed, count, marked):
    pairs = draw_pairs(seed, count, marked=marked)
    moved = Pairs(
        dates=pairs.dates, garden_c=pairs.garden_c + 3.0, station_c=pairs.station_c + 3.0, clear=pairs.clear
    )

    after = learn_offset(moved, DEFAULT, damage_temp_c=3.0)

    assert after.offset_c == pytest.approx(learn_offset(pairs, DEFAULT).offset_c, abs=1e-4)


def test_equal_differences_are_no_outliers_of_each_other():
    days = days_from("2026-03-01", 9)
    steady = Pairs(
        dates=days, garden_c=np.array([1.0, 2, 3, 4, 5, 6, 7, 8, 8]), station_c=np.arange(2.0, 11.0)
    )

    found = learn_offset(steady, VAGUE)

    assert found.left_out == ()
    assert found.basis.startswith("9 paired mornings, 2026-03-01 to 2026-03-09")


def test_one_pair_is_said_in_the_singular_and_its_morning_kept():
    one = Pairs(dates=days_from("2026-03-01", 1), garden_c=np.array([-9.0]), station_c=np.array([1.0]))

    found = learn_offset(one, DEFAULT)

    assert found.basis.startswith("1 paired morning,")
    assert -10.0 < found.offset_c < DEFAULT.offset_c


def test_an_outlier_is_named_by_its_date():
    pairs = draw_pairs(1, 60)
    garden_c = pairs.garden_c.copy()
    garden_c[17] += 25.0

    found = learn_offset(
        Pairs(dates=pairs.dates, garden_c=garden_c, station_c=pairs.station_c, clear=pairs.clear),
        VAGUE,
    )

    assert dt.date(2026, 2, 18) in found.left_out


@pytest.mark.parametrize(
    ("correlation", "low", "high"), [(0.0, 0.0, 0.15), (0.6, 0.5, 0.7), (-0.6, 0.0, 0.0)]
)
def test_the_correlation_of_neighbouring_mornings_is_found(correlation, low, high):
    series = persistent(np.random.default_rng(2), 1000, correlation)

    assert low <= autocorrelation(days_from("2020-01-01", 1000), series) <= high


def test_mornings_that_do_not_follow_each_other_tell_of_no_correlation():
    assert autocorrelation(days_from("2020-01-01", 20)[::2], np.ones(10)) == 0.0
