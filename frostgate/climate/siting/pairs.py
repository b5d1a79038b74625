"""The same mornings in the garden and at the station."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from frostgate.errors import InputError
from frostgate.terms import DailyMinima, Dates, Floats
from frostgate.terms.arrays import frozen_copy
from frostgate.values import dataclass

Mask = npt.NDArray[np.bool_]

FEWEST_FOR_SHIFT = 10
CLEARLY_CLOSER = 0.7  # spread of the differences with the dates moved, against that as they stand


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pairs:
    """Minima of one morning each, in the garden and at the station.

    Parameters
    ----------
    dates
        Mornings, strictly rising, shape (n,).
    garden_c, station_c
        Both minima [°C], shape (n,), none missing.
    clear
        Whether the night was clear and calm, shape (n,); None where nights are not marked.

    Raises
    ------
    InputError
        Where lengths differ, a minimum is missing, or dates do not rise.

    Examples
    --------
    >>> Pairs(dates=["2026-04-01"], garden_c=[-3.0], station_c=[-1.0]).differences_c
    array([-2.])
    """

    dates: Dates
    garden_c: Floats
    station_c: Floats
    clear: Mask | None = None

    def __post_init__(self) -> None:
        kinds: dict[str, npt.DTypeLike] = {
            "dates": "datetime64[D]",
            "garden_c": float,
            "station_c": float,
            "clear": bool,
        }
        for name, kind in kinds.items():
            if getattr(self, name) is not None:
                object.__setattr__(self, name, frozen_copy(getattr(self, name), kind))
                if getattr(self, name).shape != self.dates.shape:
                    raise InputError("each pair needs a date and two minima", value=name)
        if not (np.isfinite(self.garden_c).all() and np.isfinite(self.station_c).all()):
            raise InputError("a pair needs both of its minima")
        if not (np.diff(self.dates).astype(np.int64) > 0).all():
            raise InputError("the mornings of pairs must rise, each once")

    @property
    def differences_c(self) -> Floats:
        """Garden less station [°C], shape (n,)."""
        return self.garden_c - self.station_c

    def where(self, keep: Mask) -> Pairs:
        """Return some of the pairs, without the marks of their nights."""
        return Pairs(dates=self.dates[keep], garden_c=self.garden_c[keep], station_c=self.station_c[keep])


def pair_up(garden: DailyMinima, station: DailyMinima, clear: Mask | None = None) -> Pairs:
    """Take the mornings on which both minima are known; there may be none.

    Parameters
    ----------
    garden, station
        Both records.
    clear
        Whether each of the garden's nights was clear and calm, shape as its dates.

    Examples
    --------
    >>> from frostgate.terms import Station
    >>> days = ["2026-04-01", "2026-04-02"]
    >>> garden = DailyMinima(station=Station(id="G"), dates=days, tmin_c=[-3.0, 1.0])
    >>> station = DailyMinima(station=Station(id="S"), dates=days, tmin_c=[-1.0, np.nan])
    >>> pair_up(garden, station).dates.size
    1
    """
    in_garden, at_station = np.isfinite(garden.tmin_c), np.isfinite(station.tmin_c)
    dates, mine, theirs = np.intersect1d(
        garden.dates[in_garden], station.dates[at_station], assume_unique=True, return_indices=True
    )
    return Pairs(
        dates=dates,
        garden_c=garden.tmin_c[in_garden][mine],
        station_c=station.tmin_c[at_station][theirs],
        clear=None if clear is None else clear[in_garden][mine],
    )


def find_shift(garden: DailyMinima, station: DailyMinima) -> int:
    """Find by how many days the garden's dates fit the station's better than as they stand: -1, 0 or 1.

    A minimum belongs to the morning on which the night ends; some thermometers, and some stations read in the
    afternoon, are dated a day earlier or later. A shift is named only where the differences then scatter
    clearly less (median absolute deviation below 0.7 of that as they stand; common practice, no source).

    Examples
    --------
    >>> from frostgate.terms import Station
    >>> days = np.arange("2026-03-01", "2026-05-01", dtype="datetime64[D]")
    >>> tmin_c = np.random.default_rng(3).normal(2, 4, days.size)
    >>> station = DailyMinima(station=Station(id="S"), dates=days, tmin_c=tmin_c)
    >>> find_shift(DailyMinima(station=Station(id="G"), dates=days - 1, tmin_c=tmin_c), station)
    1
    """
    spreads = {days: _spread_at(days, garden, station) for days in (0, -1, 1)}
    best = min(spreads, key=lambda days: spreads[days])
    return best if spreads[best] < CLEARLY_CLOSER * spreads[0] else 0


def _spread_at(days: int, garden: DailyMinima, station: DailyMinima) -> float:
    moved = DailyMinima(station=garden.station, dates=garden.dates + days, tmin_c=garden.tmin_c)
    differences_c = pair_up(moved, station).differences_c
    if differences_c.size < FEWEST_FOR_SHIFT:
        return np.inf
    return float(np.median(np.abs(differences_c - np.median(differences_c))))
