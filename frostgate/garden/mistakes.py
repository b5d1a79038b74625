"""Mistakes of a garden file: where each stands among its values, and all of them as one error."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from frostgate.errors import InputError
from frostgate.values import dataclass

Place = tuple[str | int, ...]


class GardenFileError(InputError):
    """A garden file that cannot be used as it stands.

    Parameters
    ----------
    mistakes
        Every one that was found, in order of lines.

    Examples
    --------
    >>> print(GardenFileError(Path("garden.toml"), [InputError("not a share", line=2, value="much"),
    ...                                             InputError("not a temperature", line=3, value="32")]))
    garden.toml: 2 mistakes in the garden file.
      line 2: not a share: 'much'.
      line 3: not a temperature: '32'.
    """

    def __init__(self, file: Path, mistakes: Iterable[InputError]) -> None:
        ordered = sorted(mistakes, key=lambda mistake: mistake.line or 0)
        self.mistakes = tuple(_placed(mistake, file) for mistake in ordered)
        first = self.mistakes[0]
        if len(self.mistakes) == 1:
            super().__init__(first.what, file=file, line=first.line, value=first.value, remedy=first.remedy)
        else:
            super().__init__(
                f"{len(self.mistakes)} mistakes in the garden file",
                file=file,
                line=first.line,
                remedy="Mend each of the mistakes listed.",
            )

    def __str__(self) -> str:
        """List every mistake; one alone is written as any other error."""
        if len(self.mistakes) == 1:
            return super().__str__()
        lines = (str(_placed(mistake, None)) for mistake in self.mistakes)
        return "\n  ".join((f"{self.file}: {self.what}.", *lines))

    def as_dict(self) -> dict[str, Any]:
        """Return the parts, and each mistake's own under ``mistakes``."""
        return super().as_dict() | {"mistakes": [mistake.as_dict() for mistake in self.mistakes]}


@dataclass(frozen=True, slots=True)
class Mistake:
    """What is wrong, and where among the values.

    Examples
    --------
    >>> Mistake(("pots", 0, "count"), "a whole number is wanted").place
    ('pots', 0, 'count')
    """

    place: Place
    what: str
    value: object = None
    remedy: str | None = None


def _placed(mistake: InputError, file: Path | None) -> InputError:
    return InputError(mistake.what, file=file, line=mistake.line, value=mistake.value, remedy=mistake.remedy)
