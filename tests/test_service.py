"""The service asked as any face asks it: with values alone, no clock, no environment."""

from __future__ import annotations

import datetime as dt
import shutil
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from frostgate.garden.file import read_garden
from frostgate.garden.journal import Journal, journal_file
from frostgate.service.morning import ask_files
from frostgate.service.request import Request
from frostgate.service.season import ask_garden

NIGHT = dt.datetime(2026, 4, 22, 14, 0, tzinfo=dt.UTC)
FORECAST = "forecast_frost.json"


@pytest.fixture
def request_(samples):
    return Request(
        record=samples / "oskelmere.dly", forecast=samples / FORECAST, offset=(-1.0, "C"), show="C"
    )


@pytest.fixture(autouse=True)
def _nothing_stated(monkeypatch):
    monkeypatch.delenv("FROSTGATE_CACHE")


@pytest.mark.parametrize("face", [dt.UTC, ZoneInfo("Asia/Tokyo"), dt.timezone(dt.timedelta(hours=-9))])
@pytest.mark.parametrize(("garden", "day"), [("Asia/Tokyo", 22), ("Pacific/Kiritimati", 23), ("UTC", 22)])
def test_the_gardens_zone_tells_the_day_wherever_the_face_stands(request_, tmp_path, face, garden, day):
    morning, own = ask_files(
        replace(request_, forecast=None, time_zone=garden), NIGHT.astimezone(face), tmp_path
    )

    assert (morning.verdict.on, own) == (dt.date(2026, 4, day), None)


def test_what_is_kept_is_kept_in_the_folder_that_is_named(request_, tmp_path):
    first, _ = ask_files(request_, NIGHT, tmp_path / "kept")
    again, _ = ask_files(request_, NIGHT, tmp_path / "kept")

    assert len(list((tmp_path / "kept").iterdir())) == 1
    assert first.verdict.by_risk == again.verdict.by_risk


def test_a_garden_is_answered_and_its_morning_written_down_once(samples, tmp_path):
    for name in ("garden.toml", "oskelmere.dly", FORECAST):
        shutil.copy(samples / name, tmp_path)
    garden = read_garden(tmp_path / "garden.toml")

    shown, _ = ask_garden(garden, Request(forecast=tmp_path / FORECAST), NIGHT, tmp_path / "kept")
    again, _ = ask_garden(garden, Request(forecast=tmp_path / FORECAST), NIGHT, tmp_path / "kept")

    with Journal.open(journal_file(garden.file)) as journal:
        written = [entry.kind for entry in journal.history()]
    assert shown.morning.verdict.state == again.morning.verdict.state == "shut"
    assert written == ["forecast", "verdict"]
