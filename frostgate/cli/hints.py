"""Read what the grower named, with the unit as a hint."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from frostgate.errors import UnstatedUnitError

Read = TypeVar("Read")


def read_hinted(read: Callable[[Any], Read], unit: str | None) -> Read:
    """Read a file by its own word, and by the stated unit only where it has none.

    Examples
    --------
    >>> read_hinted(lambda unit: unit, "F") is None
    True
    """
    try:
        return read(None)
    except UnstatedUnitError:
        if unit is None:
            raise
        return read(unit)
