"""What is asked of a morning, and how its answer leaves: by word, colour and exit status."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import click

from frostgate.cli.question import Stated
from frostgate.terms import Completeness, YearsWish
from frostgate.values import dataclass

STATUS = {"open": 0, "shut": 1, "unknown": 3}
COLOUR = {"open": "green", "shut": "red", "unknown": "yellow"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish(Stated):
    """The options of `frostgate today`, one field each, beside those that a garden can state."""

    garden: Path | None
    on: dt.date | None
    climate_only: bool
    forecast_log: Path | None
    observed: Path | None
    full: bool
    kind: str
    basis: YearsWish
    completeness: Completeness
    keep_suspects: bool
    drop_contradictions: bool
    form: str

    def asked(self) -> dict[str, Any]:
        """Give what only the command states, by the fields of `Question`."""
        names = "on climate_only kind basis completeness keep_suspects drop_contradictions"
        return {name: getattr(self, name) for name in names.split()}


def coloured(headline: str, state: str) -> str:
    """Colour the first word of a headline by the verdict.

    Examples
    --------
    >>> click.unstyle(coloured("OPEN  Sat 16 May", "open"))
    'OPEN  Sat 16 May'
    """
    word, rest = headline.split(" ", 1)
    return f"{click.style(word, fg=COLOUR[state], bold=True)} {rest}"
