"""Each coming night's hazard: the arithmetic against other routes, and what forecast and climate may do."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import special, stats

from frostgate.errors import FrostgateError
from frostgate.gate.forecast_errors import chance_of_any
from frostgate.gate.outlook import (
    FARTHEST,
    MOST_TOLD,
    curve_hazards,
    hazard_adjustment,
    normal_cdf,
    weigh,
)
from frostgate.model.gate import Policy
from frostgate.model.records import risk_by_day
from frostgate.seasons import SLOTS
from tests.gate_cases import HALF, TODAY, look, make_curve, make_forecast, make_seen, mixture_chance, ramp

RAMP = ramp(TODAY, 40.0).risk
DAYS = np.arange(SLOTS)


def risk_of(hazards, end=0.0):
    return 1 - math.exp(-float(np.sum(hazards)) - end)


def test_the_normal_distribution_is_that_of_scipy():
    z = np.concatenate([np.linspace(-37, 9, 4600), [-np.inf, np.inf]]).reshape(-1, 3)
    assert normal_cdf(z).shape == z.shape
    assert normal_cdf(z) == pytest.approx(special.ndtr(z), rel=1e-12, abs=1e-300)


@pytest.mark.parametrize(
    "risk",
    [RAMP, 0.3 * RAMP, np.zeros(SLOTS), np.full(SLOTS, 0.02), np.exp(-((DAYS / 200) ** 4)),
     np.linspace(0.99, 0, SLOTS)],
)  # fmt: skip
def test_a_curves_hazards_add_up_to_its_risk_after_every_day(risk):
    hazards, left = curve_hazards(risk)
    after = risk_by_day(risk)
    assert (hazards >= 0).all()
    for day in range(0, SLOTS, 13):
        assert risk_of(hazards[day + 1 :], left) == pytest.approx(after[day], abs=2e-9)


def test_after_a_day_is_read_half_a_day_on_and_the_last_two_weeks_are_held():
    after = risk_by_day(RAMP)
    halfway = np.interp(np.minimum(DAYS + 0.5, SLOTS - 14.5), DAYS, RAMP)
    assert after == pytest.approx(halfway, abs=1e-12)
    year_round = risk_by_day(np.linspace(1.0, 0.0, SLOTS))
    assert set(year_round[-15:].round(12)) == {round(float(year_round[-15]), 12)}
    assert year_round[-15] == pytest.approx(13.5 / 365)


def test_a_frost_that_is_certain_has_a_hazard_that_ends():
    hazards, left = curve_hazards(np.where(DAYS <= 250, 1.0, 0.0))
    assert np.isfinite(hazards).all()
    assert (hazards.sum(), left) == (pytest.approx(-math.log(1e-9)), 0.0)


def test_many_curves_are_turned_at_once():
    curves = np.stack([RAMP, 0.3 * RAMP])
    hazards, left = curve_hazards(curves)
    assert (hazards.shape, left.shape) == ((2, SLOTS), (2,))
    assert hazards[1] == pytest.approx(curve_hazards(curves[1])[0])


@pytest.mark.parametrize("lows", [[5.0], [3.0, 6.0, 2.0], [4.0] * 14])
@pytest.mark.parametrize("share", [0.0, 0.08, 0.5])
def test_where_nothing_is_usual_the_window_and_the_curve_are_joined_as_they_stand(lows, share):
    outlook = look(make_curve(share), make_forecast(lows))
    window, beyond = weigh(outlook.seen, Policy())
    alone = look(make_curve(0.0), make_forecast(lows))
    assert risk_of(window) == pytest.approx(alone.risk[0])
    assert outlook.risk[0] == pytest.approx(1 - (1 - alone.risk[0]) * (1 - share))
    assert beyond.tolist() == outlook.seen.hazard[len(lows) :].tolist()
    assert risk_of(beyond, outlook.seen.end) == pytest.approx(share)


def test_one_night_of_the_forecast_has_the_chance_of_the_mixture():
    window, _ = weigh(make_seen(margin_c=[3.0], sd_c=1.8, frost=None), Policy())
    assert risk_of(window) == pytest.approx(mixture_chance(3.0, 1.8), abs=1e-9)


@pytest.mark.parametrize(
    ("correlation", "chance"),
    [(0.0, 0.4880), (0.3, 0.4432), (0.6, 0.3628), (0.9, 0.2188)],  # computed: AR(1), seven nights of .09121
)
def test_seven_nights_of_36_f_have_the_published_chance(correlation, chance):
    policy = Policy(wide_share=0.0, error_correlation=correlation)
    margin_c, sd_c = np.full(7, 4 / 1.8), 3 / 1.8
    unknown = np.full(7, math.inf)
    window, _ = weigh(make_seen(margin_c=margin_c, sd_c=sd_c, frost=None, climate_sd_c=unknown), policy)
    assert risk_of(window) == pytest.approx(chance, abs=0.002)
    any_frost = chance_of_any([float(special.ndtr(-4 / 3))] * 7, correlation)
    assert risk_of(window) == pytest.approx(any_frost[0], abs=1e-9)


@pytest.mark.parametrize("climate_sd_c", [2.5, 4.0, 9.0])
def test_errors_hang_together_more_where_less_is_foreseen(climate_sd_c):
    policy = Policy(wide_share=0.0)
    window, _ = weigh(
        make_seen(margin_c=[1.0, 1.0], frost=None, climate_sd_c=np.full(2, climate_sd_c)), policy
    )
    link = round(policy.error_correlation + (0.7 - policy.error_correlation) * (2.0 / climate_sd_c) ** 2, 2)
    clear = stats.multivariate_normal(cov=[[1, link], [link, 1]], seed=7).cdf([0.5, 0.5])
    assert risk_of(window) == pytest.approx(1 - clear, abs=1e-3)


def test_a_frost_that_is_foretold_for_certain_is_never_talked_away():
    window, _ = weigh(make_seen(hazard=1e-6, margin_c=[-20.0], sd_c=3.9), Policy())
    assert risk_of(window) > 0.999


@pytest.mark.parametrize("margin_c", [-6.0, -2.0, 0.0])
def test_a_frost_that_is_foretold_weighs_at_least_its_own_chance(margin_c):
    """The weight is the chance or more, so little is left to a climate that knows of no frost."""
    seen = make_seen(hazard=1e-3, margin_c=[margin_c], sd_c=3.6)
    chance = mixture_chance(margin_c, 3.6, Policy(wide_share=0.0))
    climate = 1e-3 * math.exp(float(hazard_adjustment(seen)[0]))
    least = (-math.log1p(-chance)) ** chance * climate ** (1 - chance)
    window, _ = weigh(seen, Policy(wide_share=0.0))
    assert window[0] >= least - 1e-9


@pytest.mark.parametrize("margin_c", [3.0, 6.0, 12.0])
def test_a_forecast_without_skill_leaves_the_night_to_the_tilted_climate(margin_c):
    seen = make_seen(hazard=0.01, margin_c=[margin_c], sd_c=4.0)
    window, _ = weigh(seen, Policy())
    chance = float(special.ndtr(-margin_c / 4.0))
    forecast, climate = -math.log1p(-chance), 0.01 * math.exp(float(hazard_adjustment(seen)[0]))
    colder = chance * forecast + (1 - chance) * climate
    assert window[0] == pytest.approx(climate if forecast < climate else colder, rel=1e-4)


@pytest.mark.parametrize("sd_c", [0.5, 1.8, 3.0, 4.0])
@pytest.mark.parametrize("curve", [1e-4, 0.01, 0.2])
def test_the_joined_hazard_lies_between_the_forecasts_and_the_climates(curve, sd_c):
    margins = np.array([-3.0, 1.0, 4.0, 9.0])
    seen = make_seen(hazard=curve, margin_c=margins, sd_c=sd_c)
    joined, _ = weigh(seen, Policy())
    alone, _ = weigh(make_seen(margin_c=margins, sd_c=sd_c, frost=None), Policy())
    climate = curve * np.exp(hazard_adjustment(seen)[:4])
    assert (joined >= np.minimum(alone, climate) - 1e-9).all()
    assert (joined <= np.maximum(alone, climate) + 2e-9).all()


@pytest.mark.parametrize("frost", [-4.0, -1.5, 0.0, 1.0])
@pytest.mark.parametrize("recent", [None, 0.0])
def test_a_spring_like_any_other_is_not_tilted(frost, recent):
    seen = make_seen(frost=np.full(30, frost), recent=recent, persistence=0.4)
    assert hazard_adjustment(seen) == pytest.approx(np.zeros(30), abs=1e-12)
    window, beyond = weigh(seen, Policy())
    assert (window.size, beyond.tolist()) == (0, pytest.approx([0.01] * 30))


@pytest.mark.parametrize(
    ("recent", "kept", "explained"), [(0.5, 0.4, 0.0), (-0.8, 0.3, 0.0), (0.5, 0.4, 0.1)]
)
def test_the_past_60_days_tilt_every_night_by_what_the_spring_keeps_of_them(recent, kept, explained):
    seen = make_seen(recent=recent, persistence=kept, explained=explained)
    given = stats.norm.cdf(-2.0, loc=kept * recent, scale=math.sqrt(1 - explained))
    assert np.exp(hazard_adjustment(seen)) == pytest.approx([given / stats.norm.cdf(-2.0)] * 30)


def test_what_the_past_days_foretell_is_right_over_all_springs():
    """The mean of the tilted hazards over springs as they come is the curve's own."""
    kept, spread = 0.5, 0.6
    recents = stats.norm.ppf((np.arange(4000) + 0.5) / 4000, scale=spread)
    seen = make_seen(
        hazard=np.full((4000, 3), 0.01), nights=(4000, 3), recent=recents, persistence=kept,
        frost=np.full((4000, 3), -1.5), explained=(kept * spread) ** 2, margin_c=np.empty((4000, 0)),
    )  # fmt: skip
    assert np.exp(hazard_adjustment(seen)).mean() == pytest.approx(1.0, abs=2e-3)


