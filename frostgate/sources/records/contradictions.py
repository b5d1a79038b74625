"""Rows of any form put in order, and what becomes of days that stand twice or contradict themselves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
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
FIRST_DAY, LAST_DAY = np.datetime64("1700-01-01"), np.datetime64("2199-12-31")  # beyond: a mistyped year
UNIT_WORDS: dict[UnitHint, str] = {"F": "°F", "C": "°C", "tenths-C": "tenths of °C"}
_LEAVE_EMPTY = "If it stands for a missing day, leave it empty or write NA."
_CHECK_UNIT: dict[UnitHint, str] = {
    "F": f"Is the file in tenths of °C, or the value mistyped? {_LEAVE_EMPTY}",
    "C": f"Is the file in °F or in tenths of °C, or the value mistyped? {_LEAVE_EMPTY}",
    "tenths-C": "Correct the value, or fetch the file again.",
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Readings:
    """What each row says, in the unit and the order of the file; the arrays have shape (rows,)."""

    path: Path
    station: Station
    unit: UnitHint
    dates: Dates  # a day may stand in several rows
    degrees: Floats  # the minimum as written, NaN where there is none
    flagged: Mask  # whether the value failed a quality check
    lines: Ints  # where each row stands, from 1
    notes: Sequence[str] = ()
    above_maxima: float = 0.0  # share of days whose maximum, in the same file, lies below the minimum

    def say_value(self, row: int) -> str:
        """Write one row's minimum as its file has it, with the unit and the flag."""
        flag = ", flagged" if self.flagged[row] else ""
        return f"{self.degrees[row]:g} {UNIT_WORDS[self.unit]}{flag}"

    def fault(self, row: int, what: str, value: object, remedy: str) -> InputError:
        """Return the error that names one row, to be raised."""
        return InputError(what, file=self.path, line=int(self.lines[row]), value=value, remedy=remedy)


def agree_on_unit(stated: UnitHint | None, told: UnitHint | None, path: Path) -> UnitHint:
    """Return the unit that a file states, or the grower tells where it states none; it is never guessed.

    ``C`` agrees with tenths of °C where the form itself states the tenths.
    """
    if stated is None and told is None:
        raise UnstatedUnitError(
            "the minima do not say their unit: they could be °F, °C or tenths of °C",
            file=path,
            remedy="Say --unit F or --unit C (--unit tenths-C for whole tenths).",
        )
    if stated is not None and told not in (None, stated) and (stated, told) != ("tenths-C", "C"):
        raise InputError(
            f"the minima are in {UNIT_WORDS[stated]}, as the file itself says, not in {UNIT_WORDS[told]}",
            file=path,
            remedy="Leave --unit out for this file.",
        )
    return stated or told or "C"


def pick_station(found: Sequence[str], wanted: str | None, path: Path) -> str:
    """Choose the station to read: the one that is wanted, or the only one there is."""
    shown = ", ".join(found[:5]) + (f" and {len(found) - 5} more" if len(found) > 5 else "")
    if wanted is not None and wanted not in found:
        remedy = f"It holds {shown}: leave --station out, or pick another."
        raise InputError("no such station in this file", file=path, value=wanted, remedy=remedy)
    if wanted is None and len(found) > 1:
        remedy = "Pick one with --station ID."
        raise InputError(f"holds {len(found)} stations: {shown}", file=path, remedy=remedy)
    return wanted or found[0]


def merge(readings: Readings, *, drop_contradictions: bool = False) -> DailyMinima:
    """Put rows in order, drop flagged values, and merge rows of one day that say the same."""
    degrees = readings.degrees
    if readings.unit == "tenths-C":
        missing = np.isnan(degrees) | (degrees == MISSING_TENTHS)  # which no flag can mark
        degrees = np.where(missing, np.nan, degrees)
        readings = replace(readings, degrees=degrees, flagged=readings.flagged & ~missing)
    tmin_c = (
        celsius(degrees) if readings.unit == "F" else degrees / (10 if readings.unit == "tenths-C" else 1)
    )
    tmin_c = np.where(readings.flagged, np.nan, tmin_c)
    _refuse_what_cannot_be(readings, tmin_c)
    days, notes = readings.dates, [*readings.notes]
    if not (days[1:] > days[:-1]).all():
        days, tmin_c, done = _put_in_order(readings, as_stored(tmin_c), drop_contradictions)
        notes += done
    flagged = np.unique(readings.dates[readings.flagged])
    return DailyMinima(
        station=readings.station,
        dates=days,
        tmin_c=tmin_c,
        flagged=flagged,
        notes=tuple(notes),
        above_maxima=readings.above_maxima,
    )


