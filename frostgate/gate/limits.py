"""Limits of risk weighed against each other: days waited against flushes lost.

A higher limit opens earlier and loses more flushes. With what a day and a flush are worth, each limit has a
cost in a mean spring, and the least is the limit to take. Between two limits that is: wait one more day as
long as it saves more loss than it costs.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence

from frostgate.gate.tolerance import Stakes
from frostgate.values import dataclass

TOLD_APART = 1.96  # standard errors of a mean difference between limits, spring by spring


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """What a limit costs.

    Parameters
    ----------
    limit
        The risk at which the gate opens.
    days_waited
        Mean days waited after the opening at the largest limit [d].
    bad_share
        Share of springs with a killed flush.
    cost
        In a mean spring.
    as_good
        Whether its cost cannot be told from the least, by the springs there are.

    Examples
    --------
    >>> Weighed(limit=0.1, days_waited=12.0, bad_share=0.08, cost=168.0, as_good=True).cost
    168.0
    """

    limit: float
    days_waited: float
    bad_share: float
    cost: float
    as_good: bool


def weigh_limits(
    limits: Sequence[float],
    opened: Sequence[Sequence[float]],
    bad: Sequence[Sequence[float]],
    stakes: Stakes,
) -> tuple[Weighed, ...]:
    """Give each limit its cost, in days waited and flushes lost.

    Parameters
    ----------
    limits
        Of risk, rising.
    opened
        For each limit the day it opened on, spring by spring [d].
    bad
        For each limit whether the flush was killed, or the chance of it, spring by spring.
    stakes
        The grower's two numbers.

    Returns
    -------
    tuple
        For each limit. Days of waiting are counted from the opening at the largest limit. Where there are
        several springs, a limit is as good as the cheapest if its mean extra cost is within 1.96 of its own
        standard errors.

    Examples
    --------
    >>> stakes = Stakes(cost_per_day=10, loss=600)
    >>> [limit.cost for limit in weigh_limits((0.1, 0.3), ((262.0,), (250.0,)), ((0.1,), (0.3,)), stakes)]
    [180.0, 180.0]
    """
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
    """Give the limit with the least cost; of equals the safest.

    Examples
    --------
    >>> one = Weighed(limit=0.1, days_waited=12.0, bad_share=0.08, cost=168.0, as_good=True)
    >>> cheapest([one]).limit
    0.1
    """
    return min(weighed, key=lambda one: (round(one.cost, 9), one.limit))


def _as_good(cost: Sequence[float], least: Sequence[float]) -> bool:
    extra = [mine - theirs for mine, theirs in zip(cost, least, strict=True)]
    error = statistics.stdev(extra) / math.sqrt(len(extra)) if len(extra) > 1 else 0.0
    return statistics.fmean(extra) <= TOLD_APART * error
