"""The phases of a season as data, chosen from the products at hand.

The numbers are those of common practice and have no source; a garden file that states phases of its own
replaces them all. A phase listed later takes the place of an earlier one once it has begun.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from frostgate.feeding.stop import PRACTICE
from frostgate.model.feedings import Phase, Portion
from frostgate.model.garden import PotGroup
from frostgate.model.products import Analysis, Product
from frostgate.seasons import say_day

SEEN = ("bud break", "fruit set")  # anchors that only the grower can see
LOG_BUDS = "once buds move: log bud break"


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """What is known of a group's season when its next feeding is dated.

    Parameters
    ----------
    gate, buds
        The gate's date and that of bud break; None where not known or not logged.
    fed
        Whether a first feeding is dated or done.
    """

    gate: dt.date | None
    buds: dt.date | None
    fed: bool


def say_begin(phase: Phase, anchor: dt.date | None, moment: Moment) -> str:
    """Say why a phase begins when it does."""
    after = f"{phase.after_days} days after " if phase.after_days else ""
    if phase.anchor == "gate":
        return after + _say_gate(moment)
    if phase.anchor == "first feeding":
        counted = "" if moment.fed else ", counted from the gate"
        return f"{after or 'with '}the first feeding{counted}"
    return f"{after}{phase.anchor}{f' on {say_day(anchor)}' if anchor else ''}"


def say_wait(phase: Phase, moment: Moment, rest_days: int, *, is_seen: bool) -> str:
    """Say what an undated feeding waits for."""
    awaited = [] if moment.gate else ["the gate"]
    if phase.anchor in SEEN and not is_seen:
        awaited.append(f"{phase.anchor}: log it")
    waits = f"waits for {' and for '.join(awaited)}"
    if phase.anchor == "first feeding" and phase.after_days and not moment.fed:
        waits = f"{phase.after_days} days after the first feeding, which {waits}"
    return waits if phase.feedings == 1 else f"{waits}; then every {rest_days} days"


def say_routine(days: int) -> str:
    """Say that a feeding follows the last one at its phase's interval."""
    return f"{days} days after the last one"


def is_routine(reason: str) -> bool:
    """Return whether a reason says no more than the phase's interval."""
    return re.fullmatch(r"\d+ days after the last one", reason) is not None


def _say_gate(moment: Moment) -> str:
    if moment.buds is None:
        return f"the gate opens, {LOG_BUDS}"
    late = moment.gate is not None and moment.buds > moment.gate
    return f"buds moved on {say_day(moment.buds)}" if late else "the gate opens"


IN_THE_GROUND = "in the ground"  # the phase for groups in the ground that name no other
WAKE_UP_FEEDINGS = 2
WAKE_UP_DAYS = 10
BUILD_UP_AFTER_DAYS = 28
EVERY_DAYS = 14
ONCE_DAYS = 365  # between two feedings of a phase that has only one

_POURED = "soluble or liquid product with a rate for water"
_BALANCED = "balanced (none of N-P-K twice another)"
_Worth = tuple[float, ...]


def default_phases(products: Sequence[Product]) -> tuple[Phase, ...]:
    """Choose the phases of the season for the products at hand.

    *Wake-up*: twice, ten days apart, the liquid feed that nitrogen leads most. *Build-up*: from four weeks
    after the first feeding every two weeks, a balanced one. *Fruiting*: from fruit set every two weeks, the
    one with most potassium whose nitrogen does not lead; its first feeding, *fruit set*, brings magnesium.
    *Top-dressing*: every two weeks, a balanced granular one. *In the ground*: a balanced organic one, once.
    A phase that no product suits is left out; `missing_phases` tells which.
    """
    chosen = _choose(products)
    return (*_early(chosen), *_fruiting(chosen), *_laid(chosen))


def missing_phases(products: Sequence[Product], groups: Sequence[PotGroup]) -> tuple[str, ...]:
    """Tell which phases the groups would need and no product suits."""
    chosen, missing = _choose(products), []
    if any(group.in_pots and group.per_pot_l is not None for group in groups):
        missing += [
            (chosen.leading, "wake-up", f"{_POURED} is led by nitrogen"),
            (chosen.balanced, "build-up", f"{_POURED} is {_BALANCED}"),
            (chosen.potassium, "fruiting", f"{_POURED} has K2O and no more N than that"),
            (chosen.magnesium, "magnesium at fruit set", f"{_POURED} has Mg and no N"),
        ]
    if any(group.in_pots for group in groups):
        missing.append(
            (chosen.granular, "top-dressing", f"granular product with a rate for a pot is {_BALANCED}")
        )
    if not all(group.in_pots for group in groups):
        missing.append((chosen.organic, "feed in the ground", f"organic product with a rate is {_BALANCED}"))
    return tuple(f"No {phase}: no {lack}." for product, phase, lack in missing if product is None)


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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Chosen:
    leading: Product | None
    balanced: Product | None
    potassium: Product | None
    magnesium: Product | None
    granular: Product | None
    organic: Product | None


