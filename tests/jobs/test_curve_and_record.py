"""The commands that look at a record, end to end."""

from __future__ import annotations

import csv
import io
import json

import pytest


@pytest.fixture
def record(samples):
    return samples / "oskelmere.dly"


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
