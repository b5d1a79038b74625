"""One station's minima row by row, as a file gives them, before they are put in order."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import numpy as np
import numpy.typing as npt

from frostgate.errors import InputError, UnstatedUnitError
from frostgate.terms.arrays import Dates, Floats, Ints
from frostgate.units import celsius
from frostgate.values import dataclass

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

    Examples
    --------
    >>> readings = Readings(path=Path("a.csv"), unit="F", dates=np.array(["2026-04-01"], "datetime64[D]"),
    ...                     degrees=np.array([14.0]), flagged=np.array([False]), lines=np.array([2]))
    >>> float(readings.tmin_c[0])
    -10.0
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
    """Bring minima of any unit to [°C].

    Examples
    --------
    >>> to_celsius(np.array([-22.0]), "tenths-C")
    array([-2.2])
    """
    if unit == "F":
        return celsius(degrees)
    return degrees / 10.0 if unit == "tenths-C" else degrees


def agree_on_unit(stated: UnitHint, told: UnitHint | None, path: Path) -> UnitHint:
    """Return the unit a file states, unless the grower was told to read it otherwise.

    ``C`` agrees with tenths of °C where the form itself states the tenths.

    Raises
    ------
    InputError
        Where the two contradict each other.

    Examples
    --------
    >>> agree_on_unit("tenths-C", "C", Path("a.dly"))
    'tenths-C'
    """
    if told in (None, stated) or (stated, told) == ("tenths-C", "C"):
        return stated
    raise InputError(
        f"the minima are in {UNIT_WORDS[stated]}, as the file itself says, not in {UNIT_WORDS[told]}",
        file=path,
        remedy="Leave --unit out for this file.",
    )


def require_unit(told: UnitHint | None, path: Path) -> UnitHint:
    """Return the unit the grower gave for a file that states none.

    Raises
    ------
    UnstatedUnitError
        Where none was given: a unit is never guessed.

    Examples
    --------
    >>> require_unit("F", Path("a.csv"))
    'F'
    """
    if told is not None:
        return told
    raise UnstatedUnitError(
        "the minima do not say their unit: they could be °F, °C or tenths of °C",
        file=path,
        remedy="Say --unit F or --unit C (--unit tenths-C for whole tenths).",
    )
