"""The package as a scientist uses it: `import frostgate as fg`."""

from __future__ import annotations

import datetime as dt
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import frostgate as fg
from frostgate.seasons import NORTH
from tests.gate_cases import make_seen, make_weather

SAMPLES = Path(__file__).parents[1] / "data_samples"
ASKED = "2026-04-22 06:00"


@pytest.fixture(scope="module")
def record() -> fg.DailyMinima:
    return fg.read_minima(str(SAMPLES / "oskelmere.dly"))


@pytest.fixture(scope="module")
def site(record: fg.DailyMinima) -> fg.SiteClimate:
    return fg.site(record, damage="32F", offset="-2F")


@pytest.fixture(scope="module")
def forecast() -> fg.Forecast:
    return fg.read_forecast(str(SAMPLES / "forecast_frost.json"))


def series(values, first="2026-04-01", **index):
    return pd.Series(values, index=pd.date_range(first, periods=len(values), **index), dtype=float)


@pytest.mark.parametrize("name", fg.__all__)
def test_all_that_is_exported_is_listed_loaded_when_used_and_documented(name):
    assert name in dir(fg)
    assert getattr(fg, name).__doc__


def test_what_is_not_exported_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute 'no_such_thing'"):
        _ = fg.no_such_thing


def loaded_by(program, *heavy):
    probe = f"import sys; {program}; print([name for name in {heavy!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)
    return done.stdout.strip()


def test_the_package_alone_loads_nothing_and_the_library_no_pandas_nor_charts():
    assert loaded_by("import frostgate", "numpy", "frostgate.api") == "[]"
    assert loaded_by("import frostgate as fg; fg.site", "pandas", "altair", "pydantic", "scipy.stats") == "[]"


def test_numbers_are_read_as_growers_write_them():
    written = fg.policy(damage="30F", offset="-2F", offset_spread="1.5F", forecast_offset="-3 F", risk="5%")
    assert written.damage_temp_c == pytest.approx(-10 / 9)
    assert written.offset_c == pytest.approx(-10 / 9)
    assert (written.offset_sd_c, written.forecast_offset_c) == pytest.approx((1.5 / 1.8, -3 / 1.8))
    assert written.risk_tolerance == 0.05
    stated = fg.policy(written, damage="-1.5C", exposed_from=2, max_age=24)
    assert (stated.damage_temp_c, stated.first_exposed_days, stated.max_age_hours) == (-1.5, 2, 24)
    assert stated.offset_c == written.offset_c


@pytest.mark.parametrize("degrees", [32, -2.5, 0, "32", np.nan, np.float64(1.5)])
@pytest.mark.parametrize("name", ["damage", "offset", "offset_spread", "forecast_offset"])
def test_degrees_without_their_unit_are_refused_wherever_a_number_of_the_gate_is_stated(
    record, site, name, degrees
):
    for state in (fg.policy, lambda **n: fg.site(record, **n), lambda **n: fg.ask(site, now=ASKED, **n),
                  lambda **n: fg.replay(record, **n)):  # fmt: skip
        with pytest.raises(fg.InputError, match=r"with its unit.*Write it as (32F or as 0C|-2F or as -1C)"):
            state(**{name: degrees})


@pytest.mark.parametrize("degrees", [32, 0.0, "32", np.nan])
def test_a_threshold_without_its_unit_is_refused(record, degrees):
    for find in (fg.last_frosts, fg.first_frosts, lambda record, one: fg.levels(record, ["32F", one])):
        with pytest.raises(fg.InputError, match="not a temperature with its unit"):
            find(record, degrees)


def test_a_number_that_no_policy_has_is_named():
    with pytest.raises(TypeError, match="no such number: offest; the numbers are risk, damage, offset"):
        fg.policy(offest="-2F")


