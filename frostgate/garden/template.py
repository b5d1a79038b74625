"""A new garden file with every key explained in its comments."""

from __future__ import annotations

import contextlib
import json
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
    """What a new garden file is made from, texts as the grower writes them.

    Parameters
    ----------
    place, units
        The garden's name, and in which units its grower reads.
    record, forecast
        Files, named from the garden file's folder; None where there is none yet.
    risk, damage_temp, offset
        The numbers of the gate.
    tree, count, stage, pot, per_pot, winters
        The first group; ``pot`` is None in the ground, ``per_pot`` where it is not known yet.
    product
        The first product; None where there is none yet.
    """

    place: str
    units: Units
    record: str | None
    forecast: str | None
    risk: str
    damage_temp: str
    offset: str
    tree: str
    count: int
    stage: Stage
    pot: str | None
    per_pot: str | None
    winters: Winters
    product: Product | None


def fill_template(answers: Answers) -> str:
    """Write the text of a new garden file."""
    like = EXAMPLES[answers.units]
    in_ground = answers.stage == "in the ground"
    text = _TEMPLATE.replace(" #~ ", _COMMENT).format_map(
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
    """Save a new file; one that is there is left as it is."""
    try:
        stream = path.open("x", encoding="utf-8", newline="\n")
    except FileExistsError:
        raise InputError(
            "there is a file of this name already, and it is left as it is",
            file=path,
            remedy="Edit it, rename it first, or name another with --file.",
        ) from None
    except OSError as fault:
        raise InputError("cannot be written", file=path, value=fault.strerror,
                         remedy="Name a file in a folder that can be written to.") from None  # fmt: skip
    try:
        with stream:
            stream.write(text)
    except OSError as fault:
        discard(path)
        raise InputError("cannot be written", file=path, value=fault.strerror,
                         remedy="Make room for it.") from None  # fmt: skip


def discard(path: Path) -> None:
    """Take back a file that was just made."""
    with contextlib.suppress(OSError):
        path.unlink(missing_ok=True)


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

_TEMPLATE = """\
# A garden for frostgate. Whatever follows a # is a comment; take the # away to use a line.
# Texts stand between straight quotes. Check the file with: frostgate garden

units = {units} #~ "us" or "metric": how answers are written; values may use any unit
# currency = "USD" #~ of prices

# --- Where the garden is, and the numbers of the gate. The first [[site]] is home. -----------------------
[[site]]
name = {place}
# The station's daily minima and the coming nights; files are named from this file's folder. Without a
# record that of the station is fetched (frostgate stations near finds one); a forecast may be an address.
{record}
{forecast}
risk = {risk} #~ chance of a damaging frost after the first feeding that you can live with
damage_temp = {damage_temp} #~ a minimum at or below this in the garden kills the flush
offset = {offset} #~ garden less station; frostgate siting tells what is likely
# offset_spread = "{like_spread}" #~ how sure the offset is, on a single frost night
# forecast_offset = "{like_offset}" #~ garden less forecast, where it is not as offset
# elevation = "{like_elevation}" #~ of the garden
# exposed_from = 1 #~ days from feeding to the first minimum that can do harm
# max_age_hours = 48 #~ an older forecast is not trusted
# station = "XX000000017" #~ which one, where the record holds several; without a record it is fetched
# hemisphere = "north" #~ or "south"; by default the record tells
# time_zone = "UTC-05:00" #~ or a name such as "America/New_York"; by default the forecast tells
# unit = "F" #~ "F", "C" or "tenths-C", for files that do not state theirs

# --- What is fed: one [[pots]] for each group of trees that are fed alike. -------------------------------
[[pots]]
name = {group}
tree = {tree}
count = {count}
stage = {stage} #~ "established", "newly potted", "cutting" or "in the ground"
{pot} #~ volume of one pot; none in the ground
{per_pot} #~ feed solution for one pot
winters = {winters} #~ "outdoors", "sheltered", "unheated room" or "heated room"
# movable = true #~ they can be moved under cover
# height = "{like_height}" #~ where a rate goes by height

# --- What it is fed with: one [[product]] for each, as its label says. -----------------------------------
{product}

# --- What it is measured with. ---------------------------------------------------------------------------
[tools]
# bucket = "{like_bucket}"
# scoops = [{like_scoops}]
# water_ec = 0.4 #~ of the water itself, mS/cm

# --- Days on which local rules forbid feeding, month-day, both included; they may wrap New Year. ---------
# [[no_feeding]]
# name = "local rule"
# from = "11-15"
# to = "03-01"

# --- Limits of the season. -------------------------------------------------------------------------------
[rules]
# stop_weeks = 7 #~ last nitrogen so many weeks before the first autumn frost
# autumn_risk = "10%" #~ chance of an earlier first autumn frost; by default the site's risk
# least_days = 7 #~ between two feedings
# n_per_pot = "20 g" #~ the most nitrogen for one pot in a season
# ec_limit = 3.0 #~ no stronger solution is mixed, mS/cm

# --- The network: how old what is fetched may grow, and how long a morning waits for it. -----------------
[network]
# record_days = 7
# forecast_hours = 3
# wait_s = 10 #~ seconds for one document
# retries = 2
# offline = true #~ use what is kept and ask nobody
# archive = "https://www.ncei.noaa.gov/pub/data/ghcn/daily" #~ or a mirror of it

# --- The season's phases. Without any they follow from the products; to state one, state all. ------------
# [[phase]]
# name = "wake-up"
# kind = "liquid" #~ or "top-dressing", laid on the soil
# starts = "gate" #~ or "first feeding", "bud break", "fruit set"
# after = "0 days" #~ so long after that
# every = "10 days"
# feedings = 2 #~ at most; without it the phase goes on until the next, or the stop
# feed = [{{ product = "Spring feed", strength = "full" }}] #~ or "half", "75%", or n_ppm = 150
# groups = ["fig in pots"] #~ without it, all that suit the kind
"""
