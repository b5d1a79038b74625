"""Write the invented sample data: a station's record, a garden's thermometer, and three forecasts.

Run it as ``python make_samples.py [FOLDER]``. Everything is drawn from one seed, so every run writes the same
bytes. The numbers worth changing stand at the top, those of the forecasts in make_forecasts.py; README.md
lists what is wrong with the record on purpose, and the tests hold the list against the files.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
from make_forecasts import write_forecasts

Dates = npt.NDArray[np.datetime64]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

SEED = 20260317

STATION_ID = "XX000000017"  # the country code XX is given to no country

# The record and its climate.
FIRST, LAST = "1965-08-01", "2026-03-31"
MEAN_F, HALF_RANGE_F, COLDEST_DAY = 42.6, 18.0, 16.0  # the mean minimum over the year; day of year
LATE_SPRING_F = 3.0  # how far spring and autumn lie below the plain cycle, and winter and summer above it
SPREAD_F, SPREAD_HALF_RANGE_F = 6.9, 1.1  # standard deviation of the minimum, widest in winter
PERSISTENCE = 0.70  # correlation from one day to the next
COLD_TAIL = 1.15  # how far anomalies beyond -1 are stretched
YEAR_SD_F = 1.6  # one year warmer or colder than another
WARMING_F_PER_DECADE = 0.45  # 0.25 °C
WET_AFTER_WET, WET_AFTER_DRY = 0.48, 0.24
MEAN_RAIN_MM = 7.5

# What is wrong with the record.
ABSENT_SHARE = 0.005  # mornings on which nobody observed
GAP = ("1978-04-03", "1978-05-21")
ABSENT_MONTH = "1983-10"
UNFLAGGED_ERROR = ("1994-06-16", 26)
FLAGGED_TMIN_F = {  # day: the value stored [°F], and the archive's quality flag
    "1968-02-29": (71, "I"),
    "1971-07-19": (93, "O"),
    "1975-12-03": (125, "X"),
    "1980-01-16": (61, "S"),
    "1987-05-28": (12, "O"),  # would move the last frost of 1987
    "1989-08-08": (28, "G"),  # would move the first frost of 1989
    "1993-03-30": (66, "T"),
    "1999-02-04": (0, "N"),
    "2003-01-17": (32, "D"),
    "2007-11-11": (65, "R"),
    "2012-05-24": (29, "S"),  # would move the last frost of 2012
    "2016-09-02": (88, "T"),
    "2021-01-25": (-44, "Z"),  # would be the coldest of the record
}
FLAGGED_TMAX_F = {"1987-07-04": (147, "X"), "2004-02-12": (18, "I")}

# The grower's thermometer.
GARDEN_SEASONS = (("2025-02-01", "2025-05-31"), ("2026-02-01", LAST))
GARDEN_CLEAR_F, GARDEN_CLEAR_SD_F = -3.2, 1.3  # garden less station on a clear calm night
GARDEN_OTHER_F, GARDEN_OTHER_SD_F = -0.8, 0.8
CLEAR_SHARE = 0.70  # of the nights without rain
GARDEN_ABSENT = ("2025-03-15", "2026-02-19")  # no row at all
GARDEN_UNREAD = {"2025-04-11": "thermometer fell from its nail"}  # a row without a value
GARDEN_MISREAD_F = {
    "2025-03-22": 61,
    "2025-04-28": 4,
    "2026-03-08": 70,
}  # read at noon, a figure lost, at noon


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """What an observer without a fault would have written down, a value for each day.

    Parameters
    ----------
    dates
        Days, shape (n,).
    tmin_f, tmax_f
        Minimum and maximum, whole [°F], shape (n,).
    rain_mm
        Rain, to a tenth [mm], shape (n,).
    clear
        Whether the night was clear and calm, shape (n,).
    """

    dates: Dates
    tmin_f: Floats
    tmax_f: Floats
    rain_mm: Floats
    clear: Bools


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """One element of the record in stored units, with its flags; shapes (n,)."""

    name: str
    values: npt.NDArray[np.int64]
    quality: npt.NDArray[np.str_]


def make_weather(rng: np.random.Generator) -> Weather:
    """Draw the weather of the whole record."""
    dates = np.arange(np.datetime64(FIRST), np.datetime64(LAST) + 1)
    anomaly = _stretch_cold(_persistent(rng.standard_normal(dates.size)))
    tmin_f = np.round(mean_tmin_f(dates) + _year_anomaly_f(dates, rng) + spread_f(dates) * anomaly)
    wet = _wet_days(rng.random(dates.size))
    rain_mm = np.where(wet, np.round(0.3 - MEAN_RAIN_MM * np.log(1.0 - rng.random(dates.size)), 1), 0.0)
    rise_f = 19.0 - 4.0 * _winter(dates) - 6.0 * wet + 4.0 * rng.standard_normal(dates.size)
    clear = ~wet & (rng.random(dates.size) < CLEAR_SHARE)
    tmax_f = tmin_f + np.maximum(np.round(rise_f), 2.0)
    return Weather(dates=dates, tmin_f=tmin_f, tmax_f=tmax_f, rain_mm=rain_mm, clear=clear)


def mean_tmin_f(dates: Dates) -> Floats:
    """Give the mean minimum of each day [°F]: the season's cycle and the slow warming.

    Examples
    --------
    >>> mean_tmin_f(np.array(["1996-01-16", "1996-07-16"], dtype="datetime64[D]")).round(1)
    array([27.6, 63.6])
    """
    decades = (dates - np.datetime64("1996-01-01")).astype(np.int64) / 3652.5
    cycle_f = -HALF_RANGE_F * _winter(dates) + LATE_SPRING_F * _winter(dates, waves=2)
    return MEAN_F + cycle_f + WARMING_F_PER_DECADE * decades


def spread_f(dates: Dates) -> Floats:
    """Give the standard deviation of each day's minimum [°F].

    Examples
    --------
    >>> spread_f(np.array(["1996-01-16", "1996-07-16"], dtype="datetime64[D]")).round(1)
    array([8. , 5.8])
    """
    return SPREAD_F + SPREAD_HALF_RANGE_F * _winter(dates)


def make_elements(weather: Weather, rng: np.random.Generator) -> list[Element]:
    """Turn the weather into what the archive stores, with everything that is wrong with it."""
    absent = _absent(weather.dates, rng)
    tmin_f = _put(weather.tmin_f, weather.dates, {UNFLAGGED_ERROR[0]: UNFLAGGED_ERROR[1]})
    return [
        _temperature("TMAX", weather.tmax_f, weather.dates, absent, FLAGGED_TMAX_F),
        _temperature("TMIN", tmin_f, weather.dates, absent, FLAGGED_TMIN_F),
        Element(
            name="PRCP",
            values=np.where(absent, -9999, np.round(weather.rain_mm * 10.0)).astype(np.int64),
            quality=np.full(absent.size, " "),
        ),
    ]


def write_station(path: Path, dates: Dates, elements: list[Element]) -> None:
    """Write the elements in the fixed-width form of GHCN-Daily, a line for each month and element."""
    months = dates.astype("datetime64[M]")
    lines = [
        _month_line(element, month, np.flatnonzero(months == month))
        for month in np.unique(months)
        if str(month) != ABSENT_MONTH
        for element in elements
    ]
    path.write_bytes("".join(lines).encode())


def write_garden(path: Path, weather: Weather, rng: np.random.Generator) -> None:
    """Write what the grower's own thermometer showed, a row for each morning it was read."""
    usual_f = np.where(weather.clear, GARDEN_CLEAR_F, GARDEN_OTHER_F)
    scatter_f = np.where(weather.clear, GARDEN_CLEAR_SD_F, GARDEN_OTHER_SD_F)
    garden_f = np.round(weather.tmin_f + usual_f + scatter_f * rng.standard_normal(usual_f.size))
    rows = [
        _garden_row(str(date), int(tmin_f), bool(clear))
        for date, tmin_f, clear in zip(weather.dates, garden_f, weather.clear, strict=True)
        if any(first <= str(date) <= last for first, last in GARDEN_SEASONS)
        and str(date) not in GARDEN_ABSENT
    ]
    rows[0] = f"{rows[0].rsplit(',', 1)[0]},INVENTED: there is no such garden"
    path.write_bytes("\n".join(["date,tmin_f,clear_calm,note", *rows, ""]).encode())