@pytest.mark.parametrize("margin_c", [(), (4.0,), (-2.0, 9.0, 3.0)])
def test_milder_weather_of_late_never_raises_a_hazard(margin_c):
    nights = [
        np.concatenate(weigh(make_seen(margin_c=margin_c, recent=recent, persistence=0.5), Policy()))
        for recent in np.linspace(-3, 3, 25)
    ]
    assert (np.diff(nights, axis=0) <= 1e-12).all()


def test_on_a_forecast_night_the_tilt_is_that_of_what_is_told_and_of_what_the_past_leaves():
    seen = make_seen(margin_c=[4.0], sd_c=2.0, recent=1.0, persistence=0.4)  # told: -2 + 4 / 4 = -1
    mean = 0.75 * -1.0 + 0.25 * 0.4  # of skill .75: a quarter is left to what the past days foretell
    expected = stats.norm.cdf((-2.0 - mean) / 0.5) / stats.norm.cdf(-2.0)
    assert np.exp(hazard_adjustment(seen)[0]) == pytest.approx(expected)


def test_the_next_night_keeps_of_it_what_weather_keeps():
    seen = make_seen(margin_c=[4.0, 12.0], sd_c=[2.0, 3.0], recent=1.0, persistence=0.4)
    first, skill = 0.75 * -1.0 + 0.25 * 0.4, 1 - (3.0 / 4.0) ** 2
    mean = skill * 1.0 + (1 - skill) * (0.4 + 0.7 * (first - 0.4))
    expected = stats.norm.cdf((-2.0 - mean) / 0.75) / stats.norm.cdf(-2.0)
    assert np.exp(hazard_adjustment(seen)[1]) == pytest.approx(expected)


