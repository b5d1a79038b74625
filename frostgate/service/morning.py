"""The morning's question put to the gate: is it safe to feed, by a place's record and forecast."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from frostgate.errors import InputError, TooFewSeasonsError
from frostgate.files import kept_or_made, key_of, read_bytes
from frostgate.gate.verdict import Morning, ask
from frostgate.model.gate import Forecast
from frostgate.model.records import BasisScore, FrostCurve, SiteClimate, Station, Trend, Weather, YearsChoice
from frostgate.seasons import SeasonStart
from frostgate.service.own_log import ReadLog, learn_from, with_reason
from frostgate.service.request import Request, local_time, read_hinted
from frostgate.sources.forecasts import read_forecast

if TYPE_CHECKING:
    from frostgate.gate.own_errors import OwnErrors

ANOTHER_TIME = dt.timedelta(days=14)
FORM = 7  # of a kept climate; raise it when one would come out differently
_KEPT = (SiteClimate, Station, FrostCurve, SeasonStart, YearsChoice, BasisScore, Trend, Weather)


def ask_site(
    request: Request, now: dt.datetime, cache: Path, *, autumn: bool = False, log: ReadLog | None = None
) -> tuple[Morning, OwnErrors | None]:
    """Return the gate's answer, and what the log has taught of how forecasts err in this garden."""
    coming = _read_coming(request)
    local = local_time(now, request.time_zone or (coming.time_zone if coming else None), request.on)
    weighed = None if request.climate_only else coming
    climate, problem = None, None
    try:
        climate = know_climate(request, cache, autumn=autumn)
    except TooFewSeasonsError as error:
        problem = str(error)[:1].upper() + str(error)[1:]
    if weighed is not None:
        _refuse_another_time(weighed, local.date())
    kept = None if log is None else log(weighed, local.date())
    own = None if kept is None else learn_from(kept, request.policy, climate, local.date())
    morning = ask(
        climate,
        weighed,
        request.policy if own is None else own.policy,
        local,
        climate_only=request.climate_only,
        problem=problem,
    )
    return morning, own


def _read_coming(request: Request) -> Forecast | None:
    path = request.forecast
    if path is None:
        return None
    return read_hinted(lambda unit: read_forecast(path, unit=unit, time_zone=request.time_zone), request.unit)


def _refuse_another_time(coming: Forecast, today: dt.date) -> None:
    """Refuse a forecast for quite another time of the year: it is the wrong file, not a stale one."""
    first: dt.date = coming.dates[0].astype(object)
    if first - ANOTHER_TIME > today or coming.through + ANOTHER_TIME < today:
        raise InputError(
            f"a forecast for another time than {today}",
            file=coming.source,
            value=f"{first} to {coming.through}",
            remedy="Give the forecast of the coming nights, or check --on.",
        )


def know_climate(request: Request, cache: Path, *, autumn: bool = False) -> SiteClimate:
    """Take the climate of the request's record from what is kept, or fit it and keep it."""
    if request.record is None:
        raise InputError(
            "no station's record is named",
            remedy="Name one with --record, or in a garden file (frostgate init writes one).",
        )
    record = request.record
    content = read_bytes(record)
    settings: dict[str, Any] = {
        "threshold_c": request.policy.station_threshold_c,
        "threshold_sd_c": request.policy.offset_sd_c,
        "kind": request.kind,
        "completeness": request.completeness,
        "keep_suspects": request.keep_suspects,
        "years": request.basis,
        "autumn": autumn,
    }

    def fit() -> SiteClimate:
        from frostgate.climate.site import know_site

        minima = request.parse_hinted(content, record)
        return know_site(minima, start=request.season_start(minima), **settings)

    read = ("unit", "station", "hemisphere", "drop_contradictions")
    reading = {name: getattr(request, name) for name in read}
    return kept_site(cache, content, fit, name=record.name, **reading, **settings)


def kept_site(
    folder: Path, content: bytes, make: Callable[[], SiteClimate], **settings: object
) -> SiteClimate:
    """Return the climate that a record and the settings make, as an earlier morning kept it or made and kept.

    ``content`` is the record's; nothing that shapes the climate may be missing from ``settings``.
    """
    return kept_or_made(folder, key_of(content, form=FORM, **settings), make, _KEPT)


def ask_files(
    request: Request, now: dt.datetime, cache: Path, log: ReadLog | None = None
) -> tuple[Morning, OwnErrors | None]:
    """Return the answer by the files that are named, and what the own log tells once it is up to date."""
    morning, own = ask_site(request, now, cache, log=log)
    return with_reason(morning, own), own
