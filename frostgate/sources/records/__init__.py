"""A station's record, in any of the forms in which a grower has it, read into daily minima.

A form is recognised by what the file holds, never by its name. To read another form, add it to `FORMS`; the
contract tests then run over it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from frostgate.errors import InputError
from frostgate.files import AnyPath, read_bytes, refuse_what_is_not_text
from frostgate.model.records import DailyMinima
from frostgate.sources.records.contradictions import Mask, Readings, UnitHint, merge
from frostgate.sources.records.dly import looks_like_dly, parse_dly
from frostgate.sources.records.tables import (
    clear_nights,
    looks_like_access,
    looks_like_element_rows,
    looks_like_table,
    parse_columns,
    parse_element_rows,
)
from frostgate.sources.text import LONGEST_LINE

__all__ = ["FORMS", "Form", "GardenMinima", "UnitHint", "parse_minima", "read_garden", "read_minima"]

_BYTE_ORDER_MARK = b"\xef\xbb\xbf"


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """A form in which records come."""

    name: str
    recognises: Callable[[str], bool]  # by the first line that is not blank
    parse: Callable[[bytes, Path, UnitHint | None, str | None], Readings]  # content, file, unit, station


FORMS: tuple[Form, ...] = (
    Form(name="GHCN-Daily .dly", recognises=looks_like_dly, parse=parse_dly),
    Form(name="GHCN-Daily element rows", recognises=looks_like_element_rows, parse=parse_element_rows),
    Form(name="Access table", recognises=looks_like_access, parse=parse_columns),
    Form(name="plain table", recognises=looks_like_table, parse=parse_columns),
)


def read_minima(
    path: AnyPath,
    *,
    unit: UnitHint | None = None,
    station: str | None = None,
    drop_contradictions: bool = False,
) -> DailyMinima:
    r"""Read a station's daily minima from a file.

    The forms are those of `FORMS`: GHCN-Daily's ``.dly``, its rows of one element, its Access tables, and any
    table with a column ``date`` (or ``year``, ``month`` and ``day``) and one of minima, such as ``tmin_f``.

    Parameters
    ----------
    path
        The file, plain or gzip.
    unit
        Of the minima, for a file that does not state it: ``"F"``, ``"C"`` or ``"tenths-C"``.
    station
        The station to take from a file that holds several.
    drop_contradictions
        Take days with contradicting minima for missing; otherwise they are an error.

    Returns
    -------
    DailyMinima
        A minimum [°C] for each day of the file, in order of time; NaN where it is missing or failed a quality
        check. Its notes say what was put in order.

    Raises
    ------
    UnstatedUnitError
        Where neither the file nor ``unit`` tells the unit.
    InputError
        Where the file cannot be read, is of no known form, or anything in it is unclear; names the line.

    References
    ----------
    GHCN-Daily readme, section III: https://www.ncei.noaa.gov/pub/data/ghcn/daily/readme.txt

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder) / "garden.csv"
    ...     _ = file.write_text("date,tmin_f\n2026-04-01,28\n2026-04-02,32\n")
    ...     read_minima(file).tmin_c
    array([-2.2,  0. ])
    """
    return parse_minima(
        read_bytes(path), path, unit=unit, station=station, drop_contradictions=drop_contradictions
    )


def parse_minima(
    content: bytes,
    path: AnyPath,
    *,
    unit: UnitHint | None = None,
    station: str | None = None,
    drop_contradictions: bool = False,
) -> DailyMinima:
    """Read a station's daily minima from the content of a file, as `read_bytes` returns it."""
    path = Path(path)
    refuse_what_is_not_text(content, path)
    content = content.removeprefix(_BYTE_ORDER_MARK)
    begun = content.lstrip()[:LONGEST_LINE].decode("utf-8", "replace")
    head = begun.partition("\n")[0].partition("\r")[0]
    for form in FORMS:
        if form.recognises(head):
            readings = form.parse(content, path, unit, station)
            return merge(readings, drop_contradictions=drop_contradictions)
    known = ", ".join(form.name for form in FORMS)
    remedy = f"Forms that can be read: {known}."
    raise InputError("not a record of daily minima", file=path, value=head, remedy=remedy)


class GardenMinima(NamedTuple):
    """What the grower's thermometer showed."""

    minima: DailyMinima
    clear: Mask | None  # whether each of its nights was clear and calm; None without such a column


def read_garden(
    path: AnyPath, *, unit: UnitHint | None = None, drop_contradictions: bool = False
) -> GardenMinima:
    """Read a garden's own record in any form that `read_minima` reads, and the marks of a plain table."""
    path, content = Path(path), read_bytes(path)
    minima = parse_minima(content, path, unit=unit, drop_contradictions=drop_contradictions)
    return GardenMinima(minima, clear_nights(content, path, minima.dates))