def make_samples(folder: Path) -> None:
    """Write every sample file into a folder, which is made where there is none."""
    folder.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(SEED)
    weather = make_weather(rng)
    write_station(folder / "oskelmere.dly", weather.dates, make_elements(weather, rng))
    write_garden(folder / "hollin_bank.csv", weather, rng)
    write_forecasts(folder)


def _winter(dates: Dates, *, waves: int = 1) -> Floats:
    day = (dates - dates.astype("datetime64[Y]")).astype(np.float64) + 1.0
    cosine: Floats = np.cos(2.0 * np.pi * waves * (day - COLDEST_DAY) / 365.25)
    return cosine


def _persistent(shocks: Floats) -> Floats:
    fresh = (1.0 - PERSISTENCE**2) ** 0.5
    anomaly = shocks.copy()
    for day in range(1, anomaly.size):
        anomaly[day] = PERSISTENCE * anomaly[day - 1] + fresh * shocks[day]
    return anomaly


def _stretch_cold(anomaly: Floats) -> Floats:
    return np.where(anomaly < -1.0, -1.0 + COLD_TAIL * (anomaly + 1.0), anomaly)


def _year_anomaly_f(dates: Dates, rng: np.random.Generator) -> Floats:
    new_years = np.arange(dates[0].astype("datetime64[Y]"), dates[-1].astype("datetime64[Y]") + 2)
    place = (new_years.astype("datetime64[D]") - dates[0]).astype(np.float64)
    days = np.arange(dates.size, dtype=np.float64)
    return np.interp(days, place, YEAR_SD_F * rng.standard_normal(new_years.size))


