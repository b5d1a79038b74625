"""Plain values of a garden file that were found sound, as the garden they describe."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from frostgate.feeding.phases import ONCE_DAYS
from frostgate.feeding.products import make_product
from frostgate.garden import written
from frostgate.garden.addresses import is_address
from frostgate.terms.garden import Garden, PotGroup, Scoop, Site
from frostgate.terms.network import Network
from frostgate.terms.phases import NoFeeding, Phase, Portion, SeasonRules
from frostgate.terms.policy import Policy
from frostgate.terms.products import Product
from frostgate.units import parse_offset

Table = dict[str, Any]


def make_garden(values: Table, file: Path) -> Garden:
    """Make a garden of plain values; files are named from the garden file's own folder.

    Raises
    ------
    InputError
        Where a value cannot be used.

    Examples
    --------
    >>> garden = make_garden({"site": [{"name": "Hollin Bank", "risk": "5%"}]}, Path("garden.toml"))
    >>> garden.home.policy.risk_tolerance
    0.05
    """
    tools, rules = values.get("tools", {}), values.get("rules", {})
    return Garden(
        file=file,
        sites=tuple(_site(table, file.parent) for table in values["site"]),
        groups=tuple(_group(table) for table in values.get("pots", ())),
        products=tuple(_product(table) for table in values.get("product", ())),
        vessel_l=written.parse_vessel_l(tools["bucket"]) if "bucket" in tools else None,
        scoops=tuple(_scoop(text) for text in tools.get("scoops", ())),
        no_feeding=tuple(_no_feeding(table) for table in values.get("no_feeding", ())),
        phases=tuple(_phase(table) for table in values.get("phase", ())),
        rules=_rules(rules, tools.get("water_ec")),
        network=Network(**values.get("network", {})),
        units=values.get("units", "metric"),
        currency=values.get("currency", ""),
    )


def _site(table: Table, folder: Path) -> Site:
    as_written = ("name", "station", "hemisphere", "time_zone", "unit")
    forecast = table.get("forecast")
    by_address = forecast is not None and is_address(forecast)
    return Site(
        **{key: table[key] for key in as_written if key in table},
        record=folder / table["record"] if "record" in table else None,
        forecast=None if forecast is None or by_address else folder / forecast,
        forecast_url=forecast if by_address else None,
        elevation_m=written.parse_elevation_m(table["elevation"]) if "elevation" in table else None,
        policy=_policy(table),
    )


def _policy(table: Table) -> Policy:
    readers: dict[str, tuple[str, Callable[[Any], float]]] = {
        "risk": ("risk_tolerance", written.parse_tolerance),
        "damage_temp": ("damage_temp_c", written.parse_damage_temp_c),
        "offset": ("offset_c", _offset_c),
        "offset_spread": ("offset_sd_c", written.parse_spread_c),
        "forecast_offset": ("forecast_offset_c", _offset_c),
        "exposed_from": ("first_exposed_days", int),
        "max_age_hours": ("max_age_hours", float),
    }
    stated: dict[str, Any] = {name: read(table[key]) for key, (name, read) in readers.items() if key in table}
    return Policy(**stated)


def _offset_c(text: str) -> float:
    return parse_offset(text)[0]


def _group(table: Table) -> PotGroup:
    readers: dict[str, tuple[str, Callable[[str], float]]] = {
        "pot": ("pot_l", written.parse_pot_l),
        "per_pot": ("per_pot_l", written.parse_per_pot_l),
        "height": ("height_m", written.parse_height_m),
    }
    sizes: dict[str, Any] = {name: read(table[key]) for key, (name, read) in readers.items() if key in table}
    return PotGroup(
        **{key: table[key] for key in ("name", "tree", "count", "stage")},
        **sizes,
        winters=table.get("winters", "outdoors"),  # only trees in the ground need not say it
        movable=table.get("movable", False),
    )


def _product(table: Table) -> Product:
    return make_product(**table)


def _scoop(text: str) -> Scoop:
    return Scoop(name=text, volume_ml=written.parse_scoop_l(text) * 1000.0)


def _no_feeding(table: Table) -> NoFeeding:
    first, last = written.parse_month_day(table["from"]), written.parse_month_day(table["to"])
    return NoFeeding(name=table["name"], first=first, last=last)


def _phase(table: Table) -> Phase:
    return Phase(
        name=table["name"],
        kind=table["kind"],
        anchor=table["starts"],
        after_days=written.parse_days(table.get("after", "0 days")),
        every_days=written.parse_interval(table["every"]) if "every" in table else ONCE_DAYS,
        portions=tuple(_portion(portion) for portion in table["feed"]),
        feedings=table.get("feedings"),
        groups=tuple(table.get("groups", ())),
    )


def _portion(table: Table) -> Portion:
    strength = written.parse_strength(table["strength"]) if "strength" in table else None
    return Portion(product=table["product"], strength=strength, n_ppm=table.get("n_ppm"))


def _rules(table: Table, water_ec_ms_cm: float | None) -> SeasonRules:
    stated: dict[str, Any] = {key: table[key] for key in ("stop_weeks", "least_days") if key in table}
    if "n_per_pot" in table:
        stated["n_per_pot_g"] = written.parse_nitrogen_g(table["n_per_pot"])
    if "ec_limit" in table:
        stated["ec_limit_ms_cm"] = table["ec_limit"]
    if "autumn_risk" in table:
        stated["autumn_risk"] = written.parse_tolerance(table["autumn_risk"])
    return SeasonRules(**stated, water_ec_ms_cm=water_ec_ms_cm)
