"""The grower's own log of forecasts: kept, closed, learned from."""

from __future__ import annotations

import datetime as dt
import functools
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

from frostgate.errors import InputError
from frostgate.gate.verdict import Morning
from frostgate.model.gate import Forecast, ForecastLog, Policy
from frostgate.model.records import SiteClimate
from frostgate.service.request import UnitHint, read_hinted

if TYPE_CHECKING:
    from frostgate.gate.own_errors import OwnErrors


# A log of forecasts here, brought up to date with the coming one as of today; None where it has no night.
ReadLog: TypeAlias = "Callable[[Forecast | None, dt.date], ForecastLog | None]"


def named_log(path: Path | None, observed: Path | None, unit: UnitHint | None) -> ReadLog | None:
    """Take the log and the minima that the grower named; None where no log is wanted."""
    if path is not None:
        return functools.partial(_up_to_date, path, observed, unit)
    if observed is not None:
        remedy = "Name the log with --forecast-log."
        raise InputError("--observed closes the nights of a log, and none is named", remedy=remedy)
    return None


def _up_to_date(
    path: Path, observed: Path | None, unit: UnitHint | None, coming: Forecast | None, today: dt.date
) -> ForecastLog:
    """Close the nights that are past, keep the forecast, and read the log."""
    from frostgate.sources.forecast_log import close_forecasts, keep_forecast, read_own_log

    if observed is not None:
        from frostgate.sources.records import read_minima

        minima = read_hinted(lambda unit: read_minima(observed, unit=unit), unit)
        close_forecasts(path, minima.dates, minima.tmin_c, today)
    if coming is not None:
        keep_forecast(path, coming)
    return read_own_log(path)


def read_any_log(path: Path) -> ForecastLog:
    """Read a log of forecasts, or those in the journal of a garden."""
    if path.suffix != ".sqlite" or not path.exists():
        from frostgate.sources.forecast_log import read_log

        return read_log(path)
    from frostgate.garden.entries import forecast_log
    from frostgate.garden.journal import Journal

    with Journal.open(path) as journal:
        log = forecast_log(journal.entries(kinds=("forecast", "minimum")))
    if log is None:
        raise InputError(
            "no forecast in the journal", file=path, remedy="`frostgate today` keeps one a morning."
        )
    return log


def learn_from(log: ForecastLog, policy: Policy, climate: SiteClimate | None, today: dt.date) -> OwnErrors:
    """Let the closed nights of a log change the policy's error model."""
    from frostgate.gate.own_errors import learn_site, scatter_on

    scatter_c = math.inf if climate is None else scatter_on(climate.curve, log.mornings)
    return learn_site(policy, log, today, scatter_c)


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
