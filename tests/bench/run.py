"""Time frostgate against general tools, side by side in one run, and print the ratios.

    python tests/bench/run.py [READ | FROSTS | START | REPLAY | COMPARE | LARGE ...]

Each pair runs in turn, A B A B; the ratio is the median of the pairs. Quote ratios, not seconds. COMPARE and
LARGE hold what is asked against the seconds that it may take, and tell its memory; COMPARE takes minutes.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pandas as pd
from folders import asking, comparing
from gardens import LAST, made_garden
from pairs import Pair, Work, made_weather
from replays import replaying
from rich.console import Console
from rich.table import Table

from frostgate.climate.frosts import last_frost_days
from frostgate.seasons import NORTH, season_grid, split_dates
from frostgate.sources.records import parse_minima
from frostgate.units import as_stored, celsius

ROOT = Path(__file__).parents[2]
THRESHOLDS_C = [as_stored(celsius(float(f))) for f in (36, 32, 28, 24, 20, 16)]


def main(wanted: list[str]) -> None:
    """Run the benches asked for, or all."""
    table = Table(title="how many times faster, median of pairs run in turn")
    for column in ("what", "against", "times faster", "a second", "MB", "wanted"):
        table.add_column(column)
    for name, bench in BENCHES.items():
        if wanted and name not in wanted:
            continue
        for pair in bench():
            table.add_row(pair.what, pair.against, *pair.measured(), pair.wanted)
    Console(width=120).print(table)


CHEAP = "import numpy"
HEAVY = "import pandas, scipy.stats"


def reading() -> Iterator[Pair]:
    """A 100-year .dly file with five elements; the general readers get its TMIN as a plain CSV."""
    import polars
    import pyarrow.csv

    with tempfile.TemporaryDirectory() as folder:
        dly, plain = Path(folder) / "century.dly", Path(folder) / "century.csv"
        _write_century(dly)
        minima = parse_minima(dly.read_bytes(), dly)
        tenths = pd.DataFrame({"date": minima.dates.astype(str), "tmin": np.round(minima.tmin_c * 10)})
        tenths.to_csv(plain, index=False)
        months = [(0, 11), (11, 15), (15, 17), (17, 21)]
        days = [edge for k in range(21, 269, 8) for edge in ((k, k + 5), (k + 5, k + 8))]
        rivals: dict[str, tuple[Work, int, str]] = {
            "pandas.read_fwf, the same file": (
                lambda: pd.read_fwf(dly, colspecs=[*months, *days], header=None), 3, ">= 50"),
            "polars.read_csv, TMIN only": (
                lambda: polars.read_csv(plain, try_parse_dates=True), 40, ">= 1"),
            "pyarrow.csv.read_csv, TMIN only": (
                lambda: pyarrow.csv.read_csv(plain), 40, ">= 1"),
        }  # fmt: skip
        for against, (theirs, rounds, wanted) in rivals.items():
            yield Pair(
                what="read 100 years x 5 elements",
                against=against,
                ours=lambda: parse_minima(dly.read_bytes(), dly),
                theirs=theirs,
                rounds=rounds,
                wanted=wanted,
            )


def frosts() -> Iterator[Pair]:
    """Last frosts of 500 stations x 60 years at six thresholds."""
    days = np.arange("1960-08-01", "2020-08-01", dtype="datetime64[D]")
    tmin_c = made_weather(days, 500)
    start_years, grid = season_grid(days, tmin_c, NORTH)
    tidy = _tidy(days, tmin_c)

    def grouped(table: pd.DataFrame) -> list[pd.Series]:
        return [table[table.tmin <= t + 1e-9].groupby(["station", "season"]).day.max() for t in THRESHOLDS_C]

    _require_equal(last_frost_days(grid, THRESHOLDS_C), grouped(tidy), start_years)
    yield Pair(
        what="last frosts, 500 x 60 x 6, laid out",
        against="pandas groupby on a tidy table",
        ours=lambda: last_frost_days(grid, THRESHOLDS_C),
        theirs=lambda: grouped(tidy),
        rounds=7,
        wanted=">= 20",
    )
    yield Pair(
        what="the same from days x stations",
        against="pandas melt and groupby",
        ours=lambda: last_frost_days(season_grid(days, tmin_c, NORTH)[1], THRESHOLDS_C),
        theirs=lambda: grouped(_tidy(days, tmin_c)),
        rounds=3,
    )
    yield from _against_xclim(days, tmin_c, lambda: last_frost_days(grid, THRESHOLDS_C))


def starting() -> Iterator[Pair]:
    """`frostgate today` as a whole process, with the curve kept and without."""
    samples = ROOT / "data_samples"
    asked = ["--record", samples / "oskelmere.dly", "--forecast", samples / "forecast_frost.json",
             "--on", "2026-04-22", "--offset", "-2F"]  # fmt: skip
    command = ["-c", "from frostgate.cli.main import run; run()", "today", *map(str, asked)]
    with tempfile.TemporaryDirectory() as folder, tempfile.TemporaryDirectory() as beside:
        quiet, due = (
            _in_garden(command, Path(beside) / name, fed=fed) for name, fed in (("a", True), ("b", False))
        )
        for what, asked_so, cache, against, rounds, wanted in (
            ("today, curve kept", command, folder, CHEAP, 25, ">= 0.4"),
            ("today in a garden with 5 years of journal", quiet, folder, CHEAP, 25, ">= 0.4"),
            ("the same, with six feedings due", due, folder, CHEAP, 25, ">= 0.4"),
            ("today, the first time", command, os.devnull, HEAVY, 5, ">= 0.67"),
        ):
            yield Pair(
                what=what,
                against=f'python -c "{against}"',
                ours=_process(asked_so, os.environ | {"FROSTGATE_CACHE": cache}),
                theirs=_process(["-c", against]),
                rounds=rounds,
                wanted=wanted,
            )


def _in_garden(command: list[str], folder: Path, *, fed: bool) -> list[str]:
    folder.mkdir()
    return [*command[:2], "today", "--garden", str(made_garden(folder, fed=fed)), "--on", str(LAST)]


def _against_xclim(days: np.ndarray, tmin_c: np.ndarray, ours: Work) -> Iterator[Pair]:
    try:
        import xarray
        from xclim.indices import last_spring_frost
    except ImportError:
        return  # not everybody has it
    held = xarray.DataArray(tmin_c, dims=("time", "station"), coords={"time": days}, attrs={"units": "degC"})

    def theirs() -> object:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return [
                last_spring_frost(held, thresh=f"{t + 1e-9} degC", before_date="07-01", freq="YS-AUG").load()
                for t in THRESHOLDS_C
            ]

    yield Pair(
        what="last frosts, 500 x 60 x 6, laid out",
        against="xclim last_spring_frost",
        ours=ours,
        theirs=theirs,
        rounds=2,
    )


def _tidy(days: np.ndarray, tmin_c: np.ndarray) -> pd.DataFrame:
    table = pd.DataFrame(tmin_c, index=pd.DatetimeIndex(days))
    table = table.melt(ignore_index=False, var_name="station", value_name="tmin")
    table["season"] = np.where(table.index.month >= 8, table.index.year, table.index.year - 1)
    table["day"] = table.index
    return table.reset_index(drop=True)


def _require_equal(found: np.ndarray, grouped: list[pd.Series], start_years: np.ndarray) -> None:
    """Make sure that both ways come to the same dates."""
    for days, dates in zip(found, grouped, strict=True):
        stations, seasons = dates.index.get_level_values("station"), dates.index.get_level_values("season")
        expected = np.full(days.shape, -np.inf)
        _, slots = split_dates(dates.to_numpy().astype("datetime64[D]"), NORTH)
        expected[stations.astype(int), seasons - start_years[0]] = slots
        if not np.array_equal(days, expected):
            raise SystemExit("the two ways come to different dates")


def _write_century(path: Path) -> None:
    rng = np.random.default_rng(8)
    lines = []
    for month in np.arange("1920-01", "2020-01", dtype="datetime64[M]"):
        length = int((np.datetime64(month + 1, "D") - np.datetime64(month, "D")).astype(int))
        for element in ("TMAX", "TMIN", "PRCP", "SNOW", "SNWD"):
            values = [f"{rng.integers(-300, 350):5d}  0" if day < length else "-9999   " for day in range(31)]
            lines.append(f"XX000000001{str(month).replace('-', '')}{element}{''.join(values)}\n")
    path.write_text("".join(lines))


def _process(arguments: list[str], environment: dict[str, str] | None = None) -> Work:
    command = [sys.executable, *arguments]
    as_for_a_grower = dict(environment or os.environ)
    as_for_a_grower.pop("PYTHONDONTWRITEBYTECODE", None)  # nothing of the package is compiled each morning
    return lambda: subprocess.run(command, env=as_for_a_grower, capture_output=True, check=False)


BENCHES: dict[str, Callable[[], Iterator[Pair]]] = {
    "READ": reading,
    "FROSTS": frosts,
    "START": starting,
    "REPLAY": replaying,
    "COMPARE": comparing,
    "LARGE": asking,
}


if __name__ == "__main__":
    main(sys.argv[1:])
