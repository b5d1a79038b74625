"""A mixing card for one page of paper: what goes into each bucket, large enough for wet hands."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from jinja2 import Environment, StrictUndefined

from frostgate.model.feedings import Dose, Feeding, Mix
from frostgate.model.garden import PotGroup
from frostgate.show.mixes import say_pots
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

_PAGE = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>{{ title }}: {{ day }}</title>
<style>
@page { margin: 9mm 11mm; }
* { box-sizing: border-box; }
html { color-scheme: light; font-size: {{ font_pt }}pt; }
body { margin: 0 auto; max-width: 194mm; padding: 4mm;
  background: {{ colours.paper }}; color: {{ colours.ink }};
  font: 1rem/1.25 Arial, "Liberation Sans", Helvetica, sans-serif; overflow-wrap: anywhere; }
header { display: flex; justify-content: space-between; align-items: baseline; gap: 6mm;
  border-bottom: 1mm solid {{ colours.ink }}; }
h1, h2, p, ol, ul, table { margin: 0; }
h1 { font-size: 1.65rem; }
header p { font-size: 1.3rem; font-weight: bold; }
section { margin-top: 2.5mm; border: .5mm solid {{ colours.ink }}; break-inside: avoid; }
.head { display: flex; justify-content: space-between; align-items: baseline; gap: 5mm;
  padding: .6mm 2.5mm; background: {{ colours.band }}; border-bottom: .3mm solid {{ colours.ink }};
  print-color-adjust: exact; -webkit-print-color-adjust: exact; }
h2 { font-size: 1.48rem; }
.head p { font-size: 1.13rem; text-align: right; }
table { width: 100%; border-collapse: collapse; table-layout: fixed; }
th, td { padding: .5mm 2.5mm; text-align: left; vertical-align: baseline; }
tr { border-bottom: .2mm solid {{ colours.grey }}; }
th + *, td + * { border-left: .2mm solid {{ colours.grey }}; }
th { font-size: 1.17rem; }
thead th, thead td { font-size: 1.17rem; font-weight: normal; }
thead b { font-size: 1.3rem; }
.spoons { font-size: 1.65rem; font-weight: bold; line-height: 1.1; }
small { font-size: .91rem; white-space: nowrap; font-weight: normal; color: {{ colours.grey }}; }
.box { display: inline-block; width: 1.1rem; height: 1.1rem; margin-right: 1.2mm; vertical-align: -.17rem;
  border: .4mm solid {{ colours.ink }}; }
.mind { margin: .8mm 2.5mm; padding: .3mm 2mm; font-weight: bold;
  border-left: 1.5mm solid {{ colours.mark }}; }
.note { display: flex; gap: 2mm; align-items: flex-end; padding: 1mm 2.5mm 1.3mm; }
.note i { flex: 1; height: 1.36rem; border-bottom: .2mm dotted {{ colours.ink }}; }
footer { display: flex; gap: 6mm; margin-top: 2mm; font-size: .92rem; break-inside: avoid; }
footer div { flex: 1; }
footer div + div { flex: 1.7; }
footer h2 { font-size: 1.04rem; }
footer ol, footer ul { padding-left: 5mm; }
@media print { body { max-width: none; padding: 0; } }
</style>
</head>
<body>
<header><h1>{{ title }}</h1><p>{{ day }}</p></header>
<main>
{% for group in groups %}
<section>
<div class="head"><h2>{{ group.name }}</h2><p>{{ group.pots }}</p></div>
{% for feeding in group.feedings %}
<table>
<thead><tr><td>{{ feeding.phase }} <small>{{ feeding.ec }}</small></td>
{% for column in feeding.columns %}
<th scope="col"><b>{{ column.what }}</b> {{ column.for_pots }}
{% for _ in range(column.ticks) %}<span class="box"></span>{% endfor %}</th>
{% endfor %}
</tr></thead>
<tbody>
{% for row in feeding.rows %}
<tr><th scope="row">{% if feeding.rows|length > 1 %}{{ loop.index }}. {% endif %}{{ row.product }}</th>
{% for dose in row.doses %}
<td><span class="spoons">{{ dose.spoons }}</span> <small>{{ dose.grams }}</small></td>
{% endfor %}
</tr>
{% endfor %}
</tbody>
</table>
{% endfor %}
{% for warning in group.warnings %}
<p class="mind">Mind: {{ warning }}</p>
{% endfor %}
<div class="note"><span class="box"></span> done at <i></i> notes <i></i><i></i><i></i></div>
</section>
{% else %}
<p>Nothing is to be mixed on this day.</p>
{% endfor %}
{% for warning in shared %}
<p class="mind">Mind: {{ warning }}</p>
{% endfor %}
</main>
{% if groups %}
<footer>
<div><h2>How to do it</h2><ol>{% for step in steps %}<li>{{ step }}</li>{% endfor %}</ol></div>
{% if cautions %}
<div><h2>Take care</h2><ul>{% for caution in cautions %}<li>{{ caution }}</li>{% endfor %}</ul></div>
{% endif %}
</footer>
{% endif %}
</body>
</html>
"""


