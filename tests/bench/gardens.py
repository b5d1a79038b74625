"""A garden with five years of journal, and a large one, invented, for the benches of a morning."""

from __future__ import annotations

import datetime as dt
import itertools
import shutil
from collections.abc import Iterator
from pathlib import Path

from frostgate.garden.journal import Journal, journal_file, new_entry
from frostgate.model.garden import Entry

SAMPLES = Path(__file__).parents[2] / "data_samples"
LAST = dt.date(2026, 5, 16)
YEARS = 5
POTS = """
[[pots]]
name = "row {row}"
tree = "plum"
count = {count}
stage = "established"
pot = "11 gal"
winters = "sheltered"
"""


def made_garden(folder: Path, *, fed: bool) -> Path:
    """Copy the sample garden into a folder and fill its journal, fed this spring or not yet."""
    for name in ("garden.toml", "oskelmere.dly", "forecast_clear.csv"):
        shutil.copy(SAMPLES / name, folder)
    file = folder / "garden.toml"
    with Journal.open(journal_file(file)) as journal:
        journal.add(*_entries())
        if fed:
            journal.add(*_first_feeding())
    return file


def large_garden(folder: Path, entries: int, pots: int) -> Path:
    """Make the garden one of so many more pots, ten a group, with a journal of so many entries."""
    file = made_garden(folder, fed=False)
    rows = "".join(POTS.format(row=row, count=10) for row in range(pots // 10))
    file.write_text(file.read_text(encoding="utf-8") + rows, encoding="utf-8")
    with Journal.open(journal_file(file)) as journal:
        journal.add(*itertools.islice(_entries(entries // 3 // 365 + 1), entries - len(journal.entries())))
    return file


def _entries(years: int = YEARS) -> Iterator[Entry]:
    """Write a forecast, a verdict and a minimum for each day, and fifteen feedings a year."""
    for ago in range(years * 365, 0, -1):
        day = LAST - dt.timedelta(days=ago)
        made_at = dt.datetime.combine(day, dt.time(6, 30))
        nights = [
            {"morning": (day + dt.timedelta(days=lead)).isoformat(), "tmin_c": 4.0 + lead % 3, "sd_c": None}
            for lead in range(1, 8)
        ]
        forecast = {"source": "forecast.csv", "issued_at": f"{day}T06:00:00", "nights": nights}
        verdict = {"state": "shut", "risk_today": 0.4, "earliest_date": None, "risk_tolerance": 0.1,
                   "reasons": ["If you feed today, the chance of a damaging frost still to come is 40 %."],
                   "inputs": {"offset_c": -1.1}}  # fmt: skip
        yield new_entry("forecast", made_at=made_at, body=forecast)
        yield new_entry("verdict", made_at=made_at, body=verdict)
        yield new_entry("minimum", made_at=made_at, body={"tmin_c": 3.0 + day.day % 5})
        if day.month in {5, 6, 7} and day.day % 6 == 0 and day.year < LAST.year:
            fed = {"phase": "wake-up", "feeding_kind": "liquid", "doses": [], "pots": 9,
                   "n_per_pot_mg": None}  # fmt: skip
            yield new_entry("feeding", made_at=made_at, group="old plums", body=fed)


def _first_feeding() -> Iterator[Entry]:
    """Write this spring's first feeding of every group, three days ago: today nothing is due."""
    made_at = dt.datetime.combine(LAST - dt.timedelta(days=3), dt.time(18))
    for group in ("old plums", "new pears", "cuttings", "by the wall"):
        for kind in ("liquid", "top-dressing"):
            body = {"phase": None, "feeding_kind": kind, "doses": [], "pots": 1, "n_per_pot_mg": None}
            yield new_entry("feeding", made_at=made_at, group=group, body=body)
