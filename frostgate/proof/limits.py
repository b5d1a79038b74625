"""A limit of risk over the years: from two plain numbers, by the replay, and by what each limit costs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from frostgate.errors import InputError
from frostgate.model.curves import FrostCurve, risk_if_fed
from frostgate.model.gate import LARGEST_TOLERANCE

if TYPE_CHECKING:
    from frostgate.proof.replay import Openings, Replay

LEAST_MONEY, MOST_MONEY = 1e-6, 1e12  # beyond them sums of costs are no numbers any more, in any currency
TOLD_APART = 1.96  # standard errors of a mean difference between limits, spring by spring


def chance_in_years(risk: float, years: int) -> float:
    """Return the chance of at least one bad spring in so many years.

    1 - (1 - P)^n, the certainty of the FAO's Frost Protection, volume 2 (2005).
    """
    return 1.0 - (1.0 - risk) ** years


@dataclass(frozen=True, slots=True, kw_only=True)
class Stakes:
    """The grower's two numbers, in the same money."""

    cost_per_day: float  # of one day's delay of the first feeding
    loss: float  # of a killed flush

    def __post_init__(self) -> None:
        money = {"the cost of a day's delay": self.cost_per_day, "the loss of a flush": self.loss}
        for what, amount in money.items():
            if not LEAST_MONEY <= amount <= MOST_MONEY:
                raise InputError(
                    f"{what} is a number above 0, from {LEAST_MONEY:g} to {MOST_MONEY:g}",
                    value=amount,
                    remedy="Write both in the same money, without a sign.",
                )

    @property
    def days_worth(self) -> float:
        """Days of waiting that cost as much as a killed flush [d]."""
        return self.loss / self.cost_per_day


@dataclass(frozen=True, slots=True, kw_only=True)
class CostLoss:
    """Where feeding at once and waiting until it is safe cost the same."""

    days_gained: float  # that feeding at once gains [d]
    ratio: float  # the cost of waiting over the loss

    @property
    def tolerance(self) -> float:
        """The ratio, at most the largest limit there is."""
        return min(self.ratio, LARGEST_TOLERANCE)


def feed_or_wait(risks: Sequence[float], stakes: Stakes) -> CostLoss | None:
    """Find the risk at which feeding at once and waiting for the last of some days cost the same."""
    for gained, risk in zip(range(len(risks) - 1, 0, -1), risks, strict=False):
        ratio = gained / stakes.days_worth
        if risk <= ratio * (1 + 1e-9):
            return CostLoss(days_gained=float(gained), ratio=ratio)
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
    limits: Sequence[float], opened: npt.ArrayLike, bad: npt.ArrayLike, stakes: Stakes
) -> tuple[Weighed, ...]:
    """Return what each limit costs, in days waited and flushes lost; both are of shape (limits, springs)."""
    days, lost = np.asarray(opened, np.float64), np.asarray(bad, np.float64)
    waited, springs = days - days[-1], days.shape[1]
    costs = stakes.cost_per_day * waited + stakes.loss * lost
    extra = costs - costs[np.argmin(costs.mean(axis=1))]
    error = extra.std(axis=1, ddof=1) / math.sqrt(springs) if springs > 1 else np.zeros(len(costs))
    as_good = extra.mean(axis=1) <= TOLD_APART * error
    columns = (np.asarray(limits), waited.mean(axis=1), lost.mean(axis=1), costs.mean(axis=1), as_good)
    names = ("limit", "days_waited", "bad_share", "cost", "as_good")
    rows = zip(*(column.tolist() for column in columns), strict=True)
    return tuple(Weighed(**dict(zip(names, row, strict=True))) for row in rows)


def cheapest(weighed: Sequence[Weighed]) -> Weighed:
    """Return the limit with the least cost; of equals the safest."""
    return min(weighed, key=lambda one: (round(one.cost, 9), one.limit))


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A limit of risk: the chance of a damaging frost after the first feeding that one can live with."""

    risk: float
    curve_day: float  # first season day within it by the curve alone; -inf where all are, NaN where none is
    opened: Openings | None  # what the replay says of it, or None without a replay

    @property
    def within(self) -> str:
        """On which days of the season the curve's risk is within it."""
        if math.isfinite(self.curve_day):
            return "from its date"
        return "never" if math.isnan(self.curve_day) else "all season"


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
    dated = [limit for limit in limits if math.isfinite(limit.curve_day)]
    if not dated:
        return None
    risks = [limit.risk for limit in dated]
    opened = [limit.opened for limit in dated if limit.opened is not None]
    in_all = np.all([one.opened for one in opened], axis=0) if opened else np.zeros(0, dtype=bool)
    days, came, stated = (
        [getattr(one, name)[in_all] for one in opened] for name in ("day", "wrong", "stated")
    )
    if not in_all.any():
        days, came = [[one.curve_day] for one in dated], [[risk] for risk in risks]
        stated = came
    first, safe = int(dated[-1].curve_day), int(dated[0].curve_day)
    by_day = risk_if_fed(curve.risk, first_exposed_days)[first : safe + 1].tolist()
    return Advice(
        stakes=stakes,
        weighed=weigh_limits(risks, days, came, stakes),
        stated=weigh_limits(risks, days, stated, stakes),
        feed_or_wait=feed_or_wait(by_day, stakes),
    )