def test_a_series_without_a_known_minimum_says_nothing_of_frosts():
    for empty in (fg.minima(series([])), fg.minima(series([np.nan, np.nan]).astype("Float64"))):
        assert "0 minima" in repr(empty)
        with pytest.raises(fg.FrostgateError):
            fg.site(empty, hemisphere="north")
        with pytest.raises(fg.FrostgateError):
            fg.last_frosts(empty)


def test_a_series_becomes_the_record_it_came_from(record):
    again = fg.minima(record.to_series(), station=record.station.id)
    assert np.array_equal(again.tmin_c, record.tmin_c, equal_nan=True)
    assert np.array_equal(again.dates, record.dates)
    assert fg.minima(record.to_series()[::-1]).dates[0] == record.dates[0]  # in any order


@pytest.mark.parametrize(("unit", "value"), [("C", -2.2), ("F", 28.0), ("tenths-C", -22.0)])
def test_a_series_states_its_unit(unit, value):
    assert fg.minima(series([value, np.nan]), unit=unit).tmin_c[0] == -2.2


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (pd.Series([1.0, 2.0]), "an index of days without a time zone"),
        (series([1.0], tz="Europe/London"), "an index of days without a time zone"),
        (pd.Series([1.0], index=pd.DatetimeIndex([pd.NaT])), "an index of days without a time zone"),
        (series([1.0, 2.0], freq="h"), "one minimum a day, without a time"),
        (pd.concat([series([1.0]), series([2.0])]), "a day stands twice"),
        (series([28.0, 75.0]), "no place on earth has such a minimum, in C: '75 on 2026-04-02"),  # °F, surely
        (series([1.0, -999.9]), "no place on earth"),
        (series([np.inf]), "no place on earth"),
        (series([1.0]).astype(str).replace("1.0", "cold"), "the minima are no numbers"),
    ],
    ids=[
        "numbers",
        "zone",
        "no day",
        "hours",
        "twice",
        "fahrenheit",
        "missing by a number",
        "infinite",
        "words",
    ],
)
def test_a_series_that_is_no_record_of_days_is_refused(given, said):
    with pytest.raises(fg.InputError, match=said):
        fg.minima(given)


def test_a_series_of_another_unit_is_refused():
    with pytest.raises(fg.InputError, match="no such unit"):
        fg.minima(series([1.0]), unit="K")


def test_files_are_named_by_a_string_or_a_path(record, forecast):
    assert fg.read_minima(SAMPLES / "oskelmere.dly").known == record.known
    assert fg.read_forecast(SAMPLES / "forecast_frost.json").dates.size == forecast.dates.size
    with pytest.raises(fg.InputError, match="no such file"):
        fg.read_minima("nowhere.dly")
    with pytest.raises(fg.InputError, match="no such file"):
        fg.read_forecast("nowhere.json")


def test_a_site_is_asked_with_the_numbers_it_was_made_for(site, forecast):
    answer = fg.ask(site, forecast, now=ASKED)
    assert answer.policy == site.policy == fg.policy(damage="32F", offset="-2F")
    assert answer.verdict.state == "shut"
    assert fg.ask(site, forecast, now=dt.datetime.fromisoformat(ASKED)).verdict == answer.verdict
    assert fg.ask(site, forecast, now=ASKED, risk="50%").verdict.risk_today == answer.verdict.risk_today
    assert fg.ask(site, now=ASKED).verdict.state == "unknown"  # no forecast is never safe
    assert fg.ask(site, now="2026-07-20 06:00", climate_only=True).verdict.state == "open"


@pytest.mark.parametrize("now", ["2026-03-31", "2026-06-01"])
def test_a_forecast_for_another_time_is_refused_as_the_command_refuses_it(site, forecast, now):
    with pytest.raises(fg.InputError, match=f"a forecast for another time than {now}"):
        fg.ask(site, forecast, now=now)
    assert fg.ask(site, forecast, now=now, climate_only=True).verdict.state != "unknown"


