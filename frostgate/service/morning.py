"""The morning's question put to the gate, and what a log of past forecasts has taught it."""

from __future__ import annotations

import datetime as dt
import functools
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

from frostgate.errors import InputError, TooFewSeasonsError, about
from frostgate.files import kept_or_made, key_of
from frostgate.gate.outlook import refuse_another_time
from frostgate.gate.verdict import Morning, ask
from frostgate.model.curves import BasisScore, FrostCurve, SiteClimate, Trend, Weather, YearsChoice
from frostgate.model.gate import Forecast, ForecastLog, Reason
from frostgate.model.records import DailyMinima, Station
from frostgate.seasons import SeasonStart
from frostgate.service.request import Request, local_time, read_hinted
from frostgate.sources.forecasts import read_forecast

if TYPE_CHECKING:
    from frostgate.gate.own_errors import OwnErrors

FORM = 10  # of a kept climate; raise it when one would come out differently
_KEPT = (SiteClimate, Reason, Station, FrostCurve, SeasonStart, YearsChoice, BasisScore, Trend, Weather)

# A log of forecasts here, brought up to date with the coming one as of today; None where it has no night.
ReadLog: TypeAlias = "Callable[[Forecast | None, dt.date], ForecastLog | None]"


def ask_site(
    request: Request,
    now: dt.datetime,
    cache: Path,
    *,
    autumn: bool = False,
    log: ReadLog | None = None,
    log_file: Path | None = None,
) -> tuple[Morning, OwnErrors | None]:
    """Return the gate's answer, and what the log has taught of how forecasts err in this garden."""
    coming = None
    if request.forecast is not None:
        read = functools.partial(read_forecast, request.forecast, time_zone=request.time_zone)
        coming = read_hinted(read, request.forecast_unit)
    zone = request.time_zone or (coming.time_zone if coming else None)
    local = local_time(now, zone, request.on)
    weighed = None if request.climate_only else coming
    climate, problem = None, None
    try:
        climate = know_climate(request, *request.read_record(), cache, autumn=autumn)
    except TooFewSeasonsError as error:
        problem = str(error)[:1].upper() + str(error)[1:]
    if weighed is not None:
        refuse_another_time(weighed, local.date())
    kept = None if log is None else log(weighed, local.date())
    own = None
    if kept is not None:
        from frostgate.gate.own_errors import learn_site, scatter_on

        scatter_c = math.inf if climate is None else scatter_on(climate.curve, kept.mornings)
        with about(log_file):
            own = learn_site(request.policy, kept, local.date(), scatter_c)
    morning = ask(
        climate,
        weighed,
        request.policy if own is None else own.policy,
        local,
        climate_only=request.climate_only,
        problem=problem,
        zone_taken=now.tzname() if zone is None and request.on is None and weighed is not None else None,
    )
    return morning, own


def know_climate(
    request: Request,
    content: bytes,
    file: Path,
    cache: Path,
    *,
    autumn: bool = False,
    bounds: bool = True,
    minima: DailyMinima | None = None,
) -> SiteClimate:
    """Take the climate of a record, its minima read already or not, from what is kept, or fit and keep it."""
    settings: dict[str, Any] = {
        "threshold_c": request.policy.station_threshold_c,
        "threshold_sd_c": request.policy.offset_sd_c,
        "kind": request.kind,
        "completeness": request.completeness,
        "keep_suspects": request.keep_suspects,
        "years": request.basis,
        "autumn": autumn,
        "bounds": bounds,
    }

    def fit() -> SiteClimate:
        from frostgate.climate.site import know_site

        record = request.parse(content, file) if minima is None else minima
        return know_site(record, start=request.season_start(record, file), **settings)

    read = ("unit", "station", "hemisphere", "drop_contradictions")
    reading = {name: getattr(request, name) for name in read}
    return kept_site(cache, content, fit, name=file.name, **reading, **settings)


def kept_site(
    folder: Path, content: bytes, make: Callable[[], SiteClimate], **settings: object
) -> SiteClimate:
    """Return the climate that a record and the settings make, as an earlier morning kept it or made and kept.

    ``content`` is the record's; nothing that shapes the climate may be missing from ``settings``.
    """
    return kept_or_made(folder, key_of(content, form=FORM, **settings), make, _KEPT)


def ask_files(
    request: Request, now: dt.datetime, cache: Path, log: Path | None = None, observed: Path | None = None
) -> tuple[Morning, OwnErrors | None]:
    """Return the answer by the files that are named, and what the own log tells once it is up to date."""
    if observed is not None and log is None:
        remedy = "Name the log with --forecast-log."
        raise InputError("--observed closes the nights of a log, and none is named", remedy=remedy)
    read = None if log is None else functools.partial(_up_to_date, log, observed)
    morning, own = ask_site(request, now, cache, log=read, log_file=log)
    return with_reason(morning, own), own


def _up_to_date(path: Path, observed: Path | None, coming: Forecast | None, today: dt.date) -> ForecastLog:
    """Close the nights that are past, keep the forecast, and read the log."""
    from frostgate.sources.forecast_log import close_forecasts, keep_forecast, read_own_log

    if observed is not None:
        from frostgate.sources.records import read_minima

        minima = read_minima(observed)
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
    from frostgate.garden.store import RESCUE

    with Journal.open(path, to_read=True) as journal:
        if journal.damaged:  # any of which may be a forecast
            raise InputError("the journal is damaged", file=path, remedy=RESCUE)
        log = forecast_log(journal.entries(kinds=("forecast", "minimum")))
    if log is None:
        raise InputError(
            "no forecast in the journal", file=path, remedy="`frostgate today` keeps one a morning."
        )
    return log


def with_reason(morning: Morning, own: OwnErrors | None) -> Morning:
    """Put what was learned among the morning's reasons."""
    if own is None or morning.forecast is None:
        return morning
    reasons = (*morning.verdict.reasons, own.reason)
    return replace(morning, verdict=replace(morning.verdict, reasons=reasons))
