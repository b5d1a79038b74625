"""A new garden file with every key explained in its comments."""

from __future__ import annotations

import contextlib
import json
import os
from dataclasses import dataclass
from pathlib import Path

from frostgate.errors import InputError
from frostgate.model.garden import Stage, Winters
from frostgate.model.products import Product
from frostgate.units import Units

_COLUMN = 28
_COMMENT = "\x1f"  # no text of an answer holds it

EXAMPLES: dict[Units, dict[str, str]] = {
    "us": {
        "elevation": "720 ft", "spread": "1.5F", "pot": "7 gal", "per_pot": "1 gal", "height": "6 ft",
        "rate": "1 tbsp/gal", "density": "6 g/tsp", "pack": "5 lb", "bucket": "5 gal",
        "scoops": '"1 tbsp", "1 tsp"', "damage_temp": "32F", "offset": "0F",
    },
    "metric": {
        "elevation": "220 m", "spread": "0.8C", "pot": "25 l", "per_pot": "4 l", "height": "1.8 m",
        "rate": "2 g/l", "density": "1.2 g/ml", "pack": "2 kg", "bucket": "10 l",
        "scoops": '"15 ml", "5 ml"', "damage_temp": "0C", "offset": "0C",
    },
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """What a new garden file is made from, texts as the grower writes them."""

    place: str  # the garden's name
    units: Units  # in which its grower reads
    record: str | None  # files, named from the garden file's folder; None where there is none yet
    forecast: str | None
    risk: str
    damage_temp: str
    offset: str
    tree: str  # this and the next five: of the first group
    count: int
    stage: Stage
    pot: str | None  # None in the ground
    per_pot: str | None  # None where it is not known yet
    winters: Winters
    product: Product | None  # the first; None where there is none yet


def fill_template(answers: Answers) -> str:
    """Write the text of a new garden file."""
    like = EXAMPLES[answers.units]
    in_ground = answers.stage == "in the ground"
    template = Path(__file__).with_suffix(".txt").read_text(encoding="utf-8")
    text = template.replace(" #~ ", _COMMENT).format_map(
        {f"like_{key}": example for key, example in like.items()}
        | {
            "units": _quoted(answers.units),
            "place": _quoted(answers.place),
            "record": _line("record", answers.record, "station.dly"),
            "forecast": _line("forecast", answers.forecast, "forecast.csv"),
            "risk": _quoted(answers.risk),
            "damage_temp": _quoted(answers.damage_temp),
            "offset": _quoted(answers.offset),
            "group": _quoted(f"{answers.tree} in {'the ground' if in_ground else 'pots'}"),
            "tree": _quoted(answers.tree),
            "count": answers.count,
            "stage": _quoted(answers.stage),
            "pot": _line("pot", None if in_ground else answers.pot, like["pot"]),
            "per_pot": _line("per_pot", answers.per_pot, like["per_pot"]),
            "winters": _quoted(answers.winters),
            "product": _product(answers.product, like),
        }
    )
    return "\n".join(_aligned(line) for line in text.split("\n"))


def save_new(path: Path, text: str) -> None:
    """Save a new file, whole or not at all; one that is there is left as it is."""
    refuse_existing(path)
    try:
        stream = path.open("x", encoding="utf-8", newline="\n")
    except OSError as fault:
        raise _unwritten(path, fault, "Name a file in a folder that can be written to.") from None
    try:
        with stream:
            stream.write(text)
    except OSError as fault:
        with contextlib.suppress(OSError):
            path.unlink(missing_ok=True)
        raise _unwritten(path, fault, "Make room for it.") from None


def _unwritten(path: Path, fault: OSError, remedy: str) -> InputError:
    return InputError("cannot be written", file=path, value=fault.strerror, remedy=remedy)


def refuse_existing(path: Path) -> None:
    """Refuse to write where anything stands, be it a link to nothing."""
    if os.path.lexists(path):
        what = "there is a file of this name already, and it is left as it is"
        raise InputError(what, file=path, remedy="Edit it, rename it first, or name another with --file.")


def _quoted(text: str) -> str:
    """Write a text as TOML does; JSON's escapes are among TOML's."""
    return json.dumps(text, ensure_ascii=False)


def _aligned(line: str) -> str:
    """Let comments begin in one column; the template marks them."""
    statement, mark, comment = line.rpartition(_COMMENT)
    return f"{statement:<{_COLUMN}}  # {comment}" if mark else line


def _line(key: str, value: str | None, example: str) -> str:
    return f"# {key} = {_quoted(example)}" if value is None else f"{key} = {_quoted(value)}"


def _product(product: Product | None, like: dict[str, str]) -> str:
    """Write a product's lines; what it does not state stands as a comment, all of it where there is none."""
    stated = {} if product is None else _label(product)
    lines = ["[[product]]" if stated else "# [[product]]"]
    for key, example, comment in _LABEL:
        unstated = example.format_map(like)
        line = f"{key} = {stated[key]}" if key in stated else f"# {key} = {unstated}"
        lines.append(f"{line}{_COMMENT}{comment}" if comment else line)
    return "\n".join(lines)


def _label(product: Product) -> dict[str, str]:
    """Write what a product's label states, as TOML values."""
    analysis = product.analysis
    texts = {"name": product.name, "analysis": analysis.grade, "form": product.form}
    if product.rate is not None:
        texts["rate"] = product.rate.text
    if product.most is not None:
        texts["most"] = product.most.text
    if product.density_from != "default":
        texts |= {"density": f"{product.density_g_ml:.5g} g/ml", "density_from": product.density_from}
    if product.ec_ms_cm_per_g_l is not None:
        texts["ec"] = f"{product.ec_ms_cm_per_g_l:.10g} mS/cm at 1 g/l"
    stated = {key: _quoted(text) for key, text in texts.items()}
    others = {"Mg": analysis.mg, "S": analysis.s, "Ca": analysis.ca, **dict(analysis.trace)}
    shares = ", ".join(f"{element} = {share:.10g}" for element, share in others.items() if share)
    if shares:
        stated["secondary"] = f"{{ {shares} }}"
    return stated | ({"organic": "true"} if product.organic else {})


_LABEL = (
    ("name", '"Spring feed"', ""),
    ("analysis", '"24-8-16"', "N-P2O5-K2O"),
    ("form", '"soluble"', '"soluble" (a powder for water), "liquid" (a concentrate) or "granular"'),
    ("rate", '"{rate}"', 'by water; or by pot, "2 tbsp/pot", or by height, "0.5 lb/ft"'),
    ("most", '"{rate}"', "the largest rate that the label allows"),
    ("density", '"{density}"', "weigh ten level spoons; without it a default is taken"),
    ("density_from", '"measured"', '"measured" or "label"'),
    ("organic", "true", "its nitrogen must first be broken down in the soil"),
    ("secondary", "{{ Mg = 1.0, S = 3.0, Fe = 0.1 }}", "% of other elements"),
    ("ec", '"0.64 mS/cm at 100 ppm N"', 'where the label tells; or "0.85 mS/cm at 1 g/l"'),
    ("pack", '"{pack}"', ""),
    ("price", "19.50", ""),
)