@pytest.mark.parametrize(
    ("numbers", "said"),
    [({"damage": "28F"}, "another station minimum"), ({"offset": "0F"}, "another station minimum"),
     ({"offset_spread": "2F"}, "another spread of the offset")],
)  # fmt: skip
def test_a_site_is_never_asked_by_a_curve_of_other_numbers(site, forecast, numbers, said):
    with pytest.raises(fg.InputError, match=said):
        fg.ask(site, forecast, now=ASKED, **numbers)
    with pytest.raises(fg.InputError, match=said):
        fg.ask(site, forecast, now=ASKED, policy=fg.policy(site.policy, **numbers))
    with pytest.raises(fg.InputError, match="does not tell for which numbers"):
        fg.ask(replace(site, policy=None), forecast, now=ASKED, policy=fg.policy(**numbers))


def test_damage_and_offset_that_leave_the_station_minimum_as_it_is_may_change_together(site, forecast):
    shifted = fg.ask(site, forecast, now=ASKED, damage="30F", offset="-4F")
    assert shifted.policy.station_threshold_c == pytest.approx(site.policy.station_threshold_c)


@pytest.mark.parametrize(
    "now", ["soon", "2026-04-22T06:00+02:00", dt.datetime(2026, 4, 22, 6, tzinfo=dt.UTC)]
)
def test_the_moment_is_the_gardens_local_time(site, now):
    with pytest.raises(fg.InputError, match=r"moment|local time"):
        fg.ask(site, now=now)


def test_an_uncertain_offset_blurs_the_curve(record, site):
    unsure = fg.site(record, site.policy, offset_spread="3F")
    assert unsure.curve.risk_after("06-01") > site.curve.risk_after("06-01")
    assert unsure.autumn is not None


def test_the_curve_as_a_series_is_the_risk_of_feeding_on_each_day(site):
    answer = fg.ask(site, now="2026-04-01 06:00", climate_only=True)
    by_date = answer.outlook.to_series()
    by_day = site.curve.to_series()
    assert by_day.index[0] == "08-01"
    assert by_day.size == 366
    for date in ("2026-04-22", "2026-05-10", "2026-06-01"):
        assert by_date[date] == pytest.approx(by_day[date[5:]]) == site.curve.risk_after(date[5:])
    bounds = site.curve.to_dataframe()
    assert (bounds["low"] <= bounds["risk"]).all()
    assert (bounds["risk"] <= bounds["high"]).all()


def test_frost_dates_and_forecasts_become_tables(record, forecast):
    frosts = fg.last_frosts(record, "28F")
    table = frosts.to_dataframe()
    assert table["date"].isna().tolist() == [state != "frost" for state in frosts.states]
    assert table.loc[2025, "date"] == pd.Timestamp(frosts.date(list(frosts.years).index(2025)))
    nights = forecast.to_dataframe()
    assert nights["tmin_c"].equals(forecast.to_series())
    assert nights.index[0] == pd.Timestamp(forecast.dates[0])


def test_frosts_of_either_side_and_hemisphere(record):
    assert fg.first_frosts(record, "0C").side == "autumn"
    assert fg.last_frosts(record).start == NORTH
    south = fg.last_frosts(record, hemisphere="south")
    assert south.start.month == 2
    with pytest.raises(fg.InputError, match="no such hemisphere"):
        fg.last_frosts(record, hemisphere="east")


def test_levels_agree_with_the_curves_they_are_read_from(record):
    kept = record.leave_out(fg.find_suspects(record).dates)
    table = fg.levels(kept, ["32F"], basis="all", unit="F")
    curve = fg.fit_curve(fg.last_frosts(kept, "32F"))
    assert table.loc[("spring", "32 °F")].tolist() == [curve.date_at(level) for level in table.columns]
    assert table.loc[("days between", "32 °F"), 0.5] == pytest.approx(173, abs=5)


@pytest.mark.parametrize(
    ("thresholds", "said"),
    [([], "no threshold is named"), (["500C"], "no place on earth")],
)
def test_levels_of_no_threshold_or_of_none_in_nature_are_refused(record, thresholds, said):
    with pytest.raises(fg.InputError, match=said):
        fg.levels(record, thresholds)


