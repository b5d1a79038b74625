"""What the options of `mix` ask for: which garden, products, portions and groups."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from frostgate.cli.mix_values import written_units
from frostgate.errors import InputError
from frostgate.feeding.phases import default_phases, suits
from frostgate.feeding.products import read_product
from frostgate.feeding.stops import refuse_form
from frostgate.quantities import Units
from frostgate.terms.garden import Garden, PotGroup, Scoop, Site
from frostgate.terms.phases import Phase, Portion
from frostgate.terms.products import Product
from frostgate.values import dataclass, replace

if TYPE_CHECKING:
    from frostgate.cli.mix_wish import Wish

Kind = Literal["liquid", "top-dressing"]

NO_FILE = Path("the options")  # in place of a garden file's name
HOW_MANY = "Give --pots 12 --per-pot 1gal --bucket 5gal, or --bucket alone for one bucketful."
_EXACT = 1e-6
_GRADE = re.compile(r"\d\s*[-–]\s*\.?\d[\d.]*\s*[-–]\s*\.?\d")


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is fed, and to whom.

    Parameters
    ----------
    kind
        Poured or laid.
    portions
        What, and how strong.
    phase
        Of the season, where one was named.
    groups
        Who is fed.
    counted
        Whether pots were spoken of; else it is one bucketful.
    """

    kind: Kind
    portions: tuple[Portion, ...]
    phase: str | None
    groups: tuple[PotGroup, ...]
    counted: bool


def garden_asked(wish: Wish, written: Garden | None) -> tuple[Garden, tuple[Product, ...]]:
    """Give the garden with what the options state in place of its own, and the products they name.

    Parameters
    ----------
    wish
        The options.
    written
        The garden of the garden file; None where there is none.

    Raises
    ------
    InputError
        Where a product is neither listed nor described.
    """
    garden = written or Garden(file=NO_FILE, sites=(Site(name="options"),))
    named = tuple(_product(text, garden) for text in wish.products)
    own = {product.name: product for product in (*garden.products, *named)}
    rules = garden.rules
    if wish.ec_limit is not None:
        rules = replace(rules, ec_limit_ms_cm=wish.ec_limit)
    if wish.water_ec is not None:
        rules = replace(rules, water_ec_ms_cm=wish.water_ec)
    scoops = tuple(Scoop(name=scoop.text, volume_ml=scoop.amount * 1000.0) for scoop in wish.scoops)
    return replace(
        garden,
        products=tuple(own.values()),
        vessel_l=wish.bucket.amount if wish.bucket else garden.vessel_l,
        scoops=scoops or garden.scoops,
        rules=rules,
        units=wish.units or (garden.units if written else _units(wish, named)),
    ), tuple(dict.fromkeys(named))


def _product(text: str, garden: Garden) -> Product:
    listed = any(product.name == text.strip() for product in garden.products)
    if not listed and (_GRADE.search(text) or not garden.products):
        return read_product(text)
    return garden.product(text.strip())


def _units(wish: Wish, products: Sequence[Product]) -> Units:
    texts = [one.text for one in (wish.bucket, wish.per_pot, wish.stock, *wish.scoops, wish.height) if one]
    texts += [product.rate.text for product in products if product.rate]
    texts += [text.rpartition("=")[2] for text in wish.measured]
    return written_units(texts[0]) if texts else "metric"


def ask(wish: Wish, garden: Garden, products: tuple[Product, ...]) -> Asked:
    """Find out what is fed, and to whom.

    Parameters
    ----------
    wish
        The options.
    garden
        With what they state in place of its own.
    products
        That they name.

    Raises
    ------
    InputError
        Where something is missing or cannot be used.
    """
    phase = _phase(wish, garden) if wish.phase is not None else None
    if phase is None and not products:
        raise _nothing_named(garden)
    kind = phase.kind if phase else _kind(products)
    portions = _portions(wish, garden, phase, products)
    own = wish.pots is not None or garden.file == NO_FILE
    groups = (_own_group(wish, garden, kind),) if own else tuple(_groups(wish, garden, kind, phase, products))
    counted = not own or wish.pots is not None or wish.per_pot is not None
    return Asked(
        kind=kind,
        portions=portions,
        phase=phase.name if phase else None,
        groups=groups,
        counted=counted,
    )


def _nothing_named(garden: Garden) -> InputError:
    if not garden.products:
        return InputError(
            "nothing to mix is named",
            remedy='Name a product: --product "Spring feed 24-8-16 soluble 1 tbsp/gal"',
        )
    phases = ", ".join(phase.name for phase in _phases(garden)) or "none"
    products = ", ".join(product.name for product in garden.products)
    return InputError(
        "nothing to mix is named", remedy=f"Name a --phase ({phases}) or a --product ({products})."
    )


