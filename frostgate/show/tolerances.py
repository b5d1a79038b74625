"""Limits of risk side by side, as a table and as an answer."""

from __future__ import annotations

import math
from collections.abc import Iterator

from rich.console import Console
from rich.table import Table
from rich.text import Text

from frostgate.gate.tolerance import CostLoss, Stakes, bad_springs, chance_in_years
from frostgate.proof.choosing import Limit
from frostgate.proof.openings import Openings
from frostgate.seasons import month_day_text
from frostgate.show.answers import Plain, curve_facts, rounded
from frostgate.show.choices import MARK, Choice, say_costs, say_reading, undated
from frostgate.show.replays import say_gain
from frostgate.show.tables import console_of_its_width, say_month_day
from frostgate.units import say_offset, say_share, say_temperature

WIDE = 94  # columns that the table needs with two spaces between its own
UNDATED = {"all season": "any day", "never": "never"}


def risk_answer(choice: Choice) -> Plain:
    """Give the limits under the names that the JSON answer uses.

    Examples
    --------
    >>> from frostgate.show.choices import example_choice
    >>> row = risk_answer(example_choice())["limits"][0]
    >>> row["curve_date"], row["bad_in_ten"], row["chance_in_years"]
    ('05-17', 1.0, 0.6513)
    """
    replay = choice.replay
    return {
        "station": choice.station.id,
        "name": choice.station.name,
        "damage_temp_c": round(choice.policy.damage_temp_c, 3),
        "offset_c": round(choice.policy.offset_c, 3),
        "years_ahead": choice.years_ahead,
        "curve": curve_facts(choice.curve),
        "limits": [_limit_answer(choice, limit) for limit in choice.limits],
        "replay": None
        if replay is None
        else {
            "first_year": int(replay.springs.years[0]),
            "last_year": int(replay.springs.years[-1]),
            "springs": int(replay.springs.years.size),
            "horizon": replay.horizon,
            "seed": choice.seed,
        },
        "replay_missing": choice.replay_missing,
        "costs": None if choice.stakes is None else _cost_answer(choice, choice.stakes),
    }


def write_choice(choice: Choice, console: Console | None = None) -> None:
    """Write a row for each limit, how to read it, and the limit that costs least.

    Examples
    --------
    >>> from frostgate.show.choices import example_choice
    >>> write_choice(example_choice())  # doctest: +ELLIPSIS
    X
    Damage at 0 °C or less in the garden; last frosts of 30 springs, 1991 to 2020
    ...
    """
    screen = console or console_of_its_width()
    screen.print(Text(choice.station.name or choice.station.id, style="bold"))
    screen.print(Text(_basis(choice)))
    screen.print()
    screen.print(_table(choice, screen.width))
    screen.print()
    for line in say_reading(choice):
        screen.print(Text(line))
    if choice.stakes is not None:
        screen.print()
        for line in say_costs(choice, choice.stakes):
            screen.print(Text(line))


def _limit_answer(choice: Choice, limit: Limit) -> Plain:
    weighed, stated = choice.weighed(limit), choice.weighed(limit, by_stated=True)
    return {
        "risk": rounded(limit.risk),
        "curve_date": choice.date_of(limit),
        "within": "from its date" if limit.is_dated else undated(limit),
        "bad_in_ten": rounded(bad_springs(limit.risk)),
        "chance_in_years": rounded(chance_in_years(limit.risk, choice.years_ahead)),
        "replay": None if limit.opened is None else _opened_answer(choice, limit.opened),
        "days_waited": None if weighed is None else rounded(weighed.days_waited, 2),
        "cost": None if weighed is None else rounded(weighed.cost, 2),
        "cost_by_stated": None if stated is None else rounded(stated.cost, 2),
    }


def _opened_answer(choice: Choice, opened: Openings) -> Plain:
    low, high = opened.interval
    return {
        "opening_median": None
        if math.isnan(opened.median_day)
        else month_day_text(opened.median_day, choice.curve.start),
        "days_gained": rounded(opened.days_gained, 2),
        "stated_mean": rounded(opened.stated_mean),
        "realised": rounded(opened.realised),
        "realised_low": rounded(low),
        "realised_high": rounded(high),
    }


def _cost_answer(choice: Choice, stakes: Stakes) -> Plain:
    advice = choice.advice
    return {
        "cost_per_day": stakes.cost_per_day,
        "loss": stakes.loss,
        "days_worth": rounded(stakes.days_worth, 2),
        "recommended": None if advice is None else rounded(advice.recommended),
        "as_good": [] if advice is None else [rounded(row.limit) for row in advice.weighed if row.as_good],
        "feed_or_wait": None if advice is None else _ratio_answer(advice.feed_or_wait),
        "reasons": list(say_costs(choice, stakes)),
    }


def _ratio_answer(found: CostLoss | None) -> Plain | None:
    if found is None:
        return None
    return {
        "days_gained": rounded(found.days_gained, 2),
        "ratio": rounded(found.ratio),
        "tolerance": rounded(found.tolerance),
    }


def _basis(choice: Choice) -> str:
    damage, offset_c = say_temperature(choice.policy.damage_temp_c, choice.unit), choice.policy.offset_c
    side = "colder" if offset_c < 0 else "warmer"
    garden = f", {say_offset(abs(offset_c), choice.unit)} {side} than the station" if offset_c else ""
    curve = choice.curve
    springs = f"{curve.seasons_used} springs, {curve.first_year} to {curve.last_year}"
    return f"Damage at {damage} or less in the garden{garden}; last frosts of {springs}"


def _table(choice: Choice, width: int) -> Table:
    names = ["your\nlimit", "by the\ncurve", "bad\nin 10", f"in {choice.years_ahead}\nyears"]
    names += [] if choice.replay is None else ["\nopens", "days\ngained", "came\ntrue", "95 %\ninterval"]
    if choice.advice is not None:
        names += ["days\nwaited", "\ncost", *([] if choice.replay is None else ["as\nstated"]), ""]
    shown = Table(box=None, padding=(0, 2 if width >= WIDE else 1, 0, 0))
    for name in names:
        shown.add_column(name, justify="right", no_wrap=True)
    for limit in choice.limits:
        shown.add_row(*_cells(choice, limit))
    return shown


def _cells(choice: Choice, limit: Limit) -> Iterator[str]:
    yield say_share(limit.risk)
    yield say_month_day(choice.date_of(limit)) if limit.is_dated else UNDATED[undated(limit)]
    yield f"{bad_springs(limit.risk):.2g}"
    yield say_share(chance_in_years(limit.risk, choice.years_ahead))
    if limit.opened is not None:
        low, high = limit.opened.interval
        day = limit.opened.median_day
        if math.isnan(day):
            yield from ("never", "-", "-", "-")
        else:
            yield say_month_day(month_day_text(day, choice.curve.start))
            yield say_gain(limit.opened.days_gained)
            yield say_share(limit.opened.realised)
            yield f"{low:.0%} to {high:.0%}"
    if choice.advice is not None:
        came, stated = choice.weighed(limit), choice.weighed(limit, by_stated=True)
        yield "-" if came is None else f"{came.days_waited:.1f}"
        for row in (came,) if choice.replay is None else (came, stated):
            yield "-" if row is None else f"{row.cost:,.0f}"
        yield MARK if limit.risk == choice.advice.recommended else ""
