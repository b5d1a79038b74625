"""Every documented form of input, damaged at random: each must end in an answer or in words, never in OPEN.

Where the garden's gate is shut, no damage to a file may open it. A longer run than that of the tests:

    python -m tests.faults.mutations 50000
"""

from __future__ import annotations

import contextlib
import io
import json
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from frostgate.cli.main import main
from frostgate.garden.exchange import write_json, write_table
from frostgate.garden.journal import Journal
from tests.journal_cases import one_of_each

SAMPLES = Path(__file__).parents[2] / "data_samples"
ON = "2026-04-22"  # a morning on which the sample garden's gate is shut, by its curve and by its forecast
LONGEST_S = 10
LARGEST_MB = 500
TOKENS = (
    *(b"1e308", b"-9999", b"nan", b"NaN", b"Infinity", b"-0", b"999999999999999999999999", b"", b"\x00"),
    *(b"\xff\xfe", b'"', b"'", b",", b";", b"\t", b"\n\n", b"{", b"}", b"[", b"]", b"null", b"true", b"#"),
    *("\u202e°½−".encode(), b"2026-02-30", b"9999-12-31", b"0001-01-01", b"../../etc/passwd", b"%s%n", b"\r"),
)


@dataclass(frozen=True)
class Case:
    """A form of input: the file that is damaged, and the command that reads it."""

    name: str
    file: str
    arguments: tuple[str, ...]
    weight: int  # how often it is drawn: what is slow to read is drawn less


GATE = ("today", "--on", ON, "--offset", "-2F")
FROST = ("--forecast", "frost.json")
SAMPLE = (*GATE, "--record", "oskelmere.dly")
HERE = ("--garden", "garden.toml")
JOURNAL = "garden.journal.sqlite"
CASES = (
    Case("record, .dly", "oskelmere.dly", (*SAMPLE, *FROST), 1),
    Case("record, table", "short.csv", (*GATE, "--record", "short.csv", *FROST), 2),
    Case("record, rows", "rows.csv", (*GATE, "--record", "rows.csv", *FROST), 2),
    Case("record, described", "short.csv", ("record", "short.csv"), 2),
    Case("own minima", "hollin_bank.csv", ("siting", "oskelmere.dly", "--garden", "hollin_bank.csv"), 2),
    Case("forecast, table", "frost.csv", (*SAMPLE, "--forecast", "frost.csv"), 12),
    Case("forecast, members", "members.csv", (*SAMPLE, "--forecast", "members.csv"), 8),
    Case("forecast, periods", "frost.json", (*SAMPLE, *FROST), 12),
    Case("forecast, arrays", "arrays.json", (*SAMPLE, "--forecast", "arrays.json"), 12),
    Case("forecast, gridpoint", "grid.json", (*SAMPLE, "--forecast", "grid.json"), 12),
    Case("forecast log", "log.csv", (*SAMPLE, *FROST, "--forecast-log", "log.csv"), 6),
    Case("garden file", "garden.toml", ("garden", *HERE), 12),
    Case("garden, today", "garden.toml", ("today", "--on", ON, *HERE), 6),
    Case("garden, plan", "garden.toml", ("plan", "--on", ON, *HERE), 3),
    Case("journal, today", JOURNAL, ("today", "--on", ON, *HERE), 8),
    Case("journal, listed", JOURNAL, ("log", "list", *HERE), 8),
    Case("import, table", "export.csv", ("log", "import", "export.csv", *HERE), 8),
    Case("import, JSON", "export.json", ("log", "import", "export.json", *HERE), 8),
    Case("kept climate", "kept/*.json", (*SAMPLE, *FROST), 6),
)
LOWS_F = (30, 28, 33, 36, 31, 39, 41)  # of the nights after that morning


