"""Rows of any form put in order: flags, units, contradictions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
import numpy.typing as npt

from frostgate.errors import InputError, UnstatedUnitError
from frostgate.model.records import DailyMinima, Station
from frostgate.seasons import Dates, Floats, Ints
from frostgate.units import COLDEST_C, HOTTEST_C, as_stored, celsius

UnitHint = Literal["F", "C", "tenths-C"]
Mask = npt.NDArray[np.bool_]

MISSING_TENTHS = -9999.0  # GHCN-Daily readme, section III: "missing = -9999"
UNIT_WORDS: dict[UnitHint, str] = {"F": "°F", "C": "°C", "tenths-C": "tenths of °C"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Readings:
    """What each row says, in the unit and the order of the file.

    Parameters
    ----------
    path
        The file.
    unit
        Of ``degrees``.
    dates
        The row's day, shape (rows,); a day may stand in several rows.
    degrees
        The minimum as written, shape (rows,); NaN where the file has none.
    flagged
        Whether the value failed a quality check, shape (rows,).
    lines
        Where each row stands, counted from 1 as an editor does, shape (rows,).
    """

    path: Path
    unit: UnitHint
    dates: Dates
    degrees: Floats
    flagged: Mask
    lines: Ints

    @property
    def tmin_c(self) -> Floats:
        """The minima [°C], NaN where missing or flagged, shape (rows,)."""
        return np.where(self.flagged, np.nan, to_celsius(self.degrees, self.unit))

    def say_value(self, row: int) -> str:
        """Write one row's minimum as its file has it, with the unit and the flag."""
        flag = ", flagged" if self.flagged[row] else ""
        return f"{self.degrees[row]:g} {UNIT_WORDS[self.unit]}{flag}"


def to_celsius(degrees: Floats, unit: UnitHint) -> Floats:
    """Bring minima of any unit to [°C]."""
    if unit == "F":
        return celsius(degrees)
    return degrees / 10.0 if unit == "tenths-C" else degrees


def agree_on_unit(stated: UnitHint, told: UnitHint | None, path: Path) -> UnitHint:
    """Return the unit a file states, unless the grower was told to read it otherwise.

    ``C`` agrees with tenths of °C where the form itself states the tenths.
    """
    if told in (None, stated) or (stated, told) == ("tenths-C", "C"):
        return stated
    raise InputError(
        f"the minima are in {UNIT_WORDS[stated]}, as the file itself says, not in {UNIT_WORDS[told]}",
        file=path,
        remedy="Leave --unit out for this file.",
    )


def require_unit(told: UnitHint | None, path: Path) -> UnitHint:
    """Return the unit the grower gave for a file that states none."""
    if told is not None:
        return told
    raise UnstatedUnitError(
        "the minima do not say their unit: they could be °F, °C or tenths of °C",
        file=path,
        remedy="Say --unit F or --unit C (--unit tenths-C for whole tenths).",
    )


FIRST_DAY, LAST_DAY = np.datetime64("1700-01-01"), np.datetime64("2199-12-31")  # beyond: a mistyped year

_CHECK_UNIT: dict[UnitHint, str] = {
    "F": "Is the file in tenths of °C, or the value mistyped?",
    "C": "Is the file in °F or in tenths of °C, or the value mistyped?",
    "tenths-C": "Correct the value, or fetch the file again.",
}


def merge(
    readings: Readings, station: Station, notes: Sequence[str] = (), *, drop_contradictions: bool = False
) -> DailyMinima:
    """Put rows in order, drop flagged values, and merge rows of one day that say the same."""
    tmin_c = readings.tmin_c
    _refuse_absurd(readings, tmin_c)
    days = readings.dates
    done: list[str] = []
    if not (days[1:] > days[:-1]).all():
        days, tmin_c, done = _put_in_order(readings, as_stored(tmin_c), drop_contradictions)
    flagged = np.unique(readings.dates[readings.flagged])
    return DailyMinima(station=station, dates=days, tmin_c=tmin_c, flagged=flagged, notes=(*notes, *done))


def pick_station(found: Sequence[str], wanted: str | None, path: Path) -> str:
    """Choose the station to read: the one that is wanted, or the only one there is."""
    if wanted is not None and wanted not in found:
        raise InputError(
            "no such station in this file",
            file=path,
            value=wanted,
            remedy=f"It holds {_list_some(found)}: leave --station out, or pick another.",
        )
    if wanted is None and len(found) > 1:
        raise InputError(
            f"holds {len(found)} stations: {_list_some(found)}",
            file=path,
            remedy="Pick one with --station ID.",
        )
    return wanted or found[0]


def name_by_file(path: Path, wanted: str | None) -> tuple[Station, str]:
    """Name a station after its file, where the file itself names none; return it, and a note that says so."""
    stem = Path(path.name.removesuffix(".gz")).stem
    station_id = pick_station([stem], wanted, path)
    return Station(id=station_id), f"the file names no station, so it is called {station_id} after the file"


