"""What a garden file says and leaves open, and what stands in its journal: as text, and as answers."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Iterator, Sequence
from pathlib import Path

from frostgate.feeding.season import say_window
from frostgate.model.feedings import Phase, Product
from frostgate.model.garden import Damaged, Entry, Garden, PotGroup, Site
from frostgate.seasons import as_month_day
from frostgate.show.answers import Plain, plain
from frostgate.show.say import bullets, columns, counted, listed, say_side, section
from frostgate.units import (
    FOOT_M,
    TEASPOON_ML,
    TemperatureUnit,
    Units,
    say_mass,
    say_offset,
    say_share,
    say_temperature,
    say_volume,
)

SHOWN_ID = 8  # letters of an entry's id, as many as a grower types
NAMED = 5  # faults of a file
OF_ITSELF = {"minimum", "feeding", "forecast", "verdict"}  # kinds of entry that tell more than a note


def garden_lines(garden: Garden) -> Iterator[str]:
    """Write what a garden file holds, and what it leaves open."""
    yield (
        f"{garden.file.name} is sound: {counted(len(garden.sites), 'site')}, "
        f"{counted(len(garden.groups), 'group')} of pots, {counted(len(garden.products), 'product')}"
    ).replace("no group of", "no groups of")
    for site in garden.sites:
        yield from section(site.name, bullets(_site_sentences(site, garden)))
    yield from section("Pots", columns(_group_cells(group, garden.units) for group in garden.groups))
    cells = (_product_cells(product, garden.units) for product in garden.products)
    yield from section("Products", columns(cells))
    yield from section("Mixing and the season", bullets(_season_sentences(garden)))
    yield from section("Missing, or taken by default", bullets(find_gaps(garden)))


def garden_answer(garden: Garden) -> Plain:
    """Return every value of a garden file, units in the names."""
    answer: Plain = plain(garden, {}, None)
    for said, product in zip(answer["products"], garden.products, strict=True):
        said["analysis"] |= {"grade": product.analysis.grade, "trace": dict(product.analysis.trace)}
    for said, rule in zip(answer["no_feeding"], garden.no_feeding, strict=True):
        said |= {"first": as_month_day(*rule.first), "last": as_month_day(*rule.last)}
    return answer | {"missing": list(find_gaps(garden))}


def _site_sentences(site: Site, garden: Garden) -> Iterator[str]:
    unit, policy = garden.temperature_unit, site.policy
    fetched = "of the station, from the archive" if site.station else "none"
    stated = {
        "Record": site.record.name if site.record else fetched,
        "forecast": site.forecast.name if site.forecast else site.forecast_url or "none",
        "elevation": None if site.elevation_m is None else _length(site.elevation_m, garden.units, 0),
        "station": site.station,
        "time zone": site.time_zone,
        "hemisphere": site.hemisphere,
        "unit of the record": site.unit,
        "unit of the forecast": site.forecast_unit,
    }
    yield ", ".join(f"{name} {value}" for name, value in stated.items() if value) + "."
    sides = say_side(policy.offset_c, "the station", unit)
    if policy.offset_sd_c:
        sides += f" (give or take {say_offset(policy.offset_sd_c, unit)})"
    if policy.forecast_offset_c is not None:
        sides += f", {say_side(policy.forecast_offset_c, 'the forecast', unit)}"
    yield (
        f"Gate: risk {say_share(policy.risk_tolerance)}, damage at "
        f"{say_temperature(policy.damage_temp_c, unit)} or less, {sides}, exposed from "
        f"{counted(policy.first_exposed_days, 'day')} after feeding, a forecast is stale after "
        f"{policy.max_age_hours:g} hours."
    )


def _group_cells(group: PotGroup, units: Units) -> tuple[str, ...]:
    pot = [f"{say_volume(group.pot_l, units)} pots"] if group.pot_l else []
    height = [f"{_length(group.height_m, units, 1)} high"] if group.height_m else []
    return (
        group.name,
        f"{group.count} x {group.tree}",
        ", ".join((*pot, *height)),
        group.stage,
        f"{say_volume(group.per_pot_l, units)} each" if group.per_pot_l else "no solution",
        group.winters + (", movable" if group.movable else ""),
    )


def _product_cells(product: Product, units: Units) -> tuple[str, ...]:
    analysis = product.analysis
    others = {"Mg": analysis.mg, "S": analysis.s, "Ca": analysis.ca, **dict(analysis.trace)}
    also = "".join(f" {name} {share:g}" for name, share in others.items() if share)
    most = f", most {product.most.text}" if product.most else ""
    density_g_ml, us = product.density_g_ml, units == "us"
    density = f"{density_g_ml * TEASPOON_ML:.2g} g/tsp" if us else f"{density_g_ml:.2g} g/mL"
    return (
        product.name,
        analysis.grade + also,
        ("organic " if product.organic else "") + product.form,
        (product.rate.text if product.rate else "no rate") + most,
        f"{density}, {product.density_from}",
    )


def _season_sentences(garden: Garden) -> Iterator[str]:
    rules, units = garden.rules, garden.units
    bucket = say_volume(garden.vessel_l, units) if garden.vessel_l else "not stated"
    scoops = ", ".join(scoop.name for scoop in garden.scoops) or "not stated"
    water = "not measured" if rules.water_ec_ms_cm is None else f"{rules.water_ec_ms_cm:g}"
    yield (
        f"Bucket {bucket}; scoops {scoops}; no solution above {rules.ec_limit_ms_cm:g} mS/cm, "
        f"the water's own {water}."
    )
    packs = [_pack(product, garden) for product in garden.products if product.pack_g]
    if packs:
        yield f"Packages: {', '.join(packs)}."
    risk = "the site's risk" if rules.autumn_risk is None else say_share(rules.autumn_risk)
    most = "no ceiling of nitrogen"
    if rules.n_per_pot_g is not None:
        most = f"at most {say_mass(rules.n_per_pot_g, units)} of nitrogen for a pot in a season"
    yield (
        f"Last nitrogen {rules.stop_weeks:g} weeks before the first autumn frost (at {risk}); "
        f"{counted(rules.least_days, 'day')} or more between two feedings; {most}."
    )
    for rule in garden.no_feeding:
        yield f"No feeding {say_window(rule)}, both included: {rule.name}."
    if not garden.phases:
        yield "Programme: the usual one for these products; add [[phase]] for one of your own."
    yield from map(_phase_sentence, garden.phases)


def _pack(product: Product, garden: Garden) -> str:
    price = "" if product.price is None else f" at {product.price:.2f} {garden.currency}".rstrip()
    return f"{product.name} {say_mass(product.pack_g or 0.0, garden.units)}{price}"


def _phase_sentence(phase: Phase) -> str:
    fed = " and ".join(
        f"{portion.product} "
        + (f"at {portion.n_ppm:g} ppm N" if portion.strength is None else f"{portion.strength * 100:g} %")
        for portion in phase.portions
    )
    often = "once" if phase.feedings == 1 else f"every {counted(phase.every_days, 'day')}"
    times = f", {phase.feedings} times" if phase.feedings and phase.feedings > 1 else ""
    anchor = phase.anchor if phase.anchor in {"bud break", "fruit set"} else f"the {phase.anchor}"
    begins = f"{counted(phase.after_days, 'day')} after {anchor}" if phase.after_days else f"from {anchor}"
    groups = f", for {', '.join(phase.groups)}" if phase.groups else ""
    return f"Phase {phase.name} ({phase.kind}): {fed}, {often}{times}, {begins}{groups}."


def _length(metres: float, units: Units, digits: int) -> str:
    number = metres / FOOT_M if units == "us" else metres
    return f"{round(number, digits):g} {'ft' if units == 'us' else 'm'}"


def find_gaps(garden: Garden) -> tuple[str, ...]:
    """Say in sentences what is missing in a garden, and what is only a default."""
    groups, products = garden.groups, garden.products
    by_height = any(one.rate and one.rate.per == "metre" for one in products)
    gaps: dict[str, object] = {}  # each with whether it is one, or with those of whom it is one
    for site in garden.sites:
        name, record, forecast, policy = site.name, site.record, site.forecast, site.policy
        unrecorded = (
            f"{name} names neither a record nor a station: without one the verdict is unknown. Add "
            'record = "FILE", or station = "ID" (frostgate stations near finds one).'
        )
        unforecast = f'{name} names no forecast: without one the verdict is unknown. Add forecast = "FILE".'
        at_station = f"{name} is taken to be as cold as its station; frostgate siting tells what is likely."
        exact = f"The offset of {name} is taken to be exact; frostgate siting tells its spread."
        gaps |= {
            unrecorded: not (record or site.station),
            f"The record of {name} is not there: {record}.": record and not record.is_file(),
            unforecast: not (forecast or site.forecast_url),
            f"The forecast of {name} is not there: {forecast}.": forecast and not forecast.is_file(),
            at_station: not policy.offset_c,
            exact: policy.offset_c and not policy.offset_sd_c,
        }
    guessed = (
        "The density of {} is a default, off by up to a fifth: weigh ten level spoons and add "
        'density = "... g/tsp" with density_from = "measured".'
    )
    gaps |= {
        "No [[pots]]: there is nothing to feed yet.": not groups,
        "No feed solution is stated for {}: add per_pot.": [
            one.name for one in groups if one.per_pot_l is None and one.in_pots
        ],
        "A rate goes by height, and that of {} is not stated: add height.": [
            one.name for one in groups if by_height and one.height_m is None and not one.in_pots
        ],
        "No [[product]]: there is nothing to feed with yet.": not products,
        "No label rate is stated for {}: add rate.": [one.name for one in products if one.rate is None],
        guessed: [one.name for one in products if one.density_from == "default"],
        "No bucket is stated: add bucket under [tools].": garden.vessel_l is None,
        "No scoops are stated, so any spoon will be taken: add scoops under [tools].": not garden.scoops,
    }
    told = ((gap, found) for gap, found in gaps.items() if found)
    return tuple(gap.format(listed(found)) if isinstance(found, list) else gap for gap, found in told)


def entry_lines(entries: Iterable[Entry], gone: Collection[str], units: Units) -> Iterator[str]:
    """Write a journal's entries in rows: the day, the short id, what it tells, and whether it was undone."""
    for entry in entries:
        undone = "  [undone]" if entry.id in gone else ""
        yield f"{entry.on}  {short_id(entry.id):<{SHOWN_ID}}  {say_entry(entry, units)}{undone}"


