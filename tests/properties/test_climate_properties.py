"""Laws of frost dates and curves, over minima and dates that nobody chose."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, example, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from frostgate.climate.fits import BEST, FITS, SEASON_DAYS, crps_of_tables, fit_curve, put_bounds, score_fits
from frostgate.climate.frosts import COMPLETENESS, first_frosts, last_frost_days, last_frosts, season_lengths
from frostgate.climate.normals import nest
from frostgate.climate.quality import find_hemisphere, summarise
from frostgate.climate.site import know_site
from frostgate.model.records import DailyMinima, Station
from frostgate.seasons import NORTH, SLOTS, SOUTH, season_grid
from frostgate.units import celsius
from tests.strategies import THRESHOLDS_C, frost_dates, frost_days, lay_out, risk_at, season_grids

law = settings(derandomize=True, deadline=None, max_examples=40, suppress_health_check=[HealthCheck.too_slow])
slow_law = settings(law, max_examples=10)

KINDS = st.sampled_from(sorted(FITS))
RULES = st.sampled_from(COMPLETENESS)
LEVELS = st.floats(0.02, 0.98)


@law
@given(frost_days(), KINDS)
def test_risk_never_rises_and_stays_within_the_share(days, kind):
    curve = fit_curve(frost_dates(days), kind)
    assert (np.diff(curve.risk) <= 1e-15).all()
    assert 0.0 <= curve.risk[-1] <= curve.risk[0] <= curve.frost_share + 1e-15


@law
@given(frost_days(), KINDS, LEVELS)
@example(np.array([150.0] * 4 + [-np.inf] * 5 + [298.0]), "empirical", 1 / 32)  # never so low in a season
def test_the_two_readings_of_a_curve_undo_each_other(days, kind, risk):
    curve = fit_curve(frost_dates(days), kind)
    day = curve.day_at_risk(risk)
    if np.isnan(day):
        assert curve.risk[0] <= risk or curve.risk[-1] > risk
    else:
        assert float(risk_at(curve, day)) == pytest.approx(risk, abs=1e-9)
        assert float(risk_at(curve, max(day - 1e-6, 0.0))) >= risk - 1e-9


@law
@given(frost_days(fewest_frosts=5), KINDS, st.integers(-40, 40))
def test_frosts_that_all_come_later_move_the_curve_by_as_much(days, kind, shift):
    curve, moved = (FITS[kind](days + by) for by in (0, shift))
    inside = np.arange(60, 300)
    assert_allclose(moved[inside + shift], curve[inside], atol=1e-9)


@law
@given(frost_days(fewest_frosts=5, unknown=False), KINDS, st.integers(1, 5))
def test_an_unknown_season_changes_nothing_but_its_count(days, kind, more):
    curve = fit_curve(frost_dates(days), kind)
    longer = fit_curve(frost_dates(np.concatenate([days, [np.nan] * more])), kind)
    assert_allclose(longer.risk, curve.risk, atol=1e-12)
    assert (longer.seasons_unknown, longer.seasons_used) == (curve.seasons_unknown + more, curve.seasons_used)
    assert (longer.first_year, longer.last_year, longer.frost_share) == (
        curve.first_year, curve.last_year, curve.frost_share)  # fmt: skip


@law
@given(frost_days(fewest_frosts=5, unknown=False))
def test_an_unknown_season_does_not_change_the_choice(days):
    longer = np.concatenate([[np.nan], days])
    assert fit_curve(frost_dates(longer)).kind == fit_curve(frost_dates(days)).kind


@law
@given(season_grids(), THRESHOLDS_C, THRESHOLDS_C, st.booleans(), RULES)
def test_a_colder_threshold_never_has_a_later_last_frost(grid, one_c, other_c, inclusive, rule):
    cold, warm = last_frost_days(grid, sorted((one_c, other_c)), inclusive=inclusive, completeness=rule)
    known = ~np.isnan(cold) & ~np.isnan(warm)
    assert (cold[known] <= warm[known]).all()


@law
@given(season_grids(most_missing=0.0), THRESHOLDS_C, THRESHOLDS_C)
def test_a_colder_threshold_never_has_an_earlier_first_frost(grid, one_c, other_c):
    record = lay_out(grid)
    cold, warm = (first_frosts(record, threshold_c, NORTH).day for threshold_c in sorted((one_c, other_c)))
    assert (cold >= warm).all()


@law
@given(season_grids(most_missing=0.0), st.integers(16, 31), st.integers(-4, 4), st.booleans())
def test_a_warmer_threshold_finds_every_frost_of_a_colder_one_in_whole_fahrenheit(
    grid, temp_f, quarters, truncated
):
    # stored either to the nearest tenth, or as int(10 c + 0.5), as recent US records are
    tenths_c = celsius(np.round(grid * 1.8 + 32)) * 10
    record = lay_out((np.trunc(tenths_c + 0.5) if truncated else np.round(tenths_c)) / 10)
    one_c, other_c = celsius(float(temp_f)), celsius(temp_f + quarters / 4)
    cold, warm = (last_frosts(record, threshold_c, NORTH).day for threshold_c in sorted((one_c, other_c)))
    assert (cold <= warm).all()


@law
@given(season_grids(), THRESHOLDS_C, st.booleans())
def test_frost_days_are_those_of_a_loop_over_the_days(grid, threshold_c, inclusive):
    found = last_frost_days(grid, [threshold_c], inclusive=inclusive)[0]
    for season, day in enumerate(found):
        minima = grid[:, season]
        cold = [
            slot
            for slot in range(SLOTS)
            if minima[slot] < threshold_c or (inclusive and minima[slot] == threshold_c)
        ]
        if not np.isnan(day):
            assert day == (cold[-1] if cold else -np.inf)
        else:
            assert np.isnan(minima[cold[-1] if cold else 0 :]).any()


@law
@given(season_grids(), THRESHOLDS_C)
def test_strict_completeness_knows_a_part_of_what_chance_knows(grid, threshold_c):
    chance, strict = (
        last_frost_days(grid, [threshold_c], completeness=rule)[0] for rule in ("chance", "strict")
    )
    known = ~np.isnan(strict)
    assert_array_equal(strict[known], chance[known])


@law
@given(season_grids(), THRESHOLDS_C, st.integers(1, 60), RULES)
def test_days_lost_after_the_last_frost_make_it_unknown_at_most(grid, threshold_c, lost, rule):
    before = last_frost_days(grid, [threshold_c], completeness=rule)[0]
    season = int(np.argmax(np.isfinite(before)))
    assume(np.isfinite(before[season]))
    first = int(before[season]) + 1
    shorter = grid.copy()
    shorter[first : first + lost, season] = np.nan
    after = last_frost_days(shorter, [threshold_c], completeness=rule)[0, season]
    assert np.isnan(after) or after == before[season]


@law
@given(season_grids(most_missing=0.0), THRESHOLDS_C, RULES)
def test_a_record_cut_off_in_spring_is_unknown_or_has_the_same_frost(grid, threshold_c, rule):
    whole = last_frosts(lay_out(grid), threshold_c, NORTH, completeness=rule)
    record = lay_out(grid)
    for slots in (200, 240, 260, 300):
        kept = record.dates <= record.dates[-1] - (365 - slots)
        cut = DailyMinima(station=record.station, dates=record.dates[kept], tmin_c=record.tmin_c[kept])
        last = last_frosts(cut, threshold_c, NORTH, completeness=rule).day[-1]
        assert np.isnan(last) or last == whole.day[-1] or last < slots  # seen, and nothing likely after it
        if rule == "strict":
            assert np.isnan(last)


@law
@given(season_grids(), THRESHOLDS_C, st.booleans())
def test_mirrored_hemispheres_agree(grid, threshold_c, inclusive):
    # the same minima on the same season days, from 1 August in the north, from 1 February in the south
    north, south = lay_out(grid, NORTH), lay_out(grid, SOUTH)
    for find in (last_frosts, first_frosts):
        here, there = (find(record, threshold_c, start, inclusive=inclusive) for record, start in
                       ((north, NORTH), (south, SOUTH)))  # fmt: skip
        assert_array_equal(here.day, there.day)
        assert here.states == there.states
    assert summarise(north, NORTH).missing == summarise(south, SOUTH).missing


@slow_law
@given(season_grids())
def test_mirrored_hemispheres_tell_themselves_apart_and_have_one_curve(grid):
    grid = np.concatenate([grid] * (10 // grid.shape[1] + 1), axis=1)  # ten seasons at least
    north, south = lay_out(grid, NORTH), lay_out(grid, SOUTH)
    assert (find_hemisphere(north), find_hemisphere(south)) == (NORTH, SOUTH)
    frosts = [last_frosts(record, 0.0, start) for record, start in ((north, NORTH), (south, SOUTH))]
    assume(frosts[0].known.size >= 10)
    assert_array_equal(*(fit_curve(dates, "normal").risk for dates in frosts))


@law
@given(season_grids(most_missing=0.0), st.integers(16, 36))
def test_fahrenheit_and_celsius_inputs_agree(grid, temp_f):
    whole_f = np.round(grid * 1.8 + 32)
    in_f, in_c = lay_out(celsius(whole_f)), lay_out(np.round(celsius(whole_f), 1))
    assert_array_equal(in_f.tmin_c, in_c.tmin_c)
    frosts = last_frosts(in_c, celsius(float(temp_f)), NORTH)
    assert_array_equal(frosts.day, last_frosts(in_f, celsius(float(temp_f)), NORTH).day)
    _, grid_f = season_grid(in_f.dates, np.round(in_f.tmin_c * 1.8 + 32), NORTH)
    for season, day in enumerate(frosts.day):  # compared in whole °F, as the observer saw them
        cold = np.flatnonzero(grid_f[:, season] <= temp_f)
        assert day == (cold[-1] if cold.size else -np.inf)


@law
@given(season_grids(sites=3), st.lists(THRESHOLDS_C, min_size=1, max_size=3), RULES)
def test_a_site_in_a_network_has_the_frosts_of_the_site_alone(grid, thresholds_c, rule):
    found = last_frost_days(grid, thresholds_c, completeness=rule)
    for site in range(3):
        for row, threshold_c in zip(found, thresholds_c, strict=True):
            alone = last_frost_days(grid[:, site], [threshold_c], completeness=rule)[0]
            assert_array_equal(row[site], alone)


@law
@given(st.lists(frost_days(4, 12), min_size=2, max_size=4), KINDS)
def test_a_site_in_a_network_has_the_curve_of_the_site_alone(rows, kind):
    rows = [np.concatenate([row, [np.nan] * (12 - row.size)]) for row in rows]
    tables = FITS[kind](np.stack(rows))
    for table, row in zip(tables, rows, strict=True):
        assert_allclose(table, FITS[kind](row), atol=1e-14)


@law
@given(st.lists(st.tuples(frost_days(fewest_frosts=1), st.integers(-100, 50)), min_size=1, max_size=5), KINDS)
def test_nested_curves_never_cross(sites, kind):
    fitted = [(fit_curve(frost_dates(days), kind), tenths / 10) for days, tenths in sites]
    curves = nest([replace(curve, threshold_c=threshold_c) for curve, threshold_c in fitted])
    ordered = sorted(curves, key=lambda curve: curve.threshold_c)
    for cold, warm in pairwise(ordered):
        assert (cold.risk <= warm.risk).all()
        assert (np.diff(warm.risk) <= 1e-15).all()
    assert [curve.threshold_c for curve in curves] == [tenths / 10 for _, tenths in sites]


@slow_law
@given(frost_days(15, 30, fewest_frosts=10), KINDS)
def test_bounds_enclose_every_curve_and_come_out_the_same_again(days, kind):
    frosts = frost_dates(days)
    curve = fit_curve(frosts, kind)
    bound = put_bounds(curve, frosts)
    assert (bound.low <= curve.risk + 1e-12).all()
    assert (curve.risk <= bound.high + 1e-12).all()
    assert_array_equal(put_bounds(curve, frosts).low, bound.low)


@slow_law
@given(frost_days(10, 14, fewest_frosts=6, unknown=False))
def test_scores_are_those_of_a_loop_and_the_best_has_the_least(days):
    scores = score_fits(days)
    for kind, crps_days in scores.items():
        losses = []
        for season, came in enumerate(days):
            table = FITS[kind](np.delete(days, season))
            later = [1.0 if came > slot else 0.5 if came == slot else 0.0 for slot in SEASON_DAYS]
            losses.append(((table - later) ** 2).sum() + (0.25 if np.isfinite(came) else 0.0))
        assert crps_days == pytest.approx(np.mean(losses), rel=1e-9)
    best = next(iter(scores))
    assert scores[best] == min(scores.values())
    assert fit_curve(frost_dates(days), BEST).kind == best


@law
@given(frost_days(fewest_frosts=5, unknown=False), KINDS)
def test_a_score_is_never_negative_and_a_perfect_forecast_a_quarter_of_a_day(days, kind):
    assert (crps_of_tables(FITS[kind](days), days) >= 0).all()
    for day in days[np.isfinite(days)][:3]:
        table = np.heaviside(day - SEASON_DAYS, 0.5)
        assert crps_of_tables(table, day) == 0.25


@law
@given(season_grids(), THRESHOLDS_C)
def test_a_season_between_two_frosts_is_as_long_as_its_dates_are_apart(grid, threshold_c):
    record = lay_out(grid)
    last, first = last_frosts(record, threshold_c, NORTH), first_frosts(record, threshold_c, NORTH)
    years, lengths = season_lengths(last, first)
    assert_array_equal(years, last.years[:-1])  # the last spring's autumn is still to come
    for index, length in enumerate(lengths):
        ends = last.date(index), first.date(index + 1)
        if np.isfinite(length):
            assert length == (ends[1] - ends[0]).days > 0
        else:
            assert None in ends
            unknown = "unknown" in (last.states[index], first.states[index + 1])
            assert np.isnan(length) == unknown


@slow_law
@given(st.integers(0, 2**32 - 1), st.sampled_from(["best", "normal"]))
def test_a_site_has_bounded_risks_that_never_rise(seed, kind):
    rng = np.random.default_rng(seed)
    days = np.arange("1990-08-01", "2005-08-01", dtype="datetime64[D]")
    wave = np.cos((days - days[0]).astype(int) / 365.25 * 2 * np.pi)
    record = DailyMinima(
        station=Station(id="X"), dates=days, tmin_c=5 + 10 * wave + rng.normal(0, 3, days.size)
    )
    curve = know_site(record, float(rng.integers(-30, 20)) / 10, NORTH, kind=kind).curve
    assert (np.diff(curve.risk) <= 1e-15).all()
    assert (curve.low <= curve.risk + 1e-12).all()
    assert (curve.risk <= curve.high).all()
