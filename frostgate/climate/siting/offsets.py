"""The difference between a garden and its station, with what is not known of it."""

from __future__ import annotations

import datetime as dt
import math

from frostgate.errors import InputError
from frostgate.values import dataclass

LARGEST_C = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class GardenOffset:
    """Garden minimum less station minimum on the nights that matter for frost.

    Parameters
    ----------
    offset_c
        The difference [°C]; negative where the garden is colder.
    sure_c
        Standard error of that difference: it stays the same from night to night [°C].
    scatter_c
        How far single nights scatter about it [°C].
    pairs
        Mornings it was learned from, without those left out.
    clear_pairs
        Those of them marked clear and calm; None where nights are not marked.
    left_out
        Mornings left out as outliers, rising.
    default_share
        Weight of the default in the difference: 1 without pairs, falling towards 0 with their number.
    basis
        What it rests on, in words.
    sources
        Where its methods and numbers come from.
    notes
        What the grower should know of it.

    Raises
    ------
    InputError
        Where a number cannot be meant.

    Examples
    --------
    >>> GardenOffset(offset_c=-2.0, sure_c=0.6, scatter_c=0.8).sd_c
    1.0
    """

    offset_c: float
    sure_c: float
    scatter_c: float
    pairs: int = 0
    clear_pairs: int | None = None
    left_out: tuple[dt.date, ...] = ()
    default_share: float = 1.0
    basis: str = "stated"
    sources: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not abs(self.offset_c) <= LARGEST_C:
            raise InputError(
                "a garden does not differ that much from its station", value=f"{self.offset_c:g}"
            )
        for name in ("sure_c", "scatter_c"):
            if not 0.0 <= getattr(self, name) < math.inf:
                raise InputError("a spread is a finite number, not below 0", value=getattr(self, name))

    @property
    def sd_c(self) -> float:
        """Standard deviation of a single frost night's difference about ``offset_c`` [°C]."""
        return math.hypot(self.sure_c, self.scatter_c)
