"""Past springs laid out, each by what the others know."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from frostgate.climate.fits import FITS
from frostgate.climate.frosts import last_frosts
from frostgate.errors import InputError, TooFewSeasonsError
from frostgate.model.records import DailyMinima, Station
from frostgate.proof.springs import lay_out_springs
from frostgate.seasons import NORTH

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
