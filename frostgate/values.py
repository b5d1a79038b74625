"""Values with named fields that are quick to define.

The standard library's dataclass writes, compiles and inspects anew for every class, and a morning defines
some seventy of them: a quarter of its own work. Here all classes share their methods, and the standard
library draws up its account of a class's fields when first asked (`dataclasses.fields`, `asdict`).
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

__all__ = ["dataclass", "replace"]

if TYPE_CHECKING:
    from dataclasses import dataclass, replace
else:

    def dataclass(
        *, slots: bool, frozen: bool = False, kw_only: bool = False, eq: bool = True
    ) -> Callable[[type], type]:
        """Make a dataclass with slots, as `dataclasses.dataclass` does with the same words.

        Of a field `dataclasses.field` may state the default's factory, and nothing else.

        Examples
        --------
        >>> @dataclass(frozen=True, slots=True, kw_only=True)
        ... class Spoon:
        ...     volume_ml: float
        >>> spoon = Spoon(volume_ml=5.0)
        >>> spoon, spoon == Spoon(volume_ml=5.0), dataclasses.asdict(spoon)
        (Spoon(volume_ml=5.0), True, {'volume_ml': 5.0})
        >>> spoon.volume_ml = 15.0
        Traceback (most recent call last):
        dataclasses.FrozenInstanceError: cannot assign to field 'volume_ml'
        """
        if not slots:
            raise TypeError("without slots, take dataclasses.dataclass")
        shared: dict[str, Any] = {"__init__": _init_by_name if kw_only else _init, "__repr__": _repr}
        if frozen:
            shared |= {"__setattr__": _write_once, "__delattr__": _keep}
        if eq:
            shared |= {"__eq__": _eq, "__hash__": _hash if frozen else None}
        return lambda cls: _with_slots(cls, shared)

    def replace(value: Any, /, **changes: Any) -> Any:  # noqa: ANN401  # any class
        """Give a value made here with some of its fields changed.

        Examples
        --------
        >>> @dataclass(frozen=True, slots=True, kw_only=True)
        ... class Spoon:
        ...     volume_ml: float
        >>> replace(Spoon(volume_ml=5.0), volume_ml=15.0)
        Spoon(volume_ml=15.0)
        """
        return type(value)(**{name: getattr(value, name) for name in value.__fields__} | changes)


class _Account:
    """The standard library's account of a class's fields."""

    def __get__(self, _: object, owner: Any) -> Mapping[str, dataclasses.Field[Any]]:  # noqa: ANN401  # any class
        body = {"__annotations__": owner.__fields__, "__module__": owner.__module__, **owner.__stated__}
        twin: Any = dataclasses.dataclass(kw_only=True)(type(owner.__name__, (), body))
        account: Mapping[str, dataclasses.Field[Any]] = twin.__dataclass_fields__
        owner.__dataclass_fields__ = account
        return account


def _with_slots(cls: type, shared: Mapping[str, Any]) -> type:
    """Make the class again, with a slot for each field, what it knows of them, and the shared methods."""
    body, own = dict(cls.__dict__), cls.__annotations__
    stated = {name: body.pop(name) for name in own if name in body}
    fields = getattr(cls, "__fields__", {})
    slots = tuple(name for name in own if name not in fields)
    fields, stated = fields | own, getattr(cls, "__stated__", {}) | stated
    factories = {name: one for name, one in stated.items() if isinstance(one, dataclasses.Field)}
    if any(one.default_factory is dataclasses.MISSING for one in factories.values()):
        raise TypeError(f"{cls.__qualname__}: of a field only the default's factory may be stated")
    body |= {name: method for name, method in shared.items() if name not in body}
    body |= {
        "__slots__": slots,
        "__fields__": fields,  # name: annotation
        "__stated__": stated,  # name: default, as it was written
        "__defaults__": {name: value for name, value in stated.items() if name not in factories},
        "__factories__": {name: one.default_factory for name, one in factories.items()},
        "__dataclass_fields__": _Account(),
    }
    for name in ("__dict__", "__weakref__"):
        body.pop(name, None)
    made = type(cls)(cls.__name__, cls.__bases__, body)
    made.__qualname__ = cls.__qualname__
    return made


def _init_by_name(self: Any, /, **stated: Any) -> None:  # noqa: ANN401  # any class
    kind = type(self)
    values = kind.__defaults__ | stated
    for name, factory in kind.__factories__.items():
        if name not in values:
            values[name] = factory()
    if values.keys() != kind.__fields__.keys():
        raise TypeError(f"{kind.__qualname__}: {_say_wrong(values, kind.__fields__)}")
    for name, value in values.items():
        object.__setattr__(self, name, value)
    if hasattr(kind, "__post_init__"):
        self.__post_init__()


def _init(self: Any, /, *values: Any, **stated: Any) -> None:  # noqa: ANN401  # any class
    by_name = dict(zip(type(self).__fields__, values, strict=False))
    if len(by_name) < len(values) or by_name.keys() & stated.keys():
        raise TypeError(f"{type(self).__qualname__}: too many values")
    _init_by_name(self, **by_name, **stated)


def _say_wrong(values: Mapping[str, Any], fields: Mapping[str, Any]) -> str:
    missing = [name for name in fields if name not in values]
    if missing:
        return f"missing {', '.join(map(repr, missing))}"
    return f"got an unexpected keyword argument {next(name for name in values if name not in fields)!r}"


def _repr(self: Any) -> str:  # noqa: ANN401  # any class
    told = ", ".join(f"{name}={getattr(self, name)!r}" for name in self.__fields__)
    return f"{type(self).__qualname__}({told})"


def _eq(self: Any, other: object) -> Any:  # noqa: ANN401  # any class
    return _compared(self) == _compared(other) if type(other) is type(self) else NotImplemented


def _hash(self: Any) -> int:  # noqa: ANN401  # any class
    return hash(_compared(self))


def _compared(self: Any) -> tuple[Any, ...]:  # noqa: ANN401  # any class
    return tuple(getattr(self, name) for name in self.__fields__)


def _write_once(self: object, name: str, value: object) -> None:
    """Let each slot be filled once: a copy is filled like that."""
    if hasattr(self, name):
        raise dataclasses.FrozenInstanceError(f"cannot assign to field {name!r}")
    object.__setattr__(self, name, value)


def _keep(_: object, name: str) -> None:
    raise dataclasses.FrozenInstanceError(f"cannot delete field {name!r}")