def test_behind_the_forecast_the_last_anomaly_fades_as_weather_does():
    seen = make_seen(margin_c=[4.0], sd_c=2.0, recent=1.0, persistence=0.4)
    means = 0.4 + 0.7 ** np.arange(1, 30) * (0.75 * -1.0 + 0.25 * 0.4 - 0.4)
    expected = stats.norm.cdf(-2.0 - means) / stats.norm.cdf(-2.0)
    assert np.exp(hazard_adjustment(seen)[1:]) == pytest.approx(expected)


@pytest.mark.parametrize("sd_c", [0.8, 2.0, 3.6, 4.0])
def test_a_mild_forecast_promises_no_more_than_twice_the_spread_of_what_it_knows(sd_c):
    skill = 1 - (sd_c / 4.0) ** 2
    most = MOST_TOLD * math.sqrt(skill)
    at_most, warmer = (
        weigh(make_seen(margin_c=[4.0 * (most + 2.0) + more], sd_c=sd_c), Policy())[1] for more in (0.0, 40.0)
    )
    assert warmer == pytest.approx(at_most)
    expected = 0.01 * stats.norm.cdf(-2.0 - 0.7 * skill * most) / stats.norm.cdf(-2.0)
    assert warmer[0] == pytest.approx(max(expected, 0.01 * math.exp(-8)))


