"""A garden's own files, read as every command will read them."""

from __future__ import annotations

import re
from pathlib import Path

from frostgate.errors import FrostgateError, InputError
from frostgate.garden.file import on_their_lines
from frostgate.model.garden import Garden, Site
from frostgate.service.request import read_hinted
from frostgate.sources.forecasts import read_forecast
from frostgate.sources.records import read_minima

_OPTION = re.compile(r"--(unit|station|time-zone) ([\w/-]+)")


def check_files(garden: Garden) -> None:
    """Refuse a garden whose record or forecast no command could read, each on the line that names it."""
    faults: dict[tuple[str | int, ...], FrostgateError] = {
        ("site", at, key): fault
        for at, site in enumerate(garden.sites)
        for key in ("record", "forecast")
        if (fault := _fault_of(site, key)) is not None
    }
    if faults:
        raise on_their_lines(garden.file, faults)


def _fault_of(site: Site, key: str) -> InputError | None:
    """Return what is wrong with a file that is there, and what to write in the garden file."""
    path: Path | None = getattr(site, key)
    if path is None or not path.is_file():
        return None
    try:
        if key == "record":
            read_hinted(lambda unit: read_minima(path, unit=unit, station=site.station), site.unit)
        else:
            read_hinted(lambda unit: read_forecast(path, unit=unit, time_zone=site.time_zone), site.unit)
    except InputError as fault:
        where = path.name if fault.line is None else f"{path.name}, line {fault.line}"
        remedy = _OPTION.sub(lambda found: f'{found[1].replace("-", "_")} = "{found[2]}"', fault.remedy or "")
        what = f"{key}: {where}: {fault.what}"
        return InputError(what, value=fault.value, remedy=remedy or "Name another file.")
    return None
