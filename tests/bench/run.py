"""Time frostgate against general tools, side by side in one run, and print the ratios.

    python tests/bench/run.py [READ | FROSTS | START ...]

Each pair runs in turn, A B A B; the ratio is the median of the pairs. Quote ratios, not seconds.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from rich.console import Console
from rich.table import Table

from frostgate.climate.frosts import last_frost_days
from frostgate.seasons import NORTH, season_grid
from frostgate.sources.records import parse_minima
from frostgate.units import as_stored, celsius

ROOT = Path(__file__).parents[2]
THRESHOLDS_C = [as_stored(celsius(float(f))) for f in (36, 32, 28, 24, 20, 16)]
Work = Callable[[], object]


@dataclass(frozen=True)
class Pair:
    """Two ways to the same end; ``times`` is how much faster frostgate is."""

    what: str
    against: str
    times: float
    wanted: str


def main(wanted: list[str]) -> None:
    """Run the benches asked for, or all."""
    table = Table(title="how many times faster, median of pairs run in turn")
    for column in ("what", "against", "times faster", "wanted"):
        table.add_column(column)
    for name, bench in {"READ": reading, "FROSTS": frosts, "START": starting}.items():
        if wanted and name not in wanted:
            continue
        for pair in bench():
            table.add_row(pair.what, pair.against, f"{pair.times:.2f}", pair.wanted)
    Console(width=120).print(table)


def compare(ours: Work, theirs: Work, rounds: int) -> float:
    """Time two works in turn; give the median of theirs over ours."""
    ours(), theirs()
    return float(np.median([_seconds(theirs) / _seconds(ours) for _ in range(rounds)]))


def reading() -> Iterator[Pair]:
    """A 100-year .dly file with five elements; the general readers get its TMIN as a plain CSV."""
    import polars
    import pyarrow.csv

    with tempfile.TemporaryDirectory() as folder:
        dly, plain = Path(folder) / "century.dly", Path(folder) / "century.csv"
        _write_century(dly)
        minima = parse_minima(dly.read_bytes(), dly)
        pd.DataFrame({"date": minima.dates.astype(str), "tmin": np.round(minima.tmin_c * 10)}).to_csv(
            plain, index=False
        )

        def ours() -> object:
            return parse_minima(dly.read_bytes(), dly)

        fixed = [(0, 11), (11, 15), (15, 17), (17, 21)]
        fixed += [edge for k in range(31) for edge in ((21 + 8 * k, 26 + 8 * k), (26 + 8 * k, 29 + 8 * k))]
        what = "read 100 years x 5 elements"
        yield Pair(what, "pandas.read_fwf, the same file",
                   compare(ours, lambda: pd.read_fwf(dly, colspecs=fixed, header=None), 3), ">= 50")  # fmt: skip
        yield Pair(what, "polars.read_csv, TMIN only",
                   compare(ours, lambda: polars.read_csv(plain, try_parse_dates=True), 40), ">= 1")  # fmt: skip
        yield Pair(what, "pyarrow read_csv, TMIN only",
                   compare(ours, lambda: pyarrow.csv.read_csv(plain), 40), ">= 1")  # fmt: skip


def frosts() -> Iterator[Pair]:
    """Last frosts of 500 stations x 60 years at six thresholds."""
    days = np.arange("1960-08-01", "2020-08-01", dtype="datetime64[D]")
    tmin_c = _weather(days, 500)
    start_years, grid = season_grid(days, tmin_c, NORTH)
    long = pd.DataFrame(tmin_c, index=pd.DatetimeIndex(days)).melt(
        ignore_index=False, var_name="station", value_name="tmin"
    )
    long["season"] = np.where(long.index.month >= 8, long.index.year, long.index.year - 1)
    long["day"] = long.index
    long = long.reset_index(drop=True)

    def by_pandas() -> object:
        return [long[long.tmin <= t + 1e-9].groupby(["station", "season"]).day.max() for t in THRESHOLDS_C]

    def ours() -> object:
        return last_frost_days(grid, THRESHOLDS_C)

    _require_equal(ours(), by_pandas(), start_years)
    what = "last frosts, 500 x 60 x 6"
    yield Pair(what, "pandas groupby, tidy table given", compare(ours, by_pandas, 5), ">= 20")
    yield Pair("the same, laid out first", "pandas groupby, tidy table given",
               compare(lambda: last_frost_days(season_grid(days, tmin_c, NORTH)[1], THRESHOLDS_C), by_pandas, 3), "")  # fmt: skip
    yield from _against_xclim(days, tmin_c, ours)


def starting() -> Iterator[Pair]:
    """`frostgate today` as a whole process, with the curve kept and without; ratios are theirs over ours."""
    samples = ROOT / "data_samples"
    asked = ["today", "--record", samples / "oskelmere.dly", "--forecast", samples / "forecast_frost.json",
             "--on", "2026-04-22", "--offset", "-2F"]  # fmt: skip
    command = [sys.executable, "-c", "from frostgate.cli.main import run; run()", *map(str, asked)]
    with tempfile.TemporaryDirectory() as folder:
        kept = os.environ | {"FROSTGATE_CACHE": folder}
        never = os.environ | {"FROSTGATE_CACHE": os.devnull}
        yield Pair("today, curve kept", 'python -c "import numpy"',
                   compare(_process(command, kept), _process([sys.executable, "-c", "import numpy"]), 15), ">= 0.5")  # fmt: skip
        heavy = [sys.executable, "-c", "import pandas, scipy.stats"]
        yield Pair("today, the first time", 'python -c "import pandas, scipy.stats"',
                   compare(_process(command, never), _process(heavy), 5), ">= 0.67")  # fmt: skip


def _against_xclim(days: np.ndarray, tmin_c: np.ndarray, ours: Work) -> Iterator[Pair]:
    try:
        import xarray
        from xclim.indices import last_spring_frost
    except ImportError:
        yield Pair("last frosts, 500 x 60 x 6", "xclim (not installed)", float("nan"), "")
        return
    held = xarray.DataArray(tmin_c, dims=("time", "station"), coords={"time": days}, attrs={"units": "degC"})

    def theirs() -> object:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return [
                last_spring_frost(held, thresh=f"{t + 1e-9} degC", before_date="07-01", freq="YS-AUG").load()
                for t in THRESHOLDS_C
            ]

    yield Pair("last frosts, 500 x 60 x 6", "xclim last_spring_frost", compare(ours, theirs, 2), "")


def _require_equal(found: object, series: object, start_years: np.ndarray) -> None:
    """Make sure that both ways come to the same dates."""
    for days, dates in zip(found, series, strict=True):  # type: ignore[call-overload]  # lists of arrays and series
        wide = dates.unstack("season").reindex(index=range(days.shape[0]), columns=start_years)
        start = pd.to_datetime([f"{year}-08-01" for year in start_years])
        elapsed = (wide - start).apply(lambda column: column.dt.days).to_numpy(float)
        late = np.array(
            [(pd.Timestamp(y + 1, 3, 1) - pd.Timestamp(y, 8, 1)).days == 212 for y in start_years]
        )
        slots = elapsed + ((elapsed >= 212) & late)
        assert np.array_equal(np.where(np.isinf(days), np.nan, days), slots, equal_nan=True)


def _weather(days: np.ndarray, stations: int) -> np.ndarray:
    rng = np.random.default_rng(7)
    phase = np.cos((days - days[0] - 170).astype(int) / 365.25 * 2 * np.pi)
    noise = rng.standard_normal((days.size, stations), dtype=np.float32).astype(float) * 4
    return np.round(8 - 11 * phase[:, np.newaxis] + rng.normal(0, 4, stations) + noise, 1)


def _write_century(path: Path) -> None:
    rng = np.random.default_rng(8)
    lines = []
    for month in np.arange("1920-01", "2020-01", dtype="datetime64[M]"):
        length = int((np.datetime64(month + 1, "D") - np.datetime64(month, "D")).astype(int))
        for element in ("TMAX", "TMIN", "PRCP", "SNOW", "SNWD"):
            values = [f"{rng.integers(-300, 350):5d}  0" if day < length else "-9999   " for day in range(31)]
            lines.append(f"XX000000001{str(month).replace('-', '')}{element}{''.join(values)}\n")
    path.write_text("".join(lines))


def _process(command: list[str], environment: dict[str, str] | None = None) -> Work:
    return lambda: subprocess.run(command, env=environment, capture_output=True, check=False)


def _seconds(work: Work) -> float:
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


if __name__ == "__main__":
    main(sys.argv[1:])