Item = tuple[PotGroup, Feeding, Mix]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Column:
    """Fillings that are alike: how many there are, and what goes into one."""

    what: str
    for_pots: str
    ticks: int
    doses: tuple[Dose, ...]


def card_html(title: str, day: dt.date, items: Sequence[Item], units: Units) -> str:
    """Write a card to print: one page of A4 or US letter for four groups, in black on white.

    The page holds no script and asks for nothing from elsewhere; every name is escaped.
    """
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    mixes = [mix for _, _, mix in items]
    wet, dry = any(mix.buckets for mix in mixes), any(mix.per_pot for mix in mixes)
    shared = _shared_warnings(items)
    return environment.from_string(_PAGE).render(
        title=title,
        font_pt=FONT_PT if len(items) <= FEW else DENSE_PT,
        day=f"{day:%A} {day.day} {day:%B} {day.year}",
        groups=list(_groups(items, shared, units)),
        shared=shared,
        steps=(*(DRY_STEPS if dry else ()), *(LIQUID_STEPS if wet else ())),
        cautions=list(dict.fromkeys(caution for mix in mixes for caution in mix.cautions)),
        colours={"ink": INK, "grey": GREY, "paper": PAPER, "band": BAND, "mark": MARK},
    )


def _shared_warnings(items: Sequence[Item]) -> list[str]:
    """Return the warnings of more than one group: they stand once, below all."""
    groups: dict[str, set[str]] = {}
    for group, _, mix in items:
        for warning in mix.warnings:
            groups.setdefault(warning, set()).add(group.name)
    return [warning for warning, names in groups.items() if len(names) > 1]


def _groups(items: Sequence[Item], shared: Sequence[str], units: Units) -> Iterator[dict[str, object]]:
    """Return each group once, with all that it gets on this day."""
    for name in dict.fromkeys(group.name for group, _, _ in items):
        own = [item for item in items if item[0].name == name]
        warnings = dict.fromkeys(warning for item in own for warning in _warnings(item))
        yield {
            "name": name,
            "pots": say_pots(own[0][2].pots, own[0][0]),
            "feedings": [_feeding(item, units) for item in own],
            "warnings": [warning for warning in warnings if warning not in shared],
        }


def _warnings(item: Item) -> Iterator[str]:
    _, feeding, mix = item
    if feeding.status in {"held", "waiting"}:
        yield f"not yet: {feeding.reason}"
    yield from mix.warnings


def _feeding(item: Item, units: Units) -> dict[str, object]:
    group, feeding, mix = item
    columns = list(_columns(group, mix, units))
    return {
        "phase": f"{feeding.phase} {feeding.number}",
        "ec": "" if mix.ec_ms_cm is None else f"EC about {mix.ec_ms_cm:.1f} mS/cm",
        "columns": columns,
        "rows": list(_rows(columns, units)),
    }


def _columns(group: PotGroup, mix: Mix, units: Units) -> Iterator[_Column]:
    """Return each kind of filling once; where one pot takes several, some of them count no pot."""
    alike: dict[tuple[float, tuple[Dose, ...]], list[int]] = {}
    for bucket in mix.buckets:
        alike.setdefault((bucket.volume_l, bucket.doses), []).append(bucket.pots)
    for (volume_l, doses), pots in alike.items():
        count, volume = len(pots), say_volume(volume_l, units)
        what = volume if count == 1 else f"{count} × {volume}"
        yield _Column(what=what, for_pots=_for_pots(pots, group), ticks=count, doses=doses)
    if mix.per_pot:
        each = "each pot" if group.in_pots else "each tree"
        yield _Column(what=each, for_pots=f"of {mix.pots}", ticks=0, doses=mix.per_pot)


def _for_pots(pots: Sequence[int], group: PotGroup) -> str:
    if len(pots) == 1 or len(set(pots)) > 1:
        return f"for {say_pots(sum(pots), group)}"
    return f"each for {say_pots(pots[0], group)}"


def _rows(columns: Sequence[_Column], units: Units) -> Iterator[dict[str, object]]:
    """Return each product its dose in each column, in the order of adding."""
    by_column = [{dose.product.name: dose for dose in column.doses} for column in columns]
    for product in dict.fromkeys(name for doses in by_column for name in doses):
        found = [doses.get(product) for doses in by_column]
        yield {"product": product, "doses": [_measure(dose, units) for dose in found]}


def _measure(dose: Dose | None, units: Units) -> dict[str, str]:
    if dose is None:
        return {"spoons": "none", "grams": ""}
    if dose.product.form == "liquid":
        return {"spoons": dose.spoons, "grams": f"{dose.millilitres:.0f} mL, {dose.grams:.0f} g"}
    grams = say_mass(dose.grams, units)
    return {"spoons": dose.spoons, "grams": "" if grams in dose.spoons else grams}
