"""All that a morning needs of a station's past, also where the garden's offset is not known for sure."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from scipy import integrate, stats

from frostgate.climate import site as room
from frostgate.climate.fits import fit_curve, put_bounds
from frostgate.climate.frosts import last_frosts
from frostgate.climate.site import NODES, blur_curve, know_site, know_weather
from frostgate.climate.years import choose_years, frosts_on
from frostgate.errors import InputError, TooFewSeasonsError
from frostgate.model.records import DailyMinima, Station
from frostgate.seasons import NORTH, SLOTS, SOUTH
from frostgate.units import celsius
from tests.gate_cases import make_curve
from tests.reference.naive import read_record


def record(seasons=30, seed=4, edits=None, first=1990, **rest):
    """Make seasons of a yearly wave with noise, coldest at the end of January."""
    days = np.arange(f"{first}-08-01", f"{first + seasons}-08-01", dtype="datetime64[D]")
    turn = (days - days[0]).astype(int) / 365.25 * 2 * np.pi
    tmin_c = 6 + 9 * np.cos(turn) + np.random.default_rng(seed).normal(0, 3, days.size)
    for day, value in (edits or {}).items():
        tmin_c[days == np.datetime64(day)] = value
    return DailyMinima(station=Station(id="X", name="Y"), dates=days, tmin_c=tmin_c, **rest)


def test_a_site_keeps_its_station_its_last_day_and_its_readers_notes():
    made = record(flagged=["1985-01-01", "1985-01-02"], notes=("One day stood twice.",))
    site = know_site(made, 0.0, NORTH)
    assert site.station == Station(id="X", name="Y")
    assert (site.last_day, site.flagged) == (dt.date(2020, 7, 31), 2)
    assert site.notes == ("One day stood twice.",)
    assert (site.suspects, site.suspects_kept) == (0, False)


@pytest.mark.parametrize("seasons", [9, 10, 19, 20])
def test_few_seasons_are_refused_or_said_to_be_few(seasons):
    made = record(seasons)
    if seasons < 10:
        with pytest.raises(TooFewSeasonsError, match="only 9 of 9 seasons"):
            know_site(made, 0.0, NORTH)
        return
    rough = (f"Only {seasons} seasons are known: the curve is rough. Look for a longer record nearby.",)
    assert know_site(made, 0.0, NORTH).notes == (rough if seasons < 20 else ())


def test_an_empty_record_is_refused():
    empty = DailyMinima(station=Station(id="X"), dates=[], tmin_c=[])
    with pytest.raises(TooFewSeasonsError, match="only 0 of 0 seasons"):
        know_site(empty, 0.0, NORTH)


def test_plain_errors_are_left_out_unless_they_are_to_be_kept():
    made = record(edits={"2001-06-20": -15.0})
    site, kept = know_site(made, 0.0, NORTH), know_site(made, 0.0, NORTH, keep_suspects=True)
    assert (site.suspects, site.suspects_kept) == (kept.suspects, False) == (1, False)
    assert kept.suspects_kept
    june = 300  # 27 May
    assert kept.curve.risk[june] > site.curve.risk[june]


@pytest.mark.parametrize("kind", ["best", "normal", "empirical"])
def test_a_sites_curve_is_never_below_the_curve_of_its_own_frosts(kind):
    made = record()
    frosts = last_frosts(made, 0.0, NORTH)
    own = put_bounds(fit_curve(frosts, kind), frosts)
    curve = know_site(made, 0.0, NORTH, kind=kind).curve
    assert (curve.risk >= own.risk).all()
    assert np.abs(curve.risk - own.risk).max() < 0.02  # it is held up, not replaced
    assert (curve.kind, curve.seasons_used, curve.frost_share) == (own.kind, 30, own.frost_share)
    assert (curve.low <= curve.risk).all()
    assert (curve.risk <= curve.high).all()


def test_a_site_keeps_what_is_usual_and_how_it_was_of_late_plain_errors_left_out():
    made = record(edits={"2020-07-20": -25.0})
    site, kept = know_site(made, 0.0, NORTH), know_site(made, 0.0, NORTH, keep_suspects=True)
    assert site.suspects == 1
    weather, spread_c = know_weather(made.leave_out(np.array(["2020-07-20"], dtype="datetime64[D]")), NORTH)
    assert site.weather.climatology_c.tolist() == weather.climatology_c.tolist()
    assert (site.weather.persistence, site.weather.explained) == (weather.persistence, weather.explained)
    assert site.curve.spread_c.tolist() == spread_c.tolist()
    assert np.isnan(site.weather.recent_c[-12])
    assert kept.weather.recent_c[-12] == -25.0
    assert site.weather.last_day == dt.date(2020, 7, 31)


def warming(seasons=90, c_per_year=0.05):
    """Make a record that warms, so that its frosts come earlier year by year."""
    made = record(seasons, first=1930)
    since = (made.dates - made.dates[0]).astype(int) / 365.25
    return replace(made, tmin_c=made.tmin_c + c_per_year * since)


def test_a_site_says_which_years_its_curve_rests_on():
    made = warming()
    site = know_site(made, 0.0, NORTH)
    frosts = last_frosts(made, 0.0, NORTH)
    choice = choose_years(frosts)
    assert site.years == choice
    assert choice.basis == "trend"
    own = fit_curve(frosts_on(frosts, "trend"))
    assert np.abs(site.curve.risk - own.risk).max() < 0.02
    assert (site.curve.low <= site.curve.risk).all()


def test_years_asked_for_are_used_by_curve_and_bounds():
    made = warming()
    sites = {years: know_site(made, 0.0, NORTH, years=years) for years in ("all", "recent", "trend", "best")}
    assert {years: site.years.basis for years, site in sites.items()} == {
        "all": "all", "recent": "recent", "trend": "trend", "best": "trend"
    }  # fmt: skip
    assert sites["recent"].curve.first_year == 1991
    assert [site.curve.seasons_used for site in sites.values()] == [90, 30, 90, 90]
    for table in ("risk", "low", "high"):
        by = {years: getattr(site.curve, table).sum() for years, site in sites.items()}
        assert by["best"] == by["trend"] < by["recent"] < by["all"]


def test_the_freezing_point_chooses_the_years_for_every_garden(monkeypatch):
    asked = []
    monkeypatch.setattr(
        room,
        "choose_years",
        lambda frosts, *rest: asked.append(frosts.threshold_c) or choose_years(frosts, *rest),
    )
    made = warming(60)
    found = [know_site(made, threshold_c, NORTH).years for threshold_c in (-2.2, 0.0, 1.4)]
    assert asked == [0.0, 0.0, 0.0]
    assert found[0] == found[1] == found[2]


def test_years_that_there_are_not_are_refused():
    with pytest.raises(InputError, match="no such choice of years"):
        know_site(record(), 0.0, NORTH, years="some")


def test_the_rule_of_completeness_reaches_the_curve():
    made = record(edits={"2001-07-20": np.nan})
    used = [
        know_site(made, 0.0, NORTH, completeness=rule).curve.seasons_used for rule in ("chance", "strict")
    ]
    assert used == [30, 29]


def assert_never_waits_longer(made, thresholds_c, start, kind):
    curves = [
        know_site(made, threshold_c, start, kind=kind, bounds=False).curve for threshold_c in thresholds_c
    ]
    for cold, warm in combinations(curves, 2):
        worst = float((cold.risk - warm.risk).max())
        assert worst <= 1e-9, f"{worst:.2g} between {cold.threshold_c:.2f} and {warm.threshold_c:.2f} °C"


STEPS = {
    "28 to 36 °F": [celsius(float(temp_f)) for temp_f in range(28, 37)],
    "-0.6 to 0.6 °C": [tenths / 10 for tenths in range(-6, 7)],
    "30 to 33 °F in quarters": [celsius(quarters / 4) for quarters in range(120, 133)],
}
in_steps = pytest.mark.parametrize(
    "steps", ["28 to 36 °F", *(pytest.param(steps, marks=pytest.mark.slow) for steps in list(STEPS)[1:])]
)


@in_steps
@pytest.mark.parametrize(
    "station",
    [
        "USC00042319",
        *(
            pytest.param(name, marks=pytest.mark.slow)
            for name in ("USW00012960", "USW00014819", "ASN00064008")
        ),
    ],
)
def test_a_warmer_garden_never_waits_longer(reference, station, steps):
    made = read_record(reference, station)
    recent = made.dates >= np.datetime64("1985-02-01")
    made = replace(made, dates=made.dates[recent], tmin_c=made.tmin_c[recent])
    assert_never_waits_longer(made, STEPS[steps], SOUTH if station.startswith("ASN") else NORTH, "best")


@pytest.mark.parametrize("station", ["USW00012960", "USW00094728"])
def test_a_warmer_garden_never_waits_longer_where_the_years_are_chosen_by_a_hair(reference, station):
    """Chosen at each garden's own threshold, 36 °F at the first would open 16 days before 35 °F."""
    assert_never_waits_longer(read_record(reference, station), STEPS["28 to 36 °F"], NORTH, "normal")


