"""Read a forecast file, whatever its form: the registry of forms, and the one door to them.

A form is found by what stands in the file, never by its name.
"""

from __future__ import annotations

import importlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from frostgate.errors import InputError
from frostgate.files import AnyPath, decode, read_bytes
from frostgate.model.gate import Forecast
from frostgate.sources.forecasts.documents import Spot, parse_json
from frostgate.sources.forecasts.nights import Opened, find_zone
from frostgate.units import TemperatureUnit


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """A form that forecasts come in; its module is loaded when a file of it is read.

    Parameters
    ----------
    name
        As `Forecast.form` has it.
    shape
        What it looks like, in words.
    holds
        The path in a JSON document that tells it; None for a text.
    module, function
        What reads it, from an opened file.
    """

    name: str
    shape: str
    holds: tuple[str, ...] | None
    module: str
    function: str = "read"

    def fits(self, opened: Opened) -> bool:
        """Return whether an opened file is of this form."""
        if self.holds is not None:
            return opened.holds(*self.holds)
        return opened.tree is None and bool(self._load().fits(opened))

    def read(self, opened: Opened) -> Forecast:
        """Read an opened file of this form."""
        forecast: Forecast = getattr(self._load(), self.function)(opened)
        return forecast

    def _load(self) -> Any:  # noqa: ANN401  # a module
        return importlib.import_module(f"frostgate.sources.forecasts.{self.module}")


FORMS = (
    Form(
        name="table",
        shape="a table with the columns date and tmin_c or tmin_f",
        holds=None,
        module="tables",
    ),
    Form(
        name="US National Weather Service forecast",
        shape="a US National Weather Service forecast (JSON with properties.periods)",
        holds=("properties", "periods"),
        module="weather_service",
        function="read_periods",
    ),
    Form(
        name="US National Weather Service gridpoint data",
        shape="its gridpoint data (JSON with properties.minTemperature)",
        holds=("properties", "minTemperature"),
        module="weather_service",
        function="read_gridpoint",
    ),
    Form(
        name="daily arrays",
        shape="daily arrays (JSON with daily.time and daily.temperature_2m_min)",
        holds=("daily", "time"),
        module="daily_arrays",
    ),
)


def read_forecast(
    path: AnyPath, *, unit: TemperatureUnit | None = None, time_zone: str | None = None
) -> Forecast:
    r"""Read a forecast of minima, whatever its form.

    Parameters
    ----------
    path
        A table, or a JSON document of a weather service; plain or gzip.
    unit
        The unit of its temperatures, where the file does not state it.
    time_zone
        The place's time zone, by its IANA name; it wins over the file's.

    Returns
    -------
    Forecast
        Its minima [°C], each dated by the local morning on which the night ends.

    Raises
    ------
    UnstatedUnitError
        Where neither the file nor the grower states the unit.
    InputError
        Where the file, its form, a value, the unit or the time zone cannot be used.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder) / "f.csv"
    ...     _ = file.write_text("date,tmin_f\n2026-04-08,32")
    ...     forecast = read_forecast(file)
    >>> forecast.tmin_c, forecast.issued_at, forecast.issued_stated
    (array([0.]), datetime.datetime(2026, 4, 7, 6, 0), False)
    """
    path = Path(path)
    zone = None if time_zone is None else find_zone(time_zone, Spot(file=None, name="--time-zone"))
    text = decode(read_bytes(path), path)
    tree = parse_json(text, path) if text.lstrip()[:1] in ("{", "[") else None
    opened = Opened(path=path, text=text, tree=tree, unit=unit, zone=zone)
    return form_of(opened).read(opened)


def form_of(opened: Opened) -> Form:
    """Find the form of an opened file by its content."""
    fitting = [form for form in FORMS if form.fits(opened)]
    if len(fitting) == 1:
        return fitting[0]
    shown = opened.text.lstrip()
    raise InputError(
        "not a forecast of a known form",
        file=opened.path,
        line=opened.text[: len(opened.text) - len(shown)].count("\n") + 1,
        value=", ".join(opened.root.names()) or shown.partition("\n")[0].strip(),
        remedy=f"Known forms: {'; '.join(form.shape for form in FORMS)}.",
    )
