"""The log of forecasts: kept once, closed once, and never half a file."""

from __future__ import annotations

import datetime as dt
import os
from pathlib import Path

import numpy as np
import pytest

from frostgate.errors import InputError
from frostgate.model.gate import Forecast, ForecastLog
from frostgate.sources.forecast_log import close_forecasts, keep_forecast, read_log

HEADER = "issued_at,morning,forecast_c,observed_c"
GOOD = f"{HEADER}\n2026-04-10T06:00,2026-04-11,2.5,1.1\n2026-04-10T06:00,2026-04-12,3.5,\n"
TODAY = dt.date(2026, 4, 12)


@pytest.fixture
def log(tmp_path: Path) -> Path:
    file = tmp_path / "log.csv"
    file.write_text(GOOD, encoding="utf-8")
    return file


def forecast(issued=dt.datetime(2026, 4, 12, 6, 0, 30), tmin_c=(1.0, np.nan, -2.22)):
    days = np.datetime64(issued.date(), "D") + 1 + np.arange(len(tmin_c))
    sd_c = np.full(len(tmin_c), np.nan)
    return Forecast(source="f", form="table", issued_at=issued, dates=days, tmin_c=tmin_c, sd_c=sd_c)


def close(log, days, minima_c, today=TODAY):
    return close_forecasts(log, np.array(days, "datetime64[D]"), np.array(minima_c, float), today)


def test_a_log_is_read(log):
    nights = read_log(log)
    assert nights.lead_days.tolist() == [1.0, 2.0]
    assert nights.forecast_c.tolist() == [2.5, 3.5]
    assert nights.closed.mornings.astype(str).tolist() == ["2026-04-11"]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_a_log_that_a_spreadsheet_saved_is_read(log, separator, end):
    text = GOOD.replace(",", separator).replace("\n", end)
    log.write_bytes(b"\xef\xbb\xbf" + text.encode())
    assert read_log(log).size == 2


def test_a_forecast_is_kept_with_its_nights_and_each_issue_once(log):
    assert keep_forecast(log, forecast()) == 2
    assert keep_forecast(log, forecast(tmin_c=(9.0, 9.0, 9.0))) == 0
    assert log.read_text(encoding="utf-8") == (
        GOOD + "2026-04-12T06:00,2026-04-13,1,\n2026-04-12T06:00,2026-04-15,-2.22,\n"
    )


def test_a_first_forecast_makes_the_log_and_one_without_nights_makes_none(tmp_path):
    file = tmp_path / "new.csv"
    assert keep_forecast(file, forecast(tmin_c=(np.nan,))) == 0
    assert not file.exists()
    assert keep_forecast(file, forecast()) == 2
    assert read_log(file).size == 2
    assert file.stat().st_mode & 0o777 == 0o644


def test_nights_before_the_issue_are_not_kept(tmp_path):
    days = np.array(["2026-04-11", "2026-04-12", "2026-04-13"], "datetime64[D]")
    late = Forecast(source="f", form="table", issued_at=dt.datetime(2026, 4, 12, 9), dates=days,
                    tmin_c=np.zeros(3), sd_c=np.zeros(3))  # fmt: skip
    assert keep_forecast(tmp_path / "log.csv", late) == 1


def test_observed_minima_close_past_nights_and_leave_what_stands_there(log):
    done = close(log, ["2026-04-11", "2026-04-12"], [4.0, 3.25])
    assert (done.filled, done.differing) == (1, 1)
    assert log.read_text(encoding="utf-8").splitlines()[1:] == [
        "2026-04-10T06:00,2026-04-11,2.5,1.1",
        "2026-04-10T06:00,2026-04-12,3.5,3.25",
    ]


@pytest.mark.parametrize(
    ("days", "minima_c"), [(["2026-04-12"], [np.nan]), (["2026-05-01"], [1.0]), ([], [])]
)
def test_closing_with_nothing_new_leaves_the_file_untouched(log, days, minima_c):
    before = log.stat()
    assert close(log, days, minima_c).filled == 0
    assert (log.stat().st_mtime_ns, log.stat().st_ino) == (before.st_mtime_ns, before.st_ino)


def test_a_night_that_is_not_past_stays_open(log):
    assert close(log, ["2026-04-12"], [3.0], dt.date(2026, 4, 11)).filled == 0


def test_what_is_written_is_read_back_alike(tmp_path):
    file, tmin_c = tmp_path / "log.csv", np.round(np.random.default_rng(1).uniform(-40, 30, 15), 3)
    keep_forecast(file, forecast(tmin_c=tuple(tmin_c)))
    close(file, np.datetime64("2026-04-13") + np.arange(15), tmin_c - 1, dt.date(2026, 6, 1))
    nights = read_log(file)
    assert nights.forecast_c == pytest.approx(tmin_c, abs=1e-9)
    assert nights.observed_c == pytest.approx(tmin_c - 1, abs=1e-9)


