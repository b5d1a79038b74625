"""Limits of risk side by side, as text and JSON."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from frostgate.model.curves import FrostCurve
from frostgate.model.gate import LARGEST_TOLERANCE, Policy
from frostgate.model.records import Station
from frostgate.proof.limits import Advice, CostLoss, Limit, Stakes, Weighed, chance_in_years, cheapest
from frostgate.proof.replay import Replay
from frostgate.seasons import month_day_or_none
from frostgate.show.answers import DIGITS, Plain, curve_facts, named, plain
from frostgate.show.replays import INTERVAL, opening_cells
from frostgate.show.say import say_month_day, say_side
from frostgate.show.tables import Part, bold, grid
from frostgate.units import TemperatureUnit, say_share, say_temperature

MARK = "*"  # beside the limit that is recommended
WIDE = 94  # columns that the table needs with two spaces between its own
UNDATED = {"all season": "any day", "never": "never"}
WEIGHED = DIGITS | dict.fromkeys(("days_waited", "cost", "cost_by_stated", "days_gained", "days_worth"), 2)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Choice:
    """All that is laid before a grower who chooses a limit of risk."""

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
        """Return what a limit costs, by what came true or by the risk stated; None where it has no cost."""
        rows = () if self.advice is None else self.advice.stated if by_stated else self.advice.weighed
        return next((row for row in rows if row.limit == limit.risk), None)


def undated(limit: Limit) -> str:
    """Tell of a limit without a date whether every day of the season is within it, or none."""
    return "never" if math.isnan(limit.curve_day) else "all season"


def say_reading(choice: Choice) -> Iterator[str]:
    """Tell how to read the table."""
    years, replay = choice.years_ahead, choice.replay
    yield "your limit: the chance of a damaging frost after the first feeding that you can live with;"
    yield "by the curve: the first day within it, without any forecast; bad in 10: bad springs to expect in"
    yield f"ten; in {years} years: chance of at least one bad spring in that time."
    without = {undated(limit) for limit in choice.limits if not limit.is_dated}
    if "all season" in without:
        yield "any day: so few springs have such a frost that no day of the season exceeds this limit."
    if "never" in without:
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
    """Tell what the grower's two numbers lead to, and why."""
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
        yield say_ratio(advice.feed_or_wait, advice.stakes)
        yield "But one can also wait a few days and look again; that is what the costs in the table weigh."


def say_ratio(found: CostLoss, stakes: Stakes) -> str:
    """Tell what follows from the cost-loss ratio alone."""
    days_gained, ratio = found.days_gained, found.ratio
    waiting = f"{_number(days_gained)} days of waiting cost {_number(stakes.cost_per_day * days_gained)}"
    both = f"{waiting}, a killed flush {_number(stakes.loss)}"
    if ratio > 1.0:
        most = say_share(LARGEST_TOLERANCE)
        return f"{both}: by these numbers never wait; still no limit lies above {most}."
    if ratio > LARGEST_TOLERANCE:
        return f"{both}, a ratio of {100 * ratio:.2g} %; no limit lies above {say_share(LARGEST_TOLERANCE)}."
    return f"{both}: feed once the risk is below {100 * ratio:.2g} %."


def _number(amount: float) -> str:
    return f"{amount:,.0f}" if amount >= 100 or amount == round(amount) else f"{amount:.3g}"


def risk_answer(choice: Choice) -> Plain:
    """Return the limits under the names that the JSON answer uses."""
    ran = {"first_year": "springs.years.0", "last_year": "springs.years.-1", "springs": "springs.years.size"}
    answer = {
        **named(choice.station, station="id", name="name"),
        **named(choice.policy, "damage_temp_c", "offset_c"),
        "years_ahead": choice.years_ahead,
        "curve": curve_facts(choice.curve),
        "limits": [_limit_answer(choice, limit) for limit in choice.limits],
        "replay": choice.replay and named(choice.replay, **ran, horizon="horizon") | {"seed": choice.seed},
        "replay_missing": choice.replay_missing,
        "costs": choice.stakes and _cost_answer(choice, choice.stakes),
    }
    return dict(plain(answer, WEIGHED))


def _limit_answer(choice: Choice, limit: Limit) -> Plain:
    opened, start = limit.opened, choice.curve.start
    return {
        "risk": limit.risk,
        "curve_date": month_day_or_none(limit.curve_day, start),
        "within": "from its date" if limit.is_dated else undated(limit),
        "bad_in_ten": 10 * limit.risk,
        "chance_in_years": chance_in_years(limit.risk, choice.years_ahead),
        "replay": opened
        and {
            "opening_median": month_day_or_none(opened.median_day, start),
            **named(opened, "days_gained", "stated_mean", "realised", **INTERVAL),
        },
        **named(choice.weighed(limit), "days_waited", "cost"),
        **named(choice.weighed(limit, by_stated=True), cost_by_stated="cost"),
    }


def _cost_answer(choice: Choice, stakes: Stakes) -> Plain:
    advice = choice.advice
    return {
        **plain(named(stakes, "cost_per_day", "loss"), decimals=None),
        "days_worth": stakes.days_worth,
        "recommended": advice and advice.recommended,
        "as_good": [row.limit for row in advice.weighed if row.as_good] if advice else [],
        "feed_or_wait": advice
        and advice.feed_or_wait
        and named(advice.feed_or_wait, "days_gained", "ratio", "tolerance"),
        "reasons": say_costs(choice, stakes),
    }


def choice_parts(choice: Choice, width: int) -> Iterator[Part]:
    """Write a row for each limit, how to read it, and the limit that costs least."""
    damage, offset_c = say_temperature(choice.policy.damage_temp_c, choice.unit), choice.policy.offset_c
    garden = f", {say_side(offset_c, 'the station', choice.unit)}" if offset_c else ""
    curve = choice.curve
    springs = f"{curve.seasons_used} springs, {curve.first_year} to {curve.last_year}"
    yield bold(choice.station)
    yield f"Damage at {damage} or less in the garden{garden}; last frosts of {springs}"
    rows = [dict(_cells(choice, limit)) for limit in choice.limits]
    yield from ("", grid(rows[0], (row.values() for row in rows), gap=2 if width >= WIDE else 1), "")
    yield from say_reading(choice)
    if choice.stakes is not None:
        yield ""
        yield from say_costs(choice, choice.stakes)


def _cells(choice: Choice, limit: Limit) -> Iterator[tuple[str, str]]:
    """Write what is known of a limit, each cell behind the head of its column."""
    start = choice.curve.start
    date = month_day_or_none(limit.curve_day, start)
    yield "your\nlimit", say_share(limit.risk)
    yield "by the\ncurve", say_month_day(date) if limit.is_dated else UNDATED[undated(limit)]
    yield "bad\nin 10", f"{10 * limit.risk:.2g}"
    yield f"in {choice.years_ahead}\nyears", say_share(chance_in_years(limit.risk, choice.years_ahead))
    if limit.opened is not None:
        heads = ("\nopens", "days\ngained", "came\ntrue", "95 %\ninterval")
        yield from zip(heads, opening_cells(limit.opened, start), strict=True)
    if choice.advice is not None:
        came, stated = choice.weighed(limit), choice.weighed(limit, by_stated=True)
        yield "days\nwaited", "-" if came is None else f"{came.days_waited:.1f}"
        yield "\ncost", "-" if came is None else f"{came.cost:,.0f}"
        if choice.replay is not None:
            yield "as\nstated", "-" if stated is None else f"{stated.cost:,.0f}"
        yield "", MARK if limit.risk == choice.advice.recommended else ""
