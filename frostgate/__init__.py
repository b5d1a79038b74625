"""Is it safe to feed yet? A frost-risk gate for the first feeding of the season.

A station's minima give its frost dates, the frost dates give a curve, the curve and a forecast give an
outlook, and the outlook opens or shuts the gate.

>>> import frostgate as fg
>>> site = fg.site(fg.read_minima("data_samples/oskelmere.dly"), damage="32F", offset="-2F")
>>> answer = fg.ask(site, fg.read_forecast("data_samples/forecast_frost.json"), now="2026-04-22 06:00")
>>> answer.verdict.state, answer.verdict.earliest_date
('shut', datetime.date(2026, 5, 13))

What is listed in ``__all__`` is the public API; it is loaded when first used.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from frostgate.api import (
        ask,
        first_frosts,
        fit_curve,
        last_frosts,
        levels,
        minima,
        mix,
        plan,
        policy,
        replay,
        score_fits,
        site,
    )
    from frostgate.climate.quality import find_suspects
    from frostgate.errors import FrostgateError, InputError, TooFewSeasonsError, UnsafeMixError
    from frostgate.garden.file import read_garden
    from frostgate.garden.journal import Journal
    from frostgate.gate.verdict import Morning
    from frostgate.model.curves import FrostCurve, SiteClimate
    from frostgate.model.feedings import Feeding, Mix, Programme
    from frostgate.model.garden import Entry, Garden, PotGroup
    from frostgate.model.gate import Forecast, ForecastLog, Outlook, Policy, Verdict
    from frostgate.model.products import Analysis, Product
    from frostgate.model.records import DailyMinima, FrostDates, Station
    from frostgate.proof.replay import Replay
    from frostgate.show.charts.curves import draw_curves, draw_frost_dates, draw_year
    from frostgate.show.charts.risks import draw_outlook
    from frostgate.show.reasons import say_reasons
    from frostgate.sources.forecast_log import close_forecasts, keep_forecast, read_log
    from frostgate.sources.forecasts import read_forecast
    from frostgate.sources.records import read_minima
    from frostgate.units import celsius, fahrenheit

__version__ = "0.1.0"

_HOMES = {
    "api": "ask first_frosts fit_curve last_frosts levels minima mix plan policy replay score_fits site",
    "climate.quality": "find_suspects",
    "errors": "FrostgateError InputError TooFewSeasonsError UnsafeMixError",
    "garden.file": "read_garden",
    "garden.journal": "Journal",
    "gate.verdict": "Morning",
    "model.curves": "FrostCurve SiteClimate",
    "model.feedings": "Feeding Mix Programme",
    "model.garden": "Entry Garden PotGroup",
    "model.gate": "Forecast ForecastLog Outlook Policy Verdict",
    "model.products": "Analysis Product",
    "model.records": "DailyMinima FrostDates Station",
    "proof.replay": "Replay",
    "show.charts.curves": "draw_curves draw_frost_dates draw_year",
    "show.charts.risks": "draw_outlook",
    "show.reasons": "say_reasons",
    "sources.forecast_log": "close_forecasts keep_forecast read_log",
    "sources.forecasts": "read_forecast",
    "sources.records": "read_minima",
    "units": "celsius fahrenheit",
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names.split()}

# once more, as a plain list, for type checkers and editors
__all__ = [
    "Analysis", "DailyMinima", "Entry", "Feeding", "Forecast", "ForecastLog", "FrostCurve", "FrostDates",
    "FrostgateError", "Garden", "InputError", "Journal", "Mix", "Morning", "Outlook", "Policy",
    "PotGroup", "Product", "Programme", "Replay", "SiteClimate", "Station", "TooFewSeasonsError",
    "UnsafeMixError", "Verdict", "ask", "celsius", "close_forecasts", "draw_curves", "draw_frost_dates",
    "draw_outlook", "draw_year", "fahrenheit", "find_suspects", "first_frosts", "fit_curve",
    "keep_forecast", "last_frosts", "levels", "minima", "mix", "plan", "policy", "read_forecast",
    "read_garden", "read_log", "read_minima", "replay", "say_reasons", "score_fits", "site",
]  # fmt: skip


if not TYPE_CHECKING:  # a type checker would take any name for an attribute

    def __getattr__(name: str) -> object:
        if name not in _HOME_OF:
            raise AttributeError(f"module 'frostgate' has no attribute {name!r}")
        found = globals()[name] = getattr(importlib.import_module(f"frostgate.{_HOME_OF[name]}"), name)
        return found


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOME_OF})
