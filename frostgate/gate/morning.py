"""One morning: a site's past, a forecast and the grower's numbers into the answer with all it rests on."""

from __future__ import annotations

import datetime as dt

from frostgate.gate.cautions import cautions_for
from frostgate.gate.outlook import look_ahead
from frostgate.gate.verdict import cannot_know, judge
from frostgate.terms import Forecast, Outlook, Policy, SiteClimate, Verdict
from frostgate.units import TemperatureUnit
from frostgate.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Morning:
    """The answer of a morning, and what it rests on.

    Parameters
    ----------
    verdict
        Open, shut or unknown, with its reasons.
    policy
        The grower's numbers.
    now
        The moment of the question, local time of the garden.
    unit
        Of the temperatures in words.
    site
        The station's past; None where too little of it is known.
    outlook
        The risk of every date; None without a site.
    forecast
        The coming nights, where a forecast was given and looked at.
    cautions
        What to mind, in words.

    Examples
    --------
    >>> morning = ask(None, None, Policy(), dt.datetime(2026, 4, 12, 6), doubts=("The record is too short.",))
    >>> morning.verdict.state, morning.notes
    ('unknown', ())
    """

    verdict: Verdict
    policy: Policy
    now: dt.datetime
    unit: TemperatureUnit
    site: SiteClimate | None
    outlook: Outlook | None
    forecast: Forecast | None
    cautions: tuple[str, ...]

    @property
    def notes(self) -> tuple[str, ...]:
        """What the readers put right or took for granted, in words."""
        return (*(self.site.notes if self.site else ()), *(self.forecast.notes if self.forecast else ()))


def ask(
    site: SiteClimate | None,
    forecast: Forecast | None,
    policy: Policy,
    now: dt.datetime,
    *,
    unit: TemperatureUnit = "C",
    climate_only: bool = False,
    doubts: tuple[str, ...] = (),
) -> Morning:
    """Ask whether it is safe to feed.

    Parameters
    ----------
    site
        What `know_site` made of the station's record at ``policy.station_threshold_c``; None where it could
        not, and ``doubts`` say why.
    forecast
        The coming nights, or None.
    policy
        The grower's numbers.
    now
        The moment of the question, local time of the garden, without zone.
    unit
        Of the temperatures in the reasons.
    climate_only
        Answer from the curve alone.
    doubts
        Why there is no site.

    Examples
    --------
    >>> ask(None, None, Policy(), dt.datetime(2026, 4, 12, 6), doubts=("No record.",)).verdict.reasons[0]
    'No record.'
    """
    if site is None:
        outlook, verdict = None, cannot_know(now.date(), doubts or ("No record was given.",), policy)
    else:
        outlook = look_ahead(
            site.curve, forecast, policy, now, weather=site.weather, climate_only=climate_only
        )
        verdict = judge(outlook, policy, unit, climate_only=climate_only)
    return Morning(
        verdict=verdict,
        policy=policy,
        now=now,
        unit=unit,
        site=site,
        outlook=outlook,
        forecast=None if climate_only else forecast,
        cautions=cautions_for(policy, site, climate_only=climate_only),
    )
