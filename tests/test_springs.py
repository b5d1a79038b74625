"""Past springs laid out, each by what the others know, and the forecasts of their nights, drawn or kept."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from frostgate.climate.fits import FITS
from frostgate.climate.frosts import last_frosts
from frostgate.errors import InputError, TooFewSeasonsError
from frostgate.gate.forecast_errors import error_spread, link_errors, part_tails
from frostgate.model.gate import ForecastLog, Policy
from frostgate.model.records import DailyMinima, Station
from frostgate.proof.springs import FROM_MORNING_TO_MORNING, draw_mornings, lay_out_kept, lay_out_springs
from frostgate.seasons import NORTH, SLOTS, SOUTH, season_day_of
from tests.replay_cases import made_springs, springs_of

DAYS = np.arange("1990-08-01", "2010-08-01", dtype="datetime64[D]")


def weather(seed: int = 4) -> np.ndarray:
    yearly = np.cos((DAYS - DAYS[0]).astype(int) / 365.25 * 2 * np.pi)
    return 6 + 9 * yearly + np.random.default_rng(seed).normal(0, 3, DAYS.size)


def record(tmin_c: np.ndarray) -> DailyMinima:
    return DailyMinima(station=Station(id="X"), dates=DAYS, tmin_c=tmin_c)


def test_a_spring_is_judged_by_the_others_alone():
    changed = weather()
    inside = (np.datetime64("1999-08-01") <= DAYS) & (np.datetime64("2000-08-01") > DAYS)
    changed[inside] -= 4.0  # the spring of 2000 turns cold

    plain, cold = (lay_out_springs(record(tmin_c), 0.0, NORTH) for tmin_c in (weather(), changed))
    at = int(np.flatnonzero(plain.years == 2000)[0])

    assert plain.last_frost[at] != cold.last_frost[at]
    for name in ("risk", "climatology_c", "climate_sd_c"):
        assert getattr(plain, name)[at] == pytest.approx(getattr(cold, name)[at])
        assert not np.allclose(getattr(plain, name)[at - 1], getattr(cold, name)[at - 1])


def test_the_curve_of_a_spring_is_the_fit_to_the_others():
    springs = lay_out_springs(record(weather()), 0.0, NORTH, kind="normal")
    days = last_frosts(record(weather()), 0.0, NORTH).day

    for at in (0, 7, 19):
        assert springs.risk[at] == pytest.approx(FITS["normal"](np.delete(days, at)))


def test_anomalies_add_up_to_the_minima():
    made = record(weather())
    springs = lay_out_springs(made, 0.0, NORTH)

    observed = springs.climatology_c[3, :200] + (springs.anomaly * springs.climate_sd_c)[3, :200]
    first = int(np.flatnonzero(made.dates == np.datetime64("1993-08-01"))[0])

    assert observed == pytest.approx(made.tmin_c[first : first + 200])


def test_years_keep_only_their_springs():
    assert lay_out_springs(record(weather()), 0.0, NORTH, years=(1995, 2008)).years.tolist() == list(
        range(1995, 2009)
    )


@pytest.mark.parametrize(
    ("years", "error"), [((1995, 2004), TooFewSeasonsError), ((1900, 1910), TooFewSeasonsError)]
)
def test_too_few_springs_are_refused(years, error):
    with pytest.raises(error, match="too few to judge each by the others"):
        lay_out_springs(record(weather()), 0.0, NORTH, years=years)


def test_a_choice_by_score_is_refused_since_it_has_seen_the_spring():
    with pytest.raises(InputError, match="no such kind"):
        lay_out_springs(record(weather()), 0.0, NORTH, kind="best")


def test_a_missing_day_has_no_anomaly():
    holes = np.where(np.datetime64("1995-01-10") == DAYS, np.nan, weather())
    springs = lay_out_springs(replace(record(weather()), tmin_c=holes), 0.0, NORTH)

    assert springs.anomaly[4, 162] == 0.0
    assert np.count_nonzero(springs.anomaly[4] == 0.0) <= 3  # that day, a 29 February, and chance


SPREAD_C, NIGHTS = 5.0, 14
MORNINGS = np.arange(200, 260)
LEADS = np.arange(NIGHTS) + 1.0
GAUSSIAN = Policy(wide_share=0.0)
SPRINGS = made_springs(300, climate_sd_c=SPREAD_C)  # 60 mornings of 300 springs
both_policies = pytest.mark.parametrize("policy", [GAUSSIAN, Policy()], ids=["Gaussian", "heavy tails"])


def draw(policy: Policy, seed: int = 5) -> np.ndarray:
    """Give forecasts, shape (mornings, springs, nights)."""
    return np.array([*draw_mornings(SPRINGS, policy, MORNINGS, NIGHTS, np.random.default_rng(seed))])


def observed() -> np.ndarray:
    days = MORNINGS[:, np.newaxis] + 1 + np.arange(NIGHTS)
    return SPRINGS.tmin_c[:, days].transpose(1, 0, 2)


def correlations(errors: np.ndarray) -> list[float]:
    """Correlate the errors of each night with those of the next."""
    nights = errors.reshape(-1, NIGHTS).T
    return [float(np.corrcoef(nights[k], nights[k + 1])[0, 1]) for k in range(NIGHTS - 1)]


@both_policies
def test_the_observation_scatters_around_the_forecast_at_each_lead(policy):
    """Slope 1, but for chance: 300 springs of about 15 spells each, standard error below 0.02."""
    told, came = (values.reshape(-1, NIGHTS).T - 6.0 for values in (draw(policy), observed()))

    slopes = [np.polyfit(told[k], came[k], 1)[0] for k in range(NIGHTS)]

    assert slopes == pytest.approx([1.0] * NIGHTS, abs=0.05)


@both_policies
def test_errors_are_as_wide_as_the_policy_says_at_this_scatter(policy):
    errors = observed() - draw(policy)

    assert errors.std(axis=(0, 1)) == pytest.approx(error_spread(LEADS, math.nan, policy, SPREAD_C), rel=0.04)


def test_errors_beyond_three_deviations_are_as_frequent_as_in_the_policys_mixture():
    """Most nights narrow, the policy's share of mornings wide; counted over the first five nights."""
    policy = Policy()
    sd_c = error_spread(LEADS[:5], math.nan, policy, SPREAD_C)
    wanted = sum(
        2 * share * norm.sf(3 * sd_c / part_c).mean()
        for share, part_c in zip(
            (1 - policy.wide_share, policy.wide_share), part_tails(sd_c, policy, SPREAD_C), strict=True
        )
    )
    far = [float((np.abs(observed() - draw(one))[..., :5] > 3 * sd_c).mean()) for one in (policy, GAUSSIAN)]

    assert far == pytest.approx([wanted, 2 * norm.sf(3)], rel=0.2)


