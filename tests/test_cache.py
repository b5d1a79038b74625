"""A site's climate kept between mornings: whole, or made anew."""

from __future__ import annotations

import dataclasses
import json
from concurrent.futures import ThreadPoolExecutor
from importlib.util import source_hash

import numpy as np
import pytest

from frostgate.climate.site import know_site
from frostgate.climate.years import choose_years
from frostgate.model.records import DailyMinima, Station
from frostgate.seasons import NORTH, SOUTH, SeasonStart
from frostgate.service.morning import kept_site
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


def never() -> None:
    pytest.fail("made anew")


def keep(folder, site):
    """Keep a site, as the first morning does."""
    made = kept_site(folder, RECORD, lambda: site)
    assert made is site
    return site


def kept_file(folder):
    (file,) = folder.iterdir()
    return file


def kept_values(file):
    return json.loads(json.loads(file.read_text(encoding="utf-8"))[1])


@pytest.mark.parametrize("site", SITES.values(), ids=list(SITES))
def test_what_is_kept_is_read_back_whole(site, tmp_path):
    folder = tmp_path / "not" / "there yet"
    keep(folder, site)
    assert same(site, kept_site(folder, RECORD, never))
    assert "NaN" not in kept_file(folder).read_text(encoding="utf-8")


def test_a_site_as_it_is_made_is_read_back_whole(tmp_path):
    days = np.arange("1995-08-01", "2015-08-01", dtype="datetime64[D]")
    yearly = np.cos((days - days[0]).astype(int) / 365.25 * 2 * np.pi)
    tmin_c = 6 + 9 * yearly + np.random.default_rng(4).normal(0, 3, days.size)
    minima = DailyMinima(station=STATION, dates=days, tmin_c=tmin_c, notes=("Read.",))
    site = keep(tmp_path, know_site(minima, 0.0, NORTH))
    assert same(site, kept_site(tmp_path, RECORD, never))


def test_what_is_at_its_default_is_not_kept(tmp_path):
    """Else the default of another version would outlive it."""
    keep(tmp_path, SITES["plain"])
    assert not {"notes", "weather", "autumn"} & set(kept_values(kept_file(tmp_path)))


@pytest.mark.parametrize("share", [0.0, 0.1, 0.5, 0.9, 0.999])
def test_a_file_cut_short_is_made_anew_and_replaced(share, tmp_path):
    keep(tmp_path, SITES["full"])
    file = kept_file(tmp_path)
    content = file.read_bytes()
    file.write_bytes(content[: int(len(content) * share)])
    keep(tmp_path, SITES["plain"])
    assert same(SITES["plain"], kept_site(tmp_path, RECORD, never))


@pytest.mark.parametrize(
    "content",
    [b"\xff\xfe\x00", b"garbage", b"null", b"3", b'"text"', b"[]", b"{}", b"[1, 2]", b'["", "{}"]',
     b'{"curve": []}', b"[" * 100_000],
)  # fmt: skip
def test_garbage_is_made_anew(content, tmp_path):
    keep(tmp_path, SITES["full"])
    kept_file(tmp_path).write_bytes(content)
    keep(tmp_path, SITES["full"])


@pytest.mark.parametrize(("was", "now"), [("0.9", "0.8"), ("XX1", "XX2"), ("Two.", "Ten.")])
def test_a_file_that_was_changed_is_made_anew(was, now, tmp_path):
    keep(tmp_path, SITES["full"])
    file = kept_file(tmp_path)
    text = file.read_text(encoding="utf-8")
    assert was in text
    file.write_text(text.replace(was, now, 1), encoding="utf-8")
    keep(tmp_path, SITES["full"])


@pytest.mark.parametrize(
    "change",
    [lambda kept: kept.pop("noun"), lambda kept: kept.update(noun="Shed"), lambda kept: kept.pop("last_day"),
     lambda kept: kept.update(colour="blue"), lambda kept: kept.update(weather={}),
     lambda kept: kept.update(last_day={"date": "yesterday"}), lambda kept: kept["curve"].pop("risk"),
     lambda kept: kept["curve"]["risk"].pop(), lambda kept: kept["curve"]["risk"].__setitem__(0, 1.5),
     lambda kept: kept["curve"]["risk"].__setitem__(0, None),
     lambda kept: kept["curve"]["risk"].__setitem__(0, 10**400),
     lambda kept: kept["curve"]["low"].__setitem__(0, "much")],
)  # fmt: skip
def test_what_is_whole_and_of_another_shape_is_made_anew(change, tmp_path):
    """As a version before or after this one may have kept it."""
    keep(tmp_path, SITES["full"])
    file = kept_file(tmp_path)
    kept = kept_values(file)
    change(kept)
    text = json.dumps(kept)
    file.write_text(json.dumps([source_hash(text.encode()).hex(), text]), encoding="utf-8")
    keep(tmp_path, SITES["full"])


def test_a_folder_that_cannot_be_made_costs_no_answer(tmp_path):
    (tmp_path / "file").write_text("in the way")
    keep(tmp_path / "file", SITES["plain"])
    keep(tmp_path / "file", SITES["plain"])


def test_a_place_that_cannot_be_taken_costs_no_answer_and_leaves_nothing_behind(tmp_path):
    keep(tmp_path, SITES["plain"])
    file = kept_file(tmp_path)
    file.unlink()
    (file / "in the way").mkdir(parents=True)
    keep(tmp_path, SITES["plain"])
    assert kept_file(tmp_path) == file


def test_mornings_at_once_leave_one_whole_file(tmp_path):
    sites = [make_site(suspects=number) for number in range(40)]

    with ThreadPoolExecutor(8) as mornings:
        asked = mornings.map(lambda site: kept_site(tmp_path, RECORD, lambda: site), sites)
    assert all(any(same(answer, site) for site in sites) for answer in asked)
    assert any(same(kept_site(tmp_path, RECORD, never), site) for site in sites)
    assert kept_file(tmp_path).suffix == ".json"


@pytest.mark.parametrize(
    "change",
    [{"threshold_c": 0.1}, {"name": "b.csv"}, {"unit": "F"}, {"station": "X"}, {"hemisphere": "south"},
     {"kind": "normal"}, {"years": "all"}, {"completeness": "strict"}, {"keep_suspects": True}],
)  # fmt: skip
def test_another_setting_makes_another_climate(change, tmp_path):
    kept_site(tmp_path, RECORD, lambda: SITES["plain"], **SETTINGS)
    changed = kept_site(tmp_path, RECORD, lambda: SITES["full"], **(SETTINGS | change))
    assert changed is SITES["full"]
    assert same(SITES["plain"], kept_site(tmp_path, RECORD, never, **dict(reversed(SETTINGS.items()))))


def test_another_record_or_another_form_of_what_is_kept_makes_it_anew(tmp_path, monkeypatch):
    kept_site(tmp_path, RECORD, lambda: SITES["plain"])
    assert kept_site(tmp_path, RECORD + b"\n", lambda: SITES["full"]) is SITES["full"]
    monkeypatch.setattr("frostgate.service.morning.FORM", 999_999)
    assert kept_site(tmp_path, RECORD, lambda: SITES["southern"]) is SITES["southern"]
