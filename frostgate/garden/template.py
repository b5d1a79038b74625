"""A new garden file with every key explained: the sample in template.txt, filled with what is stated."""

from __future__ import annotations

import contextlib
import json
import os
import re
from collections.abc import Mapping
from pathlib import Path

from frostgate.errors import InputError
from frostgate.model.products import Product
from frostgate.units import Units

EXAMPLES: dict[Units, dict[str, str]] = {
    "us": {
        "elevation": "720 ft", "spread": "1.5F", "pot": "9 gal", "per_pot": "3 qt", "height": "6 ft",
        "rate": "2 tsp/gal", "density": "5.1 g/tsp", "pack": "4 lb", "bucket": "3.5 gal",
        "scoops": '"2.5 tsp", "1/2 tsp"', "damage_temp": "32F", "offset": "0F",
    },
    "metric": {
        "elevation": "220 m", "spread": "0.8C", "pot": "30 l", "per_pot": "3 l", "height": "2.1 m",
        "rate": "2.3 g/l", "density": "1.1 g/ml", "pack": "1.7 kg", "bucket": "13 l",
        "scoops": '"12 ml", "5 ml"', "damage_temp": "0C", "offset": "0C",
    },
}  # fmt: skip
_COLUMN = 28  # where comments begin
_INNER = re.compile(r"(\w+) = (\"[^\"]*\"|[0-9.]+)")
_STATEMENT = re.compile(r"(\w+) = (.+?)(?: +# (.+))?")

Stated = Mapping[str, object]  # by the keys of a table; None where nothing is stated


def _sample(units: Units) -> list[str]:
    text = Path(__file__).with_suffix(".txt").read_text(encoding="utf-8")
    return text.format_map(EXAMPLES[units]).split("\n")


def examples(units: Units) -> dict[str, dict[str, str]]:
    """Return the sample's example of each key by table; the keys in braces stand under that before them."""
    found: dict[str, dict[str, str]] = {}
    table = ""
    for line in _sample(units):
        if line.startswith("["):
            table = line.strip("[]")
        elif statement := _STATEMENT.fullmatch(line):
            key, example, _ = statement.groups()
            found.setdefault(table, {})[key] = example
            found.setdefault(key, {}).update(_INNER.findall(line, len(key) + 3))
    return found


def fill_template(units: Units, site: Stated, pots: Stated, product: Product | None) -> str:
    """Write the text of a new garden file; a key that is not stated stands as a comment, with an example."""
    stated: dict[str, Stated] = {"": {"units": units}, "site": site, "pots": pots}
    if product is not None:
        stated["product"] = _label(product)
    table, lines = "", []
    for line in _sample(units):
        statement = _STATEMENT.fullmatch(line)
        if line.startswith("["):
            table = line.strip("[]")
            is_open = table in stated or not line.startswith("[[")
            lines.append(line if is_open else f"# {line}")
        elif statement:
            key, example, comment = statement.groups()
            value = stated.get(table, {}).get(key)
            written = f"# {key} = {example}" if value is None else f"{key} = {_toml(value)}"
            lines.append(f"{written:<{_COLUMN}}  # {comment}" if comment else written)
        else:
            lines.append(line)
    return "\n".join(lines)


def _toml(value: object) -> str:
    """Write a value as TOML does; JSON's escapes are among TOML's."""
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {number:.10g}" for key, number in value.items()) + " }"
    return json.dumps(value, ensure_ascii=False)


def _label(product: Product) -> Stated:
    """Return what a product's label states, by the keys of its table."""
    analysis, ec = product.analysis, product.ec_ms_cm_per_g_l
    others = {"Mg": analysis.mg, "S": analysis.s, "Ca": analysis.ca, **dict(analysis.trace)}
    is_weighed = product.density_from != "default"
    return {
        "name": product.name,
        "analysis": analysis.grade,
        "form": product.form,
        "rate": product.rate.text if product.rate else None,
        "most": product.most.text if product.most else None,
        "density": f"{product.density_g_ml:.5g} g/ml" if is_weighed else None,
        "density_from": product.density_from if is_weighed else None,
        "organic": product.organic or None,
        "secondary": {element: share for element, share in others.items() if share} or None,
        "ec": None if ec is None else f"{ec:.10g} mS/cm at 1 g/l",
    }


def save_new(path: Path, text: str) -> None:
    """Save a new file, whole or not at all; one that is there is left as it is."""
    refuse_existing(path)
    try:
        with path.open("x", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
    except OSError as fault:
        if not isinstance(fault, FileExistsError):  # made by another a moment ago
            with contextlib.suppress(OSError):
                path.unlink(missing_ok=True)
        remedy = "Make room for it, or name a file in a folder that can be written to."
        raise InputError("cannot be written", file=path, value=fault.strerror, remedy=remedy) from None


def refuse_existing(path: Path) -> None:
    """Refuse to write where anything stands, be it a link to nothing."""
    if os.path.lexists(path):
        what = "there is a file of this name already, and it is left as it is"
        raise InputError(what, file=path, remedy="Edit it, rename it first, or name another with --file.")
