"""What a garden file leaves open, and what is taken in its place."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from frostgate.terms.garden import Garden, Site


def find_gaps(garden: Garden) -> tuple[str, ...]:
    """Say in sentences what is missing in a garden, and what is only a default.

    Examples
    --------
    >>> from pathlib import Path
    >>> find_gaps(Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),)))[1]
    'Hollin Bank names no forecast: without one the verdict is unknown. Add forecast = "FILE".'
    """
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