def _refuse_what_cannot_be(readings: Readings, tmin_c: Floats) -> None:
    """Refuse the first row of a value that no record can have, and a record without any value."""
    degrees, days = readings.degrees, readings.dates
    broken = np.isfinite(degrees) & (degrees != np.round(degrees)) & (readings.unit == "tenths-C")
    beyond = (days < FIRST_DAY) | (days > LAST_DAY)
    absurd = (tmin_c < COLDEST_C) | (tmin_c > HOTTEST_C)
    for wrong, what, shown, remedy in (
        (broken, "not a whole number of tenths of °C", "{0:g}", "Check the unit of the file."),
        (beyond, "no station measured on such a day", "{1}", "Correct the year."),
        (absurd, "no place on earth has such a minimum", "{2}", _CHECK_UNIT[readings.unit]),
    ):
        if wrong.any():
            row = int(np.argmax(wrong))
            value = shown.format(degrees[row], days[row], readings.say_value(row))
            raise readings.fault(row, what, value, remedy)
    if np.isnan(tmin_c).all():
        remedy = "Take another station or a longer record."
        what = "holds not one minimum: all are missing or flagged"
        raise InputError(what, file=readings.path, remedy=remedy)


def _put_in_order(readings: Readings, tmin_c: Floats, drop: bool) -> tuple[Dates, Floats, list[str]]:
    """Sort the rows and take the one minimum of each day, from as many rows as it has; say what was done."""
    order = np.argsort(readings.dates, kind="stable")
    days, values, flagged = readings.dates[order], tmin_c[order], readings.flagged[order]
    first = np.flatnonzero(np.append(True, days[1:] != days[:-1]))
    rows = np.diff(np.append(first, order.size))
    highest, lowest = np.fmax.reduceat(values, first), np.fmin.reduceat(values, first)
    contradict = (highest > lowest) | (np.logical_or.reduceat(flagged, first) & np.isfinite(highest))
    if contradict.any() and not drop:
        day = int(np.argmax(contradict))
        raise _contradiction(readings, tmin_c, order[first[day] : first[day] + rows[day]])
    dropped = int(contradict.sum())
    done = {
        " stood out of order": (_count_displaced(readings), "row"),
        " stood more than once, without contradiction": (int((rows > 1).sum()) - dropped, "day"),
        " left out for contradicting minima": (dropped, "day"),
    }
    notes = [f"{n} {noun}{'s' if n > 1 else ''}{said}" for said, (n, noun) in done.items() if n > 0]
    return days[first], np.where(contradict, np.nan, highest), notes


def _count_displaced(readings: Readings) -> int:
    """Count the rows that stand below a row of a later day."""
    days = readings.dates.astype(np.int64)
    behind = days[1:] < np.maximum.accumulate(days)[:-1]
    return int(np.unique(readings.lines[1:][behind]).size)


def _contradiction(readings: Readings, tmin_c: Floats, rows: Ints) -> InputError:
    """Name two of the rows that contradict each other: a flagged value contradicts one that passed."""
    said = np.where(readings.flagged, np.inf, tmin_c)
    telling = rows[~np.isnan(said[rows])]
    one = telling[0]
    other = telling[np.argmax(said[telling] != said[one])]
    what = (
        f"{readings.dates[one]} has two minima that contradict each other: {readings.say_value(one)} on line "
        f"{readings.lines[one]} and {readings.say_value(other)} on line {readings.lines[other]}"
    )
    remedy = "Remove the wrong line, or say --drop-contradictions to leave such days out."
    return readings.fault(other, what, None, remedy)
