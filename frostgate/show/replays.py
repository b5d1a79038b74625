"""A replay of past springs as a table and as an answer."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from frostgate.model.gate import Policy
from frostgate.model.records import Station
from frostgate.proof.reliability import reliability
from frostgate.proof.replay import Openings, Replay, WrongSpring, wrong_springs
from frostgate.seasons import SeasonStart, month_day_or_none
from frostgate.show.answers import DIGITS, Plain, named, plain
from frostgate.show.say import counted, or_dash, say_month_day
from frostgate.show.tables import Part, bold, grid
from frostgate.units import TemperatureUnit, say_share, say_temperature

COLUMNS = ("your limit", "stated", "came true", "95 % interval", "opens", "days gained", "at best")
INTERVAL = {"realised_low": "interval.0", "realised_high": "interval.1"}
PARTS = ("brier", "rel", "res", "unc", "wbv", "wbc", "skill")
WRONG_COLUMNS = ("spring", "opened", "stated", "first frost", "frosts", "coldest", "station", "garden")
REPLAYED = DIGITS | {
    **dict.fromkeys(("opening_sd_days", "days_gained", "days_gained_perfect"), 2),
    **dict.fromkeys(("tmin_c", "garden_c"), 1),
    **dict.fromkeys(PARTS, 5),
}


def replay_answer(replay: Replay, station: Station, seed: int, policy: Policy) -> Plain:
    """Return a replay under the names that the JSON answer uses."""
    answer = {
        **named(station, station="id", name="name"),
        **named(policy, "damage_temp_c", "offset_c"),
        **named(replay, first_year="springs.years.0", last_year="springs.years.-1", horizon="horizon"),
        "seed": seed,
        "springs_with_kept_forecasts": replay.kept.sum(),
        "tolerances": [
            _opened(replay, opened, policy)
            | named(opened, "days_gained", "days_gained_perfect")
            | {"reliability": _scores(opened)}
            for opened in replay.openings
        ],
        "habit": _opened(replay, replay.habit, policy),
    }
    return dict(plain(answer, REPLAYED))


def _opened(replay: Replay, opened: Openings, policy: Policy) -> Plain:
    wrong = wrong_springs(replay.springs, opened)
    return {
        **named(opened, "risk", "stated_mean", "realised", **INTERVAL, springs="springs"),
        "opening_median": month_day_or_none(opened.median_day, replay.springs.start),
        "opening_sd_days": np.std(opened.day[opened.opened]) if opened.springs else None,
        "wrong_years": [spring.year for spring in wrong],
        "wrong": [
            named(spring, "year", "opened", "stated", "frost", "tmin_c")
            | {"garden_c": spring.tmin_c + policy.offset_c}
            | named(spring, "first_frost", "frosts_after")
            for spring in wrong
        ],
    }


def _scores(opened: Openings) -> Plain:
    """Return the Brier score of the risks stated at opening, and its parts; None each where none was."""
    if not opened.springs:
        return dict.fromkeys(PARTS)
    return named(reliability(opened.stated[opened.opened], opened.wrong[opened.opened]), *PARTS)


def replay_parts(
    replay: Replay, station: Station, seed: int, policy: Policy, unit: TemperatureUnit
) -> Iterator[Part]:
    """Write a replay: a row for each tolerance, the trade's habit, and the springs that went wrong."""
    years = replay.springs.years
    drawn = f"every morning a drawn forecast of {replay.horizon} nights (seed {seed})"
    yield bold(station)
    yield f"{years.size} springs {years[0]}-{years[-1]}, each judged by the others; {drawn}"
    yield from ("", grid(COLUMNS, (_cells(replay, opened) for opened in replay.openings)), "")
    yield from _reading(replay)
    yield ""
    yield from _wrong(replay, policy, unit)


def _cells(replay: Replay, opened: Openings) -> tuple[str, ...]:
    opens, gained, came_true, interval = opening_cells(opened, replay.springs.start)
    stated = say_share(opened.stated_mean) if opened.springs else "-"
    at_best = or_dash(opened.days_gained_perfect, "+.1f")
    return say_share(opened.risk), stated, came_true, interval, opens, gained, at_best


def opening_cells(opened: Openings, start: SeasonStart) -> tuple[str, str, str, str]:
    """Say when a gate opened, the days gained, and the share that came true with its bounds."""
    opens, gained = month_day_or_none(opened.median_day, start), or_dash(opened.days_gained, "+.1f")
    if opens is None:
        return "never", gained, "-", "-"
    low, high = opened.interval
    return say_month_day(opens), gained, say_share(opened.realised), f"{low:.0%} to {high:.0%}"


def _reading(replay: Replay) -> Iterator[str]:
    yield "stated: mean risk on the morning the gate opened; came true: springs with a damaging frost after."
    yield "days gained: before the calendar date of the same limit; at best: with a forecast without errors."
    habit, kept = replay.habit, int(replay.kept.sum())
    low, high = habit.interval
    told = "The trade's habit (past the 50 % date, no frost in the two-week forecast: feed)"
    if habit.springs:
        yield f"{told} went wrong in"
        yield f"{say_share(habit.realised)} of these springs ({low:.0%} to {high:.0%})."
    else:
        yield from (told, "never fed in these springs.")
    if kept:
        yield f"In {counted(kept, 'spring')} the forecasts are those that were kept."
    others = "The others are drawn" if kept else "Forecasts are drawn"
    yield f"{others}, not archived: their errors have the policy's spread, tails and correlation."


def _wrong(replay: Replay, policy: Policy, unit: TemperatureUnit) -> Iterator[Part]:
    """Tell of the springs that went wrong at the limit that was asked for."""
    for opened in (one for one in replay.openings if one.risk == policy.risk_tolerance):
        limit, wrong = say_share(opened.risk), wrong_springs(replay.springs, opened)
        if wrong:
            yield bold(f"The springs that went wrong at a limit of {limit}, and what came")
            yield grid(WRONG_COLUMNS, (_wrong_cells(spring, policy, unit) for spring in wrong))
        else:
            fate = "none of these springs went wrong" if opened.springs else "the gate never opened"
            yield f"At a limit of {limit} {fate}."


def _wrong_cells(spring: WrongSpring, policy: Policy, unit: TemperatureUnit) -> tuple[str, ...]:
    dates = (spring.opened, spring.first_frost, spring.frost)
    opened, first_frost, frost = (say_month_day(f"{date:%m-%d}") for date in dates)
    station, garden = (say_temperature(spring.tmin_c + add_c, unit) for add_c in (0.0, policy.offset_c))
    frosts = str(spring.frosts_after)
    return str(spring.year), opened, say_share(spring.stated), first_frost, frosts, frost, station, garden