def entries_answer(entries: Iterable[Entry], gone: Collection[str], damaged: Iterable[Damaged] = ()) -> Plain:
    """Return entries with all their fields, whether they were undone, and what is damaged and left out."""
    told = [plain(entry, {}, None) | {"undone": entry.id in gone} for entry in entries]
    return {"entries": told, "damaged": [plain(one, {}, None) for one in damaged]}


def checked_lines(
    sound: int, damaged: Collection[Damaged], faults: Sequence[str], copies: Sequence[Path]
) -> Iterator[str]:
    """Tell how a journal was found: its entries, what is damaged, and the copies kept of it."""
    yield f"{counted(sound, 'entry', 'entries')} can be read."
    yield from damaged_lines(damaged)
    yield from (f"The file: {fault}." for fault in faults[:NAMED])
    if len(faults) > NAMED:
        yield f"The file: {counted(len(faults) - NAMED, 'further fault')} of the kind."
    if copies:
        kept = counted(len(copies), "copy", "copies")
        yield f"{kept} kept in {copies[0].parent}, the latest {copies[0].name}."
    else:
        yield "No copy is kept yet: one is made once a week, when something is written down."
    if not damaged and not faults:
        yield "The journal is sound."


def damaged_lines(damaged: Iterable[Damaged]) -> Iterator[str]:
    """Name damaged entries, and show what still stands in them."""
    for one in damaged:
        text = f": {one.text}" if one.text else "; nothing of it can be read"
        yield f"Entry {one.number} ({one.name or 'of which nothing is known'}) is damaged{text}"


