"""The replay of past springs, end to end."""

from __future__ import annotations

import datetime as dt

import pytest

from frostgate.sources.records import read_minima


def test_the_answer_holds_what_it_promises(run, samples):
    answer = run("replay", samples / "oskelmere.dly", "--offset", "-2F", "--format", "json").json

    rows = answer["tolerances"]
    assert [row["risk"] for row in rows] == [0.02, 0.05, 0.1, 0.2, 0.3, 0.5]
    for row in rows:
        assert set(row) >= {
            "risk", "stated_mean", "realised", "realised_low", "realised_high", "springs", "opening_median",
            "days_gained", "days_gained_perfect",
        }  # fmt: skip
        assert row["realised_low"] <= row["realised"] <= row["realised_high"]
        assert len(row["wrong_years"]) == round(row["realised"] * row["springs"])
        assert [spring["year"] for spring in row["wrong"]] == row["wrong_years"]
        assert 0.0 <= row["reliability"]["brier"] <= 1.0
    assert answer["habit"]["risk"] is None


def test_a_wrong_spring_tells_what_the_record_itself_shows(run, samples):
    answer = run("replay", samples / "oskelmere.dly", "--offset", "-2F", "--format", "json").json
    minima = read_minima(samples / "oskelmere.dly")
    observed_c = dict(zip(minima.dates.astype(str), minima.tmin_c, strict=True))
    wrong = answer["tolerances"][-1]["wrong"]

    assert wrong
    for spring in wrong:
        opened, until = dt.date.fromisoformat(spring["opened"]), dt.date(spring["year"], 7, 31)
        after = [str(opened + dt.timedelta(days=day)) for day in range(1, (until - opened).days + 1)]
        frosts = {day: observed_c[day] for day in after if observed_c.get(day, 9.0) <= 1.1}  # 32 °F + 2 °F
        assert spring["frosts_after"] == len(frosts)
        assert spring["first_frost"] == min(frosts)
        assert spring["tmin_c"] == min(frosts.values()) == frosts[spring["frost"]]
        assert spring["garden_c"] == pytest.approx(spring["tmin_c"] - 2 / 1.8, abs=0.051)


def test_the_table_reads_well(run, samples, tmp_path):
    chart = tmp_path / "reliability.svg"
    done = run("replay", samples / "oskelmere.dly", "--offset", "-2F", "--years", "1990-2020", "--seed", "3",
               "--risk", "40%", "--chart", chart)  # fmt: skip

    assert done.status == 0
    assert done.err == f"Chart written to {chart}\n"
    assert "Does the stated risk come true?" in chart.read_text(encoding="utf-8")
    assert "The springs that went wrong at a limit of 40 %, and what came" in done.out
    assert " °F" in done.out
    assert "your limit" in done.out
    assert "The trade's habit" in done.out
    assert max(map(len, done.out.splitlines())) <= 110


def test_too_few_springs_are_refused(run, samples):
    done = run("replay", samples / "oskelmere.dly", "--years", "2010-2018", "--format", "json")

    assert done.status == 2
    assert "too few" in done.json["error"]["what"]


def test_a_limit_at_which_none_went_wrong_says_so(run, samples):
    done = run("replay", samples / "oskelmere.dly", "--years", "2000-2012", "--risk", "1%")

    assert "At a limit of 1 % none of these springs went wrong." in done.out


@pytest.mark.parametrize("risk", ["0%", "51%", "ten"])
def test_a_risk_that_is_no_limit_is_refused(run, samples, risk):
    assert run("replay", samples / "oskelmere.dly", "--risk", risk).status == 2
