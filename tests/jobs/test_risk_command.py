"""Choosing a limit of risk, end to end."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

RISKS = [0.02, 0.05, 0.1, 0.2, 0.3, 0.5]


@pytest.fixture
def record(tmp_path: Path) -> Callable[[int], Path]:
    """Return a function that writes a record of so many whole seasons."""

    def _record(seasons: int, *, warmer_c: float = 0.0) -> Path:
        days = np.arange("1990-08-01", f"{1990 + seasons}-08-01", dtype="datetime64[D]")
        yearly = np.cos((days - days[0] - 165).astype(int) / 365.25 * 2 * np.pi)
        tmin_c = 6 - 9 * yearly + np.random.default_rng(4).normal(0, 3, days.size) + warmer_c
        file = tmp_path / f"{seasons}.csv"
        rows = [f"{day},{value:.1f}" for day, value in zip(days, tmin_c, strict=True)]
        file.write_text("\n".join(["DATE,TMIN", *rows]) + "\n", encoding="utf-8")
        return file

    return _record


def test_the_answer_lays_limits_side_by_side(run, samples):
    done = run("risk", samples / "oskelmere.dly", "--offset", "-2F", "--cost-per-day", "10", "--loss", "600",
               "--format", "json")  # fmt: skip

    answer = done.json
    assert done.status == 0
    assert done.err == ""
    assert [row["risk"] for row in answer["limits"]] == RISKS
    assert [row["curve_date"] for row in answer["limits"]] == sorted(
        (row["curve_date"] for row in answer["limits"]), reverse=True
    )
    for row in answer["limits"]:
        replay = row["replay"]
        assert row["bad_in_ten"] == pytest.approx(10 * row["risk"])
        assert row["chance_in_years"] == pytest.approx(1 - (1 - row["risk"]) ** 10, abs=1e-4)
        assert replay["realised_low"] <= replay["realised"] <= replay["realised_high"]
        cost = 10 * row["days_waited"] + 600 * replay["realised"]
        assert row["cost"] == pytest.approx(cost, abs=0.2)
    costs = answer["costs"]
    assert costs["recommended"] in RISKS
    assert costs["days_worth"] == 60.0
    assert 0.0 < costs["feed_or_wait"]["tolerance"] <= 0.5
    assert (answer["replay"]["springs"], answer["replay_missing"]) == (55, None)


def test_the_dates_by_the_curve_are_those_of_the_morning_without_a_forecast(run, samples):
    limits = run("risk", samples / "oskelmere.dly", "--offset", "-2F", "--format", "json").json["limits"]
    morning = run("today", "--record", samples / "oskelmere.dly", "--offset", "-2F", "--on", "2026-03-01",
                  "--climate-only", "--format", "json").json  # fmt: skip

    dates = {row["risk"]: row["date"][5:] for row in morning["by_risk"]}
    assert {row["risk"]: row["curve_date"] for row in limits}.items() <= dates.items()


def test_the_table_reads_well(run, record):
    done = run("risk", record(14), "--unit", "C", "--cost-per-day", "10", "--loss", "600",
               "--years-ahead", "25", "--damage-temp", "0C")  # fmt: skip

    assert done.status == 0
    assert "Damage at 0 °C or less in the garden; last frosts of 14 springs, 1991 to 2004" in done.out
    assert "in 25" in done.out
    assert re.search(r"^ 10 % .* 93 % .* to .*$", done.out, flags=re.M)  # 1 - 0.9^25 = 0.928
    assert "Recommended *" in done.out
    assert max(map(len, done.out.splitlines())) <= 110


def test_without_costs_nothing_is_recommended(run, record):
    done = run("risk", record(12), "--unit", "C")

    assert done.status == 0
    assert "Recommended" not in done.out
    assert "opens" in done.out


@pytest.mark.parametrize("form", ["text", "json"])
def test_too_few_springs_for_a_replay_still_give_the_curves_dates_and_why(run, record, form):
    done = run("risk", record(10), "--unit", "C", "--cost-per-day", "10", "--loss", "600", "--format", form)

    assert done.status == 0
    if form == "json":
        assert "only 10 springs are known" in done.json["replay_missing"]
        assert [row["replay"] for row in done.json["limits"]] == [None] * 6
        assert all(row["curve_date"] and row["cost"] for row in done.json["limits"])
        assert done.json["costs"]["recommended"] in RISKS
    else:
        assert "No replay: only 10 springs are known" in done.out
        assert "Recommended * " in done.out


def test_fewer_than_ten_springs_are_refused(run, record):
    done = run("risk", record(9), "--unit", "C", "--format", "json")

    assert done.status == 2
    assert "too few" in done.json["error"]["what"]


def test_a_limit_of_ones_own_is_shown_beside_the_others(run, record):
    answer = run("risk", record(10), "--unit", "C", "--risk", "15%", "--risk", "10%", "--format", "json").json

    assert [row["risk"] for row in answer["limits"]] == sorted([*RISKS, 0.15])


def test_the_seed_is_of_the_replays_forecasts(run, record):
    file = record(14)
    answers = [
        run("risk", file, "--unit", "C", "--seed", seed, "--format", "json").json for seed in (1, 1, 2)
    ]
    days = [[row["replay"]["days_gained"] for row in answer["limits"]] for answer in answers]

    assert days[0] == days[1]
    assert days[0] != days[2]


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["--cost-per-day", "10"], "Give both --cost-per-day and --loss"),
        (["--loss", "600"], "Give both --cost-per-day and --loss"),
        (["--cost-per-day", "0", "--loss", "600"], "the cost of a day's delay is a number above 0"),
        (["--cost-per-day", "10", "--loss", "-1"], "the loss of a flush is a number above 0"),
        (["--cost-per-day", "nan", "--loss", "600"], "the cost of a day's delay is a number above 0"),
        (["--cost-per-day", "ten", "--loss", "600"], "not a valid float"),
        (["--risk", "60%"], "a tolerance lies above 0 and at 50 % or less"),
        (["--risk", "0%"], "a tolerance lies above 0 and at 50 % or less"),
        (["--years-ahead", "0"], "range"),
    ],
)
def test_numbers_that_cannot_be_meant_are_refused_before_the_record_is_read(run, given, said):
    done = run("risk", "nowhere.csv", *given)

    assert done.status == 2
    assert said in done.err


def test_the_readme_shows_the_choice_as_the_program_writes_it(run, monkeypatch):
    root = Path(__file__).parents[2]
    readme = (root / "README.md").read_text(encoding="utf-8")
    asked = re.search(r"```sh\nfrostgate (risk .*?)```\n\n```text\n(.*?)```", readme, flags=re.S)
    monkeypatch.chdir(root)

    written = run(*asked[1].replace("\\\n", " ").split()).out

    assert [line.rstrip() for line in written.splitlines()] == asked[2].splitlines()


def test_the_unit_is_as_asked(run, record):
    stated = ("risk", record(12), "--unit", "C", "--damage-temp", "32F")
    asked = run(*stated, "--show", "C")

    assert (asked.status, asked.err) == (0, "")
    assert "at 0 °C or less" in asked.out
    assert "at 32 °F or less" in run(*stated).out