def lay_out(folder: Path) -> None:
    """Write a sound file of every form into a folder; all invented."""
    for name in ("oskelmere.dly", "hollin_bank.csv", "garden.toml"):
        shutil.copy(SAMPLES / name, folder)
    shutil.copy(SAMPLES / "forecast_frost.json", folder / "frost.json")
    garden = (folder / "garden.toml").read_text().replace("forecast_clear.csv", "frost.json")
    (folder / "garden.toml").write_text(garden)
    nights = [(f"2026-04-{day}", low) for day, low in enumerate(LOWS_F, start=23)]
    head = f"# issued: {ON}T06:00\n# time zone: Etc/GMT+3\n"
    rows = "".join(f"{day},{low}\n" for day, low in nights)
    (folder / "frost.csv").write_text(f"{head}date,tmin_f\n{rows}")
    rows = "".join(f"{day},{low - 2},{low},{low + 1},{low + 3}\n" for day, low in nights)
    (folder / "members.csv").write_text(f"{head}date,m1_f,m2_f,m3_f,m4_f\n{rows}")
    arrays = {
        "latitude": 44.0,
        "longitude": -60.0,
        "timezone": "Etc/GMT+3",
        "daily_units": {"time": "iso8601", "temperature_2m_min": "°F"},
        "daily": {"time": [day for day, _ in nights], "temperature_2m_min": LOWS_F},
    }
    (folder / "arrays.json").write_text(json.dumps(arrays, indent=1))
    values = [
        {"validTime": f"{day}T02:00:00+00:00/PT10H", "value": round((low - 32) / 1.8, 1)}
        for day, low in nights
    ]
    grid = {
        "updateTime": f"{ON}T09:00:00+00:00",
        "timeZone": "Etc/GMT+3",
        "minTemperature": {"uom": "wmoUnit:degC", "values": values},
    }
    (folder / "grid.json").write_text(json.dumps({"properties": grid}))
    kept = [
        f"2026-04-{day:02d}T06:00,2026-04-{day + 1:02d},{day % 5 - 1},{day % 4 - 1}" for day in range(1, 20)
    ]
    (folder / "log.csv").write_text("\n".join(["issued_at,morning,forecast_c,observed_c", *kept, ""]))
    _short_records(folder)
    with Journal.open(folder / "garden.journal.sqlite") as journal:
        journal.add(*one_of_each())
        entries = journal.history()
    (folder / "export.csv").write_text(write_table(entries))
    (folder / "export.json").write_text(write_json(entries))


def _short_records(folder: Path) -> None:
    """Write twelve years of the sample record in two other forms."""
    from frostgate.sources.records import read_minima

    minima = read_minima(SAMPLES / "oskelmere.dly")
    table, rows = ["station,date,tmin_c"], ["ID,DATE,ELEMENT,VALUE,M_FLAG,Q_FLAG,S_FLAG,OBS_TIME"]
    for day, tmin_c in zip(minima.dates[-12 * 365 :], minima.tmin_c[-12 * 365 :], strict=True):
        if tmin_c == tmin_c:  # noqa: PLR0124  # NaN
            table.append(f"XX000000017,{day},{tmin_c:.1f}")
            rows.append(f"XX000000017,{str(day).replace('-', '')},TMIN,{round(tmin_c * 10)},,,S,0700")
    (folder / "short.csv").write_text("\n".join(table) + "\n")
    (folder / "rows.csv").write_text("\n".join(rows) + "\n")


def damage(content: bytes, rng: random.Random) -> bytes:
    """Return a file's bytes damaged in one of ten ways, once to three times."""
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        content = rng.choice(WAYS)(content, rng)
    return content


def _flip(content: bytes, rng: random.Random) -> bytes:
    at = rng.randrange(max(len(content), 1))
    return content[:at] + bytes([rng.randrange(256)]) + content[at + 1 :]


def _cut(content: bytes, rng: random.Random) -> bytes:
    at = rng.randrange(len(content) + 1)
    return content[:at] + content[at + rng.choice((1, 2, 7, 40, 500, 10_000)) :]


def _truncate(content: bytes, rng: random.Random) -> bytes:
    return content[: rng.randrange(len(content) + 1)]


def _insert(content: bytes, rng: random.Random) -> bytes:
    at = rng.randrange(len(content) + 1)
    return content[:at] + rng.choice(TOKENS) * rng.choice((1, 1, 1, 2, 300)) + content[at:]


def _repeat(content: bytes, rng: random.Random) -> bytes:
    at, length = rng.randrange(len(content) + 1), rng.choice((1, 10, 80, 3000))
    return content[: at + length] + content[at : at + length] + content[at + length :]


def _swap_lines(content: bytes, rng: random.Random) -> bytes:
    lines = content.split(b"\n")
    one, other = rng.randrange(len(lines)), rng.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]
    return b"\n".join(lines)


def _drop_line(content: bytes, rng: random.Random) -> bytes:
    lines = content.split(b"\n")
    del lines[rng.randrange(len(lines))]
    return b"\n".join(lines)


def _swap_letters(content: bytes, rng: random.Random) -> bytes:
    one, other = (bytes([rng.choice(content or b" ")]) for _ in range(2))
    return content.replace(one, other, rng.choice((1, 5, 10_000)))


