"""What can go wrong, in the grower's words: what was wrong, where, what to do."""

from __future__ import annotations

import os
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
        self.what = what
        self.file = None if file is None else os.fspath(file)
        self.line = line
        self.value = None if value is None else str(value)
        self.remedy = remedy
        super().__init__(str(self))

    def __str__(self) -> str:
        """Join the parts into one line of prose."""
        place = ", ".join(
            part for part in (self.file, None if self.line is None else f"line {self.line}") if part
        )
        shown = "" if self.value is None else f": {_shorten(self.value)!r}"
        sentence = f"{place}: {self.what}{shown}." if place else f"{self.what}{shown}."
        return f"{sentence} {self.remedy}" if self.remedy else sentence

    def as_dict(self) -> dict[str, Any]:
        """Return the parts under the names that the JSON answer uses."""
        return {
            "what": self.what,
            "file": self.file,
            "line": self.line,
            "value": self.value,
            "remedy": self.remedy,
        }


class InputError(FrostgateError):
    """A file, a value or an option that cannot be used as it stands."""


class UnstatedUnitError(InputError):
    """A file of temperatures that does not say in which unit they are."""


class TooFewSeasonsError(FrostgateError):
    """A record with too few known seasons to say anything about its frosts."""


class UnsafeMixError(FrostgateError):
    """A mix that would harm roots or break a label, and so is not made."""


def _shorten(text: str, most: int = 60) -> str:
    return text if len(text) <= most else text[: most - 1] + "…"
