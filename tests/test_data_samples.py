"""The invented sample data: written again byte for byte, and as its README says.

The files are parsed here by hand, so that these tests do not lean on frostgate's own readers. The numbers are
compared with the README's lists, or with a window that the scenario was designed for.
"""

import csv
import datetime as dt
import json
import re
import subprocess
import sys
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from scipy.stats import theilslopes

FORECASTS = ("forecast_clear.csv", "forecast_frost.json", "forecast_edge.json")
FILES = ("oskelmere.dly", "hollin_bank.csv", *FORECASTS)
ELEMENTS = ("TMAX", "TMIN", "PRCP")
GAP = (dt.date(1978, 4, 3), dt.date(1978, 5, 21))
MISTAKE = dt.date(1994, 6, 16)
SPRINGS = [year for year in range(1966, 2026) if year != 1978]  # 1978 has the gap
AUTUMNS = [year for year in range(1965, 2026) if year != 1983]  # 1983 lacks October


class Cell(NamedTuple):
    value: int
    quality: str
    source: str


def read_cells(path: Path) -> dict[str, dict[dt.date, Cell]]:
    """Each element's days that have a place in the file; columns by the archive's readme, section III."""
    cells = {element: {} for element in ELEMENTS}
    for line in path.read_text().splitlines():
        year, month = int(line[11:15]), int(line[15:17])
        for day in range(days_in(year, month)):
            text = line[21 + 8 * day : 29 + 8 * day]
            cells[line[17:21]][dt.date(year, month, day + 1)] = Cell(int(text[:5]), text[6], text[7])
    return cells


