"""Limits of risk side by side, by the replay and by what each costs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from frostgate.gate.tolerance import CostLoss, Stakes, Weighed, cheapest, feed_or_wait, weigh_limits
from frostgate.model.curves import FrostCurve
from frostgate.proof.replay import Openings, Replay, risk_if_fed


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A limit of risk: the chance of a damaging frost after the first feeding that one can live with."""

    risk: float
    curve_day: float  # first season day within it by the curve alone; -inf where all are, NaN where none is
    opened: Openings | None  # what the replay says of it, or None without a replay

    @property
    def is_dated(self) -> bool:
        """Whether the curve gives it a date."""
        return math.isfinite(self.curve_day)


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """Which limit the grower's two numbers lead to."""

    stakes: Stakes
    weighed: tuple[Weighed, ...]  # the dated limits' costs by what came true; by the curve without a replay
    stated: tuple[Weighed, ...]  # the same by the risk stated at opening
    feed_or_wait: CostLoss | None  # Murphy's ratio; None where waiting is always cheaper, or has no end

    @property
    def recommended(self) -> float:
        """The limit that costs least by what came true or by what was stated: the safer of the two."""
        return min(cheapest(self.weighed).limit, cheapest(self.stated).limit)


def lay_out_limits(
    curve: FrostCurve, risks: Sequence[float], replay: Replay | None, first_exposed_days: int = 1
) -> tuple[Limit, ...]:
    """Lay out limits of risk with their dates and what the replay says of each."""
    alone = risk_if_fed(curve.risk, first_exposed_days)
    opened = [None] * len(risks) if replay is None else replay.openings

    def first_day(risk: float) -> float:
        within = alone <= risk
        return -math.inf if within[0] else float(np.argmax(within)) if within.any() else math.nan

    return tuple(
        Limit(risk=risk, curve_day=first_day(risk), opened=found)
        for risk, found in zip(risks, opened, strict=True)
    )


def advise(
    curve: FrostCurve, limits: Sequence[Limit], stakes: Stakes, first_exposed_days: int = 1
) -> Advice | None:
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
    by_day = risk_if_fed(curve.risk, first_exposed_days)[first : safe + 1].tolist()
    return Advice(stakes=stakes, weighed=came, stated=stated, feed_or_wait=feed_or_wait(by_day, stakes))
