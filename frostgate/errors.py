"""What can go wrong, in the grower's words: what was wrong, where, what to do."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any


class FrostgateError(Exception):
    """An error for the grower, never a traceback.

    Parameters
    ----------
    what
        What was wrong, one sentence.
    file, line, value
        Where it stood, as far as it is known; lines count from 1.
    remedy
        What to do about it, one sentence.
    """

    def __init__(
        self,
        what: str,
        *,
        file: str | os.PathLike[str] | None = None,
        line: int | None = None,
        value: object = None,
        remedy: str | None = None,
    ) -> None:
        self.what = without_secrets(what)
        self.file = None if file is None else without_secrets(os.fspath(file))
        self.line = line
        self.value = None if value is None else without_secrets(str(value))
        self.remedy = None if remedy is None else without_secrets(remedy)
        super().__init__(str(self))

    def __str__(self) -> str:
        """Join the parts into one line of prose."""
        line = None if self.line is None else f"line {self.line}"
        place = ", ".join(filter(None, (self.file, line)))
        shown = "" if self.value is None else f": {_shorten(self.value)!r}"
        sentence = f"{place}: {self.what}{shown}." if place else f"{self.what}{shown}."
        return f"{sentence} {self.remedy}" if self.remedy else sentence

    def as_dict(self) -> dict[str, Any]:
        """Return the parts under the names that the JSON answer uses."""
        return {name: getattr(self, name) for name in ("what", "file", "line", "value", "remedy")}

    def but(self, **parts: Any) -> InputError:  # noqa: ANN401  # as the error takes them
        """Return the same as an error of input, but for some parts, such as its file and line."""
        return InputError(**FrostgateError.as_dict(self) | parts)


class InputError(FrostgateError, ValueError):
    """A file, a value or an option that cannot be used as it stands, for pydantic too."""


class GardenFileError(InputError):
    """A garden file that cannot be used as it stands: its ``mistakes``, every one, in order of lines."""

    def __init__(self, file: str | os.PathLike[str], mistakes: Iterable[FrostgateError]) -> None:
        in_order = sorted(mistakes, key=lambda mistake: mistake.line or 0)
        self.mistakes = tuple(mistake.but(file=file) for mistake in in_order)
        first, *more = self.mistakes
        if more:
            what, remedy = f"{len(self.mistakes)} mistakes in the garden file", "Mend each of those listed."
            super().__init__(what, file=file, line=first.line, remedy=remedy)
        else:
            super().__init__(first.what, file=file, line=first.line, value=first.value, remedy=first.remedy)

    def __str__(self) -> str:
        """List every mistake; one alone is written as any other error."""
        if len(self.mistakes) == 1:
            return super().__str__()
        each = (str(mistake.but(file=None)) for mistake in self.mistakes)
        return "\n  ".join((f"{self.file}: {self.what}.", *each))

    def as_dict(self) -> dict[str, Any]:
        """Return the parts, and each mistake's own under ``mistakes``."""
        return super().as_dict() | {"mistakes": [mistake.as_dict() for mistake in self.mistakes]}


class UnstatedUnitError(InputError):
    """A file of temperatures that does not say in which unit they are."""


class TooFewSeasonsError(FrostgateError):
    """A record with too few known seasons to say anything about its frosts."""


class UnsafeMixError(FrostgateError):
    """A mix that would harm roots or break a label, and so is not made."""


_SECRETS = (
    (r"\S*@", ""),  # a name and a password
    (r"[?#&][^\s'\"]*", "?…"),  # a query, which may hold a key
    (r"(?<=/)(?=[^\s/]*[0-9])[\w-]{16,}", "…"),  # a long word of letters and figures in the path
)


def without_secrets(text: str) -> str:
    """Hide what may be secret from the first address in a text on: passwords, queries, keys."""
    address = re.search(r"[a-z][a-z0-9+.-]+:/+", text, re.IGNORECASE)
    if address is None:
        return text
    told = text[address.end() :]
    for secret, shown in _SECRETS:
        told = re.sub(secret, shown, told)
    return text[: address.end()] + told


def visible(line: str) -> str:
    """Write controls and marks of direction, which would move a terminal, as JSON escapes them."""
    marks = r"[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]"
    return re.sub(marks, lambda mark: f"\\u{ord(mark[0]):04x}", line)


@contextmanager
def about(file: str | os.PathLike[str] | None, kind: type[FrostgateError] = FrostgateError) -> Iterator[None]:
    """Name the file in an error about what was read from it, where it names none."""
    try:
        yield
    except kind as error:
        if error.file is None and file is not None:
            error.file = os.fspath(file)
        raise


def _shorten(text: str, most: int = 60) -> str:
    return text if len(text) <= most else text[: most - 1] + "…"
