"""A station's record, in any of the forms in which a grower has it, read into daily minima.

A form is recognised by what the file holds, never by its name. To read another form, add it to `FORMS`; the
contract tests then run over it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from frostgate.errors import InputError
from frostgate.files import read_bytes, refuse_what_is_not_text
from frostgate.model.records import DailyMinima
from frostgate.sources.records.dly import looks_like_dly, parse_dly
from frostgate.sources.records.element_rows import looks_like_element_rows, parse_element_rows
from frostgate.sources.records.rows import UnitHint
from frostgate.sources.records.tables import looks_like_access, looks_like_table, parse_columns

__all__ = ["FORMS", "Form", "Parse", "UnitHint", "parse_minima", "read_minima"]

_LONGEST_HEAD = 65_536  # characters; the widest header of the archive has about 3,000
_BYTE_ORDER_MARK = b"\xef\xbb\xbf"


class Parse(Protocol):
    """Turn the bytes of one form into daily minima."""

    def __call__(
        self,
        content: bytes,
        path: Path,
        *,
        unit: UnitHint | None,
        station: str | None,
        drop_contradictions: bool,
    ) -> DailyMinima:
        """Raise an InputError where that cannot be done."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """A form in which records come.

    Parameters
    ----------
    name
        As a grower may know it.
    recognises
        Whether a file is of this form, judged by its first line that is not blank.
    parse
        How it is read.
    """

    name: str
    recognises: Callable[[str], bool]
    parse: Parse


FORMS: tuple[Form, ...] = (
    Form(name="GHCN-Daily .dly", recognises=looks_like_dly, parse=parse_dly),
    Form(name="GHCN-Daily element rows", recognises=looks_like_element_rows, parse=parse_element_rows),
    Form(name="Access table", recognises=looks_like_access, parse=parse_columns),
    Form(name="plain table", recognises=looks_like_table, parse=parse_columns),
)


def read_minima(
    path: Path,
    *,
    unit: UnitHint | None = None,
    station: str | None = None,
    drop_contradictions: bool = False,
) -> DailyMinima:
    r"""Read a station's daily minima from a file, plain or gzip.

    Parameters
    ----------
    path
        The file.
    unit
        Of the minima, for a file that does not state it: °F, °C or tenths of °C.
    station
        The station to take from a file that holds several.
    drop_contradictions
        Take days with contradicting minima for missing; otherwise they are an error.

    Raises
    ------
    InputError
        Where the file cannot be read, is of no known form, or anything in it is unclear; names the line.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder) / "garden.csv"
    ...     _ = file.write_text("date,tmin_f\n2026-04-01,28\n2026-04-02,32\n")
    ...     read_minima(file).tmin_c
    array([-2.2,  0. ])
    """
    content = read_bytes(path)
    return parse_minima(content, path, unit=unit, station=station, drop_contradictions=drop_contradictions)


def parse_minima(
    content: bytes,
    path: Path,
    *,
    unit: UnitHint | None = None,
    station: str | None = None,
    drop_contradictions: bool = False,
) -> DailyMinima:
    r"""Read a station's daily minima from the content of a file, as `read_bytes` returns it."""
    refuse_what_is_not_text(content, path)
    content = _with_line_feeds(content.removeprefix(_BYTE_ORDER_MARK))
    head = _first_line(content)
    form = next((form for form in FORMS if form.recognises(head)), None)
    if form is None:
        raise InputError(
            "not a record of daily minima",
            file=path,
            value=head,
            remedy=f"Forms that can be read: {', '.join(form.name for form in FORMS)}.",
        )
    return form.parse(content, path, unit=unit, station=station, drop_contradictions=drop_contradictions)


def _with_line_feeds(content: bytes) -> bytes:
    return content.replace(b"\r\n", b"\n").replace(b"\r", b"\n") if b"\r" in content else content


def _first_line(content: bytes) -> str:
    begun = content.lstrip()
    end = begun.find(b"\n", 0, _LONGEST_HEAD)
    return begun[: end if end >= 0 else _LONGEST_HEAD].decode("utf-8", "replace")
