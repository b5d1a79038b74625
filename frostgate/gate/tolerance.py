"""A limit of risk over the years: from two plain numbers, and by what each limit costs."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from frostgate.errors import InputError
from frostgate.model.gate import LARGEST_TOLERANCE


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


TOLD_APART = 1.96  # standard errors of a mean difference between limits, spring by spring


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
