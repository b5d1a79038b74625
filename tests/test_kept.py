"""A site's climate kept between mornings: whole, or made anew."""

from __future__ import annotations

import dataclasses
import json
import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest

from frostgate.climate.site import know_site
from frostgate.climate.years import choose_years
from frostgate.model.records import DailyMinima, Station
from frostgate.seasons import NORTH, SOUTH, SeasonStart
from frostgate.sources.cache import keep_site, key_of, load_site
from tests.gate_cases import TODAY, make_curve, make_site, make_weather, ramp
from tests.strategies import frost_dates

RECORD = b"date,tmin_c\n2026-04-01,-2.2\n"
SETTINGS = {"threshold_c": 0.0, "name": "a.csv", "unit": None, "station": None, "hemisphere": None,
            "kind": "best", "years": "best", "completeness": "chance", "keep_suspects": False}  # fmt: skip
RISK = ramp(TODAY, 37.0).risk
FALLING = frost_dates(
    np.random.default_rng(6).normal(255, 8, 70).round() - 0.5 * np.arange(70), first_year=1951
)
STATION = Station(id="XX1", name="Höllow Ēnd", latitude=51.25, longitude=-1.5, elevation_m=86.4)
SITES = {
    "plain": make_site(),
    "full": make_site(
        make_curve(RISK, low=RISK**2, high=np.sqrt(RISK), confidence=0.9, frost_share=29 / 30,
                   threshold_c=-1.1, step_c=5 / 9, seasons_unknown=3, kind="smooth"),
        station=STATION, suspects=2, suspects_kept=True, flagged=7, notes=("One °C.", "Two."),
    ),
    "southern": make_site(ramp(TODAY, 40.0, start=SOUTH)),
    "season of its own": make_site(ramp(TODAY, 40.0, start=SeasonStart(month=7, day=24))),
    "no frost": make_site(make_curve(0.0, seasons_used=12)),
    "years by score": make_site(years=choose_years(FALLING)),
    "years as asked": make_site(years=choose_years(FALLING, years="recent")),
    "weather": make_site(weather=make_weather(1.25, persistence=0.31, explained=0.02)),
    "weather with gaps": make_site(
        make_curve(RISK, spread_c=np.linspace(3.0, 5.0, 366)),
        weather=make_weather(recent_c=np.where(np.arange(60) % 7 == 0, np.nan, np.linspace(-4, 9, 60))),
    ),
    "weather without a past": make_site(weather=make_weather(recent_c=[])),
    "years of few dates": make_site(years=choose_years(FALLING.of_years(1991, 1993))),
}  # fmt: skip


def same(left, right):
    """Tell whether two values agree field by field, arrays to 9 decimals."""
    if dataclasses.is_dataclass(left):
        names = [field.name for field in dataclasses.fields(left)]
        return type(left) is type(right) and all(same(getattr(left, n), getattr(right, n)) for n in names)
    if isinstance(left, np.ndarray):
        return right.dtype == left.dtype and np.allclose(left, right, rtol=0, atol=1e-9, equal_nan=True)
    return type(left) is type(right) and left == right


@pytest.mark.parametrize("site", SITES.values(), ids=list(SITES))
def test_what_is_kept_is_read_back_whole(site, tmp_path):
    folder = tmp_path / "not" / "there yet"
    assert keep_site(folder, "key", site)
    assert same(site, load_site(folder, "key"))
    assert [file.name for file in folder.iterdir()] == ["key.json"]


def test_a_site_as_it_is_made_is_read_back_whole(tmp_path):
    days = np.arange("1995-08-01", "2015-08-01", dtype="datetime64[D]")
    yearly = np.cos((days - days[0]).astype(int) / 365.25 * 2 * np.pi)
    tmin_c = 6 + 9 * yearly + np.random.default_rng(4).normal(0, 3, days.size)
    minima = DailyMinima(station=STATION, dates=days, tmin_c=tmin_c, notes=("Read.",))
    site = know_site(minima, 0.0, NORTH)
    assert keep_site(tmp_path, "key", site)
    assert same(site, load_site(tmp_path, "key"))


def test_gaps_in_the_weather_of_late_stay_gaps_and_the_file_stays_plain_json(tmp_path):
    keep_site(tmp_path, "key", SITES["weather with gaps"])
    text = (tmp_path / "key.json").read_text(encoding="utf-8")
    assert "NaN" not in text
    recent_c = load_site(tmp_path, "key").weather.recent_c
    assert np.flatnonzero(np.isnan(recent_c)).tolist() == list(range(0, 60, 7))


def test_a_later_morning_replaces_what_is_kept(tmp_path):
    keep_site(tmp_path, "key", SITES["plain"])
    keep_site(tmp_path, "key", SITES["full"])
    assert same(SITES["full"], load_site(tmp_path, "key"))


def test_what_was_never_kept_is_not_there(tmp_path):
    assert load_site(tmp_path, "key") is None
    (tmp_path / "key.json").mkdir()
    assert load_site(tmp_path, "key") is None


