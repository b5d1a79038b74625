"""Read a forecast file, whatever its form: the registry of forms, and the one door to them.

A form is found by what stands in the file, never by its name. To read another form, add it to `FORMS`; the
contract tests then run over it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from frostgate.errors import InputError
from frostgate.files import AnyPath, decode, read_bytes
from frostgate.model.gate import Forecast
from frostgate.sources.forecasts.documents import read_daily_arrays, read_gridpoint, read_periods
from frostgate.sources.forecasts.nights import Opened, Stated, find_zone, to_forecast
from frostgate.sources.forecasts.strict_json import JsonValue, parse_json
from frostgate.sources.forecasts.tables import looks_like_table, read_table_of_nights
from frostgate.sources.text import Spot
from frostgate.units import TemperatureUnit

__all__ = ["FORMS", "Form", "form_of", "read_forecast"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """A form that forecasts come in."""

    name: str  # as `Forecast.form` has it
    shape: str  # what it looks like, in words
    holds: tuple[str, ...] | None  # the path in a JSON document that tells it; None for a text
    read: Callable[[Opened], Stated]

    def fits(self, opened: Opened) -> bool:
        """Return whether an opened file is of this form."""
        if self.holds is not None:
            return opened.tree.has(*self.holds)
        return opened.tree.value is None and looks_like_table(opened.text)


FORMS = (
    Form(
        name="table",
        shape="a table with the columns date and tmin_c or tmin_f",
        holds=None,
        read=read_table_of_nights,
    ),
    Form(
        name="US National Weather Service forecast",
        shape="a US National Weather Service forecast (JSON with properties.periods)",
        holds=("properties", "periods"),
        read=read_periods,
    ),
    Form(
        name="US National Weather Service gridpoint data",
        shape="its gridpoint data (JSON with properties.minTemperature)",
        holds=("properties", "minTemperature"),
        read=read_gridpoint,
    ),
    Form(
        name="daily arrays",
        shape="daily arrays (JSON with daily.time and daily.temperature_2m_min)",
        holds=("daily", "time"),
        read=read_daily_arrays,
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
        The unit of its temperatures, where the file does not state it: ``"F"`` or ``"C"``.
    time_zone
        The place's time zone, by its IANA name; it wins over the file's.

    Returns
    -------
    Forecast
        Its minima [°C], each dated by the local morning on which the night ends; NaN where the forecast has
        none. Where the file does not say when it was made, that is 06:00 on the day before its first morning.

    Raises
    ------
    UnstatedUnitError
        Where neither the file nor the grower states the unit.
    InputError
        Where the file, its form, a value, the unit or the time zone cannot be used.

    References
    ----------
    US National Weather Service, API documentation: https://www.weather.gov/documentation/services-web-api

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
    zone = None if time_zone is None else find_zone(time_zone, Spot(file=None, name="--time-zone"))
    path = Path(path)
    text = decode(read_bytes(path), path)
    is_json = text.lstrip()[:1] in ("{", "[")
    tree = parse_json(text, path) if is_json else JsonValue(value=None, spot=Spot(file=path))
    opened = Opened(path=path, text=text, tree=tree, unit=unit, zone=zone)
    form = form_of(opened)
    return to_forecast(form.read(opened), form=form.name, file=path)


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
        value=", ".join(opened.tree.names()) or shown.partition("\n")[0].strip(),
        remedy=f"Known forms: {'; '.join(form.shape for form in FORMS)}.",
    )
