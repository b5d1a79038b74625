"""Draw small changes of the code at random and tell how many the tests notice: draw.py [COUNT] [SEED].

    .venv/bin/pip install mutmut
    .venv/bin/mutmut run "frostgate.gate.verdict.*__mutmut_1"  # makes the changes, learns who calls what
    .venv/bin/python tests/mutants/draw.py 300 1

A development command, not in CI: the first two steps take a quarter of an hour, each change ten seconds.
mutmut makes the changes and knows which tests call a function; the tests are run here by their files, since
names of cases such as "[°F]" cannot be handed to pytest one by one. The settings stand in pyproject.toml. A
change that leaves all values equal cannot be noticed: judge the survivors by reading them (mutmut show NAME).
"""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
from collections import Counter
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

MUTANTS = Path("mutants").resolve()
PATIENCE_S = 600  # an endless loop is a change that was noticed
PYTEST = ["-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", "-o", "addopts=--import-mode=importlib",
          "-m", "not slow", "-k", "not load and not heavy and not without_the_libraries"]  # fmt: skip


def all_changes() -> list[str]:
    """List the changes that mutmut has made, by name."""
    metas = sorted(MUTANTS.rglob("*.meta"))
    return [
        name for meta in metas for name in json.loads(meta.read_text(encoding="utf-8"))["exit_code_by_key"]
    ]


def files_for(change: str, stats: Mapping[str, Mapping[str, object]]) -> list[str]:
    """List the test files that call the changed function: its own module's first, then the quickest."""
    tests = stats["tests_by_mangled_function_name"].get(change.rpartition("__mutmut_")[0], [])
    seconds: Counter[str] = Counter()
    for test in tests:
        seconds[test.partition("::")[0]] += stats["duration_by_test"].get(test, 0.0)
    module = change.split(".")[2]
    return sorted(seconds, key=lambda file: (module not in file, seconds[file]))


def is_noticed(change: str, files: Sequence[str]) -> bool:
    """Run the tests on one change."""
    if not files:
        return False
    try:
        done = subprocess.run(
            [sys.executable, *PYTEST, *files],
            cwd=MUTANTS,
            env=os.environ | {"MUTANT_UNDER_TEST": change, "PYTHONPATH": str(MUTANTS)},
            capture_output=True,
            timeout=PATIENCE_S,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return True
    return done.returncode == 1


def main(count: int = 300, seed: int = 1) -> None:
    """Draw, run, and print the survivors and the share that was noticed."""
    stats = json.loads((MUTANTS / "mutmut-stats.json").read_text(encoding="utf-8"))
    drawn = random.Random(seed).sample(all_changes(), count)
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        noticed = list(pool.map(lambda change: is_noticed(change, files_for(change, stats)), drawn))
    for change, was_noticed in zip(drawn, noticed, strict=True):
        if not was_noticed:
            print("not noticed:", change)
    print(f"noticed: {sum(noticed)} of {len(drawn)}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