def _recode(content: bytes, rng: random.Random) -> bytes:
    try:
        return content.decode().encode(rng.choice(("utf-16", "utf-8-sig", "cp1252", "utf-32")), "replace")
    except UnicodeDecodeError:
        return content[::-1]


def _line_ends(content: bytes, rng: random.Random) -> bytes:
    return content.replace(b"\n", rng.choice((b"\r\n", b"\r", b"", b"\n\n", b" \n")))


WAYS: tuple[Callable[[bytes, random.Random], bytes], ...] = (
    *(_flip, _flip, _cut, _truncate, _insert, _insert, _repeat, _swap_lines, _drop_line, _swap_letters),
    *(_recode, _line_ends),
)


@dataclass(frozen=True)
class Outcome:
    """What became of one damaged input."""

    case: str
    seed: int
    status: int
    wrong: str | None  # what must not be; None where all is well


class TooLongError(Exception):
    """It did not end."""


def run(case: Case, seed: int, sound: Path, folder: Path) -> Outcome:
    """Damage a copy of the sound folder's file by a seed, ask, and judge what comes."""
    rng = random.Random(f"{case.name} {seed}")
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(sound, folder)
    target = rng.choice(sorted(folder.glob(case.file)))
    target.write_bytes(damage(target.read_bytes(), rng))
    arguments = [*case.arguments, *(("--format", "json") if _has_json(case) and rng.random() < 0.5 else ())]
    out, err = io.StringIO(), io.StringIO()

    def stop(*_: object) -> None:
        raise TooLongError

    before = signal.signal(signal.SIGALRM, stop)
    signal.alarm(LONGEST_S)
    try:
        with contextlib.chdir(folder), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            status = main(arguments)
    except BaseException as fault:  # whatever leaves `main` is a finding
        return Outcome(case.name, seed, -1, f"{type(fault).__name__}: {fault}")
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)
    return Outcome(case.name, seed, status, _wrong(status, out.getvalue() + err.getvalue(), arguments))


def _has_json(case: Case) -> bool:
    return case.arguments[0] in {"today", "record", "plan", "siting"}


def _wrong(status: int, said: str, arguments: list[str]) -> str | None:
    if "Traceback" in said or "a fault of frostgate itself" in said:
        return said[-300:]
    if arguments[0] == "today" and status == 0:
        return "OPEN"
    if status == 2 and not said.strip():
        return "an error without words"
    return None if status in {0, 1, 2, 3} else f"exit status {status}"


def draw(count: int, first: int = 0) -> Iterator[tuple[Case, int]]:
    """Draw cases by their weights, each with a seed of its own."""
    rng = random.Random(first)
    for seed in range(first, first + count):
        yield rng.choices(CASES, [case.weight for case in CASES])[0], seed


@contextlib.contextmanager
def sound_folder() -> Iterator[tuple[Path, Path]]:
    """Make a folder of sound files with what a first morning keeps, and name one to work in."""
    import os

    with tempfile.TemporaryDirectory() as name:
        sound, work = Path(name) / "sound", Path(name) / "work"
        sound.mkdir()
        lay_out(sound)
        before = os.environ.get("FROSTGATE_CACHE")
        os.environ["FROSTGATE_CACHE"] = "kept"  # below the folder that is worked in
        try:
            with contextlib.chdir(sound), contextlib.redirect_stdout(io.StringIO()):
                main([*GATE, "--record", "oskelmere.dly", "--forecast", "frost.json"])
            yield sound, work
        finally:
            os.environ.pop("FROSTGATE_CACHE")
            if before is not None:
                os.environ["FROSTGATE_CACHE"] = before


def report(count: int) -> int:
    """Run many and print what came of them; the exit status is 1 where anything was wrong."""
    began, found, statuses = time.monotonic(), [], Counter[int]()
    with sound_folder() as (sound, work):
        for case, seed in draw(count):
            outcome = run(case, seed, sound, work)
            statuses[outcome.status] += 1
            if outcome.wrong is not None:
                found.append(outcome)
                print(outcome, flush=True)
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{count} inputs in {time.monotonic() - began:.0f} s, peak memory {peak_mb:.0f} MB")
    print(f"by exit status: {dict(sorted(statuses.items()))}; wrong: {len(found)}")
    return int(bool(found) or peak_mb > LARGEST_MB)


if __name__ == "__main__":
    sys.exit(report(int(sys.argv[1])))