GARBLED = [
    ("", "an empty file", None),
    ("date,low\n2026-04-11,3\n", "not the columns of a log", 1),
    (f"{HEADER},note\n", "not the columns of a log", 1),
    (f"{HEADER},morning\n", "not the columns of a log", 1),
    (f"{HEADER}\n2026-04-10T06:00,2026-04-11,2.5\n", "a row of 3 cells, where the header has 4", 2),
    (f"{HEADER}\n\n11/04/2026 06:00,2026-04-11,2.5,1\n", "not a date with its time", 3),
    (f"{HEADER}\n2026-04-10T06:00+02:00,2026-04-11,2.5,1\n", "offset from UTC", 2),
    (f"{HEADER}\n2026-04-10T06:00,11/04/2026,2.5,1\n", "not a date", 2),
    (f"{HEADER}\n2026-04-11T06:01,2026-04-11,2.5,1\n", "made after the morning", 2),
    (f"{HEADER}\n2026-04-10T06:00,2026-04-11,,1\n", "no forecast", 2),
    (f"{HEADER}\n2026-04-10T06:00,2026-04-11,two,1\n", "not a number", 2),
    (f"{HEADER}\n2026-04-10T06:00,2026-04-11,2,999\n", "no place on earth", 2),
    (f"{HEADER}\n2026-04-10T06:00,2026-04-11,2,\"1\n", "a quotation mark out of place or never closed", 2),
    (GOOD + "2026-04-10T06:00,2026-04-11,2.5,1.1\n", "the night of line 2 once more", 4),
    (f"{HEADER}\n2026-04-10T06:00,2026-04-11,2\0,1\n", "NUL", 2),
]  # fmt: skip


@pytest.mark.parametrize(("text", "what", "line"), GARBLED, ids=[what for _, what, _ in GARBLED])
def test_a_garbled_log_is_told_with_its_line_and_never_written_over(log, text, what, line):
    log.write_text(text, encoding="utf-8", newline="")
    for use in (
        read_log,
        lambda file: keep_forecast(file, forecast()),
        lambda file: close(file, [TODAY], [1.0]),
    ):
        with pytest.raises(InputError, match=what) as told:
            use(log)
        assert (told.value.file, told.value.line) == (str(log), line)
    assert log.read_text(encoding="utf-8") == text


@pytest.mark.parametrize("content", [b"issued_at\xff", b"\x1f\x8bpacked"])
def test_bytes_that_are_no_text_stay_as_they_are(log, content):
    log.write_bytes(content)
    with pytest.raises(InputError):
        keep_forecast(log, forecast())
    assert log.read_bytes() == content


def test_a_log_of_several_places_is_read_but_not_written_in(log):
    log.write_text(f"{HEADER},place\n2026-04-10T06:00,2026-04-11,2.5,1.1,A\n", encoding="utf-8")
    assert read_log(log).place.tolist() == ["A"]
    with pytest.raises(InputError, match="several places"):
        keep_forecast(log, forecast())


def test_a_missing_log_is_an_error_to_read_and_no_error_to_close(tmp_path):
    with pytest.raises(InputError, match="no such file"):
        read_log(tmp_path / "none.csv")
    assert close(tmp_path / "none.csv", ["2026-04-11"], [1.0]).filled == 0


def test_a_disk_that_is_full_leaves_the_log_as_it_was(log, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(InputError, match="the log cannot be written: 'No space left") as told:
        keep_forecast(log, forecast())
    assert told.value.file == str(log)
    assert log.read_text(encoding="utf-8") == GOOD


def test_a_folder_that_is_not_there_is_told(tmp_path):
    with pytest.raises(InputError, match="cannot be written"):
        keep_forecast(tmp_path / "nowhere" / "log.csv", forecast())


def test_a_name_that_no_system_takes_is_told(tmp_path):
    for use in (
        read_log,
        lambda file: keep_forecast(file, forecast()),
        lambda file: close(file, [TODAY], [1.0]),
    ):
        with pytest.raises(InputError, match="File name too long"):
            use(tmp_path / ("a" * 5000))


def test_a_directory_is_no_log(tmp_path):
    with pytest.raises(InputError, match="a directory"):
        keep_forecast(tmp_path, forecast())


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({"forecast_c": [np.nan]}, "without a forecast"),
        ({"issued": ["2026-04-12T06:00"]}, "after its morning"),
        ({"observed_c": [1.0, 2.0]}, "each forecast night needs"),
        ({"place": ["a", "b"]}, "each forecast night needs"),
    ],
)
def test_a_log_that_cannot_be_is_refused(change, what):
    night = {
        "issued": ["2026-04-10T06:00"],
        "mornings": ["2026-04-11"],
        "forecast_c": [1.0],
        "observed_c": [1.0],
    }
    with pytest.raises(InputError, match=what):
        ForecastLog(**(night | change))
