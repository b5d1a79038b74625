"""Check a garden file's text, and name every mistake at once."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from frostgate.errors import InputError
from frostgate.garden.contradictions import find_contradictions
from frostgate.garden.mistakes import GardenFileError, Mistake
from frostgate.garden.schema import KEYS, GardenStated
from frostgate.garden.statements import Statements, read_statements
from frostgate.garden.words import LISTS, explain


def check(text: str, file: Path) -> dict[str, Any]:
    """Give the plain values of a garden file in which nothing is wrong.

    Raises
    ------
    GardenFileError
        With every mistake that was found.

    Examples
    --------
    >>> check('site = { name = "Hollin Bank" }', Path("garden.toml"))
    {'site': [{'name': 'Hollin Bank'}]}
    """
    said = read_statements(text)
    mistakes = list(said.faults)
    values: dict[str, Any] = {}
    if said.values is not None:
        values = {key: _listed(key, value) for key, value in said.values.items()}
        mistakes += (_placed(mistake, said) for mistake in _find_mistakes(values, said.lost))
    if mistakes:
        raise GardenFileError(file, mistakes)
    return values


def _listed(key: str, value: object) -> object:
    """Take one table where several may stand as a list of one."""
    return [value] if key in LISTS and isinstance(value, dict) else value


def _find_mistakes(values: dict[str, Any], lost: frozenset[str]) -> Iterator[Mistake]:
    try:
        GardenStated.model_validate(values)
        wrong = []
    except ValidationError as error:
        errors = error.errors(include_url=False)
        wrong = [problem["loc"] for problem in errors]
        yield from explain(errors, KEYS, lost)
    for mistake in find_contradictions(values, wrong):
        if mistake.place[-1] not in lost:
            yield mistake


def _placed(mistake: Mistake, said: Statements) -> InputError:
    return InputError(
        mistake.what, line=said.line_of(mistake.place), value=mistake.value, remedy=mistake.remedy
    )