def _choose(products: Sequence[Product]) -> _Chosen:
    poured = [product for product in products if _is_poured(product)]
    laid = [product for product in products if product.form == "granular"]
    organic = [
        product for product in products if product.organic and (_is_poured(product) or product in laid)
    ]
    return _Chosen(
        leading=_best([product for product in poured if is_led_by_nitrogen(product.analysis)], _lead),
        balanced=_best([product for product in poured if is_balanced(product.analysis)], _evenness),
        potassium=_best([product for product in poured if _has_fruit(product.analysis)], _fruit),
        magnesium=_best([product for product in poured if _is_magnesium(product.analysis)], _magnesium),
        granular=_best(
            [one for one in laid if _goes_by(one, "pot") and is_balanced(one.analysis)], _evenness
        ),
        organic=_best([one for one in organic if one.rate and is_balanced(one.analysis)], _for_the_ground),
    )


def _best(products: Sequence[Product], worth: Callable[[Product], _Worth]) -> Product | None:
    """Return the product of the greatest worth; of equals the one listed first."""
    return max(products, key=worth, default=None)


def _is_poured(product: Product) -> bool:
    return product.form in {"soluble", "liquid"} and _goes_by(product, "litre")


def _goes_by(product: Product, per: str) -> bool:
    return product.rate is not None and product.rate.per == per


def _has_fruit(analysis: Analysis) -> bool:
    return analysis.k2o > 0 and analysis.k2o >= analysis.n


def _is_magnesium(analysis: Analysis) -> bool:
    return analysis.mg > 0 and analysis.n == 0


def _lead(product: Product) -> _Worth:
    analysis = product.analysis
    return not product.organic, analysis.n - max(analysis.p2o5, analysis.k2o)


def _evenness(product: Product) -> _Worth:
    return not product.organic, _even(product.analysis)


def _for_the_ground(product: Product) -> _Worth:
    return product.form == "granular", _even(product.analysis)


def _even(analysis: Analysis) -> float:
    numbers = (analysis.n, analysis.p2o5, analysis.k2o)
    return min(numbers) / max(numbers)


def _fruit(product: Product) -> _Worth:
    return not product.organic, product.analysis.p2o5 > 0, product.analysis.k2o


def _magnesium(product: Product) -> _Worth:
    analysis = product.analysis
    return analysis.p2o5 + analysis.k2o + analysis.ca == 0, analysis.mg


def _full(*products: Product | None) -> tuple[Portion, ...]:
    return tuple(Portion(product=product.name, strength=1.0) for product in products if product is not None)


def _early(chosen: _Chosen) -> Iterator[Phase]:
    if chosen.leading is not None:
        yield Phase(
            name="wake-up",
            kind="liquid",
            anchor="gate",
            after_days=0,
            every_days=WAKE_UP_DAYS,
            feedings=WAKE_UP_FEEDINGS,
            portions=_full(chosen.leading),
            source=PRACTICE,
        )
    if chosen.balanced is not None:
        yield Phase(
            name="build-up",
            kind="liquid",
            anchor="first feeding",
            after_days=BUILD_UP_AFTER_DAYS,
            every_days=EVERY_DAYS,
            portions=_full(chosen.balanced),
            source=PRACTICE,
        )


def _fruiting(chosen: _Chosen) -> Iterator[Phase]:
    fruiting = Phase(
        name="fruiting",
        kind="liquid",
        anchor="fruit set",
        after_days=0,
        every_days=EVERY_DAYS,
        portions=_full(chosen.potassium),
        source=PRACTICE,
    )
    if chosen.potassium is not None:
        yield fruiting
    if chosen.magnesium is not None:  # listed after fruiting, its one feeding comes first
        both = dict.fromkeys((*fruiting.portions, *_full(chosen.magnesium)))
        yield replace(fruiting, name="fruit set", feedings=1, portions=tuple(both))


def _laid(chosen: _Chosen) -> Iterator[Phase]:
    if chosen.granular is not None:
        yield Phase(
            name="top-dressing",
            kind="top-dressing",
            anchor="first feeding",
            after_days=0,
            every_days=EVERY_DAYS,
            portions=_full(chosen.granular),
            source=PRACTICE,
        )
    if chosen.organic is not None:
        yield Phase(
            name=IN_THE_GROUND,
            kind="top-dressing" if chosen.organic.form == "granular" else "liquid",
            anchor="gate",
            after_days=0,
            every_days=ONCE_DAYS,
            feedings=1,
            portions=_full(chosen.organic),
            source=PRACTICE,
        )
