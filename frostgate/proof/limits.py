"""Limits of risk side by side, by the replay and by what each costs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from frostgate.gate.outlook import risk_after
from frostgate.gate.tolerance import CostLoss, Stakes, Weighed, cheapest, feed_or_wait, weigh_limits
from frostgate.model.records import FrostCurve
from frostgate.proof.openings import Openings, Replay
from frostgate.seasons import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A limit of risk.

    Parameters
    ----------
    risk
        The chance of a damaging frost after the first feeding that the grower can live with.
    curve_day
        The first season day within it by the curve alone; -inf where every day is, NaN where none is.
    opened
        What the replay says of it, or None without a replay.
    """

    risk: float
    curve_day: float
    opened: Openings | None

    @property
    def is_dated(self) -> bool:
        """Whether the curve gives it a date."""
        return math.isfinite(self.curve_day)


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """Which limit the grower's two numbers lead to.

    Parameters
    ----------
    stakes
        Those numbers.
    weighed
        What each limit with a date costs, by what came true in the replay; by the curve without one.
    stated
        The same by the risk stated at opening instead of what came true.
    feed_or_wait
        Murphy's ratio on the curve; None where waiting for a safe date is always cheaper, or there is none.
    """

    stakes: Stakes
    weighed: tuple[Weighed, ...]
    stated: tuple[Weighed, ...]
    feed_or_wait: CostLoss | None

    @property
    def recommended(self) -> float:
        """The limit that costs least by what came true or by what was stated: the safer of the two."""
        return min(cheapest(self.weighed).limit, cheapest(self.stated).limit)


def lay_out_limits(curve: FrostCurve, risks: Sequence[float], replay: Replay | None) -> tuple[Limit, ...]:
    """Lay out limits of risk with their dates and what the replay says of each."""
    alone = risk_after(curve.risk)
    opened = [None] * len(risks) if replay is None else replay.openings
    return tuple(
        Limit(risk=risk, curve_day=_first_day(alone, risk), opened=found)
        for risk, found in zip(risks, opened, strict=True)
    )


def advise(curve: FrostCurve, limits: Sequence[Limit], stakes: Stakes) -> Advice | None:
    """Weigh the limits that have a date by the grower's two numbers; None where none has."""
    dated = [limit for limit in limits if limit.is_dated]
    if not dated:
        return None
    risks = [limit.risk for limit in dated]
    opened = [limit.opened for limit in dated if limit.opened is not None]
    at_all = np.all([one.opened for one in opened], axis=0) if opened else np.zeros(0, dtype=bool)
    if at_all.any():
        days = [one.day[at_all].tolist() for one in opened]
        came = weigh_limits(risks, days, [one.wrong[at_all].astype(float).tolist() for one in opened], stakes)
        stated = weigh_limits(risks, days, [one.stated[at_all].tolist() for one in opened], stakes)
    else:
        came = weigh_limits(risks, [[one.curve_day] for one in dated], [[risk] for risk in risks], stakes)
        stated = came
    first, safe = int(dated[-1].curve_day), int(dated[0].curve_day)
    ratio = feed_or_wait(risk_after(curve.risk)[first : safe + 1].tolist(), stakes)
    return Advice(stakes=stakes, weighed=came, stated=stated, feed_or_wait=ratio)


def _first_day(alone: Floats, risk: float) -> float:
    within = alone <= risk
    if within[0]:
        return -math.inf
    return float(np.argmax(within)) if within.any() else math.nan
