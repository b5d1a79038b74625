"""Read a forecast file, whatever its form: the registry of forms, and the one door to them.

A form is found by what stands in the file, never by its name. To read another form, add it to `FORMS`; the
contract tests then run over it.
"""

from __future__ import annotations

from collections.abc import Callable
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

__all__ = ["FORMS", "forms_of", "parse_forecast", "read_forecast"]

LARGEST = 2 * 2**20  # bytes, unpacked; a gridpoint document has about 300,000 (from memory)

# Each form by its name: the path that tells it in a JSON document, none for a text, and what reads it.
FORMS: dict[str, tuple[tuple[str, ...], Callable[[Opened], Stated]]] = {
    "table": ((), read_table_of_nights),
    "US National Weather Service forecast": (("properties", "periods"), read_periods),
    "US National Weather Service gridpoint data": (("properties", "minTemperature"), read_gridpoint),
    "daily arrays": (("daily", "time"), read_daily_arrays),
}


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
    content = read_bytes(path, largest=LARGEST, kind="a forecast")
    return parse_forecast(content, path, unit=unit, time_zone=time_zone)


def parse_forecast(
    content: bytes, path: AnyPath, *, unit: TemperatureUnit | None = None, time_zone: str | None = None
) -> Forecast:
    """Read a forecast from the content of a file, as `read_bytes` returns it."""
    zone = None if time_zone is None else find_zone(time_zone, Spot(file=None, name="--time-zone"))
    path = Path(path)
    text = decode(content, path)
    is_json = text.lstrip()[:1] in ("{", "[")
    tree = parse_json(text, path) if is_json else JsonValue(value=None, spot=Spot(file=path))
    opened = Opened(path=path, text=text, tree=tree, unit=unit, zone=zone)
    fitting = forms_of(opened)
    if len(fitting) != 1:
        begun = text.lstrip()
        shapes = (f"{form} (JSON with {'.'.join(path)})" for form, (path, _) in FORMS.items() if path)
        raise InputError(
            "not a forecast of a known form",
            file=path,
            line=text[: len(text) - len(begun)].count("\n") + 1,
            value=", ".join(tree.names()) or begun.partition("\n")[0].strip(),
            remedy=f"Known forms: table (with the columns date and tmin_c or tmin_f); {'; '.join(shapes)}.",
        )
    _, read = FORMS[fitting[0]]
    return to_forecast(read(opened), form=fitting[0], file=path)


def forms_of(opened: Opened) -> list[str]:
    """Return the forms that an opened file has by its content: one, or it cannot be read."""
    is_text = opened.tree.value is None
    return [
        form
        for form, (path, _) in FORMS.items()
        if (opened.tree.has(*path) if path else is_text and looks_like_table(opened))
    ]
