"""The phases of a season as data, chosen from the products at hand.

The numbers are those of common practice and have no source; a garden file that states phases of its own
replaces them all. A phase listed later takes the place of an earlier one once it has begun.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Any

from frostgate.errors import InputError
from frostgate.feeding.stop import PRACTICE
from frostgate.model.feedings import Anchor, Phase, Portion
from frostgate.model.garden import Garden, PotGroup
from frostgate.model.products import Analysis, Product

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
    """Choose the phases of the season for the products at hand.

    *Wake-up*: twice, ten days apart, the liquid feed that nitrogen leads most. *Build-up*: from four weeks
    after the first feeding every two weeks, a balanced one. *Fruiting*: from fruit set every two weeks, the
    one with most potassium whose nitrogen does not lead; its first feeding, *fruit set*, brings magnesium.
    *Top-dressing*: every two weeks, a balanced granular one. *In the ground*: a balanced organic one, once.
    A phase that no product suits is left out; `missing_phases` tells which.
    """
    phases = []
    for phase, choices, _ in _SEASON:
        *others, last = (_best(products, *choice) for choice in choices)
        if last is not None:
            fed = dict.fromkeys(product.name for product in (*others, last) if product is not None)
            portions = tuple(Portion(product=name, strength=1.0) for name in fed)
            laid = last.form == "granular"
            phases.append(replace(phase, kind="top-dressing" if laid else "liquid", portions=portions))
    return tuple(phases)


def missing_phases(products: Sequence[Product], groups: Iterable[PotGroup]) -> Iterator[str]:
    """Tell which phases the groups would need and no product suits."""
    for phase, choices, lack in _SEASON:
        if any(suits(phase, group) for group in groups) and _best(products, *choices[-1]) is None:
            yield lack


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
    return product.form in {"soluble", "liquid"} and product.rate is not None and product.rate.per == "litre"


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


_POURED = "no soluble or liquid product with a rate for water"
_BALANCED = "is balanced (none of N-P-K twice another)"

# Each phase, by what its products are chosen, and what is lacking where none suits the last of these.
_SEASON: tuple[tuple[Phase, tuple[tuple[_Suited, _Worth], ...], str], ...] = (
    (
        _phase("wake-up", "gate", every_days=10, feedings=2),
        ((_is_poured, _leading),),
        f"No wake-up: {_POURED} is led by nitrogen.",
    ),
    (
        _phase("build-up", "first feeding", after_days=28),
        ((_is_poured, _balanced),),
        f"No build-up: {_POURED} {_BALANCED}.",
    ),
    (
        _phase("fruiting", "fruit set"),
        ((_is_poured, _potassium),),
        f"No fruiting: {_POURED} has K2O and no more N than that.",
    ),
    (
        _phase("fruit set", "fruit set", feedings=1),  # listed after fruiting, its one feeding comes first
        ((_is_poured, _potassium), (_is_poured, _magnesium)),
        f"No magnesium at fruit set: {_POURED} has Mg and no N.",
    ),
    (
        _phase("top-dressing", "first feeding", kind="top-dressing"),
        ((_is_laid_on_pots, _balanced),),
        f"No top-dressing: no granular product with a rate for a pot {_BALANCED}.",
    ),
    (
        _phase(IN_THE_GROUND, "gate", every_days=ONCE_DAYS, feedings=1, kind="top-dressing"),
        ((_is_for_the_ground, _balanced),),
        f"No feed in the ground: no organic product with a rate {_BALANCED}.",
    ),
)
