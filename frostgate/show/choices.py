"""What is laid before a grower who chooses a limit of risk, and its words."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from frostgate.gate.limits import Weighed, cheapest
from frostgate.gate.tolerance import Stakes
from frostgate.proof.choosing import Advice, Limit, lay_out_limits
from frostgate.proof.openings import Replay
from frostgate.seasons import NORTH, month_day_text
from frostgate.terms import FrostCurve, Policy, Station
from frostgate.units import TemperatureUnit, say_share
from frostgate.values import dataclass

MARK = "*"  # beside the limit that is recommended


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Choice:
    """All that is laid before a grower who chooses a limit of risk.

    Examples
    --------
    >>> example_choice().limits[0].risk
    0.1
    """

    station: Station
    policy: Policy
    curve: FrostCurve
    limits: tuple[Limit, ...]
    replay: Replay | None
    replay_missing: str | None
    years_ahead: int
    seed: int
    unit: TemperatureUnit
    stakes: Stakes | None
    advice: Advice | None

    def weighed(self, limit: Limit, *, by_stated: bool = False) -> Weighed | None:
        """Give what a limit costs, by what came true or by the risk stated; None where it has no cost."""
        rows = () if self.advice is None else self.advice.stated if by_stated else self.advice.weighed
        return next((row for row in rows if row.limit == limit.risk), None)

    def date_of(self, limit: Limit) -> str | None:
        """Give a limit's date by the curve alone (MM-DD), or None where it has none."""
        return month_day_text(limit.curve_day, self.curve.start) if limit.is_dated else None


def undated(limit: Limit) -> str:
    """Tell of a limit without a date whether every day of the season is within it, or none.

    Examples
    --------
    >>> undated(Limit(risk=0.5, curve_day=-math.inf, opened=None))
    'all season'
    """
    return "never" if math.isnan(limit.curve_day) else "all season"


def say_reading(choice: Choice) -> Iterator[str]:
    """Tell how to read the table.

    Examples
    --------
    >>> list(say_reading(example_choice()))[-1]
    'No replay: too few springs'
    """
    years, replay = choice.years_ahead, choice.replay
    yield "your limit: the chance of a damaging frost after the first feeding that you can live with;"
    yield "by the curve: the first day within it, without any forecast; bad in 10: bad springs to expect in"
    yield f"ten; in {years} years: chance of at least one bad spring in that time."
    if any(undated(limit) == "all season" for limit in choice.limits if not limit.is_dated):
        yield "any day: so few springs have such a frost that no day of the season exceeds this limit."
    if any(undated(limit) == "never" for limit in choice.limits if not limit.is_dated):
        yield "never: such frosts come all year round here, and no day is within this limit."
    if replay is None:
        yield f"No replay: {choice.replay_missing}"
        return
    springs = replay.springs.years
    yield (
        f"The other columns replay {springs.size} springs {springs[0]}-{springs[-1]} with drawn forecasts of "
        f"{replay.horizon} nights"
    )
    yield f"(seed {choice.seed}). opens: middle date; gained: before the curve's date; came true: went wrong."


def say_costs(choice: Choice, stakes: Stakes) -> Iterator[str]:
    """Tell what the grower's two numbers lead to, and why.

    Examples
    --------
    >>> next(say_costs(example_choice(), Stakes(cost_per_day=10, loss=600)))
    "A day's delay costs 10, a killed flush 600: as much as 60 days of waiting."
    """
    yield (
        f"A day's delay costs {stakes.cost_per_day:,g}, a killed flush {stakes.loss:,g}: "
        f"as much as {stakes.days_worth:,.3g} days of waiting."
    )
    if choice.advice is None:
        yield "No limit has a date to wait for, so there is nothing to weigh."
        return
    yield "cost: of days waited after opening at the largest limit, and of flushes lost, in a mean spring"
    yield "by the curve." if choice.replay is None else "by what came true; as stated: by the risk stated."
    yield from _say_least(choice, choice.advice)
    yield from _say_ratio(choice.advice)


def _say_least(choice: Choice, advice: Advice) -> Iterator[str]:
    row = next(row for row in advice.weighed if row.limit == advice.recommended)
    basis = "the curve" if choice.replay is None else "the replay"
    fate = f"by {basis} it waits {row.days_waited:.1f} days and loses {say_share(row.bad_share)} of flushes"
    yield f"Recommended {MARK} {say_share(row.limit)}: {fate}, {row.cost:,.0f} in a mean spring."
    came, stated = cheapest(advice.weighed).limit, cheapest(advice.stated).limit
    if came != stated:
        yield (
            f"By what came true {say_share(came)} costs least, by the risk stated {say_share(stated)}: "
            "the safer is taken."
        )
    else:
        yield "It costs least of the limits in the table."
    others = [say_share(one.limit) for one in advice.weighed if one.as_good and one.limit != row.limit]
    if others and choice.replay is not None:
        yield f"So few springs cannot tell its cost from that at {' or '.join(others)}."


def _say_ratio(advice: Advice) -> Iterator[str]:
    yield "Were the choice only to feed at once or to wait for the last date above (the cost-loss ratio):"
    if advice.feed_or_wait is None:
        yield "waiting would always be cheaper."
    else:
        yield advice.feed_or_wait.words
        yield "But one can also wait a few days and look again; that is what the costs in the table weigh."


def example_choice() -> Choice:
    """Make the smallest choice there is, for examples.

    Examples
    --------
    >>> example_choice().years_ahead
    10
    """
    curve = FrostCurve(
        kind="given",
        side="spring",
        threshold_c=0.0,
        start=NORTH,
        risk=np.clip((300 - np.arange(366)) / 100, 0, 1),
        frost_share=1.0,
        seasons_used=30,
        seasons_unknown=0,
        first_year=1991,
        last_year=2020,
    )
    return Choice(
        station=Station(id="X"),
        policy=Policy(),
        curve=curve,
        limits=lay_out_limits(curve, (0.1,), None),
        replay=None,
        replay_missing="too few springs",
        years_ahead=10,
        seed=1,
        unit="C",
        stakes=None,
        advice=None,
    )