def test_a_replay_is_a_table_of_limits(record):
    past = fg.replay(record, years=(2006, 2025), tolerances=(0.1, 0.3), seed=2)
    table = past.to_dataframe()
    assert table.index.tolist() == [0.1, 0.3]
    assert (table["stated_mean"] <= table.index).all()


def test_a_mix_for_pots_and_for_a_garden():
    label = "First feed 17-5-9 soluble 4 tsp/gal"
    full = fg.mix(label, pots=10, per_pot="3 qt", bucket="3.5 gal")
    half = fg.mix(label, pots=10, per_pot="3 qt", bucket="3.5 gal", strength="50%")
    assert half.ppm["N"] == pytest.approx(full.ppm["N"] / 2, rel=0.02)
    garden = fg.read_garden(SAMPLES / "garden.toml")
    assert fg.mix(phase="wake-up", garden=garden, group="old plums").pots == 9
    with pytest.raises(fg.InputError, match="several groups of the garden suit this"):
        fg.mix(phase="wake-up", garden=garden)
    with pytest.raises(fg.InputError, match="pots are counted"):
        fg.mix(label, pots=0, per_pot="3 qt", bucket="3.5 gal")


def test_what_holds_arrays_is_shown_on_one_line(record, site, forecast):
    answer = fg.ask(site, forecast, now=ASKED)
    frosts = fg.last_frosts(record)
    past = fg.replay(record, years=(2006, 2025), tolerances=[0.1])
    shown = [record, site, forecast, answer, frosts, site.curve, site.autumn, site.weather, answer.outlook,
             fg.ask(site, now=ASKED).outlook, answer.outlook.seen, make_seen(), make_weather(), past,
             past.openings[0]]  # fmt: skip
    for one in shown:
        assert "\n" not in repr(one)
        assert len(repr(one)) <= 110, repr(one)
        assert "array" not in repr(one)


@pytest.mark.parametrize("now", ["2026-04-22", dt.date(2026, 4, 22), "2026-04-22 06:00"])
def test_a_day_alone_means_its_morning(site, now):
    assert fg.ask(site, now=now, climate_only=True).now == dt.datetime(2026, 4, 22, 6)


@pytest.mark.parametrize(
    ("ask", "what"),
    [(lambda _, record: fg.ask(record, now="2026-04-22"), "no site"),
     (lambda site, _: fg.ask(site, "forecast.json", now="2026-04-22"), "no forecast"),
     (lambda site, _: fg.ask(site, now=20260422), "not a moment"),
     (lambda site, _: fg.ask(site, now="2026-04-22", risk=None), "no number for risk"),
     (lambda *_: fg.policy(exposed_from=1.5), "whole days"),
     (lambda *_: fg.policy(exposed_from="soon"), "no number for exposed_from"),
     (lambda *_: fg.policy(max_age="two days"), "no number for max_age"),
     (lambda *_: fg.policy(offset="-2"), "Write it as -2F or as -1C"),
     (lambda site, _: site.curve.date_at(10), "no risk between 0 and 1"),
     (lambda site, _: site.curve.date_at("10%"), "Write 10 % as 0.10"),
     (lambda site, _: site.curve.risk_after("2026-05-10"), "Write month and day as 05-13"),
     (lambda *_: fg.say_reasons([], "K"), "no such unit of temperature"),
     (lambda *_: fg.minima([1, 2, 3]), "no series of minima"),
     (lambda *_: fg.mix("Feed 17-5-9 soluble 2 tsp/gal", pots=4, per_pot=3), "not a volume with its unit"),
     (lambda *_: fg.mix("Feed 17-5-9 soluble 2 tsp/gal", scoops=[5]), "not a volume with its unit")],
)  # fmt: skip
def test_what_cannot_be_meant_is_told_in_words(site, record, ask, what):
    with pytest.raises(fg.InputError, match=what):
        ask(site, record)
