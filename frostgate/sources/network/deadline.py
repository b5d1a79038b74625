"""How long a document may take, all in all, wherever it hangs.

Elapsed time is not the time of day: what o'clock it is comes from the caller, always.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Future
from time import monotonic, sleep
from typing import TypeVar

from frostgate.sources.network.faults import Fault

Given = TypeVar("Given")

GRACE_S = 0.2  # in which the work may still say itself what held it up


class Deadline:
    """A stretch of time that begins now.

    Parameters
    ----------
    wait_s
        How long it lasts [s].

    Examples
    --------
    >>> Deadline(20.0).remaining_s() <= 20.0
    True
    """

    def __init__(self, wait_s: float) -> None:
        self.wait_s = wait_s
        self._end = monotonic() + wait_s

    def remaining_s(self) -> float:
        """Give what is left [s], no less than 0."""
        return max(self._end - monotonic(), 0.0)

    def check(self) -> None:
        """Raise a `Fault` once the time is over."""
        if self.remaining_s() <= 0.0:
            raise self.passed()

    def pause(self, pause_s: float) -> None:
        """Wait, but never beyond the end [s]."""
        sleep(min(pause_s, self.remaining_s()))

    def passed(self) -> Fault:
        """Give the fault that says so."""
        return Fault(
            f"not whole within {self.wait_s:g} s",
            remedy="Try again later, or allow it more time with --wait.",
            passing=False,
        )


def within(deadline: Deadline, work: Callable[[], Given]) -> Given:
    """Do some work, and give up on it when the time is over, even where it cannot be interrupted.

    Looking up an address or waiting for a server's headers cannot be stopped from outside; so the work runs
    beside, and is left behind if it hangs. It must look at the deadline itself before it keeps anything.

    Raises
    ------
    Fault
        Where the time is over; else whatever the work raises.

    Examples
    --------
    >>> within(Deadline(5.0), lambda: 6 * 7)
    42
    """
    outcome: Future[Given] = Future()

    def run() -> None:
        try:
            outcome.set_result(work())
        except BaseException as fault:  # handed over whole to the one who waits
            outcome.set_exception(fault)

    threading.Thread(target=run, name="frostgate network", daemon=True).start()
    try:
        return outcome.result(deadline.remaining_s() + GRACE_S)
    except TimeoutError:
        raise deadline.passed() from None