def short_id(entry_id: str) -> str:
    """Shorten an id to what a grower types."""
    return entry_id[:SHOWN_ID]


def say_entry(entry: Entry, units: Units) -> str:
    """Say what an entry tells, without its day."""
    if entry.kind == "undo":
        return f"undo of {short_id(entry.undoes or '')}"
    said = ", ".join(part for part in _parts(entry, units) if part)
    of, is_noted = f" of {entry.group}" if entry.group else "", entry.kind not in OF_ITSELF
    return f"{entry.kind}{of}{':' if said and (of or is_noted) else ''} {said}".rstrip()


def _parts(entry: Entry, units: Units) -> tuple[str | None, ...]:
    """Return the parts of what an entry tells; none or empty where its body does not hold one."""
    body = entry.body
    unit: TemperatureUnit = "F" if units == "us" else "C"
    match entry.kind:
        case "minimum":
            return (say_temperature(float(body["tmin_c"]), unit),)
        case "feeding":
            phase, kind, pots, n_mg = map(body.get, ("phase", "feeding_kind", "pots", "n_per_pot_mg"))
            doses = " + ".join(
                f"{say_mass(dose['grams'], units)} {dose['product']}" for dose in body["doses"]
            )
            n = None if n_mg is None else f"{n_mg:.0f} mg N a pot"
            own_kind = None if kind == phase else kind
            return phase, own_kind, doses or "mix not stated", pots and counted(pots, "pot"), n
        case "forecast":
            lows_c = {
                night["morning"]: float(night["tmin_c"])
                for night in body["nights"]
                if night.get("tmin_c") is not None
            }
            if not lows_c:
                return ("no night",)
            coldest = min(lows_c, key=lambda morning: lows_c[morning])
            made = dt.datetime.fromisoformat(body["issued_at"]).isoformat(sep=" ", timespec="minutes")
            cold = f"coldest {say_temperature(lows_c[coldest], unit)} on {coldest}"
            return f"made {made}", counted(len(lows_c), "night"), cold
        case "verdict":
            risk, earliest = body.get("risk_today"), body.get("earliest_date")
            stated = None if risk is None else f"risk {say_share(risk)}"
            return body["state"], stated, earliest and f"earliest {earliest}"
        case _:
            return (" ".join((body.get("note") or "").split()),)
