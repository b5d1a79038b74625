"""Array types, and the read-only copies that frozen values hold."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from frostgate.seasons import Dates, Ints

Floats = npt.NDArray[np.float64]


def frozen_copy(values: npt.ArrayLike, dtype: npt.DTypeLike) -> npt.NDArray[Any]:
    """Copy values into a read-only array."""
    copy = np.array(values, dtype=dtype)
    copy.setflags(write=False)
    return copy


def no_days() -> Dates:
    """Return an empty list of days."""
    return np.empty(0, dtype="datetime64[D]")


__all__ = ["Dates", "Floats", "Ints", "frozen_copy", "no_days"]
