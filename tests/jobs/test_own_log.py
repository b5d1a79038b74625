"""Mornings with a log: the forecast is kept, nights are closed, and the site's own errors take over."""

from __future__ import annotations

import datetime as dt
import subprocess
import sys

import numpy as np
import pytest

HEADER = "issued_at,morning,forecast_c,observed_c"


@pytest.fixture
def ask(run, samples, tmp_path):
    """Ask with the sample forecast of 22 April and a log."""

    def _ask(*more):
        return run(
            "today", "--record", samples / "oskelmere.dly", "--forecast", samples / "forecast_frost.json",
            "--on", "2026-04-22", "--offset", "-2F", "--forecast-log", tmp_path / "log.csv", *more,
        )  # fmt: skip

    return _ask


def write_past(path, mornings=60, too_warm_c=2.0, seed=1, place=None):
    """Write past mornings whose forecast, with the stated offset on it, ran too warm in the garden."""
    rng = np.random.default_rng(seed)
    lines = [HEADER + (",place" if place else "")]
    for back in range(mornings, 0, -1):
        morning = dt.date(2026, 4, 22) - dt.timedelta(days=back - 1)
        told_c = rng.normal(3, 3)
        came_c = told_c - 2 / 1.8 - too_warm_c + rng.normal(0, 1)
        issued = f"{morning - dt.timedelta(days=1)}T06:00"
        lines.append(f"{issued},{morning},{told_c:.1f},{came_c:.1f}" + (f",{place}" if place else ""))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def test_without_a_log_the_answer_has_no_errors_of_its_own(run, samples):
    answer = run("today", "--record", samples / "oskelmere.dly", "--on", "2026-04-22", "--format", "json")
    assert answer.json["own_errors"] is None


def test_the_first_morning_keeps_its_forecast_and_learns_nothing(ask, tmp_path):
    first = ask("--format", "json")
    assert first.json["own_errors"] == {
        "mornings": 0, "far_off": 0, "mean_error_c": None, "bias_weight": 0.0, "bias_c": 0.0,
        "spread_weight": 0.0, "spread_factor": 1.0,
    }  # fmt: skip
    lines = (tmp_path / "log.csv").read_text(encoding="utf-8").splitlines()
    assert lines[0] == HEADER
    assert len(lines) == 8
    assert lines[1].startswith("2026-04-22T06:00,2026-04-23,")


def test_a_second_question_of_the_same_morning_keeps_nothing_twice(ask, tmp_path):
    ask()
    before = (tmp_path / "log.csv").read_text(encoding="utf-8")
    ask()
    assert (tmp_path / "log.csv").read_text(encoding="utf-8") == before


def test_a_forecast_that_ran_too_warm_here_makes_the_nights_colder_and_says_so(ask, tmp_path):
    plain = ask("--format", "json").json
    write_past(tmp_path / "log.csv")
    learned, text = ask("--format", "json").json, ask().out
    own = learned["own_errors"]
    assert (own["mornings"], own["mean_error_c"]) == (60, pytest.approx(2.0, abs=0.4))
    assert own["bias_c"] == pytest.approx(own["bias_weight"] * own["mean_error_c"], abs=0.01)
    for before, after in zip(plain["nights"], learned["nights"], strict=True):
        assert after["garden_c"] == pytest.approx(before["garden_c"] - own["bias_c"], abs=0.011)
    assert "After 60 mornings near frost your forecast runs" in " ".join(text.split())
    assert learned["reasons"][-1].startswith("After 60 mornings")


def test_a_longer_log_moves_the_answer_further(ask, tmp_path):
    weights = []
    for mornings in (0, 4, 10, 20, 60):
        write_past(tmp_path / "log.csv", mornings)
        weights.append(ask("--format", "json").json["own_errors"]["bias_weight"])
    assert weights[:2] == [0.0, 0.0]
    assert weights[1] < weights[2] < weights[3] < weights[4] < 1.0


def test_the_gardens_own_minima_close_the_log(ask, tmp_path):
    log, observed = tmp_path / "log.csv", tmp_path / "garden.csv"
    log.write_text(
        f"{HEADER}\n2026-04-20T06:00,2026-04-21,4,\n2026-04-20T06:00,2026-04-24,4,\n", encoding="utf-8"
    )
    observed.write_text("date,tmin_c\n2026-04-20,0.5\n2026-04-21,1.5\n2026-04-24,9\n", encoding="utf-8")
    ask("--observed", observed)
    lines = log.read_text(encoding="utf-8").splitlines()
    assert lines[1] == "2026-04-20T06:00,2026-04-21,4,1.5"
    assert lines[2] == "2026-04-20T06:00,2026-04-24,4,"  # still to come on the 22nd


def test_minima_without_a_log_are_refused(run, samples, tmp_path):
    refused = run("today", "--record", samples / "oskelmere.dly", "--observed", tmp_path / "garden.csv")
    assert refused.status == 2
    assert "--forecast-log" in refused.err


def test_a_garbled_log_stops_the_morning_and_stays_as_it_is(ask, tmp_path):
    log = tmp_path / "log.csv"
    log.write_text(f"{HEADER}\n2026-04-20T06:00,2026-04-21,four,\n", encoding="utf-8")
    refused = ask("--format", "json")
    assert refused.status == 2
    assert refused.json["error"] | {"what": ""} == {
        "what": "", "file": str(log), "line": 2, "value": "four",
        "remedy": "Write bare numbers, all in one unit, and NA where one is missing.",
    }  # fmt: skip
    assert "four" in log.read_text(encoding="utf-8")