def days_in(year: int, month: int) -> int:
    return (dt.date(year + month // 12, month % 12 + 1, 1) - dt.date(year, month, 1)).days


def whole_f(tenths_c: int) -> int:
    return round(tenths_c * 0.18 + 32)


def day_of_year(date: dt.date) -> int:
    return date.timetuple().tm_yday


def last_freeze(minima: dict[dt.date, int], year: int) -> dt.date:
    return max(day for day, f in minima.items() if day.year == year and day.month < 8 and f <= 32)


def first_freeze(minima: dict[dt.date, int], year: int) -> dt.date:
    return min(day for day, f in minima.items() if day.year == year and day.month >= 8 and f <= 32)


@pytest.fixture(scope="module")
def cells(samples: Path) -> dict[str, dict[dt.date, Cell]]:
    return read_cells(samples / "oskelmere.dly")


@pytest.fixture(scope="module")
def kept(cells: dict) -> dict[dt.date, int]:
    """Minima [°F] as they stand, flagged ones too."""
    return {day: whole_f(cell.value) for day, cell in cells["TMIN"].items() if cell.value != -9999}


@pytest.fixture(scope="module")
def unflagged(cells: dict, kept: dict[dt.date, int]) -> dict[dt.date, int]:
    return {day: f for day, f in kept.items() if cells["TMIN"][day].quality == " "}


@pytest.fixture(scope="module")
def sound(unflagged: dict[dt.date, int]) -> dict[dt.date, int]:
    """Minima [°F] without the flagged ones and without the error."""
    return {day: f for day, f in unflagged.items() if day != MISTAKE}


@pytest.fixture(scope="module")
def readme(samples: Path) -> str:
    return (samples / "README.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def written_again(samples: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made") / "new"
    command = [sys.executable, "-W", "error", str(samples / "make_samples.py"), str(folder)]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    return folder


@pytest.mark.parametrize("name", FILES)
def test_the_script_writes_the_same_bytes_again(samples: Path, written_again: Path, name: str) -> None:
    content = (samples / name).read_bytes()
    assert (written_again / name).read_bytes() == content
    assert len(content) < 3_000_000


def test_the_script_writes_nothing_else(written_again: Path) -> None:
    assert {path.name for path in written_again.iterdir()} == set(FILES)


def test_the_examples_in_the_script_run(samples: Path) -> None:
    command = [sys.executable, "-m", "doctest", "-v", str(samples / "make_samples.py")]
    done = subprocess.run(command, check=False, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stdout
    assert re.search(r"^[1-9]\d* passed", done.stdout, re.MULTILINE)


def test_each_line_is_as_wide_as_the_archive_makes_it(samples: Path) -> None:
    lines = (samples / "oskelmere.dly").read_bytes().split(b"\n")
    assert lines.pop() == b""
    assert {len(line) for line in lines} == {269}
    assert {line[:11] for line in lines} == {b"XX000000017"}


def test_each_month_but_the_missing_one_has_a_line_for_each_element(samples: Path) -> None:
    months = [f"{year}{month:02d}" for year in range(1965, 2027) for month in range(1, 13)]
    kept = [month for month in months if "196508" <= month <= "202603" and month != "198310"]
    lines = (samples / "oskelmere.dly").read_text().splitlines()
    assert [line[11:21] for line in lines] == [month + element for month in kept for element in ELEMENTS]


def test_days_that_no_month_has_are_missing_without_flags(samples: Path) -> None:
    for line in (samples / "oskelmere.dly").read_text().splitlines():
        absent = line[21 + 8 * days_in(int(line[11:15]), int(line[15:17])) :]
        assert absent == "-9999   " * (len(absent) // 8)


@pytest.mark.parametrize("element", ["TMIN", "TMAX"])
def test_each_temperature_is_a_whole_degree_fahrenheit_in_tenths_celsius(cells: dict, element: str) -> None:
    values = [cell.value for cell in cells[element].values() if cell.value != -9999]
    assert values == [round((whole_f(value) - 32) / 0.18) for value in values]
    assert -22 in values  # 28 °F, stored as 28.04 °F


def test_the_maximum_is_above_the_minimum_wherever_both_are_sound(cells: dict) -> None:
    pairs = [(high, cells["TMIN"][day]) for day, high in cells["TMAX"].items()]
    sound = [(h.value, n.value) for h, n in pairs if h.quality == n.quality == " " and n.value != -9999]
    assert len(sound) > 21_900
    assert all(high > low for high, low in sound)


def test_the_readme_lists_every_flagged_value(cells: dict, readme: str) -> None:
    rows = re.findall(r"^\| (\d{4}-\d\d-\d\d) \| (\w{4}) \| (-?\d+) °F \| (\w) \|", readme, re.MULTILINE)
    flagged = {
        (str(day), element, str(whole_f(cell.value)), cell.quality)
        for element in ELEMENTS
        for day, cell in cells[element].items()
        if cell.quality != " "
    }
    assert set(rows) == flagged
    assert len(rows) == len(flagged) == 15


@pytest.mark.parametrize("element", ELEMENTS)
def test_the_readme_lists_every_missing_day(cells: dict, readme: str, element: str) -> None:
    listed = re.findall(r"\d{4}-\d\d-\d\d", re.search(r"Scattered missing(.*?)\*\*In", readme, re.DOTALL)[1])
    missing = [day for day, cell in cells[element].items() if cell.value == -9999]
    assert listed == [str(day) for day in missing if not GAP[0] <= day <= GAP[1]]
    assert len(missing) - len(listed) == (GAP[1] - GAP[0]).days + 1 == 49


def test_the_readme_counts_right(cells: dict, unflagged: dict, readme: str) -> None:
    days, missing = len(cells["TMIN"]), sum(cell.value == -9999 for cell in cells["TMIN"].values())
    words = " ".join(readme.split())
    assert f"{days} days with a place for a minimum. {len(unflagged)} minima stand without a flag" in words
    assert f"and {missing} are missing: {missing - 49} scattered, 49 in one gap" in words


@pytest.mark.parametrize(
    ("find", "years", "moved"),
    [
        (last_freeze, SPRINGS, {1987: ("05-22", "05-28"), 2012: ("04-17", "05-24")}),
        (first_freeze, AUTUMNS, {1989: ("10-09", "08-08")}),
    ],
)
def test_flagged_values_move_the_frosts_of_three_years_unless_they_are_dropped(
    find, years, moved, *, kept: dict, unflagged: dict, readme: str
) -> None:
    found = {year: (f"{find(unflagged, year):%m-%d}", f"{find(kept, year):%m-%d}") for year in years}
    assert {year: days for year, days in found.items() if days[0] != days[1]} == moved
    assert all(f"of {year} would move from {a} to {b}" in readme for year, (a, b) in moved.items())


def test_the_error_without_a_flag_stands_among_mild_nights(cells: dict, unflagged: dict, sound: dict) -> None:
    assert cells["TMIN"][MISTAKE] == Cell(-33, " ", "0")
    around = [unflagged[MISTAKE + dt.timedelta(days=k)] for k in range(-5, 6) if k != 0]
    assert (min(around), max(around)) == (51, 60)
    assert last_freeze(unflagged, 1994) == MISTAKE
    assert last_freeze(sound, 1994) == dt.date(1994, 4, 10)


def test_no_freeze_is_seen_after_the_gap(unflagged: dict, readme: str) -> None:
    assert last_freeze(unflagged, 1978) == dt.date(1978, 3, 29)
    assert "1978-03-29, and none was seen after the gap" in readme


@pytest.mark.parametrize("springs", [SPRINGS, SPRINGS[-30:], range(1991, 2021)])
def test_the_last_freeze_of_spring_falls_where_it_was_meant_to(springs, sound: dict) -> None:
    days = [day_of_year(last_freeze(sound, year)) for year in springs]
    latest_tenth, median = np.quantile(days, [0.9, 0.5], method="weibull")
    assert 108 <= median <= 115  # 18 to 25 April
    assert 128 <= latest_tenth <= 134  # 8 to 14 May


def test_the_first_freeze_of_autumn_falls_in_the_middle_of_october(sound: dict) -> None:
    median = np.median([day_of_year(first_freeze(sound, year)) for year in AUTUMNS])
    assert 284 <= median <= 292  # 11 to 19 October


def test_the_coldest_night_of_a_year_is_5_to_12_degrees_on_average(sound: dict) -> None:
    coldest = [min(f for day, f in sound.items() if day.year == year) for year in range(1966, 2026)]
    assert 5.0 <= np.mean(coldest) <= 12.0


def test_the_spread_is_wider_in_winter_than_in_summer(sound: dict) -> None:
    january, july = ([f for day, f in sound.items() if day.month == month] for month in (1, 7))
    assert np.std(january) > np.std(july) + 1.0


def test_a_day_is_like_the_day_before_it(sound: dict) -> None:
    follow = {day: day + dt.timedelta(days=1) for day in sound if day.month == 1}
    pairs = [(sound[day], sound[after]) for day, after in follow.items() if after in sound]
    assert 0.60 <= np.corrcoef(np.transpose(pairs))[0, 1] <= 0.80  # drawn with 0.70


def test_the_minima_rise_over_the_years(sound: dict) -> None:
    years = range(1966, 2026)
    means = [np.mean([f for day, f in sound.items() if day.year == year]) for year in years]
    slope, _, low, _ = theilslopes(means, years)
    assert low > 0.0
    assert 0.15 <= slope * 10 / 1.8 <= 0.35  # °C a decade; drawn with 0.25


@pytest.fixture(scope="module")
def garden(samples: Path) -> list[dict[str, str]]:
    return list(csv.DictReader((samples / "hollin_bank.csv").read_text(encoding="utf-8").splitlines()))


def test_the_garden_is_about_two_degrees_colder_than_the_station(garden: list, sound: dict) -> None:
    read = {dt.date.fromisoformat(row["date"]): int(row["tmin_f"]) for row in garden if row["tmin_f"]}
    colder = [f - sound[day] for day, f in read.items() if day in sound]
    assert -2.5 <= np.mean(colder) <= -1.5
    assert np.std(colder) > 1.0


def test_the_garden_is_marked_as_invented_and_lacks_the_mornings_named_in_the_readme(garden: list) -> None:
    days = [dt.date.fromisoformat(row["date"]) for row in garden]
    whole = [dt.date(2025, 2, 1) + dt.timedelta(days=k) for k in range(120)]
    whole += [dt.date(2026, 2, 1) + dt.timedelta(days=k) for k in range(59)]
    assert list(garden[0]) == ["date", "tmin_f", "clear_calm", "note"]
    assert "INVENTED" in garden[0]["note"]
    assert days == [day for day in whole if str(day) not in {"2025-03-15", "2026-02-19"}]
    assert [row["date"] for row in garden if not row["tmin_f"]] == ["2025-04-11"]


def test_the_clear_forecast_is_a_table_of_14_mild_nights(samples: Path) -> None:
    lines = (samples / "forecast_clear.csv").read_text(encoding="utf-8").splitlines()
    rows = list(csv.DictReader(lines[2:]))
    assert lines[:3] == ["# issued: 2026-05-15T06:00", "# time zone: Etc/GMT+3", "date,tmin_f,sd_f"]
    assert [row["date"] for row in rows] == [f"2026-05-{day}" for day in range(16, 30)]
    assert min(float(row["tmin_f"]) - 2.0 - 2.5 * float(row["sd_f"]) for row in rows) > 32.0


def test_the_frost_forecast_has_7_nights_between_days_and_a_freeze_in_two(samples: Path) -> None:
    properties = json.loads((samples / "forecast_frost.json").read_text(encoding="utf-8"))["properties"]
    periods = properties["periods"]
    assert [period["isDaytime"] for period in periods] == [True, False] * 7
    assert [p["startTime"] for p in periods[1:]] == [p["endTime"] for p in periods[:-1]]
    assert properties["updateTime"] == "2026-04-22T09:00:00+00:00"  # 06:00 at UTC-3
    nights = {p["endTime"][:10]: p["temperature"] for p in periods if not p["isDaytime"]}
    assert list(nights) == [f"2026-04-{day}" for day in range(23, 30)]
    assert [day for day, f in nights.items() if f <= 32] == ["2026-04-25", "2026-04-26"]
    assert [p["name"] for p in periods[:4]] == ["Today", "Tonight", "Thursday", "Thursday Night"]


def test_the_edge_forecast_has_14_nights_and_one_of_them_doubtful(samples: Path) -> None:
    document = json.loads((samples / "forecast_edge.json").read_text(encoding="utf-8"))
    daily = document["daily"]
    minima_f = [celsius * 1.8 + 32 for celsius in daily["temperature_2m_min"]]
    assert daily["time"] == [f"2026-05-{day:02d}" for day in range(10, 24)]
    assert (document["timezone"], document["daily_units"]["temperature_2m_min"]) == ("Etc/GMT+3", "°C")
    assert len(minima_f) == 14
    assert sum(34.0 < f < 40.0 for f in minima_f) == 1
    assert min(minima_f) > 34.0
    assert sorted(minima_f)[1] > 42.0
