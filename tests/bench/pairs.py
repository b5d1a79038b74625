"""What every bench needs: two ways to the same end timed in turn, or one and its limit; invented weather."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

Work = Callable[[], object]


@dataclass(frozen=True, kw_only=True)
class Pair:
    """Two ways to the same end, timed in turn, or one way and the seconds that it may take."""

    what: str
    against: str
    ours: Work
    theirs: Work | float
    rounds: int
    wanted: str = ""
    share: float = 1.0  # of the work that theirs does; its time is scaled up to all of it
    count: int | None = None  # of the things that ours goes through, for their rate
    peak_mb: Callable[[], float] | None = None  # the most memory that ours has held

    def measured(self) -> tuple[str, str, str]:
        """Run both in turn; tell the median of theirs over ours, how many a second, and the memory."""
        if self.rounds > 1:  # once to warm up
            _seconds(self.ours), _seconds(self.theirs)
        took = [(_seconds(self.theirs) / self.share, _seconds(self.ours)) for _ in range(self.rounds)]
        ratio = np.median([theirs / ours for theirs, ours in took])
        rate = "" if self.count is None else f"{self.count / np.median([ours for _, ours in took]):.1f}"
        return f"{ratio:.2f}", rate, "" if self.peak_mb is None else f"{self.peak_mb():.0f}"


def made_weather(days: np.ndarray, stations: int, seed: int = 7) -> np.ndarray:
    """Make minima of some stations [°C], shape (days, stations)."""
    rng = np.random.default_rng(seed)
    phase = np.cos((days - days[0] - 170).astype(int) / 365.25 * 2 * np.pi)
    noise = rng.standard_normal((days.size, stations), dtype=np.float32).astype(float) * 4
    return np.round(8 - 11 * phase[:, np.newaxis] + rng.normal(0, 4, stations) + noise, 1)


def _seconds(work: Work | float) -> float:
    if isinstance(work, float):
        return work
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun
