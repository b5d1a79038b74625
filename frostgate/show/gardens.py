"""A garden file as one screen of text, and as an answer."""

from __future__ import annotations

from collections.abc import Iterator

from frostgate.model.feedings import Phase, SeasonRules
from frostgate.model.garden import Garden, PotGroup, Site
from frostgate.model.gate import Policy
from frostgate.model.products import Product
from frostgate.show.answers import Plain, plain
from frostgate.show.say import bullets, columns, counted, listed, say_month_day, say_side, section
from frostgate.units import (
    FOOT_M,
    POUND_G,
    TEASPOON_ML,
    TemperatureUnit,
    Units,
    say_mass,
    say_offset,
    say_share,
    say_temperature,
    say_volume,
)


def garden_lines(garden: Garden) -> Iterator[str]:
    """Write what a garden file holds, and what it leaves open."""
    yield (
        f"{garden.file.name} is sound: {counted(len(garden.sites), 'site')}, "
        f"{counted(len(garden.groups), 'group')} of pots, {counted(len(garden.products), 'product')}"
    ).replace("no group of", "no groups of")
    for site in garden.sites:
        yield from section(site.name, bullets(_site_sentences(site, garden.units)))
    yield from section("Pots", columns(_group_cells(group, garden.units) for group in garden.groups))
    yield from section(
        "Products", columns(_product_cells(product, garden.units) for product in garden.products)
    )
    yield from section("Mixing and the season", bullets(_season_sentences(garden)))
    yield from section("Missing, or taken by default", bullets(find_gaps(garden)))


def garden_answer(garden: Garden) -> Plain:
    """Return every value of a garden file, units in the names."""
    answer: Plain = plain(garden, {}, None)
    for said, product in zip(answer["products"], garden.products, strict=True):
        said["analysis"] |= {"grade": product.analysis.grade, "trace": dict(product.analysis.trace)}
    for said, window in zip(answer["no_feeding"], garden.no_feeding, strict=True):
        said |= {"first": _month_day(window.first), "last": _month_day(window.last)}
    return answer | {"missing": list(find_gaps(garden))}


def _site_sentences(site: Site, units: Units) -> Iterator[str]:
    unit: TemperatureUnit = "F" if units == "us" else "C"
    fetched = "of the station, from the archive" if site.station else "none"
    told = [f"Record {site.record.name if site.record else fetched}"]
    told.append(f"forecast {site.forecast.name if site.forecast else site.forecast_url or 'none'}")
    told += [f"{_length(site.elevation_m, units, 0)} above the sea"] if site.elevation_m is not None else []
    stated = {"station": site.station, "time zone": site.time_zone, "hemisphere": site.hemisphere,
              "unit of files": site.unit}  # fmt: skip
    told += [f"{name} {value}" for name, value in stated.items() if value]
    yield ", ".join(told) + "."
    yield _gate_sentence(site.policy, unit)


def _gate_sentence(policy: Policy, unit: TemperatureUnit) -> str:
    parts = [
        f"Gate: risk {say_share(policy.risk_tolerance)}",
        f"damage at {say_temperature(policy.damage_temp_c, unit)} or less",
        say_side(policy.offset_c, "the station", unit)
        + (f" (give or take {say_offset(policy.offset_sd_c, unit)})" if policy.offset_sd_c else ""),
    ]
    if policy.forecast_offset_c is not None:
        parts.append(say_side(policy.forecast_offset_c, "the forecast", unit))
    parts.append(f"exposed from {counted(policy.first_exposed_days, 'day')} after feeding")
    parts.append(f"a forecast is stale after {policy.max_age_hours:g} hours")
    return ", ".join(parts) + "."


