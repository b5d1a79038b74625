"""The commands that look at a record, end to end."""

from __future__ import annotations

import csv
import io
import json

import numpy as np
import pytest


@pytest.fixture
def record(samples):
    return samples / "oskelmere.dly"


def test_a_file_that_states_its_unit_is_read_by_its_own_word(run, record):
    assert run("record", record, "--unit", "F").out == run("record", record).out != ""


def test_the_curve_answer_holds_what_it_promises(run, record):
    answer = run("curve", record, "--threshold", "32F", "--format", "json").json

    assert set(answer) >= {"levels", "frost_share", "kind", "seasons_used", "seasons_unknown", "seasons"}
    assert {level["season"] for level in answer["levels"]} == {"spring", "autumn"}
    assert all(set(level) >= {"season", "threshold_c", "risk", "date"} for level in answer["levels"])
    assert all(set(row) >= {"threshold_c", "season", "year", "state", "date"} for row in answer["seasons"])
    states = [row["state"] for row in answer["seasons"] if row["season"] == "spring"]
    assert (states.count("frost") + states.count("none"), states.count("unknown")) == (
        answer["seasons_used"],
        answer["seasons_unknown"],
    )


def test_levels_stand_in_the_order_of_the_published_normals(run, record):
    levels = run("curve", record, "--threshold", "32F", "--format", "json").json["levels"]

    spring = [level["date"] for level in levels if level["season"] == "spring"]
    autumn = [level["date"] for level in levels if level["season"] == "autumn"]

    assert [level["risk"] for level in levels[:9]] == [0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9]
    assert spring == sorted(spring, reverse=True)
    assert autumn == sorted(autumn)


def test_several_thresholds_never_cross(run, record):
    levels = run("curve", record, "--season", "spring", "--format", "json").json["levels"]
    thresholds = sorted({level["threshold_c"] for level in levels})

    for risk in (0.1, 0.5, 0.9):
        dates = [
            level["date"]
            for t in thresholds
            for level in levels
            if (level["threshold_c"], level["risk"]) == (t, risk)
        ]
        assert dates == sorted(dates)


@pytest.mark.parametrize("kind", ["empirical", "normal", "student", "skewed", "smooth"])
def test_a_kind_is_used_when_named(run, record, kind):
    answer = run(
        "curve", record, "--threshold", "32F", "--season", "spring", "--kind", kind, "--format", "json"
    ).json

    assert answer["kind"] == kind


def test_years_keep_only_their_seasons(run, record):
    answer = run("curve", record, "--years", "1981-2010", "--threshold", "32F", "--format", "json").json

    assert {row["year"] for row in answer["seasons"]} == set(range(1981, 2011))


def test_the_csv_holds_the_same_levels_as_the_json(run, record):
    rows = list(csv.DictReader(io.StringIO(run("curve", record, "--format", "csv").out)))
    levels = run("curve", record, "--format", "json").json["levels"]

    assert [
        (row["season"], float(row["threshold_c"]), float(row["risk"]), row["date"] or None) for row in rows
    ] == [(level["season"], level["threshold_c"], level["risk"], level["date"]) for level in levels]


def test_the_text_shows_tables_and_a_chart(run, record):
    out = run("curve", record).out

    assert "Last spring frost" in out
    assert "First autumn frost" in out
    assert "Days between the two" in out
    assert "█" in out
    assert max(map(len, out.splitlines())) <= 102


@pytest.mark.parametrize("suffix", [".png", ".svg"])
def test_a_chart_is_written(run, record, tmp_path, suffix):
    target = tmp_path / f"chart{suffix}"

    done = run("curve", record, "--threshold", "32F", "--chart", target)

    assert done.status == 0
    assert target.read_bytes()[:4] in {b"\x89PNG", b"<svg"}
    assert [path.name for path in tmp_path.iterdir()] == [target.name]


def test_a_chart_of_another_kind_is_refused(run, record, tmp_path):
    assert run("curve", record, "--threshold", "32F", "--chart", tmp_path / "chart.gif").status == 2


def test_too_few_seasons_are_refused(run, record):
    done = run("curve", record, "--years", "2001-2005")

    assert done.status == 2
    assert "too few" in done.err


def test_the_summary_of_a_record_agrees_with_the_list_of_its_traps(run, record):
    """data_samples/README.md lists them: 13 flagged minima, one plain error, a gap of 49 days."""
    answer = run("record", record, "--format", "json").json

    assert answer["flagged"] == 13
    assert [suspect["date"] for suspect in answer["suspect"]] == ["1994-06-16"]
    assert answer["longest_gap"] == {"from": "1978-04-03", "to": "1978-05-21", "days": 49}
    assert (answer["first"], answer["last"]) == ("1965-08-01", "2026-03-31")


def test_the_summary_reads_well(run, record):
    out = run("record", record).out

    assert "1994-06-16" in out
    assert "49 days, 1978-04-03 to 1978-05-21" in out


def test_suspects_can_be_overruled(run, record):
    kept = run(
        "curve", record, "--threshold", "32F", "--season", "spring", "--keep-suspects", "--format", "json"
    ).json
    left = run("curve", record, "--threshold", "32F", "--season", "spring", "--format", "json").json

    def date(answer):
        return next(row["date"] for row in answer["seasons"] if row["year"] == 1994)

    assert (date(kept), date(left)) == ("1994-06-16", "1994-04-10")


def test_the_garden_table_is_read_by_its_own_unit(run, samples):
    answer = run("record", samples / "hollin_bank.csv", "--format", "json")

    assert answer.status == 0
    assert answer.json["first"] == "2025-02-01"


def test_json_never_holds_a_number_that_is_none(run, record):
    for command in ("record", "curve"):
        json.loads(run(command, record, "--format", "json").out, parse_constant=pytest.fail)


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


def test_a_threshold_that_never_comes_has_a_test_but_no_pace(run, warming):
    asked = ("curve", warming, "--threshold", "-40C", "--season", "spring")

    assert "1931-2020: too few dates to tell; Mann-Kendall p 1.000, 90 known" in run(*asked).out
    assert run(*asked, "--format", "json").json["trend"]["days_per_decade"] is None
