"""Is it safe to feed yet? A frost-risk gate for the first feeding of the season.

A station's minima give its frost dates, the frost dates give a curve, the curve and a forecast give an
outlook, and the outlook opens or shuts the gate.

>>> import frostgate as fg
>>> site = fg.site(fg.read_minima("data_samples/oskelmere.dly"), damage="32F", offset="-2F")
>>> answer = fg.ask(site, fg.read_forecast("data_samples/forecast_frost.json"), now="2026-04-22 06:00")
>>> answer.verdict.state, answer.verdict.earliest_date
('shut', datetime.date(2026, 5, 13))

The public names are those of `frostgate.api`, which is loaded when the first of them is used: the command
line starts without it.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from frostgate.api import *  # noqa: F403, and so it is for type checkers and editors

__version__ = "0.1.0"


if not TYPE_CHECKING:  # a type checker would take any name for an attribute

    def __getattr__(name: str) -> object:
        api = importlib.import_module("frostgate.api")
        if name != "__all__" and name not in api.__all__:
            raise AttributeError(f"module 'frostgate' has no attribute {name!r}")
        found = globals()[name] = getattr(api, name)
        return found


def __dir__() -> list[str]:
    return sorted({*globals(), *importlib.import_module("frostgate.api").__all__})
