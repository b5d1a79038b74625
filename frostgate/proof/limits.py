"""A limit of risk over the years: from two plain numbers, by the replay, and by what each limit costs."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from frostgate.errors import InputError
from frostgate.model.curves import FrostCurve
from frostgate.model.gate import LARGEST_TOLERANCE
from frostgate.proof.replay import Openings, Replay, risk_if_fed

TOLD_APART = 1.96  # standard errors of a mean difference between limits, spring by spring


def chance_in_years(risk: float, years: int) -> float:
    """Return the chance of at least one bad spring in so many years.

    1 - (1 - P)^n, the certainty of the FAO's Frost Protection, volume 2 (2005).
    """
    if not 0.0 <= risk <= 1.0:
        raise InputError("a risk lies between 0 and 1", value=risk)
    if years < 1:
        raise InputError("a horizon is one year or more", value=years)
    return 1.0 - (1.0 - risk) ** years


@dataclass(frozen=True, slots=True, kw_only=True)
class Stakes:
    """The grower's two numbers, in the same money."""

    cost_per_day: float  # of one day's delay of the first feeding
    loss: float  # of a killed flush

    def __post_init__(self) -> None:
        money = {"the cost of a day's delay": self.cost_per_day, "the loss of a flush": self.loss}
        for what, amount in money.items():
            if not 0.0 < amount < math.inf:
                raise InputError(
                    f"{what} is a number above 0",
                    value=amount,
                    remedy="Write both in the same money, without a sign.",
                )

    @property
    def days_worth(self) -> float:
        """Days of waiting that cost as much as a killed flush [d]."""
        return self.loss / self.cost_per_day

    def expected_cost(self, risk: float, days_waited: float) -> float:
        """Return what a limit costs in a mean spring: its days of waiting, and its share of flushes lost."""
        return self.cost_per_day * days_waited + self.loss * risk


@dataclass(frozen=True, slots=True, kw_only=True)
class CostLoss:
    """A tolerance from the cost-loss ratio."""

    days_gained: float  # that feeding at once gains [d]
    ratio: float  # the cost of waiting over the loss
    tolerance: float  # the ratio, at most 50 %


def tolerance_from(stakes: Stakes, days_gained: float) -> CostLoss:
    """Turn what a day costs and what a flush is worth into a tolerance."""
    if not 0.0 < days_gained < math.inf:
        raise InputError(
            "the days gained are a number above 0", value=days_gained, remedy="Write for example 12."
        )
    ratio = stakes.cost_per_day * days_gained / stakes.loss
    tolerance = min(max(ratio, math.ulp(0.0)), LARGEST_TOLERANCE)
    return CostLoss(days_gained=days_gained, ratio=ratio, tolerance=tolerance)


def feed_or_wait(risks: Sequence[float], stakes: Stakes) -> CostLoss | None:
    """Find the risk at which feeding at once and waiting until it is safe cost the same."""
    safe = len(risks) - 1
    for day, risk in enumerate(risks[:safe]):
        gained = safe - day
        if stakes.loss * risk <= stakes.cost_per_day * gained * (1 + 1e-9):
            return tolerance_from(stakes, float(gained))
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """What a limit costs."""

    limit: float  # the risk at which the gate opens
    days_waited: float  # after the opening at the largest limit, in a mean spring [d]
    bad_share: float  # of springs, with a killed flush
    cost: float  # in a mean spring
    as_good: bool  # its cost cannot be told from the least, by the springs there are


def weigh_limits(
    limits: Sequence[float],
    opened: Sequence[Sequence[float]],
    bad: Sequence[Sequence[float]],
    stakes: Stakes,
) -> tuple[Weighed, ...]:
    """Return what each limit costs, in days waited and flushes lost."""
    if not limits:
        return ()
    waited = [[day - first for day, first in zip(days, opened[-1], strict=True)] for days in opened]
    costs = [
        [stakes.expected_cost(lost, days) for lost, days in zip(*pair, strict=True)]
        for pair in zip(bad, waited, strict=True)
    ]
    least = min(costs, key=statistics.fmean)
    return tuple(
        Weighed(
            limit=limit,
            days_waited=statistics.fmean(days),
            bad_share=statistics.fmean(lost),
            cost=statistics.fmean(cost),
            as_good=_as_good(cost, least),
        )
        for limit, days, lost, cost in zip(limits, waited, bad, costs, strict=True)
    )


def cheapest(weighed: Sequence[Weighed]) -> Weighed:
    """Return the limit with the least cost; of equals the safest."""
    return min(weighed, key=lambda one: (round(one.cost, 9), one.limit))


def _as_good(cost: Sequence[float], least: Sequence[float]) -> bool:
    extra = [mine - theirs for mine, theirs in zip(cost, least, strict=True)]
    error = statistics.stdev(extra) / math.sqrt(len(extra)) if len(extra) > 1 else 0.0
    return statistics.fmean(extra) <= TOLD_APART * error


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
