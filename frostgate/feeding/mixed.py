"""A programme's feedings with what is mixed for each."""

from __future__ import annotations

from collections.abc import Iterable

from frostgate.errors import InputError, UnsafeMixError
from frostgate.terms.feedings import Feeding, Mix
from frostgate.terms.garden import Garden
from frostgate.terms.phases import Portion
from frostgate.values import dataclass, replace

MIXED = frozenset({"due", "planned", "waiting", "held"})

_Asked = tuple[str, str, tuple[Portion, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class MixedFeeding:
    """A feeding and what is mixed for its group.

    Parameters
    ----------
    feeding
        Which; its reason also tells of a mix that must not be made.
    mix
        None where the feeding is done or left out, or its mix must not be made.
    refusal
        Why it must not be made; None where it may.

    Examples
    --------
    >>> MixedFeeding.__slots__
    ('feeding', 'mix', 'refusal')
    """

    feeding: Feeding
    mix: Mix | None
    refusal: str | None = None


def mix_season(garden: Garden, feedings: Iterable[Feeding]) -> tuple[MixedFeeding, ...]:
    """Work out the mix of every feeding that is still to come.

    Parameters
    ----------
    garden
        Its groups, products and measures.
    feedings
        Of a programme.

    Examples
    --------
    >>> from pathlib import Path
    >>> from frostgate.terms.garden import Site
    >>> mix_season(Garden(file=Path("garden.toml"), sites=(Site(name="Hollin Bank"),)), ())
    ()
    """
    known: dict[_Asked, MixedFeeding] = {}
    mixed = []
    for feeding in feedings:
        if feeding.status not in MIXED:
            mixed.append(MixedFeeding(feeding=feeding, mix=None))
            continue
        asked = (feeding.group, feeding.kind, feeding.portions)
        if asked not in known:
            known[asked] = _mix(garden, feeding)
        mixed.append(_with_refusal(replace(known[asked], feeding=feeding)))
    return tuple(mixed)


def _mix(garden: Garden, feeding: Feeding) -> MixedFeeding:
    from frostgate.feeding.mixing import mix_for_group  # a morning on which nothing is due need not load it

    try:
        mix = mix_for_group(garden, garden.group(feeding.group), feeding.portions, feeding.kind)
    except (UnsafeMixError, InputError) as refusal:
        return MixedFeeding(feeding=feeding, mix=None, refusal=str(refusal))
    return MixedFeeding(feeding=feeding, mix=mix)


def _with_refusal(mixed: MixedFeeding) -> MixedFeeding:
    if mixed.refusal is None:
        return mixed
    reason = f"{mixed.feeding.reason}; not mixed: {mixed.refusal}"
    return replace(mixed, feeding=replace(mixed.feeding, reason=reason))
