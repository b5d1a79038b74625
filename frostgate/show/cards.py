"""A mixing card for one page of paper: what goes into each bucket, large enough for wet hands."""

from __future__ import annotations

import datetime as dt
import itertools
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined

from frostgate.errors import InputError
from frostgate.feeding.shopping import MixedFeeding
from frostgate.files import write_whole
from frostgate.model.feedings import Dose, Feeding, Mix
from frostgate.model.garden import Garden, PotGroup
from frostgate.show.mixes import next_feedings, say_pots
from frostgate.show.say import once
from frostgate.units import Units, say_mass, say_volume

INK, GREY, PAPER, BAND = "#111111", "#444444", "#FFFFFF", "#ECECEC"
MARK = "#B34700"  # a darker vermillion than that of Okabe and Ito: contrast on paper; never the only sign

FONT_PT, DENSE_PT, FEW = 11.5, 9.5, 4  # plain text; the doses are 1.65 times as large

# Common practice, no source.
LIQUID_STEPS = (
    "Fill the bucket half full of water.",
    "Add the products in the order listed; stir until each is dissolved.",
    "Fill up with water, stir, and pour at once.",
)
DRY_STEPS = ("Lay granules first: the feed or the water that follows wets them.",)

HELD = {"held", "waiting"}
Item = tuple[PotGroup, Feeding, Mix]


def write_card(path: Path, garden: Garden, mixed: Sequence[MixedFeeding]) -> None:
    """Write a card for the next day on which something is mixed; it is whole or unchanged."""
    coming = next_feedings(mixed)
    items = [(garden.group(one.feeding.group), one.feeding, one.mix) for one in coming if one.mix is not None]
    day = coming[0].feeding.date if coming else None
    if day is None:
        raise InputError("no day of feeding is dated, so there is no card to write", file=path)
    write_whole(path, card_html(garden.home.name, day, items, garden.units))


def card_html(title: str, day: dt.date, items: Sequence[Item], units: Units) -> str:
    """Write a card to print: one page of A4 or US letter for four groups, in black on white.

    The page holds no script and asks for nothing from elsewhere; every name is escaped.
    """
    pages = Environment(
        loader=PackageLoader("frostgate", "show"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
    )
    mixes = [mix for _, _, mix in items]
    wet, dry = any(mix.buckets for mix in mixes), any(mix.per_pot for mix in mixes)
    groups = dict.fromkeys(group.name for group, _, _ in items)
    told = (once(mix.warnings for group, _, mix in items if group.name == name) for name in groups)
    times = Counter(itertools.chain.from_iterable(told))
    shared = [warning for warning, count in times.items() if count > 1]  # they stand once, below all
    return pages.get_template("card.html").render(
        title=title,
        font_pt=FONT_PT if len(items) <= FEW else DENSE_PT,
        day=f"{day:%A} {day.day} {day:%B} {day.year}",
        groups=list(_groups(items, shared, units)),
        shared=shared,
        steps=(*(DRY_STEPS if dry else ()), *(LIQUID_STEPS if wet else ())),
        cautions=once(mix.cautions for mix in mixes),
        colours={"ink": INK, "grey": GREY, "paper": PAPER, "band": BAND, "mark": MARK},
    )


def _groups(items: Sequence[Item], shared: Sequence[str], units: Units) -> Iterator[dict[str, object]]:
    """Return each group once, with all that it gets on this day."""
    for name in dict.fromkeys(group.name for group, _, _ in items):
        own = [item for item in items if item[0].name == name]
        held = (f"not yet: {feeding.reason}" for _, feeding, _ in own if feeding.status in HELD)
        warnings = once([held, *(mix.warnings for _, _, mix in own)])
        yield {
            "name": name,
            "pots": say_pots(own[0][2].pots, own[0][0]),
            "feedings": [_feeding(item, units) for item in own],
            "warnings": [warning for warning in warnings if warning not in shared],
        }


def _feeding(item: Item, units: Units) -> dict[str, object]:
    group, feeding, mix = item
    columns = list(_columns(group, mix, units))
    by_column = [{dose.product.name: dose for dose in column["doses"]} for column in columns]
    return {
        "phase": f"{feeding.phase} {feeding.number}",
        "ec": "" if mix.ec_ms_cm is None else f"EC about {mix.ec_ms_cm:.1f} mS/cm",
        "columns": columns,
        "rows": [  # in the order of adding
            {"product": product, "doses": [_measure(doses.get(product), units) for doses in by_column]}
            for product in once(by_column)
        ],
    }


def _columns(group: PotGroup, mix: Mix, units: Units) -> Iterator[dict[str, Any]]:
    """Return each kind of filling once; where one pot takes several, some of them count no pot."""
    alike: dict[tuple[float, tuple[Dose, ...]], list[int]] = {}
    for bucket in mix.buckets:
        alike.setdefault((bucket.volume_l, bucket.doses), []).append(bucket.pots)
    for (volume_l, doses), pots in alike.items():
        count, volume = len(pots), say_volume(volume_l, units)
        what = volume if count == 1 else f"{count} × {volume}"
        same = count > 1 and len(set(pots)) == 1
        for_pots = f"each for {say_pots(pots[0], group)}" if same else f"for {say_pots(sum(pots), group)}"
        yield {"what": what, "for_pots": for_pots, "ticks": count, "doses": doses}
    if mix.per_pot:
        what = "each pot" if group.in_pots else "each tree"
        yield {"what": what, "for_pots": f"of {mix.pots}", "ticks": 0, "doses": mix.per_pot}


def _measure(dose: Dose | None, units: Units) -> dict[str, str]:
    if dose is None:
        return {"spoons": "none", "grams": ""}
    if dose.product.form == "liquid":
        return {"spoons": dose.spoons, "grams": f"{dose.millilitres:.0f} mL, {dose.grams:.0f} g"}
    grams = say_mass(dose.grams, units)
    return {"spoons": dose.spoons, "grams": "" if grams in dose.spoons else grams}