def _group_cells(group: PotGroup, units: Units) -> tuple[str, ...]:
    pot = [f"{say_volume(group.pot_l, units)} pots"] if group.pot_l else []
    height = [f"{_length(group.height_m, units, 1)} high"] if group.height_m else []
    where = group.winters + (", movable" if group.movable else "")
    return (
        group.name,
        f"{group.count} x {group.tree}",
        ", ".join((*pot, *height)),
        group.stage,
        f"{say_volume(group.per_pot_l, units)} each" if group.per_pot_l else "no solution",
        where,
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
    bucket = say_volume(garden.vessel_l, garden.units) if garden.vessel_l else "not stated"
    scoops = ", ".join(scoop.name for scoop in garden.scoops) or "not stated"
    limit, water_ec = garden.rules.ec_limit_ms_cm, garden.rules.water_ec_ms_cm
    water = "not measured" if water_ec is None else f"{water_ec:g}"
    yield f"Bucket {bucket}; scoops {scoops}; no solution above {limit:g} mS/cm, the water's own {water}."
    packs = [_pack(product, garden) for product in garden.products if product.pack_g]
    if packs:
        yield f"Packages: {', '.join(packs)}."
    yield _rules_sentence(garden.rules, garden.units)
    for window in garden.no_feeding:
        first, last = (say_month_day(_month_day(day)) for day in (window.first, window.last))
        yield f"No feeding {first} to {last}, both included: {window.name}."
    if not garden.phases:
        yield "Programme: the usual one for these products; add [[phase]] for one of your own."
    for phase in garden.phases:
        yield _phase_sentence(phase)


def _pack(product: Product, garden: Garden) -> str:
    grams = product.pack_g or 0.0
    pack = f"{grams / POUND_G:.3g} lb" if garden.units == "us" else say_mass(grams, "metric")
    price = "" if product.price is None else f" at {product.price:.2f} {garden.currency}".rstrip()
    return f"{product.name} {pack}{price}"


def _rules_sentence(rules: SeasonRules, units: Units) -> str:
    risk = "the site's risk" if rules.autumn_risk is None else say_share(rules.autumn_risk)
    most = "no ceiling of nitrogen"
    if rules.n_per_pot_g is not None:
        most = f"at most {say_mass(rules.n_per_pot_g, units)} of nitrogen for a pot in a season"
    return (
        f"Last nitrogen {rules.stop_weeks:g} weeks before the first autumn frost (at {risk}); "
        f"{counted(rules.least_days, 'day')} or more between two feedings; {most}."
    )


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


def _month_day(month_day: tuple[int, int]) -> str:
    return f"{month_day[0]:02d}-{month_day[1]:02d}"


def _length(metres: float, units: Units, digits: int) -> str:
    number = metres / FOOT_M if units == "us" else metres
    return f"{round(number, digits):g} {'ft' if units == 'us' else 'm'}"


def find_gaps(garden: Garden) -> tuple[str, ...]:
    """Say in sentences what is missing in a garden, and what is only a default."""
    sites = (gap for site in garden.sites for gap in _gaps_of_site(site))
    return (*sites, *_gaps_of_groups(garden), *_gaps_of_products_and_tools(garden))


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
        yield f"No feed solution is stated for {listed(dry)}: add per_pot."
    by_height = any(product.rate and product.rate.per == "metre" for product in garden.products)
    unmeasured = [group.name for group in garden.groups if group.height_m is None and not group.in_pots]
    if by_height and unmeasured:
        yield f"A rate goes by height, and that of {listed(unmeasured)} is not stated: add height."


def _gaps_of_products_and_tools(garden: Garden) -> Iterator[str]:
    if not garden.products:
        yield "No [[product]]: there is nothing to feed with yet."
    without_rate = [product.name for product in garden.products if product.rate is None]
    if without_rate:
        yield f"No label rate is stated for {listed(without_rate)}: add rate."
    guessed = [product.name for product in garden.products if product.density_from == "default"]
    if guessed:
        yield (
            f"The density of {listed(guessed)} is a default, off by up to a fifth: weigh ten level spoons "
            'and add density = "... g/tsp" with density_from = "measured".'
        )
    if garden.vessel_l is None:
        yield "No bucket is stated: add bucket under [tools]."
    if not garden.scoops:
        yield "No scoops are stated, so any spoon is taken to be at hand: add scoops under [tools]."