@both_policies
def test_errors_hang_together_from_night_to_night_as_the_gate_reckons(policy):
    links = link_errors(error_spread(LEADS, math.nan, policy, SPREAD_C) / SPREAD_C, policy)

    assert correlations(observed() - draw(policy)) == pytest.approx(links, abs=0.1)
    assert links[0] < 0.3
    assert links[-1] > 0.6


def test_forecasts_know_less_with_lead_and_vary_less_than_the_weather():
    """As far as the policy's table goes: ten days."""
    scatter = draw(GAUSSIAN).std(axis=(0, 1))[:10]

    assert (np.diff(scatter) < 0).all()
    assert scatter[0] < observed().std()


def test_one_night_is_missed_alike_from_morning_to_morning():
    errors = observed() - draw(GAUSSIAN)
    today, tomorrow = errors[1:, :, 1].ravel(), errors[:-1, :, 2].ravel()

    assert np.corrcoef(today, tomorrow)[0, 1] == pytest.approx(FROM_MORNING_TO_MORNING, abs=0.1)


def test_bad_mornings_come_together():
    """Sizes of errors of nights far apart on two mornings are alike only where some mornings are bad."""
    alike = []
    for policy in (replace(GAUSSIAN, wide_share=0.15, wide_factor=4.0), GAUSSIAN):
        size = np.abs(observed() - draw(policy))
        alike.append(np.corrcoef(size[:-1, :, 0].ravel(), size[1:, :, 4].ravel())[0, 1])

    assert alike[0] > 0.1
    assert abs(alike[1]) < 0.03


def test_a_forecast_that_knows_nothing_errs_like_the_weather_itself():
    blind = replace(GAUSSIAN, error_sd_c=((1.0, 50.0),))
    told = draw(blind)

    assert (observed() - told).std() == pytest.approx(SPREAD_C, rel=0.04)
    assert np.abs(told - 6.0).std() < SPREAD_C / 4


def test_bias_is_added_and_the_seed_decides():
    one, again = (draw(GAUSSIAN, seed=3) for _ in range(2))
    biased = draw(replace(GAUSSIAN, error_bias_c=1.5), seed=3)

    assert np.array_equal(one, again)
    assert biased - one == pytest.approx(np.full(one.shape, 1.5))
    assert not np.allclose(one, draw(GAUSSIAN, seed=4))


def test_nothing_is_told_of_nights_beyond_the_seasons_end():
    last = np.array([SLOTS - 4, SLOTS - 1])
    told = [*draw_mornings(SPRINGS, GAUSSIAN, last, NIGHTS, np.random.default_rng(1))]

    assert [int(np.isfinite(one).all(axis=0).sum()) for one in told] == [3, 0]


def test_the_spread_follows_each_days_scatter():
    """Where minima scatter by 2.5 °C errors are narrower, by the policy's rule, in the same springs."""
    calm = replace(SPRINGS, climate_sd_c=SPRINGS.climate_sd_c / 2, tmin_c=6 + (SPRINGS.tmin_c - 6) / 2)
    told = np.array([*draw_mornings(calm, GAUSSIAN, MORNINGS, NIGHTS, np.random.default_rng(5))])

    error_c = (6 + (observed() - 6) / 2 - told).std(axis=(0, 1))

    assert error_c == pytest.approx(error_spread(LEADS, math.nan, GAUSSIAN, SPREAD_C / 2), rel=0.04)


