"""What really went into the bucket, as the grower states it, made into the body of a feeding."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

from frostgate.errors import InputError
from frostgate.feeding.phases import default_phases
from frostgate.quantities import parse_quantity
from frostgate.terms.garden import Garden, PotGroup
from frostgate.terms.phases import Phase
from frostgate.terms.products import Product
from frostgate.values import dataclass

FeedingKind = Literal["liquid", "top-dressing"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fed:
    """So much of a product, in all buckets together.

    Parameters
    ----------
    product
        Which.
    grams
        How much [g].

    Examples
    --------
    >>> from frostgate.terms.products import Analysis
    >>> feed = Product(name="Spring feed", analysis=Analysis(n=24, p2o5=8, k2o=16), form="soluble",
    ...                density_g_ml=1.2, density_from="default", rate=None)
    >>> round(Fed(product=feed, grams=30.0).n_g, 3)
    7.2
    """

    product: Product
    grams: float

    @property
    def n_g(self) -> float:
        """The nitrogen in it [g]."""
        return self.grams * self.product.analysis.shares["N"]


def parse_fed(text: str, garden: Garden) -> Fed:
    """Read a product and its amount, such as ``Spring feed=30 g`` or ``Spring feed=2 tbsp``.

    Raises
    ------
    InputError
        Where the garden has no such product, or the amount cannot be read.

    Examples
    --------
    >>> from pathlib import Path
    >>> from frostgate.terms.garden import Site
    >>> from frostgate.terms.products import Analysis
    >>> feed = Product(name="Spring feed", analysis=Analysis(n=24, p2o5=8, k2o=16), form="soluble",
    ...                density_g_ml=1.2, density_from="default", rate=None)
    >>> garden = Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),), products=(feed,))
    >>> round(parse_fed("Spring feed=2 tbsp", garden).grams, 1)
    35.5
    """
    name, equals, amount = text.rpartition("=")
    if not equals:
        raise InputError("not a product and its amount", value=text, remedy='Write it as "NAME=30 g".')
    product = garden.product(name.strip())
    quantity = parse_quantity(amount, "mass", "volume")
    is_mass = quantity.measure == "mass"
    return Fed(product=product, grams=quantity.amount * (1.0 if is_mass else product.density_g_ml))


def feeding_body(
    garden: Garden,
    group: PotGroup,
    fed: Sequence[Fed],
    *,
    phase: str | None = None,
    pots: int | None = None,
    laid: bool = False,
) -> dict[str, Any]:
    """Make the body of a feeding.

    Parameters
    ----------
    garden, group
        Where it was done; the group's count is the number of pots where none is stated.
    fed
        What was given, to all pots together; empty where the grower does not say.
    phase
        Which phase of the season it belongs to.
    pots
        How many were fed.
    laid
        Whether it was laid on the soil.

    Raises
    ------
    InputError
        Where a product is named twice, the garden has no such phase, the group has fewer pots, or the kind of
        the feeding fits neither its phase nor its products.

    Examples
    --------
    >>> from pathlib import Path
    >>> from frostgate.terms.garden import Site
    >>> figs = PotGroup(name="old figs", tree="fig", count=24, stage="established", pot_l=26.5,
    ...                 winters="outdoors", movable=False)
    >>> garden = Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),), groups=(figs,))
    >>> feeding_body(garden, figs, ())["pots"]
    24
    """
    known = None if phase is None else _phase(garden, phase)
    names = [each.product.name for each in fed]
    for name in names:
        if names.count(name) > 1:
            raise InputError("a product named twice", value=name, remedy="Name it once, with all of it.")
    fed_pots = group.count if pots is None else pots
    if not 1 <= fed_pots <= group.count:
        remedy = f"It has {group.count}; if there are more now, change the garden file."
        raise InputError(f"{group.name!r} has no such number of pots", value=fed_pots, remedy=remedy)
    return {
        "phase": phase,
        "feeding_kind": _kind(fed, known, laid=laid),
        "doses": [{"product": each.product.name, "grams": float(f"{each.grams:.6g}")} for each in fed],
        "pots": fed_pots,
        "n_per_pot_mg": round(sum(each.n_g for each in fed) * 1000.0 / fed_pots, 3) if fed else None,
    }


def _phase(garden: Garden, name: str) -> Phase:
    phases = garden.phases or default_phases(garden.products)
    for phase in phases:
        if phase.name == name:
            return phase
    known = ", ".join(phase.name for phase in phases) or "none"
    raise InputError("no phase of this name in the season", value=name, remedy=f"Phases: {known}.")


def _kind(fed: Sequence[Fed], phase: Phase | None, *, laid: bool) -> FeedingKind:
    granular = [each.product.name for each in fed if each.product.form == "granular"]
    all_granular = bool(granular) and len(granular) == len(fed)
    otherwise = "liquid" if phase is None else phase.kind
    kind: FeedingKind = "top-dressing" if laid or all_granular else otherwise
    if phase is not None and phase.kind != kind:
        remedy = "Name another phase, or none."
        raise InputError(f"a {kind} in a {phase.kind} phase", value=phase.name, remedy=remedy)
    if kind == "liquid" and granular:
        remedy = "Log it on its own: it is a top-dressing."
        raise InputError(
            "a granular product is laid on the soil, not poured", value=granular[0], remedy=remedy
        )
    return kind
