"""Stations near a place, as they would serve a garden there."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass

from frostgate.errors import InputError
from frostgate.model.records import Station


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a garden lies."""

    latitude: float  # degrees north
    longitude: float  # degrees east
    elevation_m: float | None = None  # above the sea; None where unknown

    def __post_init__(self) -> None:
        if not abs(self.latitude) <= 90.0:
            raise InputError("a latitude lies between 90S and 90N", value=self.latitude)
        if not abs(self.longitude) <= 180.0:
            raise InputError("a longitude lies between 180W and 180E", value=self.longitude)


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """What a record holds, counted."""

    first: dt.date  # with a good minimum
    last: dt.date
    share: float  # of the days between them, those with a good minimum
    springs: int | None  # with a last frost, or known to have had none; None where no hemisphere shows


@dataclass(frozen=True, slots=True, kw_only=True)
class NearStation(Station):
    """A station of the archive's lists, and by how many days it would be off at a place near it."""

    first_year: int  # of its minima, by the inventory
    last_year: int
    distance_km: float = math.nan  # from the place
    station_less_place_m: float | None = None  # None where either elevation is unknown
    off_days: float = math.nan  # how far its middle date of last frost is likely off; NaN before judged
    share: float | None = None  # of its days those with a good minimum; None where its record was not counted
    springs: int | None = None  # known
    reason: str | None = None  # why it is listed last


@dataclass(frozen=True, slots=True, kw_only=True)
class StationsFound(Place):
    """Stations near a place, the likely best first."""

    within_km: float
    to_year: int  # that a record should reach
    found: int  # how many there are; not all need be shown
    stations: tuple[NearStation, ...]
    how: tuple[str, ...] = ()  # they are put in order, one sentence each
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordFetched(Counted):
    """A station's record among what is kept, and what it holds."""

    station: str
    file: str
    fetched_at: dt.datetime  # UTC
    age: str  # the same in words
    stale: str | None  # why an older copy had to serve
