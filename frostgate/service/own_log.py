"""The grower's own log of forecasts: kept, closed, learned from."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from frostgate.errors import InputError
from frostgate.gate.verdict import Morning
from frostgate.model.gate import Forecast, Policy
from frostgate.model.records import SiteClimate
from frostgate.service.request import UnitHint, read_hinted

if TYPE_CHECKING:
    from frostgate.gate.own_errors import OwnErrors


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnLog:
    """Where the garden's forecasts are kept, and where its own minima stand."""

    path: Path
    observed: Path | None
    unit: UnitHint | None

    @classmethod
    def named(cls, path: Path | None, observed: Path | None, unit: UnitHint | None) -> OwnLog | None:
        """Take what the grower named; None where no log is wanted."""
        if path is not None:
            return cls(path=path, observed=observed, unit=unit)
        if observed is not None:
            remedy = "Name the log with --forecast-log."
            raise InputError("--observed closes the nights of a log, and none is named", remedy=remedy)
        return None

    def update(self, coming: Forecast | None, today: dt.date) -> None:
        """Close the nights that are past, and keep the forecast."""
        from frostgate.sources.forecast_log import close_forecasts, keep_forecast

        if (observed := self.observed) is not None:
            from frostgate.sources.records import read_minima

            minima = read_hinted(lambda unit: read_minima(observed, unit=unit), self.unit)
            close_forecasts(self.path, minima.dates, minima.tmin_c, today)
        if coming is not None:
            keep_forecast(self.path, coming)

    def learn(self, policy: Policy, site: SiteClimate | None, today: dt.date) -> OwnErrors:
        """Let what is closed change the policy's error model."""
        from frostgate.gate.own_errors import learn_site, scatter_on
        from frostgate.sources.forecast_log import read_own_log

        log = read_own_log(self.path)
        spread_c = math.inf if site is None else scatter_on(site.curve, log.mornings)
        return learn_site(policy, log, today, spread_c)


def with_reason(morning: Morning, own: OwnErrors | None) -> Morning:
    """Put what was learned among the morning's reasons."""
    if own is None or morning.forecast is None:
        return morning
    reasons = (*morning.verdict.reasons, own.reason)
    return replace(morning, verdict=replace(morning.verdict, reasons=reasons))


def own_answer(own: OwnErrors | None) -> dict[str, Any] | None:
    """Return what was learned as plain values; None where no log was named."""
    if own is None:
        return None
    return {
        "mornings": own.mornings,
        "far_off": own.far_off,
        "mean_error_c": None if own.mornings == 0 or own.bias_weight == 0.0 else round(own.mean_error_c, 3),
        "bias_weight": round(own.bias_weight, 4),
        "bias_c": round(own.policy.error_bias_c, 3),
        "spread_weight": round(own.spread_weight, 4),
        "spread_factor": round(own.spread_factor, 4),
    }