@in_steps
@pytest.mark.parametrize("kind", [pytest.param("best", marks=pytest.mark.slow), "normal", "empirical"])
def test_a_warmer_garden_never_waits_longer_in_a_made_up_record(kind, steps):
    assert_never_waits_longer(record(20), STEPS[steps], NORTH, kind)


DAYS = np.arange(SLOTS)


def risk_at(threshold_c):
    """Give the risk by day where each degree moves the last frost by 4 days; sd 12 days."""
    return stats.norm.sf(DAYS, loc=265 + 4 * threshold_c, scale=12)


def known(threshold_c, **bounds):
    return make_curve(risk_at(threshold_c), threshold_c=threshold_c, **bounds)


def bounded(threshold_c):
    return known(threshold_c, low=risk_at(threshold_c) ** 2, high=np.sqrt(risk_at(threshold_c)))


@pytest.mark.parametrize("sd_c", [0.3, 1.0, 2.0])
def test_the_blurred_risk_is_the_mean_over_the_thresholds_that_may_be(sd_c):
    # a normal date whose mean is normal: both variances add
    expected = stats.norm.sf(DAYS, loc=265 + 4 * 0.5, scale=np.hypot(12, 4 * sd_c))
    assert blur_curve(known, 0.5, sd_c).risk == pytest.approx(expected, abs=2e-4)


