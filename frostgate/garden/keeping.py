"""A garden that was found sound, as plain data and back: a morning then reads no label and no size."""

from __future__ import annotations

from dataclasses import MISSING, Field, fields, is_dataclass
from pathlib import Path
from typing import Any

from frostgate.terms.garden import Garden, PotGroup, Scoop, Site
from frostgate.terms.network import Network
from frostgate.terms.phases import NoFeeding, Phase, Portion, SeasonRules
from frostgate.terms.policy import Policy
from frostgate.terms.products import Analysis, Product, Rate

_NOUNS = {
    noun.__name__: noun
    for noun in (
        *(Garden, Site, PotGroup, Scoop, Network, Policy, NoFeeding, Phase, Portion, SeasonRules),
        *(Product, Analysis, Rate),
    )
}
_NOUN, _FILE = "noun", "file from the garden's folder"


def plain(garden: Garden) -> dict[str, Any]:
    """Lay a garden out as JSON can hold it; its files are named from its own folder.

    Examples
    --------
    >>> garden = Garden(file=Path("here/garden.toml"), sites=(Site(name="Hollin Bank"),))
    >>> plain(garden)["sites"][0]["name"], made(plain(garden), Path("there/garden.toml")).home == garden.home
    ('Hollin Bank', True)
    """
    laid_out: dict[str, Any] = _plain(garden, garden.file.parent)
    return laid_out


def made(kept: dict[str, Any], file: Path) -> Garden:
    """Make the garden again, of what `plain` laid out, for a file in any folder.

    Raises
    ------
    TypeError, ValueError, KeyError, AttributeError, ArithmeticError, InputError
        Where it is not what `plain` lays out.

    Examples
    --------
    >>> kept = {"noun": "Garden", "sites": [{"noun": "Site", "name": "Hollin Bank"}]}
    >>> made(kept, Path("here/garden.toml")).home.name
    'Hollin Bank'
    """
    garden = _made(kept | {"file": {_FILE: file.name}}, file.parent)
    if not isinstance(garden, Garden):
        raise TypeError("not a garden")
    return garden


def _plain(value: Any, folder: Path) -> Any:  # noqa: ANN401  # any value of a garden
    if is_dataclass(value):
        told = {field.name: getattr(value, field.name) for field in fields(value) if _is_stated(field, value)}
        return {_NOUN: type(value).__name__} | {name: _plain(one, folder) for name, one in told.items()}
    if isinstance(value, Path):
        return {_FILE: str(value.relative_to(folder) if value.is_relative_to(folder) else value)}
    return [_plain(one, folder) for one in value] if isinstance(value, tuple) else value


def _is_stated(field: Field[Any], noun: object) -> bool:
    """Tell whether a field is not at its default: another version's default must not be kept."""
    default = field.default if field.default_factory is MISSING else field.default_factory()
    return default is MISSING or bool(getattr(noun, field.name) != default)


def _made(kept: Any, folder: Path) -> Any:  # noqa: ANN401  # any value of a garden
    if isinstance(kept, list):
        return tuple(_made(one, folder) for one in kept)
    if not isinstance(kept, dict):
        return kept
    if _FILE in kept:
        return folder / kept[_FILE]
    noun = _NOUNS[kept[_NOUN]]
    return noun(**{name: _made(value, folder) for name, value in kept.items() if name != _NOUN})
