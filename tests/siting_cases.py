"""Invented gardens and stations whose difference is known."""

from __future__ import annotations

import numpy as np

from frostgate.climate.siting import Pairs


def days_from(first: str, count: int):
    return np.datetime64(first) + np.arange(count)


def persistent(rng: np.random.Generator, count: int, correlation: float):
    """Draw a series of unit variance, each value correlated with the one before."""
    series = rng.standard_normal(count)
    for day in range(1, count):
        series[day] = correlation * series[day - 1] + (1 - correlation**2) ** 0.5 * series[day]
    return series


def draw_pairs(
    seed: int,
    count: int = 120,
    *,
    offset_c: float = -2.5,
    contrast_c: float = 2.0,
    slope: float = 0.0,
    night_sd_c: float = 1.5,
    thermometer_c: float = 0.0,
    marked: bool = True,
    station_mean_c: float = 5.0,
) -> Pairs:
    """Draw a spring's pairs: marked, with other nights warmer by a contrast, or unmarked, along a slope."""
    rng = np.random.default_rng(seed)
    station_c = rng.normal(station_mean_c, 5.0, count)
    clear = rng.random(count) < 0.4
    difference_c = (
        np.where(clear, offset_c, offset_c + contrast_c) if marked else offset_c + slope * station_c
    )
    noise_c = night_sd_c * persistent(rng, count, 0.3) + thermometer_c * rng.standard_normal()
    return Pairs(
        dates=days_from("2026-02-01", count),
        garden_c=station_c + difference_c + noise_c,
        station_c=station_c,
        clear=clear if marked else None,
    )


def spoil(pairs: Pairs, seed: int, *, share: float = 0.2, by_c: float | None = None) -> Pairs:
    """Put gross errors into a share of the garden's minima, of the clear and of the other nights alike."""
    rng = np.random.default_rng(seed)
    garden_c = pairs.garden_c.copy()
    groups = [np.arange(garden_c.size)]
    if pairs.clear is not None:
        groups = [np.flatnonzero(pairs.clear), np.flatnonzero(~pairs.clear)]
    for group in groups:
        hit = rng.choice(group, int(share * group.size), replace=False)
        garden_c[hit] += (
            rng.choice([-1, 1], hit.size) * rng.uniform(12, 30, hit.size) if by_c is None else by_c
        )
    return Pairs(dates=pairs.dates, garden_c=garden_c, station_c=pairs.station_c, clear=pairs.clear)
