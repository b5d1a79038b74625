"""A site's record and forecast renewed from the network where they are too old."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from frostgate.errors import FrostgateError

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

    from frostgate.model.garden import Network, Site


def freshen(site: Site, network: Network, folder: Path, *, now: dt.datetime) -> tuple[Site, tuple[str, ...]]:
    """Return a site whose record and forecast are files, and what an old copy had to serve for.

    A file that the grower names is never replaced. What is fetched serves until it is older than the settings
    allow; then it is fetched anew, and where nothing newer comes the kept copy serves, its age told. A
    forecast that cannot be had at all leaves the morning without one, which is unknown and never open.
    """
    notes: list[str] = []
    if site.record is None and site.station is not None:
        from frostgate.sources.fetched import fetch_record

        record = fetch_record(site.station, network, folder, now=now)
        site = replace(site, record=record.path)
        notes += [f"The record is {record.stale}."] if record.stale else []
    if site.forecast is None and site.forecast_url is not None:
        site, said = _with_forecast(site, site.forecast_url, network, folder, now)
        notes += said
    return site, tuple(notes)


def _with_forecast(
    site: Site, url: str, network: Network, folder: Path, now: dt.datetime
) -> tuple[Site, list[str]]:
    from frostgate.sources.fetched import fetch_forecast

    try:
        forecast = fetch_forecast(url, network, folder, now=now)
    except FrostgateError as fault:
        return site, [f"There is no forecast: {fault}"]
    told = [f"The forecast was fetched {forecast.stale}."] if forecast.stale else []
    return replace(site, forecast=forecast.path), told
