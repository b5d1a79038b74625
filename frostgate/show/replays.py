"""A replay of past springs as a table and as an answer."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence

import numpy as np
from rich.console import Console
from rich.table import Table
from rich.text import Text

from frostgate.model.gate import Policy
from frostgate.model.records import Station
from frostgate.proof.reliability import reliability
from frostgate.proof.replay import Mornings, Openings, Replay, WrongSpring, wrong_springs
from frostgate.proof.springs import Springs
from frostgate.seasons import NORTH, month_day_text
from frostgate.show.answers import Plain, rounded
from frostgate.show.say import say_month_day
from frostgate.show.tables import console_of_its_width
from frostgate.units import TemperatureUnit, say_share, say_temperature

COLUMNS = ("your limit", "stated", "came true", "95 % interval", "opens", "days gained", "at best")
PARTS = ("brier", "rel", "res", "unc", "wbv", "wbc", "skill")
WRONG_COLUMNS = ("spring", "opened", "stated", "first frost", "frosts", "coldest", "station", "garden")


def replay_answer(replay: Replay, station: Station, seed: int, policy: Policy) -> Plain:
    """Return a replay under the names that the JSON answer uses."""
    springs = replay.springs
    return {
        "station": station.id,
        "name": station.name,
        "damage_temp_c": rounded(policy.damage_temp_c, 3),
        "offset_c": rounded(policy.offset_c, 3),
        "first_year": int(springs.years[0]),
        "last_year": int(springs.years[-1]),
        "horizon": replay.horizon,
        "seed": seed,
        "springs_with_kept_forecasts": int(replay.kept.sum()),
        "tolerances": [
            _opened(replay, opened, policy) | _days(opened) | {"reliability": _scores(opened)}
            for opened in replay.openings
        ],
        "habit": _opened(replay, replay.habit, policy),
    }


def write_replay(
    replay: Replay,
    station: Station,
    seed: int,
    policy: Policy,
    unit: TemperatureUnit,
    *,
    console: Console | None = None,
) -> None:
    """Write a replay: a row for each tolerance, the trade's habit, and the springs that went wrong."""
    screen = console or console_of_its_width()
    springs = replay.springs
    screen.print(Text(station.name or station.id, style="bold"))
    screen.print(
        f"{springs.years.size} springs {springs.years[0]}-{springs.years[-1]}, each judged by the others; "
        f"every morning a drawn forecast of {replay.horizon} nights (seed {seed})"
    )
    screen.print()
    screen.print(_table(COLUMNS, [_cells(replay, opened) for opened in replay.openings]))
    screen.print()
    for line in _reading(replay):
        screen.print(Text(line))
    screen.print()
    for opened in (one for one in replay.openings if one.risk == policy.risk_tolerance):
        _write_wrong(screen, replay, opened, policy, unit)


def _one_spring() -> Replay:
    """Make the smallest replay there is, for the examples above."""
    day, table = np.array([250.0]), np.zeros((1, 366))
    opened = Openings(
        risk=0.1,
        stated=np.array([0.08]),
        day=day,
        wrong=day > 0,
        calendar_day=day + 5,
        perfect_day=day - 2,
    )
    springs = Springs(
        years=np.array([2026]),
        last_frost=day + 3,
        tmin_c=np.where(np.arange(366) == 253, -2.0, 5.0)[np.newaxis],
        climatology_c=table,
        climate_sd_c=table,
        risk=table,
        persistence=np.zeros(1),
        explained=np.zeros(1),
        threshold_c=0.0,
        step_c=0.1,
        start=NORTH,
    )
    asked = Mornings(day=np.array([250]), risk=opened.stated[np.newaxis], foreseen=table[:, :1],
                     alone=table[:, :1], mild=table[:, :1] == 0)  # fmt: skip
    return Replay(
        springs=springs,
        openings=(opened,),
        habit=opened,
        horizon=7,
        mornings=asked,
        kept=np.zeros(1, dtype=np.bool_),
    )


def _cells(replay: Replay, opened: Openings) -> tuple[str, ...]:
    low, high = opened.interval
    opens = _median_date(replay, opened)
    return (
        say_share(opened.risk),
        *(
            ("-", "-", "-", "never")
            if opens is None
            else (
                say_share(opened.stated_mean),
                say_share(opened.realised),
                f"{low:.0%} to {high:.0%}",
                say_month_day(opens),
            )
        ),
        say_gain(opened.days_gained),
        say_gain(opened.days_gained_perfect),
    )


