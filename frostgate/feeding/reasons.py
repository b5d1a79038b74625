"""Why a feeding stands on its day, in words."""

from __future__ import annotations

import datetime as dt
import re

from frostgate.feeding.intervals import say_day
from frostgate.terms.phases import Phase
from frostgate.values import dataclass

SEEN = ("bud break", "fruit set")  # anchors that only the grower can see
LOG_BUDS = "once buds move: log bud break"


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """What is known of a group's season when its next feeding is dated.

    Parameters
    ----------
    gate, buds
        The gate's date and that of bud break; None where not known or not logged.
    fed
        Whether a first feeding is dated or done.

    Examples
    --------
    >>> Moment(gate=None, buds=None, fed=False).fed
    False
    """

    gate: dt.date | None
    buds: dt.date | None
    fed: bool


def say_begin(phase: Phase, anchor: dt.date | None, moment: Moment) -> str:
    """Say why a phase begins when it does.

    Examples
    --------
    >>> phase = Phase(name="build-up", kind="liquid", anchor="first feeding", after_days=28, every_days=14,
    ...               portions=())
    >>> say_begin(phase, dt.date(2026, 5, 16), Moment(gate=dt.date(2026, 5, 16), buds=None, fed=True))
    '28 days after the first feeding'
    """
    after = f"{phase.after_days} days after " if phase.after_days else ""
    if phase.anchor == "gate":
        return after + _say_gate(moment)
    if phase.anchor == "first feeding":
        counted = "" if moment.fed else ", counted from the gate"
        return f"{after or 'with '}the first feeding{counted}"
    return f"{after}{phase.anchor}{f' on {say_day(anchor)}' if anchor else ''}"


def say_wait(phase: Phase, moment: Moment, rest_days: int, *, is_seen: bool) -> str:
    """Say what an undated feeding waits for.

    Parameters
    ----------
    phase
        Whose first feeding to come it is.
    moment
        What is known.
    rest_days
        Between two feedings of the phase.
    is_seen
        Whether what the phase counts from is known.

    Examples
    --------
    >>> phase = Phase(name="fruiting", kind="liquid", anchor="fruit set", after_days=0, every_days=14,
    ...               portions=())
    >>> say_wait(phase, Moment(gate=dt.date(2026, 5, 16), buds=None, fed=True), 14, is_seen=False)
    'waits for fruit set: log it; then every 14 days'
    """
    awaited = [] if moment.gate else ["the gate"]
    if phase.anchor in SEEN and not is_seen:
        awaited.append(f"{phase.anchor}: log it")
    waits = f"waits for {' and for '.join(awaited)}"
    if phase.anchor == "first feeding" and phase.after_days and not moment.fed:
        waits = f"{phase.after_days} days after the first feeding, which {waits}"
    return waits if phase.feedings == 1 else f"{waits}; then every {rest_days} days"


def say_routine(days: int) -> str:
    """Say that a feeding follows the last one at its phase's interval.

    Examples
    --------
    >>> say_routine(14)
    '14 days after the last one'
    """
    return f"{days} days after the last one"


def is_routine(reason: str) -> bool:
    """Tell whether a reason says no more than the phase's interval.

    Examples
    --------
    >>> is_routine(say_routine(14)), is_routine("the gate opens")
    (True, False)
    """
    return re.fullmatch(r"\d+ days after the last one", reason) is not None


def _say_gate(moment: Moment) -> str:
    if moment.buds is None:
        return f"the gate opens, {LOG_BUDS}"
    late = moment.gate is not None and moment.buds > moment.gate
    return f"buds moved on {say_day(moment.buds)}" if late else "the gate opens"
