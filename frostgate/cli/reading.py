"""Read what the grower named, with the unit as a hint."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from frostgate.cli.options import season_start
from frostgate.errors import UnstatedUnitError
from frostgate.seasons import SeasonStart
from frostgate.terms import DailyMinima

if TYPE_CHECKING:
    from frostgate.climate.suspects import Suspects
    from frostgate.sources.records.readings import UnitHint

Read = TypeVar("Read")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Past:
    """A station's record as a command uses it: suspects named and, unless kept, left out."""

    minima: DailyMinima
    suspects: Suspects
    start: SeasonStart


def read_hinted(read: Callable[[Any], Read], unit: str | None) -> Read:
    """Read a file by its own word, and by the stated unit only where it has none.

    Examples
    --------
    >>> read_hinted(lambda unit: unit, "F") is None
    True
    """
    try:
        return read(None)
    except UnstatedUnitError:
        if unit is None:
            raise
        return read(unit)


def read_record(
    file: Path,
    unit: UnitHint | None,
    station: str | None,
    hemisphere: str | None,
    *,
    keep_suspects: bool,
    drop_contradictions: bool,
) -> Past:
    """Read a station file for a command that looks at the record itself."""
    from frostgate.climate.completeness import find_hemisphere
    from frostgate.climate.suspects import find_suspects
    from frostgate.sources.records import read_minima

    minima = read_minima(file, unit=unit, station=station, drop_contradictions=drop_contradictions)
    suspects = find_suspects(minima)
    return Past(
        minima=minima if keep_suspects else minima.leave_out(suspects.dates),
        suspects=suspects,
        start=season_start(hemisphere) or find_hemisphere(minima),
    )