def _reading(replay: Replay) -> tuple[str, ...]:
    return (
        "stated: mean risk on the morning the gate opened; came true: springs with a damaging frost after.",
        "days gained: before the calendar date of the same limit; at best: with a forecast without errors.",
        *_habit_reading(replay.habit),
        *_forecasts_reading(int(replay.kept.sum())),
    )


def _forecasts_reading(kept: int) -> Iterator[str]:
    if kept:
        yield f"In {kept} spring{'s' if kept > 1 else ''} the forecasts are those that were kept."
    others = "The others are drawn" if kept else "Forecasts are drawn"
    yield f"{others}, not archived: their errors have the policy's spread, tails and correlation."


def _habit_reading(habit: Openings) -> tuple[str, str]:
    low, high = habit.interval
    told = "The trade's habit (past the 50 % date, no frost in the two-week forecast: feed)"
    if not habit.springs:
        return told, "never fed in these springs."
    return f"{told} went wrong in", f"{say_share(habit.realised)} of these springs ({low:.0%} to {high:.0%})."


def _opened(replay: Replay, opened: Openings, policy: Policy) -> Plain:
    low, high = opened.interval
    wrong = wrong_springs(replay.springs, opened)
    return {
        "risk": rounded(opened.risk),
        "stated_mean": rounded(opened.stated_mean),
        "realised": rounded(opened.realised),
        "realised_low": rounded(low),
        "realised_high": rounded(high),
        "springs": opened.springs,
        "opening_median": _median_date(replay, opened),
        "opening_sd_days": rounded(float(np.std(opened.day[opened.opened])), 2) if opened.springs else None,
        "wrong_years": [spring.year for spring in wrong],
        "wrong": [_wrong(spring, policy) for spring in wrong],
    }


def _wrong(spring: WrongSpring, policy: Policy) -> Plain:
    return {
        "year": spring.year,
        "opened": spring.opened.isoformat(),
        "stated": rounded(spring.stated),
        "frost": spring.frost.isoformat(),
        "tmin_c": rounded(spring.tmin_c, 1),
        "garden_c": rounded(spring.tmin_c + policy.offset_c, 1),
        "first_frost": spring.first_frost.isoformat(),
        "frosts_after": spring.frosts_after,
    }


def _scores(opened: Openings) -> Plain:
    """Return the Brier score of the risks stated at opening, and its parts; None each where none was."""
    if not opened.springs:
        return dict.fromkeys(PARTS)
    found = reliability(opened.stated[opened.opened], opened.wrong[opened.opened])
    return {name: rounded(getattr(found, name), 5) for name in PARTS}


def _write_wrong(
    screen: Console, replay: Replay, opened: Openings, policy: Policy, unit: TemperatureUnit
) -> None:
    limit = say_share(opened.risk)
    wrong = wrong_springs(replay.springs, opened)
    if not wrong:
        fate = "none of these springs went wrong" if opened.springs else "the gate never opened"
        screen.print(Text(f"At a limit of {limit} {fate}."))
        return
    screen.print(Text(f"The springs that went wrong at a limit of {limit}, and what came", style="bold"))
    screen.print(_table(WRONG_COLUMNS, [_wrong_cells(spring, policy, unit) for spring in wrong]))


def _wrong_cells(spring: WrongSpring, policy: Policy, unit: TemperatureUnit) -> tuple[str, ...]:
    return (
        str(spring.year),
        _day(spring.opened),
        say_share(spring.stated),
        _day(spring.first_frost),
        str(spring.frosts_after),
        _day(spring.frost),
        say_temperature(spring.tmin_c, unit),
        say_temperature(spring.tmin_c + policy.offset_c, unit),
    )


def _table(names: Sequence[str], rows: Sequence[Sequence[str]]) -> Table:
    shown = Table(box=None, padding=(0, 2, 0, 0))
    for name in names:
        shown.add_column(name, justify="right", no_wrap=True)
    for row in rows:
        shown.add_row(*row)
    return shown


def _day(date: dt.date) -> str:
    return say_month_day(f"{date:%m-%d}")


def _days(opened: Openings) -> Plain:
    return {
        "days_gained": rounded(opened.days_gained, 2),
        "days_gained_perfect": rounded(opened.days_gained_perfect, 2),
    }


def _median_date(replay: Replay, opened: Openings) -> str | None:
    day = opened.median_day
    return None if math.isnan(day) else month_day_text(day, replay.springs.start)


def say_gain(days: float) -> str:
    """Write days gained, or a dash where there are none to speak of."""
    return "-" if math.isnan(days) else f"{days:+.1f}"