def test_a_tilt_stays_within_its_bounds():
    cold = make_seen(margin_c=[-40.0], sd_c=2.0)
    mild = make_seen(margin_c=[6.0], sd_c=0.1)
    assert (hazard_adjustment(cold)[0], hazard_adjustment(mild)[0]) == (
        pytest.approx(-math.log(special.ndtr(-2.0))),
        -8.0,
    )
    far = make_seen(margin_c=[-40.0], sd_c=2.0, frost=np.full(30, -5.0))
    assert hazard_adjustment(far)[0] == 4.0


def test_where_a_frost_is_far_from_usual_the_curves_own_tail_is_kept():
    far, farther = (
        hazard_adjustment(make_seen(frost=np.full(30, frost), recent=-1.0, persistence=0.5))
        for frost in (FARTHEST, -6.0)
    )
    assert far == pytest.approx(farther)


def test_what_is_not_usual_cannot_be_tilted():
    with pytest.raises(FrostgateError, match="what is usual at this station is not known"):
        hazard_adjustment(make_seen(frost=None))


def test_many_springs_are_weighed_at_once_as_one_by_one():
    rng = np.random.default_rng(2)
    curve, margin_c, recent = rng.uniform(0, 0.05, (3, 20)), rng.normal(4, 4, (3, 5)), rng.normal(0, 1, 3)
    sd_c, frost = np.broadcast_to([1.7, 1.8, 1.9, 2.2, 3.0], (3, 5)), rng.normal(-1.5, 0.4, (3, 20))
    made = {"persistence": 0.4, "explained": 0.05}
    together = make_seen(curve, margin_c, sd_c, (3, 20), recent=recent, frost=frost, **made)
    window, beyond = weigh(together, Policy())
    for spring in range(3):
        alone = make_seen(
            curve[spring],
            margin_c[spring],
            sd_c[spring],
            20,
            recent=recent[spring],
            frost=frost[spring],
            **made,
        )
        assert window[spring] == pytest.approx(weigh(alone, Policy())[0])
        assert beyond[spring] == pytest.approx(weigh(alone, Policy())[1])


def test_two_parts_are_joined_as_published():
    # P_window .15, P_clim .08 -> .218
    margin_c = stats.norm.isf(0.15, scale=1.8)
    policy = Policy(wide_share=0.0, error_sd_c=((1.0, 1.8),))
    outlook = look(make_curve(0.08), make_forecast([margin_c + HALF]), policy)
    window, beyond = weigh(outlook.seen, policy)
    assert risk_of(np.append(window, beyond), outlook.seen.end) == pytest.approx(0.218, abs=1e-9)