FOUR_SPRINGS = springs_of([{}, {}, {}, {}])  # 2023 to 2026
TEN = dt.datetime(2026, 4, 10, 6)


def issue(made: dt.datetime, *lows: float, place: str = "") -> ForecastLog:
    """Make a forecast of the nights after its day."""
    mornings = [made.date() + dt.timedelta(days=k + 1) for k in range(len(lows))]
    return ForecastLog(issued=[made] * len(lows), mornings=mornings, forecast_c=lows,
                       observed_c=[np.nan] * len(lows), place=[place] * len(lows))  # fmt: skip


def logged(*issues: ForecastLog) -> ForecastLog:
    names = ("issued", "mornings", "forecast_c", "observed_c", "place")
    return ForecastLog(**{name: np.concatenate([getattr(one, name) for one in issues]) for name in names})


def told_on(log: ForecastLog, day: dt.date, *, springs=FOUR_SPRINGS) -> list[float | None]:
    season, slot = season_day_of(day, springs.start)
    spring = int(np.flatnonzero(springs.years == season + springs.start.spring_lag)[0])
    told = lay_out_kept(log, springs, Policy(), 4)[spring, slot]
    return [None if np.isnan(low) else float(low) for low in told]


def test_a_morning_has_its_own_forecast_alone():
    """The replay weighs it as fresh; an older one would be taken for surer than it is."""
    log = issue(TEN, 1.0, 2.0, 3.0)
    assert told_on(log, dt.date(2026, 4, 10)) == [1.0, 2.0, 3.0, None]
    assert told_on(log, dt.date(2026, 4, 11)) == [None] * 4
    assert told_on(log, dt.date(2026, 4, 9)) == [None] * 4


def test_the_newest_forecast_counts_and_one_made_after_noon_is_the_next_mornings():
    evening, early = dt.datetime(2026, 4, 9, 18), dt.datetime(2026, 4, 10, 5)
    log = logged(issue(evening, 0.0, 5.0, 6.0), issue(early, 1.0, 2.0))
    assert told_on(log, dt.date(2026, 4, 9)) == [None] * 4
    assert told_on(log, dt.date(2026, 4, 10)) == [1.0, 2.0, None, None]
    assert told_on(issue(evening, 0.0, 5.0, 6.0), dt.date(2026, 4, 10)) == [5.0, 6.0, None, None]


def test_a_29_february_that_does_not_exist_takes_the_night_after_it():
    common, leap = dt.datetime(2026, 2, 27, 6), dt.datetime(2024, 2, 27, 6)
    assert told_on(issue(common, 1.0, 2.0, 3.0), common.date()) == [1.0, 2.0, 2.0, 3.0]
    assert told_on(issue(leap, 1.0, 2.0, 3.0), leap.date()) == [1.0, 2.0, 3.0, None]


def test_the_south_has_its_own_seasons():
    south = replace(springs_of([{}, {}], SOUTH))
    assert told_on(issue(dt.datetime(2023, 9, 10, 6), 1.0), dt.date(2023, 9, 10), springs=south)[0] == 1.0


def test_springs_that_are_not_replayed_and_nights_beyond_the_wanted_are_left_out():
    log = logged(issue(dt.datetime(2019, 4, 10, 6), 9.0), issue(TEN, 1.0, 2.0, 3.0))
    assert np.isfinite(lay_out_kept(log, FOUR_SPRINGS, Policy(), 2)).sum() == 2


@given(st.integers(0, 5), st.integers(1, 20), st.integers(0, 23))
def test_no_morning_knows_a_forecast_made_later(ago, nights, hour):
    made = TEN.replace(hour=hour) - dt.timedelta(days=ago)
    told = lay_out_kept(issue(made, *np.arange(1.0, nights + 1)), FOUR_SPRINGS, Policy(), 14)
    _, slots, _ = np.nonzero(np.isfinite(told))
    asked_by_noon = made.date() + dt.timedelta(days=hour >= 12)
    assert set(slots.tolist()) <= {season_day_of(asked_by_noon, NORTH)[1]}


def test_the_first_night_laid_out_is_the_first_exposed_one():
    log = issue(TEN - dt.timedelta(hours=12), 1.0, 2.0, 3.0)  # the evening before: this morning's comes first

    for exposed, told in ((0, [1.0, 2.0, 3.0, np.nan]), (1, [2.0, 3.0, np.nan]), (2, [3.0, np.nan])):
        slot = season_day_of(TEN.date(), NORTH)[1]
        laid = lay_out_kept(log, FOUR_SPRINGS, Policy(first_exposed_days=exposed), 3)
        assert laid[3, slot] == pytest.approx(told, nan_ok=True)


def test_a_log_of_several_places_is_refused():
    log = logged(issue(TEN, 1.0, place="hill"), issue(TEN, 1.0, place="vale"))
    with pytest.raises(InputError, match="several places: 'hill, vale'"):
        lay_out_kept(log, FOUR_SPRINGS, Policy(), 4)