def _phases(garden: Garden) -> tuple[Phase, ...]:
    return garden.phases or default_phases(garden.products)


def _phase(wish: Wish, garden: Garden) -> Phase:
    if wish.products:
        raise InputError("both a phase and a product are named", remedy="Give --phase or --product.")
    phases = {phase.name: phase for phase in _phases(garden)}
    if wish.phase not in phases:
        known = ", ".join(phases) or "none, for it lists no products"
        raise InputError("no such phase in the garden", value=wish.phase, remedy=f"It has: {known}.")
    return phases[wish.phase]


def _kind(products: Sequence[Product]) -> Kind:
    laid = [product for product in products if product.form == "granular"]
    if laid and len(laid) < len(products):
        refuse_form(laid[0], "liquid")
    return "top-dressing" if laid else "liquid"


def _portions(
    wish: Wish, garden: Garden, phase: Phase | None, products: Sequence[Product]
) -> tuple[Portion, ...]:
    stated = phase.portions if phase else [Portion(product=one.name, strength=1.0) for one in products]
    if wish.strength is not None:
        stated = [Portion(product=portion.product, strength=wish.strength) for portion in stated]
    if wish.n_ppm is None:
        return tuple(stated)
    fed = [portion.product for portion in stated if garden.product(portion.product).analysis.n]
    if len(fed) != 1:
        raise InputError(
            "ppm of nitrogen can be asked of one product that holds it",
            value=", ".join(fed) or "none here does",
            remedy="Give --strength instead.",
        )
    by_ppm = Portion(product=fed[0], n_ppm=wish.n_ppm)
    return tuple(by_ppm if portion.product == fed[0] else portion for portion in stated)


def _own_group(wish: Wish, garden: Garden, kind: Kind) -> PotGroup:
    """Make the group that the options describe; without pots, those that one bucket feeds."""
    vessel_l, per_pot_l = garden.vessel_l, wish.per_pot.amount if wish.per_pot else None
    count = wish.pots
    if kind == "liquid" and wish.injector is None:
        if count is None and vessel_l is None:
            raise InputError("how much to mix is not stated", remedy=HOW_MANY)
        if count is not None and per_pot_l is None:
            raise InputError("how much each pot gets is not stated", remedy="Add --per-pot 1gal.")
        if count is None and vessel_l is not None:
            per_pot_l = per_pot_l or vessel_l
            count = max(1, int(vessel_l / per_pot_l + _EXACT))
    stage = wish.stage or "established"
    return PotGroup(
        name="pots" if stage != "in the ground" else "trees",
        tree="tree",
        count=count or 1,
        stage=stage,
        pot_l=per_pot_l or 1.0,  # the pot's own size is not asked for, and changes no mix
        per_pot_l=per_pot_l,
        height_m=wish.height.amount if wish.height else None,
        winters="outdoors",
        movable=False,
    )


def _groups(
    wish: Wish, garden: Garden, kind: Kind, phase: Phase | None, products: Sequence[Product]
) -> Iterator[PotGroup]:
    if wish.group is not None:
        chosen = [garden.group(wish.group)]
    elif phase is not None:
        chosen = [group for group in garden.groups if suits(phase, group)]
    else:
        chosen = [group for group in garden.groups if _takes(group, kind, products)]
    if not chosen:
        raise InputError("no group of the garden suits this", value=wish.phase or ", ".join(wish.products),
                         remedy="Name one with --group, or give --pots 12 --per-pot 1gal.")  # fmt: skip
    for group in chosen:
        yield _as_stated(wish, group)


def _takes(group: PotGroup, kind: Kind, products: Sequence[Product]) -> bool:
    if kind == "liquid":
        return group.per_pot_l is not None
    by_height = any(product.rate is not None and product.rate.per == "metre" for product in products)
    return group.height_m is not None if by_height else group.in_pots


def _as_stated(wish: Wish, group: PotGroup) -> PotGroup:
    if wish.stage is not None:
        raise InputError("the garden file states the stage of its groups", value=wish.stage,
                         remedy="Leave --stage out, or give --pots.")  # fmt: skip
    per_pot_l = wish.per_pot.amount if wish.per_pot else group.per_pot_l
    return replace(group, per_pot_l=per_pot_l, height_m=wish.height.amount if wish.height else group.height_m)
