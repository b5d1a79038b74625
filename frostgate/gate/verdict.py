"""An outlook into a verdict: open, shut or unknown, with its reasons in words."""

from __future__ import annotations

import datetime as dt

import numpy as np

from frostgate.gate.reasons import drivers, say_day, what_would_change
from frostgate.terms import Floats, Outlook, Policy, Verdict
from frostgate.units import TemperatureUnit, say_share

RISKS = (0.50, 0.30, 0.20, 0.10, 0.05, 0.02, 0.01)


def judge(
    outlook: Outlook, policy: Policy, unit: TemperatureUnit = "C", *, climate_only: bool = False
) -> Verdict:
    """Open the gate, shut it, or say that it cannot be known.

    Parameters
    ----------
    outlook
        What `look_ahead` saw.
    policy
        The grower's numbers.
    unit
        For the temperatures in the reasons.
    climate_only
        The grower asked to be answered from the curve alone.

    Examples
    --------
    >>> dates = np.arange("2026-05-10", "2026-05-13", dtype="datetime64[D]")
    >>> risk = np.array([0.2, 0.12, 0.08])
    >>> outlook = Outlook(today=dt.date(2026, 5, 10), dates=dates, risk=risk, window_risk=0 * risk,
    ...                   climate_risk=risk, climate_low=risk, climate_high=risk, climate_alone=risk)
    >>> verdict = judge(outlook, Policy(risk_tolerance=0.1), climate_only=True)
    >>> verdict.state, verdict.earliest_date
    ('shut', datetime.date(2026, 5, 12))
    """
    if outlook.doubts:
        return cannot_know(outlook.today, outlook.doubts, policy, outlook)
    earliest = outlook.date_at(policy.risk_tolerance)
    is_open = earliest == outlook.today
    likely_from, likely_to = (None, None) if is_open else _likely_range(outlook, policy)
    return Verdict(
        on=outlook.today,
        state="open" if is_open else "shut",
        reasons=(
            _headline(outlook, policy, earliest),
            *drivers(outlook, policy, unit),
            *what_would_change(outlook, policy, unit),
        ),
        risk_tolerance=policy.risk_tolerance,
        risk_today=float(outlook.risk[0]),
        earliest_date=earliest,
        likely_from=likely_from,
        likely_to=likely_to,
        by_risk=tuple((risk, outlook.date_at(risk)) for risk in RISKS),
        climate_only=climate_only,
    )


def cannot_know(
    today: dt.date, doubts: tuple[str, ...], policy: Policy, outlook: Outlook | None = None
) -> Verdict:
    """Return the verdict ``unknown``, with the curve's own dates where there is a curve.

    Examples
    --------
    >>> cannot_know(dt.date(2026, 4, 12), ("The forecast is too old.",), Policy()).reasons[-1]
    'Unknown is not safe: do not feed on this answer.'
    """
    by_risk = (
        (risk, None if outlook is None else outlook.date_at(risk, outlook.climate_alone)) for risk in RISKS
    )
    return Verdict(
        on=today,
        state="unknown",
        reasons=(*doubts, "Unknown is not safe: do not feed on this answer."),
        risk_tolerance=policy.risk_tolerance,
        by_risk=tuple(by_risk),
    )


def _headline(outlook: Outlook, policy: Policy, earliest: dt.date | None) -> str:
    share, tolerated = say_share(float(outlook.risk[0])), say_share(policy.risk_tolerance)
    if share == tolerated and earliest != outlook.today:
        share = f"a little over {tolerated}"
    risk = f"Fed today, the chance of a damaging frost still to come is {share}"
    limit = f"your limit is {tolerated}"
    if earliest == outlook.today:
        return f"{risk}; {limit}."
    if earliest is None:
        return f"{risk}; {limit}, and no date this season is within it."
    return f"{risk}; {limit}, reached on {say_day(earliest)} as things stand."


def _likely_range(outlook: Outlook, policy: Policy) -> tuple[dt.date | None, dt.date | None]:
    """Give the range of the opening date: if the coming forecasts stay clear, and by the curve's upper bound.

    Each morning's forecast covers as many nights as today's. If all of them stay clear of frost, the gate
    opens when the season's remaining climate beyond such a window has fallen to the tolerance. Without a
    forecast the range is that of the curve's own bounds.
    """
    reach = len(outlook.nights)
    hopeful = _beyond(outlook, reach) if reach else outlook.climate_low
    clear = outlook.date_at(policy.risk_tolerance, hopeful)
    earliest = outlook.date_at(policy.risk_tolerance)
    late = outlook.date_at(policy.risk_tolerance, np.maximum(outlook.risk, outlook.climate_high))
    if clear is None or earliest is None:
        return None, None
    tomorrow = outlook.today + dt.timedelta(days=1)
    return min(max(clear, tomorrow), earliest), late


def _beyond(outlook: Outlook, reach: int) -> Floats:
    """Give the curve's risk beyond a forecast window of ``reach`` nights, for each candidate date."""
    later = np.append(outlook.climate_alone[reach:], np.zeros(min(reach, outlook.dates.size)))
    return later[: outlook.dates.size]
