"""Each coming night's hazard: the arithmetic against other routes, and what forecast and weather may do."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest
from scipy import special, stats

from frostgate.errors import FrostgateError
from frostgate.gate.forecast_errors import chance_of_any, normal_cdf
from frostgate.gate.outlook import (
    FARTHEST,
    FEWEST_RECENT,
    MOST_TOLD,
    curve_hazards,
    hazard_adjustment,
    recent_anomaly,
    weigh,
)
from frostgate.model.curves import risk_by_day
from frostgate.model.gate import Policy
from frostgate.seasons import NORTH, SLOTS, season_day_of
from tests.gate_cases import (
    DAY,
    HALF,
    NOW,
    TODAY,
    look,
    make_curve,
    make_forecast,
    make_seen,
    make_weather,
    mixture_chance,
    ramp,
)

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


SPREAD = np.full(366, 4.0)
CURVE = ramp(TODAY + 5 * DAY, 50.0, spread_c=SPREAD)
NAN = float("nan")


def recent(weather, today=TODAY, curve=CURVE):
    return recent_anomaly(curve, weather, today)


def test_it_is_the_mean_anomaly_of_the_past_60_days_in_units_of_the_scatter():
    assert recent(make_weather(2.0)) == pytest.approx(0.5)
    days = np.array([TODAY - k * DAY for k in range(59, -1, -1)])
    slots = np.array([season_day_of(day, NORTH)[1] for day in days])
    climatology_c, spread_c = 3.0 + 0.02 * np.arange(366), 3.0 + 0.01 * np.arange(366)
    tmin_c = np.random.default_rng(1).normal(8, 4, 60)
    weather = make_weather(climatology_c=climatology_c, recent_c=tmin_c)
    expected = np.mean((tmin_c - climatology_c[slots]) / spread_c[slots])
    assert recent(weather, curve=make_curve(0.1, spread_c=spread_c)) == pytest.approx(expected)


@pytest.mark.parametrize("known", [0, 1, FEWEST_RECENT - 1, FEWEST_RECENT, 60])
def test_fewer_than_30_known_days_tell_nothing(known):
    tmin_c = np.where(np.arange(60) % 60 < 60 - known, NAN, 10.0)
    found = recent(make_weather(recent_c=tmin_c))
    assert found == (pytest.approx(0.5) if known >= 30 else None)


@pytest.mark.parametrize(("ended", "known"), [(0, 60), (1, 59), (30, 30), (31, None), (200, None)])
def test_a_record_that_ended_too_early_tells_nothing(ended, known):
    """Only the days within the 60 before today count: here the last ones were milder."""
    tmin_c = np.append(np.full(30, 8.0), np.full(30, 12.0))
    found = recent(make_weather(recent_c=tmin_c, last_day=TODAY - ended * DAY))
    assert found == (None if known is None else pytest.approx(30 / known))


@pytest.mark.parametrize(("ahead", "known"), [(1, 59), (30, 30), (31, None), (400, None)])
def test_days_after_today_are_not_looked_at(ahead, known):
    tmin_c = np.where(np.arange(60) < 60 - ahead, 10.0, -50.0)
    found = recent(make_weather(recent_c=tmin_c, last_day=TODAY + ahead * DAY))
    assert found == (None if known is None else pytest.approx(0.5))


@pytest.mark.parametrize("size", [0, 29, 30])
def test_a_record_shorter_than_60_days_counts_from_its_end(size):
    found = recent(make_weather(recent_c=np.full(size, 6.0)))
    assert found == (pytest.approx(-0.5) if size == 30 else None)


def test_without_the_stations_scatter_nothing_is_told_and_nothing_tilted():
    bare = ramp(TODAY + 5 * DAY, 50.0)
    assert recent(make_weather(2.0), curve=bare) is None
    forecast = make_forecast([5.0] * 7)
    with_it, without = look(bare, forecast, weather=make_weather(2.0)), look(bare, forecast)
    assert with_it.risk.tolist() == without.risk.tolist()
    assert with_it.seen.frost is None


def test_an_outlook_keeps_what_it_saw():
    outlook = look(CURVE, make_forecast([5.0, 3.0]), weather=make_weather(2.0, explained=0.04))
    seen = outlook.seen
    assert (seen.recent, seen.persistence, seen.explained) == (pytest.approx(0.5), 0.3, 0.04)
    assert seen.frost == pytest.approx(np.full(seen.hazard.size, (0.05 - 8.0) / 4.0))  # tenths observed
    assert seen.margin_c == pytest.approx([4.95, 2.95])
    assert seen.climate_sd_c.tolist() == [4.0, 4.0]
    bare = look(CURVE, make_forecast([5.0, 3.0])).seen
    assert (bare.frost, bare.recent, bare.persistence, bare.explained) == (None, None, 0.0, 0.0)


@pytest.mark.parametrize("anomaly_c", [-3.0, 0.0, 3.0])
def test_by_the_curve_alone_the_weather_of_late_changes_nothing(anomaly_c):
    alone = look(CURVE, None, climate_only=True)
    tilted = look(CURVE, None, climate_only=True, weather=make_weather(anomaly_c))
    assert tilted.risk.tolist() == alone.risk.tolist()


def test_behind_the_forecast_the_curve_is_tilted_night_by_night():
    """Counted by a plain sum: the curve falls by 1/50 a day, each night's hazard times its factor."""
    outlook = look(CURVE, make_forecast([9.0] * 5), Policy(), weather=make_weather(2.0))
    slot = season_day_of(TODAY, NORTH)[1]
    after = np.interp(np.arange(slot, 352) + 0.5, np.arange(366), CURVE.risk)
    hazards = np.log(1 - after[1:]) - np.log(1 - after[:-1])  # of the nights from tomorrow on
    last = lasting = 0.3 * 0.5
    for night in outlook.nights:
        known = 1 - (night.sd_c / 4.0) ** 2
        told = min((9.0 - 8.0) / 4.0, 2 * math.sqrt(known))
        last = known * told + (1 - known) * (lasting + 0.7 * (last - lasting))
    frost = (0.05 - 8.0) / 4.0
    fading = 0.7 ** np.arange(1, hazards.size - 4) * (last - lasting)
    factor = stats.norm.cdf(frost - lasting - fading) / stats.norm.cdf(frost)
    assert outlook.climate_risk[0] == pytest.approx(1 - math.exp(-np.sum(hazards[5:] * factor)), rel=1e-9)


