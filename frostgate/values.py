"""Frozen values that are quick to define.

A dataclass writes and compiles its methods anew for every class, and a morning defines some seventy of them:
a third of what it costs. Here all but ``__init__`` are shared; the rest is the standard library's.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

__all__ = ["dataclass"]

if TYPE_CHECKING:
    from dataclasses import dataclass
else:

    def dataclass(*, eq: bool = True, frozen: bool = False, **options: bool) -> Callable[[type], type]:
        """Make a dataclass, as `dataclasses.dataclass` does with the same words.

        Examples
        --------
        >>> @dataclass(frozen=True, slots=True, kw_only=True)
        ... class Spoon:
        ...     volume_ml: float
        >>> spoon = Spoon(volume_ml=5.0)
        >>> spoon, spoon == Spoon(volume_ml=5.0)
        (Spoon(volume_ml=5.0), True)
        >>> spoon.volume_ml = 15.0
        Traceback (most recent call last):
        dataclasses.FrozenInstanceError: cannot assign to field 'volume_ml'
        """
        written_once = frozen and options.get("slots", False)

        def make(cls: type) -> type:
            made = dataclasses.dataclass(repr=False, eq=False, frozen=frozen and not written_once, **options)(
                cls
            )
            if "__repr__" not in cls.__dict__:
                made.__repr__ = _repr
            if eq:
                made.__eq__ = _eq
                made.__hash__ = _hash if frozen else None
            if written_once:
                made.__setattr__, made.__delattr__ = _write_once, _keep
            return made

        return make


def _repr(self: Any) -> str:  # noqa: ANN401  # of any class made here
    told = ", ".join(f"{field.name}={getattr(self, field.name)!r}" for field in dataclasses.fields(self))
    return f"{type(self).__qualname__}({told})"


def _eq(self: Any, other: object) -> Any:  # noqa: ANN401  # of any class made here
    return _compared(self) == _compared(other) if type(other) is type(self) else NotImplemented


def _hash(self: Any) -> int:  # noqa: ANN401  # of any class made here
    return hash(_compared(self))


def _compared(self: Any) -> tuple[Any, ...]:  # noqa: ANN401  # of any class made here
    return tuple(getattr(self, field.name) for field in dataclasses.fields(self))


def _write_once(self: object, name: str, value: object) -> None:
    """Let ``__init__`` fill each slot, and nobody fill it again."""
    if hasattr(self, name):
        raise dataclasses.FrozenInstanceError(f"cannot assign to field {name!r}")
    object.__setattr__(self, name, value)


def _keep(_: object, name: str) -> None:
    raise dataclasses.FrozenInstanceError(f"cannot delete field {name!r}")