def test_the_climate_alone_keeps_no_forecast_and_gives_no_reason_from_the_log(ask, tmp_path):
    answer = ask("--climate-only", "--format", "json")
    assert not (tmp_path / "log.csv").exists()
    assert not any("own log" in reason for reason in answer.json["reasons"])


def test_a_forecast_for_another_time_is_not_kept(run, samples, tmp_path):
    log, forecast = tmp_path / "log.csv", samples / "forecast_frost.json"
    asked = ("--record", samples / "oskelmere.dly", "--forecast", forecast, "--on", "2026-06-22")
    refused = run("today", *asked, "--forecast-log", log)
    assert refused.status == 2
    assert not (tmp_path / "log.csv").exists()


def test_a_record_too_short_for_a_verdict_still_keeps_the_forecast(run, samples, tmp_path):
    record = tmp_path / "short.csv"
    days = np.arange("2020-01-01", "2023-01-01", dtype="datetime64[D]")
    record.write_text("date,tmin_c\n" + "\n".join(f"{day},{-5 + k % 17}" for k, day in enumerate(days)))
    asked = ("--record", record, "--forecast", samples / "forecast_frost.json", "--on", "2026-04-22")
    log = ("--forecast-log", tmp_path / "log.csv")
    answer = run("today", *asked, *log, "--hemisphere", "north", "--format", "json")
    assert answer.status == 3
    assert (tmp_path / "log.csv").exists()
    assert answer.json["own_errors"]["mornings"] == 0


def test_errors_tells_what_a_log_holds(run, tmp_path):
    write_past(tmp_path / "log.csv", mornings=100)
    text, answer = (
        run("errors", tmp_path / "log.csv"),
        run("errors", tmp_path / "log.csv", "--format", "json"),
    )
    assert (text.status, answer.status) == (0, 0)
    lead = answer.json["leads"][0]
    assert (lead["lead_days"], lead["pairs"]) == (1.0, 100)
    assert (lead["bias_c"], lead["sd_c"]) == pytest.approx((3.1, 1.0), abs=0.3)
    assert answer.json["correlation"] is None
    assert answer.json["crps_c"] < answer.json["raw_crps_c"]
    trial = answer.json["trial"]
    assert trial["brier"] < min(trial["raw_brier"], trial["usual_brier"])
    assert sum(row["nights"] for row in trial["reliability"]) == trial["tried_nights"] == 50
    assert all(row["band"][0] <= row["stated"] <= row["band"][1] for row in trial["reliability"])
    for words in ("lead [d]", "bias [°F]", "Tails:", "not known from 0 pairs", "came true", "95 % band"):
        assert words in text.out


def test_errors_says_where_a_log_is_too_short(run, tmp_path):
    write_past(tmp_path / "log.csv", mornings=30, place="Orchard")
    short = run("errors", tmp_path / "log.csv", "--show", "C")
    assert short.status == 0
    assert "bias [°C]" in short.out
    assert "Not tried on other mornings: that takes 60 closed mornings." in short.out
    write_past(tmp_path / "log.csv", mornings=9)
    none = run("errors", tmp_path / "log.csv")
    assert (none.status, "too few forecasts" in none.err) == (2, True)


def test_a_correlation_that_is_known_is_told(run, tmp_path):
    rng, lines = np.random.default_rng(3), [HEADER]
    for day in range(40):
        issued = dt.date(2026, 1, 1) + dt.timedelta(days=day)
        shared = rng.normal(0, 2)
        for lead in (1, 2):
            error_c = shared + rng.normal(0, 1)
            lines.append(f"{issued}T06:00,{issued + dt.timedelta(days=lead)},{error_c + 3:.2f},3")
    (tmp_path / "log.csv").write_text("\n".join(lines), encoding="utf-8")
    assert ", from 40 pairs." in run("errors", tmp_path / "log.csv").out


def test_the_morning_loads_no_optimiser_and_without_a_log_not_the_log_either(samples, tmp_path):
    probe = (
        "import sys; from frostgate.cli.main import main; "
        "record, forecast, *more = sys.argv[1:]; "
        "main(['today', '--record', record, '--on', '2026-04-22', '--forecast', forecast, *more]); "
        "loaded = set(sys.modules); "
        "print('scipy.optimize' in loaded, 'scipy' in loaded, 'frostgate.gate.own_errors' in loaded)"
    )
    asked = [sys.executable, "-c", probe, samples / "oskelmere.dly", samples / "forecast_frost.json"]
    subprocess.run(asked, capture_output=True, check=True)  # keeps the curve, whose fit needs scipy
    write_past(tmp_path / "log.csv")
    plain = subprocess.run(asked, capture_output=True, text=True, check=True)
    learned = subprocess.run(
        [*asked, "--forecast-log", tmp_path / "log.csv"], capture_output=True, text=True, check=True
    )
    assert plain.stdout.splitlines()[-1] == "False False False"
    assert learned.stdout.splitlines()[-1] == "False False True"
