"""A garden, its entries and an old journal, all invented, for the tests of the journal."""

from __future__ import annotations

import datetime as dt
import itertools
import sqlite3
from contextlib import closing
from pathlib import Path

from frostgate.garden.journal import Journal, new_entry
from frostgate.garden.store import APPLICATION_ID, COLUMNS, MIGRATIONS, row_of
from frostgate.model.feedings import Analysis, Product
from frostgate.model.garden import Entry, Garden, PotGroup, Site
from frostgate.units import TABLESPOON_ML

NOW = dt.datetime(2026, 4, 12, 7)
TODAY = NOW.date()
DAY = dt.timedelta(days=1)

OLD_PLUMS = PotGroup(name="old plums", tree="plum", count=24, stage="established", pot_l=34.0, per_pot_l=2.8,
                    winters="outdoors", movable=False)  # fmt: skip
CUTTINGS = PotGroup(name="cuttings", tree="currant", count=5, stage="cutting", pot_l=3.8, per_pot_l=1.0,
                    winters="unheated room", movable=True)  # fmt: skip
FIRST_FEED = Product(name="First feed", analysis=Analysis(n=17, p2o5=5, k2o=9), form="soluble",
                      density_g_ml=15.3 / TABLESPOON_ML, density_from="label", rate=None)  # fmt: skip
EPSOM_SALT = Product(name="Epsom salt", analysis=Analysis(mg=9.86, s=13.0), form="soluble",
                     density_g_ml=1.0, density_from="default", rate=None)  # fmt: skip
GRANULES = Product(name="Granules", analysis=Analysis(n=6, p2o5=4, k2o=5), form="granular",
                   density_g_ml=0.9, density_from="default", rate=None)  # fmt: skip


def make_garden(file: Path = Path("garden.toml"), **changes) -> Garden:
    """Make a garden of two groups of pots and three products, read in US units."""
    given = {"sites": (Site(name="Hollin Bank", time_zone="Etc/GMT+3"),), "units": "us",
             "groups": (OLD_PLUMS, CUTTINGS), "products": (FIRST_FEED, EPSOM_SALT, GRANULES)}  # fmt: skip
    return Garden(file=file, **(given | changes))


def minimum(tmin_c: float = -1.1, on: dt.date = TODAY, made_at: dt.datetime = NOW) -> Entry:
    return new_entry("minimum", made_at=made_at, on=on, body={"tmin_c": tmin_c})


def feeding(on: dt.date = TODAY, group: str = "old plums", made_at: dt.datetime = NOW, **body) -> Entry:
    told = {"phase": "wake-up", "feeding_kind": "liquid", "pots": 24, "n_per_pot_mg": 300.0,
            "doses": [{"product": "First feed", "grams": 30.0}]}  # fmt: skip
    return new_entry("feeding", made_at=made_at, on=on, group=group, body=told | body)


def event(kind: str, on: dt.date = TODAY, group: str | None = "old plums", made_at: dt.datetime = NOW,
          note: str = "") -> Entry:  # fmt: skip
    return new_entry(kind, made_at=made_at, on=on, group=group, body={"note": note} if note else {})


def forecast(issued_at: str, nights: dict[str, float | None], made_at: dt.datetime = NOW) -> Entry:
    told = [{"morning": day, "tmin_c": tmin_c, "sd_c": None} for day, tmin_c in nights.items()]
    body = {"source": "forecast.csv", "issued_at": issued_at, "nights": told}
    return new_entry("forecast", made_at=made_at, body=body)


def one_of_each() -> tuple[Entry, ...]:
    """Make an entry of every kind but undo."""
    verdict = {"state": "shut", "risk_today": 0.4, "earliest_date": "2026-05-16", "risk_tolerance": 0.1,
               "reasons": ["The curve alone tells 40 %."], "inputs": {"offset_c": -1.1}}  # fmt: skip
    return (
        feeding(),
        *(event(kind, note='tips brown,\n"north" side; ½ dead') for kind in ("bud break", "fruit set")),
        *(event(kind, group=None) for kind in ("growth", "damage")),
        minimum(),
        forecast("2026-04-12T06:00", {"2026-04-13": 1.5, "2026-04-14": None}),
        new_entry("verdict", made_at=NOW, body=verdict),
    )


def five_years(path: Path) -> int:
    """Write a journal of five years: a forecast and a verdict each morning, 500 entries of other kinds."""
    entries: list[Entry] = []
    for back in range(5 * 365, 0, -1):
        at = NOW - back * DAY
        nights = {str((at + ahead * DAY).date()): 2.5 for ahead in range(1, 15)}
        verdict = {"state": "shut", "risk_today": 0.4, "earliest_date": "2026-05-16", "risk_tolerance": 0.1,
                   "reasons": ["A reason of about seventy letters, as a grower is told each morning."] * 8,
                   "inputs": {"damage_temp_c": 0.0, "offset_c": -1.1}}  # fmt: skip
        entries += [
            forecast(f"{at:%Y-%m-%dT06:00}", nights, at),
            new_entry("verdict", made_at=at, body=verdict),
        ]
        if back % 5 == 0:
            entries += [minimum(1.0, at.date(), at)]
        if back % 14 == 0:
            entries += [feeding(at.date(), made_at=at)]
    with Journal.open(path) as journal:
        journal.add(*entries)
    return len(entries)


def older_journal(path: Path, *entries: Entry, version: int = 1) -> Path:
    """Write a journal as an older version had it."""
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("PRAGMA journal_mode = WAL")
        for statement in itertools.chain.from_iterable(MIGRATIONS[:version]):
            db.execute(statement)
        db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        db.execute(f"PRAGMA user_version = {version}")
        db.execute("BEGIN")
        db.executemany(
            f"INSERT INTO entries ({COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?)",  # noqa: S608
            [row_of(0, entry)[1:-1] for entry in entries],
        )
        db.execute("COMMIT")
    return path


def version_of_file(path: Path) -> int:
    with closing(sqlite3.connect(path)) as db:
        return db.execute("PRAGMA user_version").fetchone()[0]