def no_minimum(path: Path) -> InputError:
    """Make the error for a record whose every day is missing or flagged."""
    return InputError(
        "holds not one minimum: all are missing or flagged",
        file=path,
        remedy="Take another station or a longer record.",
    )


def count(number: int, noun: str) -> str:
    """Write a number with its noun."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _refuse_absurd(readings: Readings, tmin_c: Floats) -> None:
    days = readings.dates
    if days.min() < FIRST_DAY or days.max() > LAST_DAY:
        row = int(np.argmax((days < FIRST_DAY) | (days > LAST_DAY)))
        raise _fault_at(row, readings, "no station measured on such a day", days[row], "Correct the year.")
    coldest, hottest = np.fmin.reduce(tmin_c), np.fmax.reduce(tmin_c)
    if coldest < COLDEST_C or hottest > HOTTEST_C:
        row = int(np.argmax((tmin_c < COLDEST_C) | (tmin_c > HOTTEST_C)))
        remedy = _remedy_of_absurd(float(readings.degrees[row]), readings.unit)
        raise _fault_at(
            row, readings, "no place on earth has such a minimum", readings.say_value(row), remedy
        )
    if np.isnan(coldest):
        raise no_minimum(readings.path)


def _fault_at(row: int, readings: Readings, what: str, value: object, remedy: str) -> InputError:
    return InputError(what, file=readings.path, line=int(readings.lines[row]), value=value, remedy=remedy)


def _remedy_of_absurd(degrees: float, unit: UnitHint) -> str:
    if unit != "tenths-C" and f"{degrees:g}".strip("-9.") == "":
        return "If it stands for a missing day, leave it empty or write NA."
    return _CHECK_UNIT[unit]


def _put_in_order(readings: Readings, tmin_c: Floats, drop: bool) -> tuple[Dates, Floats, list[str]]:
    """Sort the rows and merge those of one day; say what was done."""
    order = np.argsort(readings.dates, kind="stable")
    days = readings.dates[order]
    first = np.flatnonzero(np.append(True, days[1:] != days[:-1]))
    minima, dropped = _merge_days(readings, tmin_c, order, first, drop)
    displaced = _count_displaced(readings)
    repeated = int(np.count_nonzero(np.diff(np.append(first, order.size)) > 1))
    done = [f"{count(displaced, 'row')} stood out of order"] if displaced else []
    if repeated > dropped:
        done.append(f"{count(repeated - dropped, 'day')} stood more than once, without contradiction")
    if dropped:
        done.append(f"{count(dropped, 'day')} left out for contradicting minima")
    return days[first], minima, done


def _count_displaced(readings: Readings) -> int:
    """Count the rows that stand below a row of a later day."""
    days = readings.dates.astype(np.int64)
    behind = days[1:] < np.maximum.accumulate(days)[:-1]
    return int(np.unique(readings.lines[1:][behind]).size)


def _merge_days(
    readings: Readings, tmin_c: Floats, order: Ints, first: Ints, drop: bool
) -> tuple[Floats, int]:
    """Take the one minimum of each day, from as many rows as it has; count the days dropped."""
    values, flagged = tmin_c[order], readings.flagged[order]
    highest, lowest = np.fmax.reduceat(values, first), np.fmin.reduceat(values, first)
    contradict = (highest > lowest) | (np.logical_or.reduceat(flagged, first) & np.isfinite(highest))
    if contradict.any() and not drop:
        day = int(np.argmax(contradict))
        last = int(np.append(first, order.size)[day + 1])
        raise _contradiction(readings, tmin_c, order[first[day] : last])
    return np.where(contradict, np.nan, highest), int(contradict.sum())


def _contradiction(readings: Readings, tmin_c: Floats, rows: Ints) -> InputError:
    """Name two of the rows that contradict each other: a flagged value contradicts one that passed."""
    said = np.where(readings.flagged, np.inf, tmin_c)
    telling = rows[~np.isnan(said[rows])]
    one = telling[0]
    other = telling[np.argmax(said[telling] != said[one])]
    one_line, other_line = int(readings.lines[one]), int(readings.lines[other])
    return InputError(
        f"{readings.dates[one]} has two minima that contradict each other: "
        f"{readings.say_value(one)} on line {one_line} and {readings.say_value(other)} on line {other_line}",
        file=readings.path,
        line=other_line,
        remedy="Remove the wrong line, or say --drop-contradictions to leave such days out.",
    )


def _list_some(found: Sequence[str], most: int = 5) -> str:
    shown, rest = ", ".join(found[:most]), len(found) - most
    return f"{shown} and {rest} more" if rest > 0 else shown
