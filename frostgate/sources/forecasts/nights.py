"""What every form of a forecast file shares: its nights, its unit, its spread, and what makes it whole."""

from __future__ import annotations

import datetime as dt
import itertools
import math
import re
from collections.abc import Sequence
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from frostgate.errors import InputError, UnstatedUnitError
from frostgate.patterns import pattern
from frostgate.sources.forecasts.documents import JsonValue, Spot
from frostgate.sources.forecasts.local_time import MORNING
from frostgate.terms import Forecast
from frostgate.units import COLDEST_C, HOTTEST_C, TemperatureUnit, celsius
from frostgate.values import dataclass

MOST_DAYS = 46  # no weather service states nights further ahead
MOST_SPREAD_C = 30.0  # wider than any climate's own spread; common sense, no source
FEWEST_MEMBERS = 3

_UNIT = pattern(r"(?:(?:wmo)?unit:)?(?:deg|°)?\s*([CF]|celsius|fahrenheit)", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """A forecast file, opened, with what the grower said about it.

    Parameters
    ----------
    path, text
        The file and what stands in it.
    tree
        The same as JSON, or None where it is not.
    unit
        The unit the grower stated.
    zone
        The time zone the grower stated.

    Examples
    --------
    >>> Opened(path=Path("f.csv"), text="date,tmin_c").tree is None
    True
    """

    path: Path
    text: str
    tree: JsonValue | None = None
    unit: TemperatureUnit | None = None
    zone: ZoneInfo | None = None

    def holds(self, *path: str) -> bool:
        """Tell whether it is a document with something under these names."""
        return self.tree is not None and self.tree.has(*path)

    @property
    def root(self) -> JsonValue:
        """The document; an empty one where the file is not JSON."""
        return self.tree or JsonValue(value={}, spot=Spot(file=self.path))


@dataclass(frozen=True, slots=True, kw_only=True)
class Night:
    """One night of a forecast, dated by its morning, and the spot that states it.

    Examples
    --------
    >>> Night(date=dt.date(2026, 4, 8), spot=Spot(file=Path("f.csv"), line=2)).tmin_c
    nan
    """

    date: dt.date
    spot: Spot
    tmin_c: float = math.nan
    sd_c: float = math.nan


def find_unit(text: str) -> TemperatureUnit | None:
    """Read the name of a temperature unit; None where it is another.

    Examples
    --------
    >>> find_unit("°F"), find_unit("wmoUnit:degC"), find_unit("K")
    ('F', 'C', None)
    """
    match = _UNIT().fullmatch(text.strip())
    if match is None:
        return None
    return "F" if match[1][0].upper() == "F" else "C"


def agree_on_unit(
    stated: Sequence[tuple[TemperatureUnit, Spot]], asked: TemperatureUnit | None, spot: Spot
) -> TemperatureUnit:
    """Settle the one unit of a file from what it states, and what the grower states.

    Raises
    ------
    UnstatedUnitError
        Where nobody states one.
    InputError
        Where two of them contradict each other.

    Examples
    --------
    >>> agree_on_unit([], "F", Spot(file=Path("f.csv"), line=1))
    'F'
    """
    for (unit, first), (other, second) in itertools.pairwise(stated):
        if unit != other:
            remedy = "Bring all its columns to one unit."
            raise second.fault(f"mixed units: {first.name} is in °{unit}", f"°{other}", remedy)
    if stated and asked not in (None, stated[0][0]):
        unit, where = stated[0]
        raise where.fault(f"the file says °{unit}, --unit says {asked}", f"°{unit}", "Leave --unit out.")
    if not stated and asked is None:
        remedy = "Say --unit F or --unit C."
        raise spot.fault("no unit is stated", remedy=remedy, kind=UnstatedUnitError)
    return stated[0][0] if stated else asked or "C"


def minimum_c(degrees: float, unit: TemperatureUnit, spot: Spot) -> float:
    """Bring a minimum to [°C]; NaN stays NaN.

    Raises
    ------
    InputError
        Where no place on earth has such a temperature.

    Examples
    --------
    >>> minimum_c(14.0, "F", Spot(file=Path("f.csv"), line=2))
    -10.0
    """
    temp_c = celsius(degrees) if unit == "F" else degrees
    if not math.isnan(temp_c) and not COLDEST_C <= temp_c <= HOTTEST_C:
        remedy = "Leave a missing value empty (null in JSON)."
        raise spot.fault("no place on earth has such a temperature", f"{degrees:g} °{unit}", remedy)
    return temp_c


def spread_c(degrees: float, unit: TemperatureUnit, spot: Spot) -> float:
    """Bring a standard deviation, which is a difference, to [°C]; NaN stays NaN.

    Raises
    ------
    InputError
        Where it is negative, or wider than any climate.

    Examples
    --------
    >>> spread_c(3.6, "F", Spot(file=Path("f.csv"), line=2))
    2.0
    """
    sd_c = degrees / 1.8 if unit == "F" else degrees
    if sd_c < 0.0 or sd_c > MOST_SPREAD_C:
        what = "a spread is never negative" if sd_c < 0.0 else "a spread wider than any climate's"
        raise spot.fault(what, f"{degrees:g} °{unit}", "Leave a missing spread empty.")
    return sd_c


def mean_and_sd(members: Sequence[float]) -> tuple[float, float]:
    """Give mean and sample standard deviation of an ensemble's members, missing ones (NaN) left out.

    The mean is NaN where all are missing, the standard deviation where fewer than 3 are there.

    Examples
    --------
    >>> mean_and_sd([1.0, 2.0, 3.0, math.nan])
    (2.0, 1.0)
    """
    there = [member for member in members if not math.isnan(member)]
    mean = float(np.mean(there)) if there else math.nan
    return mean, float(np.std(there, ddof=1)) if len(there) >= FEWEST_MEMBERS else math.nan


def to_forecast(
    nights: Sequence[Night],
    *,
    form: str,
    file: Path,
    issued: dt.datetime | None,
    zone: dt.tzinfo | None,
    notes: Sequence[str] = (),
) -> Forecast:
    """Make a forecast of its nights.

    Parameters
    ----------
    nights
        In the file's order.
    form
        The form it came in, in words.
    file
        For messages.
    issued
        When it was made, local time; None where the file does not tell.
    zone
        The place's time zone, where it is known.
    notes
        What the reader took for granted.

    Raises
    ------
    InputError
        Where there is no night, no minimum at all, a date that does not rise, more days than any forecast
        has, or a forecast made after its last morning.

    Examples
    --------
    >>> night = Night(date=dt.date(2026, 4, 8), spot=Spot(file=Path("f.csv"), line=2), tmin_c=1.5)
    >>> to_forecast([night], form="table", file=Path("f.csv"), issued=None, zone=None).issued_at
    datetime.datetime(2026, 4, 7, 6, 0)
    """
    _refuse_what_is_no_forecast(nights, file)
    earliest = dt.datetime.combine(nights[0].date - dt.timedelta(days=1), MORNING)
    if issued is not None and issued.date() > nights[-1].date:
        what = f"made on {issued:%Y-%m-%d}, after its last morning"
        raise nights[-1].spot.fault(what, nights[-1].date, "Mend the time of issue, or fetch a newer one.")
    return Forecast(
        source=str(file),
        form=form,
        issued_at=issued or earliest,
        issued_stated=issued is not None,
        time_zone=None if zone is None else str(zone),
        dates=np.array([night.date for night in nights], dtype="datetime64[D]"),
        tmin_c=np.array([night.tmin_c for night in nights]),
        sd_c=np.array([night.sd_c for night in nights]),
        notes=(*notes, *([] if issued else [_unstated(earliest)])),
    )


def _refuse_what_is_no_forecast(nights: Sequence[Night], file: Path) -> None:
    if not nights:
        raise InputError("a forecast without any night", file=file, remedy="Fetch it again.")
    for before, after in itertools.pairwise(nights):
        if after.date <= before.date:
            raise after.spot.fault(
                f"the dates of a forecast must rise, each night once: {after.date} ({after.spot.words}) "
                f"comes after {before.date} ({before.spot.words})",
                after.date,
                "Bring the nights in order, each once.",
            )
    days = (nights[-1].date - nights[0].date).days + 1
    if days > MOST_DAYS:
        raise nights[-1].spot.fault(
            f"{days} days, longer than any forecast ({MOST_DAYS} days)", nights[-1].date, "Name a forecast."
        )
    if all(math.isnan(night.tmin_c) for night in nights):
        raise InputError(
            f"no minimum for any of its {len(nights)} nights", file=file, remedy="Fetch it again."
        )


def _unstated(earliest: dt.datetime) -> str:
    return (
        "The file does not say when the forecast was made; taken as "
        f"{earliest:%Y-%m-%d %H:%M}, the morning before its first night."
    )
