"""The trend and the choice of years, end to end."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest


@pytest.fixture(scope="module")
def warming(tmp_path_factory):
    """Write ninety invented years whose nights warm by half a degree a decade."""
    days = np.arange("1930-08-01", "2020-08-01", dtype="datetime64[D]")
    years = (days - days[0]).astype(int) / 365.25
    noise = np.random.default_rng(4).normal(0, 3, days.size)
    tmin_c = np.round(3 + 12 * np.cos(2 * np.pi * years) + 0.05 * years + noise, 1)
    path = tmp_path_factory.mktemp("records") / "warming.csv"
    path.write_text("date,tmin_c\n" + "\n".join(f"{d},{t}" for d, t in zip(days, tmin_c, strict=True)))
    return path


def test_the_curves_carry_their_trend_and_their_years(run, warming):
    answer = run("curve", warming, "--threshold", "0C", "--threshold", "-2C", "--format", "json").json

    assert [curve["years_basis"] for curve in answer["curves"]] == ["trend"] * 4
    for curve in answer["curves"]:
        assert set(curve["trend"]) == {
            "seasons", "first_year", "last_year", "dates", "days_per_decade", "low", "high", "mann_kendall"
        }  # fmt: skip
        assert (curve["trend"]["days_per_decade"] < 0) == (curve["season"] == "spring")
        assert curve["trend"]["mann_kendall"]["p"] < 0.001
    assert (answer["years_basis"], answer["trend"]) == ("trend", answer["curves"][0]["trend"])
    assert [side["season"] for side in answer["years"]] == ["spring", "autumn"]
    for side in answer["years"]:
        assert [score["basis"] for score in side["scores"]] == ["all", "recent", "trend"]
        assert side["seasons_judged"] in {59, 60}
        assert "their trend" in side["reason"]


@pytest.mark.parametrize(
    ("options", "basis", "seasons"),
    [
        (("--basis", "best"), "trend", 90),
        (("--basis", "all"), "all", 90),
        (("--basis", "recent"), "recent", 30),
        (("--basis", "trend"), "trend", 90),
        (("--years", "1941-2020"), "all", 80),
        (("--years", "1941-2020", "--basis", "best"), "trend", 80),
        (("--years", "1951-1985", "--basis", "recent"), "recent", 30),
    ],
)
def test_the_years_are_those_asked_for(run, warming, options, basis, seasons):
    answer = run(
        "curve", warming, "--season", "spring", "--threshold", "0C", *options, "--format", "json"
    ).json

    assert (answer["years_basis"], answer["seasons_used"]) == (basis, seasons)


def test_the_text_shows_the_trend_of_both_sides_with_its_evidence(run, warming):
    out = run("curve", warming, "--threshold", "0C", "--threshold", "-2C").out

    assert out.count("over the years") == 2
    for side, way in (("Spring", "earlier"), ("Autumn", "later")):
        block = out.partition(f"{side} dates of 0 °C over the years\n")[2].partition("\n\n")[0]
        assert f"days {way} a decade (95 %: " in block
        assert "Mann-Kendall p under 0.001" in block
        assert " ".join(block.split()).endswith("better than all years before them did.")
    assert max(map(len, out.splitlines())) <= 102


def test_a_record_without_a_clear_trend_says_that_all_its_springs_are_used(run, samples):
    out = run("curve", samples / "oskelmere.dly", "--threshold", "32F", "--season", "spring").out

    assert "Mann-Kendall p 0." in out
    assert "Curves: all known springs; " in out


def test_the_lengths_of_the_season_rest_on_the_same_years(run, warming):
    middle = {
        basis: next(
            row["days"]
            for row in run("curve", warming, "--threshold", "0C", "--basis", basis, "--format", "json").json[
                "season_lengths"
            ]
            if row["chance"] == 0.5
        )
        for basis in ("all", "recent", "trend")
    }

    assert middle["all"] < middle["recent"] < middle["trend"]


@pytest.fixture
def today(run, warming):
    def _today(*more):
        return run("today", "--record", warming, "--on", "2020-04-20", "--climate-only", *more)

    return _today


def test_the_morning_says_which_years_it_rests_on_and_why(today):
    out, answer = " ".join(today().out.split()), today("--format", "json").json["climate"]

    assert f"- Years: {answer['reason']}" in out
    assert (answer["years_basis"], answer["best_basis"], answer["threshold_c"]) == ("trend", "trend", 0.0)
    assert answer["seasons_judged"] == 60
    assert answer["trend"]["days_per_decade"] < -1


def test_years_asked_for_reach_the_morning_and_are_kept_apart(today):
    dates = {basis: today("--basis", basis, "--format", "json").json for basis in ("all", "recent", "trend")}
    again = today("--basis", "all", "--format", "json").json

    assert [answer["climate"]["years_basis"] for answer in dates.values()] == ["all", "recent", "trend"]
    assert {answer["climate"]["best_basis"] for answer in dates.values()} == {"trend"}
    middle = {basis: answer["curve"]["median_date"] for basis, answer in dates.items()}
    assert middle["all"] > middle["recent"] > middle["trend"]
    assert again == dates["all"]


def test_recent_springs_are_not_told_as_the_whole_record(today):
    out = " ".join(today("--basis", "recent").out.split())

    assert "its last 30 known springs 1991-2020" in out


def test_all_years_take_no_line_of_the_morning_but_their_place_in_the_answer(run, samples):
    asked = ("today", "--record", samples / "oskelmere.dly", "--on", "2026-04-20", "--climate-only")

    assert "Years:" not in run(*asked).out
    assert run(*asked, "--format", "json").json["climate"]["years_basis"] == "all"


def test_without_a_record_to_rest_on_there_is_no_climate(run, tmp_path):
    short = tmp_path / "short.csv"
    short.write_text("date,tmin_c\n2019-04-01,1.0\n2019-04-02,-1.0\n")

    answer = run("today", "--record", short, "--hemisphere", "north", "--on", "2026-04-20", "--climate-only",
                 "--format", "json").json  # fmt: skip

    assert answer["climate"] is None


@pytest.mark.parametrize("command", ["today", "curve"])
def test_years_that_there_are_not_are_refused(run, warming, command):
    asked = ("--record", warming) if command == "today" else (warming,)

    assert run(command, *asked, "--basis", "some").status == 2


def test_a_morning_with_a_kept_curve_loads_neither_scipy_nor_pandas(warming, today):
    today()
    probe = (
        "import sys; from frostgate.cli.main import main; "
        f"main(['today', '--record', {str(warming)!r}, '--on', '2020-04-20', '--climate-only']); "
        "print([name for name in ('pandas', 'scipy', 'frostgate.climate.years') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)

    assert "Years: all known springs" in done.stdout
    assert done.stdout.splitlines()[-1] == "[]"


def test_a_threshold_that_never_comes_has_a_test_but_no_pace(run, warming):
    asked = ("curve", warming, "--threshold", "-40C", "--season", "spring")

    assert "1931-2020: too few dates to tell; Mann-Kendall p 1.000, 90 known" in run(*asked).out
    assert run(*asked, "--format", "json").json["trend"]["days_per_decade"] is None
