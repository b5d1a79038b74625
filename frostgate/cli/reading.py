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


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordWish:
    """Which record is wanted: the options of `options.record_options`, one field each."""

    file: Path
    unit: UnitHint | None
    station: str | None
    hemisphere: str | None
    keep_suspects: bool
    drop_contradictions: bool

    def read(self) -> Past:
        """Read the record, name its suspects and leave them out unless they are kept."""
        from frostgate.climate.completeness import find_hemisphere
        from frostgate.climate.suspects import find_suspects
        from frostgate.sources.records import read_minima

        minima = read_minima(
            self.file, unit=self.unit, station=self.station, drop_contradictions=self.drop_contradictions
        )
        suspects = find_suspects(minima)
        return Past(
            minima=minima if self.keep_suspects else minima.leave_out(suspects.dates),
            suspects=suspects,
            start=season_start(self.hemisphere) or find_hemisphere(minima),
        )


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
