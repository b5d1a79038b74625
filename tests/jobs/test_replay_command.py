"""The replay of past springs, end to end."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from frostgate.garden.journal import Journal
from frostgate.sources.records import read_minima
from tests.journal_cases import forecast, minimum


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


def write_log(path, minima, years):
    """Write a log whose forecasts of seven nights, made each morning of March to June, come true."""
    came = dict(zip(minima.dates.astype(object), minima.tmin_c.tolist(), strict=True))
    lines = ["issued_at,morning,forecast_c,observed_c"]
    for year in years:
        for ago in range(122):
            day = dt.date(year, 3, 1) + dt.timedelta(days=ago)
            for ahead in range(1, 8):
                morning = day + dt.timedelta(days=ahead)
                if np.isfinite(came.get(morning, np.nan)):
                    lines.append(f"{day}T06:00,{morning},{came[morning]},")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def test_springs_whose_forecasts_were_kept_are_replayed_by_them(run, samples, tmp_path):
    record, log = samples / "oskelmere.dly", tmp_path / "log.csv"
    write_log(log, read_minima(record), (2023, 2024))
    drawn = run("replay", record, "--format", "json").json
    done = run("replay", record, "--forecast-log", log, "--format", "json")
    assert done.status == 0, done.json
    assert done.json["springs_with_kept_forecasts"] == 2
    assert drawn["springs_with_kept_forecasts"] == 0
    assert done.json["tolerances"][0]["springs"] == drawn["tolerances"][0]["springs"]
    shown = run("replay", record, "--forecast-log", log).out
    assert "In 2 springs the forecasts are those that were kept.\nThe others are drawn, not archived" in shown
    assert max(map(len, shown.splitlines())) <= 110


def test_the_forecasts_in_a_gardens_journal_are_kept_ones_too(run, samples, tmp_path):
    record, path = samples / "oskelmere.dly", tmp_path / "garden.journal.sqlite"
    with Journal.open(path) as journal:
        journal.add(minimum())
    empty = run("replay", record, "--forecast-log", path)
    assert (empty.status, "no forecast in the journal" in empty.err) == (2, True)
    with Journal.open(path) as journal:
        journal.add(forecast("2024-04-12T06:00", {"2024-04-13": 1.5, "2024-04-14": 3.0}))
    done = run("replay", record, "--forecast-log", path, "--format", "json")
    assert done.json["springs_with_kept_forecasts"] == 1


def test_a_log_that_is_not_there_is_named(run, samples):
    done = run("replay", samples / "oskelmere.dly", "--forecast-log", "none.journal.sqlite")
    assert done.status == 2
    assert "none.journal.sqlite: no such file" in done.err


def test_a_log_of_other_years_is_named(run, samples, tmp_path):
    log = tmp_path / "log.csv"
    log.write_text("issued_at,morning,forecast_c,observed_c\n1950-04-10T06:00,1950-04-11,2.5,\n")
    done = run("replay", samples / "oskelmere.dly", "--forecast-log", log)
    assert done.status == 2
    assert "no forecast in the log is of a spring that is replayed" in done.err
    assert "log.csv" in done.err


def test_the_table_reads_well(run, samples, tmp_path):
    chart = tmp_path / "reliability.svg"
    done = run("replay", samples / "oskelmere.dly", "--offset", "-2F", "--years", "1990-2020", "--seed", "3",
               "--risk", "40%", "--chart", chart)  # fmt: skip

    assert done.status == 0
    assert done.err == f"Chart written to {chart}\n"
    assert "Does the stated risk come true?" in chart.read_text(encoding="utf-8")
    assert "The springs that went wrong at a limit of 40 %, and what came" in done.out
    assert " °F" in done.out
    assert "came true: springs with a damaging frost after" in done.out
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