@pytest.mark.parametrize("nights", range(1, 15))
@pytest.mark.parametrize("told_c", [3.0, 8.0, 9.5, 12.0])
@pytest.mark.parametrize("recent_c", [np.empty(0), np.full(60, 8.0), np.full(60, 11.0)])
def test_at_the_windows_end_there_is_no_seam(nights, told_c, recent_c):
    """A last night without skill leaves the risk as it was, whatever it says and whatever came before."""
    weather = make_weather(recent_c=recent_c)
    without_skill = [NAN] * (nights - 1) + [4.0]  # as wide as the weather: no more than the time of the year
    told = [told_c] * (nights - 1)
    outlook = look(CURVE, make_forecast([*told, 20.0], sd_c=without_skill), weather=weather)
    shorter = make_forecast(told) if told else None
    before = look(CURVE, shorter, climate_only=shorter is None, weather=weather)
    assert outlook.nights[-1].sd_c == 4.0
    if told or not recent_c.size or recent_c[0] == 8.0:  # without a forecast the past is not looked at
        assert outlook.risk[0] == pytest.approx(before.risk[0], abs=0.003)


def test_a_short_forecast_shrinks_towards_the_curve_as_it_fades():
    """A forecast of usual nights that knows less and less comes to the curve's own answer."""
    alone = look(CURVE, None, climate_only=True).risk[0]
    off = [
        abs(look(CURVE, make_forecast([8.0] * 7, sd_c=sd_c), weather=make_weather()).risk[0] - alone)
        for sd_c in (0.5, 2.0, 3.0, 3.7)
    ]
    assert off == sorted(off, reverse=True)


def test_a_mild_past_lowers_and_a_cold_past_raises_the_risk():
    cold, usual, mild = (
        look(CURVE, make_forecast([9.0] * 5), weather=make_weather(anomaly_c)).risk[0]
        for anomaly_c in (-3.0, 0.0, 3.0)
    )
    assert mild < usual < cold


def test_a_record_that_has_ended_is_as_one_without_a_past():
    old = make_weather(4.0, last_day=dt.date(2024, 7, 31))
    forecast = make_forecast([9.0] * 5)
    assert look(CURVE, forecast, weather=old).risk.tolist() == pytest.approx(
        look(CURVE, forecast, weather=make_weather(0.0)).risk.tolist()
    )
    assert look(CURVE, forecast, now=NOW, weather=old).seen.recent is None
