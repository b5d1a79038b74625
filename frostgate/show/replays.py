"""A replay of past springs as a table and as an answer."""

from __future__ import annotations

import numpy as np
from rich.console import Console
from rich.table import Table
from rich.text import Text

from frostgate.proof.replay import Openings, Replay
from frostgate.proof.springs import Springs
from frostgate.seasons import NORTH, month_day_text
from frostgate.show.answers import Plain, rounded
from frostgate.show.tables import console_of_its_width, say_month_day
from frostgate.terms import Station
from frostgate.units import say_share

COLUMNS = ("your limit", "stated", "came true", "95 % interval", "opens", "days gained", "at best")


def replay_answer(replay: Replay, station: Station, seed: int) -> Plain:
    """Give a replay under the names that the JSON answer uses.

    Examples
    --------
    >>> replay_answer(_one_spring(), Station(id="X"), 1)["tolerances"][0]["wrong_years"]
    [2026]
    """
    springs = replay.springs
    return {
        "station": station.id,
        "name": station.name,
        "first_year": int(springs.years[0]),
        "last_year": int(springs.years[-1]),
        "horizon": replay.horizon,
        "seed": seed,
        "tolerances": [_opened(replay, opened) | _days(opened) for opened in replay.openings],
        "habit": _opened(replay, replay.habit),
    }


def write_replay(replay: Replay, station: Station, seed: int, console: Console | None = None) -> None:
    """Write a replay: a row for each tolerance, the trade's habit, and how to read both.

    Examples
    --------
    >>> write_replay(_one_spring(), Station(id="X"), 1)  # doctest: +ELLIPSIS
    X
    1 springs 2026-2026, ...
    """
    screen = console or console_of_its_width()
    springs = replay.springs
    screen.print(Text(station.name or station.id, style="bold"))
    screen.print(
        f"{springs.years.size} springs {springs.years[0]}-{springs.years[-1]}, each judged by the others; "
        f"every morning a drawn forecast of {replay.horizon} nights (seed {seed})"
    )
    screen.print()
    shown = Table(box=None, padding=(0, 2, 0, 0))
    for name in COLUMNS:
        shown.add_column(name, justify="right", no_wrap=True)
    for opened in replay.openings:
        shown.add_row(*_cells(replay, opened))
    screen.print(shown)
    screen.print()
    for line in _reading(replay):
        screen.print(Text(line))


def _one_spring() -> Replay:
    """Make the smallest replay there is, for the examples above."""
    day, table = np.array([250]), np.zeros((1, 366))
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
        last_frost=day + 3.0,
        anomaly_c=table,
        usual_c=table,
        spread_c=table,
        risk=table,
        step_c=0.1,
        start=NORTH,
    )
    return Replay(springs=springs, openings=(opened,), habit=opened, horizon=7)


def _cells(replay: Replay, opened: Openings) -> tuple[str, ...]:
    low, high = opened.interval
    return (
        say_share(opened.risk),
        say_share(float(opened.stated.mean())),
        say_share(opened.realised),
        f"{low:.0%} to {high:.0%}",
        say_month_day(_median_date(replay, opened)),
        f"{opened.days_gained:+.1f}",
        f"{opened.days_gained_perfect:+.1f}",
    )


def _reading(replay: Replay) -> tuple[str, ...]:
    low, high = replay.habit.interval
    return (
        "stated: mean risk on the morning the gate opened; came true: springs with a damaging frost after.",
        "days gained: before the calendar date of the same limit; at best: with a forecast without errors.",
        "The trade's habit (past the 50 % date, no frost in the two-week forecast: feed) went wrong in",
        f"{say_share(replay.habit.realised)} of these springs ({low:.0%} to {high:.0%}).",
        "Forecasts are drawn, not archived: their errors have the policy's spread, tails and correlation.",
    )


def _opened(replay: Replay, opened: Openings) -> Plain:
    low, high = opened.interval
    wrong = replay.springs.years[opened.wrong]
    return {
        "risk": rounded(opened.risk),
        "stated_mean": rounded(float(opened.stated.mean())),
        "realised": rounded(opened.realised),
        "realised_low": rounded(low),
        "realised_high": rounded(high),
        "springs": int(opened.day.size),
        "opening_median": _median_date(replay, opened),
        "opening_sd_days": rounded(float(np.std(opened.day)), 2),
        "wrong_years": [int(year) for year in wrong],
    }


def _days(opened: Openings) -> Plain:
    return {
        "days_gained": round(opened.days_gained, 2),
        "days_gained_perfect": round(opened.days_gained_perfect, 2),
    }


def _median_date(replay: Replay, opened: Openings) -> str:
    return month_day_text(float(np.median(opened.day)), replay.springs.start)
