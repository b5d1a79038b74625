"""What is asked of a mix: the options of `frostgate mix`."""

from __future__ import annotations

from pathlib import Path

from frostgate.cli.mix_values import Measured
from frostgate.quantities import Units
from frostgate.terms.garden import Stage
from frostgate.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """The options of the command, one field each."""

    garden: Path | None
    group: str | None
    phase: str | None
    products: tuple[str, ...]
    strength: float | None
    n_ppm: float | None
    pots: int | None
    per_pot: Measured | None
    bucket: Measured | None
    scoops: tuple[Measured, ...]
    stage: Stage | None
    height: Measured | None
    dry: bool
    measured: tuple[str, ...]
    injector: float | None
    stock: Measured | None
    ec_limit: float | None
    water_ec: float | None
    units: Units | None
    form: str
