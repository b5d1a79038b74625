"""The replay of many springs at once against the gate asked morning by morning in a loop."""

from __future__ import annotations

import datetime as dt
import tracemalloc
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from pairs import Pair, made_weather

from frostgate.gate.outlook import look_ahead
from frostgate.model.curves import RECENT_DAYS, FrostCurve, Weather
from frostgate.model.gate import Forecast, Policy
from frostgate.model.records import DailyMinima, Station
from frostgate.proof.replay import TOLERANCES, ask_each_morning
from frostgate.proof.springs import Springs, draw_mornings, lay_out_springs
from frostgate.seasons import NORTH, date_of

POLICY = Policy()
SURE = replace(POLICY, error_sd_c=((1.0, 0.001),))
CLOSE = 0.002  # of two risks: links between nights are rounded to hundredths, in the replay of their mean


def replaying() -> Iterator[Pair]:
    """100 springs x 150 mornings x 6 limits, drawing included; the loop asks the gate for 4 of the springs.

    Both ask by the drawn forecast and by one without errors, which tells what a better forecast would gain.
    The loop is handed the forecasts, and its time is scaled from 4 springs to 100.
    """
    springs, day = _springs(100), np.arange(180, 330)
    told = [*draw_mornings(springs, POLICY, day, POLICY.window_days, np.random.default_rng(1))]
    came = [springs.tmin_c[:, d + 1 : d + 1 + POLICY.window_days] for d in day]
    some = range(0, 96, 24)  # leap years, in which no day of the season is missing

    def ours() -> list[np.ndarray]:
        drawn = draw_mornings(springs, POLICY, day, POLICY.window_days, np.random.default_rng(1))
        asked = ask_each_morning(springs, POLICY, day=day, told_c=drawn, nights=POLICY.window_days)
        return _with_first_days([asked.risk, asked.foreseen], day)

    def theirs() -> list[np.ndarray]:
        def by(policy: Policy, nights: list[np.ndarray]) -> np.ndarray:
            mornings = [*zip(day, nights, strict=True)]
            return np.array([
                [_ask(springs, at, d, told_c[at], policy) for d, told_c in mornings] for at in some
            ])  # fmt: skip

        return _with_first_days([by(POLICY, told), by(SURE, came)], day)

    mine, gates = ours(), theirs()
    if np.abs(mine[0][some] - gates[0]).max() > CLOSE or np.abs(mine[1][some] - gates[1]).mean() > CLOSE:
        raise SystemExit("the replay and the gate come to different risks")
    tracemalloc.start()
    ours()
    peak = tracemalloc.get_traced_memory()[1] / 2**20
    tracemalloc.stop()
    yield Pair(
        what=f"replay 100 x 150 x 6, peak {peak:.0f} MB",
        against="look_ahead in a loop, 4 springs scaled to 100",
        ours=ours,
        theirs=theirs,
        rounds=3,
        wanted=">= 50, < 1000 MB",
        share=len(some) / 100,
    )


def _springs(count: int) -> Springs:
    first = 2019 - count
    days = np.arange(f"{first}-08-01", "2019-08-01", dtype="datetime64[D]")
    record = DailyMinima(station=Station(id="X"), dates=days, tmin_c=made_weather(days, 1)[:, 0])
    return lay_out_springs(record, POLICY.station_threshold_c, NORTH)


def _ask(springs: Springs, at: int, day: int, told_c: np.ndarray, policy: Policy) -> float:
    """Ask the gate itself on one morning of one spring."""
    today = date_of(int(springs.years[at]) - 1, int(day), NORTH)
    now = dt.datetime.combine(today, dt.time(6))
    curve = FrostCurve(
        kind="student", side="spring", threshold_c=springs.threshold_c, start=NORTH, risk=springs.risk[at],
        frost_share=1.0, seasons_used=99, seasons_unknown=0, first_year=1920, last_year=2019,
        step_c=springs.step_c, spread_c=springs.climate_sd_c[at],
    )  # fmt: skip
    weather = Weather(
        climatology_c=springs.climatology_c[at], persistence=float(springs.persistence[at]), last_day=today,
        explained=float(springs.explained[at]), recent_c=springs.tmin_c[at, day + 1 - RECENT_DAYS : day + 1],
    )  # fmt: skip
    forecast = Forecast(
        source="drawn", form="table", issued_at=now, tmin_c=told_c, sd_c=np.full(told_c.size, np.nan),
        dates=np.datetime64(today, "D") + 1 + np.arange(told_c.size),
    )  # fmt: skip
    return float(look_ahead(curve, forecast, policy, now, weather=weather).risk[0])


def _with_first_days(risks: list[np.ndarray], day: np.ndarray) -> list[np.ndarray]:
    return [*risks, *(_first_days(risk, day) for risk in risks)]


def _first_days(risk: np.ndarray, day: np.ndarray) -> np.ndarray:
    within = risk[..., np.newaxis] <= np.array(TOLERANCES)
    return np.where(within.any(axis=1), day[np.argmax(within, axis=1)], -1)