@pytest.mark.parametrize("share", [0.0, 0.1, 0.5, 0.9, 0.999])
def test_a_file_cut_short_is_made_anew(share, tmp_path):
    keep_site(tmp_path, "key", SITES["full"])
    file = tmp_path / "key.json"
    content = file.read_bytes()
    file.write_bytes(content[: int(len(content) * share)])
    assert load_site(tmp_path, "key") is None


@pytest.mark.parametrize(
    "content",
    [b"\xff\xfe\x00", b"garbage", b"null", b"3", b'"text"', b"[]", b"{}", b'{"curve": []}', b'{"curve": 1}',
     b'{"curve": {"start": {"month": 13, "day": 1}}}', b"[" * 100_000],
)  # fmt: skip
def test_garbage_is_made_anew(content, tmp_path):
    (tmp_path / "key.json").write_bytes(content)
    assert load_site(tmp_path, "key") is None


@pytest.mark.parametrize(
    "change",
    [lambda kept: kept["curve"].pop("risk"), lambda kept: kept["curve"]["risk"].pop(),
     lambda kept: kept["curve"]["risk"].__setitem__(0, 1.5),
     lambda kept: kept["curve"]["risk"].__setitem__(0, math.nan),
     lambda kept: kept["curve"]["risk"].__setitem__(0, 10**400),
     lambda kept: kept["curve"]["low"].__setitem__(0, "much"), lambda kept: kept["curve"].update(shape="new"),
     lambda kept: kept["curve"].update(start=None), lambda kept: kept.pop("last_day"),
     lambda kept: kept.update(last_day="yesterday"), lambda kept: kept.update(last_day=3),
     lambda kept: kept.update(notes=None), lambda kept: kept.update(colour="blue"),
     lambda kept: kept.pop("years"), lambda kept: kept["years"].update(basis="some"),
     lambda kept: kept["years"]["scores"].append({}), lambda kept: kept["years"].update(trend=None),
     lambda kept: kept.pop("weather"), lambda kept: kept["weather"].pop("explained"),
     lambda kept: kept["weather"]["climatology_c"].pop(),
     lambda kept: kept["weather"].update(persistence=1.5),
     lambda kept: kept["weather"].update(recent_c=[0.0] * 61),
     lambda kept: kept["weather"].update(last_day=7),
     lambda kept: kept["weather"]["recent_c"].__setitem__(3, "cold"), lambda kept: kept.update(weather=4),
     lambda kept: kept.update(station="X"), lambda kept: kept["station"].pop("id")],
)  # fmt: skip
def test_a_file_of_another_shape_is_made_anew(change, tmp_path):
    keep_site(tmp_path, "key", replace(SITES["full"], years=choose_years(FALLING), weather=make_weather()))
    file = tmp_path / "key.json"
    kept = json.loads(file.read_text(encoding="utf-8"))
    change(kept)
    file.write_text(json.dumps(kept), encoding="utf-8")
    assert load_site(tmp_path, "key") is None


def test_a_folder_that_cannot_be_made_costs_no_answer(tmp_path):
    (tmp_path / "file").write_text("in the way")
    assert keep_site(tmp_path / "file", "key", SITES["plain"]) is False
    assert load_site(tmp_path / "file", "key") is None


def test_a_place_that_cannot_be_taken_leaves_nothing_behind(tmp_path):
    (tmp_path / "key.json" / "in the way").mkdir(parents=True)
    assert keep_site(tmp_path, "key", SITES["plain"]) is False
    assert [file.name for file in tmp_path.iterdir()] == ["key.json"]


def test_mornings_at_once_leave_one_whole_file(tmp_path):
    sites = [make_site(suspects=number) for number in range(40)]

    def keep_and_load(site):
        return keep_site(tmp_path, "key", site), load_site(tmp_path, "key")

    with ThreadPoolExecutor(8) as mornings:
        outcomes = list(mornings.map(keep_and_load, sites))
    assert all(kept for kept, _ in outcomes)
    assert all(any(same(loaded, site) for site in sites) for _, loaded in outcomes)
    assert [file.name for file in tmp_path.iterdir()] == ["key.json"]


@pytest.mark.parametrize(
    "change",
    [{"threshold_c": 0.1}, {"name": "b.csv"}, {"unit": "F"}, {"station": "X"}, {"hemisphere": "south"},
     {"kind": "normal"}, {"years": "all"}, {"completeness": "strict"}, {"keep_suspects": True}],
)  # fmt: skip
def test_the_key_follows_every_setting(change):
    assert key_of(RECORD, **(SETTINGS | change)) != key_of(RECORD, **SETTINGS)


def test_the_key_follows_the_content_alone_else():
    assert key_of(RECORD + b"\n", **SETTINGS) != key_of(RECORD, **SETTINGS)
    assert key_of(bytes(RECORD), **dict(reversed(SETTINGS.items()))) == key_of(RECORD, **SETTINGS)
    assert key_of(RECORD, **SETTINGS).isalnum()


def test_the_key_follows_the_form_of_what_is_kept(monkeypatch):
    before = key_of(RECORD, **SETTINGS)
    monkeypatch.setattr("frostgate.sources.cache.FORM", 999_999)
    assert key_of(RECORD, **SETTINGS) != before
