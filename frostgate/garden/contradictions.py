"""What in a garden file cannot hold together, and what it leaves out."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator
from typing import Any

from frostgate.errors import InputError
from frostgate.feeding.labels import make_product
from frostgate.garden.mistakes import Mistake, Place
from frostgate.garden.written import LONGEST_TEXT, parse_per_pot_l, parse_pot_l, parse_scoop_l, suggest
from frostgate.model.garden import WINTERS, Garden, Site
from frostgate.model.products import Product

Table = dict[str, Any]

NAMED = ("site", "pots", "product", "no_feeding", "phase")
LABEL = ("analysis", "form", "rate", "most", "density", "density_from", "secondary", "organic", "ec", "pack",
         "price")  # fmt: skip
SUITS = {"liquid": ("soluble", "liquid"), "top-dressing": ("granular",)}


def find_contradictions(values: Table, wrong: Collection[Place] = ()) -> Iterator[Mistake]:
    """Find names that stand twice, names of nothing, and statements that exclude each other."""
    for mistake in _find_all(values, wrong):
        if mistake.place not in wrong:
            yield mistake


def _find_all(values: Table, wrong: Collection[Place]) -> Iterator[Mistake]:
    for name in NAMED:
        yield from _check_names(name, values)
    for place, group in _tables("pots", values):
        yield from _check_pots(place, group)
    products: dict[str, Product | None] = {}
    for place, table in _tables("product", values):
        made = None if place in {other[:2] for other in wrong} else _make(table)
        products[_name(table)] = made if isinstance(made, Product) else None
        yield from _check_product(place, table, made)
    groups = _names("pots", values, wrong)
    known = _names("product", values, wrong)
    for place, phase in _tables("phase", values):
        yield from _check_phase(place, phase, groups)
        for at, portion in enumerate(_dicts(phase.get("feed"))):
            yield from _check_portion((*place, "feed", at), portion, known)
            product = products.get(str(portion.get("product")))
            if product is not None:
                yield from _check_use((*place, "feed", at), portion, phase.get("kind"), product)
    yield from _check_scoops(values.get("tools"))


def _names(name: str, values: Table, wrong: Collection[Place]) -> list[str] | None:
    """Return the names of a kind of table, or None where one of them cannot be told."""
    names = [_name(table) for _, table in _tables(name, values)]
    unsure = any(len(place) == 1 or (place[0], *place[2:]) == (name, "name") for place in wrong)
    return None if unsure or "" in names else names


def _check_names(name: str, values: Table) -> Iterator[Mistake]:
    seen: set[str] = set()
    for place, table in _tables(name, values):
        called = _name(table)
        if called and called.casefold() in seen:
            yield Mistake((*place, "name"), "name: it stands twice", called, "Give each a name of its own.")
        seen.add(called.casefold())


def _check_pots(place: Place, group: Table) -> Iterator[Mistake]:
    stage = group.get("stage")
    if stage == "in the ground":
        if "pot" in group:
            yield Mistake((*place, "pot"), "pot: trees in the ground have none", group["pot"],
                          "Leave it out, or write another stage.")  # fmt: skip
        if group.get("movable") is True:
            yield Mistake(
                (*place, "movable"), "movable: trees in the ground are not", "true", "Leave it out."
            )
    elif isinstance(stage, str):
        for key, example in (("pot", '"7 gal"'), ("winters", " or ".join(f'"{word}"' for word in WINTERS))):
            if key not in group:
                yield Mistake((*place, key), f"[[pots]] lacks {key!r}", None, f"Add {key} = {example}.")
    pot_l, per_pot_l = _read(parse_pot_l, group.get("pot")), _read(parse_per_pot_l, group.get("per_pot"))
    if pot_l is not None and per_pot_l is not None and per_pot_l > pot_l:
        yield Mistake((*place, "per_pot"), "per_pot: more solution than the pot holds", group["per_pot"],
                      f"The pot holds {group['pot']}.")  # fmt: skip


def _make(table: Table) -> Product | InputError:
    label = {key: table[key] for key in LABEL if key in table}
    try:
        return make_product(name=_name(table), **label)
    except InputError as error:
        return error


def _check_product(place: Place, table: Table, made: Product | InputError | None) -> Iterator[Mistake]:
    if isinstance(made, InputError):
        blamed = [key for key in LABEL if str(table.get(key)) == made.value]
        yield Mistake((*place, *blamed[:1]), made.what, made.value, made.remedy)
    elif made is not None:
        yield from _check_rates(place, table, made)


def _check_rates(place: Place, table: Table, product: Product) -> Iterator[Mistake]:
    rate, most = product.rate, product.most
    for key, stated in (("rate", rate), ("most", most)):
        if stated is not None and (stated.per == "litre") == (product.form == "granular"):
            how = (
                "pot or by height, such as 2 tbsp/pot"
                if stated.per == "litre"
                else "water, such as 1 tbsp/gal"
            )
            yield Mistake((*place, key), f"{key}: not a rate for a {product.form} product", table[key],
                          f"It goes by {how}.")  # fmt: skip
    if rate is None or most is None:
        return
    if rate.per == most.per and most.grams < rate.grams * (1.0 - 1e-9):
        yield Mistake((*place, "most"), "most: the label's largest rate is below its rate", table["most"],
                      f"The rate is {rate.text}.")  # fmt: skip
    if {rate.per, most.per} == {"pot", "metre"}:
        yield Mistake((*place, "most"), "most: it goes by another measure than the rate", table["most"],
                      f"The rate is {rate.text}.")  # fmt: skip


def _check_phase(place: Place, phase: Table, groups: list[str] | None) -> Iterator[Mistake]:
    named = phase.get("groups")
    for at, group in enumerate(named if isinstance(named, list) else ()):
        if groups is not None and isinstance(group, str) and group not in groups:
            yield Mistake((*place, "groups", at), "groups: no group of pots has this name", group,
                          suggest(group, groups))  # fmt: skip
    if "every" not in phase and phase.get("feedings") != 1 and "kind" in phase:
        yield Mistake((*place, "every"), "[[phase]] lacks 'every'", None,
                      'Add every = "10 days"; only a phase of one feeding needs none.')  # fmt: skip


def _check_portion(place: Place, portion: Table, products: list[str] | None) -> Iterator[Mistake]:
    if ("strength" in portion) == ("n_ppm" in portion):
        yield Mistake(place, "feed: each product needs either a strength or ppm of nitrogen",
                      portion.get("product"), 'Write strength = "full", or n_ppm = 150.')  # fmt: skip
    name = portion.get("product")
    if products is not None and isinstance(name, str) and name not in products:
        yield Mistake((*place, "product"), "product: none of this name is listed", name,
                      suggest(name, products))  # fmt: skip


def _check_use(place: Place, portion: Table, kind: object, product: Product) -> Iterator[Mistake]:
    forms = SUITS.get(kind, ()) if isinstance(kind, str) else ()
    if forms and product.form not in forms:
        yield Mistake((*place, "product"), f"product: a {kind} phase cannot use a {product.form} product",
                      product.name, f"It takes a product that is {' or '.join(forms)}.")  # fmt: skip
    if "strength" in portion and product.rate is None:
        yield Mistake((*place, "strength"), "strength: a share of a rate that the product does not state",
                      portion["strength"], f"Add the rate of {product.name!r}.")  # fmt: skip
    if "n_ppm" in portion and kind == "top-dressing":
        yield Mistake((*place, "n_ppm"), "n_ppm: a top-dressing is no solution", portion["n_ppm"],
                      'Write strength = "full".')  # fmt: skip
    elif "n_ppm" in portion and product.analysis.n == 0.0:
        yield Mistake((*place, "n_ppm"), "n_ppm: the product holds no nitrogen", product.analysis.grade,
                      'Write strength = "full".')  # fmt: skip


def _check_scoops(tools: object) -> Iterator[Mistake]:
    scoops = tools.get("scoops") if isinstance(tools, dict) else None
    seen: list[float] = []
    for at, text in enumerate(scoops if isinstance(scoops, list) else ()):
        scoop_l = _read(parse_scoop_l, text)
        if scoop_l is None:
            continue
        if scoop_l in seen:
            yield Mistake(("tools", "scoops", at), "scoops: one stands twice", text, "Leave it once.")
        seen.append(scoop_l)


def _tables(name: str, values: Table) -> Iterator[tuple[Place, Table]]:
    stated = values.get(name)
    for at, table in enumerate(stated if isinstance(stated, list) else ()):
        if isinstance(table, dict):
            yield (name, at), table


def _dicts(stated: object) -> list[Table]:
    return [part for part in stated if isinstance(part, dict)] if isinstance(stated, list) else []


def _name(table: Table) -> str:
    name = table.get("name")
    return name if isinstance(name, str) else ""


def _read(read: Callable[[str], float], stated: object) -> float | None:
    try:
        return read(stated) if isinstance(stated, str) and len(stated) <= LONGEST_TEXT else None
    except InputError:
        return None


def find_gaps(garden: Garden) -> tuple[str, ...]:
    """Say in sentences what is missing in a garden, and what is only a default."""
    sites = (gap for site in garden.sites for gap in _gaps_of_site(site))
    return (*sites, *_gaps_of_groups(garden), *_gaps_of_products(garden), *_gaps_of_tools(garden))


def _gaps_of_site(site: Site) -> Iterator[str]:
    if site.record is None:
        if site.station is None:
            yield (
                f"{site.name} names neither a record nor a station: without one the verdict is unknown. Add "
                'record = "FILE", or station = "ID" (frostgate stations near finds one).'
            )
    elif not site.record.is_file():
        yield f"The record of {site.name} is not there: {site.record}."
    if site.forecast is None and site.forecast_url is None:
        yield f'{site.name} names no forecast: without one the verdict is unknown. Add forecast = "FILE".'
    elif site.forecast is not None and not site.forecast.is_file():
        yield f"The forecast of {site.name} is not there: {site.forecast}."
    if site.policy.offset_c == 0.0:
        yield f"{site.name} is taken to be as cold as its station; frostgate siting tells what is likely."
    elif site.policy.offset_sd_c == 0.0:
        yield f"The offset of {site.name} is taken to be exact; frostgate siting tells its spread."


def _gaps_of_groups(garden: Garden) -> Iterator[str]:
    if not garden.groups:
        yield "No [[pots]]: there is nothing to feed yet."
    dry = [group.name for group in garden.groups if group.per_pot_l is None and group.in_pots]
    if dry:
        yield f"No feed solution is stated for {_listed(dry)}: add per_pot."
    by_height = any(product.rate and product.rate.per == "metre" for product in garden.products)
    unmeasured = [group.name for group in garden.groups if group.height_m is None and not group.in_pots]
    if by_height and unmeasured:
        yield f"A rate goes by height, and that of {_listed(unmeasured)} is not stated: add height."


def _gaps_of_products(garden: Garden) -> Iterator[str]:
    if not garden.products:
        yield "No [[product]]: there is nothing to feed with yet."
    without_rate = [product.name for product in garden.products if product.rate is None]
    if without_rate:
        yield f"No label rate is stated for {_listed(without_rate)}: add rate."
    guessed = [product.name for product in garden.products if product.density_from == "default"]
    if guessed:
        yield (
            f"The density of {_listed(guessed)} is a default, off by up to a fifth: weigh ten level spoons "
            'and add density = "... g/tsp" with density_from = "measured".'
        )


def _gaps_of_tools(garden: Garden) -> Iterator[str]:
    if garden.vessel_l is None:
        yield "No bucket is stated: add bucket under [tools]."
    if not garden.scoops:
        yield "No scoops are stated, so any spoon is taken to be at hand: add scoops under [tools]."


def _listed(names: Iterable[str]) -> str:
    *most, last = names
    return f"{', '.join(most)} and {last}" if most else last
