"""The phases of a season as data, chosen from the products at hand.

The numbers are those of common practice and have no source; a garden file that states phases of its own
replaces them all. A phase listed later takes the place of an earlier one once it has begun.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from frostgate.errors import InputError
from frostgate.feeding.stop import PRACTICE
from frostgate.model.feedings import Analysis, Anchor, FeedingKind, Phase, Portion, Product
from frostgate.model.garden import Garden, PotGroup

IN_THE_GROUND = "in the ground"  # the phase for groups in the ground that name no other
ONCE_DAYS = 365  # between two feedings of a phase that has only one

_Suited = Callable[[Product], bool]
_Worth = Callable[[Product], tuple[float, ...] | None]  # None where a product has none


def phases_of(garden: Garden) -> tuple[Phase, ...]:
    """Return the phases that the garden states, else the default ones for its products."""
    return garden.phases or default_phases(garden.products)


def phase_named(garden: Garden, name: str) -> Phase:
    """Return one of a garden's phases by its name."""
    phases = {phase.name: phase for phase in phases_of(garden)}
    if name not in phases:
        known = ", ".join(phases) or "none"
        raise InputError("no phase of this name in the season", value=name, remedy=f"It has: {known}.")
    return phases[name]


def default_phases(products: Sequence[Product]) -> tuple[Phase, ...]:
    """Choose the phases of the season for the products at hand; one that no product suits is left out."""
    phases = []
    for phase, _, choices in _SEASON:
        *others, last = (_best(products, *choice) for choice in choices)
        if last is not None:
            fed = dict.fromkeys(product.name for product in (*others, last) if product is not None)
            portions = tuple(Portion(product=name, strength=1.0) for name in fed)
            kind: FeedingKind = "top-dressing" if last.form == "granular" else "liquid"
            phases.append(replace(phase, kind=kind, portions=portions))
    return tuple(phases)


def missing_phases(products: Sequence[Product], groups: Iterable[PotGroup]) -> Iterator[str]:
    """Tell which phases the groups would need and no product suits."""
    for phase, missed, [*_, (suited, worth)] in _SEASON:
        if any(suits(phase, group) for group in groups) and _best(products, suited, worth) is None:
            yield f"No {missed}: {_SAID[suited]} {_SAID[worth]}."


def suits(phase: Phase, group: PotGroup) -> bool:
    """Return whether a phase feeds a group.

    A phase that names groups feeds these. Of the others, that called ``in the ground`` feeds the trees in the
    ground and nothing else does; all feed the pots, the liquid ones where a pot's share of feed is stated.
    Cuttings are top-dressed only by a phase that names them: a label's rate for a pot is meant for a tree's.
    """
    if phase.groups:
        return group.name in phase.groups
    if not group.in_pots or phase.name == IN_THE_GROUND:
        return not group.in_pots and phase.name == IN_THE_GROUND
    if phase.kind == "top-dressing":
        return group.stage != "cutting"
    return group.per_pot_l is not None


def is_led_by_nitrogen(analysis: Analysis) -> bool:
    """Return whether a label's first number is above its others."""
    return analysis.n > max(analysis.p2o5, analysis.k2o)


def is_balanced(analysis: Analysis) -> bool:
    """Return whether of a label's three numbers none is twice another."""
    numbers = (analysis.n, analysis.p2o5, analysis.k2o)
    return max(numbers) < 2 * min(numbers)


def _best(products: Iterable[Product], suited: _Suited, worth: _Worth) -> Product | None:
    """Return of the suited products that of the greatest worth; of equals the one listed first."""
    rated = [(product, rank) for product in products if suited(product) and (rank := worth(product))]
    return max(rated, key=lambda both: both[1], default=(None, ()))[0]


def _is_poured(product: Product) -> bool:
    return product.form != "granular" and product.rate is not None and product.rate.per == "litre"


def _is_laid_on_pots(product: Product) -> bool:
    return product.form == "granular" and product.rate is not None and product.rate.per == "pot"


def _is_for_the_ground(product: Product) -> bool:
    laid = product.form == "granular" and product.rate is not None
    return product.organic and (laid or _is_poured(product))


def _leading(product: Product) -> tuple[float, ...] | None:
    one = product.analysis
    leads = is_led_by_nitrogen(one)
    return (not product.organic, one.n - max(one.p2o5, one.k2o)) if leads else None


def _balanced(product: Product) -> tuple[float, ...] | None:
    if not is_balanced(product.analysis):
        return None
    numbers = (product.analysis.n, product.analysis.p2o5, product.analysis.k2o)
    return not product.organic, product.form == "granular", min(numbers) / max(numbers)


def _potassium(product: Product) -> tuple[float, ...] | None:
    one = product.analysis
    return (not product.organic, one.p2o5 > 0, one.k2o) if 0 < one.k2o >= one.n else None


def _magnesium(product: Product) -> tuple[float, ...] | None:
    one = product.analysis
    return (one.p2o5 + one.k2o + one.ca == 0, one.mg) if one.mg > 0 and one.n == 0 else None


def _phase(name: str, anchor: Anchor, *, after_days: int = 0, every_days: int = 14, **rest: Any) -> Phase:  # noqa: ANN401  # fields of Phase by name
    usual: dict[str, Any] = {"kind": "liquid", "portions": (), "source": PRACTICE}
    return Phase(name=name, anchor=anchor, after_days=after_days, every_days=every_days, **(usual | rest))


_SAID: Mapping[_Suited | _Worth, str] = {  # where no product is so
    _is_poured: "no soluble or liquid product with a rate for water",
    _is_laid_on_pots: "no granular product with a rate for a pot",
    _is_for_the_ground: "no organic product with a rate",
    _leading: "is led by nitrogen",
    _balanced: "is balanced (none of N-P-K twice another)",
    _potassium: "has K2O and no more N than that",
    _magnesium: "has Mg and no N",
}

# Each phase, what is missed where it has no product, and by what its products are chosen: it needs the last.
_SEASON: tuple[tuple[Phase, str, tuple[tuple[_Suited, _Worth], ...]], ...] = (
    (_phase("wake-up", "gate", every_days=10, feedings=2), "wake-up", ((_is_poured, _leading),)),
    (_phase("build-up", "first feeding", after_days=28), "build-up", ((_is_poured, _balanced),)),
    (_phase("fruiting", "fruit set"), "fruiting", ((_is_poured, _potassium),)),
    (
        _phase("fruit set", "fruit set", feedings=1),  # listed after fruiting, its one feeding comes first
        "magnesium at fruit set",
        ((_is_poured, _potassium), (_is_poured, _magnesium)),
    ),
    (
        _phase("top-dressing", "first feeding", kind="top-dressing"),
        "top-dressing",
        ((_is_laid_on_pots, _balanced),),
    ),
    (
        _phase(IN_THE_GROUND, "gate", every_days=ONCE_DAYS, feedings=1, kind="top-dressing"),
        "feed in the ground",
        ((_is_for_the_ground, _balanced),),
    ),
)
