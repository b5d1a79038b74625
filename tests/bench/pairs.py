"""What every bench needs: two ways to the same end, timed in turn, and invented weather."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

Work = Callable[[], object]


@dataclass(frozen=True, kw_only=True)
class Pair:
    """Two ways to the same end, timed in turn."""

    what: str
    against: str
    ours: Work
    theirs: Work
    rounds: int
    wanted: str = ""
    share: float = 1.0  # of the work that theirs does; its time is scaled up to all of it

    def times_faster(self) -> float:
        """Run both in turn; give the median of theirs over ours."""
        self.ours(), self.theirs()
        ratios = [_seconds(self.theirs) / self.share / _seconds(self.ours) for _ in range(self.rounds)]
        return float(np.median(ratios))


def made_weather(days: np.ndarray, stations: int) -> np.ndarray:
    """Make minima of some stations [°C], shape (days, stations)."""
    rng = np.random.default_rng(7)
    phase = np.cos((days - days[0] - 170).astype(int) / 365.25 * 2 * np.pi)
    noise = rng.standard_normal((days.size, stations), dtype=np.float32).astype(float) * 4
    return np.round(8 - 11 * phase[:, np.newaxis] + rng.normal(0, 4, stations) + noise, 1)


def _seconds(work: Work) -> float:
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun
