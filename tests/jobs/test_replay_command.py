"""The replay of past springs, end to end."""

from __future__ import annotations


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
    assert answer["habit"]["risk"] is None


def test_the_table_reads_well(run, samples):
    done = run("replay", samples / "oskelmere.dly", "--offset", "-2F", "--years", "1990-2020", "--seed", "3")

    assert done.status == 0
    assert "your limit" in done.out
    assert "The trade's habit" in done.out
    assert max(map(len, done.out.splitlines())) <= 110


def test_too_few_springs_are_refused(run, samples):
    done = run("replay", samples / "oskelmere.dly", "--years", "2010-2018", "--format", "json")

    assert done.status == 2
    assert "too few" in done.json["error"]["what"]