def _wet_days(chance: Floats) -> Bools:
    wet = np.zeros(chance.size, dtype=np.bool_)
    for day in range(1, chance.size):
        wet[day] = chance[day] < (WET_AFTER_WET if wet[day - 1] else WET_AFTER_DRY)
    return wet


def _absent(dates: Dates, rng: np.random.Generator) -> Bools:
    in_gap = (dates >= np.datetime64(GAP[0])) & (dates <= np.datetime64(GAP[1]))
    planted_days = [UNFLAGGED_ERROR[0], *FLAGGED_TMIN_F, *FLAGGED_TMAX_F]
    planted = np.isin(dates, np.array(planted_days, dtype=dates.dtype))
    return (in_gap | (rng.random(dates.size) < ABSENT_SHARE)) & ~planted


def _put(values: Floats, dates: Dates, planted: dict[str, int]) -> Floats:
    changed = values.copy()
    for day, value in planted.items():
        changed[dates == np.datetime64(day)] = value
    return changed


def _temperature(
    name: str, temp_f: Floats, dates: Dates, absent: Bools, flagged: dict[str, tuple[int, str]]
) -> Element:
    quality = np.full(dates.size, " ")
    for day, (_, flag) in flagged.items():
        quality[dates == np.datetime64(day)] = flag
    shown_f = _put(temp_f, dates, {day: value for day, (value, _) in flagged.items()})
    tenths = np.where(absent, -9999, np.round((shown_f - 32.0) / 0.18)).astype(np.int64)
    return Element(name=name, values=tenths, quality=quality)


def _month_line(element: Element, month: np.datetime64, days: npt.NDArray[np.int64]) -> str:
    source = "0" if str(month) < "2010" else "7"
    cells = [_cell(int(element.values[day]), str(element.quality[day]), source) for day in days]
    cells += ["-9999   "] * (31 - len(cells))
    return f"{STATION_ID}{str(month).replace('-', '')}{element.name}{''.join(cells)}\n"


def _cell(value: int, quality: str, source: str) -> str:
    return "-9999   " if value == -9999 else f"{value:5d} {quality}{source}"


def _garden_row(date: str, tmin_f: int, clear: bool) -> str:
    mark = "yes" if clear else "no"
    if date in GARDEN_UNREAD:
        return f"{date},,{mark},{GARDEN_UNREAD[date]}"
    tmin_f = GARDEN_MISREAD_F.get(date, tmin_f)
    note = ("white frost" if tmin_f <= 32 else "") if clear else ""
    return f"{date},{tmin_f},{mark},{note}"


if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent
    make_samples(target)
    print(f"Wrote the invented samples into {target}.")
