"""Invented springs and records for the tests of the replay."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from frostgate.model.records import DailyMinima, Station
from frostgate.proof.replay import Mornings, Openings, Replay
from frostgate.proof.springs import Springs
from frostgate.seasons import NORTH, SLOTS, SeasonStart

DAYS = np.arange("1970-08-01", "2010-08-01", dtype="datetime64[D]")
STAYS = 0.7  # of an anomaly from one day to the next


def chain(rng: np.random.Generator, *shape: int) -> np.ndarray:
    """Make weather that keeps 0.7 of its anomaly from day to day, with spread 1, along the last axis."""
    made = rng.standard_normal(shape)
    for day in range(1, shape[-1]):
        made[..., day] = STAYS * made[..., day - 1] + math.sqrt(1 - STAYS**2) * made[..., day]
    return made


def made_record(*, mean_c: float = 6.0, days: np.ndarray = DAYS) -> DailyMinima:
    """Make a record whose coldest day comes 165 days after its first."""
    yearly = np.cos((days - days[0] - 165).astype(int) / 365.25 * 2 * np.pi)
    noise_c = 3 * chain(np.random.default_rng(4), days.size)
    tmin_c = mean_c - 9 * yearly + noise_c
    return DailyMinima(station=Station(id="X"), dates=days, tmin_c=tmin_c)


def made_springs(
    count: int, *, climatology_c: float = 6.0, climate_sd_c: float = 5.0, seed: int = 11
) -> Springs:
    """Make springs in which every day is usually the same."""
    shape = (count, SLOTS)
    return Springs(
        years=1991 + np.arange(count),
        last_frost=np.zeros(count),
        tmin_c=climatology_c + climate_sd_c * chain(np.random.default_rng(seed), *shape),
        climatology_c=np.full(shape, climatology_c),
        climate_sd_c=np.full(shape, climate_sd_c),
        risk=np.tile(np.clip((290 - np.arange(SLOTS)) / 60, 0, 1), (count, 1)),
        persistence=np.full(count, 0.3),
        explained=np.full(count, 0.02),
        threshold_c=0.0,
        step_c=0.1,
        start=NORTH,
    )


def springs_of(frosts: list[dict[int, float]], start: SeasonStart = NORTH) -> Springs:
    """Make springs from 2023 on, of 5 °C each day but some, and usual minima of 4 °C."""
    springs = replace(made_springs(len(frosts), climatology_c=4.0, climate_sd_c=1.0), start=start)
    springs.years[:] = 2023 + np.arange(len(frosts))
    springs.tmin_c[:] = 5.0
    for at, spring in enumerate(frosts):
        springs.last_frost[at] = max((day for day, tmin_c in spring.items() if tmin_c <= 0), default=-np.inf)
        for day, tmin_c in spring.items():
            springs.tmin_c[at, day] = tmin_c
    return springs


def opened(risk: float, days: np.ndarray, wrong: np.ndarray, stated: float, gained: float = 0.0) -> Openings:
    """Make openings that state the same risk in every spring."""
    return Openings(
        risk=risk,
        stated=np.where(np.isfinite(days), stated, np.nan),
        day=days,
        wrong=wrong,
        calendar_day=days + gained,
        perfect_day=days - gained,
    )


def never_opened(risk: float, springs: int) -> Openings:
    """Make the openings of a gate that stayed shut in every spring."""
    return opened(risk, np.full(springs, np.nan), np.zeros(springs, dtype=bool), np.nan)


def replay_with(openings: tuple[Openings, ...], habit: Openings, horizon: int = 7) -> Replay:
    """Make a replay of invented openings."""
    springs = made_springs(habit.day.size)
    none = np.zeros((habit.day.size, 0))
    asked = Mornings(day=np.zeros(0, dtype=int), risk=none, foreseen=none, alone=none, mild=none > 0)
    return Replay(
        springs=springs,
        openings=openings,
        habit=habit,
        horizon=horizon,
        mornings=asked,
        kept=np.zeros(springs.years.size, dtype=bool),
    )
