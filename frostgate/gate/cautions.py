"""The usual cautions, shown with every answer."""

from __future__ import annotations

from frostgate.terms import Policy, SiteClimate
from frostgate.units import say_share

STANDING = (
    "A chance is not a promise: watch the forecast after feeding, and be ready to cover or move the pots.",
    "A regional forecast can miss a cold hollow by many degrees; trust a minimum thermometer among the pots.",
    "Follow the fertilizer's label and local rules on feeding and runoff; they come before any date here.",
)


def cautions_for(policy: Policy, site: SiteClimate | None, *, climate_only: bool = False) -> tuple[str, ...]:
    """Give the cautions that go with an answer.

    Parameters
    ----------
    policy
        The grower's numbers.
    site
        The station's past, where it is known.
    climate_only
        The answer rests on the curve alone.

    Examples
    --------
    >>> len(cautions_for(Policy(), None, climate_only=True))
    4
    """
    special = []
    if climate_only:
        special.append(
            "This answer looks at no forecast: it knows what springs were like, not what is coming."
        )
    if site is not None and site.curve.frost_share == 0.0:
        seasons = site.curve.seasons_used
        special.append(
            f"No damaging frost in {seasons} seasons does not rule one out: a chance of up to "
            f"{say_share(3 / seasons)} a season is consistent with that (rule of three)."
        )
    if policy.damage_temp_c < 0.0:
        special.append(
            "Tender growth can be hurt at the freezing point; you chose a lower damage temperature."
        )
    return (*special, *STANDING)
