"""Frost dates into a curve: the choice of a fit, its bounds, its score, and curves that do not cross."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from frostgate.climate.fits import (
    BEST,
    FEWEST_FROSTS,
    FEWEST_SEASONS,
    FITS,
    SEASON_DAYS,
    crps_of_tables,
    falling_days,
    fit_curve,
    fit_tables,
    put_bounds,
    score_fits,
)
from frostgate.climate.normals import nest
from frostgate.errors import InputError, TooFewSeasonsError
from frostgate.model.records import FrostDates
from frostgate.seasons import NORTH, SLOTS
from tests.strategies import frost_dates, given_curve

NONE, UNKNOWN = -np.inf, np.nan


def sample(size=30, seed=1, mean=260, sd=12):
    return np.random.default_rng(seed).normal(mean, sd, size).round()


@pytest.mark.parametrize("kind", FITS)
def test_a_curve_is_its_fit_with_its_seasons_counted(kind):
    days = np.concatenate([[UNKNOWN], sample(20), [NONE] * 5, [UNKNOWN] * 2])
    frosts = replace(frost_dates(days, first_year=1981), threshold_c=-2.2, step_c=5 / 9)
    curve = fit_curve(frosts, kind)
    assert_array_equal(curve.risk, FITS[kind](days))
    assert (curve.kind, curve.side, curve.threshold_c, curve.start) == (kind, "spring", -2.2, NORTH)
    assert (curve.seasons_used, curve.seasons_unknown, curve.frost_share) == (25, 3, 0.8)
    assert (curve.first_year, curve.last_year, curve.step_c) == (1982, 2006, 5 / 9)
    assert curve.low is curve.high is curve.confidence is None


@pytest.mark.parametrize("known", [0, FEWEST_SEASONS - 1])
def test_too_few_known_seasons_make_no_curve(known):
    days = np.concatenate([sample(known), [UNKNOWN] * 4])
    with pytest.raises(TooFewSeasonsError, match=f"only {known} of {known + 4} seasons are known") as caught:
        fit_curve(frost_dates(days))
    assert "at least 10 known seasons" in caught.value.remedy


def test_ten_known_seasons_are_enough():
    assert fit_curve(frost_dates(sample(FEWEST_SEASONS))).seasons_used == FEWEST_SEASONS


def test_an_unknown_kind_of_curve_is_refused_with_the_known_ones():
    with pytest.raises(InputError, match="no such kind of curve: 'cubic'") as caught:
        fit_curve(frost_dates(sample()), "cubic")
    assert caught.value.remedy == "Choose one of best, empirical, normal, student, skewed, smooth, pooled."


@pytest.mark.parametrize("kind", [BEST, *FITS])
@pytest.mark.parametrize(
    ("frosts", "empirical"), [(0, True), (FEWEST_FROSTS - 1, True), (FEWEST_FROSTS, False)]
)
def test_fewer_than_five_frosts_have_a_share_and_no_shape(kind, frosts, empirical):
    days = np.concatenate([sample(frosts), [NONE] * (30 - frosts)])
    curve = fit_curve(frost_dates(days), kind)
    if empirical or kind != BEST:
        assert curve.kind == ("empirical" if empirical else kind)
    assert curve.frost_share == pytest.approx(frosts / 30)
    assert curve.risk[0] == pytest.approx(frosts / 30, abs=0.001)  # heavy tails reach far back


def test_a_site_without_frost_has_no_risk_and_no_dates():
    curve = fit_curve(frost_dates(np.full(30, NONE)))
    assert not curve.risk.any()
    assert np.isnan(curve.day_at_risk(0.01))


@pytest.mark.parametrize("kind", FITS)
def test_an_autumn_curve_is_a_spring_curve_that_runs_backwards(kind):
    days = np.concatenate([sample(25), [NONE] * 5])
    spring = fit_curve(frost_dates(days), kind)
    autumn = fit_curve(frost_dates(SLOTS - 1 - days, "autumn"), kind)
    assert_array_equal(autumn.risk, spring.risk[::-1])
    assert autumn.side == "autumn"
    assert autumn.day_at_risk(0.3) == pytest.approx(SLOTS - 1 - spring.day_at_risk(0.3))


def test_falling_days_leave_out_the_unknown():
    assert_array_equal(falling_days(frost_dates(np.array([250, NONE, UNKNOWN]))), [250, NONE])
    assert_array_equal(falling_days(frost_dates(np.array([65, np.inf, UNKNOWN]), "autumn")), [300, NONE])


@pytest.mark.parametrize(
    "days",
    [sample(15, seed=4), 230 + np.random.default_rng(5).gamma(1.2, 15, 30).round(),
     np.concatenate([sample(12, 6, 220, 4), sample(12, 7, 280, 4)])],
    ids=["normal", "skewed", "two humps"],
)  # fmt: skip
def test_the_best_curve_is_the_one_with_the_least_score(days):
    scores = score_fits(days)
    assert scores.keys() == FITS.keys()
    assert list(scores.values()) == sorted(scores.values())
    assert fit_curve(frost_dates(days), BEST).kind == next(iter(scores))
    assert fit_curve(frost_dates(days)).kind == "pooled"


def test_the_choice_depends_on_the_shape_of_the_dates():
    humps = np.concatenate([sample(40, 6, 200, 3), sample(40, 7, 290, 3)])
    assert fit_curve(frost_dates(humps), BEST).kind in {"empirical", "smooth"}
    bell = stats.norm.ppf((np.arange(40) + 0.5) / 40, 260, 12).round()
    assert fit_curve(frost_dates(bell), BEST).kind in {"normal", "student"}


@pytest.mark.parametrize(
    "days", [sample(12), np.concatenate([sample(9, 2), [NONE] * 3])], ids=["all", "some"]
)
def test_scores_are_those_of_a_loop_that_leaves_each_season_out(days):
    for kind, crps_days in score_fits(days).items():
        losses = []
        for season, came in enumerate(days):
            table = FITS[kind](np.delete(days, season))
            loss = 0.0
            for slot in range(SLOTS):
                below, above = (came < slot + side for side in (0.0, 1e-9))  # just before and at the day
                later_before, later_after = (0.0 if below else 1.0), (0.0 if above else 1.0)
                loss += ((table[slot] - later_before) ** 2 + (table[slot] - later_after) ** 2) / 2
            losses.append(loss)
        assert crps_days == pytest.approx(np.mean(losses), rel=1e-12)


@pytest.mark.parametrize(
    ("z", "crps"), [(-3, 2.43657473), (0, 0.23369498), (0.5, 0.33140353), (1, 0.60244136), (2, 1.45279182)]
)  # the first from the tests of R's scoringRules, the others computed from the formula
@pytest.mark.parametrize("sd", [6, 8, 20])
def test_the_score_of_a_normal_curve_is_its_published_crps(z, crps, sd):
    came = 180.0 + z * sd
    table = stats.norm.sf(SEASON_DAYS, 180, sd)
    # sums over whole days exceed the integral by (step^2 / 12) * 2 * density, Euler and Maclaurin
    excess = stats.norm.pdf(z) / sd / 6
    assert excess < 0.0112
    assert crps_of_tables(table, np.array(came)) == pytest.approx(sd * crps + excess, abs=1e-5)


def test_a_season_without_frost_scores_what_the_curve_gave_to_frost():
    table = np.where(SEASON_DAYS < 100, 0.3, 0.0)
    assert crps_of_tables(table, np.array(NONE)) == pytest.approx(100 * 0.09)
    assert crps_of_tables(np.zeros(SLOTS), np.array(NONE)) == 0.0


def test_scores_broadcast_over_tables_and_days():
    tables = np.stack([np.linspace(1, 0, SLOTS), np.zeros(SLOTS)])
    days = np.array([100.0, NONE])
    assert_array_equal(crps_of_tables(tables, days), [crps_of_tables(tables[i], days[i]) for i in range(2)])


@pytest.mark.parametrize("kind", FITS)
@pytest.mark.parametrize("side", ["spring", "autumn"])
def test_bounds_enclose_the_curve_and_come_out_the_same_again(kind, side):
    days = np.concatenate([sample(25), [NONE] * 5])
    frosts = frost_dates(days if side == "spring" else SLOTS - 1 - days, side)
    curve = fit_curve(frosts, kind)
    bound, again = put_bounds(curve, frosts), put_bounds(curve, frosts)
    assert bound.confidence == 0.8
    assert (bound.low <= curve.risk).all()
    assert (curve.risk <= bound.high).all()
    assert (bound.high - bound.low)[260 if side == "spring" else 105] > 0.1
    assert_array_equal([again.low, again.high], [bound.low, bound.high])
    assert_array_equal(bound.risk, curve.risk)


def test_bounds_of_the_share_are_those_of_a_binomial_share():
    frosts = frost_dates(np.concatenate([sample(18), [NONE] * 12]))
    bound = put_bounds(fit_curve(frosts, "normal"), frosts)
    low, high = stats.binom.ppf([0.1, 0.9], 30, 0.6) / 30
    assert_allclose([bound.low[0], bound.high[0]], [low, high], atol=1 / 30)


def test_more_confidence_and_fewer_seasons_widen_the_bounds():
    frosts, few = frost_dates(sample(60)), frost_dates(sample(12))
    widths = [
        (bound.high - bound.low).sum()
        for bound in (
            put_bounds(fit_curve(frosts, "normal"), frosts, confidence=0.5),
            put_bounds(fit_curve(frosts, "normal"), frosts, confidence=0.9),
            put_bounds(fit_curve(few, "normal"), few, confidence=0.9),
        )
    ]
    assert widths == sorted(widths)


@pytest.mark.parametrize("confidence", [0.0, 1.0, -0.1, 1.5, np.nan])
def test_a_confidence_of_nothing_or_certainty_is_refused(confidence):
    frosts = frost_dates(sample())
    with pytest.raises(InputError, match="a confidence lies between 0 and 1"):
        put_bounds(fit_curve(frosts), frosts, confidence=confidence)


def test_nested_curves_keep_their_order_and_their_own_thresholds():
    curves = [
        given_curve(0.5, threshold_c=2.2),
        given_curve(0.1, threshold_c=-4.4),
        given_curve(0.2, threshold_c=-2.2),
        given_curve(0.4, threshold_c=0.0),
    ]
    assert [(curve.threshold_c, curve.risk[0]) for curve in nest(curves)] == [
        (2.2, 0.5), (-4.4, 0.1), (-2.2, 0.2), (0.0, 0.4)]  # fmt: skip


def test_a_warmer_threshold_is_raised_to_every_colder_one():
    curves = [
        given_curve(0.1, threshold_c=0.0),
        given_curve(0.3, threshold_c=-2.2),
        given_curve(0.2, threshold_c=-4.4),
    ]
    assert [curve.risk[0] for curve in nest(curves)] == [0.3, 0.3, 0.2]


def test_bounds_are_raised_with_their_curve():
    cold = given_curve(0.4, threshold_c=-2.2, low=np.full(SLOTS, 0.3), high=np.full(SLOTS, 0.5))
    warm = given_curve(0.2, threshold_c=0.0, low=np.full(SLOTS, 0.1), high=np.full(SLOTS, 0.6))
    raised = nest([warm, cold])[0]
    assert (raised.low[0], raised.risk[0], raised.high[0]) == (0.3, 0.4, 0.6)


def test_bounds_stay_where_the_colder_curve_has_none():
    warm = given_curve(0.2, threshold_c=0.0, low=np.full(SLOTS, 0.1), high=np.full(SLOTS, 0.6))
    raised = nest([warm, given_curve(0.4, threshold_c=-2.2)])[0]
    assert (raised.low[0], raised.high[0]) == (0.1, 0.6)
    assert nest([given_curve(0.2, threshold_c=0.0), replace(warm, threshold_c=-2.2)])[0].low is None


def test_nothing_nests_into_nothing():
    assert nest([]) == ()


def test_frost_dates_of_another_side_fit_alike():
    autumn = FrostDates(
        side="autumn", threshold_c=0.0, start=NORTH, years=range(2001, 2013), day=[np.inf] * 12
    )
    assert not fit_curve(autumn).risk.any()


@pytest.mark.parametrize("kind", ["pooled", "best", "normal"])
def test_thresholds_fitted_together_are_as_each_alone(kind):
    rng = np.random.default_rng(11)
    found = []
    for at, (known, frosty) in enumerate([(40, 40), (40, 31), (34, 20), (40, 3), (9, 9)]):
        day = np.full(40, -np.inf)
        day[:frosty] = rng.integers(200, 290, frosty)
        day[known:] = np.nan
        years = np.arange(1980, 2020)
        found.append(FrostDates(side="spring", threshold_c=float(at), start=NORTH, years=years, day=day))
    together = fit_tables(found, kind)
    assert {degrees: table.tolist() for degrees, table in together.items()} == {
        frosts.threshold_c: fit_curve(frosts, kind).risk.tolist() for frosts in found[:4]
    }