def test_bounds_are_blurred_as_the_risk_is():
    curve = blur_curve(bounded, 0.5, 1.0)
    for day in (240, 262, 280):
        mean = integrate.quad(
            lambda off, day=day: stats.norm.pdf(off) * risk_at(0.5 + off)[day] ** 2, -8, 8, epsabs=1e-9
        )[0]
        assert curve.low[day] == pytest.approx(mean, abs=2e-4)
    assert (curve.low <= curve.risk + 1e-12).all()
    assert (curve.risk <= curve.high + 1e-12).all()


def test_a_curve_without_bounds_has_none_when_blurred():
    curve = blur_curve(known, 0.5, 1.0)
    assert (curve.low, curve.high) == (None, None)


def test_a_sure_offset_asks_for_one_curve_and_leaves_it():
    asked = []
    curve = blur_curve(lambda threshold_c: asked.append(threshold_c) or known(threshold_c), -1.0, 0.0)
    assert asked == [-1.0]
    assert curve.risk.tolist() == risk_at(-1.0).tolist()


def test_the_middle_threshold_names_the_curve_and_is_asked_for_once():
    asked = []
    curve = blur_curve(lambda threshold_c: asked.append(threshold_c) or known(threshold_c), 1.0, 0.5)
    assert len(asked) == NODES == len({round(threshold_c, 9) for threshold_c in asked})
    assert np.mean(asked) == pytest.approx(1.0)
    assert curve.threshold_c == 1.0


def test_a_blurred_curve_still_falls():
    def ragged(threshold_c):
        rng = np.random.default_rng(round(abs(threshold_c) * 1e6))
        return make_curve(np.clip(risk_at(threshold_c) + rng.normal(0, 1e-3, SLOTS), 0, 1))

    risk = blur_curve(ragged, 0.0, 1.0).risk
    assert (np.diff(risk) <= 0).all()
    assert ((risk >= 0) & (risk <= 1)).all()


def test_more_doubt_means_later_dates_at_a_small_risk_and_earlier_ones_at_a_large():
    sure, unsure = (blur_curve(known, 0.0, sd_c) for sd_c in (0.0, 2.0))
    assert unsure.day_at_risk(0.05) > sure.day_at_risk(0.05) + 2
    assert unsure.day_at_risk(0.95) < sure.day_at_risk(0.95) - 2
    assert unsure.day_at_risk(0.5) == pytest.approx(sure.day_at_risk(0.5), abs=0.1)


def test_an_uncertain_threshold_averages_the_sites_curve_alone():
    made = record()
    sure, unsure = (know_site(made, 0.0, NORTH, threshold_sd_c=sd_c) for sd_c in (0.0, 1.5))
    points, weights = np.polynomial.hermite_e.hermegauss(NODES)
    curves = [know_site(made, 1.5 * point, NORTH, bounds=False).curve.risk for point in points]
    assert unsure.curve.risk == pytest.approx(np.average(curves, axis=0, weights=weights), abs=1e-9)
    assert (unsure.years, unsure.weather.last_day) == (sure.years, sure.weather.last_day)
