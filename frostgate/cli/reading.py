"""The record that a command is asked about, as its options wish it read."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from frostgate.cli.options import season_start
from frostgate.seasons import SeasonStart
from frostgate.terms import DailyMinima
from frostgate.values import dataclass

if TYPE_CHECKING:
    from frostgate.climate.suspects import Suspects
    from frostgate.sources.records.readings import UnitHint


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
